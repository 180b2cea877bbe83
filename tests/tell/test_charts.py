"""Charts: what is drawn where, black and white, and files written whole."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from facemark.errors import BookError
from facemark.explain.compare import compare_clubs
from facemark.explain.hitset import HitSet
from facemark.explain.pattern import describe_pattern
from facemark.explain.trend import follow_days
from facemark.inputs import ClubKind, Hand
from facemark.strike import SharedError
from facemark.tell.charts import MARK, REGION, club_maps, face_map, map_summary, trend_chart, write_figure
from tests.explain.sets import exact, strike_set

DRIVER = ClubKind.DRIVER
STRIKES = strike_set(
    exact(10, (8.0, -2.0), (5.0, 4.0)), shared=SharedError(sweet_toe_mm=1.5, sweet_high_mm=2.0)
)
PATTERN = describe_pattern(STRIKES, ClubKind.DRIVER)


def texts(figure: object) -> str:
    from matplotlib.text import Text

    return " ".join(t.get_text() for t in figure.findobj(Text))  # type: ignore[attr-defined]


def centre_on_page(figure: object) -> float:
    """x of the cross at the group's centre."""
    (axes,) = figure.axes  # type: ignore[attr-defined]
    return next(
        float(line.get_xdata()[0])
        for line in axes.lines
        if line.get_marker() == "x" and line.get_color() == REGION
    )


@pytest.mark.parametrize(("hand", "side"), [(Hand.RIGHT, -1.0), (Hand.LEFT, 1.0)])
def test_the_toe_lies_where_the_photo_shows_it(hand: Hand, side: float) -> None:
    """A right-handed head seen from the front has its toe on the left."""
    figure = face_map(STRIKES, PATTERN, hand=hand)
    assert centre_on_page(figure) == pytest.approx(side * 8.0)


def test_the_map_holds_every_part() -> None:
    from matplotlib.patches import Circle, Ellipse

    figure = face_map(STRIKES, PATTERN, title="ten balls")
    (axes,) = figure.axes
    circles = sorted(p.radius for p in axes.patches if isinstance(p, Circle))
    assert PATTERN.spread is not None
    assert PATTERN.region is not None
    assert circles == pytest.approx(sorted([12.0, PATTERN.spread.ring_mm]))
    (ellipse,) = [p for p in axes.patches if type(p) is Ellipse]
    assert ellipse.width == pytest.approx(2 * PATTERN.region.long_mm)
    words = texts(figure)
    for part in (
        "ten balls",
        "Toe side",
        "toe",
        "heel",
        "mm",
        "80 % of strikes",
        "centre, 95 %",
        "zone, 12 mm",
    ):
        assert part in words
    numbers = {t.get_text() for t in axes.texts}
    assert numbers == {str(i) for i in range(1, 11)}


def test_a_mark_apart_has_another_shape() -> None:
    points = np.vstack([exact(11, (0.0, 0.0), (4.0, 4.0)), [[-38.0, 20.0]]])
    strikes = strike_set(points)
    figure = face_map(strikes, describe_pattern(strikes, ClubKind.DRIVER))
    shapes = [line.get_marker() for line in figure.axes[0].lines if line.get_markerfacecolor() == MARK]
    assert shapes.count("D") == 1
    assert shapes.count("o") == 11
    assert "stands apart" in texts(figure)
    assert "without strike 12: centred" in texts(figure).replace("\n", " ")


def test_few_strikes_show_no_region() -> None:
    from matplotlib.patches import Ellipse

    strikes = strike_set([(1.0, 2.0), (3.0, 4.0)])
    figure = face_map(strikes, describe_pattern(strikes, ClubKind.DRIVER))
    assert not [p for p in figure.axes[0].patches if type(p) is Ellipse]
    assert "95 %" not in texts(figure)


def test_two_groups_have_no_common_middle() -> None:
    points = np.vstack([exact(6, (-15.0, 0.0), (3.0, 3.0)), exact(6, (15.0, 0.0), (3.0, 3.0))])
    strikes = strike_set(points)
    figure = face_map(strikes, describe_pattern(strikes, ClubKind.DRIVER))
    crosses = [line for line in figure.axes[0].lines if line.get_marker() == "x"]
    assert len(crosses) == 2
    assert "80 %" not in texts(figure)


def test_colours_differ_in_grey_too() -> None:
    """Lightness as WCAG reckons contrast: 2 : 1 between the colours, 4.5 : 1 of the line on white."""
    from matplotlib.colors import to_rgb

    def luminance(colour: str) -> float:
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour))
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    light, dark = luminance(MARK), luminance(REGION)
    assert (light + 0.05) / (dark + 0.05) >= 2.0
    assert 1.05 / (dark + 0.05) >= 4.5  # the line on white


def test_clubs_share_one_scale() -> None:
    sets = [
        HitSet(name=name, strikes=strike_set(exact(10, (0.0, 0.0), (s, s))), kind=ClubKind.DRIVER)
        for name, s in (("Ä", 3.0), ("B", 9.0), ("C", 8.0))
    ]
    comparison = compare_clubs(sets, rng=np.random.default_rng(1), n_draws=99)
    figure = club_maps([s.strikes for s in sets], comparison)
    assert len(figure.axes) == 3
    assert len({axes.get_xlim() for axes in figure.axes}) == 1
    assert "Ä: 10 balls" in texts(figure)


def test_the_trend_line_is_drawn_only_when_earned() -> None:
    def chart(spreads: list[float]) -> object:
        sets = [
            HitSet(
                name=f"day {i}", strikes=strike_set(exact(10, (2, 0), (s, s), seed=i)), kind=ClubKind.DRIVER
            )
            for i, s in enumerate(spreads)
        ]
        return trend_chart(follow_days(sets))

    def lines(figure: object) -> int:
        upper = figure.axes[0]  # type: ignore[attr-defined]
        return sum(line.get_color() == REGION for line in upper.lines)

    assert lines(chart([12.0, 9.6, 7.7, 6.1, 4.9])) == 1
    assert lines(chart([8.0, 9.0, 8.5, 8.2])) == 0
    assert lines(chart([12.0, 8.0])) == 0


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf"])
def test_the_same_numbers_give_the_same_file(tmp_path: Path, suffix: str) -> None:
    paths = [tmp_path / f"{i}.{suffix}" for i in (1, 2)]
    for path in paths:
        write_figure(face_map(STRIKES, PATTERN), path)
    assert paths[0].read_bytes() == paths[1].read_bytes()
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []


def test_the_picture_is_sharp_enough_for_a_phone(tmp_path: Path) -> None:
    write_figure(face_map(STRIKES, PATTERN), tmp_path / "map.png")
    with Image.open(io.BytesIO((tmp_path / "map.png").read_bytes())) as picture:
        assert picture.width >= 900
        assert np.asarray(picture.convert("L")).std() > 10


def test_other_endings_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="written as"):
        write_figure(face_map(STRIKES, PATTERN), tmp_path / "map.bmp")


def test_summary_for_those_who_cannot_see_it() -> None:
    assert map_summary(PATTERN).startswith("Face map of 10 strikes: toe; centre 8 mm toe, 2 mm low")
