"""Where in the photo can a second scale object lie, and how large can it be there?

A second object only checks the first, so it must be quick to look for and hard to take for something else: it
lies beside the face, not on it and not on the first object's own paper, and is neither half nor twice as
large as the first object says it should be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from facemark.see.camera import Array

SIZES_FRAC = (0.55, 1.8)  # seen over expected; beyond, it is something else or elsewhere. Assumed
REACH_MM = 220.0  # from the face's centre to the middle of what lies beside it; assumed
FACE_HALF_MM = 25.0  # nearer to the face's centre lies only the face: half of the lowest. Assumed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beside:
    """``px_per_mm`` by the first object; ``face_px`` (2,) the face's centre; ``taken_px`` polygons (K, 2)."""

    px_per_mm: float
    face_px: Array | None
    taken_px: Sequence[Array]

    def could_hold(self, outline_px: Array, length_mm: float) -> bool:
        """Can something with this (K, 2) outline, ``length_mm`` across at its longest, be a second object?"""
        outline = np.asarray(outline_px, np.float32)
        middle = outline.mean(axis=0)
        spans = np.linalg.norm(outline[:, None] - outline[None], axis=2)
        ratio = float(spans.max()) / (length_mm * self.px_per_mm)
        if not SIZES_FRAC[0] < ratio < SIZES_FRAC[1]:
            return False
        if self.face_px is not None:
            away_mm = float(np.linalg.norm(middle - self.face_px)) / self.px_per_mm
            if not FACE_HALF_MM < away_mm < REACH_MM:
                return False
            if _covers(outline, self.face_px):
                return False
        # Nothing lies on the first object's paper, and no paper with tags on it is a card.
        return not any(_covers(outline, polygon.mean(axis=0)) for polygon in self.taken_px) and not _covers(
            cv2.convexHull(np.vstack(self.taken_px).astype(np.float32)), middle
        )


def _covers(outline: Array, px: Array) -> bool:
    hull = cv2.convexHull(np.asarray(outline, np.float32))
    return cv2.pointPolygonTest(hull, (float(px[0]), float(px[1])), False) >= 0
