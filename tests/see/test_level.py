"""Are the score lines' directions read, and are other straight things not believed?"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from facemark.see.level import find_level
from facemark.see.rectify import FaceMap

PX_PER_MM = 4.0


def painted(
    rng: np.random.Generator,
    *,
    lines_deg: float | None,
    contrast: float = 0.12,
    dots_deg: float | None = None,
) -> FaceMap:
    """A powdered face map; score lines 4 mm apart, rising by ``lines_deg`` to the right; rows of dots."""
    height, width = 232, 472
    picture = np.full((height, width), 205.0, np.float32)
    picture += 8 * cv2.GaussianBlur(rng.normal(size=(height, width)).astype(np.float32), (0, 0), 3) * 3
    middle = np.array([width / 2, height / 2])
    if lines_deg is not None:
        way = np.array([np.cos(np.radians(lines_deg)), -np.sin(np.radians(lines_deg))])
        side = np.array([-way[1], way[0]])
        for k in range(-5, 6):
            at = middle + side * k * 4 * PX_PER_MM
            for start, end in ((-40, -15), (15, 40)):
                ends = [
                    tuple(np.round((at + way * mm * PX_PER_MM) * 16).astype(int).tolist())
                    for mm in (start, end)
                ]
                layer = np.zeros((height, width), np.uint8)
                cv2.line(layer, ends[0], ends[1], 255, 2, cv2.LINE_AA, 4)
                picture *= 1 - contrast * layer / 255
    if dots_deg is not None:
        turn = np.radians(dots_deg)
        for i in range(-12, 13):
            for j in range(-12, 13):
                u, v = (i + 0.5 * (j % 2)) * 4.0, j * 3.46
                if np.hypot(u, v) > 22:
                    continue
                x = middle[0] + (u * np.cos(turn) + v * np.sin(turn)) * PX_PER_MM
                y = middle[1] + (v * np.cos(turn) - u * np.sin(turn)) * PX_PER_MM
                cv2.circle(picture, (round(x), round(y)), 5, 90.0, cv2.FILLED)
    picture += rng.normal(0, 4, picture.shape)
    inside = np.zeros((height, width), np.uint8)
    cv2.ellipse(
        inside, (width // 2, height // 2), (width // 2 - 8, height // 2 - 8), 0, 0, 360, 1, cv2.FILLED
    )
    grey = picture.clip(0, 255).astype(np.uint8)
    return FaceMap(
        pixels=np.dstack([grey] * 3),
        inside=inside.astype(bool),
        left_toe_mm=-59.0,
        top_high_mm=29.0,
        px_per_mm=PX_PER_MM,
    )


@pytest.mark.parametrize("turn_deg", [-7.3, -2.0, 0.0, 0.6, 4.4])
def test_lines_are_read_to_half_a_degree(turn_deg: float) -> None:
    level = find_level(painted(np.random.default_rng(4), lines_deg=turn_deg), expected_err_deg=4.0)
    assert level.seen
    assert level.turn_deg == pytest.approx(turn_deg, abs=0.5)
    assert abs(level.turn_deg - turn_deg) < 3 * level.turn_err_deg


@pytest.mark.parametrize(("turn_deg", "believed"), [(2.0, True), (7.0, False), (-7.0, False)])
def test_faint_lines_are_believed_only_where_they_are_expected(turn_deg: float, *, believed: bool) -> None:
    """As faint as these, grain and dimple prints make peaks, too: one turned a face by 7 degrees, surely."""
    faint = painted(np.random.default_rng(5), lines_deg=turn_deg, contrast=0.011)
    assert find_level(faint, expected_err_deg=4.0).seen is believed
    clear = painted(np.random.default_rng(5), lines_deg=turn_deg, contrast=0.03)
    assert find_level(clear, expected_err_deg=4.0).seen


def test_a_bare_face_has_no_lines() -> None:
    level = find_level(painted(np.random.default_rng(5), lines_deg=None), expected_err_deg=4.0)
    assert not level.seen


def test_rows_of_dimples_are_not_believed_far_from_level() -> None:
    level = find_level(painted(np.random.default_rng(6), lines_deg=None, dots_deg=15.0), expected_err_deg=4.0)
    assert not level.seen or level.turn_deg < 8


def test_the_maps_own_rows_do_not_win() -> None:
    """Resampling blurs at every angle but 0: faint lines at 3 degrees must not read as level."""
    level = find_level(painted(np.random.default_rng(7), lines_deg=3.0, contrast=0.06), expected_err_deg=4.0)
    assert level.turn_deg == pytest.approx(3.0, abs=1.0)
