"""Which powder went since the photo before? The earlier photo laid over the later one, and their difference.

What powder is gone that was still there gives the new marks; bare places cannot speak and weigh nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.align import lost_brightness, warp_image
from facemark.see.camera import Array
from facemark.see.powder import Image, PowderMap

LEAST_POWDER_FRAC = 0.25  # powder that must be left for a place to show a new mark
# Share of the old bare area that is white again: enough alone, and with grain that no longer can be aligned.
# Without a new coat it is nearly always 0 (drawn series); new marks cover up to half of it at once.
RESPRAYED_FRAC, RESPRAYED_GRAIN_FRAC, OTHER_GRAIN_MM = 0.45, 0.2, 0.35
LEAST_AREA_MM2 = 25.0  # less new bare area than this is no mark


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Before:
    """The photo before, on the latest photo's grid."""

    gone: Image
    weight: Image
    marked: NDArray[np.bool_]


def laid_over(before: PowderMap, after: PowderMap, warp: Array) -> Before:
    """The photo before on the grid of ``after``; ``warp`` (2, 3): map pixels before -> after."""
    shape = after.removed.shape
    marked = warp_image(before.marked.astype(np.float32), warp, shape=shape) > 0.5
    gone = warp_image(lost_brightness(before), warp, shape=shape)
    # Bare metal mirrors its surroundings, so its darkness changes with the light. Old marks give the factor.
    common = marked & (after.removed > 0.3) & (gone > 0.05)
    if np.count_nonzero(common) > 100:
        factor = float(np.median(lost_brightness(after)[common] / gone[common]))
        gone = gone * np.clip(factor, 0.5, 2.0)
    weight = warp_image(before.weight, warp, shape=shape)
    return Before(gone=gone.astype(np.float32), weight=weight, marked=marked)


def is_resprayed(old: Before, after: PowderMap, err_mm: float) -> bool:
    """Is much of what was bare white again?"""
    core = cv2.erode(old.marked.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool) & (
        after.weight > 0.5
    )
    if np.count_nonzero(core) < 50:
        return False
    white = float((lost_brightness(after)[core] < 0.35 * np.maximum(old.gone[core], 0.05)).mean())
    return white > RESPRAYED_FRAC or (white > RESPRAYED_GRAIN_FRAC and err_mm > OTHER_GRAIN_MM)


def new_removal(old: Before, after: PowderMap, err_mm: float) -> PowderMap:
    """Removal since the photo before: 1 - powder now / powder then, weighted by the powder that was left."""
    bare = after.contrast_frac
    if old.marked.any():
        bare = max(bare, float(np.percentile(old.gone[old.marked], 90)))
    then = np.clip(1 - old.gone / bare, 0.02, 1.0)
    now = np.clip(1 - lost_brightness(after) / bare, 0.0, 1.0)
    removed = np.clip(1 - now / then, 0, 1.1)
    # Along old rims a shift of err_mm looks like removal; those places say little.
    slope = np.hypot(cv2.Sobel(then, cv2.CV_32F, 1, 0) / 8, cv2.Sobel(then, cv2.CV_32F, 0, 1) / 8)
    rim = slope * after.px_per_mm * err_mm / np.maximum(then, 0.1)
    left = np.clip((then - LEAST_POWDER_FRAC) / (0.7 - LEAST_POWDER_FRAC), 0, 1)
    weight = (after.weight * np.minimum(old.weight, 1) * left / (1 + (rim / 0.2) ** 2)).astype(np.float32)
    usable = weight > 0.3
    removed = np.where(usable, removed, 0).astype(np.float32)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    removed = np.asarray(cv2.morphologyEx(removed, cv2.MORPH_OPEN, kernel), np.float32)
    marked = usable & (removed > 0.5 * _depth(removed, usable))
    depth = max(_depth(removed, usable), 0.2)
    fresh = usable & (removed < 0.4 * depth)
    noise = 1.4826 * np.median(np.abs(removed[fresh] - np.median(removed[fresh]))) if fresh.any() else 1.0
    return replace(
        after,
        removed=np.clip(removed / depth, 0, 1.15).astype(np.float32),
        weight=weight,
        marked=_big_enough(marked, after.px_per_mm),
        noise_frac=float(noise) / depth,
    )


def _depth(removed: Image, usable: NDArray[np.bool_]) -> float:
    """How deep new marks are: upper end of what is clearly gone."""
    clear = removed[usable & (removed > 0.2)]
    return float(np.percentile(clear, 80)) if len(clear) > 40 else 1.0


def _big_enough(marked: NDArray[np.bool_], px_per_mm: float) -> NDArray[np.bool_]:
    _, label, stats, _ = cv2.connectedComponentsWithStats(marked.astype(np.uint8))
    keep = stats[:, cv2.CC_STAT_AREA] >= LEAST_AREA_MM2 * px_per_mm**2
    keep[0] = False
    return np.asarray(keep[label])
