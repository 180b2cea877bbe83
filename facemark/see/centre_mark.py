"""Is there a printed mark near the middle of the face?

Some faces carry a small design at their centre: a dot, ring, cross, bar or arrow tip, at most 9.53 mm square
([equipment-rules], Part 2, 5d). It shows through thin powder, or bare inside a print. Such a design is told
from powder by what powder is not: one even tone, an edge that is sharp all around, and a shape of ruler and
compass. Regions of one tone are cut out at many levels of brightness and colour (the idea of maximally
stable regions, [mser]) and laid against the five shapes. Dimple dots come in numbers, score lines lie level,
islands of powder between prints are ragged and hollow-sided; whenever anything else on the face looks like
the mark, nothing is said. All limits are assumed; tuned on drawn faces with and without a design.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.rectify import FaceMap

DESIGN_MM = 9.53  # side of the square a centre design must fit in, [equipment-rules] Part 2, 5d
SMALLEST_MM = 1.6  # smaller dots cannot be told from holes in the coat
SMALLEST_CORNERED_MM = 2.8  # below, every bar, cross and arrow tip is a blot
NEAR_MM = 10.0  # from the outline's centre
LOOK_MM = 26.0  # the window that is searched for look-alikes

GRID_PX_PER_MM = 6.0
GRAIN_MM = 0.15  # blur against the powder's grain
N_LEVELS = 36  # per channel
LEAST_CONTRAST_FRAC = 0.06  # of full scale, between design and surroundings
ENOUGH_CONTRAST_FRAC = 0.24
LEAST_FIT_FRAC = 0.88  # overlap (IoU) of the region with the ideal shape
CROSS_FIT_FRAC = 0.82  # blur fills a cross's corners, and nothing else is shaped like one
ALIKE_FIT_FRAC = 0.76  # a region this well shaped, of similar size and contrast, is a look-alike
ALIKE_CONTRAST_FRAC = 0.45
DIMPLE_MM = 3.2  # a dimple's print is smaller; what could be one is held to stricter rules:
DIMPLE_FIT_FRAC = 0.62
DIMPLE_CONTRAST_FRAC = 0.25
LEAST_SHARP_FRAC = 0.85  # share of the rim with at least half the contrast across it
RIM_MM = 0.45  # the tone changes within this distance either side of the rim
MOST_UNEVEN_FRAC = 0.14  # spread of the tone inside, of the contrast
N_STEADY = 3  # neighbouring levels that must show the same shape
LEVEL_DEG = 25.0  # a bar nearer to level than this may be a piece of a score line
FLOOR_ERR_MM = 0.15  # of a design's centre, found on a 0.25 mm grid
ARROW_ERR_FRAC = 0.2  # nobody says whether an arrow means its tip or its middle; of its size


@dataclass(frozen=True, slots=True, kw_only=True)
class CentreMark:
    """A printed mark: its centre from the outline's centre, its longer side. Errors: one standard error."""

    toe_mm: float
    high_mm: float
    toe_err_mm: float
    high_err_mm: float
    size_mm: float


def find_centre_mark(face_map: FaceMap) -> CentreMark | None:
    """Find the printed mark near the face's centre.

    Parameters
    ----------
    face_map : FaceMap

    Returns
    -------
    CentreMark or None
        None where there is none, more than one thing could be it, or it cannot be told from powder.
    """
    window = _window(face_map)
    regions = [region for channel in window.channels for region in _regions(channel, window)]
    good = [r for r in regions if r.is_design and math.hypot(r.toe_mm, r.high_mm) <= NEAR_MM]
    if not good:
        return None
    # Of the levels and channels that show it, the clearest; the scatter of the others is its error.
    best = max(good, key=_clearness)
    same = [r for r in good if r.overlaps(best)]
    # The hole of a ring is as good a dot as any.
    best = max((r for r in same if r.shape == "ring"), key=_clearness, default=best)
    if len(same) < N_STEADY or any(not r.overlaps(best) and r.rivals(best) for r in regions):
        return None
    spread = np.std([[r.toe_mm, r.high_mm] for r in same], axis=0)
    floor_mm = max(FLOOR_ERR_MM, ARROW_ERR_FRAC * best.size_mm if best.shape == "arrow" else 0.0)
    return CentreMark(
        toe_mm=best.toe_mm,
        high_mm=best.high_mm,
        toe_err_mm=math.hypot(floor_mm, float(spread[0])),
        high_err_mm=math.hypot(floor_mm, float(spread[1])),
        size_mm=best.size_mm,
    )


def _clearness(region: _Region) -> float:
    """Shape counts as much as contrast, and contrast beyond enough no more."""
    return region.fit_frac * min(region.contrast_frac, ENOUGH_CONTRAST_FRAC)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Window:
    """The face's middle, enlarged; pixel (0, 0)'s centre at (``left_toe_mm``, ``top_high_mm``)."""

    channels: tuple[NDArray[np.float32], ...]
    inside: NDArray[np.bool_]
    left_toe_mm: float
    top_high_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Region:
    """A patch of one tone. ``contrast_frac``: step of the tone across its rim, of full scale."""

    toe_mm: float
    high_mm: float
    size_mm: float
    area_mm2: float
    shape: str
    fit_frac: float
    contrast_frac: float
    brighter: bool
    sharp_frac: float
    uneven_frac: float

    @property
    def is_design(self) -> bool:
        least_mm = SMALLEST_MM if self.shape in ("dot", "ring") else SMALLEST_CORNERED_MM
        return (
            least_mm <= self.size_mm <= DESIGN_MM
            and self.fit_frac >= (CROSS_FIT_FRAC if self.shape == "cross" else LEAST_FIT_FRAC)
            and self.contrast_frac >= LEAST_CONTRAST_FRAC
            and self.sharp_frac >= LEAST_SHARP_FRAC
            and self.uneven_frac <= MOST_UNEVEN_FRAC
        )

    def overlaps(self, other: _Region) -> bool:
        """The same thing seen at another level, or a part of it."""
        reach_mm = 0.5 * max(self.size_mm, other.size_mm)
        return math.hypot(self.toe_mm - other.toe_mm, self.high_mm - other.high_mm) < reach_mm

    def rivals(self, other: _Region) -> bool:
        """Might as well be the mark: like it in size, tone and shape."""
        dimple = other.size_mm < DIMPLE_MM
        factor = 3.0 if dimple else 2.0
        return (
            self.brighter == other.brighter
            and 1.0 / factor < self.area_mm2 / other.area_mm2 < factor
            and self.contrast_frac
            > (DIMPLE_CONTRAST_FRAC if dimple else ALIKE_CONTRAST_FRAC) * other.contrast_frac
            and self.fit_frac > (DIMPLE_FIT_FRAC if dimple else ALIKE_FIT_FRAC)
        )


def _window(face_map: FaceMap) -> _Window:
    """Grey and the two colour differences of the face's middle, at ``GRID_PX_PER_MM``."""
    half = LOOK_MM / 2
    n = round(LOOK_MM * GRID_PX_PER_MM) + 1
    toe = np.tile(-half + np.arange(n) / GRID_PX_PER_MM, (n, 1))
    high = np.ascontiguousarray(-toe.T)
    at = (
        face_map.map_from_mm(np.column_stack([toe.ravel(), high.ravel()])).astype(np.float32).reshape(n, n, 2)
    )
    rgb = cv2.remap(face_map.pixels, at, None, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    mask = face_map.inside.astype(np.uint8)
    inside = cv2.remap(mask, at, None, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    smooth = cv2.GaussianBlur(np.asarray(rgb, np.float32), (0, 0), GRAIN_MM * GRID_PX_PER_MM)
    red, green, blue = smooth[..., 0], smooth[..., 1], smooth[..., 2]
    return _Window(
        channels=(
            np.asarray(0.3 * red + 0.59 * green + 0.11 * blue, np.float32),
            np.asarray(red - green, np.float32),
            np.asarray(blue - green, np.float32),
        ),
        inside=inside.astype(bool),
        left_toe_mm=-half,
        top_high_mm=half,
    )


def _regions(channel: NDArray[np.float32], window: _Window) -> Iterator[_Region]:
    """Connected patches brighter, or darker, than each of ``N_LEVELS`` levels, if of a design's size."""
    if not window.inside.any():
        return
    low, high = np.percentile(channel[window.inside], [0.5, 99.5])
    if high - low < 255 * LEAST_CONTRAST_FRAC:
        return
    least_px, most_px = (np.array([0.8 * SMALLEST_MM, DESIGN_MM]) * GRID_PX_PER_MM).tolist()
    for level in np.linspace(low, high, N_LEVELS + 2)[1:-1]:
        for brighter in (True, False):
            over = (channel > level) if brighter else (channel < level)
            n, label, stats, _ = cv2.connectedComponentsWithStats(
                (over & window.inside).astype(np.uint8), None
            )
            for k in range(1, n):
                left, top, wide, tall, area = stats[k].tolist()
                cut = left == 0 or top == 0 or left + wide == label.shape[1] or top + tall == label.shape[0]
                if cut or not least_px <= max(wide, tall) <= most_px or area < 0.1 * least_px**2:
                    continue
                region = _describe(label, k, (left, top, wide, tall), channel, window, brighter=brighter)
                if region is not None:
                    yield region


def _describe(
    label: NDArray[np.int32],
    k: int,
    box: tuple[int, int, int, int],
    channel: NDArray[np.float32],
    window: _Window,
    *,
    brighter: bool,
) -> _Region | None:
    """Shape, tone and rim of one patch; None where it is cut off by the outline."""
    left, top, wide, tall = box
    pad = round(3 * RIM_MM * GRID_PX_PER_MM)
    y0, x0 = max(0, top - pad), max(0, left - pad)
    rows, cols = slice(y0, top + tall + pad), slice(x0, left + wide + pad)
    patch = (label[rows, cols] == k).astype(np.uint8)
    tone = channel[rows, cols]
    if not window.inside[rows, cols].all():
        return None
    contrast_frac, sharp_frac, uneven_frac = _rim(patch, tone)
    if contrast_frac < DIMPLE_CONTRAST_FRAC * LEAST_CONTRAST_FRAC:  # neither a design nor like one
        return None
    shape, fit_frac = _best_shape(patch)
    ys, xs = np.nonzero(patch)
    x, y = float(xs.mean()) + x0, float(ys.mean()) + y0
    return _Region(
        toe_mm=window.left_toe_mm + x / GRID_PX_PER_MM,
        high_mm=window.top_high_mm - y / GRID_PX_PER_MM,
        size_mm=max(wide, tall) / GRID_PX_PER_MM,
        area_mm2=float(patch.sum()) / GRID_PX_PER_MM**2,
        shape=shape,
        fit_frac=fit_frac,
        contrast_frac=contrast_frac,
        brighter=brighter,
        sharp_frac=sharp_frac,
        uneven_frac=uneven_frac,
    )


def _rim(patch: NDArray[np.uint8], tone: NDArray[np.float32]) -> tuple[float, float, float]:
    """Contrast of a patch against its surroundings, share of its rim that is sharp, unevenness inside."""
    reach = RIM_MM * GRID_PX_PER_MM
    into = cv2.distanceTransform(patch, cv2.DIST_L2, 5)
    away = cv2.distanceTransform(1 - patch, cv2.DIST_L2, 5)
    # Thin strokes have no inside that deep: their middle stands for it.
    deep = into >= min(reach, 0.7 * float(into.max()))
    around = (away > reach) & (away < 2.2 * reach)
    inner = float(np.median(tone[deep]))
    outer = float(np.median(tone[around]))
    contrast = abs(inner - outer)
    if contrast < 1e-3:
        return 0.0, 0.0, 1.0
    side = np.sign(inner - outer)
    # At every place around, the tone a little outside must have fallen to at least half.
    fallen = side * (inner - tone[around]) > 0.5 * contrast
    return contrast / 255.0, float(fallen.mean()), float(tone[deep].std()) / contrast


def _best_shape(patch: NDArray[np.uint8]) -> tuple[str, float]:
    """The shape of ruler and compass that fits a patch best, and the overlap (IoU)."""
    contours, _ = cv2.findContours(patch, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    outer = max(contours, key=cv2.contourArea)
    whole = np.zeros_like(patch)
    cv2.drawContours(whole, [outer], -1, 1, cv2.FILLED)
    ys, xs = np.nonzero(whole)
    centre = np.array([xs.mean(), ys.mean()])
    # Larger than the grain or a wave of the rim, or it would be no hole but a fault.
    hole_px = float(whole.sum()) - float(patch.sum())
    found = {"dot": _overlap(patch, _disc(patch, centre, float(whole.sum())))}
    if hole_px > 0.06 * whole.sum():
        ring = _disc(patch, centre, float(whole.sum())) & ~_disc(patch, centre, hole_px)
        found["ring"] = _overlap(patch, ring)
    found |= {"bar": _bar(patch, outer), "arrow": _arrow(patch, outer), "cross": _cross(patch, centre)}
    shape = max(found, key=lambda name: found[name])
    return shape, found[shape]


def _disc(like: NDArray[np.uint8], centre: Array, area_px2: float) -> NDArray[np.bool_]:
    y, x = np.mgrid[: like.shape[0], : like.shape[1]]
    return np.asarray((x - centre[0]) ** 2 + (y - centre[1]) ** 2 <= area_px2 / math.pi)


def _bar(patch: NDArray[np.uint8], outer: NDArray[np.int32]) -> float:
    """Overlap with the smallest rectangle around; 0 for bars that lie level, as score lines do."""
    box = cv2.minAreaRect(outer)
    (wide, tall), angle = box[1], box[2]
    if wide < tall:
        wide, tall, angle = tall, wide, angle + 90.0
    level_deg = abs((angle + 90.0) % 180.0 - 90.0)
    if level_deg < LEVEL_DEG and wide > 1.6 * tall:
        return 0.0
    ideal = np.zeros_like(patch)
    cv2.fillPoly(ideal, [np.round(cv2.boxPoints(box)).astype(np.int32)], 1)
    return _overlap(patch, ideal > 0)


def _arrow(patch: NDArray[np.uint8], outer: NDArray[np.int32]) -> float:
    """Overlap with the smallest triangle around; hollow-sided islands of powder fill little of theirs."""
    area, corners = cv2.minEnclosingTriangle(outer.astype(np.float32))
    if area <= 0 or corners is None:
        return 0.0
    ideal = np.zeros_like(patch)
    cv2.fillPoly(ideal, [np.round(corners.reshape(-1, 2)).astype(np.int32)], 1)
    return _overlap(patch, ideal > 0)


def _cross(patch: NDArray[np.uint8], centre: Array) -> float:
    """Overlap with two equal bars at a right angle, upright or lying (the two ways crosses are printed)."""
    y, x = np.mgrid[: patch.shape[0], : patch.shape[1]].astype(float)
    best, area = 0.0, float(patch.sum())
    for turn_deg in (0.0, 45.0):
        c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
        u, v = c * (x - centre[0]) + s * (y - centre[1]), -s * (x - centre[0]) + c * (y - centre[1])
        on = patch > 0
        half = float(max(np.abs(u[on]).max(), np.abs(v[on]).max())) + 0.5
        # Two bars of length 2 half and width w cover 4 half w - w^2.
        rest = 4.0 * half**2 - area
        if rest <= 0:
            continue
        width = 2.0 * half - math.sqrt(rest)
        arms = (np.minimum(np.abs(u), np.abs(v)) <= width / 2) & (np.maximum(np.abs(u), np.abs(v)) <= half)
        best = max(best, _overlap(patch, arms))
    return best


def _overlap(patch: NDArray[np.uint8], ideal: NDArray[np.bool_]) -> float:
    either = int(np.count_nonzero(ideal | (patch > 0)))
    return int(np.count_nonzero(ideal & (patch > 0))) / max(either, 1)
