"""The face as seen straight on: a flat picture at a fixed number of pixels per millimetre.

Always drawn toe to the right and crown up, whatever the hand, so that everything after it needs no mirror.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array, FaceFrame
from facemark.see.small import halved

RECTIFIED_PX_PER_MM = 4.0  # a 0.25 mm pixel is finer than any mark edge (0.5 mm and more); assumed
RECTIFIED_PAD_MM = 2.0
GRAIN_SHRINK, GRAIN_BLUR_PX = 1.5, 0.35  # shrunk by more than the first: blurred by so much per unit; assumed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceMap:
    """The rectified face.

    ``pixels`` (H, W, 3) uint8 RGB; ``inside`` (H, W) bool, the outline filled; pixel (0, 0)'s centre lies at
    (``left_toe_mm``, ``top_high_mm``); columns run toward the toe, rows toward the sole.
    """

    pixels: NDArray[np.uint8]
    inside: NDArray[np.bool_]
    left_toe_mm: float
    top_high_mm: float
    px_per_mm: float

    def mm_from_map(self, xy: Array) -> Array:
        """(N, 2) face mm (toe, high) of (N, 2) map pixels (column, row)."""
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


def rectify(
    pixels: NDArray[np.uint8],
    frame: FaceFrame,
    outline_mm: Array,
    *,
    px_per_mm: float = RECTIFIED_PX_PER_MM,
    pad_mm: float = RECTIFIED_PAD_MM,
) -> FaceMap:
    """Draw the face as seen straight on.

    Parameters
    ----------
    pixels : (H, W, 3) uint8
        The photo.
    frame : FaceFrame
    outline_mm : (N, 2)
        Face outline in the face frame [mm].

    Returns
    -------
    FaceMap
        Covers the outline's box plus ``pad_mm``.
    """
    low, high = outline_mm.min(axis=0) - pad_mm, outline_mm.max(axis=0) + pad_mm
    width, height = np.ceil((high - low) * px_per_mm).astype(int) + 1
    toe = low[0] + np.arange(width) / px_per_mm
    up = high[1] - np.arange(height) / px_per_mm
    grid = np.column_stack([np.tile(toe, height), np.repeat(up, width)])
    px = frame.px_from_mm(grid).astype(np.float32).reshape(height, width, 2)
    shrink = 1.0 / (frame.mm_per_px * px_per_mm)
    corner = np.floor(px.reshape(-1, 2).min(axis=0)).astype(int) - 8
    far = np.ceil(px.reshape(-1, 2).max(axis=0)).astype(int) + 9
    corner = np.clip(corner, 0, None)
    far = np.minimum(far, [pixels.shape[1], pixels.shape[0]])
    crop = pixels[corner[1] : far[1], corner[0] : far[0]]
    local = px - corner.astype(np.float32)
    # Shrinking by more than one and a half needs a blur first, or the powder's grain aliases.
    if shrink > GRAIN_SHRINK and crop.size:
        part = halved(crop, shrink)
        crop, local = part.pixels, part.small_from_px(local).astype(np.float32)
        # Halving is a blur already: the variance of a mean over ``factor`` pixels.
        wanted, done = (GRAIN_BLUR_PX * shrink) ** 2, (part.factor**2 - 1) / 12.0
        crop = cv2.GaussianBlur(crop, (0, 0), math.sqrt(wanted - done) / part.factor)
    flat = (
        cv2.remap(crop, local, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        if crop.size
        else np.zeros((height, width, 3), np.uint8)
    )
    inside = np.zeros((height, width), np.uint8)
    poly = (outline_mm - [low[0], high[1]]) * [px_per_mm, -px_per_mm]
    cv2.fillPoly(inside, [np.round(poly * 16).astype(np.int32)], 1, shift=4)
    return FaceMap(
        pixels=np.asarray(flat, np.uint8),
        inside=inside.astype(bool),
        left_toe_mm=float(low[0]),
        top_high_mm=float(high[1]),
        px_per_mm=px_per_mm,
    )
