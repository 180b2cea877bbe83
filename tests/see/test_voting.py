"""Discs seen by their own rim: real coins, invariances, and what must not be a disc."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from facemark.see.powder import PowderMap
from facemark.see.voting import Circle, least_radius_mm, vote_circles


def powder_of(removed: np.ndarray, *, px_per_mm: float = 2.0) -> PowderMap:
    """A removal map given directly, (0, 0) mm at its middle pixel."""
    h, w = removed.shape
    removed = removed.astype(np.float32)
    return PowderMap(
        removed=removed,
        raw=removed,
        weight=np.ones((h, w), np.float32),
        marked=removed > 0.5,
        inside=np.ones((h, w), bool),
        left_toe_mm=-(w - 1) / 2 / px_per_mm,
        top_high_mm=(h - 1) / 2 / px_per_mm,
        px_per_mm=px_per_mm,
        contrast_frac=0.6,
        noise_frac=0.03,
        light_frac=0.8,
        glare_frac=0.0,
    )


def discs(
    places: list[tuple[float, float, float]], *, px_per_mm: float = 2.0, h: int = 121, w: int = 221
) -> np.ndarray:
    """Union of soft discs (toe, high, radius) in mm."""
    x = (np.arange(w) - (w - 1) / 2) / px_per_mm
    y = ((h - 1) / 2 - np.arange(h)) / px_per_mm
    left = np.ones((h, w))
    for toe, high, radius in places:
        dist = np.hypot(x[None, :] - toe, y[:, None] - high)
        left *= 1 / (1 + np.exp(-(dist - radius) / 0.4))
    return 1 - left


def places(circles: tuple[Circle, ...]) -> np.ndarray:
    found = np.array([[c.toe_mm, c.high_mm] for c in circles]).reshape(-1, 2)
    return found[np.lexsort((found[:, 1], found[:, 0]))]


def test_single_discs_are_placed_exactly() -> None:
    circles = vote_circles(powder_of(discs([(-30, 5, 10), (20, -8, 12.5)])))
    assert places(circles) == pytest.approx(np.array([[-30, 5], [20, -8]]), abs=0.15)
    assert sorted(c.radius_mm for c in circles) == pytest.approx([10, 12.5], abs=0.2)
    assert all(c.visible_deg >= 340 for c in circles)


def test_two_discs_over_each_other_are_told_apart() -> None:
    circles = vote_circles(powder_of(discs([(-7, 0, 11), (7, 2, 11)])))
    assert places(circles) == pytest.approx(np.array([[-7, 0], [7, 2]]), abs=0.5)


def coins() -> np.ndarray:
    """scikit-image's bundled photo ``coins`` (no known copyright restrictions), levelled and closed."""
    from skimage import data

    image = data.coins().astype(np.float32)
    ground = cv2.GaussianBlur(cv2.erode(image, np.ones((81, 81), np.uint8)), (0, 0), 20)
    relief = np.clip((image - ground) / np.percentile(image - ground, 92), 0, 1.1)
    return cv2.morphologyEx(relief, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (11, 11)))


# 2.2 px are called a millimetre, so that coins of 16-31 px radius lie within the radii of ball prints.
COIN_PX_PER_MM = 2.2


def test_real_coins_are_counted() -> None:
    """24 coins, counted by eye."""
    circles = vote_circles(powder_of(coins(), px_per_mm=COIN_PX_PER_MM), n_most=40)
    assert len(circles) == 24
    assert all(c.visible_deg >= 300 for c in circles)


@pytest.mark.parametrize("apart", [0.65, 0.8, 1.0])
def test_real_coins_pushed_over_each_other_are_split(apart: float) -> None:
    relief = coins()
    ground = 0.35  # brightest paper between the coins
    relief = np.clip((relief - ground) / (1 - ground), 0, 1)
    one, two = relief[88:160, 78:128], relief[88:160, 245:297]  # two coins of the second row
    alone = [vote_circles(powder_of(np.pad(p, 20), px_per_mm=COIN_PX_PER_MM)) for p in (one, two)]
    assert [len(c) for c in alone] == [1, 1]
    gap_px = round(apart * COIN_PX_PER_MM * (alone[0][0].radius_mm + alone[1][0].radius_mm))
    canvas = np.zeros((152, 240))
    canvas[40:112, 40:90] = one
    left = 40 + 25 + gap_px - 26
    canvas[40:112, left : left + 52] = np.maximum(canvas[40:112, left : left + 52], two)
    found = places(vote_circles(powder_of(canvas, px_per_mm=COIN_PX_PER_MM)))
    assert len(found) == 2
    moved = (left + 26 - 65) / COIN_PX_PER_MM  # how far apart the two cut-outs' middles lie now
    middle = alone[1][0].toe_mm - alone[0][0].toe_mm
    assert found[1, 0] - found[0, 0] == pytest.approx(moved + middle, abs=1.0)


def test_a_shadow_edge_is_no_disc() -> None:
    x = np.arange(221)[None, :] - 110
    y = np.arange(121)[:, None] - 60
    edge = 1 / (1 + np.exp(-(x + 0.4 * y) / 2.0))
    assert vote_circles(powder_of(0.6 * edge)) == ()


def test_a_long_band_is_no_disc() -> None:
    y = np.arange(121)[:, None] - 60
    band = ((np.abs(y) < 18) * np.ones((1, 221))).astype(float)
    assert vote_circles(powder_of(band)) == ()


def test_nothing_gives_nothing() -> None:
    assert vote_circles(powder_of(np.zeros((121, 221)))) == ()


coordinates = st.tuples(
    st.floats(-32, -12),
    st.floats(-12, 12),
    st.floats(9, 13),
    st.floats(12, 32),
    st.floats(-12, 12),
    st.floats(9, 13),
)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(coordinates)
def test_mirrored_and_turned_faces_give_mirrored_and_turned_discs(c: tuple[float, ...]) -> None:
    removed = discs([(c[0], c[1], c[2]), (c[3], c[4], c[5])])
    found = places(vote_circles(powder_of(removed)))
    assert len(found) == 2
    mirrored = places(vote_circles(powder_of(removed[:, ::-1])))
    turned = places(vote_circles(powder_of(removed[::-1, ::-1])))
    assert mirrored[::-1] * [-1, 1] == pytest.approx(found, abs=0.12)
    assert turned[::-1] * [-1, -1] == pytest.approx(found, abs=0.12)


@settings(max_examples=6, deadline=None, derandomize=True)
@given(coordinates)
def test_finer_pixels_give_the_same_millimetres(c: tuple[float, ...]) -> None:
    what = [(c[0], c[1], c[2]), (c[3], c[4], c[5])]
    coarse = places(vote_circles(powder_of(discs(what))))
    fine = places(vote_circles(powder_of(discs(what, px_per_mm=3.0, h=181, w=331), px_per_mm=3.0)))
    assert fine == pytest.approx(coarse, abs=0.15)


def test_gentle_strikes_leave_small_discs_that_are_looked_for_when_effort_is_told() -> None:
    # Hertz: contact radius goes with speed to the power 0.4, so a fifth of the speed leaves 0.53 of the size.
    assert least_radius_mm(0.2) / least_radius_mm(1.0) == pytest.approx(0.525, abs=0.001)
    small = powder_of(discs([(-20, 4, 5.0), (15, -3, 5.5)]))
    assert vote_circles(small) == ()
    told = vote_circles(small, smallest_mm=least_radius_mm(0.2))
    assert places(told) == pytest.approx(np.array([[-20, 4], [15, -3]]), abs=0.2)
