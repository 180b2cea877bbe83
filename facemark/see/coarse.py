"""Roughly where in the photo is the powdered face?

Powder is the palest matt thing on a head: bright in its weakest colour channel. The photo is cut at many
levels of three such whiteness pictures (as it is; white-balanced on its brightest pixels; brightness less
colour); every connected pale region is closed over the dark marks by its convex hull, and judged by shape
(no face is as round as a ball, as square as a sheet of paper or as thin as a shaft) and by how much paler it
is just inside its hull than just outside. The thorough work is left to outline.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.contour import area_px2, even, normals

COARSE_LONG_PX = 400  # the photo is shrunk to this length; a face of 8 % of the width still spans 32 px
N_LEVELS = 12
LEAST_AREA_FRAC = 0.002  # of the photo
MOST_AREA_FRAC = 0.75
N_KEPT = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """A place where the face could be. ``hull_px`` (N, 2) in full-size pixels; ``score_frac`` 0..1.

    ``cut`` True: the picture's border cuts it off.
    """

    hull_px: Array
    score_frac: float
    cut: bool


def shrink(pixels: NDArray[np.uint8], long_px: int) -> tuple[NDArray[np.uint8], float]:
    """The photo at ``long_px``, and full-size pixels per small pixel. Whole steps first: that is quick."""
    step = max(1, int(max(pixels.shape[:2]) / long_px / 2))
    small = pixels[::step, ::step]
    scale = long_px / max(small.shape[:2])
    if scale < 1:
        size = (max(1, round(small.shape[1] * scale)), max(1, round(small.shape[0] * scale)))
        small = np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_AREA), np.uint8)
    return np.ascontiguousarray(small), pixels.shape[1] / small.shape[1]


def find_regions(pixels: NDArray[np.uint8], avoid_px: tuple[Array, ...]) -> list[Region]:
    """Places where the powdered face could be, best first.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 RGB
    avoid_px : polygons (K, 2) that cannot be the face: card, tags, ball

    Returns
    -------
    list of Region
        At most ``N_KEPT``, different from each other; empty when nothing pale enough is there.
    """
    small, ratio = shrink(pixels, COARSE_LONG_PX)
    blocked = np.zeros(small.shape[:2], np.uint8)
    for polygon in avoid_px:
        cv2.fillPoly(blocked, [np.round((np.asarray(polygon) + 0.5) / ratio - 0.5).astype(np.int32)], 1)
    found: list[Region] = []
    for pale in _whiteness(small):
        # 98th rather than highest: a few glints must not stretch the levels.
        low, high = np.percentile(pale, [15.0, 99.5])
        for level in np.linspace(low, high, N_LEVELS + 2)[1:-1]:
            found += _regions_at(pale, float(level), blocked, ratio)
    found.sort(key=lambda region: -region.score_frac)
    kept: list[Region] = []
    for region in found:
        if all(_overlap(region.hull_px, other.hull_px) < 0.85 for other in kept):
            kept.append(region)
        if len(kept) == N_KEPT:
            break
    return kept


def _whiteness(small: NDArray[np.uint8]) -> list[NDArray[np.float32]]:
    """Three pictures in which powder is bright."""
    colour = cv2.GaussianBlur(small, (0, 0), 0.9).astype(np.float32)
    weakest, strongest = colour.min(axis=2), colour.max(axis=2)
    white = np.percentile(colour.reshape(-1, 3)[::7], 98, axis=0)
    gain = np.clip(white.mean() / np.maximum(white, 1.0), 0.6, 1.7).astype(np.float32)
    saturation = (strongest - weakest) / np.maximum(strongest, 20.0)
    return [weakest, (colour * gain).min(axis=2), colour.mean(axis=2) * (1 - saturation)]


def _regions_at(
    pale: NDArray[np.float32], level: float, blocked: NDArray[np.uint8], ratio: float
) -> list[Region]:
    height, width = pale.shape
    mask = ((pale > level) & (blocked == 0)).astype(np.uint8)
    mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)), np.uint8)
    n, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    found = []
    for k in range(1, n):
        x, y, w, h, area = (int(v) for v in stats[k])
        if area < LEAST_AREA_FRAC * height * width or w * h > MOST_AREA_FRAC * height * width:
            continue
        cut = x <= 0 or y <= 0 or x + w >= width or y + h >= height
        part = np.pad((labels[y : y + h, x : x + w] == k).astype(np.uint8), 1)
        # As it is, and with the hosel rolled off: which is right depends on marks that open the edge.
        for shape in (part, _rolled(part, area)):
            contours, _ = cv2.findContours(shape, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
            if not contours:
                continue
            hull = cv2.convexHull(np.vstack(contours))[:, 0].astype(float) + np.array([x - 1, y - 1])
            if len(hull) < 5:
                continue
            score = _face_like(hull, area, pale, level) * (0.3 if cut else 1.0)
            if score > 0.02:
                found.append(Region(hull_px=(hull + 0.5) * ratio - 0.5, score_frac=score, cut=cut))
    return found


def _rolled(part: NDArray[np.uint8], area: int) -> NDArray[np.uint8]:
    """The region, holes filled, less whatever is narrower than a third of a face's height: the hosel."""
    contours, _ = cv2.findContours(part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros_like(part)
    cv2.drawContours(filled, contours, -1, 1, cv2.FILLED)
    size = max(3, round(0.22 * np.sqrt(area))) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return np.asarray(cv2.morphologyEx(filled, cv2.MORPH_OPEN, disc), np.uint8)


def _face_like(hull: Array, pale_area: int, pale: NDArray[np.float32], level: float) -> float:
    """0..1: shape of the hull times how clearly its border divides pale from dark."""
    (_, _), (side_a, side_b), _ = cv2.minAreaRect(hull.astype(np.float32))
    long_side, short_side = max(side_a, side_b), max(min(side_a, side_b), 1e-6)
    area = abs(area_px2(hull))
    aspect, fill = long_side / short_side, area / (long_side * short_side)
    # Faces: 1.3 (iron) to 2.6 (flat driver) times as long as high, 0.68 to 0.88 of their box (an ellipse:
    # 0.785); a ball is 1.0, a sheet fills 0.95 and more. From outlines of heads, by eye; assumed.
    shape = _ramp(aspect, 1.05, 1.3) * (1 - _ramp(aspect, 2.7, 3.4))
    shape *= (1 - _ramp(fill, 0.89, 0.95)) * _ramp(fill, 0.55, 0.66)
    if shape == 0:
        return 0.0
    curve = even(hull, 96)
    outward = normals(curve)
    step = 0.05 * np.sqrt(area)
    inside = _sample(pale, curve - outward * step)
    outside = np.minimum(_sample(pale, curve + outward * step), _sample(pale, curve + outward * 1.7 * step))
    inner_level = np.percentile(inside, 75)
    # Marks cut by the edge make the inside dark there: only the outside must be dark everywhere.
    divided = float(np.mean(outside < 0.5 * (level + inner_level) - 0.12 * inner_level))
    bright = float(np.mean(inside > level))
    covered = pale_area / max(area, 1.0)
    # A cut well below the coat's own level takes the overspray on crown and sole with it.
    tight = 0.4 + 0.6 * _ramp(level / max(float(inner_level), 1.0), 0.45, 0.75)
    return float(
        shape
        * tight
        * divided**2
        * (0.4 + 0.6 * bright)
        * _ramp(covered, 0.15, 0.5)
        * min(1.0, 0.5 + area / pale.size * 25)
    )


def _sample(image: NDArray[np.float32], at: Array) -> NDArray[np.float32]:
    at32 = at.astype(np.float32)
    values = cv2.remap(
        image, at32[None, :, 0], at32[None, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(values[0], np.float32)


def _ramp(value: float, low: float, high: float) -> float:
    return min(1.0, max(0.0, (value - low) / (high - low)))


def _overlap(a: Array, b: Array) -> float:
    """Intersection over union of two convex polygons."""
    both, _ = cv2.intersectConvexConvex(a.astype(np.float32), b.astype(np.float32))
    return float(both / max(abs(area_px2(a)) + abs(area_px2(b)) - both, 1e-9))
