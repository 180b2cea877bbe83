"""How much powder is gone, and where?

The light on the face is a smooth surface in log brightness, fitted to the powder that is still there by
iterated one-sided clipping (metrology notes; the idea is the astronomers' sky background, Bertin & Arnouts
1996). Removal is 1 - grey / that light. Bright crumbs inside a mark (dimples and score lines that keep
powder) are closed, dark specks outside (grooves, holes in the coat) opened. Where the face shines, nothing
is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.rectify import FaceMap

Image = NDArray[np.float32]

POWDER_PX_PER_MM = 2.0  # rims are 0.5 mm wide at best, and a fit's time goes with the square
DIMPLE_MM = 3.0  # a dimple is 3.5-4 mm wide and its print that keeps powder less; assumed
SPECK_MM = 1.75  # grooves are up to 0.9 mm wide (Rules of Golf, 1984 limit), holes in the coat similar
EDGE_BAND_MM = 1.2  # powder thins out and the outline errs along the face's edge; assumed
GLARE_FRAC = 0.22  # brighter than the powder's own light by this much: a reflection
N_LIGHT_STEPS = 10
LEAST_WIDTH_MM = (
    5.0  # a bare place into which no disc this wide fits is no print, not even one cut by the edge
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PowderMap:
    """Removal on the face's grid reduced to ``px_per_mm``.

    ``removed`` (h, w): 0 fresh powder, 1 the barest place in the photo. ``weight`` (h, w): 0 where the face
    cannot be judged (outside, edge band, glare), else 1. ``marked`` (h, w): powder is clearly gone.
    Pixel (0, 0)'s centre lies at (``left_toe_mm``, ``top_high_mm``).
    """

    removed: Image
    raw: Image  # the same before closing and opening
    weight: Image
    marked: NDArray[np.bool_]
    inside: NDArray[np.bool_]
    left_toe_mm: float
    top_high_mm: float
    px_per_mm: float
    contrast_frac: float  # darkening of the barest place against fresh powder
    noise_frac: float  # unevenness of the unmarked coat, in units of ``removed``
    light_frac: float  # brightness of fresh powder against white
    glare_frac: float  # share of the face that shines

    def mm_from_map(self, xy: Array) -> Array:
        """(N, 2) face mm of (N, 2) map pixels (column, row)."""
        xy = np.asarray(xy, float).reshape(-1, 2)
        return np.column_stack(
            [self.left_toe_mm + xy[:, 0] / self.px_per_mm, self.top_high_mm - xy[:, 1] / self.px_per_mm]
        )

    def map_from_mm(self, face_mm: Array) -> Array:
        """(N, 2) map pixels (column, row) of (N, 2) face mm."""
        face_mm = np.asarray(face_mm, float).reshape(-1, 2)
        return np.column_stack(
            [
                (face_mm[:, 0] - self.left_toe_mm) * self.px_per_mm,
                (self.top_high_mm - face_mm[:, 1]) * self.px_per_mm,
            ]
        )

    @property
    def marked_mm2(self) -> float:
        """Area where powder is clearly gone."""
        return float(np.count_nonzero(self.marked)) / self.px_per_mm**2


def map_powder(face_map: FaceMap) -> PowderMap:
    """Measure how much powder is gone.

    Parameters
    ----------
    face_map : FaceMap

    Returns
    -------
    PowderMap
        Says nothing about marks: an unsprayed or fresh face gives a map too (``contrast_frac`` is then small
        or ``marked`` nearly empty).
    """
    grey, inside, step = _reduce(face_map)
    colour_white = grey >= 252
    light = _light(grey, inside)
    raw = (1 - grey / light).astype(np.float32)
    glare = inside & ((raw < -GLARE_FRAC) | (colour_white & (light < 225)))
    glare = cv2.dilate(glare.astype(np.uint8), _disc(1.0)).astype(bool) & inside
    raw[~inside] = 0
    closed = _close_and_open(raw, inside, glare)
    depth = cv2.distanceTransform(np.pad(inside, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    weight = np.clip(depth / POWDER_PX_PER_MM - EDGE_BAND_MM, 0, 1).astype(np.float32)
    weight[glare] = 0
    usable = weight > 0.5
    bare = float(np.percentile(closed[usable], 97)) if usable.any() else 0.0
    threshold = _otsu(closed[usable])
    marked = _wide_enough(usable & (closed > threshold), inside)
    closed[usable & (closed > threshold) & ~marked] = 0
    # The barest place: the middle of what is clearly gone, not its single darkest pixel.
    bare = float(np.percentile(closed[marked], 90)) if marked.any() else bare
    fresh = usable & (closed < min(threshold, 0.4 * bare))
    noise = (
        float(1.4826 * np.median(np.abs(closed[fresh] - np.median(closed[fresh])))) if fresh.any() else 1.0
    )
    scale = max(bare, 0.02)
    return PowderMap(
        removed=np.clip(closed / scale, -0.3, 1.15).astype(np.float32),
        raw=np.clip(raw / scale, -0.5, 1.5).astype(np.float32),
        weight=weight,
        marked=marked,
        inside=inside,
        left_toe_mm=face_map.left_toe_mm + (step - 1) / 2 / face_map.px_per_mm,
        top_high_mm=face_map.top_high_mm - (step - 1) / 2 / face_map.px_per_mm,
        px_per_mm=face_map.px_per_mm / step,
        contrast_frac=bare,
        noise_frac=noise / scale,
        light_frac=float(np.median(light[inside])) / 255 if inside.any() else 0.0,
        glare_frac=float(np.count_nonzero(glare)) / max(int(np.count_nonzero(inside)), 1),
    )


def _reduce(face_map: FaceMap) -> tuple[Image, NDArray[np.bool_], int]:
    """Grey and outline at the powder map's scale, averaged over whole blocks of ``step`` pixels."""
    step = max(1, round(face_map.px_per_mm / POWDER_PX_PER_MM))
    h, w = (face_map.inside.shape[0] // step) * step, (face_map.inside.shape[1] // step) * step
    size = (w // step, h // step)
    grey = cv2.cvtColor(np.ascontiguousarray(face_map.pixels[:h, :w]), cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    part = cv2.resize(face_map.inside[:h, :w].astype(np.float32), size, interpolation=cv2.INTER_AREA)
    return np.maximum(small, 1.0), part > 0.5, step


def _light(grey: Image, inside: NDArray[np.bool_]) -> Image:
    """Brightness that fresh powder would have everywhere: a quadratic in log brightness.

    Starts from the bright half of each 4 mm cell, then drops what is darker than the surface by more than
    2.5 robust deviations (marks, holes) and keeps the bright side up to 4 (glare is dropped too).
    """
    h, w = grey.shape
    cell = int(4 * POWDER_PX_PER_MM)
    log = np.log(grey)
    log_in = np.where(inside, log, np.nan)[: h // cell * cell, : w // cell * cell]
    cells = (
        log_in.reshape(h // cell, cell, w // cell, cell)
        .transpose(0, 2, 1, 3)
        .reshape(h // cell, w // cell, -1)
    )
    known = np.isfinite(cells).mean(axis=2) > 0.6
    if np.count_nonzero(known) < 12:
        return np.full_like(grey, float(np.percentile(grey[inside], 85)) if inside.any() else 1.0)
    ranked = np.sort(cells[known], axis=1)  # not-a-numbers last
    at = (0.6 * (np.isfinite(ranked).sum(axis=1) - 1)).astype(int)
    value = ranked[np.arange(len(ranked)), at]
    row, col = np.nonzero(known)
    basis = _quadratic((col + 0.5) * cell / w, (row + 0.5) * cell / h)
    keep = value > np.percentile(value, 50) - 0.05
    weight = np.ones(len(value))
    for _ in range(N_LIGHT_STEPS):
        # A little ridge keeps the curved terms small where marks leave few cells.
        a, b = basis[keep] * weight[keep, None], value[keep] * weight[keep]
        ridge = np.diag([0, 1e-3, 1e-3, 3e-2, 3e-2, 3e-2]) * keep.sum()
        coef = np.linalg.solve(a.T @ a + ridge, a.T @ b)
        rest = value - basis @ coef
        spread = max(1.4826 * float(np.median(np.abs(rest[keep] - np.median(rest[keep])))), 0.01)
        middle = float(np.median(rest[keep]))
        new = (rest > middle - 2.5 * spread) & (rest < middle + 4 * spread)
        if new.sum() < 10 or np.array_equal(new, keep):
            break
        keep = new
    full = _quadratic(*np.meshgrid((np.arange(w) + 0.5) / w, (np.arange(h) + 0.5) / h)) @ coef
    return np.exp(np.clip(full, 0, 6)).astype(np.float32)


def _quadratic(x: Array, y: Array) -> Array:
    x, y = 2 * np.asarray(x, float) - 1, 2 * np.asarray(y, float) - 1
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _close_and_open(raw: Image, inside: NDArray[np.bool_], glare: NDArray[np.bool_]) -> Image:
    """Fill what keeps powder inside a mark, drop what is too small to be one."""
    flat = np.where(inside, raw, 0).astype(np.float32)
    if glare.any():  # a shine inside a mark takes the removal around it
        flat = np.where(
            glare, cv2.dilate(np.where(glare, -1, flat).astype(np.float32), _disc(2.5)) * 0.5, flat
        )
    flat = cv2.GaussianBlur(flat, (0, 0), 0.6)
    closed = cv2.morphologyEx(flat, cv2.MORPH_CLOSE, _disc(DIMPLE_MM))
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, _disc(SPECK_MM))
    opened[~inside] = 0
    return np.asarray(opened, np.float32)


def _wide_enough(marked: NDArray[np.bool_], inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Bare places that a print could make; chips, grooves and the heel's rim fall out."""
    grown = marked | (cv2.dilate(marked.astype(np.uint8), _disc(2 * EDGE_BAND_MM)).astype(bool) & ~inside)
    depth = cv2.distanceTransform(np.pad(grown, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    _, label = cv2.connectedComponents(marked.astype(np.uint8))
    widest = np.zeros(int(label.max()) + 1)
    np.maximum.at(widest, label, depth)
    keep = widest >= LEAST_WIDTH_MM / 2 * POWDER_PX_PER_MM
    keep[0] = False
    return np.asarray(keep[label])


def _disc(diameter_mm: float) -> NDArray[np.uint8]:
    n = max(3, round(diameter_mm * POWDER_PX_PER_MM) | 1)
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (n, n)), np.uint8)


def _otsu(values: Image) -> float:
    """Otsu's threshold (IEEE Trans. SMC 9, 1979, 62) of removal values, at least 0.06."""
    if len(values) == 0:
        return 1.0
    clipped = np.clip(values, 0, 1)
    byte = np.round(clipped * 255).astype(np.uint8)
    level, _ = cv2.threshold(byte.reshape(-1, 1), 0, 255, cv2.THRESH_OTSU)
    return max(level / 255.0, 0.06)
