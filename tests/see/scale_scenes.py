"""Photos of flat things and balls with exact truth, for the scale tests.

A texture in millimetres is seen through a pinhole camera by exact homography, drawn larger and averaged, in
light rather than code values, then blurred, made noisy and rounded to 8 bits. Written apart from the code
under test: nothing of facemark.see is used here except the Camera record.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.inputs import Photo
from facemark.see.camera import Array, Camera

OVER = 2  # drawn this many times larger, then averaged
PX_PER_MM = 8.0  # of textures


@dataclass(frozen=True, kw_only=True, eq=False)
class Pose:
    """A plane before the camera: ``axes`` columns x, y, out; ``origin_mm``."""

    axes: Array
    origin_mm: Array

    def points(self, xy_mm: Array) -> Array:
        return np.asarray(xy_mm, float) @ self.axes[:, :2].T + self.origin_mm


def camera_of(width: int, height: int, focal_35mm: float) -> Camera:
    focal = focal_35mm * math.hypot(width, height) / 43.2666
    return Camera(
        focal_px=focal, centre_x_px=(width - 1) / 2, centre_y_px=(height - 1) / 2, focal_err_frac=0.05
    )


def pose_of(distance_mm: float, tilt_deg: float, toward_deg: float, turn_deg: float = 0.0) -> Pose:
    """Plane at ``distance_mm`` on the optical axis, tilted toward a direction, and turned in itself."""
    t, a, s = (math.radians(v) for v in (tilt_deg, toward_deg, turn_deg))
    out = np.array([math.sin(t) * math.cos(a), math.sin(t) * math.sin(a), -math.cos(t)])
    x = np.array([1.0, 0.0, 0.0]) - out[0] * out
    x /= np.linalg.norm(x)
    y = np.cross(out, x)
    axes = np.column_stack([math.cos(s) * x + math.sin(s) * y, -math.sin(s) * x + math.cos(s) * y, out])
    return Pose(axes=axes, origin_mm=np.array([0.0, 0.0, distance_mm]))


def photograph(
    texture: NDArray[np.float32],
    left_top_mm: tuple[float, float],
    pose: Pose,
    camera: Camera,
    *,
    ground: NDArray[np.float32] | float = 0.05,
    alpha: NDArray[np.float32] | None = None,
    blur_px: float = 1.0,
    noise: float = 2.0,
    seed: int = 1,
    px_per_mm: float = PX_PER_MM,
) -> NDArray[np.uint8]:
    """(H, W, 3) photo of a texture (h, w, 3) in light 0..1 in a plane; ``alpha`` (h, w): where it is."""
    width, height = round(camera.centre_x_px * 2 + 1), round(camera.centre_y_px * 2 + 1)
    h, w = texture.shape[:2]
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], float) - 0.5
    mm = np.array(left_top_mm) + (corners + 0.5) * [1, -1] / px_per_mm
    px = (camera.project(pose.points(mm)) + 0.5) * OVER - 0.5
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), px.astype(np.float32))
    size = (width * OVER, height * OVER)
    over = cv2.warpPerspective(texture, matrix, size, flags=cv2.INTER_LINEAR, borderValue=(0, 0, 0))
    mask = cv2.warpPerspective(np.ones((h, w), np.float32) if alpha is None else alpha, matrix, size)
    over = cv2.resize(over * mask[:, :, None], (width, height), interpolation=cv2.INTER_AREA)
    mask = cv2.resize(mask, (width, height), interpolation=cv2.INTER_AREA)[:, :, None]
    if isinstance(ground, float):
        ground = np.full((height, width, 3), ground, np.float32)
    return develop(over + ground * (1 - mask), blur_px=blur_px, noise=noise, seed=seed)


def light_of(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """The light of a developed photo, to lay another object on it."""
    return np.asarray((pixels / 255.0) ** 2.2, np.float32)


def develop(light: NDArray[np.float32], *, blur_px: float, noise: float, seed: int) -> NDArray[np.uint8]:
    """Light 0..1 to an 8-bit sRGB-like photo."""
    if blur_px > 0:
        light = cv2.GaussianBlur(light, (0, 0), blur_px)
    code = 255.0 * np.clip(light, 0, 1) ** (1 / 2.2)
    code += np.random.default_rng(seed).normal(0, noise, code.shape)
    return np.asarray(np.clip(np.round(code), 0, 255), np.uint8)


def tag_sheet(
    tags: dict[int, tuple[float, float, float]], side_mm: float, box_mm: tuple[float, float, float, float]
) -> NDArray[np.float32]:
    """White paper with DICT_4X4_50 tags: id -> centre x, y [mm], turn [deg]; box left, top, right, bottom."""
    return tag_sheet_sizes({i: (x, y, turn, side_mm) for i, (x, y, turn) in tags.items()}, box_mm)


def tag_sheet_sizes(
    tags: dict[int, tuple[float, float, float, float]],
    box_mm: tuple[float, float, float, float],
    *,
    dictionary_id: int = cv2.aruco.DICT_4X4_50,
    n_cells: int = 6,
) -> NDArray[np.float32]:
    left, top, right, bottom = box_mm
    h, w = round((top - bottom) * PX_PER_MM), round((right - left) * PX_PER_MM)
    page = np.full((h, w), 0.75, np.float32)
    dictionary = cv2.aruco.getPredefinedDictionary(dictionary_id)
    for ident, (x, y, turn, side_mm) in tags.items():
        bits = cv2.aruco.generateImageMarker(dictionary, ident, n_cells)
        cells = bits.astype(np.float32) / 255 * 0.72 + 0.03
        n = 60  # texture pixels per cell do not matter: cells are flat, only their edges count
        tag = np.kron(cells, np.ones((n, n), np.float32))
        t = math.radians(turn)
        half = side_mm / 2
        square = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
        turned = square @ np.array([[math.cos(t), math.sin(t)], [-math.sin(t), math.cos(t)]]) + [x, y]
        at = (turned - [left, top]) * [PX_PER_MM, -PX_PER_MM] - 0.5
        source = (
            np.array([[0, 0], [n_cells * n, 0], [n_cells * n, n_cells * n], [0, n_cells * n]], np.float32)
            - 0.5
        )
        matrix = cv2.getPerspectiveTransform(source, at.astype(np.float32))
        big = cv2.warpPerspective(tag, matrix, (w, h), flags=cv2.INTER_LINEAR, borderValue=0)
        mask = cv2.warpPerspective(np.ones_like(tag), matrix, (w, h))
        page = page * (1 - mask) + big * mask
    return np.repeat(page[:, :, None], 3, axis=2)


def card_texture(colour: tuple[float, float, float]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """An ID-1 card, 85.60 x 53.98 mm with corners of 3.18 mm (ISO/IEC 7810): light and alpha, 16 px/mm."""
    px = 16.0
    h, w = round(53.98 * px), round(85.60 * px)
    y, x = np.mgrid[0:h, 0:w]
    # Distance from the rounded rectangle, in pixels.
    r = 3.18 * px
    qx = np.maximum(np.abs(x + 0.5 - w / 2) - w / 2 + r, 0)
    qy = np.maximum(np.abs(y + 0.5 - h / 2) - h / 2 + r, 0)
    alpha = np.clip(0.5 + r - np.hypot(qx, qy), 0, 1).astype(np.float32)
    return np.broadcast_to(np.array(colour, np.float32), (h, w, 3)).copy(), alpha


def grassy(
    height: int, width: int, seed: int, *, colour: tuple[float, float, float] = (0.05, 0.12, 0.03)
) -> NDArray[np.float32]:
    """Ground with streaks, in light."""
    rng = np.random.default_rng(seed)
    streak = cv2.GaussianBlur(
        rng.normal(0, 1, (height, width)).astype(np.float32), (0, 0), sigmaX=1.0, sigmaY=5.0
    )
    patch = cv2.resize(
        rng.normal(0, 1, (height // 40 + 2, width // 40 + 2)).astype(np.float32), (width, height)
    )
    level = np.exp(0.5 * streak / streak.std() + 0.25 * patch)
    return np.asarray(level[:, :, None] * np.array(colour, np.float32), np.float32)


def ball_photo(
    camera: Camera,
    centre_mm: Array,
    *,
    diameter_mm: float = 42.67,
    ground: NDArray[np.float32] | float = 0.06,
    colour: tuple[float, float, float] = (0.8, 0.8, 0.78),
    blur_px: float = 1.0,
    noise: float = 2.0,
    seed: int = 1,
) -> NDArray[np.uint8]:
    """A shaded sphere, ray by ray."""
    width, height = round(camera.centre_x_px * 2 + 1), round(camera.centre_y_px * 2 + 1)
    if isinstance(ground, float):
        ground = np.full((height, width, 3), ground, np.float32)
    over = OVER
    y, x = np.mgrid[0 : height * over, 0 : width * over].astype(np.float32)
    rays = np.stack(
        [
            ((x + 0.5) / over - 0.5 - camera.centre_x_px) / camera.focal_px,
            ((y + 0.5) / over - 0.5 - camera.centre_y_px) / camera.focal_px,
            np.ones_like(x),
        ],
        axis=2,
    )
    rays /= np.linalg.norm(rays, axis=2, keepdims=True)
    centre = np.asarray(centre_mm, np.float32)
    along = rays @ centre
    miss2 = float(centre @ centre) - along**2
    radius = diameter_mm / 2
    hit = miss2 < radius**2
    depth = along - np.sqrt(np.maximum(radius**2 - miss2, 0))
    normal = (rays * depth[:, :, None] - centre) / radius
    sun = np.array([0.4, -0.7, -0.6], np.float32)
    shade = 0.25 + 0.75 * np.maximum(normal @ (sun / np.linalg.norm(sun)), 0)
    ball = shade[:, :, None] * np.array(colour, np.float32) * hit[:, :, None]
    ball = cv2.resize(ball, (width, height), interpolation=cv2.INTER_AREA)
    share = cv2.resize(hit.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA)[:, :, None]
    return develop(ball + ground * (1 - share), blur_px=blur_px, noise=noise, seed=seed)


def photo_of(pixels: NDArray[np.uint8], focal_35mm: float | None) -> Photo:
    return Photo(pixels=np.ascontiguousarray(pixels), name="drawn", focal_35mm=focal_35mm)


def true_scale(camera: Camera, pose: Pose, at_mm: tuple[float, float]) -> tuple[Array, float]:
    """Pixel of a place in the plane, and mm/px there (square root of both directions)."""
    step = 0.25
    around = np.array(at_mm) + step * np.array([[-1, 0], [1, 0], [0, -1], [0, 1]], float)
    ends = camera.project(pose.points(around))
    spans = np.linalg.norm(ends[1::2] - ends[::2], axis=1)
    return camera.project(pose.points(np.array([at_mm])))[0], float(2 * step / math.sqrt(spans[0] * spans[1]))
