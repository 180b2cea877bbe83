"""How large is a pixel at the face?

The photo holds a thing of known size: our printed sheet, tags, an ID-1 card, a ball; failing these, the
face's own length. ``find_references`` looks for them (and says which pixels they cover, so that nobody takes a
white card for a face); ``find_scale`` turns the best one into a plane in millimetres before the camera and
into an honest error of the scale AT THE FACE, which lies beside the object and perhaps before or behind it: a
centimetre of depth is 3 % at arm's length (metrology.md 2.3).

Flow: references -> the face's outline in pixels -> scale. The outline needs no millimetres.
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
from facemark.see.camera import Array, Camera, sag_mm
from facemark.see.card import CARD_SIZE_ERR_FRAC, find_card
from facemark.see.plane import PlaneFit, Shape, axes_from_out, fit_plane
from facemark.see.tags import MIN_TAG_SIDE_PX, PLAIN_CELLS, Tag, Tags, find_tags

MAX_TILT_DEG = 45.0
TILT_CAVEAT_DEG = 20.0
MIN_PX_PER_MM = 3.0  # below, marks and edges lose more than 0.3 mm (metrology.md 10)

# One standard error of each size, relative.
TAG_ERR_FRAC = (
    0.004  # side told from a ruler: 0.15 mm of 25 mm (rectangular), halved over a few tags; assumed
)
SHEET_UNCHECKED_ERR_FRAC = 0.010  # printers give 99-102 % (metrology.md 1)
SHEET_CHECKED_ERR_FRAC = 0.003  # 0.5 mm of 100 mm read from the printed ruler, rectangular

# How far the face's centre may lie from the plane we were told of, one sd; assumed.
HELD_GAP_SD_MM = 3.5  # a card or tags held beside the face
SPACER_GAP_SD_MM = 1.5  # the spacer was measured
BALL_GAP_SD_MM = 8.0 / math.sqrt(3)  # +/- 8 mm, rectangular
HELD_TILT_SD_DEG = 2.0  # the card is not quite parallel to the face
FREE_TILT_SD_DEG = 10.0  # nothing shows the tilt: people hold the phone square to within this
FACE_END_SD_MM = 0.8  # heel and toe end of the outline together

TAG_SIZES_APART_FRAC = 0.05  # two tags more than this apart are two sizes
BENT_MISFIT = 4.0  # corners miss a common plane by this many expected errors
SCALES_APART_FRAC = 0.015
_HOW = (
    "Put the printed sheet (facemark card), tags with --tag-mm, a bank-card-sized card plain side up, or a ball "
    "beside the face, or give the face's length with --face-mm."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sighting:
    """A scale object seen in the photo, before we know where the face is.

    ``out_cam`` (3,) normal of its plane toward the camera; ``origin_cam_mm`` (3,) a point of it. ``fit`` is None
    where nothing shows the tilt. ``footprint_px``: polygons (K, 2) it covers.
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scale:
    """The plane the face is measured in.

    ``plane_axes_cam`` (3, 3): columns x, y, out as unit vectors of the camera frame, out toward the camera;
    ``plane_origin_cam_mm`` (3,) a point of it: the reference's plane, moved by the spacer if one was told, so that
    it is where the face is expected. ``pose_known`` False (ball, face length): square to the optical
    axis by assumption. ``scale_err_frac``: one standard error of the scale at the face, everything included;
    ``plane_gap_err_mm``: how far the face's centre may lie in front of or behind the plane (one sd).
    ``footprint_px``: polygons (K, 2) of the reference objects. ``mirrored``: the photo is a mirror image.
    """

    kind: ReferenceKind
    camera: Camera
    plane_axes_cam: Array
    plane_origin_cam_mm: Array
    pose_known: bool
    tilt_deg: float
    scale_err_frac: float
    plane_gap_err_mm: float
    footprint_px: tuple[Array, ...]
    mirrored: bool
    caveats: tuple[Caveat, ...]

    def point_mm(self, px: Array) -> Array:
        """(3,) where the ray through pixel ``px`` meets the plane, in the camera frame."""
        ray = self.camera.rays(px)[0]
        out = self.plane_axes_cam[:, 2]
        return np.asarray(ray * (self.plane_origin_cam_mm @ out) / (ray @ out))

    def mm_per_px(self, px: Array) -> float:
        """Scale at pixel ``px``: square root of the product of both directions in the plane."""
        point = self.point_mm(px)
        step = 0.5 * self.plane_axes_cam[:, :2].T
        ends = self.camera.project(np.vstack([point - step, point + step]))
        spans = np.linalg.norm(ends[2:] - ends[:2], axis=1)
        return float(1.0 / math.sqrt(spans[0] * spans[1]))


def find_references(photo: Photo, reference: Reference) -> tuple[Sighting, ...]:
    """Find the scale objects in the photo; best first, empty when none is needed or none is there.

    Parameters
    ----------
    photo : Photo
    reference : Reference
        ``kind`` AUTO looks for sheet and tags, and if there are none for card and ball. ``size_mm``: side of the
        tags; for the sheet, the length of its 100 mm ruler as measured.

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
    if kind in (ReferenceKind.AUTO, ReferenceKind.SHEET, ReferenceKind.TAGS):
        grey = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)
        tags = find_tags(grey, thorough=kind is not ReferenceKind.AUTO)
        seen += _tag_sightings(tags, reference, camera, photo)
    if kind is ReferenceKind.CARD or (kind is ReferenceKind.AUTO and not seen):
        seen += _card_sightings(photo, reference, camera)
    if kind is ReferenceKind.BALL or (kind is ReferenceKind.AUTO and not seen):
        seen += _ball_sightings(photo, reference, camera)
    if not seen and kind is not ReferenceKind.AUTO:
        raise _not_found(kind)
    return tuple(seen)


def find_scale(
    photo: Photo,
    reference: Reference,
    *,
    near_px: Array | None = None,
    outline_px: Array | None = None,
    face_length_mm: float | None = None,
    bulge_mm: float = math.inf,
    seen: Sequence[Sighting] | None = None,
) -> Scale:
    """The plane and scale to measure the face in.

    Parameters
    ----------
    photo : Photo
    reference : Reference
    near_px : (2,), optional
        The face's centre; the error is worked out there. Default: the outline's middle, else the reference's own place.
    outline_px : (N, 2), optional
        The face's outline, needed where the face's length is the scale.
    face_length_mm : float, optional
        Heel to toe, told by the user or the club file.
    bulge_mm : float
        The face's horizontal radius; its ends lie behind its centre [mm].
    seen : sequence of Sighting, optional
        What ``find_references`` returned, to spare a second search.

    Returns
    -------
    Scale

    Raises
    ------
    ScaleError
        Nothing of known size is there, or the camera is tilted by more than 45 degrees.
    """
    found = find_references(photo, reference) if seen is None else seen
    if near_px is None and outline_px is not None:
        near_px = _centroid(outline_px)
    scales = [_scale_at(sighting, near_px, photo) for sighting in found]
    by_length = face_length_mm if face_length_mm is not None else None
    if reference.kind is ReferenceKind.FACE and by_length is None:
        by_length = reference.size_mm
    if by_length is not None and outline_px is not None:
        scales.append(scale_from_face(photo, outline_px, by_length, bulge_mm=bulge_mm))
    if not scales:
        raise ScaleError("Expected something of known size in the photo, and found none.", remedy=_HOW)
    # A plane whose tilt is known is worth more than a slightly better length; otherwise the surer one.
    best = min(scales, key=lambda s: (not s.pose_known or s.scale_err_frac > 0.04, s.scale_err_frac))
    if best.pose_known and best.tilt_deg > MAX_TILT_DEG:
        raise ScaleError(
            f"Expected the camera square to the face, and it is tilted by {best.tilt_deg:.0f} degrees.",
            remedy="Hold the phone parallel to the face, within about 20 degrees.",
        )
    return _cross_checked(best, scales, near_px)


def scale_from_face(
    photo: Photo, outline_px: Array, face_length_mm: float, *, bulge_mm: float = math.inf
) -> Scale:
    """The scale that makes the face's outline as long as it is said to be.

    The face is taken as square to the optical axis. Its ends lie behind its centre by the bulge's sag, and so
    look shorter; that is corrected. Its length is the longest distance across the outline.

    Parameters
    ----------
    photo : Photo
    outline_px : (N, 2)
    face_length_mm : float
    bulge_mm : float
        ``math.inf`` for a flat face [mm].

    Raises
    ------
    SetupError
        A length no club face has.
    """
    if not 20.0 <= face_length_mm <= 200.0:
        raise SetupError(
            f"Expected a face length of 20 to 200 mm, got {face_length_mm:g}.",
            remedy="Measure the face from heel to toe with a ruler and give millimetres.",
        )
    camera = Camera.from_exif(photo.width_px, photo.height_px, photo.focal_35mm)
    hull = cv2.convexHull(np.asarray(outline_px, np.float32)).reshape(-1, 2).astype(float)
    length_px = float(np.max(np.linalg.norm(hull[:, None] - hull[None], axis=2)))
    sag = float(sag_mm(np.array(face_length_mm / 2), bulge_mm))
    depth = camera.focal_px * face_length_mm / length_px - sag
    out = np.array([0.0, 0.0, -1.0])
    caveats = [Caveat(key=cv.SCALE_FROM_FACE_LENGTH, detail=f"{face_length_mm:g} mm")]
    return Scale(
        kind=ReferenceKind.FACE,
        camera=camera,
        plane_axes_cam=axes_from_out(out),
        plane_origin_cam_mm=camera.rays(_centroid(outline_px))[0] * depth,
        pose_known=False,
        tilt_deg=0.0,
        scale_err_frac=math.hypot(FACE_END_SD_MM, 0.5) / face_length_mm,
        plane_gap_err_mm=0.0,
        footprint_px=(),
        mirrored=False,
        caveats=(*caveats, *_photo_caveats(photo, depth / camera.focal_px)),
    )


# --- the objects, one by one ---


def _tag_sightings(tags: Tags, reference: Reference, camera: Camera, photo: Photo) -> list[Sighting]:
    kind = reference.kind
    seen: list[Sighting] = []
    if tags.sheet and kind is not ReferenceKind.TAGS:
        seen.append(_sheet_sighting(tags, reference, camera, photo))
    if tags.plain and kind is not ReferenceKind.SHEET:
        side = reference.size_mm
        if side is None and not seen:
            raise ScaleError(
                f"Found {len(tags.plain)} tags of DICT_4X4_50, but was not told how large they are.",
                remedy="Measure the side of a tag's black square and give it with --tag-mm.",
            )
        if side is not None and kind is ReferenceKind.TAGS or side is not None and not seen:
            seen.append(_plain_sighting(tags, side, reference, camera, photo))
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


def _card_sightings(photo: Photo, reference: Reference, camera: Camera) -> list[Sighting]:
    card = find_card(photo.pixels, camera)
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


def _ball_sightings(photo: Photo, reference: Reference, camera: Camera) -> list[Sighting]:
    ball = find_ball(photo.pixels, camera)
    if ball is None:
        return []
    out = np.array([0.0, 0.0, -1.0])
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


# --- from a sighting to the face ---


def _scale_at(sighting: Sighting, near_px: Array | None, photo: Photo) -> Scale:
    """The scale a sighting gives, with its error at the face's centre."""
    out, origin, camera = sighting.out_cam, sighting.origin_cam_mm, sighting.camera
    at = camera.project(origin)[0] if near_px is None else np.asarray(near_px, float)
    ray = camera.rays(at)[0]
    facing = float(ray @ out)
    if facing > -0.2:
        raise ScaleError(
            f"The {sighting.kind.value} lies edge-on to the line of sight to the face.",
            remedy="Lay it in the plane of the face and hold the phone square to both.",
        )
    fit = sighting.fit
    pose_err = 0.0
    if fit is not None:
        # What the lens term says about the scale here goes into the depth, as the camera itself has no lens.
        origin = origin * fit.lens_gain(at)
        pose_err = fit.log_scale_err(at)
    point = ray * (origin @ out) / facing
    beside_mm = float(np.linalg.norm(point - origin))
    tilt_sd = math.tan(math.radians(HELD_TILT_SD_DEG if fit is not None else FREE_TILT_SD_DEG))
    gap = math.hypot(sighting.gap_sd_mm, beside_mm * tilt_sd)
    scale = Scale(
        kind=sighting.kind,
        camera=camera,
        plane_axes_cam=axes_from_out(out),
        plane_origin_cam_mm=origin,
        pose_known=fit is not None,
        tilt_deg=math.degrees(math.acos(min(1.0, -facing / float(np.linalg.norm(ray)))))
        if fit is not None
        else 0.0,
        scale_err_frac=math.sqrt(sighting.size_err_frac**2 + pose_err**2 + (gap / float(point[2])) ** 2),
        plane_gap_err_mm=gap,
        footprint_px=sighting.footprint_px,
        mirrored=sighting.mirrored,
        caveats=sighting.caveats,
    )
    notes = [*sighting.caveats, *_photo_caveats(photo, scale.mm_per_px(at))]
    if scale.tilt_deg > TILT_CAVEAT_DEG:
        notes.append(Caveat(key=cv.CAMERA_TILTED, detail=f"{scale.tilt_deg:.0f} degrees"))
    return replace(scale, caveats=tuple(notes))


def _cross_checked(best: Scale, scales: Sequence[Scale], near_px: Array | None) -> Scale:
    """``best``, with the pixels of all and a caveat if another one disagrees by more than both doubts allow."""
    notes = list(best.caveats)
    at = best.camera.project(best.plane_origin_cam_mm)[0] if near_px is None else np.asarray(near_px, float)
    for other in scales:
        if other is best:
            continue
        apart = abs(math.log(best.mm_per_px(at) / other.mm_per_px(at)))
        if apart > max(SCALES_APART_FRAC, 2.0 * math.hypot(best.scale_err_frac, other.scale_err_frac)):
            notes.append(
                Caveat(
                    key=cv.SCALES_DISAGREE,
                    detail=f"{best.kind.value} and {other.kind.value}, {100 * apart:.1f} % apart",
                )
            )
    footprints = tuple(polygon for scale in scales for polygon in scale.footprint_px)
    return replace(
        best,
        footprint_px=footprints,
        mirrored=any(scale.mirrored for scale in scales),
        caveats=tuple(notes),
    )


def _photo_caveats(photo: Photo, mm_per_px: float) -> list[Caveat]:
    notes = []
    if photo.focal_35mm is None:
        notes.append(Caveat(key=cv.NO_FOCAL_LENGTH))
    if mm_per_px > 1.0 / MIN_PX_PER_MM:
        notes.append(Caveat(key=cv.LOW_RESOLUTION, detail=f"{1 / mm_per_px:.1f} pixels per millimetre"))
    return notes


def _bent(fit: PlaneFit, n_tags: int) -> list[Caveat]:
    if fit.misfit < BENT_MISFIT:
        return []
    return [Caveat(key=cv.SCALE_BENT, detail=f"{n_tags} tags, {fit.residual_px:.1f} pixels off one plane")]


def _grown(tag: Tag, n_cells: int) -> Array:
    """(4, 2) the tag with its white margin of one cell."""
    middle = tag.corners_px.mean(axis=0)
    return np.asarray(middle + (tag.corners_px - middle) * (n_cells + 2) / n_cells)


def _centroid(outline_px: Array) -> Array:
    """(2,) area centroid of a polygon."""
    moments = cv2.moments(np.asarray(outline_px, np.float32).reshape(-1, 1, 2))
    if moments["m00"] == 0:
        return np.asarray(np.mean(outline_px, axis=0), float)
    return np.array([moments["m10"], moments["m01"]]) / moments["m00"]


def _not_found(kind: ReferenceKind) -> ScaleError:
    asked: dict[ReferenceKind, tuple[str, str]] = {
        ReferenceKind.SHEET: (
            "the printed scale sheet",
            "Show its tags whole, flat and in focus, at least 25 pixels wide; print one with facemark card.",
        ),
        ReferenceKind.TAGS: (
            "tags of DICT_4X4_50",
            "Show at least one tag whole, in focus, with its white margin, and not cut by the picture's edge.",
        ),
        ReferenceKind.CARD: (
            "a card of 85.60 x 53.98 mm",
            "Lay it plain side up in the plane of the face, whole in the picture, on a ground of another colour.",
        ),
        ReferenceKind.BALL: (
            "a golf ball",
            "Lay it beside the face, whole in the picture, with at least half its outline free.",
        ),
    }
    what, remedy = asked[kind]
    return ScaleError(f"Expected {what} in the photo, and could not find or read it.", remedy=remedy)
