"""Where is the middle of the group, and does it deserve a word: toe, heel, high, low, centred?

The mean of ten marks with a spread of 8 mm is known to about +-5.7 mm. A word needs two things: the offset is
real (two-sided t at half the false-word risk an axis, because two axes are asked) and it matters (at least
``worth``). "Centred" must be shown too: the 90 % interval lies inside the harmless limit (two one-sided
tests [tost]). Everything else is unsettled, and the number of balls that would settle it is told.

The degrees of freedom of a centre whose error is part counted, part common follow Welch and Satterthwaite
([jcgm100] G.4.1) on one axis and the total-variance form after [willink-hall] for the region. With nothing
common both fall back to Student's t and Hotelling's T2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from facemark.explain.evidence import NO_SCATTER_MM2, Array, Evidence
from facemark.explain.span import LEVEL_FRAC, Span, f_above, f_quantile, student, student_two_sided

MOST_MORE_BALLS = 200  # beyond it "more balls" is no advice


class AxisWord(StrEnum):
    """What can be said along one axis. PLUS is toe or high, MINUS heel or low."""

    PLUS = "plus"
    MINUS = "minus"
    CENTRED = "centred"
    UNSETTLED = "unsettled"
    TOO_FEW = "too few"


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One axis of the centre."""

    word: AxisWord
    slight: AxisWord | None  # real but smaller than matters: "slightly toe side"
    span: Span | None  # 95 % interval of the centre
    chance_frac: float | None  # how often a centred group would look at least this far off
    n_more_balls: int | None  # 0: settled; None: no number of balls settles it
    sweet_spot_limits: bool = False  # what is common to all balls stands in the way, not their number


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """The ellipse that holds the true centre in 95 of 100 sets, around the centre found."""

    long_mm: float  # half length of the longer axis
    short_mm: float
    tilt_deg: float  # of the longer axis from the toe direction, plus: its toe end is the higher one


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """Distance of the centre from the sweet spot, and the direction if one can be stated."""

    distance_mm: float
    span: Span
    direction_deg: float | None  # from the toe direction, plus toward high; None: sweet spot inside region
    direction_half_deg: float | None  # half width of its interval, at least 95 %


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanTest:
    """Hotelling's one-sample test."""

    t2_ratio: float
    f_ratio: float
    n_free: tuple[int, int]  # degrees of freedom of F
    chance_frac: float  # p


def mean_test(points: Array, at: Array) -> MeanTest:
    """Hotelling's T2 of (n, p) points against the mean ``at`` (p,); F = T2 (n-p) / (p (n-1)).

    Raises
    ------
    ValueError
        n <= p, or the points lie in a plane of fewer dimensions.
    """
    points = np.asarray(points, float)
    n, p = points.shape
    if n <= p:
        raise ValueError(f"expected more than {p} points, got {n}")
    offset = points.mean(axis=0) - np.asarray(at, float)
    t2 = float(n * offset @ np.linalg.solve(np.atleast_2d(np.cov(points.T)), offset))
    f = t2 * (n - p) / (p * (n - 1))
    return MeanTest(t2_ratio=t2, f_ratio=f, n_free=(p, n - p), chance_frac=f_above(f, p, n - p))


def judge_axis(
    evidence: Evidence, axis: int, *, worth_mm: float, harmless_mm: float, false_word_frac: float
) -> Axis:
    """What can be said along axis 0 (toe) or 1 (high). Needs two balls for an interval."""
    A, B = evidence.sampling_mm2[axis, axis], evidence.shared_mm2[axis, axis]
    mean = float(evidence.mean_mm[axis])
    if not math.isfinite(A):
        return Axis(word=AxisWord.TOO_FEW, slight=None, span=None, chance_frac=None, n_more_balls=None)
    if evidence.seen_mm2[axis, axis] < NO_SCATTER_MM2:  # all marks at one height: nothing to judge by
        return Axis(word=AxisWord.UNSETTLED, slight=None, span=None, chance_frac=None, n_more_balls=None)
    nu = evidence.n_free * (1.0 + B / A) ** 2
    err = math.sqrt(A + B)
    word = _word(mean, err, nu, worth_mm, harmless_mm, false_word_frac)
    chance = student_two_sided(mean / err, nu)
    real = chance < false_word_frac / 2.0
    slight = _side(mean) if word is AxisWord.CENTRED and real else None
    half = student(0.5 + LEVEL_FRAC / 2.0, nu) * err
    more: int | None = 0
    if word is AxisWord.UNSETTLED:
        more = _more_balls(evidence, axis, worth_mm, harmless_mm, false_word_frac)
    return Axis(
        word=word,
        slight=slight,
        span=Span(least_mm=mean - half, most_mm=mean + half),
        chance_frac=chance,
        n_more_balls=more,
        sweet_spot_limits=more is None,
    )


def _word(
    mean: float, err: float, nu: float, worth: float, harmless: float, false_word_frac: float
) -> AxisWord:
    real = abs(mean) > student(1.0 - false_word_frac / 4.0, nu) * err
    if real and abs(mean) >= worth:
        return _side(mean)
    if abs(mean) + student(0.95, nu) * err <= harmless:
        return AxisWord.CENTRED
    return AxisWord.UNSETTLED


def _side(mean: float) -> AxisWord:
    return AxisWord.PLUS if mean > 0.0 else AxisWord.MINUS


def _more_balls(
    evidence: Evidence, axis: int, worth: float, harmless: float, false_word_frac: float
) -> int | None:
    """Fewest further balls that give a word if centre and spread stay as they are; None: no number does."""
    n = max(evidence.n_free + 1.0, 2.0)
    A, B = evidence.sampling_mm2[axis, axis], evidence.shared_mm2[axis, axis]
    mean = float(evidence.mean_mm[axis])

    def settles(more: int) -> bool:
        a = A * n / (n + more)
        nu = (n + more - 1.0) * (1.0 + B / a) ** 2
        word = _word(mean, math.sqrt(a + B), nu, worth, harmless, false_word_frac)
        return word is not AxisWord.UNSETTLED

    if not settles(MOST_MORE_BALLS):
        return None
    low, high = 0, MOST_MORE_BALLS  # settles(high) holds; more balls only narrow the interval
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if settles(middle) else (middle, high)
    return high


def find_region(evidence: Evidence) -> Region | None:
    """The 95 % ellipse of the centre; None with fewer than three balls, or marks on one line."""
    limit = _limit(evidence)
    if limit is None:
        return None
    values, vectors = np.linalg.eigh(evidence.total_mm2)
    long = vectors[:, 1]
    tilt = math.degrees(math.atan2(long[1], long[0]))
    return Region(
        long_mm=math.sqrt(limit * values[1]),
        short_mm=math.sqrt(limit * max(values[0], 0.0)),
        tilt_deg=(tilt + 90.0) % 180.0 - 90.0,
    )


def region_points_mm(evidence: Evidence, n_points: int = 181) -> Array | None:
    """(n_points, 2) points on the edge of the region, measured from the sweet spot."""
    limit = _limit(evidence)
    return None if limit is None else _ellipse(evidence, limit, n_points)


def _ellipse(evidence: Evidence, limit: float, n_points: int) -> Array:
    angle = np.linspace(0.0, 2.0 * math.pi, n_points)
    root = np.linalg.cholesky(evidence.total_mm2 * limit)
    return np.asarray(evidence.mean_mm + np.column_stack([np.cos(angle), np.sin(angle)]) @ root.T)


def _limit(evidence: Evidence) -> float | None:
    """Critical value of (x - m)' V^-1 (x - m)."""
    A = evidence.sampling_mm2
    if not np.all(np.isfinite(A)) or _flat(A):
        return None
    nu = total_nu(evidence)
    if nu <= 1.05:
        return None
    return 2.0 * nu / (nu - 1.0) * f_quantile(LEVEL_FRAC, 2.0, nu - 1.0)


def total_nu(evidence: Evidence) -> float:
    """Degrees of freedom of V = A + B: nu_A (tr(V)^2 + tr(V^2)) / (tr(A)^2 + tr(A^2))."""

    def size(M: Array) -> float:
        return float(np.trace(M) ** 2 + np.trace(M @ M))

    return evidence.n_free * size(evidence.total_mm2) / size(evidence.sampling_mm2)


def _flat(A: Array) -> bool:
    """The marks lie on one line, to rounding."""
    trace = float(np.trace(A))
    return trace < NO_SCATTER_MM2 or float(np.linalg.det(A)) < 1e-9 * trace**2


def find_offset(evidence: Evidence) -> Offset | None:
    """How far from the sweet spot, and which way; None where there is no region.

    Notes
    -----
    Distance is one number, so its interval comes from the ellipse of Student's t, not from the wider one of
    both coordinates together (whose nearest and farthest point cover 99 %). Upper end: its farthest point.
    Lower end: 0 where the 95 % region holds the sweet spot; else halfway between its nearest point, which is
    too far out when the ellipse lies across the line of sight, and the centre's distance less t standard
    errors, which is too near. Simulated coverage 0.94 to 0.97. Direction: the angle under which the region is
    seen, at least 95 %; the narrower Fieller interval falls to 89 % because a direction is stated only in
    the sets that happen to show one. (tests/bench/statistics.py)
    """
    limit = _limit(evidence)
    if limit is None:
        return None
    mean, V = evidence.mean_mm, evidence.total_mm2
    distance = float(np.hypot(*mean))
    t = student(0.5 + LEVEL_FRAC / 2.0, total_nu(evidence))
    around = np.hypot(*_ellipse(evidence, t**2, 181).T)
    most = float(around.max())
    if float(mean @ np.linalg.solve(V, mean)) <= limit:
        span = Span(least_mm=0.0, most_mm=most)
        return Offset(distance_mm=distance, span=span, direction_deg=None, direction_half_deg=None)
    sight = mean / distance
    near = max(distance - t * math.sqrt(float(sight @ V @ sight)), 0.0)
    direction = math.degrees(math.atan2(mean[1], mean[0]))
    edge = _ellipse(evidence, limit, 181)
    turned = np.degrees(np.arctan2(edge[:, 1], edge[:, 0])) - direction
    turned = (turned + 180.0) % 360.0 - 180.0
    return Offset(
        distance_mm=distance,
        span=Span(least_mm=(near + float(around.min())) / 2.0, most_mm=most),
        direction_deg=direction,
        direction_half_deg=float(np.abs(turned).max()),
    )
