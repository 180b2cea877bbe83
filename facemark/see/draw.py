"""Draw a phone photo of a powdered club face whose every number is known.

For tests, documentation and the demo, and as a cross-check: written apart from the simulator that trains
the splitter, with another idea of what a mark is (contact pressure against adhesion). A bulge/roll face is
ray-cast through a pinhole camera (draw_shoot), its marks are made in draw_marks. numpy and OpenCV only; the
same generator state gives the same photo. These are drawings: what holds on them need not hold on powder.

The truth dictionary uses the field names of the sample photos' truth: face frame in mm (toe plus, up plus,
origin at the outline's area centroid), pixels of the upright image, pixel centres at whole numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np

from facemark.inputs import ClubKind, Hand, Photo, ReferenceKind
from facemark.see import draw_marks as marks_
from facemark.see.camera import Array
from facemark.see.draw_head import Head, Plate, make_head, make_plate
from facemark.see.draw_light import Develop, develop
from facemark.see.draw_noise import Image
from facemark.see.draw_scale import draw_spacer_mm, draw_tag_side_mm
from facemark.see.draw_scene import Scene, make_scene
from facemark.see.draw_shoot import shoot
from facemark.see.draw_solids import on_face
from facemark.see.draw_truth import truth_of
from facemark.see.draw_view import View

TIERS = ("easy", "normal", "hard")
HARDSHIPS = ("shadow", "glare", "thin", "dim", "blur", "tilt", "scuffs", "faint", "jpeg")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawRecipe:
    """What to draw; None: drawn at random within the tier.

    ``hits_mm``: (toe, high) of every ball, in order. ``hardships``: names of HARDSHIPS.
    """

    tier: str = "normal"
    hand: Hand | None = None
    kind: ClubKind | None = None
    reference: ReferenceKind | None = None
    scene: str | None = None
    n_marks: int | None = None
    hits_mm: tuple[tuple[float, float], ...] | None = None
    diameter_mm: float | None = None
    hardships: tuple[str, ...] | None = None
    tilt_deg: tuple[float, float] | None = None
    tag_side_mm: float | None = None
    spacer_mm: float | None = None
    size_px: tuple[int, int] = (2400, 1800)
    k1_ratio: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnPhoto:
    """The photo as read from its own JPEG, that JPEG, and the truth (JSON-ready)."""

    photo: Photo
    jpeg: bytes
    truth: dict[str, Any]


def draw_photo(recipe: DrawRecipe, rng: np.random.Generator, *, name: str = "drawn.jpg") -> DrawnPhoto:
    """Draw one photo.

    Parameters
    ----------
    recipe : DrawRecipe
    rng : numpy Generator
        Its state decides everything the recipe leaves open.

    Returns
    -------
    DrawnPhoto
    """
    club_rng, powder_rng, hit_rng, shot_rng = rng.spawn(4)
    plan = _settle(recipe, rng)
    head = make_head(plan.kind, plan.hand, club_rng)
    scene = _scene(plan, head, shot_rng)
    plate = make_plate(head, _plate_scale(scene.view), club_rng)
    face = _fresh_face(plate, plan, powder_rng)
    hits = _hits(head, plan, hit_rng)
    for hit in hits:
        face = face.after(hit, hit_rng)
    face = face.messed(head, plan, hit_rng)
    return _finish(name, plan, scene, head, face, shot_rng)


def draw_series(
    recipe: DrawRecipe, rng: np.random.Generator, *, balls: Sequence[int], resprayed: Sequence[int] = ()
) -> tuple[DrawnPhoto, ...]:
    """Draw photos of one club after every few balls; camera, light and scale object move in between.

    Parameters
    ----------
    recipe : DrawRecipe
    rng : numpy Generator
    balls : sequence of int
        New balls before each photo; 0 gives a photo of the fresh face.
    resprayed : sequence of int
        Indices of photos before whose balls the face was sprayed anew (older marks vanish).

    Returns
    -------
    tuple of DrawnPhoto
        Truth of each: marks still on the face, ``new`` true for those since the photo before.
    """
    club_rng, powder_rng, hit_rng, shot_rng = rng.spawn(4)
    plan = _settle(recipe, rng)
    # One club, one scale object: where it lies changes from photo to photo, its size does not.
    plan = replace(
        plan,
        n_marks=int(sum(balls)),
        tag_side_mm=plan.tag_side_mm or draw_tag_side_mm(rng),
        spacer_mm=draw_spacer_mm(rng) if plan.spacer_mm is None else plan.spacer_mm,
    )
    head = make_head(plan.kind, plan.hand, club_rng)
    plate = make_plate(head, 9.0, club_rng)
    face = _fresh_face(plate, plan, powder_rng)
    hits = _hits(head, plan, hit_rng)
    photos: list[DrawnPhoto] = []
    done = 0
    for k, n_new in enumerate(balls):
        if k in resprayed:
            face = replace(face, powder=marks_.spray_face(plate, face.spray, powder_rng), hits=())
        for hit in hits[done : done + n_new]:
            face = face.after(hit, hit_rng)
        done += n_new
        one = shot_rng.spawn(1)[0]
        scene = _scene(plan, head, one)
        drawn = _finish(f"series_{k + 1}.jpg", plan, scene, head, face, one)
        for i, mark in enumerate(drawn.truth["marks"]):
            mark["new"] = i >= len(face.hits) - n_new
        drawn.truth["series"] = {
            "index": k + 1,
            "n_photos": len(balls),
            "n_new": n_new,
            "resprayed": k in resprayed,
        }
        photos.append(drawn)
    return tuple(photos)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """A recipe with nothing left open but the small things."""

    tier: str
    hand: Hand
    kind: ClubKind
    reference: ReferenceKind
    scene: str | None
    n_marks: int
    hits_mm: tuple[tuple[float, float], ...] | None
    diameter_mm: float | None
    hardships: frozenset[str]
    tilt_deg: tuple[float, float]
    tag_side_mm: float | None
    spacer_mm: float | None
    size_px: tuple[int, int]
    k1_ratio: float


def _settle(recipe: DrawRecipe, rng: np.random.Generator) -> _Plan:
    """Draw what the recipe leaves open, by tier (as in the sample photos)."""
    if recipe.tier not in TIERS:
        raise ValueError(f"tier must be one of {TIERS}, came {recipe.tier!r}")
    kinds = [ClubKind.DRIVER, ClubKind.FAIRWAY, ClubKind.HYBRID, ClubKind.IRON]
    references = [ReferenceKind.TAGS, ReferenceKind.CARD, ReferenceKind.BALL, ReferenceKind.SHEET]
    kind = kinds[int(rng.choice(4, p=[0.55, 0.15, 0.08, 0.22]))]
    reference = references[int(rng.choice(4, p=[0.36, 0.24, 0.24, 0.16]))]
    hand = Hand.LEFT if rng.random() < 0.25 else Hand.RIGHT
    n_marks = int(rng.integers(1, 6) if recipe.tier == "easy" else rng.integers(6, 13))
    if recipe.tier == "hard":
        n_marks = int(rng.integers(4, 13))
        picks = rng.choice(HARDSHIPS, int(rng.integers(1, 4)), replace=False)
        hardships = frozenset(str(p) for p in picks)
    else:
        hardships = frozenset()
    if recipe.hardships is not None:
        hardships = frozenset(recipe.hardships)
    tilt = {"easy": (0.0, 12.0), "normal": (2.0, 18.0), "hard": (4.0, 24.0)}[recipe.tier]
    if "tilt" in hardships:
        tilt = (24.0, 35.0)
    return _Plan(
        tier=recipe.tier,
        hand=recipe.hand or hand,
        kind=recipe.kind or kind,
        reference=recipe.reference or reference,
        scene=recipe.scene,
        hits_mm=recipe.hits_mm,
        diameter_mm=recipe.diameter_mm,
        hardships=hardships,
        n_marks=len(recipe.hits_mm)
        if recipe.hits_mm is not None
        else recipe.n_marks
        if recipe.n_marks is not None
        else n_marks,
        tilt_deg=recipe.tilt_deg or tilt,
        tag_side_mm=recipe.tag_side_mm,
        spacer_mm=recipe.spacer_mm,
        size_px=recipe.size_px,
        k1_ratio=recipe.k1_ratio,
    )


def _scene(plan: _Plan, head: Head, rng: np.random.Generator) -> Scene:
    return make_scene(
        head,
        rng,
        size_px=plan.size_px,
        reference=plan.reference,
        kind=plan.scene,
        tilt_deg=plan.tilt_deg,
        n_edges=int(rng.integers(1, 3)) if "shadow" in plan.hardships else 0,
        glare="glare" in plan.hardships,
        side_mm=plan.tag_side_mm,
        spacer_mm=plan.spacer_mm,
        k1_ratio=plan.k1_ratio,
    )


def _plate_scale(view: View) -> float:
    """Pixels per mm of the flat face: a little finer than the photo, at most 14."""
    return float(np.clip(1.15 * view.focal_px / np.linalg.norm(view.eye_mm), 5.0, 14.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Face:
    """A powdered face and what has hit it so far."""

    plate: Plate
    spray: marks_.Spray
    contact: marks_.Contact
    fresh: Image
    powder: Image
    hits: tuple[marks_.Hit, ...] = ()

    def after(self, hit: marks_.Hit, rng: np.random.Generator) -> _Face:
        """The face after one more ball."""
        powder = marks_.strike(self.plate, self.powder, self.fresh, hit, self.contact, rng)
        return replace(self, powder=powder, hits=(*self.hits, hit))

    def messed(self, head: Head, plan: _Plan, rng: np.random.Generator) -> _Face:
        """The face after tee, grass and fingers."""
        powder = self.powder
        chance = {"easy": 0.1, "normal": 0.3, "hard": 0.5}[plan.tier]
        if not head.is_iron and rng.random() < chance:
            powder = marks_.tee_streak(self.plate, head, powder, rng)
        if "scuffs" in plan.hardships or rng.random() < chance / 2:
            powder = marks_.scuffs(self.plate, head, powder, rng)
        return replace(self, powder=powder)


def _fresh_face(plate: Plate, plan: _Plan, rng: np.random.Generator) -> _Face:
    spray = marks_.draw_spray(rng, poor="thin" in plan.hardships)
    powder = marks_.spray_face(plate, spray, rng)
    contact = marks_.draw_contact(spray, rng, faint="faint" in plan.hardships)
    return _Face(plate=plate, spray=spray, contact=contact, fresh=powder, powder=powder)


def _hits(head: Head, plan: _Plan, rng: np.random.Generator) -> tuple[marks_.Hit, ...]:
    """Where the balls went: one group (sd 5-14 mm), now and then two; easy ones mostly apart."""
    size = plan.diameter_mm or float(np.clip(rng.normal(21.5, 3.0), 12.0, 27.0))
    places = _given(plan) if plan.hits_mm is not None else _places(head, plan, size, rng)
    return tuple(
        marks_.draw_hit(
            at, size if plan.diameter_mm else float(np.clip(size * rng.normal(1.0, 0.07), 9.0, 29.0)), rng
        )
        for at in places
    )


def _given(plan: _Plan) -> Array:
    return np.array(plan.hits_mm, float).reshape(-1, 2)


def _places(head: Head, plan: _Plan, size_mm: float, rng: np.random.Generator) -> Array:
    """(n, 2) hits on the face, at most a third of each disc over the edge."""
    outline = head.outline_mm.astype(np.float32)
    spread = rng.uniform(6.0, 14.0)
    sds = np.array([spread, spread * rng.uniform(0.5, 0.8)])
    means = rng.normal(0.0, 1.0, (2 if rng.random() < 0.15 else 1, 2)) * [
        0.11 * head.length_mm,
        0.10 * head.height_mm,
    ]
    turn = rng.normal(0.0, 0.3)
    rot = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    places: list[Array] = []
    for attempt in range(4000):
        if len(places) == plan.n_marks:
            break
        if plan.tier == "easy":
            at = rng.uniform(-0.5, 0.5, 2) * [head.length_mm, head.height_mm]
        else:
            at = means[int(rng.integers(len(means)))] + rot @ (sds * rng.standard_normal(2))
        inside = cv2.pointPolygonTest(outline[:, None], (float(at[0]), float(at[1])), True)
        apart = min((float(np.linalg.norm(at - p)) for p in places), default=1e9)
        # Mostly separate: discs may touch, and once space is short overlap somewhat.
        needed = size_mm * max(1.05 - attempt / 1500, 0.45) if plan.tier == "easy" else 0.0
        if inside > 0.12 * size_mm and apart >= needed:
            places.append(at)
    return np.array(places).reshape(-1, 2)


def _finish(
    name: str, plan: _Plan, scene: Scene, head: Head, face: _Face, rng: np.random.Generator
) -> DrawnPhoto:
    """Expose, develop, and write down the truth."""
    linear = shoot(scene, head, face.plate, face.powder, face.spray, rng)
    how = _develop_settings(plan, linear, scene, head, rng)
    pixels, jpeg = develop(linear, how, rng)
    told = None if rng.random() < 0.2 else scene.focal_35mm
    photo = Photo(pixels=pixels, name=name, focal_35mm=told)
    return DrawnPhoto(
        photo=photo,
        jpeg=jpeg,
        truth=truth_of(
            name,
            scene,
            head,
            face.plate,
            face.hits,
            tier=plan.tier,
            hardships=sorted(plan.hardships),
            jpeg_quality=how.jpeg_quality,
        ),
    )


def _develop_settings(
    plan: _Plan, linear: Image, scene: Scene, head: Head, rng: np.random.Generator
) -> Develop:
    """Exposure for the face and the scene, as phones weigh them; hardships of the camera."""
    box = scene.view.box(on_face(head, head.outline_mm))
    face = linear[box[1] : box[3], box[0] : box[2]]
    bright = 0.7 * float(np.percentile(face[::4, ::4], 85)) + 0.3 * float(
        np.percentile(linear[::16, ::16], 90)
    )
    hard, easy = plan.tier == "hard", plan.tier == "easy"
    scale = scene.view.width_px / 2400
    exposure = rng.uniform(0.40, 0.85 if hard else 0.75) / max(bright, 0.05)
    if "dim" in plan.hardships:
        exposure *= rng.uniform(0.15, 0.4)
    blur = rng.uniform(0.5, 0.9) if easy else rng.uniform(0.5, 1.3)
    shake = rng.normal(0.0, 0.4 if not hard else 1.0, 2)
    if "blur" in plan.hardships:
        blur, shake = rng.uniform(1.5, 3.2), rng.normal(0.0, 3.0, 2)
    noise = rng.uniform(0.8, 3.0) if not hard else rng.uniform(1.5, 6.0)
    return Develop(
        exposure_ratio=float(exposure),
        balance=tuple(1.0 + rng.normal(0.0, 0.05, 3) * [1, 0.2, 1]),
        blur_px=float(blur * scale),
        motion_px=(float(shake[0] * scale), float(shake[1] * scale)),
        noise_frac=float(noise + (3.0 if "dim" in plan.hardships else 0.0)) / 255.0,
        sharpen_frac=float(rng.choice([0.0, 0.3, 0.7, 1.1])),
        vignette_frac=float(rng.uniform(0.0, 0.3)),
        contrast_frac=float(rng.uniform(0.0, 0.6)),
        jpeg_quality=int(rng.integers(25, 60) if "jpeg" in plan.hardships else rng.integers(78, 96)),
    )


__all__ = ["HARDSHIPS", "TIERS", "DrawRecipe", "DrawnPhoto", "draw_photo", "draw_series"]
