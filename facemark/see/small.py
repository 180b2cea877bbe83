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
    half = halved(
        pixels[: pixels.shape[0] // factor * factor, : pixels.shape[1] // factor * factor], factor & -factor
    )
    rest = factor // half.factor
    if rest == 1:
        return half
    height, width = half.pixels.shape[0] // rest, half.pixels.shape[1] // rest
    copy = cv2.resize(half.pixels, (width, height), interpolation=cv2.INTER_AREA)
    return Small(pixels=np.asarray(copy, np.uint8), factor=factor)


def halved(pixels: NDArray[np.uint8], most: float) -> Small:
    """Shrink by 2, 4, 8 and so on, by at most ``most``: as an average over whole pixels nothing is quicker.

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) uint8
        Rows and columns left over at the end are dropped.
    most : float
        Below 2 nothing is done.
    """
    factor = 1
    while factor * 2 <= most:
        height, width = pixels.shape[0] // 2, pixels.shape[1] // 2
        even = pixels[: 2 * height, : 2 * width]
        pixels = np.asarray(cv2.resize(even, (width, height), interpolation=cv2.INTER_AREA), np.uint8)
        factor *= 2
    return Small(pixels=pixels, factor=factor)
