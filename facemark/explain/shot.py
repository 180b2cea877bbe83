"""What would this strike do on every head this club could be?

Joins the impact and the flight, once at the plain values and once over draws of all that nobody knows
exactly: head, speed, angle of attack, ball, wind. Everything else in explain/ that speaks of flight calls
``hit``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from facemark.errors import SetupError
from facemark.explain import constants as c
from facemark.explain.air import STANDARD_AIR, Air
from facemark.explain.heads import Heads, draw_heads, gauss, luck, normal_from, plain_head, spread
from facemark.explain.impact import Delivery, Launch, strike_ball
from facemark.explain.trajectory import STEP_S, Balls, Landing, fly
from facemark.inputs import Club

Array = NDArray[np.float64]

_STATED_ATTACK_ERR_DEG = 1.0  # assumed, of an angle of attack that is told
_ATTACK_DEG = (-15.0, 15.0)  # outside, nobody swings; assumed
_LANDING_UP_M = (-60.0, 60.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What the swing and the place are, as far as told; None: typical, and drawn over its range."""

    head_mps: float | None = None
    attack_up_deg: float | None = None
    air: Air = STANDARD_AIR
    wind_err_mps: float = 0.0  # how well the wind is known, along and across
    landing_up_m: float = 0.0

    def __post_init__(self) -> None:
        if self.attack_up_deg is not None:
            _hold("an angle of attack", self.attack_up_deg, _ATTACK_DEG, "deg")
        _hold("a landing height", self.landing_up_m, _LANDING_UP_M, "m")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cases:
    """One case, arrays (), or N cases, arrays (N,), of what the club, swing and ball could be."""

    heads: Heads
    head_mps: Array
    attack_up_deg: Array
    balls: Balls


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shots:
    """From face to landing."""

    launch: Launch
    landing: Landing


def plain_case(club: Club, conditions: Conditions) -> Cases:
    """Return the one case with every number at its plain value.

    Parameters
    ----------
    club : Club
    conditions : Conditions

    Returns
    -------
    Cases
        Arrays of shape ().
    """
    told = conditions.attack_up_deg
    return Cases(
        heads=plain_head(club),
        head_mps=np.asarray(plain_head_mps(club, conditions)),
        attack_up_deg=np.asarray(c.ATTACK_UP_DEG[club.kind].value if told is None else told),
        balls=Balls(),
    )


def plain_head_mps(club: Club, conditions: Conditions) -> float:
    """Head speed as told, or typical for the kind [m/s]."""
    return c.TYPICAL_HEAD_MPS[club.kind].value if conditions.head_mps is None else conditions.head_mps


def draw_cases(club: Club, conditions: Conditions, n: int, *, rng: np.random.Generator) -> Cases:
    """Draw ``n`` cases.

    Parameters
    ----------
    club : Club
    conditions : Conditions
    n : int
    rng : numpy.random.Generator

    Returns
    -------
    Cases
        Arrays of shape (n,).
    """
    heads = draw_heads(club, n, rng=rng)
    speed_luck, attack_luck = luck(n, rng), luck(n, rng)
    mps, attack = conditions.head_mps, conditions.attack_up_deg
    return Cases(
        heads=heads,
        head_mps=spread(c.TYPICAL_HEAD_MPS[club.kind], speed_luck)
        if mps is None
        else mps * (1.0 + c.STATED_SPEED_ERR_FRAC * np.clip(normal_from(speed_luck), -4.0, 4.0)),
        attack_up_deg=spread(c.ATTACK_UP_DEG[club.kind], attack_luck)
        if attack is None
        else attack + _STATED_ATTACK_ERR_DEG * normal_from(attack_luck),
        balls=Balls(
            drag_add_frac=gauss(c.DRAG_ZERO_FRAC, luck(n, rng)) - c.DRAG_ZERO_FRAC.value,
            lift_scale_frac=gauss(c.LIFT_TOP_FRAC, luck(n, rng)) / c.LIFT_TOP_FRAC.value,
            decay_scale_frac=gauss(c.SPIN_DECAY_FRAC, luck(n, rng)) / c.SPIN_DECAY_FRAC.value,
            wind_help_add_mps=conditions.wind_err_mps * normal_from(luck(n, rng)),
            wind_push_add_mps=conditions.wind_err_mps * normal_from(luck(n, rng)),
        ),
    )


def hit(
    cases: Cases,
    strike_mm: tuple[ArrayLike, ArrayLike],
    conditions: Conditions,
    *,
    face_open_deg: ArrayLike = 0.0,
    path_out_deg: ArrayLike = 0.0,
    step_s: float = STEP_S,
) -> Shots:
    """Hit balls.

    Parameters
    ----------
    cases : Cases
    strike_mm : (toe, high), array_like
        From each case's own sweet spot; broadcast against the cases, e.g. (M, 1) against (N,).
    conditions : Conditions
        Air, wind and landing height; speed and attack are in the cases.
    face_open_deg, path_out_deg : array_like
    step_s : float
        Of the flight's integration; ``DRAWN_STEP_S`` will do where many balls are drawn for a range.

    Returns
    -------
    Shots
    """
    struck = launch(cases, strike_mm, face_open_deg=face_open_deg, path_out_deg=path_out_deg)
    landing = fly(
        struck, air=conditions.air, balls=cases.balls, landing_up_m=conditions.landing_up_m, step_s=step_s
    )
    return Shots(launch=struck, landing=landing)


def launch(
    cases: Cases,
    strike_mm: tuple[ArrayLike, ArrayLike],
    *,
    face_open_deg: ArrayLike = 0.0,
    path_out_deg: ArrayLike = 0.0,
) -> Launch:
    """Strike balls without flying them; arguments as for ``hit``.

    Returns
    -------
    Launch
    """
    delivery = Delivery(
        head_mps=cases.head_mps,
        attack_up_deg=cases.attack_up_deg,
        face_open_deg=face_open_deg,
        path_out_deg=path_out_deg,
    )
    return strike_ball(cases.heads, *strike_mm, delivery=delivery)


def _hold(what: str, value: float, possible: tuple[float, float], unit: str) -> None:
    low, high = possible
    if not low <= value <= high:
        raise SetupError(
            f"{what} of {value:g} {unit} was given; {low:g} to {high:g} {unit} is possible",
            remedy="Correct it, or leave it out.",
        )
