"""How many more balls would show it?

Behind every "about n more balls each": the number that shows a difference in four of five tests where it is
real, with Bonferroni over the pairs. A plan, not a promise: it takes the spread as seen for the true one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy import special

from facemark.explain.contrast import Mean

RISK_FRAC = 0.05  # of calling equal clubs different, for each of the three questions
POWER_FRAC = 0.80  # chance of showing a difference that is there
WORTH_SHOWING_RATIO = 1.25  # a spread larger by a quarter
MOST_BALLS = 400  # beyond it "more balls" is no advice


def balls_for_ratio(means: Sequence[Mean], n_pairs: int) -> int | None:
    """Balls each beyond the smaller set that show a spread ratio of ``WORTH_SHOWING_RATIO``.

    Normal approximation: (z_a + z_b)^2 (c1 + c2) / ln(ratio)^2 balls each, c the squared relative deviation
    of the distances; Bonferroni over pairs.
    """
    shared = sum(float(mean.shared[0, 0]) for mean in means)
    per_ball = sum(float(mean.sampling[0, 0]) * (mean.n_balls - 1.0) for mean in means)
    room = (math.log(WORTH_SHOWING_RATIO) / _z_sum(n_pairs)) ** 2 - shared
    if room <= 0.0:
        return None
    return _beyond(1.0 + per_ball / room, means)


def shown_ratio(n_each: int, *, n_clubs: int = 2) -> float:
    """The spread ratio that ``n_each`` balls a club show in ``POWER_FRAC`` of tests, for round groups.

    Rayleigh distances: squared relative deviation 4 / pi - 1.
    """
    per_ball = 2.0 * (4.0 / math.pi - 1.0)
    return math.exp(_z_sum(math.comb(n_clubs, 2)) * math.sqrt(per_ball / (n_each - 1.0)))


def balls_for_centres(first: Mean, second: Mean, n_pairs: int) -> int | None:
    """Balls each beyond the smaller set that show the difference of centres seen, were it the true one.

    Noncentral chi-square with two degrees of freedom; the sampling covariance shrinks with balls.
    """
    d = first.at - second.at
    per_ball = sum(mean.sampling * mean.n_balls for mean in (first, second))
    shared = first.shared + second.shared
    needed = float(special.chndtrinc(special.chdtri(2, RISK_FRAC / n_pairs), 2, 1.0 - POWER_FRAC))
    for n in range(5, MOST_BALLS + 1):
        if float(d @ np.linalg.solve(per_ball / n + shared, d)) >= needed:
            return _beyond(float(n), [first, second])
    return None


def _z_sum(n_pairs: int) -> float:
    return float(special.ndtri(1.0 - RISK_FRAC / (2.0 * n_pairs)) + special.ndtri(POWER_FRAC))


def _beyond(n_each: float, means: Sequence[Mean]) -> int | None:
    have = min(mean.n_balls for mean in means)
    return None if n_each > MOST_BALLS else max(0, math.ceil(n_each - have))
