"""Which things of known size does the photo show, and how do they lie before the camera?

Each finder (tags.py, card.py, ball.py) says where its object is in the picture; here that becomes a plane in
millimetres, and what is wrong with it a clear sentence. Where the face is does not matter yet: scale.py
carries the plane over to it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from facemark import caveats as cv
from facemark import sheet
from facemark.caveats import Caveat
from facemark.errors import ScaleError, SetupError
from facemark.inputs import Photo, Reference, ReferenceKind
from facemark.see.ball import BALL_DIAMETER_MM, BALL_ERR_FRAC, find_ball
from facemark.see.beside import Beside
from facemark.see.camera import Array, Camera
from facemark.see.card import CARD_SIZE_ERR_FRAC, find_card
from facemark.see.plane import PlaneFit, Shape, fit_plane
from facemark.see.small import Small, shrink
from facemark.see.tags import MIN_TAG_SIDE_PX, PLAIN_CELLS, Tag, Tags, find_tags

# One standard error of each size, relative.
# A tag's side told from a ruler: 0.15 mm of 25 mm, halved over a few tags; assumed.
TAG_ERR_FRAC = 0.004
SHEET_UNCHECKED_ERR_FRAC = 0.010  # printers give 99-102 % (metrology.md 1)
SHEET_CHECKED_ERR_FRAC = 0.003  # 0.5 mm of 100 mm read from the printed ruler, rectangular

# How far the face's centre may lie from the plane we were told of, one sd; assumed.
HELD_GAP_SD_MM = 3.0  # a card or tags held beside the face: within about 5 mm of its plane
SPACER_GAP_SD_MM = 1.5  # the spacer was measured
BALL_GAP_SD_MM = 8.0 / math.sqrt(3)  # +/- 8 mm, rectangular
# An object nobody was asked to hold there: on the table, on the ground; a ball anywhere near. Assumed.
CHECK_GAP_SD_MM, CHECK_BALL_GAP_SD_MM = 10.0, 15.0

TAG_KINDS = (ReferenceKind.AUTO, ReferenceKind.SHEET, ReferenceKind.TAGS)

TAG_SIZES_APART_FRAC = 0.05  # two tags more than this apart are two sizes
BENT_MISFIT = 4.0  # corners miss a common plane by this many expected errors


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sighting:
    """A scale object seen in the photo, before we know where the face is.

    ``out_cam`` (3,) normal of its plane toward the camera; ``origin_cam_mm`` (3,) a point of it. ``fit`` is
    None where nothing shows the tilt. ``footprint_px``: polygons (K, 2) it covers. ``checks``: it only checks
    another object, which is the scale.
    """

    kind: ReferenceKind
    camera: Camera
    out_cam: Array
    origin_cam_mm: Array
    size_err_frac: float
    gap_sd_mm: float
    fit: PlaneFit | None
    footprint_px: tuple[Array, ...]
    mirrored: bool = False
    caveats: tuple[Caveat, ...] = ()
    checks: bool = False

    def px_per_mm(self, px: Array | None = None) -> float:
        """Pixels per mm where the ray through ``px`` meets its plane; None: at the object itself."""
        return float(self.camera.focal_px * self.facing(px) / (self.origin_cam_mm @ self.out_cam))

    def facing(self, px: Array | None = None) -> float:
        """Normal along the ray of depth 1 through ``px`` (None: to the object itself): 0 seen edge-on.

        Square on it is minus the ray's length: -1 in the picture's middle, a tenth more at its edge.
        """
        at = self.camera.project(self.origin_cam_mm)[0] if px is None else np.asarray(px, float)
        return float(self.camera.rays(at)[0] @ self.out_cam)


def find_references(
    photo: Photo,
    reference: Reference,
    *,
    near_px: Array | None = None,
    small: Small | None = None,
    check: bool = True,
) -> tuple[Sighting, ...]:
    """Find the scale objects in the photo: the one that is the scale first, then those that check it.

    Parameters
    ----------
    photo : Photo
    reference : Reference
        ``kind`` AUTO takes the first of sheet, tags, card and ball that is there; those after it are looked
        for as well, to check it. ``size_mm``: side of the tags; for the sheet, the length of its 100
        mm ruler as measured.
    near_px : (2,), optional
        About the face's centre, so that a round face is not taken for a ball.
    small : Small, optional
        ``shrink(photo.pixels)``, if at hand.
    check : bool
        Also look for a card and a ball that are not the scale.

    Returns
    -------
    tuple of Sighting
        Empty for ``kind`` FACE, and for AUTO when nothing is found.

    Raises
    ------
    ScaleError
        The object asked for is not there, too small, or contradicts itself.
    """
    camera = Camera.from_exif(photo.width_px, photo.height_px, photo.focal_35mm)
    kind = reference.kind
    if kind is ReferenceKind.FACE:
        return ()
    seen: list[Sighting] = []
    small = shrink(photo.pixels) if small is None else small
    if kind in TAG_KINDS:
        tags = find_tags(photo.pixels, thorough=kind is not ReferenceKind.AUTO, small=small)
        seen += _tag_sightings(tags, reference, camera, photo)
    if kind is ReferenceKind.CARD or (kind is ReferenceKind.AUTO and not seen):
        seen += _card_sightings(photo, small, reference, camera)
    if kind is ReferenceKind.BALL or (kind is ReferenceKind.AUTO and not seen):
        seen += _ball_sightings(photo, small, reference, camera, near_px)
    if not seen and kind is not ReferenceKind.AUTO:
        raise _not_found(kind)
    if not seen:
        return ()
    # Nobody was asked to hold the others in the plane of the face, and a told spacer is the first one's.
    others = seen[1:] + (_others(photo, small, reference, seen, near_px) if check else [])
    return (
        seen[0],
        *(replace(one, checks=True, gap_sd_mm=_check_gap_mm(one.kind, reference)) for one in others),
    )


def _check_gap_mm(kind: ReferenceKind, reference: Reference) -> float:
    """How far an object that only checks may lie out of the face's plane, one sd."""
    usual_mm = CHECK_BALL_GAP_SD_MM if kind is ReferenceKind.BALL else CHECK_GAP_SD_MM
    return math.hypot(usual_mm, reference.spacer_mm)


def _others(
    photo: Photo, small: Small, reference: Reference, seen: list[Sighting], near_px: Array | None
) -> list[Sighting]:
    """A card and a ball that lie beside the face without being the scale."""
    beside = Beside(
        px_per_mm=seen[0].px_per_mm(near_px),
        face_px=near_px,
        taken_px=[polygon for one in seen for polygon in one.footprint_px],
    )
    camera = Camera.from_exif(photo.width_px, photo.height_px, photo.focal_35mm)
    kinds = {one.kind for one in seen}
    if beside.px_per_mm <= 0:
        return []  # the first object is seen edge-on there
    found: list[Sighting] = []
    if not kinds & {ReferenceKind.CARD, ReferenceKind.BALL}:
        found += _card_sightings(photo, small, reference, camera, beside)
    if ReferenceKind.BALL not in kinds:
        found += _ball_sightings(photo, small, reference, camera, near_px, beside)
    return found


def _tag_sightings(tags: Tags, reference: Reference, camera: Camera, photo: Photo) -> list[Sighting]:
    """Our sheet and plain tags, the one asked for first."""
    kind, side = reference.kind, reference.size_mm
    seen: list[Sighting] = []
    if tags.sheet:
        seen.append(_sheet_sighting(tags, reference, camera, photo))
    if tags.plain and kind is not ReferenceKind.SHEET:
        if side is not None:
            seen.append(_plain_sighting(tags, side, reference, camera, photo))
        elif not seen:
            raise ScaleError(
                f"Found {len(tags.plain)} tags of DICT_4X4_50, but was not told how large they are.",
                remedy="Measure the side of a tag's black square and give it with --tag-mm.",
            )
    if kind is ReferenceKind.TAGS:
        seen.reverse()
        seen = seen if tags.plain else []
    if not seen and tags.smallest_px is not None:
        raise ScaleError(
            f"The tags are only {tags.smallest_px:.0f} pixels wide; expected at least {MIN_TAG_SIDE_PX:.0f}.",
            remedy="Go closer, or send the original photo instead of a chat copy.",
        )
    return seen


def _sheet_sighting(tags: Tags, reference: Reference, camera: Camera, photo: Photo) -> Sighting:
    """Our own sheet: all its tags are one rigid shape."""
    told = reference.size_mm if reference.kind is ReferenceKind.SHEET else None
    if told is not None and not 90.0 <= told <= 110.0:
        raise SetupError(
            f"Expected the sheet's 100 mm ruler to measure 90 to 110 mm, got {told:g}.",
            remedy="Measure the printed 100 mm line with a ruler and give that length.",
        )
    print_scale = 1.0 if told is None else told / sheet.CHECK_RULER_MM
    shape = Shape(
        local_mm=print_scale * np.vstack([sheet.tag_corners_mm(tag.ident) for tag in tags.sheet]),
        px=np.vstack([tag.corners_px for tag in tags.sheet]),
        corner_err_px=max(tag.corner_err_px for tag in tags.sheet),
    )
    fit, _ = fit_plane(camera, [shape])
    bars = sheet.bars_mm()
    to_px, _ = cv2.findHomography(shape.local_mm / print_scale, shape.px)
    covered = sorted({sheet.bar_of(tag.ident) for tag in tags.sheet})
    footprint = [cv2.perspectiveTransform(bars[bar][None], to_px)[0] for bar in covered]
    caveats = [] if told is not None else [Caveat(key=cv.SHEET_UNCHECKED)]
    return _from_fit(
        ReferenceKind.SHEET,
        fit,
        reference,
        size_err_frac=SHEET_UNCHECKED_ERR_FRAC if told is None else SHEET_CHECKED_ERR_FRAC,
        footprint=footprint,
        mirrored_width_px=photo.width_px if tags.mirrored else None,
        caveats=caveats + _bent(fit, len(tags.sheet)),
    )


def _plain_sighting(
    tags: Tags, side_mm: float, reference: Reference, camera: Camera, photo: Photo
) -> Sighting:
    """Tags of one stated side, lying anyhow in one plane."""
    half = side_mm / 2
    square = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
    shapes = [
        Shape(local_mm=square, px=tag.corners_px, corner_err_px=tag.corner_err_px) for tag in tags.plain
    ]
    if len(shapes) > 1:
        _, sizes = fit_plane(camera, shapes, size_sd_frac=0.3)
        if sizes.max() / sizes.min() > 1.0 + TAG_SIZES_APART_FRAC:
            raise ScaleError(
                "Expected tags of one size, and found sides in the ratio "
                f"{sizes.min() / sizes.max():.2f} to 1.",
                remedy="Leave only tags of one size in the photo, and give their side with --tag-mm.",
            )
    fit, _ = fit_plane(camera, shapes)
    return _from_fit(
        ReferenceKind.TAGS,
        fit,
        reference,
        size_err_frac=TAG_ERR_FRAC,
        footprint=[_grown(tag, PLAIN_CELLS) for tag in tags.plain],
        mirrored_width_px=photo.width_px if tags.mirrored else None,
        caveats=_bent(fit, len(shapes)),
    )


def _card_sightings(
    photo: Photo, small: Small, reference: Reference, camera: Camera, beside: Beside | None = None
) -> list[Sighting]:
    card = find_card(photo.pixels, camera, small=small, beside=beside)
    if card is None:
        return []
    return [
        _from_fit(
            ReferenceKind.CARD,
            card.plane,
            reference,
            size_err_frac=CARD_SIZE_ERR_FRAC,
            footprint=[card.corners_px],
            mirrored_width_px=None,
            caveats=[],
        )
    ]


def _ball_sightings(
    photo: Photo,
    small: Small,
    reference: Reference,
    camera: Camera,
    near_px: Array | None,
    beside: Beside | None = None,
) -> list[Sighting]:
    ball = find_ball(photo.pixels, camera, near_px=near_px, small=small, beside=beside)
    if ball is None:
        return []
    # A ball shows no tilt. People hold the phone square to the face, or look at it squarely: between the two,
    # as for planes (plane.py).
    at = camera.rays(camera.project(ball.centre_cam_mm)[0] if near_px is None else near_px)[0]
    out = np.array([0.0, 0.0, -1.0]) - at / np.linalg.norm(at)
    out /= np.linalg.norm(out)
    return [
        Sighting(
            kind=ReferenceKind.BALL,
            camera=camera,
            out_cam=out,
            origin_cam_mm=ball.centre_cam_mm - reference.spacer_mm * out,
            size_err_frac=math.hypot(BALL_ERR_FRAC, ball.size_err_frac),
            gap_sd_mm=BALL_GAP_SD_MM if reference.spacer_mm == 0 else 2 * SPACER_GAP_SD_MM,
            fit=None,
            footprint_px=(ball.limb_px,),
            caveats=(Caveat(key=cv.SCALE_FROM_BALL, detail=f"{BALL_DIAMETER_MM:g} mm ball"),),
        )
    ]


def _from_fit(
    kind: ReferenceKind,
    fit: PlaneFit,
    reference: Reference,
    *,
    size_err_frac: float,
    footprint: Sequence[Array],
    mirrored_width_px: int | None,
    caveats: Sequence[Caveat],
) -> Sighting:
    """A sighting whose plane was fitted; spacer applied, and turned back if it was read in the mirror."""
    out, origin = fit.axes_cam[:, 2], fit.origin_cam_mm
    if mirrored_width_px is not None:
        # The camera looks through the picture's middle, so the mirror turns x around and nothing else.
        flip = np.array([-1.0, 1.0, 1.0])
        out, origin = out * flip, origin * flip
        fit = fit.flipped(mirrored_width_px)
        footprint = [np.column_stack([mirrored_width_px - 1 - p[:, 0], p[:, 1]]) for p in footprint]
        caveats = [*caveats, Caveat(key=cv.PHOTO_MIRRORED)]
    return Sighting(
        kind=kind,
        camera=fit.camera,
        out_cam=out,
        origin_cam_mm=origin - reference.spacer_mm * out,
        size_err_frac=size_err_frac,
        gap_sd_mm=HELD_GAP_SD_MM if reference.spacer_mm == 0 else SPACER_GAP_SD_MM,
        fit=fit,
        footprint_px=tuple(np.asarray(p, float) for p in footprint),
        mirrored=mirrored_width_px is not None,
        caveats=tuple(caveats),
    )


def _bent(fit: PlaneFit, n_tags: int) -> list[Caveat]:
    if fit.misfit_frac < BENT_MISFIT:
        return []
    return [Caveat(key=cv.SCALE_BENT, detail=f"{n_tags} tags, {fit.residual_px:.1f} pixels off one plane")]


def _grown(tag: Tag, n_cells: int) -> Array:
    """(4, 2) the tag with its white margin of one cell."""
    middle = tag.corners_px.mean(axis=0)
    return np.asarray(middle + (tag.corners_px - middle) * (n_cells + 2) / n_cells)


def _not_found(kind: ReferenceKind) -> ScaleError:
    asked: dict[ReferenceKind, tuple[str, str]] = {
        ReferenceKind.SHEET: (
            "the printed scale sheet",
            "Show its tags whole, flat and in focus, at least 25 pixels wide; print one with facemark card.",
        ),
        ReferenceKind.TAGS: (
            "tags of DICT_4X4_50",
            "Show at least one tag whole, in focus, at least 25 pixels wide, not cut by the picture's edge.",
        ),
        ReferenceKind.CARD: (
            "a card of 85.60 x 53.98 mm",
            "Lay it plain side up in the plane of the face, whole in the picture, on another colour.",
        ),
        ReferenceKind.BALL: (
            "a golf ball",
            "Lay it beside the face, whole in the picture, with at least half its outline free.",
        ),
    }
    what, remedy = asked[kind]
    return ScaleError(f"Expected {what} in the photo, and could not find or read it.", remedy=remedy)
