"""The light that reaches the sensor of a drawn shot.

Painted far to near: backdrop and ground, shadows, body and shaft, the powdered face, scale object, fingers,
grass in front. The face is ray-cast on its bulge/roll surface, so its truth is exact.
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from facemark.inputs import ReferenceKind
from facemark.see import draw_ground as ground_
from facemark.see.camera import Array
from facemark.see.draw_head import Head, Plate
from facemark.see.draw_light import shadow_edges, unit
from facemark.see.draw_marks import Spray
from facemark.see.draw_noise import Image, layered_noise, stretched_noise
from facemark.see.draw_scale import Ball, Flat, flat_pixels
from facemark.see.draw_scene import Scene, scale_points
from facemark.see.draw_solids import (
    BODY,
    FERRULE,
    HOSEL,
    NAIL,
    SHAFT,
    SKIN,
    ball_mesh,
    ball_pixels,
    club_mesh,
    face_z,
    finger,
    on_face,
)
from facemark.see.draw_view import Box, Mesh, Painted, View, joined, paint, plane_hit

Looks = dict[int, tuple[Array, float, float]]


def shoot(
    scene: Scene, head: Head, plate: Plate, powder: Image, spray: Spray, rng: np.random.Generator
) -> Image:
    """(H, W, 3) linear light of the whole picture."""
    view = scene.view
    shape = (view.height_px, view.width_px)
    face_px = view.px(on_face(head, head.outline_mm))
    lit = shadow_edges(
        shape, face_px.mean(axis=0), float(np.ptp(face_px, axis=0).max()), rng, n=scene.n_edges
    )
    club = club_mesh(head, np.random.default_rng(rng.integers(2**32)))
    fingers = _fingers(scene, rng)
    image = _surroundings(scene, head, club, fingers, lit, rng)
    looks = _looks(head, rng)
    _composite_mesh(image, scene, head, paint(view, club), lit, spray, looks, rng)
    if fingers:
        _composite_mesh(image, scene, head, paint(view, joined(fingers[1:])), lit, spray, looks, rng)
    _composite_face(image, scene, head, plate, powder, spray, lit)
    _composite_scale(image, scene, lit, rng)
    if fingers:
        _composite_mesh(image, scene, head, paint(view, fingers[0]), lit, spray, looks, rng)
    if scene.kind == "soled" and scene.ground == "grass":
        _grass_in_front(image, scene, head, rng)
    return image


def _surroundings(
    scene: Scene, head: Head, club: Mesh, fingers: list[Mesh], lit: Image, rng: np.random.Generator
) -> Image:
    """Backdrop, ground, and what the things before it take from its light."""
    view, light = scene.view, scene.light
    image = ground_.backdrop((view.height_px, view.width_px), rng)
    point, normal = scene.floor
    tile, tile_mm = ground_.ground_tile(scene.ground, scene.hue_frac, rng)
    if scene.kind == "held":
        tile = cv2.GaussianBlur(tile, (0, 0), 5.0)
    ground, far = ground_.draw_ground(
        view, tile, tile_mm * (2.2 if scene.kind == "held" else 1.0), point, normal
    )
    solids = [club, *fingers]
    if isinstance(scene.scale, Ball):
        solids.append(ball_mesh(scene.scale.centre_mm, scene.scale.diameter_mm))
    corners = np.concatenate([m.corners for m in solids])
    if isinstance(scene.scale, Flat):
        corners = np.concatenate([corners, scene.scale.place(scene.scale.bounds())[None]])
    mm_px = view.focal_px / float(np.linalg.norm(view.eye_mm))
    soft = (1.0 if light.sun_rgb[1] > 0.6 else 7.0) * mm_px * (1.0 if scene.kind == "soled" else 2.0)
    sun = ground_.ground_shadow(view, corners, point, normal, light.to_sun, soft)
    near = ground_.ground_shadow(view, corners, point, normal, normal, 9.0 * mm_px)
    edge = 900.0 if scene.kind == "soled" else 4000.0
    here = np.clip((edge - far) / np.float32(0.25 * edge), 0.0, 1.0)
    full, none = (light.diffuse(normal.astype(np.float32), np.float32(v)) for v in (1.0, 0.0))
    direct, dim = lit * (1.0 - sun), here * (1.0 - 0.55 * near)
    planes = [
        b * (1.0 - here) + g * dim * (none[k] + (full[k] - none[k]) * direct)
        for k, (b, g) in enumerate(zip(cv2.split(image), cv2.split(ground), strict=True))
    ]
    return np.asarray(cv2.merge(planes), np.float32)


def _composite_mesh(
    image: Image,
    scene: Scene,
    head: Head,
    seen: Painted,
    lit: Image,
    spray: Spray,
    looks: Looks,
    rng: np.random.Generator,
) -> None:
    """Shade painted solids into the picture; the body's edge carries overspray."""
    if seen.part.size == 0:
        return
    x0, y0, x1, y1 = seen.box
    patch, here = image[y0:y1, x0:x1], seen.part >= 0
    part, normal, place = seen.part[here], seen.normal[here], seen.place[here]
    light, lit_here = scene.light, lit[y0:y1, x0:x1][here]
    to_eye = scene.view.eye_mm.astype(np.float32) - place
    to_eye /= np.linalg.norm(to_eye, axis=1, keepdims=True)
    mirror = 2.0 * (normal * to_eye).sum(axis=1, keepdims=True) * normal - to_eye
    matt = light.diffuse(normal, lit_here)
    colour = np.zeros((len(part), 3), np.float32)
    for k, (own, share, shine) in looks.items():
        pick = part == k
        if pick.any():
            colour[pick] = own.astype(np.float32) * matt[pick] + share * light.mirrored(
                mirror[pick], shine, lit_here[pick]
            )
    body = part == BODY
    if body.any():
        cover = _overspray(head, place[body], normal[body], spray, rng)[:, None]
        colour[body] += cover * (0.8 * np.array(spray.tint, np.float32) * matt[body] - colour[body])
    skin = part == SKIN
    if skin.any():
        wrinkle = stretched_noise((256, 256), (2.0, 14.0), rng)
        at = (place[skin] * 4.0).astype(int)
        colour[skin] *= np.exp(0.05 * wrinkle[at[:, 0] % 256, (at[:, 1] + at[:, 2]) % 256])[:, None]
    patch[here] = colour


def _looks(head: Head, rng: np.random.Generator) -> Looks:
    """Own colour, mirrored share and sharpness of everything but the face."""
    tint = 1.0 + 0.06 * rng.standard_normal(3)
    steel = np.full(3, 0.22) if rng.random() < 0.6 else head.body_rgb
    shaft = [np.full(3, 0.30), np.full(3, 0.02), rng.uniform(0.02, 0.2, 3)][int(rng.integers(3))]
    return {
        BODY: (head.body_rgb, 0.10, 120.0),
        HOSEL: (steel, 0.18, 60.0),
        FERRULE: (np.full(3, 0.012), 0.06, 40.0),
        SHAFT: (shaft, 0.30 if shaft[0] > 0.25 else 0.06, 80.0),
        SKIN: (np.array([0.50, 0.30, 0.21]) * rng.uniform(0.25, 1.1) * tint, 0.012, 12.0),
        NAIL: (np.array([0.55, 0.36, 0.30]) * rng.uniform(0.5, 1.1), 0.05, 60.0),
    }


def _overspray(head: Head, place: Image, normal: Image, spray: Spray, rng: np.random.Generator) -> Image:
    """(N,) share of the body hidden by powder: all at the face's rim, less behind, in grains."""
    behind = np.maximum(face_z(head, np.asarray(place[:, :2], float)) - place[:, 2], 0.0)
    size = 512
    noise = layered_noise((size, size), (2.0, 7.0, 60.0), rng, fall=0.8)
    # Look the noise up along the surface: the two axes that the normal points away from.
    main = np.argmax(np.abs(normal) * np.array([1.0, 1.0, 0.8]), axis=1)
    first = np.where(main == 0, place[:, 1], place[:, 0])
    second = np.where(main == 2, place[:, 1], place[:, 2])
    at = (np.stack([first, second], axis=1) * 4.0).astype(int) % size
    reach = rng.uniform(1.5, 14.0)
    level = 0.8 * np.exp(-behind / reach) + 0.05
    cover = 1.0 - np.exp(-spray.depth_ratio * level * np.exp(1.2 * noise[at[:, 1], at[:, 0]] - 0.5))
    return np.asarray(cover, np.float32)


def _composite_face(
    image: Image, scene: Scene, head: Head, plate: Plate, powder: Image, spray: Spray, lit: Image
) -> None:
    """The powdered face, ray-cast: bare metal mirrors, powder is matt and a little rough."""
    view, light = scene.view, scene.light
    box = view.box(on_face(head, head.outline_mm))
    x0, y0, x1, y1 = box
    mm = view.on_grid(box, lambda px: face_mm(view, head, px))
    at = np.stack([mm[..., 0] - plate.left_mm, plate.top_mm - mm[..., 1]], axis=-1) * plate.px_per_mm
    veil = 1.0 - np.exp(-np.maximum(powder, 0.0))
    smooth = cv2.GaussianBlur(powder, (0, 0), 0.12 * plate.px_per_mm)
    rough = 0.02 * plate.px_per_mm / 10.0
    slope_x = -rough * np.clip(cv2.Sobel(smooth, cv2.CV_32F, 1, 0), -6, 6)
    slope_y = rough * np.clip(cv2.Sobel(smooth, cv2.CV_32F, 0, 1), -6, 6)
    groove = cv2.Sobel(plate.groove, cv2.CV_32F, 0, 1) * 0.15
    flat = np.dstack([veil, slope_x, slope_y - groove, plate.inside, plate.matt, plate.paint])
    shrink = float(np.linalg.norm(view.eye_mm)) / view.focal_px * plate.px_per_mm
    if shrink > 1.3:
        flat = cv2.GaussianBlur(flat, (0, 0), 0.35 * shrink)
    seen = [
        cv2.remap(np.ascontiguousarray(flat[..., a:b]), at, None, cv2.INTER_LINEAR)
        for a, b in ((0, 4), (4, 8))
    ]
    veil, slope_x, slope_y, inside = (seen[0][..., k] for k in range(4))
    matt, paint_ = seen[1][..., :1], seen[1][..., 1:]
    normal = _face_normal(head, mm)
    away = np.dstack([mm, np.zeros(mm.shape[:2], np.float32)])
    to_eye = view.eye_mm.astype(np.float32) - away
    to_eye /= np.linalg.norm(to_eye, axis=2, keepdims=True)
    lit_here = lit[y0:y1, x0:x1]
    mirror = 2.0 * (normal * to_eye).sum(axis=2, keepdims=True) * normal - to_eye
    bumpy = normal + np.dstack([slope_x, slope_y, np.zeros_like(slope_x)])
    bumpy /= np.linalg.norm(bumpy, axis=2, keepdims=True)
    metal = head.metal_rgb.astype(np.float32) * paint_ * light.diffuse(normal, lit_here)
    share = head.gloss_frac * (1.0 - matt) * np.clip(paint_.mean(axis=2, keepdims=True), 0.3, 1.5)
    metal += share * light.mirrored(mirror, head.shine_ratio, lit_here)
    white = 0.82 * np.array(spray.tint, np.float32) * (1.0 - 0.35 * spray.wet_frac)
    dust = white * light.diffuse(bumpy, lit_here)
    if spray.wet_frac > 0:
        dust += 0.02 * spray.wet_frac * light.mirrored(mirror, 20.0, lit_here)
    face = metal + veil[..., None] * (dust - metal)
    patch = image[y0:y1, x0:x1]
    patch += np.clip(inside, 0.0, 1.0)[..., None] * (face - patch)


def _face_normal(head: Head, mm: Image) -> Image:
    """(h, w, 3) unit normals of the bulge/roll surface."""
    slope = [
        mm[..., k] / np.sqrt(np.maximum(r**2 - mm[..., k] ** 2, 1.0))
        if math.isfinite(r)
        else np.zeros_like(mm[..., k])
        for k, r in enumerate((head.bulge_mm, head.roll_mm))
    ]
    normal = np.dstack([*slope, np.ones_like(mm[..., 0])])
    return np.asarray(normal / np.linalg.norm(normal, axis=2, keepdims=True), np.float32)


def face_mm(view: View, head: Head, px: Array) -> Array:
    """(N, 2) where rays meet the bulge/roll surface, by Newton steps on the sag along the ray."""
    rays, eye = view.rays(px), view.eye_mm
    along = -eye[2] / rays[:, 2]
    for _ in range(8):
        at = eye + rays * along[:, None]
        along = (face_z(head, np.clip(at[:, :2], -150, 150)) - eye[2]) / rays[:, 2]
    return np.asarray((eye + rays * along[:, None])[:, :2])


def _composite_scale(image: Image, scene: Scene, lit: Image, rng: np.random.Generator) -> None:
    if scene.scale is None:
        return
    view, light = scene.view, scene.light
    if isinstance(scene.scale, Flat):
        box, cover, own = flat_pixels(view, scene.scale, rng)
        x0, y0, x1, y1 = box
        colour = own * light.diffuse(scene.scale.normal.astype(np.float32), lit[y0:y1, x0:x1])
        if scene.scale.kind is ReferenceKind.CARD:
            colour = colour + 0.02 * _mirrored_flat(scene, box, lit[y0:y1, x0:x1])
    else:
        box, cover, normal = ball_pixels(view, scene.scale.centre_mm, scene.scale.diameter_mm, rng)
        x0, y0, x1, y1 = box
        to_eye = unit(view.eye_mm - scene.scale.centre_mm).astype(np.float32)
        mirror = 2.0 * (normal @ to_eye)[..., None] * normal - to_eye
        colour = scene.scale.colour.astype(np.float32) * light.diffuse(normal, lit[y0:y1, x0:x1])
        colour = colour + 0.03 * light.mirrored(mirror, 60.0, lit[y0:y1, x0:x1])
    patch = image[y0:y1, x0:x1]
    patch += cover[..., None] * (colour - patch)


def _mirrored_flat(scene: Scene, box: Box, lit: Image) -> Image:
    flat = scene.scale
    assert isinstance(flat, Flat)
    n = flat.normal

    def way(px: Array) -> Array:
        to_eye = scene.view.eye_mm - plane_hit(scene.view, px, flat.origin_mm, n)
        to_eye /= np.linalg.norm(to_eye, axis=1, keepdims=True)
        return np.asarray(2.0 * (to_eye @ n)[:, None] * n - to_eye)

    return scene.light.mirrored(scene.view.on_grid(box, way), 40.0, lit)


def _fingers(scene: Scene, rng: np.random.Generator) -> list[Mesh]:
    """Thumb in front, finger behind, when the scale object is held; the arm leaves the frame."""
    if scene.scale is None or not scene.scale.held:
        return []
    out = np.array([0.0, 0.0, 1.0])
    middle = scale_points(scene.scale).mean(axis=0)
    # The hand comes from the side away from the face, over the ground from the toe's side.
    away = np.array([1.0, 0.1, 0.0]) if scene.kind == "soled" else unit(middle * [1.0, 1.0, 0.0])
    way = unit(away + np.append(rng.normal(0.0, 0.25, 2), 0.0))
    side = np.cross(way, out)
    wrist = way * 165.0 + side * rng.normal(0.0, 25.0) + out * 12.0
    if isinstance(scene.scale, Ball):
        c, r = scene.scale.centre_mm, scene.scale.diameter_mm / 2
        tips = [c + way * (0.85 * r) + k * side * 0.5 * r + z * out for k, z in ((1.0, 8.0), (-1.0, -6.0))]
        return [finger(tip, way, c + wrist, out, rng) for tip in tips]
    flat = scene.scale
    corners = flat.place(flat.bounds())
    # The edge toward the hand, a place on it away from the corners.
    first = int(np.argmax([(corners[k] + corners[(k + 1) % 4]) @ way for k in range(4)]))
    t = rng.uniform(0.3, 0.7)
    spot = corners[first] * t + corners[(first + 1) % 4] * (1 - t)
    over = rng.uniform(1.0, 4.0) if flat.tags else rng.uniform(4.0, 11.0)
    thumb = finger(spot - way * over + out * 9.0, way, spot + wrist, out, rng)
    return [thumb, finger(spot - way * (over + 9.0) - out * 10.0, way, spot + wrist, -out, rng)]


def _grass_in_front(image: Image, scene: Scene, head: Head, rng: np.random.Generator) -> None:
    """Blades between the sole and the camera; they hide a little of the face's lower edge, as turf does."""
    light = float(scene.light.diffuse(scene.floor[1].astype(np.float32), np.float32(1.0)).mean())
    ground_.standing_blades(
        scene.view,
        image,
        scene.floor,
        head.length_mm,
        rng,
        n=int(rng.integers(1500, 6000)),
        hue=scene.hue_frac,
        light=light,
        grass_mm=scene.grass_mm,
    )
