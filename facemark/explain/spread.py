"""How tight is the group? Spread each way, one number, and the ring that holds 8 of 10 strikes.

Own errors of the marks are taken out (they blur a photo, not a swing); a common scale error is put in as
fewer degrees of freedom. Intervals: chi-square per axis; for the one number Box's degrees of freedom
[box1954], which count a line as n - 1 and a circle as 2 (n - 1). The tilt is stated only where the
correlation's interval (Fisher's z) leaves zero out. The ring follows Hoyt's law [hoyt1947] about the group's
own centre: 1.78 to 1.79 spreads whatever the shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import special

from facemark.explain.evidence import NO_SCATTER_MM2, Array, Evidence
from facemark.explain.span import LEVEL_FRAC, Span, chi2_quantile, student

RING_FRAC = 0.8

# Mean of the largest distance between two of n marks, spread 1 both ways. [shotgroups] table DFdistr.
EXTREME_SPREAD = {
    3: 2.408,
    4: 2.793,
    5: 3.066,
    6: 3.275,
    8: 3.585,
    10: 3.811,
    12: 3.988,
    15: 4.196,
    20: 4.451,
    30: 4.790,
}

_NODES, _NODE_WEIGHTS = np.polynomial.legendre.leggauss(96)


class SpreadWord(StrEnum):
    """What can be said about the spread against its limit."""

    SCATTERED = "scattered"
    CONTAINED = "contained"
    UNSETTLED = "unsettled"
    TOO_FEW = "too few"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How much the strikes differ among themselves (one standard deviation), own errors taken out."""

    toe_mm: float
    high_mm: float
    one_mm: float  # root mean square of both ways
    toe_span: Span | None  # None: no scatter seen this way, so nothing to judge by
    high_span: Span | None
    one_span: Span
    ring_mm: float  # radius about the own centre that holds 80 % of strikes
    ring_span: Span
    tilt_deg: float | None  # of the long axis from the toe direction; None: not shown to be tilted
    below_reading: bool  # own errors are more than half of what is seen
    n_free: float  # degrees of freedom behind the one number
    word: SpreadWord
    n_more_balls: int | None  # that would settle scattered or contained; None: not within reach


# Fewer degrees of freedom (a group read so roughly that its spread is a guess): the interval would reach from
# nothing to the whole face and the quantiles underflow.
LEAST_FREE = 0.2


def measure_spread(evidence: Evidence, *, limit_mm: float) -> Spread | None:
    """Spread of the strikes; None with fewer than two balls, all marks in one place, or a group too rough."""
    seen, own = evidence.seen_mm2, evidence.own_mm2
    trace = float(np.trace(seen)) if np.all(np.isfinite(seen)) else 0.0
    if trace < NO_SCATTER_MM2:
        return None
    nu_one = _worn(evidence.n_free * trace**2 / float(np.trace(seen @ seen)), evidence.scale_frac)
    nu_axis = _worn(evidence.n_free, evidence.scale_frac)
    if min(nu_one, nu_axis) < LEAST_FREE:
        return None
    toe, toe_span = _axis(evidence, 0, nu_axis)
    high, high_span = _axis(evidence, 1, nu_axis)
    own_one = float(np.trace(own)) / 2.0
    one, one_span = _deviation(trace / 2.0, own_one, nu_one)
    ring = ring_per_spread(_shape(seen - own), RING_FRAC)
    both_ways = toe_span is not None and high_span is not None
    word = _word(trace / 2.0, own_one, nu_one, limit_mm) if both_ways else SpreadWord.UNSETTLED
    return Spread(
        toe_mm=toe,
        high_mm=high,
        one_mm=one,
        toe_span=toe_span,
        high_span=high_span,
        one_span=one_span,
        ring_mm=ring * one,
        ring_span=one_span.scaled(ring),
        tilt_deg=_tilt(evidence),
        below_reading=own_one > trace / 8.0,
        n_free=nu_one,
        word=word,
        n_more_balls=_more_balls(evidence, nu_one, limit_mm) if both_ways else None,
    )


def _worn(nu: float, scale_frac: float) -> float:
    """Degrees of freedom after a common scale error: relative variances 1 / (2 nu) add."""
    return nu / (1.0 + 2.0 * nu * scale_frac**2)


def _axis(evidence: Evidence, axis: int, nu: float) -> tuple[float, Span | None]:
    seen = float(evidence.seen_mm2[axis, axis])
    if seen < NO_SCATTER_MM2:
        return 0.0, None
    return _deviation(seen, float(evidence.own_mm2[axis, axis]), nu)


def _deviation(seen_mm2: float, own_mm2: float, nu: float) -> tuple[float, Span]:
    """Standard deviation of the strikes and its interval; own variance taken out of value and both ends.

    Where the upper end would vanish too, the marks as seen keep it: never "no spread at all".
    """
    tail = (1.0 - LEVEL_FRAC) / 2.0
    least = seen_mm2 * nu / chi2_quantile(1.0 - tail, nu) - own_mm2
    most = seen_mm2 * nu / chi2_quantile(tail, nu)
    most = most - own_mm2 if most > own_mm2 else most
    value = math.sqrt(max(seen_mm2 - own_mm2, 0.0))
    return value, Span(least_mm=math.sqrt(max(least, 0.0)), most_mm=math.sqrt(most))


def _word(seen_mm2: float, own_mm2: float, nu: float, limit_mm: float) -> SpreadWord:
    limit = limit_mm**2 + own_mm2
    if seen_mm2 * nu / chi2_quantile(0.95, nu) > limit:
        return SpreadWord.SCATTERED
    if seen_mm2 * nu / chi2_quantile(0.05, nu) < limit:
        return SpreadWord.CONTAINED
    return SpreadWord.UNSETTLED


def _more_balls(evidence: Evidence, nu: float, limit_mm: float) -> int | None:
    """Fewest further balls that settle the spread if it stays as seen; 0: it is settled."""
    seen, own = float(np.trace(evidence.seen_mm2)) / 2.0, float(np.trace(evidence.own_mm2)) / 2.0
    per_ball = nu / max(evidence.n_free, 1e-9)

    def settles(more: int) -> bool:
        return _word(seen, own, nu + per_ball * more, limit_mm) is not SpreadWord.UNSETTLED

    if settles(0):
        return 0
    if not settles(200):
        return None
    low, high = 0, 200
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if settles(middle) else (middle, high)
    return high


def _shape(scatter_mm2: Array) -> float:
    """Short over long standard deviation, 0 to 1."""
    values = np.linalg.eigvalsh(scatter_mm2)
    return math.sqrt(max(values[0], 0.0) / values[1]) if values[1] > 0.0 else 1.0


def _tilt(evidence: Evidence) -> float | None:
    """Angle of the long axis where the correlation is shown (Fisher's z), else None."""
    S, n = evidence.seen_mm2, evidence.n_free + 1.0
    size = float(S[0, 0] * S[1, 1])
    if evidence.from_group or n <= 3.5 or size <= 0.0:
        return None
    correlation = float(S[0, 1]) / math.sqrt(size)
    if abs(correlation) < 1.0 - 1e-12:
        shown = abs(math.atanh(correlation)) > student(0.5 + LEVEL_FRAC / 2.0, math.inf) / math.sqrt(n - 3.0)
        if not shown:
            return None
    vector = np.linalg.eigh(S)[1][:, 1]
    return (math.degrees(math.atan2(vector[1], vector[0])) + 90.0) % 180.0 - 90.0


def ring_per_spread(shape: float, frac: float) -> float:
    """Radius holding ``frac`` of strikes about the own centre, in one-number spreads.

    ``shape``: short over long deviation. Hoyt's quantile, by the secant method in the exact integral.
    """
    if not 0.3 <= frac <= 0.99:
        raise ValueError(f"expected a fraction between 0.3 and 0.99, got {frac}")
    long = math.sqrt(2.0 / (1.0 + shape**2))
    spread = (long, shape * long)
    before, now = 1.0, math.sqrt(-2.0 * math.log(1.0 - frac))  # the second is exact for a round group
    miss = frac_inside(before, spread) - frac
    for _ in range(20):
        here = frac_inside(now, spread) - frac
        if abs(here) < 1e-10 or here == miss:
            break
        before, now, miss = now, now - here * (now - before) / (here - miss), here
    return now


def frac_inside(
    radius: float, spread: tuple[float, float], centre: tuple[float, float] = (0.0, 0.0)
) -> float:
    """Share of a normal group inside a circle about the origin.

    Parameters
    ----------
    radius : float
    spread, centre : standard deviations and centre along two axes without correlation, same unit as radius.

    Notes
    -----
    One integral covers Rayleigh (equal spreads), Hoyt (unequal) and Rice (off centre): over x = r sin t of
    the normal density in x times the normal probability of the chord in y; 96-point Gauss-Legendre.
    """
    (sx, sy), (mx, my) = spread, centre
    t = _NODES * (math.pi / 2.0)
    x, chord = radius * np.sin(t), radius * np.cos(t)
    density = np.exp(-0.5 * ((x - mx) / sx) ** 2) / (sx * math.sqrt(2.0 * math.pi))
    if sy > 0.0:
        inside = special.ndtr((chord - my) / sy) - special.ndtr((-chord - my) / sy)
    else:
        inside = (np.abs(my) <= chord).astype(float)
    return float((_NODE_WEIGHTS * density * inside * chord).sum() * (math.pi / 2.0))


def extreme_spread_mm(points_mm: Array) -> float:
    """Largest distance between two marks. It grows with n: never compare it between unequal counts."""
    difference = points_mm[:, None, :] - points_mm[None, :, :]
    return float(np.sqrt((difference**2).sum(axis=-1)).max())
