"""How large is a pixel at the face?

The photo holds a thing of known size: our printed sheet, tags, an ID-1 card, a ball; failing these, the
face's own length. ``find_references`` looks for them; ``find_scale`` turns the best one into a plane in
millimetres before the camera, and into an honest error of the scale AT THE FACE. The face lies beside the
object, perhaps before or behind it, and a centimetre of depth is 3 % at arm's length (metrology.md 2.3).

Flow: references -> the face's outline in pixels -> scale. The outline needs no millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from facemark import caveats as cv
from facemark.caveats import Caveat
from facemark.errors import ScaleError, SetupError
from facemark.inputs import Photo, Reference, ReferenceKind
from facemark.see.camera import Array, Camera, sag_mm
from facemark.see.plane import axes_from_out
from facemark.see.references import Sighting, find_references

MAX_TILT_DEG = 45.0
EDGE_ON = -0.2  # line of sight along a plane's normal: beyond, it is seen too flatly. Assumed
TILT_CAVEAT_DEG = 20.0
MIN_PX_PER_MM = 3.0  # below, marks and edges lose more than 0.3 mm (metrology.md 10)
MAX_POSED_ERR_FRAC = 0.04  # a worse plane is not worth preferring for its tilt; assumed

# One standard error each; assumed.
HELD_TILT_SD_DEG = 2.0  # a card held beside the face is not quite parallel
# About each axis, where nothing shows the tilt: what drawn and path-traced photos have, and a little more.
# How people hold phones is not known. Of 48 balls on drawn photos not used for it, 77 and 96 % were in their
# 68 and 95 % ranges.
FREE_TILT_SD_DEG = 10.0
# What such tilts do to the mean of both directions, (cos a / cos b) ** 0.5, and to one length, cos a.
FORESHORTENING_SD_FRAC = 0.015
LENGTH_FORESHORTENING_SD_FRAC = 0.026  # root mean square: a length only ever looks shorter
FACE_END_SD_MM = 0.8  # heel and toe end of the outline together
FACE_LENGTH_SD_MM = 0.5  # a ruler on a curved face

SCALES_APART_FRAC = 0.015
DISAGREE_ERRS = 2.5  # of both together: one false alarm in 80 photos with two objects, if both are honest
WORDS = {
    ReferenceKind.SHEET: "sheet",
    ReferenceKind.TAGS: "tags",
    ReferenceKind.CARD: "card",
    ReferenceKind.BALL: "ball",
    ReferenceKind.FACE: "face's length",
}
REMEDY_ANY = (
    "Put the printed sheet (facemark card), tags with --tag-mm, a bank-card-sized card plain side up, "
    "or a ball beside the face, or give the face's length with --face-mm."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scale:
    """The plane the face is measured in.

    ``plane_axes_cam`` (3, 3): columns x, y, out as unit vectors of the camera frame, out toward the camera;
    ``plane_origin_cam_mm`` (3,) a point of it: the reference's plane, moved by the spacer if one was told,
    so that it is where the face is expected. ``pose_known`` False (ball, face length): square to the optical
    axis by assumption. ``scale_err_frac``: one standard error of the scale at the face, everything included;
    ``plane_gap_err_mm``: how far the face's centre may lie in front of or behind the plane (one sd).
    ``footprint_px``: polygons (K, 2) of the reference objects; ``card_px``: those that are ID-1 cards, whose
    interior no picture may show. ``mirrored``: the photo is a mirror image.
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
    card_px: tuple[Array, ...] = ()

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
        The face's centre; the error is worked out there. Default: the outline's middle, else the
        reference's own place.
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
    if near_px is None and outline_px is not None:
        near_px = _centroid(outline_px)
    found = find_references(photo, reference, near_px=near_px) if seen is None else seen
    scales = [_scale_at(sighting, near_px, photo) for sighting in found if not sighting.checks]
    told_mm = reference.size_mm if reference.kind is ReferenceKind.FACE else face_length_mm
    if told_mm is not None and outline_px is not None:
        scales.append(scale_from_face(photo, outline_px, told_mm, bulge_mm=bulge_mm))
    if not scales:
        raise ScaleError("Expected something of known size in the photo, and found none.", remedy=REMEDY_ANY)
    # A plane whose tilt is known is worth more than a slightly better length; otherwise the surer one.
    best = min(
        scales, key=lambda s: (not s.pose_known or s.scale_err_frac > MAX_POSED_ERR_FRAC, s.scale_err_frac)
    )
    if best.pose_known and best.tilt_deg > MAX_TILT_DEG:
        raise ScaleError(
            f"Expected the camera square to the face, and it is tilted by {best.tilt_deg:.0f} degrees.",
            remedy="Hold the phone parallel to the face, within about 20 degrees.",
        )
    # Where the best one shows the tilt, a ball that checks it need not guess.
    out = best.plane_axes_cam[:, 2] if best.pose_known else None
    checks = [one for one in found if one.checks and one.facing(near_px) < EDGE_ON]
    others = [scale for scale in scales if scale is not best]
    others += [_scale_at(one, near_px, photo, out=out) for one in checks]
    cards = [one for one in found if one.kind is ReferenceKind.CARD]
    card_px = tuple(polygon for card in cards for polygon in card.footprint_px)
    return replace(_cross_checked(best, others, near_px), card_px=card_px)


def scale_from_face(
    photo: Photo,
    outline_px: Array,
    face_length_mm: float,
    *,
    bulge_mm: float = math.inf,
    toe_px: Array | None = None,
) -> Scale:
    """The scale that makes the face's outline as long as it is said to be.

    The face is taken as square to the optical axis. Its ends lie behind its centre by the bulge's sag, and so
    look shorter; that is corrected. Without ``toe_px`` its length is taken as the longest distance across the
    outline, which is right for woods and too long for irons, whose toe is high.

    Parameters
    ----------
    photo : Photo
    outline_px : (N, 2)
    face_length_mm : float
    bulge_mm : float
        ``math.inf`` for a flat face [mm].
    toe_px : (2,), optional
        Direction in the picture along which the length is meant (the score lines').

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
    length_px = _length_px(outline_px, toe_px)
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
        scale_err_frac=math.hypot(
            math.hypot(FACE_END_SD_MM, FACE_LENGTH_SD_MM) / face_length_mm, LENGTH_FORESHORTENING_SD_FRAC
        ),
        plane_gap_err_mm=0.0,
        footprint_px=(),
        mirrored=False,
        caveats=(*caveats, *_photo_caveats(photo, depth / camera.focal_px)),
    )


# --- from a sighting to the face ---


def _length_px(outline_px: Array, toe_px: Array | None) -> float:
    """Length of an outline along a direction, or its longest distance."""
    hull = cv2.convexHull(np.asarray(outline_px, np.float32)).reshape(-1, 2).astype(float)
    if toe_px is None:
        return float(np.max(np.linalg.norm(hull[:, None] - hull[None], axis=2)))
    return float(np.ptp(hull @ (toe_px / np.linalg.norm(toe_px))))


def _scale_at(sighting: Sighting, near_px: Array | None, photo: Photo, *, out: Array | None = None) -> Scale:
    """The scale a sighting gives, with its error at the face's centre.

    ``out``: the plane's normal from elsewhere, for a sighting that shows none itself.
    """
    fit, origin, camera = sighting.fit, sighting.origin_cam_mm, sighting.camera
    posed = fit is not None or out is not None
    out = sighting.out_cam if fit is not None or out is None else out
    at = camera.project(origin)[0] if near_px is None else np.asarray(near_px, float)
    ray = camera.rays(at)[0]
    facing = float(ray @ out)
    if facing > EDGE_ON:
        raise ScaleError(
            f"The {sighting.kind.value} lies edge-on to the line of sight to the face.",
            remedy="Lay it in the plane of the face and hold the phone square to both.",
        )
    pose_err = 0.0 if posed else FORESHORTENING_SD_FRAC
    if fit is not None:
        # What the lens term says about the scale here goes into the depth, as the camera itself has no lens.
        origin = origin * fit.lens_gain(at)
        pose_err = fit.log_scale_err(at)
    point = ray * (origin @ out) / facing
    beside_mm = float(np.linalg.norm(point - origin))
    tilt_sd = math.tan(math.radians(HELD_TILT_SD_DEG if posed else FREE_TILT_SD_DEG))
    gap = math.hypot(sighting.gap_sd_mm, beside_mm * tilt_sd)
    tilt_deg = math.degrees(math.acos(min(1.0, -facing / float(np.linalg.norm(ray)))))
    scale = Scale(
        kind=sighting.kind,
        camera=camera,
        plane_axes_cam=axes_from_out(out),
        plane_origin_cam_mm=origin,
        pose_known=fit is not None,
        tilt_deg=tilt_deg if fit is not None else 0.0,
        scale_err_frac=math.sqrt(sighting.size_err_frac**2 + pose_err**2 + (gap / float(point[2])) ** 2),
        plane_gap_err_mm=gap,
        footprint_px=sighting.footprint_px,
        mirrored=sighting.mirrored,
        caveats=sighting.caveats,
    )
    notes = [*sighting.caveats, *_photo_caveats(photo, scale.mm_per_px(at))]
    return replace(scale, caveats=tuple(notes))


def _cross_checked(best: Scale, others: Sequence[Scale], near_px: Array | None) -> Scale:
    """``best``, with the pixels of all, and a caveat if others disagree with it beyond both doubts."""
    at = best.camera.project(best.plane_origin_cam_mm)[0] if near_px is None else np.asarray(near_px, float)
    by_best = best.mm_per_px(at)
    against = []
    for other in others:
        apart = math.log(other.mm_per_px(at) / by_best)
        doubt = math.hypot(best.scale_err_frac, other.scale_err_frac)
        if abs(apart) > max(SCALES_APART_FRAC, DISAGREE_ERRS * doubt):
            against.append(f"{math.exp(apart) * 100:.0f} mm by the {WORDS[other.kind]}")
    notes = list(best.caveats)
    if against:
        detail = f"what is 100 mm by the {WORDS[best.kind]} is {' and '.join(against)}"
        notes.append(Caveat(key=cv.SCALES_DISAGREE, detail=detail))
    footprints = tuple(polygon for scale in (best, *others) for polygon in scale.footprint_px)
    return replace(
        best,
        footprint_px=footprints,
        mirrored=any(scale.mirrored for scale in (best, *others)),
        caveats=tuple(notes),
    )


def _photo_caveats(photo: Photo, mm_per_px: float) -> list[Caveat]:
    notes = []
    if photo.focal_35mm is None:
        notes.append(Caveat(key=cv.NO_FOCAL_LENGTH))
    if mm_per_px > 1.0 / MIN_PX_PER_MM:
        notes.append(Caveat(key=cv.LOW_RESOLUTION, detail=f"{1 / mm_per_px:.1f} pixels per millimetre"))
    return notes


def _centroid(outline_px: Array) -> Array:
    """(2,) area centroid of a polygon."""
    moments = cv2.moments(np.asarray(outline_px, np.float32).reshape(-1, 1, 2))
    if moments["m00"] == 0:
        return np.asarray(np.mean(outline_px, axis=0), float)
    return np.array([moments["m10"], moments["m01"]]) / moments["m00"]
