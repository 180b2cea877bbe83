"""What did these strikes alone do to the ball?

Face and path are held at zero, so everything that starts or bends here comes from where the ball met the
face. Each number is a range: the club's measured numbers over their error, its assumed ones over the range of
its kind, the strike, the sweet spot and the air over theirs (shot.py, places.py). For the group: the mean
strike, what its scatter alone spreads, and what centring this pattern would give.

Push, pull, draw and fade do not depend on the player's hand; left and right are words of tell/.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from facemark.caveats import CLUB_ASSUMED, OUTSIDE_MODEL_RANGE, SPEED_ASSUMED, SWEET_SPOT_ASSUMED, Caveat
from facemark.clubs import check_club
from facemark.errors import SetupError
from facemark.explain import constants as c
from facemark.explain.heads import Heads
from facemark.explain.impact import Launch
from facemark.explain.places import (
    Centre,
    centre_of,
    check_places,
    club_in_doubt,
    kept_on_face,
    sigma_points,
    true_places,
)
from facemark.explain.ranges import Range, range_of
from facemark.explain.shot import Conditions, Shots, draw_cases, hit, launch, plain_case, plain_head_mps
from facemark.explain.trajectory import DRAWN_STEP_S
from facemark.inputs import Club, Setup
from facemark.strike import StrikeSet, SweetSpotFrom

Array = NDArray[np.float64]

# Cases that never get as high as the landing place are left out, up to this share of them.
_MOST_SHORT_FRAC = 0.1
_LEAST = 0.1  # m or m/s; keeps the share of carry finite for balls that do not fly
N_DRAWS = 2000  # 95 % limits then scatter by about 2 % of the range's width


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One strike's flight with face and path at zero. Changes and shares are against a centred strike."""

    ball_mps: Range
    launch_deg: Range
    start_push_deg: Range  # all of it comes from the strike
    back_rpm: Range
    side_draw_rpm: Range
    axis_draw_deg: Range
    carry_m: Range
    curve_draw_m: Range  # from the start line
    offline_push_m: Range  # from the target line
    apex_m: Range
    landing_deg: Range
    launch_change_deg: Range
    back_change_rpm: Range
    speed_kept_frac: Range
    carry_kept_frac: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkFlight:
    """One mark and its flight."""

    toe_mm: float
    high_mm: float
    outcome: Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """How far the balls differ only because they were struck at different places (standard deviations)."""

    start_spread_deg: Range
    curve_spread_m: Range
    offline_spread_m: Range
    carry_spread_m: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class Centring:
    """What would change if THIS pattern, as scattered as it is, were moved onto the sweet spot in use.

    The mean over the balls; a range, not a promise.
    """

    ball_gain_mps: Range
    carry_gain_m: Range
    offline_change_push_m: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class Flight(Outcome):
    """The group: the flight of its mean strike, and what the scatter adds."""

    n_balls: float  # not an integer when it is an estimate
    toe_mm: float  # the mean strike
    high_mm: float
    head_mps: float  # the plain value used
    scatter: Scatter | None  # None: fewer than two balls
    centring: Centring
    marks: tuple[MarkFlight, ...]
    caveats: tuple[Caveat, ...]


def predict_flight(
    strikes: StrikeSet,
    setup: Setup,
    *,
    n_draws: int = N_DRAWS,
    rng: np.random.Generator,
    conditions: Conditions | None = None,
    each_mark: bool = True,
) -> Flight:
    """Say what strikes alone do to the ball.

    Parameters
    ----------
    strikes : StrikeSet
    setup : Setup
        Club and head speed are used.
    n_draws : int
        Heads, speeds and airs to draw.
    rng : numpy.random.Generator
    conditions : Conditions or None
        Attack, air and landing height; None: level attack, standard air, level ground. Its head speed, if
        told, goes before the setup's.
    each_mark : bool
        Also every strike on its own; False: the set alone, which is quicker for many strikes.

    Returns
    -------
    Flight

    Raises
    ------
    SetupError
        An impossible club, a strike off the face, no strikes, a landing place above the flight.
    """
    check_club(setup.club)
    check_places(strikes, setup.club)
    where = with_speed(conditions, setup)
    centre = centre_of(strikes)
    club = club_in_doubt(setup.club, strikes)
    if not each_mark:
        strikes = replace(strikes, strikes=())
    one, many = plain_case(club, where), draw_cases(club, where, n_draws, rng=rng)
    around_mm, weights = sigma_points(centre.scatter_mm2)
    n_around = len(weights)
    mean_mm = np.array([[centre.toe_mm, centre.high_mm]])
    marks_mm = np.array([(s.toe_mm, s.high_mm) for s in strikes.strikes]).reshape(-1, 2)
    # Rows: places around the mean (the first IS the mean), the same around the sweet spot, the marks; at last
    # the sweet spot itself.
    places_mm = np.vstack([mean_mm + around_mm, around_mm, marks_mm])
    drawn_mm = _drawn_places(strikes, centre, around_mm, club=club, heads=many.heads, rng=rng)
    plain = numbers_of(hit(one, _and_sweet_spot(places_mm[:, 0], places_mm[:, 1], setup.club), where))
    drawn = numbers_of(hit(many, _and_sweet_spot(*drawn_mm, setup.club), where, step_s=DRAWN_STEP_S))
    _must_land(plain["carry_m"], drawn["carry_m"])
    middle, drawn_middle = _row(plain, -1), _row(drawn, -1)
    outcomes = [
        _outcome(_row(plain, k), middle, _row(drawn, k), drawn_middle)
        for k in (0, *range(2 * n_around, len(places_mm)))
    ]
    return Flight(
        **{item.name: getattr(outcomes[0], item.name) for item in fields(Outcome)},
        n_balls=centre.n_balls,
        toe_mm=centre.toe_mm,
        high_mm=centre.high_mm,
        head_mps=float(one.head_mps),
        scatter=None if centre.scatter_mm2 is None else _scatter(plain, drawn, weights),
        centring=_centring(plain, drawn, weights),
        marks=tuple(
            MarkFlight(toe_mm=s.toe_mm, high_mm=s.high_mm, outcome=outcome)
            for s, outcome in zip(strikes.strikes, outcomes[1:], strict=True)
        ),
        caveats=(
            *told_caveats(club, strikes, where),
            *range_caveats(centre, club, where, plain_launch=launch(one, (centre.toe_mm, centre.high_mm))),
        ),
    )


def with_speed(conditions: Conditions | None, setup: Setup) -> Conditions:
    """Join the conditions with the setup's head speed; the conditions' own goes first.

    Parameters
    ----------
    conditions : Conditions or None
    setup : Setup

    Returns
    -------
    Conditions
    """
    conditions = conditions or Conditions()
    if conditions.head_mps is not None:
        return conditions
    return replace(conditions, head_mps=setup.head_mps)


def told_caveats(club: Club, strikes: StrikeSet, where: Conditions) -> tuple[Caveat, ...]:
    """Say what nobody told and was assumed.

    Parameters
    ----------
    club : Club
    strikes : StrikeSet
    where : Conditions

    Returns
    -------
    tuple of Caveat
    """
    found = []
    sweet = {"sweet_toe_mm", "sweet_high_mm"}
    if where.head_mps is None:
        typical = c.TYPICAL_HEAD_MPS[club.kind]
        detail = f"{typical.value:.0f} m/s, drawn from {typical.low:.0f} to {typical.high:.0f}"
        found.append(Caveat(key=SPEED_ASSUMED, detail=detail))
    if club.assumed & sweet and strikes.sweet_spot_from is SweetSpotFrom.ASSUMED:
        found.append(Caveat(key=SWEET_SPOT_ASSUMED))
    unmeasured = club.assumed - sweet - {"face_length_mm", "face_height_mm"}
    if unmeasured:
        found.append(Caveat(key=CLUB_ASSUMED, detail=f"a typical {club.kind.value}"))
    return tuple(found)


def range_caveats(
    centre: Centre, club: Club, where: Conditions, *, plain_launch: Launch
) -> tuple[Caveat, ...]:
    """Say where this strike lies outside what the model was checked for.

    Parameters
    ----------
    centre : Centre
    club : Club
    where : Conditions
    plain_launch : Launch
        The mean strike at the plain values.

    Returns
    -------
    tuple of Caveat
        One caveat with all reasons, or none.
    """
    mps = plain_head_mps(club, where)
    ball = float(plain_launch.ball_mps)
    spin = float(np.linalg.norm(plain_launch.spin_radps))
    ratio = c.BALL_RADIUS_M.value * spin / ball
    reynolds = 2.0 * c.BALL_RADIUS_M.value * ball / where.air.viscosity_m2_per_s
    reasons = [
        (abs(centre.toe_mm) <= c.TOE_CHECKED_MM, f"{abs(centre.toe_mm):.0f} mm toe or heel"),
        (abs(centre.high_mm) <= c.HIGH_CHECKED_MM, f"{abs(centre.high_mm):.0f} mm high or low"),
        (c.HEAD_MPS_CHECKED[0] <= mps <= c.HEAD_MPS_CHECKED[1], f"head speed {mps:.0f} m/s"),
        (
            ratio <= c.SPIN_RATIO_RANGE[1],
            f"spin ratio {ratio:.2f}, above the {c.SPIN_RATIO_RANGE[1]:.2f} of the lift and drag sources",
        ),
        (
            c.REYNOLDS_RANGE[0] <= reynolds <= c.REYNOLDS_RANGE[1],
            f"Reynolds number {reynolds:.0f}, outside that of the lift and drag sources",
        ),
    ]
    outside = "; ".join(words for inside, words in reasons if not inside)
    return (Caveat(key=OUTSIDE_MODEL_RANGE, detail=outside),) if outside else ()


def numbers_of(shots: Shots) -> dict[str, Array]:
    """Everything a ball's flight is described by, by the names of ``Outcome``.

    Parameters
    ----------
    shots : Shots

    Returns
    -------
    dict of str to float64 array
    """
    launch = ("ball_mps", "launch_deg", "start_push_deg", "back_rpm", "side_draw_rpm", "axis_draw_deg")
    landing = ("carry_m", "curve_draw_m", "offline_push_m", "apex_m", "landing_deg")
    return {
        **{name: getattr(shots.launch, name) for name in launch},
        **{name: getattr(shots.landing, name) for name in landing},
    }


def _drawn_places(
    strikes: StrikeSet,
    centre: Centre,
    around_mm: Array,
    *,
    club: Club,
    heads: Heads,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """The rows of ``predict_flight`` from each drawn head's own sweet spot, (M, N) each."""
    mean_mm = np.array([[centre.toe_mm, centre.high_mm]])
    mean_err = np.array([[centre.toe_err_mm, centre.high_err_mm]])
    marks_mm = np.array([(s.toe_mm, s.high_mm) for s in strikes.strikes]).reshape(-1, 2)
    own = np.array([(s.toe_err_mm, s.high_err_mm) for s in strikes.strikes]).reshape(-1, 2)
    mean = true_places(mean_mm, mean_err, strikes.shared, club=club, heads=heads, rng=rng)
    marks = true_places(marks_mm, own, strikes.shared, club=club, heads=heads, rng=rng)
    toe, high = (
        np.vstack(
            [mean[k] + around_mm[:, k : k + 1], mean[k] - mean_mm[0, k] + around_mm[:, k : k + 1], marks[k]]
        )
        for k in range(2)
    )
    return toe, high


def _and_sweet_spot(toe_mm: Array, high_mm: Array, club: Club) -> tuple[Array, Array]:
    """Places (M, ...) kept on the face, and one more row of strikes on the sweet spot."""
    toe, high = kept_on_face(toe_mm, high_mm, club)
    spot = np.zeros_like(toe[:1])
    return np.concatenate([toe, spot]), np.concatenate([high, spot])


def _outcome(
    plain: Mapping[str, Array],
    middle: Mapping[str, Array],
    drawn: Mapping[str, Array],
    drawn_middle: Mapping[str, Array],
) -> Outcome:
    ranges = {name: range_of(float(plain[name]), drawn[name]) for name in plain}
    for name, of, ratio in (
        ("launch_change_deg", "launch_deg", False),
        ("back_change_rpm", "back_rpm", False),
        ("speed_kept_frac", "ball_mps", True),
        ("carry_kept_frac", "carry_m", True),
    ):
        nominal, draws = (
            this[of] / np.maximum(centred[of], _LEAST) if ratio else this[of] - centred[of]
            for this, centred in ((plain, middle), (drawn, drawn_middle))
        )
        ranges[name] = range_of(float(nominal), draws)
    return Outcome(**ranges)


def _scatter(plain: Mapping[str, Array], drawn: Mapping[str, Array], weights: Array) -> Scatter:
    def spread(name: str) -> Range:
        n = len(weights)
        return range_of(float(_spread(plain[name][:n], weights)), _spread(drawn[name][:n], weights))

    return Scatter(
        start_spread_deg=spread("start_push_deg"),
        curve_spread_m=spread("curve_draw_m"),
        offline_spread_m=spread("offline_push_m"),
        carry_spread_m=spread("carry_m"),
    )


def _centring(plain: Mapping[str, Array], drawn: Mapping[str, Array], weights: Array) -> Centring:
    def change(name: str) -> Range:
        n = len(weights)
        nominal, draws = (
            weights @ (numbers[name][n : 2 * n] - numbers[name][:n]) for numbers in (plain, drawn)
        )
        return range_of(float(nominal), draws)

    return Centring(
        ball_gain_mps=change("ball_mps"),
        carry_gain_m=change("carry_m"),
        offline_change_push_m=change("offline_push_m"),
    )


def _spread(values: Array, weights: Array) -> Array:
    off = values - weights @ values
    return np.asarray(np.sqrt(weights @ off**2), dtype=np.float64)


def _row(numbers: Mapping[str, Array], k: int) -> dict[str, Array]:
    return {name: values[k] for name, values in numbers.items()}


def _must_land(plain_m: Array, drawn_m: Array) -> None:
    if not np.isfinite(plain_m).all() or np.isnan(drawn_m).mean() > _MOST_SHORT_FRAC:
        raise SetupError(
            "the landing place lies higher than these balls fly",
            remedy="Lower --landing-up, or give the head speed.",
        )
