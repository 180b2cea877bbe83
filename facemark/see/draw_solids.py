"""The solid things of a drawn photo: body, hosel and shaft of the club, fingers, the ball.

Bodies are stacks of rings behind the face's outline (face frame, mm); the ball is ray-cast with its dimples.
"""

from __future__ import annotations

import functools
import math

import numpy as np

from facemark.see.camera import Array, sag_mm
from facemark.see.draw_head import Head
from facemark.see.draw_noise import Image
from facemark.see.draw_view import Box, Mesh, View, joined, sheet_mesh, tube

BODY, HOSEL, FERRULE, SHAFT, SKIN, NAIL = range(6)
BALL_MM = 42.67  # Equipment Rules, Part 4: not less than 42.67 mm


def face_z(head: Head, mm: Array) -> Array:
    """(N,) height of the face's surface over its tangent plane (negative: behind)."""
    return -(sag_mm(mm[:, 0], head.bulge_mm) + sag_mm(mm[:, 1], head.roll_mm))


def on_face(head: Head, mm: Array) -> Array:
    """(N, 3) points of the face's surface at (N, 2) face mm."""
    mm = np.asarray(mm, float).reshape(-1, 2)
    return np.column_stack([mm, face_z(head, mm)])


def club_mesh(head: Head, rng: np.random.Generator) -> Mesh:
    """Body, hosel, ferrule and shaft."""
    body = _iron_body(head, rng) if head.is_iron else _wood_body(head, rng)
    low = head.outline_mm.min(axis=0)
    if head.is_iron:
        base = np.array([low[0] + 2.5, low[1] + 0.32 * head.height_mm, -6.5])
        hosel_mm, wide = rng.uniform(48, 62), 6.6
    else:
        base = np.array([low[0] + 0.09 * head.length_mm, 0.10 * head.height_mm, -15.0])
        hosel_mm, wide = rng.uniform(38, 56), rng.uniform(7.5, 9.5)
    steps = np.linspace(0.0, 1.0, 14)
    hosel = base + steps[:, None] * hosel_mm * head.shaft
    flare = (
        6.4 + (wide - 6.4) * (1.0 - steps) ** 1.5 + (6.0 * (1.0 - steps) ** 6 if not head.is_iron else 0.0)
    )
    top = hosel[-1]
    ferrule_mm = rng.uniform(10, 26)
    ferrule = top + np.linspace(0.0, 1.0, 6)[:, None] * ferrule_mm * head.shaft
    along = np.concatenate([np.linspace(0, 200, 50), np.linspace(210, 900, 60)])
    shaft = ferrule[-1] + along[:, None] * head.shaft
    tip = rng.uniform(4.2, 4.8)
    return joined(
        [
            body,
            tube(hosel, np.asarray(flare), HOSEL),
            tube(ferrule, np.linspace(6.3, tip + 0.5, 6), FERRULE),
            tube(shaft, tip + along * 0.0035, SHAFT),
        ]
    )


def _outward(pts: Array) -> Array:
    """(N, 2) unit normals of a closed outline, pointing out."""
    along = np.roll(pts, -1, axis=0) - np.roll(pts, 1, axis=0)
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return normal if (normal * pts).sum() > 0 else -normal


def _wood_body(head: Head, rng: np.random.Generator) -> Mesh:
    rim = head.outline_mm[::3]
    out = _outward(rim)
    edge = rng.uniform(1.2, 3.0)
    crown, sole = rng.uniform(0.04, 0.20), rng.uniform(-0.04, 0.06)
    power = rng.uniform(1.9, 2.6)
    z0 = face_z(head, rim)
    rings = []
    for t in np.concatenate(
        [edge * (1 - np.cos(np.linspace(0, math.pi / 2, 7))), np.linspace(edge, head.depth_mm, 30)[1:]]
    ):
        widen = edge * math.sqrt(max(1.0 - (1.0 - min(t / edge, 1.0)) ** 2, 0.0))
        tau = max(t - edge, 0.0) / (head.depth_mm - edge)
        shrink = max(1.0 - tau**power, 0.0)
        ring = rim + out * widen
        lift = np.where(ring[:, 1] > 0, crown, sole) * math.sin(math.pi * tau**0.75)
        scale_y = shrink**0.75 * (1.0 + lift)
        xy = np.column_stack(
            [ring[:, 0] * shrink**0.5 * (1 + 0.03 * math.sin(math.pi * tau)), ring[:, 1] * scale_y]
        )
        # The tail rises a little: crown flat, sole sloping up.
        xy[:, 1] += 0.12 * head.height_mm * tau**1.5
        rings.append(np.column_stack([xy, z0 * (1.0 - tau) - t]))
    return _facing_out(sheet_mesh(np.array(rings), BODY))


def _iron_body(head: Head, rng: np.random.Generator) -> Mesh:
    rim = head.outline_mm[::3]
    out = _outward(rim)
    high = (rim[:, 1] - rim[:, 1].min()) / head.height_mm
    thick = rng.uniform(3.5, 6.0) * high + rng.uniform(13.0, 20.0) * (1.0 - high) ** 2 + 1.0
    edge = rng.uniform(0.5, 1.2)
    rings = []
    for s in np.concatenate([np.linspace(0, 0.12, 5), np.linspace(0.2, 1.0, 8)]):
        widen = edge * math.sqrt(max(1.0 - (1.0 - min(s / 0.12, 1.0)) ** 2, 0.0)) - 0.5 * s
        rings.append(np.column_stack([rim + out * widen, -s * thick]))
    return _facing_out(sheet_mesh(np.array(rings), BODY))


def _facing_out(mesh: Mesh) -> Mesh:
    inward = (mesh.corners.mean(axis=1)[:, :2] * mesh.normals.mean(axis=1)[:, :2]).sum() < 0
    return Mesh(corners=mesh.corners, normals=-mesh.normals if inward else mesh.normals, part=mesh.part)


def finger(tip_mm: Array, way: Array, wrist_mm: Array, out: Array, rng: np.random.Generator) -> Mesh:
    """A finger from its tip to the shared wrist and on along the arm; ``out`` is the side of the nail."""
    thick = rng.uniform(7.0, 9.0)
    knee = tip_mm + way * rng.uniform(55, 75) + out * rng.uniform(0.0, 10.0)
    t = np.linspace(0.0, 1.0, 60)[:, None] ** 1.6
    path = (1 - t) ** 2 * tip_mm + 2 * t * (1 - t) * knee + t**2 * wrist_mm
    arm = wrist_mm - knee
    path = np.vstack(
        [path, wrist_mm + np.linspace(0.05, 1.0, 16)[:, None] * arm * 350.0 / np.linalg.norm(arm)]
    )
    s = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    # Round tip: a quarter circle's worth of thickness over the first ``thick`` mm; never quite zero.
    cap = np.sqrt(np.clip(1.0 - (1.0 - np.minimum((s + 0.1) / thick, 1.0)) ** 2, 0.01, 1.0))
    joints = 0.06 * np.exp(-(((s - 27) / 7) ** 2)) + 0.10 * np.exp(-(((s - 52) / 9) ** 2))
    palm = 1.7 / (1.0 + np.exp(-(s - 95.0) / 12.0))
    skin = tube(path, thick * cap * (0.92 + joints + palm), SKIN)
    middle = skin.corners.mean(axis=1) - tip_mm
    along = middle @ way
    nail = (along < thick + 3.5) & (along > 1.5) & (skin.normals.mean(axis=1) @ out > 0.75)
    return Mesh(corners=skin.corners, normals=skin.normals, part=np.where(nail, NAIL, SKIN))


@functools.cache
def dimple_directions() -> Array:
    """(362, 3) unit vectors, evenly spread: an icosahedron's faces divided by six."""
    g = (1 + math.sqrt(5)) / 2
    v = np.array(
        [
            [-1, g, 0],
            [1, g, 0],
            [-1, -g, 0],
            [1, -g, 0],
            [0, -1, g],
            [0, 1, g],
            [0, -1, -g],
            [0, 1, -g],
            [g, 0, -1],
            [g, 0, 1],
            [-g, 0, -1],
            [-g, 0, 1],
        ],
        float,
    )
    length = np.linalg.norm(v[:, None] - v[None], axis=2)
    near = length < 2.1
    points = []
    for i in range(12):
        for j in range(i + 1, 12):
            for k in range(j + 1, 12):
                if near[i, j] and near[j, k] and near[i, k]:
                    points += [
                        a * v[i] + b * v[j] + (6 - a - b) * v[k] for a in range(7) for b in range(7 - a)
                    ]
    unit = np.array(points) / np.linalg.norm(points, axis=1, keepdims=True)
    _, first = np.unique(np.round(unit, 4), axis=0, return_index=True)
    return np.asarray(unit[np.sort(first)])


def ball_pixels(
    view: View, centre_mm: Array, diameter_mm: float, rng: np.random.Generator
) -> tuple[Box, Image, Image]:
    """Box, (h, w) coverage and (h, w, 3) normals of a dimpled ball."""
    r = diameter_mm / 2
    reach = np.array([[i, j, k] for i in (-r, r) for j in (-r, r) for k in (-r, r)])
    box = view.box(centre_mm + reach)
    rays = view.on_grid(box, view.rays)
    rays /= np.linalg.norm(rays, axis=2, keepdims=True)
    to_centre = (centre_mm - view.eye_mm).astype(np.float32)
    along = rays @ to_centre
    miss2 = np.maximum(float(to_centre @ to_centre) - along**2, 0.0)
    mm_per_px = float(np.linalg.norm(to_centre)) / view.focal_px
    cover = np.clip(0.5 + (r - np.sqrt(miss2)) / mm_per_px, 0.0, 1.0)
    inside = np.sqrt(np.maximum(r**2 - miss2, 0.0))
    normal = (rays * (along - inside)[..., None] - to_centre) / r
    normal /= np.linalg.norm(normal, axis=2, keepdims=True) + 1e-9
    base = normal.copy()
    turn, _ = np.linalg.qr(rng.standard_normal((3, 3)))
    wide, slope = rng.uniform(0.080, 0.092), rng.uniform(0.12, 0.24)
    to_eye = -to_centre / np.linalg.norm(to_centre)
    for way in (dimple_directions() @ turn.T).astype(np.float32):
        if way @ to_eye < 0.05:
            continue
        at = view.px(centre_mm + r * way)[0] - [box[0], box[1]]
        half = 1.3 * wide * r / mm_per_px + 2
        y0, y1 = max(int(at[1] - half), 0), int(at[1] + half) + 1
        x0, x1 = max(int(at[0] - half), 0), int(at[0] + half) + 1
        patch = base[y0:y1, x0:x1]
        toward = way - patch
        away = np.linalg.norm(toward, axis=2, keepdims=True) / wide
        tilt = slope * np.where(away < 1.0, away, np.clip(1.0 - (away - 1.0) / 0.15, 0.0, 1.0))
        normal[y0:y1, x0:x1] += tilt * toward / (away * wide + 1e-6)
    normal /= np.linalg.norm(normal, axis=2, keepdims=True) + 1e-9
    return box, np.asarray(cover, np.float32), np.asarray(normal, np.float32)


def ball_mesh(centre_mm: Array, diameter_mm: float) -> Mesh:
    """A coarse ball, for its shadow."""
    polar = np.linspace(0.05, math.pi - 0.05, 12)
    turn = np.arange(24) * 2 * math.pi / 24
    ring = np.stack([np.cos(turn), np.sin(turn), np.zeros(24)], axis=1)
    rings = ring[None] * np.sin(polar)[:, None, None] + np.cos(polar)[:, None, None] * np.array(
        [0.0, 0.0, 1.0]
    )
    return sheet_mesh(centre_mm + rings * diameter_mm / 2, BODY)
