"""What do edits of single marks do? Add, move, delete, merge, split: each gives a new set of marks.

The state holds everything an edit can change; places are pixels of the photo until all edits are done.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np

from facemark.edits import AddMark, DeleteMark, MergeMarks, MoveMark, SplitMark
from facemark.errors import SetupError
from facemark.inputs import Hand
from facemark.record import letters as names
from facemark.see.camera import Array, FaceFrame
from facemark.see.face import ToeFrom
from facemark.see.mark import Mark
from facemark.see.place import HALF_MARK_MM
from facemark.strike import SweetSpotFrom

HAND_MARK_ERR_MM = 1.5  # one standard error: a mark's middle pointed at on an enlarged photo; assumed
HAND_SCORE_FRAC = 0.95  # a person who points at a mark is taken to be right this often; assumed
USUAL_MARK_MM = 20.0  # when there is no other mark to go by; assumed
MARK_MM = (3.0, 45.0)  # a touch to more than a ball's width
MOST_MARKS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A mark and where it lies in the photo."""

    mark: Mark
    x_px: float
    y_px: float
    n_photo: int | None = None
    by_hand: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class State:
    """Everything an edit can change. ``spot_px`` None: the club's own, from the face centre."""

    frame: FaceFrame
    outline_px: Array
    marks: Mapping[str, Placed]
    used: frozenset[str]  # letters ever given
    spot_px: Array | None = None
    spot_from: SweetSpotFrom | None = None
    spot_err_mm: tuple[float, float]
    hand: Hand
    hand_seen: Hand | None
    toe_from: ToeFrom
    outline_by_hand: bool = False
    complete: bool = False
    marks_changed: bool = False


def edit_marks(state: State, edit: AddMark | MoveMark | DeleteMark | MergeMarks | SplitMark) -> State:
    """The state after one edit of marks.

    Raises
    ------
    SetupError
        No such mark, a place off the face, a size no ball leaves, too many marks.
    """
    change: Callable[[State, Any], dict[str, Placed]] = _CHANGES[type(edit)]
    marks = change(state, edit)
    if len(marks) > MOST_MARKS:
        raise SetupError(f"{len(marks)} marks would be on the face", remedy=f"Keep to {MOST_MARKS} marks.")
    return replace(state, marks=marks, used=state.used | marks.keys(), marks_changed=True)


def need_on_face(state: State, x_px: float, y_px: float, what: str) -> None:
    """Refuse a place more than half a mark outside the outline."""
    inside_px = cv2.pointPolygonTest(state.outline_px.astype(np.float32), (x_px, y_px), True)
    if inside_px * state.frame.mm_per_px < -HALF_MARK_MM:
        raise SetupError(
            f"{what} would lie off the face", remedy="Point inside the outline, or correct the outline first."
        )


def _added(state: State, edit: AddMark) -> dict[str, Placed]:
    diameter = _usual_mm(state) if edit.diameter_mm is None else edit.diameter_mm
    if not MARK_MM[0] <= diameter <= MARK_MM[1]:
        raise SetupError(f"a mark {diameter:g} mm wide was added", remedy="A ball leaves one of 10 to 30 mm.")
    return {**state.marks, _next_letter(state): _by_hand(state, edit.x_px, edit.y_px, diameter)}


def _moved(state: State, edit: MoveMark) -> dict[str, Placed]:
    old = _need(state, edit.letter)
    new = _by_hand(state, edit.x_px, edit.y_px, old.mark.diameter_mm)
    return {**state.marks, edit.letter: replace(new, n_photo=old.n_photo)}


def _deleted(state: State, edit: DeleteMark) -> dict[str, Placed]:
    _need(state, edit.letter)
    return {letter: placed for letter, placed in state.marks.items() if letter != edit.letter}


def _merged(state: State, edit: MergeMarks) -> dict[str, Placed]:
    one, other = _need(state, edit.letter), _need(state, edit.other)
    if edit.letter == edit.other:
        raise SetupError(f"mark {edit.letter} was merged with itself", remedy="Choose two marks.")
    diameter = (one.mark.diameter_mm + other.mark.diameter_mm) / 2
    both = _by_hand(state, (one.x_px + other.x_px) / 2, (one.y_px + other.y_px) / 2, diameter)
    merged = {**state.marks, edit.letter: replace(both, n_photo=one.n_photo)}
    del merged[edit.other]
    return merged


def _split(state: State, edit: SplitMark) -> dict[str, Placed]:
    old = _need(state, edit.letter)
    first = _by_hand(state, edit.x_px, edit.y_px, old.mark.diameter_mm)
    second = _by_hand(state, edit.other_x_px, edit.other_y_px, old.mark.diameter_mm)
    return {
        **state.marks,
        edit.letter: replace(first, n_photo=old.n_photo),
        _next_letter(state): replace(second, n_photo=old.n_photo),
    }


_CHANGES: dict[type[Any], Callable[[State, Any], dict[str, Placed]]] = {
    AddMark: _added,
    MoveMark: _moved,
    DeleteMark: _deleted,
    MergeMarks: _merged,
    SplitMark: _split,
}


def _need(state: State, letter: str) -> Placed:
    if letter not in state.marks:
        raise SetupError(
            f"there is no mark {letter}", remedy=f"The marks are {', '.join(state.marks) or 'all deleted'}."
        )
    return state.marks[letter]


def _next_letter(state: State) -> str:
    """The first name never given: a deleted mark's letter is not used for another."""
    return next(name for name in names(len(state.used) + 1) if name not in state.used)


def _usual_mm(state: State) -> float:
    sizes = [placed.mark.diameter_mm for placed in state.marks.values()]
    return float(np.median(sizes)) if sizes else USUAL_MARK_MM


def _by_hand(state: State, x_px: float, y_px: float, diameter_mm: float) -> Placed:
    need_on_face(state, x_px, y_px, "a mark")
    mark = Mark(
        toe_mm=0.0,  # from the pixels, once all edits are done
        high_mm=0.0,
        toe_err_mm=HAND_MARK_ERR_MM,
        high_err_mm=HAND_MARK_ERR_MM,
        diameter_mm=diameter_mm,
        score_frac=HAND_SCORE_FRAC,
        sure=True,
        touches=False,
        at_edge=False,
    )
    return Placed(mark=mark, x_px=x_px, y_px=y_px, by_hand=True)
