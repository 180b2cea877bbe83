"""Where exactly, to a fraction of a pixel, does a straight edge run?

Used for the sides of tags and cards. A side is looked at along many short lines across it; each says where
brightness is half-way between the two sides, and a straight line through those places is the edge. Lines
instead of corners, because blur rounds a corner inward (0.2-0.8 px, metrology.md 2.2) but moves a straight
edge only if the brightness is not proportional to light: hence the gamma is undone first.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array

SAMPLE_STEP_PX = 0.5
LOOK_ROWS = 3  # neighbouring rows that make one look across a coloured side; assumed
CLEAR_STEP_ERRS = 3.0  # a look whose step is less than this over its error says nothing; assumed
AGREE_PX = 0.7  # places this near a line belong to it at first
# Light of an 8-bit value, as sRGB nearly is (IEC 61966-2-1 approximated by a power); scaled to 0..255.
LIGHT_FROM_CODE = (255.0 * (np.arange(256) / 255.0) ** 2.2).astype(np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A straight line: ``point_px`` (2,) on it and unit ``along`` (2,).

    ``scatter_px``: RMS of the places that made it; ``seen_frac``: share of looks that found the edge there;
    ``contrast_frac``: light outside minus inside, as a median, over full scale.
    """

    point_px: Array
    along: Array
    scatter_px: float
    seen_frac: float
    contrast_frac: float


def profiles(
    light: NDArray[np.float32], start_px: Array, end_px: Array, *, reach_px: float, n: int, trim_frac: float
) -> tuple[Array, Array, Array]:
    """Look across the side from ``start_px`` to ``end_px``.

    Returns
    -------
    places (n, 2), offsets (m,), values (n, m) or (n, m, channels)
        Offsets grow outward for corners that run clockwise in the picture: negative is inside.
    """
    along = (end_px - start_px) / np.linalg.norm(end_px - start_px)
    normal = np.array([along[1], -along[0]])  # outward for corners that run clockwise in the picture
    t = np.linspace(trim_frac, 1.0 - trim_frac, n)
    places = start_px + t[:, None] * (end_px - start_px)
    offsets = np.arange(-reach_px, reach_px + 1e-6, SAMPLE_STEP_PX)
    grid = places[:, None, :] + offsets[None, :, None] * normal
    low = np.floor(grid.min(axis=(0, 1))).astype(int) - 2
    high = np.ceil(grid.max(axis=(0, 1))).astype(int) + 3
    low = np.maximum(low, 0)
    high = np.minimum(high, [light.shape[1], light.shape[0]])
    if np.any(high - low < 2):
        return places, offsets, np.zeros((n, len(offsets)))
    crop = light[low[1] : high[1], low[0] : high[0]]
    seen = cv2.remap(
        crop, (grid - low).astype(np.float32), None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return places, offsets, np.asarray(seen, float)


def dark_side_line(
    light: NDArray[np.float32], start_px: Array, end_px: Array, *, reach_px: float
) -> Line | None:
    """The edge of something dark (inside) on something bright (outside), near the given side.

    Parameters
    ----------
    light : (H, W) float32
        Light, not code values: see ``LIGHT_FROM_CODE``.
    start_px, end_px : (2,)
        Corners in the order that runs clockwise in the picture.
    reach_px : float
        How far to either side to look; at most the width of the dark border.

    Returns
    -------
    Line, or None where no edge is seen.
    """
    length = float(np.linalg.norm(end_px - start_px))
    n = int(np.clip(length / 3.0, 8, 48))
    places, offsets, seen = profiles(light, start_px, end_px, reach_px=reach_px, n=n, trim_frac=0.12)
    return rising_line(places, offsets, seen, end_px - start_px)


def colour_side_line(
    light: NDArray[np.float32], start_px: Array, end_px: Array, *, reach_px: float
) -> tuple[Line, Array, Array] | None:
    """The edge between two colours: as ``dark_side_line``, in (H, W, 3) light of red, green and blue.

    Returns
    -------
    Line, inside (3,), outside (3,)
        The colours are medians over the side.
    """
    length = float(np.linalg.norm(end_px - start_px))
    n = int(np.clip(length / 3.0, 12, 64))
    # Each look is the mean of a few neighbours: grain is averaged away, a straight edge is not.
    places, offsets, seen = profiles(
        light, start_px, end_px, reach_px=reach_px, n=n * LOOK_ROWS, trim_frac=0.08
    )
    if seen.ndim != 3:
        return None
    places = places.reshape(n, LOOK_ROWS, 2).mean(axis=1)
    seen = seen.reshape(n, LOOK_ROWS, -1, 3).mean(axis=1)
    strip = max(1, len(offsets) // 4)
    near, far = seen[:, :strip], seen[:, -strip:]
    inside, outside = (np.median(part.reshape(-1, 3), axis=0) for part in (near, far))
    # Look by look, because what lies behind one side may be darker than it here and brighter there.
    step = far.mean(axis=1) - near.mean(axis=1)
    size = np.linalg.norm(step, axis=1)
    grain = np.sqrt((near.var(axis=1) + far.var(axis=1)).sum(axis=1) / strip)
    clear = size > CLEAR_STEP_ERRS * grain
    if np.median(size) < 1.0 or not clear.any():
        return None
    outward = step / np.maximum(size, 1e-6)[:, None]
    climb = np.einsum("nmc,nc->nm", seen - near.mean(axis=1)[:, None], outward)
    line = rising_line(places, offsets, np.where(clear[:, None], climb, 0.0), end_px - start_px)
    return None if line is None else (line, inside, outside)


def rising_line(places: Array, offsets: Array, seen: Array, side: Array) -> Line | None:
    """Straight line through the places where ``seen`` (n, m) climbs half-way from inside to outside."""
    n = len(places)
    strip = max(1, len(offsets) // 5)
    inside, outside = seen[:, :strip].mean(axis=1), seen[:, -strip:].mean(axis=1)
    contrast = outside - inside
    usual = float(np.median(contrast))
    shift = _crossings(seen, 0.5 * (inside + outside))
    good = np.isfinite(shift) & (contrast > 0.15 * usual) & (contrast > 0.5)
    if usual <= 0 or good.sum() < max(4, n // 4):
        return None
    along = side / np.linalg.norm(side)
    normal = np.array([along[1], -along[0]])
    found = places + (offsets[0] + shift * SAMPLE_STEP_PX)[:, None] * normal
    line = fit_line(found[good], along)
    if line is None:
        return None
    point, direction, scatter, kept = line
    return Line(
        point_px=point,
        along=direction,
        scatter_px=scatter,
        seen_frac=float(kept / n),
        contrast_frac=usual / 255.0,
    )


def _crossings(seen: Array, half: Array) -> Array:
    """(n,) fractional index where each row climbs through ``half``, nearest its steepest step, or NaN."""
    step = np.diff(seen, axis=1)
    above = seen > half[:, None]
    ups = ~above[:, :-1] & above[:, 1:]
    away = np.abs(np.arange(step.shape[1]) - np.argmax(step, axis=1)[:, None])
    at = np.argmin(np.where(ups, away, 10**6), axis=1)
    rows = np.arange(len(seen))
    rise = np.where(step[rows, at] > 0, step[rows, at], 1.0)
    return np.where(ups[rows, at], at + (half - seen[rows, at]) / rise, np.nan)


def fit_line(points_px: Array, along: Array) -> tuple[Array, Array, float, int] | None:
    """Robust line through points: (point, direction like ``along``, RMS of the kept, number kept).

    The line through two of the points that most others agree with, then least squares on those: a finger or
    a blade of grass over a part of the edge must not drag the rest along.
    """
    n = len(points_px)
    if n < 4:
        return None
    middle = points_px.mean(axis=0)
    x = (points_px - middle) @ along
    y = (points_px - middle) @ np.array([along[1], -along[0]])
    one, two = np.triu_indices(n, max(1, n // 4))
    one, two = one[:: max(1, len(one) // 200)], two[:: max(1, len(two) // 200)]
    run = x[two] - x[one]
    usable = np.abs(run) > 1e-6
    one, run, slope = one[usable], run[usable], (y[two] - y[one])[usable] / run[usable]
    if not len(one):
        return None
    off = np.abs(y[None] - y[one, None] - slope[:, None] * (x[None] - x[one, None]))
    votes = np.clip(1.0 - off / AGREE_PX, 0.0, None).sum(axis=1)
    keep = off[int(np.argmax(votes))] < AGREE_PX
    slope_1, level, scatter = 0.0, 0.0, 0.0
    for _ in range(6):
        if keep.sum() < 4:
            return None
        design = np.column_stack([x[keep], np.ones(int(keep.sum()))])
        slope_1, level = np.linalg.lstsq(design, y[keep], rcond=None)[0]
        away = y - slope_1 * x - level
        scatter = float(np.sqrt(np.mean(away[keep] ** 2)))
        new = np.abs(away) < max(3.0 * 1.4826 * float(np.median(np.abs(away[keep]))), 0.15)
        if np.array_equal(new, keep):
            break
        keep = new
    direction = along + slope_1 * np.array([along[1], -along[0]])
    point = middle + level * np.array([along[1], -along[0]])
    return point, direction / np.linalg.norm(direction), scatter, int(keep.sum())


def meet(first: Line, second: Line) -> Array:
    """(2,) pixel where two lines cross."""
    matrix = np.column_stack([first.along, -second.along])
    t = np.linalg.solve(matrix, second.point_px - first.point_px)
    return np.asarray(first.point_px + t[0] * first.along)
