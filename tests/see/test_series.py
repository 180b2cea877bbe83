"""Photos in sequence: each mark with its order, in other light and frame; what cannot be seen is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from facemark import caveats
from facemark.errors import MarkError
from facemark.see.mark import Mark
from facemark.see.marks import find_marks
from facemark.see.series import Series, SeriesMark, find_new_marks, follow_series, marks_of_series
from tests.see.drawn_faces import DrawnSeries, draw_faces_in_series, photograph, spray, strike
from tests.see.test_marks import pairs

SETS = [
    (40, (3, 3, 3)),
    (41, (2, 3, 2)),
    (42, (3, 2, 3)),
    (43, (2, 2, 2, 3)),
    (44, (3, 3, 2)),
    (45, (3, 3)),
    (46, (2, 3)),
]


def places(series: Series) -> np.ndarray:
    return np.array([[s.mark.toe_mm, s.mark.high_mm] for s in series.marks]).reshape(-1, 2)


@pytest.fixture(params=[True, False], ids=["splitter", "without weights"])
def learned(request: pytest.FixtureRequest) -> bool:
    return bool(request.param)


@pytest.fixture(scope="module")
def drawn_sets() -> list[DrawnSeries]:
    return [draw_faces_in_series(seed, n_each=n) for seed, n in SETS]


@pytest.fixture(scope="module", params=[True, False], ids=["splitter", "without weights"])
def read(request: pytest.FixtureRequest, drawn_sets: list[DrawnSeries]) -> list[tuple[DrawnSeries, Series]]:
    return [
        (drawn, follow_series(drawn.maps, n, learned=request.param))
        for drawn, (_, n) in zip(drawn_sets, SETS, strict=True)
    ]


def test_readable_marks_are_found_with_their_order(read: list[tuple[DrawnSeries, Series]]) -> None:
    readable = hits = right = false = n = 0
    for drawn, series in read:
        clear = np.flatnonzero(drawn.on_powder_frac >= 0.25)
        matched = pairs(drawn.truth_mm[clear], places(series), 4.0)
        readable, hits = readable + len(clear), hits + len(matched)
        right += sum(drawn.photo_index[clear[a]] == series.marks[b].photo_index for a, b in matched)
        n += len(series.marks)
        false += len(series.marks) - len(pairs(drawn.truth_mm, places(series), 4.0))
    assert hits / readable >= 0.85
    assert right / hits >= 0.95
    assert false / n <= 0.10


def test_a_series_tells_more_than_its_last_photo(read: list[tuple[DrawnSeries, Series]]) -> None:
    with_order = alone = 0
    for drawn, series in read:
        last = find_marks(drawn.maps[-1], n_balls=len(drawn.truth_mm), learned=False)
        found = np.array([[m.toe_mm, m.high_mm] for m in last.marks]).reshape(-1, 2)
        with_order += len(pairs(drawn.truth_mm, places(series), 4.0))
        alone += len(pairs(drawn.truth_mm, found, 4.0))
    assert with_order >= alone


def test_stated_errors_hold_across_frames(read: list[tuple[DrawnSeries, Series]]) -> None:
    inside = []
    for drawn, series in read:
        for a, b in pairs(drawn.truth_mm, places(series), 8.0):
            mark, off = series.marks[b].mark, np.abs(drawn.truth_mm[a] - places(series)[b])
            inside += [off[0] <= 1.96 * mark.toe_err_mm, off[1] <= 1.96 * mark.high_err_mm]
    assert np.mean(inside) >= 0.90


def test_what_is_missing_is_counted(read: list[tuple[DrawnSeries, Series]]) -> None:
    for (_, n_each), (_, series) in zip(SETS, read, strict=True):
        for k, n in enumerate(n_each):
            shown = sum(s.photo_index == k for s in series.marks)
            assert series.n_missing[k] == max(0, n - shown)
        said = {c.key: c.detail for c in series.caveats}
        wanted = f"{sum(series.n_missing)} of {sum(n_each)}" if any(series.n_missing) else None
        assert said.get(caveats.BALL_LEFT_NO_MARK) == wanted
        touching = sum(s.mark.touches for s in series.marks)
        assert said.get(caveats.MARKS_TOUCH, "0 of").startswith(f"{touching} of")


def test_a_count_that_nobody_told_is_an_error_of_the_group() -> None:
    """Marks 10 mm to either side, each as likely as not: by hand, sqrt(2 x 0.25 x (100 + 100)) / 2 = 5 mm."""
    mark = Mark(
        toe_mm=-10.0,
        high_mm=0.0,
        toe_err_mm=1.0,
        high_err_mm=1.0,
        diameter_mm=20.0,
        score_frac=0.5,
        sure=False,
        touches=False,
        at_edge=False,
    )
    both = tuple(SeriesMark(mark=replace(mark, toe_mm=toe), photo_index=0) for toe in (-10.0, 10.0))
    told = Series(marks=both, n_missing=(0,), resprayed=(False,), align_err_mm=(0.0,))
    known, unknown = (marks_of_series(replace(told, counted=is_told)).group for is_told in (True, False))
    assert unknown.toe_err_mm**2 - known.toe_err_mm**2 == pytest.approx(25.0)
    assert unknown.high_err_mm == known.high_err_mm
    # As far out as the spread itself, a mark more or less does not change it.
    assert unknown.toe_spread_err_mm == pytest.approx(known.toe_spread_err_mm)


@pytest.mark.parametrize("shift", [(1.5, -1.0), (-2.0, 0.8)])
def test_the_face_itself_aligns_the_photos(shift: tuple[float, float]) -> None:
    drawn = draw_faces_in_series(50, n_each=(2, 2), frame_err_mm=0.0)
    before, after = drawn.maps
    moved = replace(after, left_toe_mm=after.left_toe_mm + shift[0], top_high_mm=after.top_high_mm + shift[1])
    step = find_new_marks([before], moved, n_new=2, learned=False)
    assert step.latest_from_earlier[:, 2] == pytest.approx(shift, abs=0.3)
    assert step.latest_from_earlier[:, :2] == pytest.approx(np.eye(2), abs=0.01)
    assert step.align_err_mm < 0.5


def test_a_new_coat_is_noticed(learned: bool) -> None:
    drawn = draw_faces_in_series(60, n_each=(3, 3, 2), resprayed=(2,))
    series = follow_series(drawn.maps, (3, 3, 2), learned=learned)
    assert series.resprayed == (False, False, True)
    assert caveats.RESPRAYED in {c.key for c in series.caveats}
    late = np.array([[s.mark.toe_mm, s.mark.high_mm] for s in series.marks if s.photo_index == 2])
    assert len(pairs(drawn.truth_mm, late, 4.0)) == 2


def test_a_ball_on_bare_metal_is_said_or_placed_there(learned: bool) -> None:
    rng = np.random.default_rng(70)
    powder = spray(rng, patchy=0.05)
    _, one = strike(rng, powder, (5, 0), radius_mm=12, keep=0.02, dimples=0, overprint=True)
    _, two = strike(rng, one, (5.5, 0.3), radius_mm=9.5, keep=0.02, dimples=0, overprint=True)
    step = find_new_marks([photograph(rng, one)], photograph(rng, two), n_new=1, learned=learned)
    # A told ball that changed nothing can only have hit where no powder was: the splitter may say so.
    assert all(np.hypot(m.toe_mm - 5.5, m.high_mm - 0.3) <= 4.0 for m in step.marks)
    assert learned or step.marks == ()
    assert step.n_missing == 1 - len(step.marks)
    assert step.marks or caveats.BALL_LEFT_NO_MARK in {c.key for c in step.caveats}


def test_nothing_new_shows_nothing_new(learned: bool) -> None:
    rng = np.random.default_rng(71)
    powder = spray(rng, patchy=0.05)
    _, one = strike(rng, powder, (-10, 3), radius_mm=11, keep=0.1, dimples=0.2, overprint=True)
    step = find_new_marks([photograph(rng, one)], photograph(rng, one), n_new=None, learned=learned)
    assert step.marks == ()
    assert not step.resprayed


def test_a_series_may_start_with_the_fresh_face(learned: bool) -> None:
    rng = np.random.default_rng(72)
    powder = spray(rng, patchy=0.05)
    _, one = strike(rng, powder, (-10, 3), radius_mm=11, keep=0.1, dimples=0.2, overprint=True)
    maps = [photograph(rng, powder), photograph(rng, one)]
    series = follow_series(maps, (0, 1), learned=learned)
    assert [s.photo_index for s in series.marks] == [1]
    assert places(series)[0] == pytest.approx([-10, 3], abs=1.0)


def test_bad_calls() -> None:
    rng = np.random.default_rng(73)
    fresh = photograph(rng, spray(rng))
    with pytest.raises(ValueError, match="one count for each photo"):
        follow_series([fresh], (1, 2), learned=False)
    with pytest.raises(ValueError, match="one count for each photo"):
        follow_series([], (), learned=False)
    with pytest.raises(ValueError, match="at least one earlier"):
        find_new_marks([], fresh, n_new=1)
    with pytest.raises(MarkError):
        follow_series([fresh, fresh], (0, 0), learned=False)
