"""How well are the face's centre and its level known?

Five doubts: the edge's place, as far as it was seen; the rounded crease around the face; powder on crown or
sole taken for face, which shows as a face too tall for its kind or as a bulge in a wood's edge; a learned
finder less sure than usual; and, where nothing shows the camera's tilt, what a tilt would move. Errors are
one standard error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from facemark.clubs import TYPICAL
from facemark.inputs import Club
from facemark.see.camera import Array, FaceFrame
from facemark.see.contour import area_px2, centroid, even
from facemark.see.framing import centred
from facemark.see.outline import Outline
from facemark.see.scale import FREE_TILT_SD_DEG, Scale

RUN_MM = 8.0  # along the edge, errors of its place stay alike over about this length; assumed
HIDDEN_EDGE_ERR_MM = 1.5  # where the edge was not seen; assumed
HIDDEN_RUN_MM = 25.0  # and such a place errs as one piece this long; assumed
# The crease around the face is rounded, and what counts as its edge differs along crown and sole more than at
# toe and heel. Set so that drawn photos' centres lie within their errors.
SIDE_CREASE_ERR_MM, END_CREASE_ERR_MM = 0.7, 0.35
TOLD_HEIGHT_ROOM_MM = 2.0  # a ruler on a curved face, twice over; assumed
# What a face is too tall moves its centre by half; one standard error is taken as a third.
TALL_ERR_SHARE = 1 / 3  # of the height too much is centre error; assumed
# A wood bulges outward all round. The rough border of a well-seen one lacks up to 1.5 % of its hull's area;
# where a mark met powder on the crown, 2 to 5 %. From drawn photos.
USUAL_DENT_FRAC = 0.015
# The learned finder is unsure of a twentieth of a face, its border; on one in six of 198 drawn photos
# of more. In the worst case that lies at one end or side, and moves the centre by half the face's size times
# its share.
USUAL_CONFIDENCE_FRAC = 0.952
SAID_UNSURE_FRAC = 0.02  # beyond the usual; so much moves a driver's centre by 1 mm, and is said


@dataclass(frozen=True, slots=True, kw_only=True)
class CentreDoubt:
    """``says``: what is odd about the outline, in words for a caveat; empty where nothing is."""

    toe_err_mm: float
    high_err_mm: float
    turn_err_deg: float
    says: str


def doubt_centre(
    outline: Outline, frame: FaceFrame, scale: Scale, club: Club, *, turn_err_deg: float
) -> CentreDoubt:
    """Say how well the centre and the level of a face are known.

    Parameters
    ----------
    outline : Outline
    frame : FaceFrame
        Centred on the outline, level.
    scale : Scale
    club : Club
        Its kind and, if told, the face's height.
    turn_err_deg : float
        Of the level as seen, before the tilt's part.

    Returns
    -------
    CentreDoubt
    """
    outline_mm = frame.mm_from_px(outline.outline_px)
    toe_mm, high_mm = _edge_errs(outline, outline_mm, frame.mm_per_px)
    too_mm, says = _too_tall(outline_mm, scale, club)
    bulge_mm = 0.0
    if club.kind.is_wood and outline.dent_frac > USUAL_DENT_FRAC:
        bulge_mm = (outline.dent_frac - USUAL_DENT_FRAC) * float(np.ptp(outline_mm[:, 1]))
        says = says or "the edge bulges"
    unsure_frac = _unsure_frac(outline)
    if outline.guess is not None and unsure_frac > SAID_UNSURE_FRAC:
        says = (
            says
            or f"the face finder is unsure of {100 * (1 - outline.guess.confidence_frac):.0f} % of the face"
        )
    unsure_mm = 0.5 * unsure_frac * np.ptp(outline_mm, axis=0)
    tilt = np.zeros(3) if scale.pose_known else _tilt_errs(frame, outline.outline_px)
    return CentreDoubt(
        toe_err_mm=math.hypot(toe_mm, unsure_mm[0], tilt[0]),
        high_err_mm=math.hypot(high_mm, too_mm, bulge_mm, unsure_mm[1], tilt[1]),
        turn_err_deg=math.hypot(turn_err_deg, tilt[2]),
        says=says,
    )


def _unsure_frac(outline: Outline) -> float:
    """Share of the face that the learned finder is unsure of, beyond the usual."""
    if outline.guess is None:
        return 0.0
    return max(0.0, USUAL_CONFIDENCE_FRAC - outline.guess.confidence_frac)


def _edge_errs(outline: Outline, outline_mm: Array, mm_per_px: float) -> tuple[float, float]:
    """(toe, high) from the edge's own place.

    Moving the edge outward by d(s) moves the centroid by the integral of d (r - c) ds / area. Errors of d are
    taken as alike over a run of the edge and independent from one run to the next, large and in long runs
    where the edge was not seen; and a crease doubt is common to each side of the face.
    """
    curve = even(outline_mm, 180)
    area = abs(area_px2(curve))
    step_mm = float(np.hypot(*(np.roll(curve, -1, axis=0) - curve).T).mean())
    away = curve - centroid(curve)
    seen = (1 - outline.hidden_frac) * (outline.edge_err_px * mm_per_px) ** 2 * RUN_MM
    hidden = outline.hidden_frac * HIDDEN_EDGE_ERR_MM**2 * HIDDEN_RUN_MM
    random = (seen + hidden) * step_mm * (away**2).sum(axis=0) / area**2
    errs = []
    for k, crease_mm in enumerate((END_CREASE_ERR_MM, SIDE_CREASE_ERR_MM)):
        one_side = away[away[:, k] > 0, k].sum() * step_mm * crease_mm / area
        errs.append(math.sqrt(float(random[k]) + 2 * float(one_side) ** 2))
    return errs[0], errs[1]


def _too_tall(outline_mm: Array, scale: Scale, club: Club) -> tuple[float, str]:
    """Error [mm] and words, where the face is taller than its kind's faces are, or than it is told to be."""
    height_mm = float(np.ptp(outline_mm[:, 1]))
    if "face_height_mm" in club.assumed:
        usual_mm, _, most_mm = TYPICAL[club.kind]["face_height_mm"]
        whose = f"a {club.kind.value} has at most {most_mm:.0f} mm"
    else:
        usual_mm, most_mm = club.face_height_mm, club.face_height_mm + TOLD_HEIGHT_ROOM_MM
        whose = f"told are {usual_mm:.0f} mm"
    if height_mm <= most_mm * (1.0 + 2.0 * scale.scale_err_frac):
        return 0.0, ""
    return TALL_ERR_SHARE * (height_mm - usual_mm), f"{height_mm:.0f} mm high, {whose}"


def _tilt_errs(frame: FaceFrame, outline_px: Array) -> Array:
    """(3,) toe [mm], high [mm], turn [degrees]: what a tilt nobody saw moves.

    The ends of a curved face lie behind its centre, and its nearer half looks larger: the frame is tilted
    about either axis and centred on the same pixels again.
    """
    angle = math.radians(FREE_TILT_SD_DEG)
    moved = np.zeros(3)
    ends_px = frame.px_from_mm(np.array([[-20.0, 0.0], [20.0, 0.0]]))
    for k in (0, 1):
        axes = frame.axes_cam.copy()
        axes[:, k] = math.cos(angle) * frame.axes_cam[:, k] + math.sin(angle) * frame.axes_cam[:, 2]
        axes[:, 2] = math.cos(angle) * frame.axes_cam[:, 2] - math.sin(angle) * frame.axes_cam[:, k]
        tilted = centred(replace(frame, axes_cam=axes), outline_px)
        centre = frame.mm_from_px(tilted.px_from_mm(np.zeros((1, 2))))[0]
        along = np.diff(tilted.mm_from_px(ends_px), axis=0)[0]
        moved += np.square([*centre, math.degrees(math.atan2(along[1], along[0]))])
    return np.sqrt(moved)
