"""Does the shaft tell the toe's side and which way is up, however the photo is turned?"""

from __future__ import annotations

import numpy as np
import pytest

from facemark.see.toe import find_toe, long_axis
from tests.see.painted_heads import ellipse, paint_head


@pytest.mark.parametrize("turn_deg", [0.0, 20.0, 90.0, 180.0, 262.0])
@pytest.mark.parametrize("left_handed", [False, True])
def test_all_ways_a_head_can_lie(turn_deg: float, left_handed: bool) -> None:
    head = paint_head(
        np.random.default_rng(8), turn_deg=turn_deg, px_per_mm=3.5, size_px=(1000, 900), middle=(480.0, 450.0)
    )
    pixels, outline = head.pixels, head.outline_px
    turn = np.radians(turn_deg)
    toe = np.array([-np.cos(turn), -np.sin(turn)])
    up = np.array([np.sin(turn), -np.cos(turn)])
    if left_handed:  # a left-handed head is the mirror image of a right-handed one
        pixels = np.ascontiguousarray(pixels[:, ::-1])
        outline = outline * [-1, 1] + [pixels.shape[1] - 1, 0]
        toe, up = toe * [-1, 1], up * [-1, 1]
    side = find_toe(pixels, outline)
    assert side is not None
    assert side.toe_px @ toe > 0.9
    assert side.up_px @ up > 0.9


def test_no_shaft_is_not_guessed() -> None:
    head = paint_head(
        np.random.default_rng(9), shaft=False, px_per_mm=3.5, size_px=(900, 700), middle=(450.0, 350.0)
    )
    assert find_toe(head.pixels, head.outline_px) is None


def test_long_axis_of_a_turned_shape() -> None:
    middle, axis, length, aspect = long_axis(ellipse(400, 110.0, 55.0, middle=(30.0, 40.0), turn_deg=25.0))
    assert middle == pytest.approx([30.0, 40.0], abs=0.1)
    assert abs(axis @ [np.cos(np.radians(25)), np.sin(np.radians(25))]) > 0.9999
    assert length == pytest.approx(110.0, rel=0.01)
    assert aspect == pytest.approx(2.0, rel=0.01)
