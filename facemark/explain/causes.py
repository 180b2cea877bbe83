"""Was it the strike, the face, or the path?

In the order a coach works: first the strike (photo), whose start and bend are computed and taken off; then
the face, which owns most of what is left of the start; then the path, which with the face makes the rest of
the curve.

Method: Bayes. Draws of everything unknown (heads, strike, aim, wind, air: shot.py, places.py); for each the
model is linear enough in face and path to propose them near the notes; each proposal is flown through the
whole model and weighted by how well it fits the notes and the priors (importance sampling). Nothing is
blamed whose 98 % range covers zero: two things can be blamed, and a golfer whose strike alone was off should
hear false blame in fewer than 5 of 100 sets (tests/bench/physics.py counts). The same notes are worked
through once more as if nobody had looked at the face, which shows what the photo is worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from facemark.caveats import NO_SHOTS_TOLD, WIND_NOT_NOTED, Caveat
from facemark.clubs import check_club
from facemark.errors import SetupError
from facemark.explain import constants as c
from facemark.explain.flight import range_caveats, told_caveats, with_speed
from facemark.explain.heads import luck, normal_from
from facemark.explain.likelihood import Evidence, curve_evidence, log_fit, matched_normal, start_evidence
from facemark.explain.notes import Note
from facemark.explain.places import Centre, centre_of, check_places, club_in_doubt, true_places
from facemark.explain.ranges import Range, range_of
from facemark.explain.shot import Cases, Conditions, draw_cases, hit, launch, plain_case
from facemark.inputs import Club, Setup
from facemark.strike import SharedError, StrikeSet

Array = NDArray[np.float64]

N_DRAWS = 4000
_WITHOUT_FRAC = 0.25  # of the draws, for the second working-through, of which only the doubt is shown
_PARTIAL_DEG = 2.0  # step of face and path for the slopes
_STEPS_DEG = _PARTIAL_DEG * np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])  # of face, of path
_WIDEN = 1.3  # proposals are spread a little wider than the answer, so that none of it is missed
_START_PRIOR_DEG = 6.0  # how far starts and curves lie off in general; only steers the proposals
_CURVE_PRIOR_M = 25.0
_MOST_DEG = 15.0  # proposals are made around a face and path within this
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Worked:
    """Weighted draws of the answer, (N,) each."""

    face_open_deg: Array
    path_out_deg: Array
    strike_start_push_deg: Array
    strike_curve_draw_m: Array
    weights: Array

    @property
    def n_effective(self) -> float:
        return float(1.0 / (self.weights @ self.weights))

    def err(self, values: Array) -> float:
        mean = self.weights @ values
        return float(np.sqrt(self.weights @ (values - mean) ** 2))

    def one_sided(self, values: Array) -> bool:
        """Whether the range that counts for blame lies on one side of zero."""
        above = float(self.weights @ (values > 0.0))
        return min(above, 1.0 - above) < 0.5 * (1.0 - c.BLAME_FRAC)

    def range(self, values: Array) -> Range:
        found = range_of(0.0, values, weights=self.weights)
        return replace(found, nominal=found.median)


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
    blind = _blind_centre()
    centre, shared, club = blind, SharedError(), setup.club
    if strikes is not None:
        check_places(strikes, setup.club)
        centre, shared = (
            _of_noted(centre_of(strikes), max(start.n_balls, curve.n_balls), notes),
            strikes.shared,
        )
        club = club_in_doubt(setup.club, strikes)
    worked = _work(centre, shared, club, where, (start, curve), n_draws, rng)
    n_without = max(int(_WITHOUT_FRAC * n_draws), min(n_draws, 200))
    without = worked if strikes is None else _work(blind, shared, club, where, (start, curve), n_without, rng)
    face, path = worked.range(worked.face_open_deg), worked.range(worked.path_out_deg)
    verdict, reason = _judge(worked, face, path, start, curve, strikes is not None)
    return Causes(
        verdict=verdict,
        reason=reason,
        observe=_next(verdict, reason, worked, club, where, start, curve),
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


def _blind_centre() -> Centre:
    """The strike of balls nobody looked at: the sweet spot, give or take what amateurs miss it by."""
    return Centre(
        n_balls=1.0,
        toe_mm=0.0,
        high_mm=0.0,
        toe_err_mm=c.UNSEEN_TOE_MM,
        high_err_mm=c.UNSEEN_HIGH_MM,
        scatter_mm2=None,
    )


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


def _work(
    centre: Centre,
    shared: SharedError,
    club: Club,
    where: Conditions,
    evidence: tuple[Evidence, Evidence],
    n: int,
    rng: np.random.Generator,
) -> _Worked:
    """Draw everything unknown, propose face and path near the notes, fly, weigh."""
    cases = draw_cases(club, where, n, rng=rng)
    toe, high = (
        drawn[0]
        for drawn in true_places(
            np.array([[centre.toe_mm, centre.high_mm]]),
            np.array([[centre.toe_err_mm, centre.high_err_mm]]),
            shared,
            club=club,
            heads=cases.heads,
            rng=rng,
        )
    )
    aim = c.AIM_ERR_DEG * normal_from(luck(n, rng))
    normals = [
        None if notes.empty else matched_normal(notes, prior)
        for notes, prior in zip(evidence, (_START_PRIOR_DEG, _CURVE_PRIOR_M), strict=True)
    ]
    around = _rough_answer(centre, club, where, normals)
    # Five flights of every case: the strike alone, nothing at all, and three for the slopes.
    zero = np.zeros(n)
    flights = _seen_flight(
        cases,
        (np.stack([toe, zero, toe, toe, toe]), np.stack([high, zero, high, high, high])),
        where,
        np.concatenate([[0.0, 0.0], around[0] + _STEPS_DEG[0]])[:, None],
        np.concatenate([[0.0, 0.0], around[1] + _STEPS_DEG[1]])[:, None],
    )
    alone, nowhere = flights[:, 0], flights[:, 1]
    base, slopes = _slopes(flights[:, 2:])
    mean, cov = _posterior(base + np.stack([aim, zero]), slopes, normals, around)
    face, path, log_q = _propose(mean, cov, rng)
    flown = _seen_flight(cases, (toe, high), where, face, path)
    log_w = -0.5 * ((face / c.FACE_PRIOR_DEG) ** 2 + (path / c.PATH_PRIOR_DEG) ** 2) - log_q
    log_w += log_fit(evidence[0], flown[0] + aim) + log_fit(evidence[1], flown[1])
    weights = np.exp(log_w - log_w.max())
    return _Worked(
        face_open_deg=face,
        path_out_deg=path,
        strike_start_push_deg=alone[0] - nowhere[0],
        strike_curve_draw_m=alone[1] - nowhere[1],
        weights=weights / weights.sum(),
    )


def _seen_flight(
    cases: Cases,
    strike_mm: tuple[Array, Array],
    where: Conditions,
    face_open_deg: Array | float = 0.0,
    path_out_deg: Array | float = 0.0,
) -> Array:
    """Start [deg] and curve [m], (2, N)."""
    shots = hit(cases, strike_mm, where, face_open_deg=face_open_deg, path_out_deg=path_out_deg)
    curve = shots.landing.curve_draw_m
    if not np.isfinite(curve).all():
        raise SetupError(
            "the landing place lies higher than these balls fly",
            remedy="Lower --landing-up, or give the head speed.",
        )
    return np.stack([shots.launch.start_push_deg, curve])


def _rough_answer(
    centre: Centre, club: Club, where: Conditions, normals: list[tuple[float, float] | None]
) -> Array:
    """Face and path [deg] that fit the notes on the plain head: two Gauss-Newton steps with the priors."""
    one = plain_case(club, where)
    strike = (np.full((3, 1), centre.toe_mm), np.full((3, 1), centre.high_mm))
    answer = np.zeros(2)
    for _ in range(2):
        face, path = (answer[k] + _STEPS_DEG[k][:, None] for k in (0, 1))
        base, slopes = _slopes(_seen_flight(one, strike, where, face, path))
        mean, _ = _posterior(base, slopes, normals, answer, aim_err=c.AIM_ERR_DEG)
        answer = np.clip(mean[:, 0], -_MOST_DEG, _MOST_DEG)
    return answer


def _slopes(flights: Array) -> tuple[Array, Array]:
    """Seen values (2, N) and their slopes per degree of face and of path (2 seen, 2 causes, N).

    ``flights`` (2 seen, 3, N): at a place, a step of face farther, a step of path farther.
    """
    base = flights[:, 0]
    return base, (flights[:, 1:] - base[:, None]) / _PARTIAL_DEG


def _posterior(
    base: Array,
    slopes: Array,
    normals: list[tuple[float, float] | None],
    around: Array,
    *,
    aim_err: float = 0.0,
) -> tuple[Array, Array]:
    """Mean (2, N) and covariance (N, 2, 2) of face and path under the linear model at ``around``."""
    n = base.shape[1]
    precision = np.tile(np.diag([c.FACE_PRIOR_DEG**-2, c.PATH_PRIOR_DEG**-2]), (n, 1, 1))
    pull = np.zeros((n, 2))
    for k, normal in enumerate(normals):
        if normal is None:
            continue
        mean, err = normal
        err = float(np.hypot(err, aim_err if k == 0 else 0.0))
        g = slopes[k].T
        precision += g[:, :, None] * g[:, None, :] / err**2
        pull += g * ((mean - base[k] + g @ around) / err**2)[:, None]
    cov = np.linalg.inv(precision)
    return (cov @ pull[..., None])[..., 0].T, cov


def _propose(mean: Array, cov: Array, rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """One face and path for each case, and the log density they were drawn with (up to a constant)."""
    root = np.linalg.cholesky(cov) * _WIDEN
    z = np.stack([normal_from(luck(len(cov), rng)) for _ in range(2)], axis=-1)
    drawn = mean.T + (root @ z[..., None])[..., 0]
    log_q = -0.5 * np.sum(z**2, axis=-1) - np.log(root[:, 0, 0] * root[:, 1, 1])
    return drawn[:, 0], drawn[:, 1], log_q


def _judge(
    worked: _Worked, face: Range, path: Range, start: Evidence, curve: Evidence, strike_seen: bool
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
    worked: _Worked,
    club: Club,
    where: Conditions,
    start: Evidence,
    curve: Evidence,
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
    if min(start.n_balls, curve.n_balls) < _FEW_BALLS:
        return Observe.MORE_BALLS
    unmeasured = {"bulge_mm", "sweet_toe_mm"} & club.assumed
    return Observe.MEASURE_CLUB if unmeasured or where.head_mps is None else Observe.MEASURE_FLIGHT


def _seen(evidence: Evidence) -> float | None:
    return None if evidence.mean_and_err is None else evidence.mean_and_err[0]


def _left(worked: _Worked, evidence: Evidence, share: Array, rng: np.random.Generator) -> Range | None:
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
