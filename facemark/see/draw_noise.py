"""Random fields that drawn photos are made of: smooth noise, grain, lines; from a given generator."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.float32]


def smooth_noise(shape: tuple[int, int], scale_px: float, rng: np.random.Generator) -> Image:
    """(H, W) noise of zero mean and unit variance whose blobs are about ``scale_px`` wide."""
    return stretched_noise(shape, (scale_px, scale_px), rng)


def stretched_noise(shape: tuple[int, int], scale_px: tuple[float, float], rng: np.random.Generator) -> Image:
    """Noise whose blobs are ``scale_px`` = (high, wide): brushed metal, cloth, runs."""
    coarse = [max(int(np.ceil(n / max(s, 1.0))) + 3, 4) for n, s in zip(shape, scale_px, strict=True)]
    field = rng.standard_normal(coarse, dtype=np.float32)
    if scale_px[0] > 1.0 or scale_px[1] > 1.0:
        # Cut a random phase out of the enlarged field, so that no blob sits on the corner.
        size = (int(coarse[1] * max(scale_px[1], 1.0)), int(coarse[0] * max(scale_px[0], 1.0)))
        field = np.asarray(cv2.resize(field, size, interpolation=cv2.INTER_CUBIC), np.float32)
    top, left = (
        int(rng.integers(0, max(have - want, 0) + 1)) for have, want in zip(field.shape, shape, strict=True)
    )
    field = field[top : top + shape[0], left : left + shape[1]]
    if field.shape != shape:
        field = np.asarray(cv2.resize(field, shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32)
    field = field - field.mean()
    return np.asarray(field / (field.std() + 1e-6), np.float32)


def layered_noise(
    shape: tuple[int, int], scales_px: tuple[float, ...], rng: np.random.Generator, *, fall: float = 0.6
) -> Image:
    """Sum of smooth noises; each following scale weighs ``fall`` times the one before. Unit variance."""
    total = np.zeros(shape, np.float32)
    power = 0.0
    for k, scale in enumerate(scales_px):
        weight = fall**k
        total += weight * smooth_noise(shape, scale, rng)
        power += weight**2
    return np.asarray(total / np.sqrt(power), np.float32)


def specks(
    shape: tuple[int, int], count: int, radius_px: tuple[float, float], rng: np.random.Generator
) -> Image:
    """(H, W) in 0..1: ``count`` soft round specks with radii drawn log-evenly from ``radius_px``."""
    mask = np.zeros(shape, np.uint8)
    where = rng.uniform(0.0, 1.0, (count, 2)) * [shape[1], shape[0]]
    radii = np.exp(rng.uniform(np.log(radius_px[0]), np.log(radius_px[1]), count))
    level = rng.integers(90, 256, count)
    for (x, y), radius, value in zip(where, radii, level, strict=True):
        centre = (round(float(x) * 16), round(float(y) * 16))
        cv2.circle(mask, centre, round(float(radius) * 16), int(value), -1, cv2.LINE_AA, 4)
    return np.asarray(mask, np.float32) / 255.0


def step(x: Image, low: float, high: float) -> Image:
    """Smooth step from 0 at ``low`` to 1 at ``high``."""
    t = np.clip((x - low) / (high - low), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t), np.float32)
