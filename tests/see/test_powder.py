"""How much powder is gone, and where: exact on drawn light, blind to crumbs, grooves and glare."""

from __future__ import annotations

import numpy as np
import pytest

from facemark.see.powder import POWDER_PX_PER_MM, map_powder
from facemark.see.rectify import FaceMap
from tests.see.drawn_faces import draw_face, photograph, spray


def plain(grey: np.ndarray, *, inside: np.ndarray | None = None) -> FaceMap:
    """A face map of a grey picture, 4 px/mm, left top at (-w/2, h/2)."""
    h, w = grey.shape
    full = np.ones((h, w), bool) if inside is None else inside
    return FaceMap(
        pixels=np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2),
        inside=full,
        left_toe_mm=-w / 8,
        top_high_mm=h / 8,
        px_per_mm=4.0,
    )


def grid(w_mm: float = 100.0, h_mm: float = 50.0) -> tuple[np.ndarray, np.ndarray]:
    x = (np.arange(int(w_mm * 4)) - w_mm * 2) / 4
    y = (h_mm * 2 - np.arange(int(h_mm * 4))) / 4
    return np.meshgrid(x, y)


def test_a_disc_of_known_removal_under_slanting_light() -> None:
    x, y = grid()
    light = 200 * np.exp(0.004 * x - 0.003 * y)
    disc = np.hypot(x - 10, y) < 11
    powder = map_powder(plain(light * np.where(disc, 0.4, 1.0)))
    # 60 % darker by construction, and an area of pi 11^2.
    assert powder.contrast_frac == pytest.approx(0.6, abs=0.02)
    assert powder.marked_mm2 == pytest.approx(np.pi * 11**2, rel=0.04)
    col, row = powder.map_from_mm(np.array([[10.0, 0.0]]))[0].round().astype(int)
    assert powder.removed[row, col] == pytest.approx(1.0, abs=0.05)
    assert powder.noise_frac < 0.03


def test_pixels_and_millimetres_agree_with_the_face_map() -> None:
    x, y = grid()
    face_map = plain(200 - 120 * (np.hypot(x + 20, y - 5) < 9))
    powder = map_powder(face_map)
    rows, cols = np.nonzero(powder.marked)
    centre = powder.mm_from_map(np.column_stack([cols, rows])).mean(axis=0)
    assert centre == pytest.approx([-20, 5], abs=0.1)
    assert powder.map_from_mm(powder.mm_from_map(np.array([[7.0, 3.0]]))) == pytest.approx(
        np.array([[7.0, 3.0]])
    )
    assert powder.px_per_mm == POWDER_PX_PER_MM


def test_powder_left_by_dimples_and_score_lines_is_closed() -> None:
    x, y = grid()
    disc = np.hypot(x, y) < 11
    crumbs = np.hypot(x % 4 - 2, y % 4 - 2) < 1.0
    lines = np.abs(y % 5 - 2.5) < 0.45
    whole = map_powder(plain(np.where(disc, 80.0, 200.0)))
    holed = map_powder(plain(np.where(disc & ~crumbs & ~lines, 80.0, 200.0)))
    assert holed.marked_mm2 == pytest.approx(whole.marked_mm2, rel=0.12)


def test_dark_grooves_and_chips_are_not_marks() -> None:
    x, y = grid()
    grey = np.where(np.abs(y % 6 - 3) < 0.4, 60.0, 200.0)
    grey = np.where(np.hypot(x - 30, y - 10) < 1.5, 60.0, grey)
    assert map_powder(plain(grey)).marked_mm2 == 0.0


def test_glare_weighs_nothing_and_is_counted() -> None:
    x, _ = grid()
    grey = 150 + 0 * x
    powder = map_powder(plain(np.where(np.abs(x) < 5, 235.0, grey)))
    assert powder.glare_frac == pytest.approx(0.12, abs=0.03)  # 10 mm of 100, dilated by 1 mm
    col, row = powder.map_from_mm(np.array([[0.0, 0.0]]))[0].round().astype(int)
    assert powder.weight[row, col] == 0


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_fresh_powder_has_no_marked_place(seed: int) -> None:
    rng = np.random.default_rng(seed)
    powder = map_powder(photograph(rng, spray(rng, patchy=0.05)))
    assert powder.marked_mm2 < 100 or powder.contrast_frac < 0.1


def test_twice_the_brightness_tells_the_same() -> None:
    x, y = grid()
    grey = 100 - 60.0 * (np.hypot(x, y) < 10)
    once, twice = map_powder(plain(grey)), map_powder(plain(2 * grey))
    assert twice.contrast_frac == pytest.approx(once.contrast_frac, abs=0.01)
    assert np.abs(twice.removed - once.removed).max() < 0.03


def test_an_empty_outline_gives_an_empty_map() -> None:
    face = draw_face(4, tier="easy").face_map
    empty = FaceMap(
        pixels=face.pixels,
        inside=np.zeros_like(face.inside),
        left_toe_mm=0.0,
        top_high_mm=0.0,
        px_per_mm=4.0,
    )
    powder = map_powder(empty)
    assert powder.marked_mm2 == 0.0
    assert powder.glare_frac == 0.0
