"""Closed curves in a picture: even spacing, smoothing, normals, the strip unrolled along a curve.

A curve is (N, 2) x, y without a repeated last point.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array


def area_px2(curve: Array) -> float:
    """Signed area by the shoelace rule; plus when it runs clockwise on the screen (y down)."""
    x, y = curve[:, 0], curve[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def centroid(curve: Array) -> Array:
    """(2,) area centroid of the polygon."""
    x, y = curve[:, 0], curve[:, 1]
    cross = x * np.roll(y, -1) - y * np.roll(x, -1)
    total = cross.sum()
    if abs(total) < 1e-12:
        return np.asarray(curve.mean(axis=0))
    return np.array(
        [
            ((x + np.roll(x, -1)) * cross).sum() / (3 * total),
            ((y + np.roll(y, -1)) * cross).sum() / (3 * total),
        ]
    )


def length_px(curve: Array) -> float:
    """Perimeter."""
    return float(np.hypot(*(np.roll(curve, -1, axis=0) - curve).T).sum())


def even(curve: Array, n_points: int) -> Array:
    """(n_points, 2) the same curve, clockwise on the screen, at even steps along its length."""
    curve = np.asarray(curve, float)
    if area_px2(curve) < 0:
        curve = curve[::-1]
    closed = np.vstack([curve, curve[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.arange(n_points) / n_points * along[-1]
    return np.column_stack([np.interp(at, along, closed[:, 0]), np.interp(at, along, closed[:, 1])])


def smooth(curve: Array, n_waves: float) -> Array:
    """The curve with waves beyond about ``n_waves`` per turn faded out (Gaussian in frequency)."""
    n = len(curve)
    waves = np.fft.fftfreq(n) * n
    wave = np.fft.ifft(np.fft.fft(curve[:, 0] + 1j * curve[:, 1]) * np.exp(-0.5 * (waves / n_waves) ** 2))
    return np.column_stack([wave.real, wave.imag])


def normals(curve: Array) -> Array:
    """(N, 2) unit normals pointing outward, for a curve that runs clockwise on the screen."""
    along = np.roll(curve, -1, axis=0) - np.roll(curve, 1, axis=0)
    along = along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    return np.column_stack([along[:, 1], -along[:, 0]])


def unroll(
    image: NDArray[np.float32], curve: Array, outward: Array, offsets_px: Array
) -> NDArray[np.float32]:
    """(M, N, ...) the image along the curve: row m lies ``offsets_px[m]`` outside the curve."""
    at = (curve[None] + offsets_px[:, None, None] * outward[None]).astype(np.float32)
    strip = cv2.remap(image, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(strip, np.float32)


def blur_around(strip: NDArray[np.float32], sigma: float) -> NDArray[np.float32]:
    """(M, N) each row blurred along the curve, which closes on itself."""
    reach = int(3 * sigma) + 1
    wide = np.concatenate([strip[:, -reach:], strip, strip[:, :reach]], axis=1)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2).astype(np.float32)
    kernel /= kernel.sum()
    blurred = cv2.filter2D(wide, -1, kernel[None], borderType=cv2.BORDER_REPLICATE)
    return np.asarray(blurred[:, reach:-reach], np.float32)


def eroded(mask: NDArray[np.uint8], radius_px: float) -> NDArray[np.uint8]:
    """The mask less everything within ``radius_px`` of what lies outside it (a disc; by distances: quick)."""
    left, top, width, height = cv2.boundingRect(mask)
    part = np.s_[top : top + height, left : left + width]  # the rest takes time and changes nothing
    kept = np.zeros(mask.shape, np.uint8)
    kept[part] = cv2.distanceTransform(np.pad(mask[part], 1), cv2.DIST_L2, 5)[1:-1, 1:-1] > radius_px
    return kept


def dilated(mask: NDArray[np.uint8], radius_px: float) -> NDArray[np.uint8]:
    """The mask and everything within ``radius_px`` of it."""
    left, top, width, height = cv2.boundingRect(mask)
    reach = math.ceil(radius_px) + 1
    part = np.s_[max(0, top - reach) : top + height + reach, max(0, left - reach) : left + width + reach]
    grown = np.zeros(mask.shape, np.uint8)
    if height:
        grown[part] = cv2.distanceTransform(1 - mask[part], cv2.DIST_L2, 5) <= radius_px
    return grown


def rolled_inside(mask: NDArray[np.uint8], radius_px: float) -> NDArray[np.uint8]:
    """What a disc can cover while rolling inside the mask (an opening): narrow parts go."""
    return dilated(eroded(mask, radius_px), radius_px)
