"""Do two or more groups differ: in centre, in spread, in how far they miss? The tests behind compare.py.

Unequal counts and unequal spreads are the rule between clubs, so nothing here pools. Each question is put as
means with a covariance that shrinks with balls and one that does not (the sweet spot's own doubt, the scale):
the centre; the mean distance from the sweet spot; the logarithm of the mean distance from the own centre. Two
means: the unequal-covariance T2 with the degrees of freedom of [krishnamoorthy-yu], which is Welch's test for
one coordinate. Several: the weighted distance from the common mean against its parametric bootstrap
[krishnamoorthy-lu].

Not used, because simulated true nulls were rejected too often (tests/bench/statistics.py): the permutation
test on distances (PERMANOVA) for centres, 20 % when the club with few balls is the wide one; permuted F of
distances (PERMDISP) for spreads, 8 % at 5 against 15 balls; the variance ratio, 15 % and more with heavy
tails.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facemark.explain.evidence import Array, Evidence
from facemark.explain.span import f_above, student

# Distances are skewed, and those to the own centre share it: their variance is known worse than n - 1 says.
# Giving up one degree of freedom more brings 5 against 20 balls from 92 to 94 % coverage (simulated).
SKEW_COST = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mean:
    """A mean of p coordinates (mm, or a logarithm) with two covariances: one shrinks with balls, one does
    not."""

    at: Array  # (p,)
    sampling: Array  # (p, p)
    shared: Array  # (p, p)
    n_free: float
    n_balls: float  # balls it is worth

    @property
    def total(self) -> Array:
        return np.asarray(self.sampling + self.shared)


def centre_mean(evidence: Evidence) -> Mean:
    """The centre of a set, for comparison."""
    return Mean(
        at=evidence.mean_mm,
        sampling=evidence.sampling_mm2,
        shared=evidence.shared_mm2,
        n_free=evidence.n_free,
        n_balls=evidence.n_free + 1.0,
    )


def miss_mean(evidence: Evidence) -> Mean:
    """Mean distance of the strikes from the sweet spot, as a one-coordinate mean.

    The shared error of a mean distance is the shared error of position along the mean direction of the
    strikes: a shift across it, or one that half the strikes gain from, changes nothing to first order.
    """
    points = evidence.points_mm
    distance = np.hypot(points[:, 0], points[:, 1])
    along = (points / np.maximum(distance, 1e-9)[:, None]).mean(axis=0)
    return Mean(
        at=np.array([distance.mean()]),
        sampling=np.array([[distance.var(ddof=1) / len(distance)]]),
        shared=np.array([[float(along @ evidence.shared_mm2 @ along)]]),
        n_free=len(distance) - SKEW_COST,
        n_balls=float(len(distance)),
    )


def differ_chance(first: Mean, second: Mean) -> float:
    """p of "same mean" for two groups of unequal covariance; p-dimensional.

    Notes
    -----
    T2 = d' V^-1 d, F = T2 (nu - p + 1) / (p nu) on (p, nu - p + 1),
    nu = (p + p^2) / sum_i { [tr((M_i V^-1)^2) + (tr M_i V^-1)^2] / nu_i }, M_i the sampling covariance of
    mean i, V the total of both. For p = 1 this is Welch's test. 1.0 where V is singular.
    """
    d = first.at - second.at
    V = first.total + second.total
    p = len(d)
    if float(np.linalg.det(V)) <= 1e-12 * max(float(np.trace(V)), 1e-12) ** p:
        return 1.0
    inverse = np.linalg.inv(V)
    size = 0.0
    for mean in (first, second):
        ratio = mean.sampling @ inverse
        size += (float(np.trace(ratio @ ratio)) + float(np.trace(ratio)) ** 2) / mean.n_free
    nu = (p + p**2) / size
    if nu <= p - 1.0:
        return 1.0
    t2 = float(d @ inverse @ d)
    return f_above(t2 * (nu - p + 1.0) / (p * nu), p, nu - p + 1.0)


def any_differ_chance(means: Sequence[Mean], rng: np.random.Generator, *, n_draws: int) -> float:
    """p of "all the same mean" for several groups, by parametric bootstrap.

    Draws means from N(0, V_i) and sampling covariances from Wishart(nu_i) / nu_i around those found, and
    counts how often the weighted distance from the common centre is at least as large as found.
    """
    p = len(means[0].at)
    at = np.array([mean.at for mean in means])
    total = np.array([mean.total for mean in means])
    found = _distance_from_common(at[None], total[None])[0]
    k = len(means)
    drawn = np.empty((n_draws, k, p))
    scatter = np.empty((n_draws, k, p, p))
    for i, mean in enumerate(means):
        root = np.linalg.cholesky(total[i] + 1e-12 * np.eye(p))
        drawn[:, i] = rng.standard_normal((n_draws, p)) @ root.T
        shape = draw_wishart(rng, mean.n_free, n_draws, p)
        sampling_root = np.linalg.cholesky(mean.sampling + 1e-12 * np.eye(p))
        scatter[:, i] = sampling_root @ shape @ sampling_root.T / mean.n_free + mean.shared
    return (1.0 + float((_distance_from_common(drawn, scatter) >= found).sum())) / (n_draws + 1.0)


def _distance_from_common(at: Array, total: Array) -> Array:
    """(R,) sums over groups of (x_i - c)' V_i^-1 (x_i - c), c the weighted common centre."""
    inverse = np.linalg.inv(total)
    weighted = np.einsum("rkij,rkj->ri", inverse, at)
    common = np.linalg.solve(inverse.sum(axis=1), weighted[..., None])[..., 0]
    off = at - common[:, None]
    return np.asarray(np.einsum("rki,rkij,rkj->r", off, inverse, off))


def draw_wishart(rng: np.random.Generator, nu: float, n_draws: int, p: int) -> Array:
    """(n_draws, p, p) Wishart(nu, I) by Bartlett's decomposition; p is 1 or 2."""
    L = np.zeros((n_draws, p, p))
    L[:, 0, 0] = np.sqrt(rng.chisquare(nu, n_draws))
    if p == 2:
        L[:, 1, 1] = np.sqrt(rng.chisquare(max(nu - 1.0, 0.1), n_draws))
        L[:, 1, 0] = rng.standard_normal(n_draws)
    return L @ L.transpose(0, 2, 1)


def spread_mean(evidence: Evidence) -> Mean:
    """Logarithm of the mean distance from the own centre, as a one-coordinate mean.

    Each distance is widened by sqrt(n / (n - 1)), because a centre found from few balls lies too near to
    them, and freed of the marks' own errors. Its variance is taken over n - 1: distances from their own
    centre hold one strike's worth less. A common scale error enters as it is.
    """
    points = evidence.points_mm
    n = len(points)
    distance = np.hypot(*(points - points.mean(axis=0)).T)
    seen, own = float(np.trace(evidence.seen_mm2)), float(np.trace(evidence.own_mm2))
    kept = math.sqrt(max(1.0 - own / seen, 0.01))
    mean = float(distance.mean())
    return Mean(
        at=np.array([math.log(mean * math.sqrt(n / (n - 1.0)) * kept)]),
        sampling=np.array([[float(distance.var(ddof=1)) / ((n - 1.0) * mean**2)]]),
        shared=np.array([[evidence.scale_frac**2]]),
        n_free=n - SKEW_COST,
        n_balls=float(n),
    )


def mean_span(mean: Mean, *, level_frac: float) -> tuple[float, float]:
    """Ends of the interval of a one-coordinate mean."""
    sampling, total = float(mean.sampling[0, 0]), float(mean.total[0, 0])
    nu = mean.n_free * (total / sampling) ** 2 if sampling > 0.0 else math.inf
    half = student(0.5 + level_frac / 2.0, nu) * math.sqrt(total)
    return float(mean.at[0]) - half, float(mean.at[0]) + half


def difference_span(first: Mean, second: Mean, axis: int, *, level_frac: float) -> tuple[float, float, float]:
    """First less second along one coordinate, and the ends of its interval; Welch's degrees of freedom."""
    sampling = [float(mean.sampling[axis, axis]) for mean in (first, second)]
    total = float(first.total[axis, axis] + second.total[axis, axis])
    free = [first.n_free, second.n_free]
    spread = sum(v**2 / f for v, f in zip(sampling, free, strict=True))
    nu = total**2 / spread if spread > 0.0 else math.inf
    difference = float(first.at[axis] - second.at[axis])
    half = student(0.5 + level_frac / 2.0, nu) * math.sqrt(total)
    return difference, difference - half, difference + half


def holm(chances: Sequence[float]) -> tuple[float, ...]:
    """Holm's adjusted p values, in the order given [holm1979]."""
    order = np.argsort(np.asarray(chances), kind="stable")
    adjusted = [0.0] * len(chances)
    running = 0.0
    for rank, i in enumerate(order):
        running = max(running, min(1.0, (len(chances) - rank) * chances[i]))
        adjusted[i] = running
    return tuple(adjusted)
