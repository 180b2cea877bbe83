"""Light and camera of a drawn photo: sun, sky and mirror images; then blur, noise, sharpening and tone.

Linear light until ``develop``. Levels are relative: a white sheet facing the light comes out near 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.draw_noise import Image, smooth_noise, step


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Light:
    """One direction of direct light plus an ambient dome. Directions in the face frame, unit vectors."""

    to_sun: Array
    sun_rgb: Array
    sky_rgb: Array
    floor_rgb: Array
    up: Array
    lamps: tuple[tuple[Array, float, float], ...] = ()  # direction, strength, sharpness of what metal mirrors

    def diffuse(self, normal: Image, lit: Image) -> Image:
        """(..., 3) light on matt surfaces; ``lit`` in 0..1 how much of the direct light arrives."""
        direct = np.clip(normal @ self.to_sun.astype(np.float32), 0.0, None) * lit
        sky = 0.5 + 0.5 * (normal @ self.up.astype(np.float32))
        total = direct[..., None] * self.sun_rgb.astype(np.float32)
        total = total + sky[..., None] * self.sky_rgb.astype(np.float32)
        return np.asarray(total + (1 - sky[..., None]) * self.floor_rgb.astype(np.float32), np.float32)

    def mirrored(self, direction: Image, shine: float, lit: Image) -> Image:
        """(..., 3) what a glossy surface of sharpness ``shine`` shows in a direction."""
        high = direction @ self.up.astype(np.float32)
        # A dark horizon line makes metal look like metal.
        dome = step(high, -0.25, 0.30)[..., None]
        total = dome * self.sky_rgb.astype(np.float32) + (1 - dome) * self.floor_rgb.astype(np.float32) * 0.6
        total = total * (0.35 + 0.75 * step(high, 0.1, 0.9))[..., None]
        sun = self._lobe(direction, self.to_sun, shine, 1.0) * lit
        total = total + sun[..., None] * self.sun_rgb.astype(np.float32)
        for way, strength, sharp in self.lamps:
            total = total + strength * self._lobe(direction, way, min(sharp, shine), 1.0)[..., None]
        return np.asarray(total, np.float32)

    @staticmethod
    def _lobe(direction: Image, way: Array, sharp: float, peak: float) -> Image:
        """A highlight; sharper ones are brighter (sharpness / 12, capped) so that energy stays comparable."""
        cosine = direction @ way.astype(np.float32)
        return np.asarray(peak * min(sharp / 12.0, 8.0) * np.exp(sharp * (cosine - 1.0)), np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Develop:
    """What the phone does to the light."""

    exposure_ratio: float
    balance: tuple[float, float, float]
    blur_px: float
    motion_px: tuple[float, float]
    noise_frac: float  # sd at mid grey, of full scale
    sharpen_frac: float
    vignette_frac: float
    contrast_frac: float
    jpeg_quality: int


def unit(v: Array) -> Array:
    """The vector at length 1."""
    return np.asarray(v / np.linalg.norm(v))


def draw_light(up: Array, eye: Array, rng: np.random.Generator, *, glare_at: Array | None = None) -> Light:
    """Sun, overcast, shade or room light. ``glare_at``: face normal whose mirror image is to be the light."""
    to_eye = unit(eye)
    way = _away_from_mirror(to_eye, up, rng)
    kind = str(rng.choice(["sun", "overcast", "shade", "room"], p=[0.35, 0.25, 0.2, 0.2]))
    if glare_at is not None:
        kind, way = "sun", unit(2.0 * (glare_at @ to_eye) * glare_at - to_eye)
    warm = {"sun": 0.06, "overcast": -0.02, "shade": -0.05, "room": 0.12}[kind] + rng.normal(0.0, 0.03)
    sun = {"sun": 0.85, "overcast": 0.15, "shade": 0.25, "room": 0.5}[kind] * rng.uniform(0.8, 1.2)
    sky = max(1.0 - sun, 0.15) * rng.uniform(0.7, 1.1)
    cast = np.array([1.0 + warm, 1.0, 1.0 - warm])
    lamps = []
    for _ in range(int(rng.integers(0, 4))):  # windows, white walls, the photographer's bright shirt
        side = (
            _away_from_mirror(to_eye, up, rng) if glare_at is None else unit(rng.normal([0.0, 0.4, 0.3], 1.0))
        )
        lamps.append((side, float(rng.uniform(0.05, 0.4)), float(rng.uniform(6, 60))))
    return Light(
        to_sun=way,
        sun_rgb=sun * cast,
        sky_rgb=sky * np.array([1.0 - 0.4 * warm, 1.0, 1.0 + 0.6 * warm]),
        floor_rgb=sky * rng.uniform(0.2, 0.6) * np.array([0.9, 1.0, 0.8]),
        up=up,
        lamps=tuple(lamps),
    )


def _away_from_mirror(to_eye: Array, up: Array, rng: np.random.Generator) -> Array:
    """A direction of light before the face, from above, that a face does not mirror into the camera."""
    way = unit(rng.normal(0.0, 1.0, 3))
    for _ in range(50):
        mirror = np.array([-way[0], -way[1], way[2]])
        if way[2] > 0.25 and way @ up > 0.15 and mirror @ to_eye < 0.86:
            break
        way = unit(rng.normal(0.0, 1.0, 3))
    return way


def shadow_edges(
    shape: tuple[int, int], through_px: Array, face_px: float, rng: np.random.Generator, *, n: int
) -> Image:
    """(H, W) 0..1 share of direct light left by ``n`` shadow edges near a point; soft to hard."""
    h, w = shape
    small = 4
    x = np.arange(0, w, small, dtype=np.float32)[None]
    y = np.arange(0, h, small, dtype=np.float32)[:, None]
    lit = np.ones((len(y), x.shape[1]), np.float32)
    for _ in range(n):
        turn = rng.uniform(0.0, 2 * math.pi)
        at = through_px + rng.normal(0.0, 0.25, 2) * face_px
        along = (x - at[0]) * math.cos(turn) + (y - at[1]) * math.sin(turn)
        across = -(x - at[0]) * math.sin(turn) + (y - at[1]) * math.cos(turn)
        wave = (
            rng.uniform(0.0, 0.10)
            * face_px
            * np.sin(along / face_px * rng.uniform(2, 9) + rng.uniform(0, 6.3))
        )
        soft = face_px * math.exp(rng.uniform(math.log(0.006), math.log(0.12)))
        band = rng.uniform(0.15, 0.6) * face_px if rng.random() < 0.5 else math.inf  # a shaft, or a person
        dark = step(across + wave, -soft, soft) * (
            1.0 - step(across + wave, band - soft, band + soft) if band < 1e6 else 1.0
        )
        lit *= 1.0 - rng.uniform(0.6, 1.0) * dark
    return np.asarray(cv2.resize(lit, (w, h), interpolation=cv2.INTER_LINEAR), np.float32)


def develop(linear: Image, how: Develop, rng: np.random.Generator) -> tuple[NDArray[np.uint8], bytes]:
    """(H, W, 3) RGB as a phone would have saved it, and the JPEG file's bytes."""
    h, w = linear.shape[:2]
    image = cv2.transform(linear, np.diag(how.exposure_ratio * np.array(how.balance)).astype(np.float32))
    if max(np.abs(how.motion_px)) > 0.4:
        image = cv2.filter2D(image, -1, _motion_kernel(how.motion_px), borderType=cv2.BORDER_REPLICATE)
    image = cv2.GaussianBlur(image, (0, 0), max(how.blur_px, 0.3))
    red, green, blue = (
        _tone(plane, how.contrast_frac) for plane in cv2.split(image * _vignette(h, w, how.vignette_frac))
    )
    grain = rng.standard_normal((h, w), dtype=np.float32)
    if how.noise_frac > 3.0 / 255.0:  # phones smooth strong noise: it comes out blotchy
        grain = 1.7 * cv2.GaussianBlur(grain, (0, 0), 0.7)
    # Shot noise grows with the light, read noise does not.
    sigma = np.float32(how.noise_frac)
    common = sigma * grain * (0.5 + 0.7 * np.sqrt(np.clip(green, 0.02, 1.0)))
    if how.sharpen_frac > 0:  # phones sharpen the brightness, not the colours
        common += np.float32(how.sharpen_frac) * (green - cv2.GaussianBlur(green, (0, 0), 1.4))
    red += common + 0.6 * sigma * smooth_noise((h, w), 3.0, rng)
    green += common
    blue += common + 0.6 * sigma * smooth_noise((h, w), 3.0, rng)
    rgb = cv2.merge([np.clip(p * 255.0 + 0.5, 0, 255).astype(np.uint8) for p in (red, green, blue)])
    ok, data = cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, how.jpeg_quality])
    assert ok
    back = cv2.imdecode(data, cv2.IMREAD_COLOR)
    return np.ascontiguousarray(np.asarray(back, np.uint8)[..., ::-1]), data.tobytes()


def _vignette(h: int, w: int, strength: float) -> Image:
    """(h, w, 3) fall of light toward the corners."""
    x = np.linspace(-1, 1, w, dtype=np.float32)[None]
    y = np.linspace(-1, 1, h, dtype=np.float32)[:, None] * h / w
    fall = 1.0 - np.float32(strength / (1 + (h / w) ** 2)) * (x**2 + y**2)
    return np.asarray(cv2.merge([fall.astype(np.float32)] * 3), np.float32)


def _motion_kernel(motion_px: tuple[float, float]) -> Image:
    size = 2 * math.ceil(max(abs(motion_px[0]), abs(motion_px[1])) / 2 + 1) + 1
    kernel = np.zeros((size, size), np.uint8)
    mid = (size // 2) * 16
    half = (round(motion_px[0] * 8), round(motion_px[1] * 8))
    cv2.line(kernel, (mid - half[0], mid - half[1]), (mid + half[0], mid + half[1]), 255, 1, cv2.LINE_AA, 4)
    total = kernel.astype(np.float32)
    return np.asarray(total / total.sum(), np.float32)


def _tone(linear: Image, contrast: float) -> Image:
    """Soft shoulder, then the display curve (power 1/2.2, close to IEC 61966-2-1), then contrast."""
    x = np.linspace(0.0, 3.0, 6145, dtype=np.float32)
    shoulder = np.where(x < 0.7, x, 0.7 + 0.35 * (1.0 - np.exp(-(x - 0.7) / 0.35)))
    y = np.clip(shoulder, 0.0, 1.0) ** np.float32(1 / 2.2)
    curve = np.asarray(y + contrast * (y - 0.5) * y * (1 - y) * 2.0, np.float32)
    # A table instead of a power per pixel; steps of 1/2048 vanish in the noise that follows.
    return curve[(np.clip(linear, 0.0, 3.0) * 2048.0).astype(np.uint16)]
