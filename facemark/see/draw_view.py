"""The camera of a drawn photo, and a painter for small solid bodies seen through it.

Everything stands in the face frame (toe plus, up plus, out plus; mm). Solids are meshes of small quads,
painted from far to near; each pixel then gets normal and place by a plane fitted to its quad's corners, so
that shading is smooth. Flat and spherical things, where edges matter, are ray-cast instead.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.draw_noise import Image

Box = tuple[int, int, int, int]  # left, top, right, bottom [px], right and bottom outside
NEAR_MM = 60.0  # a shaft may lean past the camera; nearer than this nothing is in focus anyway
MAX_BEND_R2 = 1.5  # squared tangent of 51 degrees off axis; phone main cameras see less than 45
RAY_STEP_PX = 8  # rays are cast on this grid and interpolated: exact to 0.01 px for our curvatures


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """Camera and place. ``axes_cam`` (3, 3): toe, up, out in the camera frame; a reflection for right hands.

    ``k1_ratio``: radial distortion, x (1 + k1 r^2) on the plane z = 1 (OpenCV's first term).
    """

    focal_px: float
    width_px: int
    height_px: int
    axes_cam: Array
    origin_cam_mm: Array
    k1_ratio: float = 0.0

    @property
    def centre_px(self) -> Array:
        return np.array([(self.width_px - 1) / 2, (self.height_px - 1) / 2])

    @property
    def eye_mm(self) -> Array:
        """The camera in the face frame."""
        return -self.origin_cam_mm @ self.axes_cam

    def px(self, points_mm: Array) -> Array:
        """(N, 2) pixels of (N, 3) points of the face frame."""
        cam = np.asarray(points_mm, float).reshape(-1, 3) @ self.axes_cam.T + self.origin_cam_mm
        flat = cam[:, :2] / np.maximum(cam[:, 2:], 1.0)
        # Far outside the frame the polynomial would fold points back into it: hold the bend there.
        bend = 1.0 + self.k1_ratio * np.minimum((flat**2).sum(axis=1, keepdims=True), MAX_BEND_R2)
        return np.asarray(flat * bend * self.focal_px + self.centre_px)

    def before(self, points_mm: Array) -> NDArray[np.bool_]:
        """(...) whether points (..., 3) lie far enough before the camera to be drawn."""
        return np.asarray(points_mm @ self.axes_cam[2] + self.origin_cam_mm[2] > NEAR_MM, bool)

    def rays(self, px: Array) -> Array:
        """(N, 3) directions in the face frame through (N, 2) pixels; depth along the axis is 1 mm."""
        bent = (np.asarray(px, float).reshape(-1, 2) - self.centre_px) / self.focal_px
        flat = bent.copy()
        for _ in range(6 if self.k1_ratio else 0):
            flat = bent / (1.0 + self.k1_ratio * (flat**2).sum(axis=1, keepdims=True))
        return np.column_stack([flat, np.ones(len(flat))]) @ self.axes_cam

    def box(self, points_mm: Array, pad_px: int = 4) -> Box:
        """Pixel box around projected points, cut by the frame."""
        px = self.px(points_mm)
        left, top = np.floor(px.min(axis=0)).astype(int) - pad_px
        right, bottom = np.ceil(px.max(axis=0)).astype(int) + pad_px + 1
        x0, y0 = int(np.clip(left, 0, self.width_px)), int(np.clip(top, 0, self.height_px))
        x1, y1 = int(np.clip(right, x0, self.width_px)), int(np.clip(bottom, y0, self.height_px))
        return x0, y0, x1, y1

    def on_grid(self, box: Box, at: Callable[[Array], Array]) -> Image:
        """(h, w, k) values of ``at((N, 2) px) -> (N, k)``, computed on a coarse grid and interpolated."""
        x0, y0, x1, y1 = box
        xs = np.arange(x0, x1 + RAY_STEP_PX, RAY_STEP_PX)
        ys = np.arange(y0, y1 + RAY_STEP_PX, RAY_STEP_PX)
        grid = np.column_stack([np.tile(xs, len(ys)), np.repeat(ys, len(xs))]).astype(float)
        coarse = at(grid).reshape(len(ys), len(xs), -1).astype(np.float32)
        scale = np.array([[1.0 / RAY_STEP_PX, 0.0, 0.0], [0.0, 1.0 / RAY_STEP_PX, 0.0]])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        parts = [
            cv2.warpAffine(
                coarse[..., k], scale, (x1 - x0, y1 - y0), flags=flags, borderMode=cv2.BORDER_REPLICATE
            )
            for k in range(coarse.shape[2])
        ]
        return np.asarray(np.stack(parts, axis=-1), np.float32)


def plane_hit(view: View, px: Array, point_mm: Array, normal: Array) -> Array:
    """(N, 3) where rays meet a plane; rays that miss it land far away (5 m)."""
    rays = view.rays(px)
    along = rays @ normal
    away = float((point_mm - view.eye_mm) @ normal)
    with np.errstate(divide="ignore"):
        far = np.where(along * away > 0, away / np.where(along == 0, 1e-12, along), 5000.0)
    return np.asarray(view.eye_mm + rays * np.minimum(far, 5000.0)[:, None])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Quads of one or more solids. ``corners``, ``normals`` (Q, 4, 3); ``part`` (Q,) which solid."""

    corners: Array
    normals: Array
    part: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Painted:
    """What the painter saw inside ``box``: part (-1: nothing), normal, place (h, w, 3)."""

    box: Box
    part: NDArray[np.int32]
    normal: Image
    place: Image


def sheet_mesh(rings: Array, part: int, *, closed: bool = True) -> Mesh:
    """Mesh of a (m, n, 3) grid of points; ``closed`` joins the last column to the first.

    Normals point to the left of (along a row) x (along a column).
    """
    pts = np.concatenate([rings, rings[:, :1]], axis=1) if closed else rings
    along = np.gradient(pts, axis=1)
    if closed:
        along[:, 0] = along[:, -1] = pts[:, 1] - pts[:, -2]
    normal = np.cross(along, np.gradient(pts, axis=0))
    normal /= np.linalg.norm(normal, axis=2, keepdims=True) + 1e-12
    index = [
        (slice(0, -1), slice(0, -1)),
        (slice(0, -1), slice(1, None)),
        (slice(1, None), slice(1, None)),
        (slice(1, None), slice(0, -1)),
    ]
    corners = np.stack([pts[i] for i in index], axis=2).reshape(-1, 4, 3)
    normals = np.stack([normal[i] for i in index], axis=2).reshape(-1, 4, 3)
    return Mesh(corners=corners, normals=normals, part=np.full(len(corners), part))


def tube(path_mm: Array, radii_mm: Array, part: int, *, around: int = 28) -> Mesh:
    """A round tube along (n, 3) points with (n,) radii."""
    ahead = np.gradient(path_mm, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True)
    side = np.cross(ahead, [0.05, 0.3, 1.0])
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    other = np.cross(ahead, side)
    turn = np.arange(around) * 2 * np.pi / around
    circle = side[:, None] * np.cos(turn)[None, :, None] + other[:, None] * np.sin(turn)[None, :, None]
    rings = path_mm[:, None] + circle * radii_mm[:, None, None]
    mesh = sheet_mesh(rings, part)
    # Outward, whatever the path's direction.
    middle = np.repeat((path_mm[:-1] + path_mm[1:]) / 2, around, axis=0)
    inward = ((mesh.corners.mean(axis=1) - middle) * mesh.normals.mean(axis=1)).sum() < 0
    return Mesh(corners=mesh.corners, normals=-mesh.normals if inward else mesh.normals, part=mesh.part)


def joined(meshes: list[Mesh]) -> Mesh:
    """All quads together."""
    return Mesh(
        corners=np.concatenate([m.corners for m in meshes]),
        normals=np.concatenate([m.normals for m in meshes]),
        part=np.concatenate([m.part for m in meshes]),
    )


def paint(view: View, mesh: Mesh) -> Painted:
    """Paint a mesh, far quads first, back faces dropped."""
    middle = mesh.corners.mean(axis=1)
    to_eye = view.eye_mm - middle
    seen = (mesh.normals.mean(axis=1) * to_eye).sum(axis=1) > 0
    order = np.flatnonzero(seen & view.before(mesh.corners).all(axis=1))
    order = order[np.argsort(-np.linalg.norm(to_eye[order], axis=1))]
    px = view.px(mesh.corners[order].reshape(-1, 3)).reshape(-1, 4, 2)
    margin = 2.0 * max(view.width_px, view.height_px)
    near = (np.abs(px - view.centre_px) < margin).all(axis=(1, 2))
    order, px = order[near], px[near]
    if not len(order):
        nothing = np.zeros((0, 0), np.int32)
        return Painted(
            box=(0, 0, 0, 0),
            part=nothing,
            normal=np.zeros((0, 0, 3), np.float32),
            place=np.zeros((0, 0, 3), np.float32),
        )
    box = view.box(mesh.corners[order].reshape(-1, 3))
    number = np.full((box[3] - box[1], box[2] - box[0]), -1, np.int32)
    fixed = np.round((px - [box[0], box[1]]) * 16).astype(np.int32)
    for k, quad in enumerate(fixed):
        cv2.fillConvexPoly(number, quad, k, shift=4)
    ys, xs = np.nonzero(number >= 0)
    quad = number[ys, xs]
    fit, centre = _planes(px, np.concatenate([mesh.normals[order], mesh.corners[order]], axis=2))
    dx = (xs + box[0] - centre[quad, 0]).astype(np.float32)
    dy = (ys + box[1] - centre[quad, 1]).astype(np.float32)
    value = fit[quad, 0] + fit[quad, 1] * dx[:, None] + fit[quad, 2] * dy[:, None]
    normal = np.zeros((*number.shape, 3), np.float32)
    place = np.zeros((*number.shape, 3), np.float32)
    unit = value[:, :3]
    normal[ys, xs] = unit / (np.linalg.norm(unit, axis=1, keepdims=True) + 1e-9)
    place[ys, xs] = value[:, 3:]
    part = np.full(number.shape, -1, np.int32)
    part[ys, xs] = mesh.part[order][quad]
    return Painted(box=box, part=part, normal=normal, place=place)


def _planes(px: Array, values: Array) -> tuple[NDArray[np.float32], Array]:
    """Per quad the least-squares plane value = a + b dx + c dy through its four corners."""
    centre = px.mean(axis=1)
    d = px - centre[:, None]
    sxx, syy, sxy = (d[..., 0] ** 2).sum(1), (d[..., 1] ** 2).sum(1), (d[..., 0] * d[..., 1]).sum(1)
    ridge = 1e-3 * (sxx + syy) + 1e-6  # slivers seen edge-on have no slope across
    sxx, syy = sxx + ridge, syy + ridge
    det = sxx * syy - sxy**2
    vx = (values * d[..., :1]).sum(axis=1)
    vy = (values * d[..., 1:]).sum(axis=1)
    b = (syy[:, None] * vx - sxy[:, None] * vy) / det[:, None]
    c = (sxx[:, None] * vy - sxy[:, None] * vx) / det[:, None]
    return np.stack([values.mean(axis=1), b, c], axis=1).astype(np.float32), centre
