"""What lies under and behind a drawn club: turf, mat, concrete, cloth, boards; sky, hedge, wall.

Ground textures are square tiles, mirrored on and on, seen in perspective; backdrops are out of focus.
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from facemark.see.camera import Array
from facemark.see.draw_noise import Image, layered_noise, smooth_noise, stretched_noise
from facemark.see.draw_view import View

GROUNDS = ("grass", "mat", "concrete", "cloth", "carpet", "boards", "gravel")
TILE_PX = 1024
FAR_MM = 5000.0


def ground_tile(kind: str, hue: float, rng: np.random.Generator) -> tuple[Image, float]:
    """(H, W, 3) linear colours of one tile, and its side [mm]."""
    shape = (TILE_PX, TILE_PX)
    if kind == "grass":
        return _blades(rng, n=9000, length_px=(25, 80), hue=hue), 260.0
    if kind == "mat":
        tile = _blades(rng, n=26000, length_px=(6, 18), hue=0.6 * hue)
        return tile * rng.uniform(0.5, 1.0), 150.0
    if kind == "concrete":
        tone = rng.uniform(0.18, 0.5) * np.exp(
            0.10 * layered_noise(shape, (300, 90, 20, 4, 1.5), rng, fall=0.8)
        )
        return _tinted(tone, [1.0, 0.98, 0.94], rng), 420.0
    if kind == "cloth":
        weave = 0.5 * stretched_noise(shape, (3, 9), rng) + 0.5 * stretched_noise(shape, (9, 3), rng)
        tone = rng.uniform(0.01, 0.12) * np.exp(0.35 * weave + 0.25 * smooth_noise(shape, 160, rng))
        return _tinted(tone, 1.0 + rng.uniform(-0.5, 0.5, 3), rng), 200.0
    if kind == "carpet":
        tone = rng.uniform(0.04, 0.3) * np.exp(0.35 * layered_noise(shape, (2.5, 7, 60), rng))
        return _tinted(tone, 1.0 + rng.uniform(-0.35, 0.35, 3), rng), 220.0
    if kind == "boards":
        grain = stretched_noise(shape, (3, 200), rng) + 0.6 * stretched_noise(shape, (12, 400), rng)
        tone = rng.uniform(0.08, 0.3) * np.exp(0.18 * grain)
        for row in range(0, TILE_PX, TILE_PX // 4):
            tone[row : row + 256] *= rng.uniform(0.8, 1.2)
            tone[row : row + 5] *= 0.15
        return _tinted(tone, [1.25, 1.0, 0.7], rng), 480.0
    stones = layered_noise(shape, (26, 11), rng)
    tone = 0.25 * np.exp(0.3 * np.tanh(2.0 * stones) + 0.15 * smooth_noise(shape, 2, rng))
    return _tinted(tone, [1.05, 1.0, 0.92], rng), 260.0


def _tinted(tone: Image, colour: list[float] | Array, rng: np.random.Generator) -> Image:
    shift = 1.0 + 0.03 * smooth_noise((tone.shape[0], tone.shape[1]), 120.0, rng)
    rgb = tone[..., None] * np.asarray(colour, np.float32)
    rgb[..., 0] *= shift
    return np.asarray(np.clip(rgb, 0.004, 0.9), np.float32)


def grass_colour(hue: float, light: Array) -> Array:
    """(N, 3) linear greens, ``hue`` 0 blue-green turf to 1 yellow-green grass; ``light`` (N,) brightness."""
    base = np.array([0.035 + 0.10 * hue, 0.13 + 0.04 * hue, 0.045 - 0.02 * hue])
    return np.asarray(light[:, None] * base)


def _blades(rng: np.random.Generator, *, n: int, length_px: tuple[float, float], hue: float) -> Image:
    """A tile of strokes laid over each other, dark ones first (deep down)."""
    tile = np.full((TILE_PX, TILE_PX, 3), 0.012, np.float32) * np.array([1.0, 1.3, 0.7], np.float32)
    light = np.sort(rng.gamma(4.0, 0.25, n))
    colour = grass_colour(hue, light)
    dry = rng.random(n) < 0.06 * hue
    colour[dry] = light[dry][:, None] * np.array([0.22, 0.17, 0.07])
    start = rng.uniform(0, TILE_PX, (n, 2))
    turn = rng.uniform(0, 2 * math.pi, n)
    reach = rng.uniform(*length_px, n)
    bend = rng.normal(0.0, 0.35, n)
    way = np.column_stack([np.cos(turn), np.sin(turn), np.cos(turn + bend), np.sin(turn + bend)])
    mid = start + 0.5 * reach[:, None] * way[:, :2]
    paths = np.round(np.stack([start, mid, mid + 0.5 * reach[:, None] * way[:, 2:]], axis=1)).astype(np.int32)
    width = np.where(reach < 20, 2, rng.integers(2, 5, n)).tolist()
    for path, rgb, wide in zip(paths, colour.tolist(), width, strict=True):
        cv2.polylines(tile, [path], False, rgb, wide)
    return np.asarray(cv2.GaussianBlur(tile, (0, 0), 0.8), np.float32)


def draw_ground(
    view: View, tile: Image, tile_mm: float, point_mm: Array, normal: Array
) -> tuple[Image, Image]:
    """(H, W, 3) ground seen everywhere it is seen, and (H, W) the distance [mm] (5000: none)."""
    away = float((point_mm - view.eye_mm) @ normal)
    a, b = _plane_axes(normal)
    # Nearness 1/far and both directions are linear in the pixel: they interpolate without error.
    axes = np.column_stack([normal / away, a, b])
    near, along_a, along_b = np.moveaxis(
        view.on_grid((0, 0, view.width_px, view.height_px), lambda px: view.rays(px) @ axes), -1, 0
    )
    far = 1.0 / np.maximum(near, np.float32(1.0 / FAR_MM))
    scale = TILE_PX / tile_mm
    start = (view.eye_mm - point_mm) @ np.column_stack([a, b]) * scale
    at = cv2.merge(
        [
            along_a * far * np.float32(scale) + np.float32(start[0]),
            along_b * far * np.float32(scale) + np.float32(start[1]),
        ]
    )
    near_mm = float(np.linalg.norm(view.eye_mm))
    shrink = near_mm / view.focal_px * scale
    fine = cv2.GaussianBlur(tile, (0, 0), 0.45 * shrink) if shrink > 0.8 else tile
    picture = cv2.remap(fine, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    weight = np.clip((far / np.float32(near_mm) - 1.25) / 1.2, 0.0, 1.0)
    if weight.max() > 0:
        # A dull copy of the tile stands in for a mip pyramid and the lens's depth of field.
        small = cv2.resize(tile, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        dull = cv2.GaussianBlur(small, (0, 0), shrink + 1.0, borderType=cv2.BORDER_REFLECT)
        quarter = np.ascontiguousarray(at[::4, ::4]) * 0.25
        soft = cv2.remap(dull, quarter, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        picture += weight[..., None] * (cv2.resize(soft, picture.shape[1::-1]) - picture)
    return np.asarray(picture, np.float32), far


def _plane_axes(normal: Array) -> tuple[Array, Array]:
    a = np.cross(normal, [0.31, 0.2, 0.93])
    a /= np.linalg.norm(a)
    return a, np.cross(normal, a)


def backdrop(shape: tuple[int, int], rng: np.random.Generator) -> Image:
    """(H, W, 3) something far away and out of focus: sky over trees, a hedge, a wall, a room."""
    h, w = shape
    small = (h // 8, w // 8)
    kind = str(rng.choice(["sky", "hedge", "wall", "room", "turf"]))
    y = np.linspace(0, 1, small[0], dtype=np.float32)[:, None]
    noise = layered_noise(small, (small[1] / 6, small[1] / 20), rng)
    if kind == "sky":
        line = rng.uniform(0.2, 0.8) + 0.05 * smooth_noise((1, small[1]), small[1] / 14, rng)
        tree = np.clip((y - line) * 40.0, 0, 1)[..., None]
        sky = np.array([0.55, 0.7, 0.95]) * rng.uniform(0.7, 1.2) * (1.1 - 0.3 * y[..., None])
        image = (1 - tree) * sky + tree * grass_colour(0.6, np.ones(1))[0] * np.exp(0.5 * noise)[..., None]
    elif kind in ("hedge", "turf"):
        image = (
            grass_colour(rng.uniform(0, 1), np.ones(1))[0]
            * np.exp(0.4 * noise)[..., None]
            * rng.uniform(0.4, 1.2)
        )
    elif kind == "wall":
        image = (
            rng.uniform(0.05, 0.6)
            * np.exp(0.06 * noise + 0.4 * (y - 0.5))[..., None]
            * (1 + rng.normal(0, 0.06, 3))
        )
    else:
        image = rng.uniform(0.05, 0.2) * np.ones((*small, 3)) * (1 + rng.normal(0, 0.08, 3))
        for _ in range(int(rng.integers(3, 9))):  # furniture, bags, windows
            x0, y0 = rng.uniform(0, 1, 2) * [small[1], small[0]]
            x1, y1 = np.array([x0, y0]) + rng.uniform(0.05, 0.4, 2) * small[1]
            image[int(y0) : int(y1), int(x0) : int(x1)] = np.exp(rng.normal(-2.0, 0.9)) * (
                1 + rng.normal(0, 0.3, 3)
            )
    image = cv2.GaussianBlur(
        np.asarray(np.clip(image, 0.002, 2.0), np.float32), (0, 0), rng.uniform(1.0, 5.0)
    )
    return np.asarray(cv2.resize(image, (w, h), interpolation=cv2.INTER_LINEAR), np.float32)


def standing_blades(
    view: View,
    image: Image,
    floor: tuple[Array, Array],
    reach_mm: float,
    rng: np.random.Generator,
    *,
    n: int,
    hue: float,
    light: float,
    grass_mm: float,
) -> None:
    """Draw upright blades of grass before the sole into ``image``, far ones first.

    They hide a little of the face's lower edge. Denser near the club, none beyond two head lengths.
    """
    point, up = floor
    toe_way = np.array([1.0, 0.0, 0.0])
    out = np.cross(toe_way, up)
    out = out if out[2] > 0 else -out
    toe = rng.normal(0.0, 0.9 * reach_mm, n)
    depth = np.sort(0.5 + rng.gamma(1.2, 35.0, n))
    foot = point + toe[:, None] * toe_way + depth[:, None] * out
    length = rng.gamma(5.0, grass_mm / 5.0, n)[:, None]
    lean = rng.normal(0.0, 0.45, (n, 2))
    sway = lean[:, :1] * toe_way + lean[:, 1:] * out
    mid = foot + 0.55 * length * (up + 0.4 * sway)
    tip = foot + length * (up * 0.95 + sway)
    half = rng.uniform(0.25, 0.8, n)[:, None] * toe_way
    shape = np.stack([foot - half, mid - 0.7 * half, tip, mid + 0.7 * half, foot + half], axis=1)
    px = np.round(view.px(shape.reshape(-1, 3)).reshape(n, 5, 2) * 16).astype(np.int32)
    colour = grass_colour(hue, light * rng.gamma(5.0, 0.24, n)).tolist()
    for blade, rgb in zip(px, colour, strict=True):
        cv2.fillConvexPoly(image, blade, rgb, shift=4)


def ground_shadow(
    view: View, corners_mm: Array, point_mm: Array, normal: Array, to_light: Array, soft_px: float
) -> Image:
    """(H, W) 0..1 shadow that quads (Q, 4, 3) throw on the ground."""
    height = (corners_mm - point_mm) @ normal
    slope = max(float(to_light @ normal), 0.15)
    fallen = corners_mm - (height / slope)[..., None] * to_light
    small = 4
    px = view.px(fallen.reshape(-1, 3)).reshape(-1, 4, 2) / small
    mask = np.zeros((view.height_px // small + 1, view.width_px // small + 1), np.uint8)
    ok = (np.abs(px) < 8000).all(axis=(1, 2)) & view.before(fallen).all(axis=1)
    for quad in np.round(px[ok] * 16).astype(np.int32):
        cv2.fillConvexPoly(mask, quad, 255, shift=4)
    blurred = cv2.GaussianBlur(mask.astype(np.float32) / 255.0, (0, 0), max(soft_px / small, 0.5))
    full = cv2.resize(blurred, (view.width_px, view.height_px), interpolation=cv2.INTER_LINEAR)
    return np.asarray(full, np.float32)
