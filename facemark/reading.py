"""The whole program on one screen: photo -> strikes -> meaning.

``measure`` finds out where the balls were struck; ``interpret`` says what that did; ``read`` does both. No
science lives here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from facemark.caveats import CENTRE_MARK_NOT_FOUND, PHOTO_LEFT_OUT, READ_FAST, Caveat
from facemark.edits import Edit
from facemark.errors import FacemarkError, SetupError
from facemark.explain.flight import Flight, predict_flight
from facemark.explain.pattern import Pattern, describe_pattern
from facemark.inputs import MAX_BALLS, Photo, ReferenceKind, Setup
from facemark.record import reading_record
from facemark.see.centre_mark import find_centre_mark
from facemark.see.face import Face, find_face
from facemark.see.face_net import guess_face
from facemark.see.mark import Marks
from facemark.see.marks import find_marks
from facemark.see.outline import find_outline
from facemark.see.place import SweetSpot, check_face_size, place_marks, sweet_spot_of
from facemark.see.quality import check_photo
from facemark.see.rectify import FaceMap, rectify
from facemark.see.references import find_references
from facemark.see.scale import Scale, find_scale, scale_from_face
from facemark.see.series import follow_series, marks_of_series
from facemark.see.small import shrink
from facemark.strike import StrikeSet

# The heads drawn for the ranges are the same every time: same photo, same numbers.
DRAW_SEED = 20260101
N_DRAWS = 400  # 95 % limits then scatter by about 5 % of the range's width

OUTLINE_ERR_MM = 3.0  # of a face's length by its outline, in two photos together; assumed
APART_ERRS = 4.0  # farther apart than this many errors, two lengths are two faces; assumed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """Where the balls were struck, and every step that led there."""

    photo_name: str
    width_px: int
    height_px: int
    scale: Scale
    face: Face
    marks: Marks
    sweet_spot: SweetSpot
    strikes: StrikeSet
    photo_index: tuple[int | None, ...] | None = None  # of each mark, in a series of photos
    letters: tuple[str, ...] | None = None  # of each mark, where corrections have left gaps; else A, B, C
    by_hand: frozenset[str] = frozenset()  # letters of marks placed by hand
    edits: tuple[Edit, ...] = ()  # made by hand (corrections.py); none: the raw reading


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Interpreted:
    """What these strikes mean."""

    pattern: Pattern
    flight: Flight


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """One photo, read."""

    setup: Setup
    measured: Measured
    interpreted: Interpreted

    @property
    def strikes(self) -> StrikeSet:
        return self.measured.strikes

    @property
    def pattern(self) -> Pattern:
        return self.interpreted.pattern

    @property
    def flight(self) -> Flight:
        return self.interpreted.flight

    @property
    def corrected(self) -> bool:
        """Whether a person has put anything right."""
        return bool(self.measured.edits)

    @property
    def caveats(self) -> tuple[Caveat, ...]:
        """Every doubt, each key once, in the order the stages raised them."""
        return _caveats(self.measured, self.pattern, self.flight)

    def to_dict(self) -> dict[str, Any]:
        """The reading as plain data: what ``--json`` prints (docs/reference/results.md)."""
        return reading_record(
            setup=self.setup,
            measured=self.measured,
            pattern=self.pattern,
            flight=self.flight,
            caveats=self.caveats,
        )


def read(photo: Photo, setup: Setup, *, fast: bool = False) -> Reading:
    """Read one photo.

    Parameters
    ----------
    photo : Photo
        From ``facemark.load``.
    setup : Setup
        Club, hand, scale object, number of balls, as far as told.
    fast : bool
        No second thing of known size is looked for, and marks over each other are looked at once. The reading
        says so (``read_fast``).

    Returns
    -------
    Reading

    Raises
    ------
    PhotoError, ScaleError, FaceError, MarkError
        The photo cannot be measured; the error says what to do.

    Example
    -------
    >>> reading = facemark.read(facemark.load("face.jpg"), setup)   # doctest: +SKIP
    >>> reading.pattern.label                                       # doctest: +SKIP
    """
    measured = measure(photo, setup, fast=fast)
    return Reading(setup=setup, measured=measured, interpreted=interpret(measured.strikes, setup))


def measure(photo: Photo, setup: Setup, *, fast: bool = False) -> Measured:
    """Photo -> strikes. Arguments and errors as in ``read``."""
    scale, face, face_map = _see_face(photo, setup, fast=fast)
    marks = find_marks(face_map, n_balls=setup.n_balls, effort_frac=setup.effort_frac, fast=fast)
    if fast:
        marks = replace(marks, caveats=(Caveat(key=READ_FAST), *marks.caveats))
    return _measured(photo, (scale, face, face_map), marks, setup=setup)


def read_series(
    photos: Sequence[Photo], setup: Setup, *, n_new: Sequence[int | None] | None = None
) -> Reading:
    """Read one face photographed after every few balls: each new mark, and the photo that first showed it.

    Parameters
    ----------
    photos : sequence of Photo
        In the order they were taken; the powder stays on in between (a new coat is noticed).
    setup : Setup
        ``n_balls`` is ignored; ``n_new`` speaks instead.
    n_new : sequence of int or None, optional
        Balls hit before each photo since the one before.

    Returns
    -------
    Reading
        In the last photo's frame. ``measured.photo_index`` tells each mark's photo, from 0.

    Raises
    ------
    SetupError, PhotoError, ScaleError, FaceError, MarkError
    """
    measured, setup = measure_series(photos, setup, n_new=n_new)
    return Reading(setup=setup, measured=measured, interpreted=interpret(measured.strikes, setup))


def measure_series(
    photos: Sequence[Photo], setup: Setup, *, n_new: Sequence[int | None] | None = None
) -> tuple[Measured, Setup]:
    """Photos of one face -> strikes, and the setup with the balls counted; otherwise as ``read_series``."""
    if n_new is not None and len(n_new) != len(photos):
        raise SetupError(
            f"{len(n_new)} counts of new balls were told for {len(photos)} photos",
            remedy="Tell one count for each photo, in order.",
        )
    n_told = sum(n for n in n_new or () if n is not None)
    if n_told > MAX_BALLS:
        raise SetupError(
            f"{n_told} balls are told for the whole series; at most {MAX_BALLS} can be read",
            remedy="Read the photos after each new coat of powder as a series of their own.",
        )
    seen, counts, said = _see_faces(photos, setup, n_new or [None] * len(photos))
    shown = sorted(seen)
    series = follow_series(
        [seen[index][2] for index in shown],
        [counts[index] for index in shown],
        effort_frac=setup.effort_frac,
    )
    told = [counts[index] for index in shown]
    setup = replace(setup, n_balls=None if None in told else sum(n for n in told if n is not None))
    marks = marks_of_series(series)
    marks = replace(marks, caveats=(*said, *marks.caveats))
    measured = _measured(photos[-1], seen[shown[-1]], marks, setup=setup)
    measured = replace(measured, photo_index=tuple(shown[mark.photo_index] for mark in series.marks))
    return measured, setup


def first_record(measured: Measured, setup: Setup) -> dict[str, Any]:
    """The record while what the strikes did is still being worked out: ``flight`` is null.

    A few milliseconds, for somebody who waits for a picture or drags a mark.
    """
    pattern = describe_pattern(measured.strikes, setup.club.kind)
    return reading_record(
        setup=setup,
        measured=measured,
        pattern=pattern,
        flight=None,
        caveats=_caveats(measured, pattern, None),
    )


def interpret(strikes: StrikeSet, setup: Setup) -> Interpreted:
    """Strikes -> meaning. The strikes may come from anywhere; no photo is needed."""
    rng = np.random.default_rng(DRAW_SEED)
    return Interpreted(
        pattern=describe_pattern(strikes, setup.club.kind),
        flight=predict_flight(strikes, setup, n_draws=N_DRAWS, rng=rng),
    )


def _caveats(measured: Measured, pattern: Pattern, flight: Flight | None) -> tuple[Caveat, ...]:
    """Every doubt, each key once, in the order the stages raised them."""
    stages = (measured.scale, measured.face, measured.strikes, pattern, flight)
    seen: dict[str, Caveat] = {}
    for stage in stages:
        for caveat in () if stage is None else stage.caveats:
            seen.setdefault(caveat.key, caveat)
    return tuple(seen.values())


def _see_face(photo: Photo, setup: Setup, *, fast: bool = False) -> tuple[Scale, Face, FaceMap]:
    """Everything that comes before the marks."""
    small = shrink(photo.pixels)
    check_photo(photo, small=small)
    guess = guess_face(photo, small=small, fast=fast)
    near_px = None if guess is None else guess.centre_px
    seen = find_references(photo, setup.reference, near_px=near_px, small=small, check=not fast)
    # The scale objects first, because the outline must not run around them.
    footprints = [polygon for one in seen for polygon in one.footprint_px]
    outline = find_outline(photo, avoid_px=footprints, guess=guess, bulging=setup.club.kind.is_wood)
    length_mm = _told_length_mm(setup)
    scale = find_scale(
        photo,
        setup.reference,
        outline_px=outline.outline_px,
        face_length_mm=length_mm,
        bulge_mm=setup.club.bulge_mm,
        seen=seen,
    )
    face = find_face(photo, scale, outline, setup)
    if scale.kind is ReferenceKind.FACE and length_mm is not None:
        # Now that the toe's direction is known, the length can be laid along it.
        toe_px = np.diff(face.frame.px_from_mm(np.array([[0.0, 0.0], [1.0, 0.0]])), axis=0)[0]
        along = scale_from_face(
            photo, outline.outline_px, length_mm, bulge_mm=setup.club.bulge_mm, toe_px=toe_px
        )
        scale = replace(along, footprint_px=scale.footprint_px, card_px=scale.card_px)
        face = find_face(photo, scale, outline, setup)
    check_face_size(face)
    return scale, face, rectify(photo.pixels, face.frame, face.outline_mm)


def _see_faces(
    photos: Sequence[Photo], setup: Setup, n_new: Sequence[int | None]
) -> tuple[dict[int, tuple[Scale, Face, FaceMap]], dict[int, int | None], list[Caveat]]:
    """The faces of a series by photo, balls hit before each, and what was left out.

    An earlier photo that cannot be measured is left out; how many of its balls still show in the next one is
    then not known, because the face may have been sprayed anew in between. The last one is needed: the
    reading is in its frame.
    """
    seen: dict[int, tuple[Scale, Face, FaceMap]] = {}
    counts: dict[int, int | None] = {}
    said = []
    for index, (photo, n) in enumerate(zip(photos, n_new, strict=True)):
        try:
            seen[index] = _see_face(photo, setup)
        except FacemarkError:
            if index == len(photos) - 1:
                raise
            said.append(Caveat(key=PHOTO_LEFT_OUT, detail=f"{index + 1} of {len(photos)}"))
            continue
        counts[index] = n if index == 0 or index - 1 in seen else None
    _need_one_face(seen)
    return seen, counts, said


def _need_one_face(seen: Mapping[int, tuple[Scale, Face, FaceMap]]) -> None:
    """Raise where two photos of a series show heads whose lengths differ beyond their errors."""
    first, *others = sorted(seen)
    for index in others:
        scale, face, _ = seen[first]
        other_scale, other, _ = seen[index]
        err_mm = math.hypot(
            face.width_mm * scale.scale_err_frac, other.width_mm * other_scale.scale_err_frac, OUTLINE_ERR_MM
        )
        if abs(face.width_mm - other.width_mm) > APART_ERRS * err_mm:
            raise SetupError(
                f"photos {first + 1} and {index + 1} of the series show faces {face.width_mm:.0f} and"
                f" {other.width_mm:.0f} mm long: that is not one club",
                remedy="Give each club a series of its own.",
            )


def _measured(photo: Photo, seen: tuple[Scale, Face, FaceMap], marks: Marks, *, setup: Setup) -> Measured:
    scale, face, face_map = seen
    centre_mark = find_centre_mark(face_map) if setup.centre_mark else None
    strikes = place_marks(marks, face, scale, club=setup.club, n_balls=setup.n_balls, centre_mark=centre_mark)
    if setup.centre_mark and centre_mark is None:
        strikes = replace(strikes, caveats=(*strikes.caveats, Caveat(key=CENTRE_MARK_NOT_FOUND)))
    return Measured(
        photo_name=photo.name,
        width_px=photo.width_px,
        height_px=photo.height_px,
        scale=scale,
        face=face,
        marks=marks,
        sweet_spot=sweet_spot_of(setup.club, centre_mark),
        strikes=strikes,
    )


def _told_length_mm(setup: Setup) -> float | None:
    """The face's length if somebody measured it: the option, else the club file."""
    if setup.reference.kind is ReferenceKind.FACE and setup.reference.size_mm is not None:
        return setup.reference.size_mm
    return None if "face_length_mm" in setup.club.assumed else setup.club.face_length_mm
