"""The player objects: what does the reading say once a person has put it right?

Edits name places in the photo; the frame that the reading found turns them into millimetres, and the same
core says what they mean. The raw reading is never touched: corrections are always worked out from it.

A place pointed at by hand has an error of its own, stated here and assumed: judging the middle of a 20 mm
mark on an enlarged picture, and the finger. What a person cannot know by pointing stays as it was: the errors
of scale and turn, and how many balls lie hidden under others, unless he says that every ball's mark is there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import cv2
import numpy as np

from facemark import caveats as doubts
from facemark.caveats import Caveat
from facemark.clubs import STATED_ERR
from facemark.edit_marks import Placed, State, edit_marks, need_on_face
from facemark.edits import AllMarks, DrawOutline, Edit, MoveSweetSpot, ShiftOutline, ToeSide, edits_words
from facemark.errors import FacemarkError, SetupError
from facemark.inputs import Hand, ReferenceKind, Setup
from facemark.reading import Measured, Reading, interpret
from facemark.record import letters as names
from facemark.see.camera import Array, FaceFrame
from facemark.see.contour import area_px2, even
from facemark.see.face import Face, ToeFrom
from facemark.see.framing import centred
from facemark.see.mark import Mark, Marks
from facemark.see.place import SweetSpot, place_marks, sweet_spot_of
from facemark.see.regroup import regroup, with_flags
from facemark.see.scale import Scale
from facemark.strike import GroupEstimate, SweetSpotFrom

# One standard error each; assumed, until people have been watched doing it.
HAND_SPOT_ERR_MM = 1.0  # the finger alone, on a point that can be seen
HAND_CENTRE_ERR_MM = 1.0  # of the centre of an outline put right by hand
LEAST_FILL_FRAC = 0.75  # an outline fills this much of its own hull, or it crosses itself; assumed

_Point = TypeVar("_Point", Mark, GroupEstimate)

HAND_DOUBTS = {doubts.TOE_SIDE_ASSUMED, doubts.HAND_FROM_PHOTO, doubts.HAND_CONTRADICTS}


def apply_corrections(measured: Measured, setup: Setup, edits: Sequence[Edit]) -> Reading:
    """The reading as corrected by hand.

    Parameters
    ----------
    measured : Measured
        The raw reading's, or one made again from its record (remake.py).
    setup : Setup
        As for the raw reading.
    edits : sequence of Edit
        In the order they were made; none gives the raw reading.

    Returns
    -------
    Reading
        Its record names the edits under ``corrected``; marks placed by hand carry ``by_hand``.

    Raises
    ------
    SetupError
        An edit that cannot be, with the edit's number and what to do instead.
    """
    corrected = correct(measured, setup, edits)
    return Reading(setup=setup, measured=corrected, interpreted=interpret(corrected.strikes, setup))


def correct(measured: Measured, setup: Setup, edits: Sequence[Edit]) -> Measured:
    """The corrected strikes alone, without saying what they did: a few milliseconds, for a finger that waits.

    Parameters, errors as in ``apply_corrections``.
    """
    if measured.edits:
        raise SetupError(
            "corrections were given to a reading that is corrected already",
            remedy="Start from the raw reading; it is kept.",
        )
    if not edits:
        return measured
    state = _start(measured)
    for number, edit in enumerate(edits, start=1):
        try:
            state = _apply(state, edit, measured, setup)
        except SetupError as err:
            raise SetupError(f"edit {number}: {err}", remedy=err.remedy) from None
    if not state.marks:
        raise SetupError("no mark would be left", remedy="Add the right mark first, then delete this one.")
    try:
        return _finished(state, measured, setup, tuple(edits))
    except FacemarkError as err:
        raise SetupError(str(err), remedy="Undo the last change to the outline.") from None


def _start(measured: Measured) -> State:
    frame = measured.face.frame
    marks = measured.marks.marks
    given = measured.letters or tuple(names(len(marks)))
    at = frame.px_from_mm(np.array([[m.toe_mm, m.high_mm] for m in marks]).reshape(-1, 2))
    indices = measured.photo_index or (None,) * len(marks)
    spot = measured.sweet_spot
    by_mark = spot.found_from is SweetSpotFrom.MARK
    return State(
        frame=frame,
        outline_px=measured.face.outline_px,
        marks={
            letter: Placed(mark=mark, x_px=float(px[0]), y_px=float(px[1]), n_photo=index)
            for letter, mark, px, index in zip(given, marks, at, indices, strict=True)
        },
        used=frozenset(given),
        spot_px=frame.px_from_mm(np.array([[spot.toe_mm, spot.high_mm]]))[0] if by_mark else None,
        spot_from=SweetSpotFrom.MARK if by_mark else None,
        spot_err_mm=(spot.toe_err_mm, spot.high_err_mm),
        hand=measured.face.hand,
        hand_seen=measured.face.hand_seen,
        toe_from=measured.face.toe_from,
    )


def _apply(state: State, edit: Edit, measured: Measured, setup: Setup) -> State:
    if isinstance(edit, MoveSweetSpot):
        need_on_face(state, edit.x_px, edit.y_px, "the sweet spot")
        at = np.array([edit.x_px, edit.y_px])
        return replace(state, spot_px=at, spot_from=SweetSpotFrom.BY_HAND)
    if isinstance(edit, ShiftOutline):
        shifted = state.outline_px + np.array([edit.right_px, edit.down_px])
        return _with_outline(state, shifted, measured)
    if isinstance(edit, DrawOutline):
        return _with_outline(state, _drawn(edit, len(state.outline_px)), measured)
    if isinstance(edit, ToeSide):
        return _with_toe(state, edit, measured.scale, setup)
    if isinstance(edit, AllMarks):
        return replace(state, complete=True)
    return edit_marks(state, edit)


# --- outline, toe ---
def _drawn(edit: DrawOutline, n_points: int) -> Array:
    points = np.array(edit.points_px, float)
    hull = cv2.convexHull(points.astype(np.float32)).reshape(-1, 2).astype(float)
    if abs(area_px2(points)) < LEAST_FILL_FRAC * abs(area_px2(hull)) or abs(area_px2(hull)) < 1000.0:
        raise SetupError(
            "this outline crosses itself or encloses nothing", remedy="Draw once around the face's edge."
        )
    return even(points, n_points)


def _with_outline(state: State, outline_px: Array, measured: Measured) -> State:
    low, high = outline_px.min(axis=0), outline_px.max(axis=0)
    margin = 0.05 * measured.width_px  # the finger may slip over the picture's edge
    if low.min() < -margin or (high > np.array([measured.width_px, measured.height_px]) + margin).any():
        raise SetupError("the outline would leave the photo", remedy="Keep it within the picture.")
    frame = centred(state.frame, outline_px)
    if measured.scale.kind is ReferenceKind.FACE:
        # The face's told length is the scale: another outline, another distance from the camera.
        for _ in range(3):
            now_mm = float(np.ptp(frame.mm_from_px(outline_px)[:, 0]))
            nearer = measured.face.width_mm / now_mm
            frame = centred(replace(frame, origin_cam_mm=frame.origin_cam_mm * nearer), outline_px)
    return replace(state, frame=frame, outline_px=outline_px, outline_by_hand=True)


def _with_toe(state: State, edit: ToeSide, scale: Scale, setup: Setup) -> State:
    """Turn or mirror the frame until the toe points to the place that was tapped.

    With a told hand, the face is turned half round where that keeps the hand (an upside-down photo), else
    mirrored; without one, the crown stays where it is.
    """
    frame = state.frame
    centre, toe, high = frame.px_from_mm(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    toe, high = toe - centre, high - centre
    if (np.array([edit.x_px, edit.y_px]) - centre) @ toe < 0:
        turned = setup.hand is not None and _looks(toe, high, scale) is setup.hand
        sign = np.array([-1.0, -1.0 if turned else 1.0, 1.0])
        frame = replace(frame, axes_cam=frame.axes_cam * sign)
        toe, high = -toe, -high if turned else high
    seen = _looks(toe, high, scale)
    return replace(state, frame=frame, toe_from=ToeFrom.BY_HAND, hand=setup.hand or seen, hand_seen=seen)


def _looks(toe_px: Array, high_px: Array, scale: Scale) -> Hand:
    """The hand whose heads look so: toe on the left with the crown up is right-handed, mirrored not."""
    right = (toe_px[0] * high_px[1] - toe_px[1] * high_px[0] > 0) != scale.mirrored
    return Hand.RIGHT if right else Hand.LEFT


# --- all together ---
def _finished(state: State, measured: Measured, setup: Setup, edits: tuple[Edit, ...]) -> Measured:
    settled = _settled(state)
    face = _face(state, measured.face, setup, settled)
    marks = _marks(state, measured, face, setup, settled)
    spot = _spot(state, setup)
    strikes = place_marks(marks, face, measured.scale, club=setup.club, n_balls=setup.n_balls, spot=spot)
    caveats = (Caveat(key=doubts.CORRECTED_BY_HAND, detail=edits_words(edits)), *strikes.caveats)
    indices = tuple(placed.n_photo for placed in state.marks.values())
    return replace(
        measured,
        face=face,
        marks=marks,
        strikes=replace(strikes, caveats=caveats),
        sweet_spot=spot,
        letters=tuple(state.marks),
        photo_index=None if measured.photo_index is None else indices,
        by_hand=frozenset(letter for letter, placed in state.marks.items() if placed.by_hand),
        edits=edits,
    )


def _settled(state: State) -> set[str]:
    """Doubts of the raw reading that these corrections answer."""
    settled = {doubts.SWEET_SPOT_ASSUMED, doubts.SWEET_SPOT_FROM_MARK}  # raised anew where they still hold
    if state.toe_from is ToeFrom.BY_HAND:
        settled |= HAND_DOUBTS
    if state.outline_by_hand:
        settled |= {doubts.FACE_EDGE_UNCERTAIN, doubts.FACE_NET_MISSING}
    if state.spot_from is SweetSpotFrom.BY_HAND:
        settled |= {doubts.CENTRE_MARK_NOT_FOUND}
    return settled


def _face(state: State, raw: Face, setup: Setup, settled: set[str]) -> Face:
    outline_mm = state.frame.mm_from_px(state.outline_px)
    width_mm, height_mm = np.ptp(outline_mm, axis=0)
    said = []
    if state.toe_from is ToeFrom.BY_HAND and setup.hand is None:
        said = [Caveat(key=doubts.HAND_FROM_PHOTO, detail=f"{state.hand.value}-handed")]
    elif state.toe_from is ToeFrom.BY_HAND and state.hand_seen not in (None, setup.hand):
        detail = f"told {state.hand.value}-handed, the photo shows {state.hand_seen.value}-handed"
        said = [Caveat(key=doubts.HAND_CONTRADICTS, detail=detail)]
    least = HAND_CENTRE_ERR_MM if state.outline_by_hand else 0.0
    return replace(
        raw,
        outline_px=state.outline_px,
        outline_mm=outline_mm,
        frame=state.frame,
        width_mm=float(width_mm),
        height_mm=float(height_mm),
        centre_toe_err_mm=max(raw.centre_toe_err_mm, least),
        centre_high_err_mm=max(raw.centre_high_err_mm, least),
        hand=state.hand,
        hand_seen=state.hand_seen,
        toe_from=state.toe_from,
        caveats=(*(c for c in raw.caveats if c.key not in settled), *said),
    )


def _marks(state: State, measured: Measured, face: Face, setup: Setup, settled: set[str]) -> Marks:
    """The marks in the corrected frame, and the raw group carried into it."""
    raw = measured.marks
    raw = replace(
        raw,
        marks=tuple(_carried(mark, measured.face.frame, state.frame) for mark in raw.marks),
        group=_carried(raw.group, measured.face.frame, state.frame),
        caveats=tuple(c for c in raw.caveats if c.key not in settled),
    )
    if not state.marks_changed and not state.complete:
        return raw
    placed = list(state.marks.values())
    at_mm = state.frame.mm_from_px(np.array([[p.x_px, p.y_px] for p in placed]))
    marks = [
        replace(p.mark, toe_mm=float(toe), high_mm=float(high))
        for p, (toe, high) in zip(placed, at_mm, strict=True)
    ]
    flagged = with_flags(marks, face.outline_mm)
    return regroup(raw, flagged, n_told=setup.n_balls, complete=state.complete)


def _carried(one: _Point, raw: FaceFrame, frame: FaceFrame) -> _Point:
    """The same point of the photo in another frame."""
    at_px = raw.px_from_mm(np.array([[one.toe_mm, one.high_mm]]))
    toe, high = frame.mm_from_px(at_px)[0]
    return replace(one, toe_mm=float(toe), high_mm=float(high))


def _spot(state: State, setup: Setup) -> SweetSpot:
    if state.spot_px is None or state.spot_from is None:
        return sweet_spot_of(setup.club)
    toe, high = state.frame.mm_from_px(state.spot_px[None])[0]
    by_hand = state.spot_from is SweetSpotFrom.BY_HAND
    errs = [
        math.hypot(HAND_SPOT_ERR_MM, STATED_ERR[name]) if by_hand else err
        for name, err in zip(("sweet_toe_mm", "sweet_high_mm"), state.spot_err_mm, strict=True)
    ]
    return SweetSpot(
        toe_mm=float(toe),
        high_mm=float(high),
        toe_err_mm=errs[0],
        high_err_mm=errs[1],
        found_from=state.spot_from,
    )
