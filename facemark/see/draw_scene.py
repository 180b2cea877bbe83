"""Where everything of a drawn shot is: ground, scale object, camera and light around the head.

Three kinds of shot: the club soled on the ground, the head lying face up, or held before something far away.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from facemark.inputs import Hand, ReferenceKind
from facemark.see.camera import Array
from facemark.see.draw_ground import GROUNDS
from facemark.see.draw_head import Head
from facemark.see.draw_light import Light, draw_light, unit
from facemark.see.draw_scale import Flat, ScaleObject, draw_scale_object
from facemark.see.draw_solids import on_face
from facemark.see.draw_view import View

NEAREST_MM = 240.0  # nearer, phones change to a wide lens or lose focus; assumed
SCENES = ("soled", "lying", "held")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """Everything of a shot but the club and its powder."""

    view: View
    light: Light
    kind: str
    ground: str
    floor: tuple[Array, Array]  # a point of the ground, its normal
    scale: ScaleObject | None
    focal_35mm: float
    tilt_deg: float
    n_edges: int  # shadow edges across the face
    glare: bool
    hue_frac: float  # of the turf, 0 blue-green to 1 yellow-green
    grass_mm: float  # mean length of the blades before the sole


def make_scene(
    head: Head,
    rng: np.random.Generator,
    *,
    size_px: tuple[int, int],
    reference: ReferenceKind,
    kind: str | None,
    tilt_deg: tuple[float, float],
    n_edges: int,
    glare: bool,
    side_mm: float | None = None,
    spacer_mm: float | None = None,
    k1_ratio: float = 0.0,
) -> Scene:
    """Place ground, scale object, camera and light at random around the head."""
    kind = kind or str(rng.choice(SCENES, p=[0.4, 0.35, 0.25]))
    if reference is ReferenceKind.SHEET and kind == "soled":
        kind = "lying"  # its sole bar would be in the ground
    ground = str(rng.choice(GROUNDS, p=[0.27, 0.2, 0.14, 0.18, 0.09, 0.08, 0.04]))
    floor = _floor(head, kind, rng)
    scale = (
        None
        if reference is ReferenceKind.FACE
        else draw_scale_object(reference, head, kind, floor, rng, side_mm=side_mm, spacer_mm=spacer_mm)
    )
    view, f35, tilt = _camera(
        head, scale, kind, floor, rng, size_px=size_px, tilt_deg=tilt_deg, k1_ratio=k1_ratio
    )
    up = head.up if kind == "soled" else unit(np.array([rng.normal(0, 0.2), 0.8, 0.7]))
    glare_at = None
    if glare:
        x, y = rng.normal(0.0, 0.22, 2) * [head.length_mm, head.height_mm]
        glare_at = unit(np.array([x / head.bulge_mm, y / head.roll_mm, 1.0]))
    light = draw_light(up, view.eye_mm, rng, glare_at=glare_at)
    return Scene(
        view=view,
        light=light,
        kind=kind,
        ground=ground,
        floor=floor,
        scale=scale,
        focal_35mm=f35,
        tilt_deg=tilt,
        n_edges=n_edges,
        glare=glare,
        hue_frac=float(rng.random()),
        grass_mm=float(rng.uniform(2.5, 6.0)),
    )


def _floor(head: Head, kind: str, rng: np.random.Generator) -> tuple[Array, Array]:
    """Ground under the sole, behind the back of the head, or far away."""
    if kind == "soled":
        up = head.up
        rim = on_face(head, head.outline_mm)
        lowest = rim[np.argmin(rim @ up)]
        return lowest - rng.uniform(1.5, 4.0) * up, up
    normal = unit(np.array([rng.normal(0, 0.06), rng.normal(0, 0.06), 1.0]))
    away = head.depth_mm * rng.uniform(0.75, 1.1) + 4.0 if kind == "lying" else rng.uniform(700, 1300)
    return np.array([0.0, 0.0, -away]), normal


def scale_points(scale: ScaleObject | None) -> Array:
    """(N, 3) points that must be in the frame."""
    if scale is None:
        return np.zeros((0, 3))
    if isinstance(scale, Flat):
        return scale.place(scale.bounds())
    r = scale.diameter_mm / 2
    return np.asarray(scale.centre_mm + np.array([[r, 0, 0], [-r, 0, 0], [0, r, 0], [0, -r, 0]]))


def _camera(
    head: Head,
    scale: ScaleObject | None,
    kind: str,
    floor: tuple[Array, Array],
    rng: np.random.Generator,
    *,
    size_px: tuple[int, int],
    tilt_deg: tuple[float, float],
    k1_ratio: float,
) -> tuple[View, float, float]:
    """A hand-held phone: any usual focal length, tilt within the given range, everything in the frame."""
    width, height = size_px
    f35 = float(rng.choice([24.0, 26.0, 27.0, 28.0, 35.0, 48.0, 52.0]))
    focal = f35 * math.hypot(width, height) / 43.27
    must = np.vstack([on_face(head, head.outline_mm), scale_points(scale)])
    middle = (must[:, :2].max(axis=0) + must[:, :2].min(axis=0)) / 2
    span = np.ptp(must[:, :2], axis=0)
    fill = rng.uniform(0.38, 0.78) if scale is not None else rng.uniform(0.3, 0.62)
    distance = max(focal * max(span[0] / (fill * width), span[1] / (fill * height)), NEAREST_MM)
    target = np.array([middle[0], middle[1], 0.0])
    for attempt in range(60):
        tilt = math.radians(rng.uniform(*tilt_deg))
        turn = rng.uniform(0, 2 * math.pi)
        eye_way = np.array([math.sin(tilt) * math.cos(turn), math.sin(tilt) * math.sin(turn), math.cos(tilt)])
        # Tilt is meant at the face centre, so the eye starts from there, not from the middle of the frame.
        eye = eye_way * distance
        above = (eye - floor[0]) @ floor[1] > (70.0 if kind == "soled" else 30.0)
        if above or attempt == 59:
            break
    roll = math.radians(rng.normal(0.0, 4.0))
    spot = target + np.append(rng.normal(0.0, 0.05, 2) * span.max(), 0.0)
    for _ in range(40):
        view = _look(head.hand, eye, spot, roll, focal=focal, size_px=size_px, k1_ratio=k1_ratio)
        px = view.px(must)
        if (px > [0.03 * width, 0.03 * height]).all() and (px < [0.97 * width, 0.97 * height]).all():
            break
        eye, spot = eye * 1.05, spot + 0.15 * (target - spot)
    to_eye = unit(eye)
    return view, f35, math.degrees(math.acos(to_eye[2]))


def _look(
    hand: Hand,
    eye: Array,
    spot: Array,
    roll_rad: float,
    *,
    focal: float,
    size_px: tuple[int, int],
    k1_ratio: float,
) -> View:
    """View from ``eye`` to ``spot``. A right-handed toe is on the left: the face frame is reflected first."""
    mirror = np.diag([-1.0 if hand is Hand.RIGHT else 1.0, 1.0, 1.0])
    ahead = unit(mirror @ (spot - eye))
    up = np.array([math.sin(roll_rad), math.cos(roll_rad), 0.0])
    right = unit(np.cross(ahead, up))
    axes = np.vstack([right, np.cross(ahead, right), ahead]) @ mirror
    return View(
        focal_px=focal,
        width_px=size_px[0],
        height_px=size_px[1],
        axes_cam=axes,
        origin_cam_mm=-axes @ eye,
        k1_ratio=k1_ratio,
    )
