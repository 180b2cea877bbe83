"""From where to where a number may lie: the one interval type of explain/, and the quantiles behind it.

The quantiles come from scipy.special, the compiled functions under scipy.stats: same numbers, a third of the
import time. tests/published/ holds them against scipy.stats and printed tables.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

LEVEL_FRAC = 0.95  # of every printed interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """An interval in mm that holds the true value in 95 of 100 sets (``LEVEL_FRAC``)."""

    least_mm: float
    most_mm: float

    def scaled(self, factor: float) -> Span:
        """The interval of ``factor`` times the number."""
        return Span(least_mm=self.least_mm * factor, most_mm=self.most_mm * factor)


@dataclass(frozen=True, slots=True, kw_only=True)
class FracSpan:
    """An interval of a fraction, 0 to 1, or of a ratio."""

    least_frac: float
    most_frac: float


def student(p_frac: float, nu: float) -> float:
    """Quantile of Student's t; ``nu`` may be infinite."""
    return float(special.ndtri(p_frac)) if np.isinf(nu) else float(special.stdtrit(nu, p_frac))


def student_two_sided(t: float, nu: float) -> float:
    """Two-sided p of a t value."""
    t = abs(t)
    return 2.0 * float(special.ndtr(-t) if np.isinf(nu) else special.stdtr(nu, -t))


def chi2_quantile(p_frac: float, nu: float) -> float:
    """Quantile of chi-square."""
    return float(special.chdtri(nu, 1.0 - p_frac))


def f_quantile(p_frac: float, nu1: float, nu2: float) -> float:
    """Quantile of F."""
    return float(special.fdtri(nu1, nu2, p_frac))


def f_above(value: float, nu1: float, nu2: float) -> float:
    """Probability that F exceeds ``value``."""
    return float(special.fdtrc(nu1, nu2, value))
