"""What was seen of the balls?

A note says where a ball started (side of a stick, in or out of a corridor, or degrees) and how it curved (to
which side, or metres), by eye or measured. Whatever the wording, it becomes the same thing: the value lies
between two limits, read with an error. "Starts 2 deg right" has both limits at 2; "starts right of the stick"
has one limit at the stick's width and none on the other side.

Push and draw, not left and right: hands are turned in tell/.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from facemark.errors import SetupError
from facemark.explain import constants as c

_START_DEG = 45.0  # no ball that is still in play starts farther off; assumed
_CURVE_M = 150.0  # assumed
_CORRIDOR_DEG = 20.0  # a corridor wider than this tells nothing; assumed


class Side(StrEnum):
    """A side of the target line, in words that fit both hands."""

    PUSH = "push side"  # right for a right-hander
    MIDDLE = "middle"
    PULL = "pull side"


class Bend(StrEnum):
    """A way to curve."""

    DRAW = "draw"  # to the left for a right-hander
    NONE = "none"
    FADE = "fade"


@dataclass(frozen=True, slots=True, kw_only=True)
class StartSeen:
    """The start lies between two limits; one may be infinite."""

    low_push_deg: float
    high_push_deg: float
    err_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveSeen:
    """The bend from the start line lies between two limits; one may be infinite."""

    low_draw_m: float
    high_draw_m: float
    err_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One look: at one ball, or (``of_set``) at the set as a whole. None: not seen."""

    start: StartSeen | None = None
    curve: CurveSeen | None = None
    of_set: bool = False


def start_degrees(push_deg: float, *, measured: bool = False) -> StartSeen:
    """Note a start in degrees.

    Parameters
    ----------
    push_deg : float
    measured : bool
        False: by eye.

    Returns
    -------
    StartSeen

    Raises
    ------
    SetupError
    """
    if not abs(push_deg) <= _START_DEG:
        raise SetupError(
            f"a start {abs(push_deg):g} deg off the line was noted; up to {_START_DEG:g} is possible",
            remedy="Give degrees from the target line.",
        )
    return StartSeen(low_push_deg=push_deg, high_push_deg=push_deg, err_deg=_start_err_deg(measured))


def start_side(side: Side, *, edge_deg: float = c.STRAIGHT_DEG, measured: bool = False) -> StartSeen:
    """Note a start by its side.

    Parameters
    ----------
    side : Side
    edge_deg : float
        "Middle" reaches this far to either side; for a corridor see ``corridor_edge_deg``.
    measured : bool

    Returns
    -------
    StartSeen
    """
    low, high = _limits(side is Side.PUSH, side is Side.PULL, edge_deg)
    return StartSeen(low_push_deg=low, high_push_deg=high, err_deg=_start_err_deg(measured))


def corridor_edge_deg(width_m: float, distance_m: float) -> float:
    """Work out how far off line a ball still passes between two sticks.

    Parameters
    ----------
    width_m, distance_m : float
        Between the sticks, and from the ball to them [m].

    Returns
    -------
    float
        Degrees to either side, the ball's radius taken off.

    Raises
    ------
    SetupError
    """
    free_m = 0.5 * width_m - c.BALL_RADIUS_M.value
    if not (
        free_m > 0.0 and distance_m > 0.0 and math.degrees(math.atan2(free_m, distance_m)) <= _CORRIDOR_DEG
    ):
        raise SetupError(
            f"a corridor {width_m:g} m wide at {distance_m:g} m is not possible; it must let a ball of"
            f" {2000.0 * c.BALL_RADIUS_M.value:.1f} mm through and leave under {_CORRIDOR_DEG:g} deg a side",
            remedy="Measure between the sticks, and from the ball to them.",
        )
    return math.degrees(math.atan2(free_m, distance_m))


def curve_metres(draw_m: float, *, measured: bool = False) -> CurveSeen:
    """Note a bend in metres, from the line the ball started on.

    Parameters
    ----------
    draw_m : float
    measured : bool

    Returns
    -------
    CurveSeen

    Raises
    ------
    SetupError
    """
    if not abs(draw_m) <= _CURVE_M:
        raise SetupError(
            f"a bend of {abs(draw_m):g} m was noted; up to {_CURVE_M:g} m is possible",
            remedy="Give metres from the start line to where the ball landed.",
        )
    least, share = (
        (c.CURVE_ERR_MEASURED_M, c.CURVE_ERR_MEASURED_FRAC)
        if measured
        else (c.CURVE_ERR_EYE_M, c.CURVE_ERR_EYE_FRAC)
    )
    return CurveSeen(low_draw_m=draw_m, high_draw_m=draw_m, err_m=max(least, share * abs(draw_m)))


def curve_side(bend: Bend, *, measured: bool = False) -> CurveSeen:
    """Note a bend by its side.

    Parameters
    ----------
    bend : Bend
    measured : bool

    Returns
    -------
    CurveSeen
    """
    low, high = _limits(bend is Bend.DRAW, bend is Bend.FADE, c.NO_CURVE_M)
    err = c.CURVE_ERR_MEASURED_M if measured else c.CURVE_ERR_EYE_M
    return CurveSeen(low_draw_m=low, high_draw_m=high, err_m=err)


def _start_err_deg(measured: bool) -> float:
    return c.START_ERR_MEASURED_DEG if measured else c.START_ERR_EYE_DEG


def _limits(plus: bool, minus: bool, edge: float) -> tuple[float, float]:
    if plus:
        return edge, math.inf
    if minus:
        return -math.inf, -edge
    return -edge, edge
