"""A smaller copy of the photo, to look around in before measuring in the full picture."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array

SMALL_SIDE_PX = 1000  # long side; a tag of 25 mm then still has 20 px at arm's length


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Small:
    """``pixels``: each is the mean of ``factor`` x ``factor`` pixels of the photo."""

    pixels: NDArray[np.uint8]
    factor: int

    def px_from_small(self, xy: Array) -> Array:
        """Places in the photo; pixel centres are whole numbers in both."""
        return (np.asarray(xy, float) + 0.5) * self.factor - 0.5

    def small_from_px(self, px: Array) -> Array:
        return (np.asarray(px, float) + 0.5) / self.factor - 0.5


def shrink(pixels: NDArray[np.uint8], side_px: int = SMALL_SIDE_PX) -> Small:
    """Shrink by a whole number, which OpenCV does several times faster than any other.

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) uint8
    side_px : int
        The long side is brought as near to this as a whole number allows, never enlarged.
    """
    factor = max(1, round(max(pixels.shape[:2]) / side_px))
    if factor == 1:
        return Small(pixels=pixels, factor=1)
    height, width = pixels.shape[0] // factor, pixels.shape[1] // factor
    whole = pixels[: height * factor, : width * factor]
    copy = cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA)
    return Small(pixels=np.asarray(copy, np.uint8), factor=factor)
