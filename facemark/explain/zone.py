"""How many were inside, how sure is that rate, and which marks are too close to the line to call?

The rate's interval is Wilson's [wilson1927]: 8 of 10 inside is compatible with a true rate from 49 % to 94 %.
A mark nearer to the line than twice its own error together with the common one is too close to call; so is a
ball that was hit but not seen. Both are counted, so that a decision can be tried with them in and out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from facemark.errors import SetupError
from facemark.explain.evidence import check_strikes, shared_covariance_mm2
from facemark.explain.span import LEVEL_FRAC, FracSpan, student
from facemark.strike import StrikeSet


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """Balls inside a circle about the sweet spot."""

    radius_mm: float
    n_in: int  # by their stated places
    n_balls: int
    n_surely_in: int  # with every doubtful ball out
    n_maybe_in: int  # with every doubtful ball in
    close: tuple[int, ...]  # marks too close to the line, numbered from 0
    rate: FracSpan  # 95 % interval of the true rate, from the counts as stated


def count_zone(strikes: StrikeSet, radius_mm: float) -> Zone:
    """Count the balls inside ``radius_mm`` of the sweet spot.

    Balls told but not seen count as not in, and as doubtful (hidden under another mark, or off the face).

    Raises
    ------
    SetupError
        The radius is not positive, or the balls cannot be told apart.
    """
    if not (math.isfinite(radius_mm) and radius_mm > 0.0):
        raise SetupError(
            f"the zone's radius must be a positive number of mm, got {radius_mm}",
            remedy="Say for example --zone 12.",
        )
    if not strikes.separable:
        raise SetupError(
            f"the balls cannot be told apart (at least {strikes.n_least}), so none can be counted in or out",
            remedy="Photograph after every three or four balls, then wipe and spray again.",
        )
    check_strikes(strikes)
    n_in = n_sure = n_maybe = n_seen = 0
    close = []
    for number, strike in enumerate(strikes.strikes):
        place = np.array([strike.toe_mm, strike.high_mm])
        distance = float(np.hypot(*place))
        along = place / distance if distance > 0.0 else np.array([1.0, 0.0])
        err2 = float(along @ shared_covariance_mm2(place, strikes.shared) @ along)
        err2 += (along[0] * strike.toe_err_mm) ** 2 + (along[1] * strike.high_err_mm) ** 2
        doubtful = abs(distance - radius_mm) < 2.0 * math.sqrt(err2)
        inside = distance <= radius_mm
        if doubtful:
            close.append(number)
        n_seen += strike.n_balls
        n_in += strike.n_balls * inside
        n_sure += strike.n_balls * (inside and not doubtful)
        n_maybe += strike.n_balls * (inside or doubtful)
    n_unseen = max((strikes.n_balls or 0) - n_seen, 0)
    return Zone(
        radius_mm=radius_mm,
        n_in=n_in,
        n_balls=n_seen + n_unseen,
        n_surely_in=n_sure,
        n_maybe_in=n_maybe + n_unseen,
        close=tuple(close),
        rate=rate_span(n_in, n_seen + n_unseen),
    )


def rate_span(n_in: int, n_balls: int) -> FracSpan:
    """Wilson's 95 % interval of a rate from ``n_in`` of ``n_balls``."""
    if n_balls < 1 or not 0 <= n_in <= n_balls:
        raise SetupError(
            f"expected a count between 0 and the number of balls, got {n_in} of {n_balls}",
            remedy="Count the balls again.",
        )
    z2 = student(0.5 + LEVEL_FRAC / 2.0, math.inf) ** 2
    rate = n_in / n_balls
    middle = (rate + z2 / (2.0 * n_balls)) / (1.0 + z2 / n_balls)
    half = math.sqrt(z2 * (rate * (1.0 - rate) / n_balls + z2 / (4.0 * n_balls**2))) / (1.0 + z2 / n_balls)
    return FracSpan(least_frac=max(middle - half, 0.0), most_frac=min(middle + half, 1.0))


def zone_holding_mm(strikes: StrikeSet, share_frac: float, *, moved_high_mm: float = 0.0) -> float:
    """Radius about the sweet spot, in whole mm, that holds at least this share of a set's balls.

    Parameters
    ----------
    strikes : StrikeSet
        A mark of two balls counts twice. Where the balls cannot be told apart: the group's distance and 1.79
        of its spreads (Hoyt's law for 80 %, spread.py), which is on the wide side.
    share_frac : float
    moved_high_mm : float
        All of them moved so far up (down: minus) first.
    """
    group = strikes.group
    if not strikes.separable and group is not None:
        spread = math.hypot(group.toe_spread_mm, group.high_spread_mm) / math.sqrt(2.0)
        return float(math.ceil(math.hypot(group.toe_mm, group.high_mm + moved_high_mm) + 1.79 * spread))
    far = [math.hypot(mark.toe_mm, mark.high_mm + moved_high_mm) for mark in strikes.strikes]
    balls = [mark.n_balls for mark in strikes.strikes]
    return float(math.ceil(np.quantile(far, share_frac, weights=balls, method="inverted_cdf")))
