"""Smaller copies: means over whole pixels, and where a place of the copy lies in the photo."""

from __future__ import annotations

import numpy as np
import pytest

from facemark.see.small import halved, shrink

RNG = np.random.default_rng(7)
PHOTO = RNG.integers(0, 256, (407, 605, 3)).astype(np.uint8)


@pytest.mark.parametrize(("side", "factor"), [(605, 1), (300, 2), (200, 3), (150, 4), (100, 6), (75, 8)])
def test_a_copy_is_the_mean_of_blocks(side: int, factor: int) -> None:
    small = shrink(PHOTO, side)
    assert small.factor == factor
    height, width = 407 // factor, 605 // factor
    blocks = PHOTO[: height * factor, : width * factor].reshape(height, factor, width, factor, 3)
    # Halving rounds each time: at most half a grey level a step.
    assert np.abs(small.pixels - blocks.mean(axis=(1, 3))).max() <= 1.6


def test_halving_stops_before_it_is_too_much() -> None:
    assert [halved(PHOTO, most).factor for most in (0.5, 1.9, 2.0, 3.9, 4.1, 9.0)] == [1, 1, 2, 2, 4, 8]


def test_places_go_there_and_back() -> None:
    small = shrink(PHOTO, 150)
    corner = small.px_from_small(np.array([0.0, 0.0]))
    assert corner == pytest.approx([1.5, 1.5])  # the middle of pixels 0 to 3
    assert small.small_from_px(corner) == pytest.approx([0.0, 0.0])
