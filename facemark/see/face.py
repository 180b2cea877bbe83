"""Where is the middle of the face, which way is the toe, and which way is up?

The outline in pixels is put onto the face's curved surface, whose tangent plane at the centre is the scale's
plane; the area centroid of the outline, orthographic on that plane, is the origin. The toe's side comes from
the hosel (learned finder, else toe.py), the level direction from the outline's long axis and, where they
show, from the score lines (level.py). Heel and toe follow the shaft in the picture, so a mirrored selfie
cannot swap them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from facemark import caveats as cv
from facemark.caveats import Caveat
from facemark.errors import FaceError
from facemark.inputs import Club, ClubKind, Hand, Photo, Setup
from facemark.see.camera import Array, FaceFrame
from facemark.see.centre_doubt import doubt_centre
from facemark.see.contour import centroid
from facemark.see.face_net import FaceGuess
from facemark.see.framing import centred, turned
from facemark.see.level import find_level
from facemark.see.outline import Outline
from facemark.see.rectify import rectify
from facemark.see.scale import TILT_CAVEAT_DEG, Scale
from facemark.see.toe import find_toe, long_axis

GUESS_SURE_FRAC = 0.85  # from here on the learned finder's toe side is taken without asking the shaft
GUESS_LIKELY_FRAC = 0.6  # from here on where nothing else is known
GUESS_SQUARE = 0.35  # cosine between its toe and up directions; photos on their side confuse it
# How much the outline's long axis rises to the toe: an iron's toe stands high. Means of drawn heads;
# path-traced ones and the broader training shapes agree within a degree or two (tests/see/test_face.py).
TIP_DEG = {
    ClubKind.DRIVER: 2.5,
    ClubKind.FAIRWAY: 2.5,
    ClubKind.HYBRID: 2.5,
    ClubKind.IRON: 15.5,
    ClubKind.WEDGE: 16.5,
}
# Drawn heads differ by 2 to 3 degrees, the training shapes, broader than clubs, by 7; assumed between.
AXIS_TURN_ERR_DEG = 4.0
LEAST_ASPECT = 1.12  # an outline less long than this (by its second moments) has no axis to speak of; assumed
# The finder's own direction: 95 of 100 drawn photos within 5.2 degrees; harder scenes, 90 within 16. Between.
FINDER_TURN_ERR_DEG = 6.0
# Farther apart than this, finder and axis cannot both be right (another kind of club, a torn outline), and
# either may be. Assumed, from both errors.
APART_DEG = 8.0
NO_AXIS_TURN_ERR_DEG = 45.0  # a round outline and no finder: the axis may point anywhere
LEVEL_PX_PER_MM = 3.0  # score lines are 0.6 to 0.9 mm wide; finer maps take longer and show no more


class ToeFrom(StrEnum):
    """What the toe's side was taken from."""

    HOSEL = "hosel"
    TOLD = "told"
    BY_HAND = "by hand"  # pointed at in the photo


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """The face, ready to be measured on.

    ``outline_px`` (N, 2) upright pixels and ``outline_mm`` (N, 2) the same points in the face frame.
    ``hand``: as used; ``hand_seen``: what the photo shows, a known mirror image undone.
    """

    outline_px: Array
    outline_mm: Array
    frame: FaceFrame
    width_mm: float
    height_mm: float
    centre_toe_err_mm: float
    centre_high_err_mm: float
    turn_err_deg: float
    hand: Hand
    hand_seen: Hand | None
    toe_from: ToeFrom
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lie:
    """Unit vectors in the picture, good for the side rather than the angle, and where they are from."""

    toe_px: Array
    up_px: Array
    toe_from: ToeFrom

    @property
    def looks(self) -> Hand:
        """Seen from the front with the crown up, a right-handed head has its toe on the left."""
        across = self.toe_px[0] * self.up_px[1] - self.toe_px[1] * self.up_px[0]
        return Hand.RIGHT if across > 0 else Hand.LEFT


def find_face(photo: Photo, scale: Scale, outline: Outline, setup: Setup) -> Face:
    """Set up the face frame.

    Parameters
    ----------
    photo : Photo
    scale : Scale
    outline : Outline
    setup : Setup
        Told hand (or None) and the club's curvature are used.

    Returns
    -------
    Face
        ``outline_mm``'s area centroid is the origin.

    Raises
    ------
    FaceError
        Neither the shaft nor a told hand says where the toe is.
    """
    lie = _lie_of(photo, outline, setup.hand, mirrored=scale.mirrored)
    doubts = list(outline.caveats)
    hand, hand_seen = _hands(lie, setup.hand, doubts, mirrored=scale.mirrored)
    frame = centred(_frame(scale, outline, lie, setup.club), outline.outline_px)
    by_finder = outline.guess is not None and lie.toe_px is outline.guess.toe_px
    frame, turn_err_deg = _along_axis(frame, outline.outline_px, setup.club.kind, by_finder=by_finder)
    frame, turn_err_deg, seen = _levelled(photo, frame, outline.outline_px, turn_err_deg)
    if scale.pose_known and frame.tilt_deg > TILT_CAVEAT_DEG:
        doubts.append(Caveat(key=cv.CAMERA_TILTED, detail=f"{frame.tilt_deg:.0f} degrees"))
    if not seen:
        doubts.append(Caveat(key=cv.TURN_UNCERTAIN, detail=f"+-{turn_err_deg:.0f} degrees"))
    outline_mm = frame.mm_from_px(outline.outline_px)
    doubt = doubt_centre(outline, frame, scale, setup.club, turn_err_deg=turn_err_deg)
    if doubt.says:
        doubts.append(Caveat(key=cv.FACE_EDGE_UNCERTAIN, detail=doubt.says))
    width_mm, height_mm = np.ptp(outline_mm, axis=0)
    return Face(
        outline_px=outline.outline_px,
        outline_mm=outline_mm,
        frame=frame,
        width_mm=float(width_mm),
        height_mm=float(height_mm),
        centre_toe_err_mm=doubt.toe_err_mm,
        centre_high_err_mm=doubt.high_err_mm,
        turn_err_deg=doubt.turn_err_deg,
        hand=hand,
        hand_seen=hand_seen,
        toe_from=lie.toe_from,
        caveats=tuple(doubts),
    )


def _lie_of(photo: Photo, outline: Outline, told: Hand | None, *, mirrored: bool) -> _Lie:
    """Toe and up in the picture: from the learned finder if it is sure, the shaft's edges, the told hand."""
    guess = outline.guess
    if guess is not None and _sure(guess):
        return _guessed(guess, ToeFrom.HOSEL)
    side = find_toe(photo.pixels, outline.outline_px)
    if side is not None:
        return _Lie(toe_px=side.toe_px, up_px=side.up_px, toe_from=ToeFrom.HOSEL)
    if told is None:
        if guess is not None and guess.toe_sure_frac >= GUESS_LIKELY_FRAC:
            return _guessed(guess, ToeFrom.HOSEL)
        raise FaceError(
            "Expected to see the hosel and some shaft, or to be told the hand; neither is there.",
            remedy="Leave the hosel and some shaft in the picture, or say --right or --left.",
        )
    _, axis, _, _ = long_axis(outline.outline_px)
    up = np.array([-axis[1], axis[0]])
    up = up if up[1] < 0 else -up  # sole down
    toe_left = (told is Hand.RIGHT) != mirrored
    toe = axis if (axis[0] < 0) == toe_left else -axis
    return _Lie(toe_px=toe, up_px=up, toe_from=ToeFrom.TOLD)


def _sure(guess: FaceGuess) -> bool:
    """All pixels agree on the toe's side, and toe and up are square to each other as they must be."""
    return guess.toe_sure_frac >= GUESS_SURE_FRAC and abs(float(guess.toe_px @ guess.up_px)) < GUESS_SQUARE


def _guessed(guess: FaceGuess, toe_from: ToeFrom) -> _Lie:
    return _Lie(toe_px=guess.toe_px, up_px=guess.up_px, toe_from=toe_from)


def _hands(lie: _Lie, told: Hand | None, doubts: list[Caveat], *, mirrored: bool) -> tuple[Hand, Hand | None]:
    """The hand in use and the hand seen; doubts are added to the list."""
    if lie.toe_from is ToeFrom.TOLD and told is not None:
        doubts.append(Caveat(key=cv.TOE_SIDE_ASSUMED, detail=f"{told.value}-handed, sole down"))
        return told, None
    seen = lie.looks
    if mirrored:
        seen = Hand.LEFT if seen is Hand.RIGHT else Hand.RIGHT
    if told is None:
        doubts.append(Caveat(key=cv.HAND_FROM_PHOTO, detail=f"{seen.value}-handed"))
        return seen, seen
    if told is not seen:
        detail = f"told {told.value}-handed, the photo shows {seen.value}-handed"
        doubts.append(Caveat(key=cv.HAND_CONTRADICTS, detail=detail))
    return told, seen


def _frame(scale: Scale, outline: Outline, lie: _Lie, club: Club) -> FaceFrame:
    """First frame: on the scale's plane at the outline's middle, toe along the picture's toe direction."""
    middle_px = centroid(outline.outline_px)
    origin = scale.point_mm(middle_px[None])
    out = scale.plane_axes_cam[:, 2]
    step_px = 20.0
    toe = scale.point_mm((middle_px + step_px * lie.toe_px)[None]) - origin
    up = scale.point_mm((middle_px + step_px * lie.up_px)[None]) - origin
    toe = toe / np.linalg.norm(toe)
    up = up - toe * (up @ toe)
    up = up / np.linalg.norm(up)
    return FaceFrame(
        camera=scale.camera,
        axes_cam=np.column_stack([toe, up, out]),
        origin_cam_mm=origin,
        bulge_mm=club.bulge_mm,
        roll_mm=club.roll_mm,
    )


def _along_axis(
    frame: FaceFrame, outline_px: Array, kind: ClubKind, *, by_finder: bool
) -> tuple[FaceFrame, float]:
    """The frame turned until the outline's long axis rises to the toe as it does on this kind; turn error.

    ``by_finder``: the frame lies as the learned finder says, and so can contradict the axis.
    """
    _, axis, _, aspect = long_axis(frame.mm_from_px(outline_px))
    if aspect < LEAST_ASPECT:
        return frame, FINDER_TURN_ERR_DEG if by_finder else NO_AXIS_TURN_ERR_DEG
    rises_deg = math.degrees(math.atan2(axis[1], axis[0]))
    # An axis has no direction: the toe is the end on the side already known.
    turn_deg = (rises_deg - TIP_DEG[kind] + 90) % 180 - 90
    apart_deg = abs(turn_deg) if by_finder and abs(turn_deg) > APART_DEG else 0.0
    return turned(frame, outline_px, turn_deg), max(AXIS_TURN_ERR_DEG, apart_deg / 2.0)


def _levelled(
    photo: Photo, frame: FaceFrame, outline_px: Array, turn_err_deg: float
) -> tuple[FaceFrame, float, bool]:
    """The frame turned in its plane until the score lines are level; turn error; whether lines were seen."""
    outline_mm = frame.mm_from_px(outline_px)
    face_map = rectify(photo.pixels, frame, outline_mm, px_per_mm=LEVEL_PX_PER_MM)
    level = find_level(face_map, expected_err_deg=turn_err_deg)
    if not level.seen:
        return frame, turn_err_deg, False
    return turned(frame, outline_px, level.turn_deg), level.turn_err_deg, True
