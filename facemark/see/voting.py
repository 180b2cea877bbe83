"""Which round marks stand clear enough to be seen by their own rim?

Each rim pixel votes along its inward direction for the centres of all discs of plausible radius (radius-
bounded gradient voting, after Duda & Hart 1972 and Loy & Zelinsky 2003). The best disc is fitted to its rim,
its rim pixels are taken away, and the vote is repeated. A straight edge (shadow, face edge, groove) never
gathers votes in one place. In trials it does not over-count, but it merges neighbours nearer than 0.3 to
0.45 diameters.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.powder import Image, PowderMap

RADIUS_LOW_MM, RADIUS_HIGH_MM = 7.0, 14.5  # prints of slow to fast swings are 15-28 mm wide
SPEED_POWER = 0.4  # mark against speed: elastic contact of a sphere (Hertz), impact time left aside
RADIUS_STEP_MM = 0.75
RIM_SMOOTH_MM = 0.9  # raggedness of the rim that must not turn its direction
RIM_STEP_FRAC = 0.16  # removal must rise by this share of the photo's barest place across the rim
RIM_BAND_MM = 1.4  # how far a ragged rim strays from its circle
RIM_TURN_DEG = 40.0  # and how far its direction does
CENTRE_SMOOTH_MM = 1.3
LEAST_VISIBLE_DEG = 95.0  # less rim than this is left to the disc fit
N_ARC_BINS = 36
STRAIGHT_LEAST_BINS, STRAIGHT_SLOPE = 5, -0.7  # half way to a straight edge, with room for ragged rims
N_MOST = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A disc seen by its own rim. ``visible_deg``: rim that was seen; ``fill_frac``: mean removal."""

    toe_mm: float
    high_mm: float
    radius_mm: float
    visible_deg: float
    fill_frac: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rim:
    """Rim pixels: ``xy`` (N, 2) map px; ``inward`` (N, 2) unit; ``strength`` (N,) 0..1."""

    xy: Array
    inward: Array
    strength: Array


def vote_circles(
    powder: PowderMap,
    *,
    least_visible_deg: float = LEAST_VISIBLE_DEG,
    smallest_mm: float = RADIUS_LOW_MM,
    n_most: int = N_MOST,
) -> tuple[Circle, ...]:
    """Find the discs that show enough of their own rim, clearest first.

    Parameters
    ----------
    powder : PowderMap
    least_visible_deg : float
        How much of its rim a disc must show.
    smallest_mm : float
        Radius [mm]. Smaller discs are nothing; ``least_radius_mm`` tells it for gentle swings.
    n_most : int
        Stop after this many.

    Returns
    -------
    tuple of Circle
        In face mm. Empty when nothing round stands out.
    """
    rim = find_rim(powder)
    scale = powder.px_per_mm
    left = np.ones(len(rim.xy), bool)
    found: list[Circle] = []
    tried = 0
    while left.sum() > 12 and len(found) < n_most and tried < 2 * n_most:
        tried += 1
        centre, radius, votes = _best_vote(rim, left, powder.removed.shape, scale, smallest_mm)
        if votes * 360 < 0.6 * least_visible_deg:
            break
        centre, radius, mine = _fit_rim(rim, left, centre, radius, scale)
        visible = _visible_deg(rim, mine, centre)
        fill = _fill(powder, centre, radius)
        left &= ~mine
        if mine.sum() < 6:
            left &= ~_near(rim, centre, radius, 2 * RIM_BAND_MM * scale, 90.0)
        clash = any(
            np.hypot(*(powder.map_from_mm([[c.toe_mm, c.high_mm]])[0] - centre))
            < 0.3 * (c.radius_mm * scale + radius) / 2
            for c in found
        )
        inside_bounds = smallest_mm <= radius / scale <= RADIUS_HIGH_MM
        if visible >= least_visible_deg and fill > 0.3 and inside_bounds and not clash:
            toe, high = powder.mm_from_map(centre)[0]
            found.append(
                Circle(
                    toe_mm=float(toe),
                    high_mm=float(high),
                    radius_mm=float(radius / scale),
                    visible_deg=visible,
                    fill_frac=fill,
                )
            )
    return tuple(found)


def least_radius_mm(effort_frac: float | None) -> float:
    """Radius [mm] of the smallest print to look for at this effort (as felt, 0..1); None: not told.

    An elastic contact grows with speed to the power 0.4 (Hertz); effort is a feeling, not a speed, so only
    the lower bound moves.
    """
    return RADIUS_LOW_MM if effort_frac is None else RADIUS_LOW_MM * effort_frac**SPEED_POWER


def find_rim(powder: PowderMap) -> Rim:
    """Pixels where removal rises most steeply, thinned to a line."""
    scale = powder.px_per_mm
    # Outside the face nothing is known; carrying the edge's own value on makes no rim there.
    image = _carry_outward(powder.removed, powder.weight > 0)
    smooth = cv2.GaussianBlur(image, (0, 0), RIM_SMOOTH_MM * scale)
    gx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3) / 8
    gy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3) / 8
    size = np.hypot(gx, gy) + 1e-9
    ux, uy = gx / size, gy / size
    h, w = image.shape
    col, row = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    ahead = cv2.remap(size, col + ux, row + uy, cv2.INTER_LINEAR)
    behind = cv2.remap(size, col - ux, row - uy, cv2.INTER_LINEAR)
    # A step of height s blurred by sigma has slope s / (sqrt(2 pi) sigma).
    step = size * np.sqrt(2 * np.pi) * RIM_SMOOTH_MM * scale
    ok = (size >= ahead) & (size > behind) & (step > RIM_STEP_FRAC) & (powder.weight > 0.5)
    y, x = np.nonzero(ok)
    return Rim(
        xy=np.column_stack([x, y]).astype(float),
        inward=np.column_stack([ux[ok], uy[ok]]).astype(float),
        strength=np.clip(step[ok] / 0.5, 0, 1).astype(float),
    )


def _carry_outward(image: Image, known: NDArray[np.bool_]) -> Image:
    """Fill unknown pixels from the nearest known one."""
    if known.all() or not known.any():
        return image
    _, label = cv2.distanceTransformWithLabels(
        (~known).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    value = np.zeros(int(label.max()) + 1, np.float32)
    value[label[known]] = image[known]
    return np.where(known, image, value[label]).astype(np.float32)


def _best_vote(
    rim: Rim, left: NDArray[np.bool_], shape: tuple[int, ...], scale: float, smallest_mm: float
) -> tuple[Array, float, float]:
    """Centre [map px], radius [map px] and seen share of the rim of the disc with most votes."""
    h, w = shape[:2]
    # A coarse 1 mm grid of centres is enough: the rim fit sharpens it.
    cell = scale
    gh, gw = int(h / cell) + 2, int(w / cell) + 2
    radii = np.arange(smallest_mm, RADIUS_HIGH_MM + 0.01, RADIUS_STEP_MM) * scale
    xy, inward, strength = rim.xy[left], rim.inward[left], rim.strength[left]
    best = (np.zeros(2), float(radii[0]), 0.0)
    for radius in radii:
        spot = (xy + inward * radius) / cell
        col, row = np.floor(spot[:, 0] + 0.5).astype(int), np.floor(spot[:, 1] + 0.5).astype(int)
        ok = (col >= 0) & (col < gw) & (row >= 0) & (row < gh)
        votes = np.bincount(row[ok] * gw + col[ok], weights=strength[ok], minlength=gh * gw).reshape(gh, gw)
        blurred = cv2.GaussianBlur(votes.astype(np.float32), (0, 0), CENTRE_SMOOTH_MM * scale / cell)
        # Votes within the blur, as a share of the circle's rim pixels.
        share = blurred * (4 * np.pi * (CENTRE_SMOOTH_MM * scale / cell) ** 2) / (2 * np.pi * radius)
        at = int(np.argmax(share))
        if share.flat[at] > best[2]:
            best = (np.array([at % gw, at // gw]) * cell, float(radius), float(share.flat[at]))
    return best


def _near(rim: Rim, centre: Array, radius: float, band_px: float, turn_deg: float) -> NDArray[np.bool_]:
    """Rim pixels close to a circle that also point at its centre."""
    to = centre - rim.xy
    dist = np.hypot(to[:, 0], to[:, 1]) + 1e-9
    aim = (to * rim.inward).sum(axis=1) / dist
    return np.asarray((np.abs(dist - radius) < band_px) & (aim > np.cos(np.radians(turn_deg))))


def _fit_rim(
    rim: Rim, left: NDArray[np.bool_], centre: Array, radius: float, scale: float
) -> tuple[Array, float, NDArray[np.bool_]]:
    """Circle through the rim pixels near it: Gauss-Newton with Tukey weights, the band narrowing."""
    mine = np.zeros(len(rim.xy), bool)
    for band in (2.6, 2.0, 1.7, RIM_BAND_MM, RIM_BAND_MM, RIM_BAND_MM):
        mine = _near(rim, centre, radius, band * scale, RIM_TURN_DEG) & left
        if mine.sum() < 6:
            break
        to = rim.xy[mine] - centre
        dist = np.hypot(to[:, 0], to[:, 1])
        rest = dist - radius
        weight = rim.strength[mine] * (1 - (rest / (band * scale)) ** 2) ** 2
        J = np.column_stack([-to / dist[:, None], -np.ones(len(dist))])
        # Without a far side the radius is held near what was voted.
        A = (J * weight[:, None]).T @ J + np.diag([1e-6, 1e-6, 0.5])
        step = np.linalg.solve(A, -(J * weight[:, None]).T @ rest)
        step = np.clip(step, -2 * scale, 2 * scale)
        centre, radius = centre + step[:2], float(np.clip(radius + step[2], 5.5 * scale, 15.5 * scale))
    return centre, radius, mine


def _visible_deg(rim: Rim, mine: NDArray[np.bool_], centre: Array) -> float:
    """How many degrees of the circle carry rim pixels that turn with the circle.

    Along a straight edge the direction stays while the circle's turns on: there the angle between both falls
    by as much as the place on the circle moves (slope -1, on a circle 0). Such runs do not count.
    """
    to = centre - rim.xy[mine]
    place = np.arctan2(to[:, 1], to[:, 0])
    inward = np.arctan2(rim.inward[mine, 1], rim.inward[mine, 0])
    turn = (inward - place + np.pi) % (2 * np.pi) - np.pi
    at = np.floor((place / (2 * np.pi) + 0.5) * N_ARC_BINS).astype(int) % N_ARC_BINS
    n = np.bincount(at, minlength=N_ARC_BINS)
    mean = np.bincount(at, weights=turn, minlength=N_ARC_BINS) / np.maximum(n, 1)
    step = 2 * np.pi / N_ARC_BINS
    seen = 0
    for run in _runs(n > 0):
        if len(run) >= STRAIGHT_LEAST_BINS:
            x = np.arange(len(run)) * step
            slope = np.polyfit(x, mean[run], 1)[0]
            if slope < STRAIGHT_SLOPE:
                continue
        seen += len(run)
    return seen * 360.0 / N_ARC_BINS


def _runs(seen: NDArray[np.bool_]) -> list[NDArray[np.int_]]:
    """Runs of neighbouring true bins around the circle."""
    if seen.all():
        return [np.arange(len(seen))]
    start = int(np.argmin(seen))
    order = (np.arange(len(seen)) + start) % len(seen)
    cuts = np.flatnonzero(np.diff(seen[order].astype(int)) != 0) + 1
    return [run for run in np.split(order, cuts) if seen[run[0]]]


def _fill(powder: PowderMap, centre: Array, radius: float) -> float:
    """Mean removal inside the circle where the face can be judged."""
    h, w = powder.removed.shape
    x0, x1 = max(0, int(centre[0] - radius)), min(w, int(centre[0] + radius) + 2)
    y0, y1 = max(0, int(centre[1] - radius)), min(h, int(centre[1] + radius) + 2)
    if x1 <= x0 or y1 <= y0:
        return 0.0
    col, row = np.meshgrid(np.arange(x0, x1), np.arange(y0, y1))
    disc = np.hypot(col - centre[0], row - centre[1]) < 0.9 * radius
    weight = powder.weight[y0:y1, x0:x1] * disc
    total = float(weight.sum())
    if total < 0.35 * np.pi * (0.9 * radius) ** 2:
        return 0.0
    return float((weight * powder.removed[y0:y1, x0:x1]).sum() / total)
