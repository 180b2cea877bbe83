"""How does one photo's face lie over the other's?

The face aligns itself: both maps are drawn about the outline, then score lines, grain and old marks are
laid over each other by the enhanced correlation coefficient (Evangelidis & Psarakis 2008), new marks masked
out. How far single tiles still want to move afterwards is the error.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.powder import Image, PowderMap
from facemark.see.rectify import FaceMap

N_ALIGN_ROUNDS = 3
TILE_MM = 20.0  # one mark wide: smaller tiles hold too little grain to be placed
TILE_TRUST = 0.08  # phase correlation peak below which a tile says nothing; assumed
MISALIGNED_MM = 0.8  # a rim is 0.5-1 mm wide: worse than this, old rims look new
NEW_FRAC = 0.3  # removal counted as new when masking for the alignment


def lost_brightness(powder: PowderMap) -> Image:
    """Share of the fresh brightness that is lost: comparable between photos."""
    return (powder.removed * powder.contrast_frac).astype(np.float32)


def _texture(powder: PowderMap) -> Image:
    """Grain, score lines and rims without the slow light: what the alignment looks at."""
    image = np.where(powder.weight > 0, powder.raw * powder.contrast_frac, 0).astype(np.float32)
    fine = cv2.GaussianBlur(image, (0, 0), 0.4 * powder.px_per_mm)
    slow = cv2.GaussianBlur(image, (0, 0), 6 * powder.px_per_mm)
    return np.asarray(cv2.subtract(fine, slow), np.float32)


def align(before: PowderMap, after: PowderMap) -> tuple[Array, float]:
    """Affine map (2, 3) of map pixels before -> after, and what is left of the disagreement [mm]."""
    scale = after.px_per_mm
    start = before.map_from_mm(np.array([[0.0, 0.0]]))[0]
    goal = after.map_from_mm(np.array([[0.0, 0.0]]))[0]
    warp = np.float32([[1, 0, goal[0] - start[0]], [0, 1, goal[1] - start[1]]])
    a, b = _texture(before), _texture(after)
    for k in range(N_ALIGN_ROUNDS):
        came = cv2.subtract(lost_brightness(after), warp_image(lost_brightness(before), warp, shape=b.shape))
        new = np.asarray(came) > NEW_FRAC * after.contrast_frac
        ring = cv2.dilate(new.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
        mask = ((after.weight > 0) & ~ring).astype(np.uint8)
        kind = cv2.MOTION_TRANSLATION if k == 0 else cv2.MOTION_AFFINE
        stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 40, 1e-4)
        try:
            _, moved = cv2.findTransformECC(a, b, warp.copy(), kind, stop, mask, 9 if k == 0 else 5)
        except cv2.error:  # the correlation does not converge: nothing in common but the outline
            break
        if _believable(moved, before, after):
            warp = moved
    return warp.astype(float), _left_over(a, b, warp, scale)


def _believable(warp: NDArray[np.float32], before: PowderMap, after: PowderMap) -> bool:
    """Two outlines of one face cannot be more than 4 mm or 6 % apart."""
    corners = np.array([[-40.0, -20.0], [40.0, -20.0], [40.0, 20.0], [-40.0, 20.0]])
    there = after.mm_from_map(before.map_from_mm(corners) @ warp[:, :2].T + warp[:, 2])
    return bool(np.abs(there - corners).max() < 4.0)


def warp_image(image: Image, warp: Array, *, shape: tuple[int, ...]) -> Image:
    size = (shape[1], shape[0])
    return np.asarray(cv2.warpAffine(image, np.asarray(warp, np.float32), size, flags=cv2.INTER_LINEAR))


def _left_over(a: Image, b: Image, warp: Array, scale: float) -> float:
    """Standard error per axis after the alignment: how far single tiles still want to move."""
    moved = warp_image(a, warp, shape=b.shape)
    n = int(TILE_MM * scale)
    window = cv2.createHanningWindow((n, n), cv2.CV_32F)
    shifts = []
    for row in range(0, b.shape[0] - n + 1, n // 2):
        for col in range(0, b.shape[1] - n + 1, n // 2):
            one, two = moved[row : row + n, col : col + n], b[row : row + n, col : col + n]
            if np.count_nonzero(one) < 0.7 * one.size or np.count_nonzero(two) < 0.7 * two.size:
                continue
            (dx, dy), peak = cv2.phaseCorrelate(one, two, window)
            if peak > TILE_TRUST and np.hypot(dx, dy) < 2.5 * scale:
                shifts += [dx, dy]
    if len(shifts) < 6:
        return MISALIGNED_MM
    return float(max(0.1, 1.4826 * np.median(np.abs(shifts)) / scale))


def in_mm(before: PowderMap, after: PowderMap, warp: Array) -> Array:
    """The pixel map as a map of face mm (toe, high)."""
    corners = np.array([[0.0, 0.0], [30.0, 0.0], [0.0, 15.0]])
    there = after.mm_from_map(before.map_from_mm(corners) @ warp[:, :2].T + warp[:, 2])
    toe, up = (there[1] - there[0]) / 30, (there[2] - there[0]) / 15
    return np.column_stack([toe, up, there[0]])


def grey_over(earlier: FaceMap, latest: FaceMap, face_warp: Array) -> NDArray[np.uint8]:
    """(H, W) the earlier photo in grey on the latest map's grid; ``face_warp`` as ``in_mm`` gives it."""
    three_mm = np.array([[0.0, 0.0], [30.0, 0.0], [0.0, 15.0]])
    here = earlier.map_from_mm(three_mm)
    there = latest.map_from_mm(three_mm @ face_warp[:, :2].T + face_warp[:, 2])
    warp = cv2.getAffineTransform(here.astype(np.float32), there.astype(np.float32))
    grey = cv2.cvtColor(earlier.pixels, cv2.COLOR_RGB2GRAY)
    size = latest.inside.shape[1], latest.inside.shape[0]
    # Beyond the earlier map nothing is known: its border goes on, which is no news.
    laid = cv2.warpAffine(grey, warp, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(laid, np.uint8)
