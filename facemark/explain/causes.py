"""Was it the strike, the face, or the path?

In the order a coach works: first the strike (photo), whose start and bend are computed and taken off; then
the face, which owns most of what is left of the start; then the path, which with the face makes the rest of
the curve.

Method: Bayes, by weighted draws (inversion.py). Nothing is blamed whose 98 % range covers zero: two things
can be blamed, and a golfer whose strike alone was off should hear false blame in fewer than 5 of 100 sets
(tests/bench/physics.py counts). The same notes are worked through once more as if nobody had looked at the
face, which shows what the photo is worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from facemark.caveats import NO_SHOTS_TOLD, WIND_NOT_NOTED, Caveat
from facemark.clubs import check_club
from facemark.explain import constants as c
from facemark.explain.flight import range_caveats, told_caveats, with_speed
from facemark.explain.heads import luck, normal_from
from facemark.explain.inversion import Worked, blind_centre, work_back
from facemark.explain.likelihood import Evidence, curve_evidence, start_evidence
from facemark.explain.notes import Note
from facemark.explain.places import Centre, centre_of, check_places, club_in_doubt
from facemark.explain.ranges import Range
from facemark.explain.shot import Conditions, launch, plain_case
from facemark.inputs import Club, Setup
from facemark.strike import SharedError, StrikeSet

Array = NDArray[np.float64]

N_DRAWS = 4000
_WITHOUT_FRAC = 0.25  # of the draws, for the second working-through, of which only the doubt is shown
_FEW_BALLS = 5
_N_EFFECTIVE = 100  # fewer draws than this that fit the notes: the notes fight the model


class Verdict(StrEnum):
    """Who did it."""

    STRIKE = "strike alone explains it"
    FACE = "face"
    PATH = "path"
    BOTH = "face and path"
    CANNOT_TELL = "cannot tell"


class Reason(StrEnum):
    """Why the verdict is what it is."""

    NOTHING_SEEN = "nothing was noted about the start or the curve"
    NO_START = "the start was not noted"
    NO_CURVE = "the curve was not noted"
    NO_STRIKE = "nobody looked where the balls met the face"
    NOTES_FIGHT = "no face, path and strike that golfers have fits these notes"
    COVERS_ZERO = "what is left after the strike is smaller than its doubt, and the doubt is large"
    NOTHING_LEFT = "what is left after the strike is small, and surely so"
    LEFT_OVER = "what is left after the strike is larger than its doubt"


class Observe(StrEnum):
    """What to look at next."""

    START = "note on which side of a stick each ball starts"
    CURVE = "note which way each ball curves, and about how far"
    STRIKE = "powder the face and photograph the marks"
    WRITE_AGAIN = "check the notes, the hand and the club, and hit a few more balls"
    MORE_BALLS = "hit and note more balls"
    MEASURE_CLUB = "measure the head's bulge and sweet spot, and give the head speed"
    MEASURE_FLIGHT = "use a corridor for the start and a marked line for the curve"
    CENTRE_FIRST = "move the strike to the middle first, then look at start and curve again"
    CHECK_FACE = "work on the face, watching the start"
    CHECK_PATH = "work on the path, watching the curve"


@dataclass(frozen=True, slots=True, kw_only=True)
class Causes:
    """What is whose. Ranges: ``nominal`` is the best single answer (the median)."""

    verdict: Verdict
    reason: Reason
    observe: Observe
    n_balls_noted: int
    strike_seen: bool
    face_open_deg: Range  # at the face centre
    path_out_deg: Range  # in-to-out
    face_to_path_open_deg: Range
    strike_start_push_deg: Range  # the strike's share of the start
    strike_curve_draw_m: Range
    seen_start_push_deg: float | None  # as noted, where numbers were; else None
    seen_curve_draw_m: float | None
    left_start_push_deg: Range | None  # seen less strike
    left_curve_draw_m: Range | None
    face_err_deg: float  # one standard error, with the strike known
    path_err_deg: float
    face_err_without_deg: float  # as if nobody had looked at the face
    path_err_without_deg: float
    caveats: tuple[Caveat, ...]


def separate_causes(
    strikes: StrikeSet | None,
    notes: Sequence[Note],
    setup: Setup,
    *,
    rng: np.random.Generator,
    n_draws: int = N_DRAWS,
    conditions: Conditions | None = None,
    wind_noted: bool = False,
) -> Causes:
    """Separate the strike from face and path.

    Parameters
    ----------
    strikes : StrikeSet or None
        None: nobody looked at the face.
    notes : sequence of Note
        One a ball, or one for the set. They speak of the same balls as the strikes.
    setup : Setup
    rng : numpy.random.Generator
    n_draws : int
        Fewer than about 1000 make the ranges too narrow: most draws count little against good notes.
    conditions : Conditions or None
        With the wind that was noted.
    wind_noted : bool
        False: wind is drawn, because nobody said there was none.

    Returns
    -------
    Causes
        About the mean of the balls. "Cannot tell" whenever start, curve or strike is missing.

    Raises
    ------
    SetupError
        An impossible club or strike.
    """
    check_club(setup.club)
    where = _with_wind(with_speed(conditions, setup), wind_noted)
    start, curve = start_evidence(notes), curve_evidence(notes)
    centre, shared, club = blind_centre(), SharedError(), setup.club
    if strikes is not None:
        check_places(strikes, setup.club)
        centre, shared = (
            _of_noted(centre_of(strikes), max(start.n_balls, curve.n_balls), notes),
            strikes.shared,
        )
        club = club_in_doubt(setup.club, strikes)
    evidence = (start, curve)
    worked = work_back(centre, shared, club, where=where, evidence=evidence, n=n_draws, rng=rng)
    without = worked
    if strikes is not None:
        n_without = max(int(_WITHOUT_FRAC * n_draws), min(n_draws, 200))
        unseen = blind_centre()
        without = work_back(unseen, shared, club, where=where, evidence=evidence, n=n_without, rng=rng)
    face, path = worked.range(worked.face_open_deg), worked.range(worked.path_out_deg)
    verdict, reason = _judge(worked, face, path, start, curve, strikes is not None)
    return Causes(
        verdict=verdict,
        reason=reason,
        observe=_next(verdict, reason, worked, club, where, evidence),
        n_balls_noted=max(start.n_balls, curve.n_balls),
        strike_seen=strikes is not None,
        face_open_deg=face,
        path_out_deg=path,
        face_to_path_open_deg=worked.range(worked.face_open_deg - worked.path_out_deg),
        strike_start_push_deg=worked.range(worked.strike_start_push_deg),
        strike_curve_draw_m=worked.range(worked.strike_curve_draw_m),
        seen_start_push_deg=_seen(start),
        seen_curve_draw_m=_seen(curve),
        left_start_push_deg=_left(worked, start, worked.strike_start_push_deg, rng),
        left_curve_draw_m=_left(worked, curve, worked.strike_curve_draw_m, rng),
        face_err_deg=worked.err(worked.face_open_deg),
        path_err_deg=worked.err(worked.path_out_deg),
        face_err_without_deg=without.err(without.face_open_deg),
        path_err_without_deg=without.err(without.path_out_deg),
        caveats=_caveats(strikes, club, where, centre, start, curve, wind_noted),
    )


def _with_wind(where: Conditions, noted: bool) -> Conditions:
    if not noted:
        return replace(where, wind_err_mps=c.WIND_UNSEEN_ERR_MPS)
    wind = float(np.hypot(where.air.wind_help_mps, where.air.wind_push_mps))
    return replace(where, wind_err_mps=max(c.WIND_CALM_ERR_MPS, c.WIND_NOTED_ERR_FRAC * wind))


def _of_noted(centre: Centre, n_noted: int, notes: Sequence[Note]) -> Centre:
    """Widen the mean strike when fewer (or other) balls were noted than marked."""
    if centre.scatter_mm2 is None or n_noted == 0 or any(note.of_set for note in notes):
        return centre
    differ = abs(1.0 / n_noted - 1.0 / centre.n_balls)
    toe_sq, high_sq = differ * np.diag(centre.scatter_mm2)
    return replace(
        centre,
        toe_err_mm=float(np.hypot(centre.toe_err_mm, np.sqrt(toe_sq))),
        high_err_mm=float(np.hypot(centre.high_err_mm, np.sqrt(high_sq))),
    )


def _judge(
    worked: Worked, face: Range, path: Range, start: Evidence, curve: Evidence, strike_seen: bool
) -> tuple[Verdict, Reason]:
    for missing, reason in (
        (start.empty and curve.empty, Reason.NOTHING_SEEN),
        (not strike_seen, Reason.NO_STRIKE),
        (start.empty, Reason.NO_START),
        (curve.empty, Reason.NO_CURVE),
        (worked.n_effective < min(_N_EFFECTIVE, len(worked.weights) / 40), Reason.NOTES_FIGHT),
    ):
        if missing:
            return Verdict.CANNOT_TELL, reason
    face_off = abs(face.median) > c.FACE_MATTERS_DEG and worked.one_sided(worked.face_open_deg)
    path_off = abs(path.median) > c.PATH_MATTERS_DEG and worked.one_sided(worked.path_out_deg)
    if face_off or path_off:
        both = face_off and path_off
        return Verdict.BOTH if both else Verdict.FACE if face_off else Verdict.PATH, Reason.LEFT_OVER
    small = (np.abs(worked.face_open_deg) < c.FACE_SMALL_DEG) & (
        np.abs(worked.path_out_deg) < c.PATH_SMALL_DEG
    )
    if worked.weights @ small >= c.SURE_FRAC:
        return Verdict.STRIKE, Reason.NOTHING_LEFT
    return Verdict.CANNOT_TELL, Reason.COVERS_ZERO


def _next(
    verdict: Verdict,
    reason: Reason,
    worked: Worked,
    club: Club,
    where: Conditions,
    evidence: tuple[Evidence, Evidence],
) -> Observe:
    missing = {
        Reason.NOTHING_SEEN: Observe.START,
        Reason.NO_STRIKE: Observe.STRIKE,
        Reason.NO_START: Observe.START,
        Reason.NO_CURVE: Observe.CURVE,
        Reason.NOTES_FIGHT: Observe.WRITE_AGAIN,
    }
    if reason in missing:
        return missing[reason]
    if verdict is Verdict.STRIKE:
        bend = abs(float(worked.weights @ worked.strike_curve_draw_m))
        push = abs(float(worked.weights @ worked.strike_start_push_deg))
        moved = bend > c.NO_CURVE_M or push > c.STRAIGHT_DEG
        return Observe.CENTRE_FIRST if moved else Observe.MORE_BALLS
    if verdict is not Verdict.CANNOT_TELL:
        return Observe.CHECK_PATH if verdict is Verdict.PATH else Observe.CHECK_FACE
    if min(notes.n_balls for notes in evidence) < _FEW_BALLS:
        return Observe.MORE_BALLS
    unmeasured = {"bulge_mm", "sweet_toe_mm"} & club.assumed
    return Observe.MEASURE_CLUB if unmeasured or where.head_mps is None else Observe.MEASURE_FLIGHT


def _seen(evidence: Evidence) -> float | None:
    return None if evidence.mean_and_err is None else evidence.mean_and_err[0]


def _left(worked: Worked, evidence: Evidence, share: Array, rng: np.random.Generator) -> Range | None:
    if evidence.mean_and_err is None:
        return None
    mean, err = evidence.mean_and_err
    return worked.range(mean + err * normal_from(luck(len(share), rng)) - share)


def _caveats(
    strikes: StrikeSet | None,
    club: Club,
    where: Conditions,
    centre: Centre,
    start: Evidence,
    curve: Evidence,
    wind_noted: bool,
) -> tuple[Caveat, ...]:
    plain = launch(plain_case(club, where), (centre.toe_mm, centre.high_mm))
    found = [
        *told_caveats(club, strikes or StrikeSet(strikes=()), where),
        *range_caveats(centre, club, where, plain_launch=plain),
    ]
    if start.empty and curve.empty:
        found.append(Caveat(key=NO_SHOTS_TOLD))
    elif not wind_noted:
        found.append(Caveat(key=WIND_NOT_NOTED))
    return tuple(found)
