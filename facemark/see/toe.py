"""On which side is the toe, and which way is up? The shaft leaves the head at the heel, upward.

Used where the learned finder is not there or not sure. Seen from the front, the shaft continues the heel at
the club's lie angle from level (56 to 63 degrees, clubmakers' tables; irons and woods alike). So for each of
the four ways the head can lie (either end the heel, either side up), long straight edges are counted that run
from that heel in that direction: hosel and shaft give two parallel ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.coarse import shrink
from facemark.see.contour import area_px2, centroid

LONG_PX = 720
LIE_DEG = 59.0
LIE_TOLERANCE_DEG = 14.0  # lie, the long axis against level, a shaft leaning in depth
NEAR_FRAC = 0.30  # a shaft's line passes the heel end this near, of the face's length
# The best way must beat this many times the second best by this much, in face lengths of edge. Assumed.
RIVAL_FACTOR, LEAST_LEAD = 1.6, 0.12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToeSide:
    """Unit vectors in the picture (x right, y down); ``toe_px`` along the outline's long axis."""

    toe_px: Array
    up_px: Array
    lead_frac: float  # of the best way over its rivals, in face lengths of edge


def find_toe(pixels: NDArray[np.uint8], outline_px: Array) -> ToeSide | None:
    """Find the toe's side from the shaft.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 RGB
    outline_px : (N, 2)

    Returns
    -------
    ToeSide or None
        None when no shaft was seen.
    """
    small, ratio = shrink(pixels, LONG_PX)
    curve = (outline_px + 0.5) / ratio - 0.5
    middle, axis, length, _ = long_axis(curve)
    segments = _outer_segments(small, curve)
    side = np.array([-axis[1], axis[0]])
    ways = [(heel, up) for heel in (axis, -axis) for up in (side, -side)]
    votes = [(_vote(segments, middle + 0.5 * length * heel, heel, up, length), heel, up) for heel, up in ways]
    votes.sort(key=lambda vote: -vote[0])
    best, second = votes[0], votes[1]
    lead_frac = best[0] - RIVAL_FACTOR * second[0]
    if lead_frac < LEAST_LEAD:
        return None
    return ToeSide(toe_px=-best[1], up_px=best[2], lead_frac=lead_frac)


def long_axis(curve: Array) -> tuple[Array, Array, float, float]:
    """Centre, unit vector along the longest extent (by the outline's second moments), that extent, and how
    many times longer than high it is by those moments."""
    middle = centroid(curve)
    moments = cv2.moments(curve.astype(np.float32))
    angle = 0.5 * math.atan2(2 * moments["mu11"], moments["mu20"] - moments["mu02"])
    axis = np.array([math.cos(angle), math.sin(angle)])
    half = (moments["mu20"] + moments["mu02"]) / 2
    apart = math.hypot((moments["mu20"] - moments["mu02"]) / 2, moments["mu11"])
    aspect = math.sqrt((half + apart) / max(half - apart, 1e-9 * half))
    return middle, axis, float(np.ptp(curve @ axis)), aspect


def _outer_segments(small: NDArray[np.uint8], curve: Array) -> Array:
    """(K, 4) straight edges x1, y1, x2, y2 that lie outside the face."""
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    found = cv2.createLineSegmentDetector().detect(grey)[0]
    if found is None:
        return np.zeros((0, 4))
    segments = np.asarray(found, float).reshape(-1, 4)
    longer = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    segments = segments[longer > 0.08 * math.sqrt(abs(area_px2(curve)))]
    mask = np.zeros(grey.shape, np.uint8)
    cv2.fillPoly(mask, [np.round(curve).astype(np.int32)], 1)
    middle = ((segments[:, :2] + segments[:, 2:]) / 2).round().astype(int)
    middle = np.clip(middle, 0, [grey.shape[1] - 1, grey.shape[0] - 1])
    return np.asarray(segments[mask[middle[:, 1], middle[:, 0]] == 0])


def _vote(segments: Array, heel_end: Array, heel: Array, up: Array, length: float) -> float:
    """Summed length, in face lengths, of edges that leave this heel end at the lie angle."""
    if not len(segments):
        return 0.0
    lie = math.radians(LIE_DEG)
    way = heel * math.cos(lie) + up * math.sin(lie)
    ends = segments.reshape(-1, 2, 2)
    run = ends[:, 1] - ends[:, 0]
    long = np.linalg.norm(run, axis=1)
    unit = run / long[:, None]
    turned = np.degrees(np.arccos(np.clip(np.abs(unit @ way), 0, 1)))
    middle = ends.mean(axis=1) - heel_end
    beyond = middle @ way
    off_line = np.abs(unit[:, 0] * middle[:, 1] - unit[:, 1] * middle[:, 0])
    fits = (turned < LIE_TOLERANCE_DEG) & (beyond > -0.1 * length) & (beyond < 2.5 * length)
    fits &= off_line < NEAR_FRAC * length
    weight = np.clip(1 - (turned / LIE_TOLERANCE_DEG) ** 2, 0, 1) * np.clip(
        1 - off_line / (NEAR_FRAC * length), 0, 1
    )
    return float((np.minimum(long, 0.8 * length) / length * weight)[fits].sum())
