"""Closed curves: areas and centroids against closed forms, rolling against what a disc can reach."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facemark.see.contour import (
    area_px2,
    blur_around,
    centroid,
    dilated,
    eroded,
    even,
    length_px,
    normals,
    rolled_inside,
    smooth,
    unroll,
)


def circle(n: int, radius: float, x: float = 0.0, y: float = 0.0) -> np.ndarray:
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])


@given(
    st.floats(5, 200), st.floats(5, 200), st.floats(-500, 500), st.floats(-500, 500), st.floats(0, 2 * np.pi)
)
def test_ellipse_area_and_centroid(long: float, short: float, x: float, y: float, turn: float) -> None:
    """Area pi a b, centroid the middle, whatever the turn."""
    points = circle(2000, 1.0) * [long, short]
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    points = points @ spin.T + [x, y]
    assert area_px2(points) == pytest.approx(np.pi * long * short, rel=1e-4)
    assert centroid(points) == pytest.approx([x, y], abs=1e-6 * max(long, short, abs(x), abs(y)))


def test_half_disc_centroid() -> None:
    """4 r / (3 pi) from the straight side, as in any table of areas."""
    half = circle(4000, 30.0)[:2001]
    assert centroid(half) == pytest.approx([0.0, 4 * 30.0 / (3 * np.pi)], abs=1e-3)


def test_even_steps_and_sense() -> None:
    square = np.array([[0.0, 0.0], [0.0, 10.0], [10.0, 10.0], [10.0, 0.0]])  # anticlockwise on the screen
    points = even(square, 80)
    assert area_px2(points) == pytest.approx(100.0)
    assert np.hypot(*np.diff(points, axis=0).T) == pytest.approx(0.5)
    assert length_px(points) == pytest.approx(40.0)


def test_normals_point_outward() -> None:
    points = circle(100, 50.0, 7.0, -3.0)
    assert normals(points) == pytest.approx((points - [7.0, -3.0]) / 50.0, abs=1e-6)


def test_smoothing_keeps_low_waves_and_fades_high_ones() -> None:
    angle = np.linspace(0, 2 * np.pi, 256, endpoint=False)
    radius = 100 + 2 * np.cos(40 * angle)
    rough = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    left = np.hypot(*smooth(rough, 10.0).T)
    assert np.ptp(left) < 0.1
    assert left.mean() == pytest.approx(100, abs=0.7)


def test_unroll_reads_the_radius() -> None:
    y, x = np.indices((200, 200), dtype=np.float32)
    image = np.hypot(x - 100, y - 100)
    curve = circle(90, 50.0, 100.0, 100.0)
    strip = unroll(image, curve, normals(curve), np.array([-5.0, 0.0, 5.0]))
    assert strip == pytest.approx(np.array([[45.0], [50.0], [55.0]]) * np.ones((1, 90)), abs=0.1)


def test_blur_closes_on_itself() -> None:
    row = np.zeros((1, 60), np.float32)
    row[0, 0] = 1.0
    blurred = blur_around(row, 3.0)[0]
    assert blurred.sum() == pytest.approx(1.0, abs=1e-5)
    assert blurred[1:] == pytest.approx(blurred[1:][::-1], abs=1e-6)


def test_a_disc_rolled_inside_loses_the_handle() -> None:
    """The handle, 8 wide, goes; the pan, 120 wide, stays. As cv2's opening, but quicker."""
    mask = np.zeros((200, 300), np.uint8)
    cv2.circle(mask, (90, 100), 60, 1, cv2.FILLED)
    mask[96:104, 140:290] = 1
    rolled = rolled_inside(mask, 10.0)
    assert rolled[100, 200] == 0
    assert rolled[100, 90] == 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (21, 21))
    assert (rolled != cv2.morphologyEx(mask, cv2.MORPH_OPEN, disc)).mean() < 0.004


def test_shrinking_and_growing_by_a_disc() -> None:
    mask = np.zeros((101, 101), np.uint8)
    cv2.circle(mask, (50, 50), 30, 1, cv2.FILLED)
    assert eroded(mask, 10.0).sum() == pytest.approx(np.pi * 20**2, rel=0.06)
    assert dilated(mask, 10.0).sum() == pytest.approx(np.pi * 40**2, rel=0.06)
    assert eroded(np.ones((20, 20), np.uint8), 3.0).sum() == 14 * 14  # the picture's border counts as outside


@given(st.integers(0, 2**32 - 1), st.floats(1.0, 25.0))
def test_only_the_mask_is_looked_at_and_nothing_is_lost(seed: int, radius: float) -> None:
    """The same as OpenCV's distances over the whole picture (its border counts as outside when shrinking)."""
    rng = np.random.default_rng(seed)
    mask = np.zeros((90, 130), np.uint8)
    for _ in range(rng.integers(0, 5)):
        middle = (int(rng.integers(0, 130)), int(rng.integers(0, 90)))
        cv2.circle(mask, middle, int(rng.integers(1, 40)), 1, cv2.FILLED)
    inward = cv2.distanceTransform(np.pad(mask, 1), cv2.DIST_L2, 5)[1:-1, 1:-1]
    outward = cv2.distanceTransform(1 - mask, cv2.DIST_L2, 5)
    assert np.array_equal(eroded(mask, radius), inward > radius)
    assert np.array_equal(dilated(mask, radius), (outward <= radius) & mask.any())
