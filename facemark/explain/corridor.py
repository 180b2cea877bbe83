"""Where do the start sticks go, and what does a ball that passes between them say about the face?

Two sticks, a gap g apart (inner edges), at a distance d ahead. A ball of radius r still passes while its
middle stays r inside either stick, so the free angle to either side is atan((g/2 - r) / d); from the target
line to a stick on one side only, it is atan((g - r) / d) on that side and atan(r / d) on the line itself.
Sideways at a carry c an angle a is c tan a.

What starts the ball: the strike itself (the curved face points elsewhere off centre), the face and, with a
smaller share, the path. So with a straight path the face window is the corridor less the strike's own start,
over the face's share of the start. Both come from the impact model over all heads the club could be
(shot.py). A ball that is to curve back has no straight path, and only one end of the window is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from facemark.errors import SetupError
from facemark.explain import constants as c
from facemark.explain.notes import corridor_edge_deg
from facemark.explain.places import centre_of, check_places, club_in_doubt, true_places
from facemark.explain.ranges import Range, range_of
from facemark.explain.shot import Cases, Conditions, draw_cases, launch, plain_case
from facemark.inputs import Setup
from facemark.strike import SharedError, StrikeSet

Array = NDArray[np.float64]

STICK_DISTANCE_M = 3.05  # 10 ft; two sticks there, 6 to 12 in apart, are common in teaching
# One after the other, as the top of the ladder is held: 50 cm to begin with (assumed), then 12 in and 6 in.
GAPS_M = (0.50, 0.305, 0.152)
DISTANCE_M = (1.0, 12.0)  # nearer, a stick can be hit; farther, nobody sees the gap; assumed
GAP_M = (0.06, 3.0)  # a ball has 0.043; assumed
CARRY_M = (20.0, 350.0)  # assumed
N_DRAWS = 800


class Shape(StrEnum):
    """The curve the player wants."""

    DRAW = "draw"
    FADE = "fade"


@dataclass(frozen=True, slots=True, kw_only=True)
class Corridor:
    """Sticks ahead of the ball, and what they allow. Plus: push side."""

    n_sticks: int
    distance_m: float
    gap_m: float  # between the sticks' inner edges; with one stick the gap it stands for
    shape: Shape | None  # None: straight down the middle
    low_push_deg: float  # starts that pass, ball's radius taken off
    high_push_deg: float
    carry_m: float | None
    low_push_m: float | None  # the same at the carry
    high_push_m: float | None
    face_share_frac: Range  # of the start per degree of face, the path held
    strike_start_push_deg: Range | None  # what the strike does by itself; None: no strike seen
    # Faces that pass, the strike taken off, with a straight path; None: no limit known on that side. A draw's
    # path lies farther out than its face, which is less open than the start; a fade mirrored.
    face_low_open_deg: float | None
    face_high_open_deg: float | None


def lay_corridor(
    strikes: StrikeSet | None,
    setup: Setup,
    *,
    n_sticks: int,
    gap_m: float,
    distance_m: float = STICK_DISTANCE_M,
    shape: Shape | None = None,
    carry_m: float | None = None,
    rng: np.random.Generator,
) -> Corridor:
    """Work out a corridor.

    Raises
    ------
    SetupError
        Distances that cannot be, or a gap that lets no ball through.
    """
    check_corridor(gap_m, distance_m, carry_m)
    low, high = start_window_deg(gap_m, distance_m, shape)
    share, start = starts(strikes, setup, rng=rng)
    off = 0.0 if start is None else start.median
    face_low, face_high = _face_window(low - off, high - off, share.median, shape)
    return Corridor(
        n_sticks=n_sticks,
        distance_m=distance_m,
        gap_m=gap_m,
        shape=shape,
        low_push_deg=low,
        high_push_deg=high,
        carry_m=carry_m,
        low_push_m=None if carry_m is None else carry_m * math.tan(math.radians(low)),
        high_push_m=None if carry_m is None else carry_m * math.tan(math.radians(high)),
        face_share_frac=share,
        strike_start_push_deg=start,
        face_low_open_deg=face_low,
        face_high_open_deg=face_high,
    )


def _face_window(
    low: float, high: float, share_frac: float, shape: Shape | None
) -> tuple[float | None, float | None]:
    """Faces whose starts, ``low`` to ``high`` without the strike, pass.

    start = share x face + (1 - share) x path. The path straight: face = start / share. A draw has its path
    farther out than its face, which then is less open than the start, whatever the share.
    """
    if shape is None:
        return low / share_frac, high / share_frac
    return (None, high) if shape is Shape.DRAW else (low, None)


def check_corridor(gap_m: float | None, distance_m: float, carry_m: float | None) -> None:
    """Refuse sticks and carries that cannot be; None: not told.

    Raises
    ------
    SetupError
    """
    _hold("the sticks' distance", distance_m, DISTANCE_M)
    if gap_m is not None:
        _hold("the gap between the sticks", gap_m, GAP_M)
    if carry_m is not None:
        _hold("a carry", carry_m, CARRY_M)


def start_window_deg(gap_m: float, distance_m: float, shape: Shape | None = None) -> tuple[float, float]:
    """Lowest and highest start that passes, plus toward the push side.

    A draw starts on the push side of the target line and comes back, a fade on the pull side: then one stick
    stands on the target line and the other on that side.
    """
    if shape is None:
        edge = corridor_edge_deg(gap_m, distance_m)
        return -edge, edge
    radius = c.BALL_RADIUS_M.value
    if gap_m <= 2.0 * radius:
        corridor_edge_deg(gap_m, distance_m)  # says why not
    near = math.degrees(math.atan2(radius, distance_m))
    far = math.degrees(math.atan2(gap_m - radius, distance_m))
    return (near, far) if shape is Shape.DRAW else (-far, -near)


def starts(
    strikes: StrikeSet | None, setup: Setup, *, rng: np.random.Generator, n_draws: int = N_DRAWS
) -> tuple[Range, Range | None]:
    """The face's share of the start, and the start that the mean strike makes by itself [deg push].

    Raises
    ------
    SetupError
        A strike off the face.
    """
    club, where = setup.club, Conditions(head_mps=setup.head_mps)
    mean_mm, own_mm, shared = np.zeros((1, 2)), np.zeros((1, 2)), SharedError()
    if strikes is not None:
        check_places(strikes, club)
        club, shared = club_in_doubt(club, strikes), strikes.shared
        centre = centre_of(strikes)
        mean_mm = np.array([[centre.toe_mm, centre.high_mm]])
        spread_mm = np.zeros(2) if centre.scatter_mm2 is None else np.diag(centre.scatter_mm2)
        own_mm = np.sqrt(
            np.array([[centre.toe_err_mm, centre.high_err_mm]]) ** 2 + spread_mm / centre.n_balls
        )
    plain, drawn = plain_case(club, where), draw_cases(club, where, n_draws, rng=rng)
    places = true_places(mean_mm, own_mm, shared, club=club, heads=drawn.heads, rng=rng)

    def start(cases: Cases, at: tuple[ArrayLike, ArrayLike], face_open_deg: float) -> Array:
        return np.asarray(launch(cases, at, face_open_deg=face_open_deg).start_push_deg, float)

    at = (mean_mm[0, 0], mean_mm[0, 1])
    zero, one = start(plain, at, 0.0), start(plain, at, 1.0)
    zeros, ones = start(drawn, places, 0.0), start(drawn, places, 1.0)
    share = range_of(float(np.squeeze(one - zero)), np.ravel(ones - zeros))
    return share, None if strikes is None else range_of(float(np.squeeze(zero)), np.ravel(zeros))


def next_gap_m(gap_m: float) -> float | None:
    """The next narrower corridor; None: it is the narrowest."""
    return next((gap for gap in GAPS_M if gap < gap_m - 0.01), None)


def _hold(what: str, value_m: float, possible: tuple[float, float]) -> None:
    low, high = possible
    if not (math.isfinite(value_m) and low <= value_m <= high):
        raise SetupError(
            f"{what} of {value_m:g} m was told; {low:g} to {high:g} m is possible",
            remedy="Measure it, and give it with its unit.",
        )
