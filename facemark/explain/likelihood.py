"""How well does a start, or a curve, fit what was noted?

Numbers noted for single balls average: their own errors fall with the root of their count. Sides noted ("left
of the stick") speak through how often each side came up, over the golfer's own spread, which nobody knows and
which is therefore averaged over three sizes. A look at the set as a whole counts once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facemark.explain import constants as c
from facemark.explain.notes import Note

Array = NDArray[np.float64]
_GRID = 401
_TINY = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """All notes about one quantity (start in deg, or curve in m). Plus: push, draw.

    Numbers: mean and its standard error, None if there were none. Sides: limits (K, 2) and errors (K,), one
    row a ball; the same for looks at the whole set.
    """

    mean_and_err: tuple[float, float] | None
    ball_sides: Array
    ball_errs: Array
    set_sides: Array
    set_errs: Array
    spreads: tuple[float, ...]
    n_balls: int

    @property
    def empty(self) -> bool:
        return self.mean_and_err is None and not len(self.ball_sides) and not len(self.set_sides)


def start_evidence(notes: Sequence[Note]) -> Evidence:
    """Gather what was noted of the starts.

    Parameters
    ----------
    notes : sequence of Note

    Returns
    -------
    Evidence
    """
    rows = [
        (n.start.low_push_deg, n.start.high_push_deg, n.start.err_deg, n.of_set) for n in notes if n.start
    ]
    return _gather(rows, c.START_SPREADS_DEG)


def curve_evidence(notes: Sequence[Note]) -> Evidence:
    """Gather what was noted of the curves.

    Parameters
    ----------
    notes : sequence of Note

    Returns
    -------
    Evidence
    """
    rows = [(n.curve.low_draw_m, n.curve.high_draw_m, n.curve.err_m, n.of_set) for n in notes if n.curve]
    return _gather(rows, c.CURVE_SPREADS_M)


def log_fit(evidence: Evidence, values: Array) -> Array:
    """Log likelihood of each value.

    Parameters
    ----------
    evidence : Evidence
    values : (N,) float64
        Mean start [deg] or curve [m] of the balls noted.

    Returns
    -------
    (N,) float64
    """
    total = np.zeros_like(values)
    if evidence.mean_and_err is not None:
        mean, err = evidence.mean_and_err
        total += -0.5 * ((values - mean) / err) ** 2
    if len(evidence.set_sides):
        total += _log_between(values, evidence.set_sides, evidence.set_errs)
    if len(evidence.ball_sides):
        # One ball noted: it is that ball which is explained, not the golfer's average.
        spreads = (0.0,) if evidence.n_balls == 1 else evidence.spreads
        each = [
            _log_between(values, evidence.ball_sides, np.hypot(evidence.ball_errs, spread))
            for spread in spreads
        ]
        total += np.logaddexp.reduce(each, axis=0) - math.log(len(spreads))
    return total


def matched_normal(evidence: Evidence, prior_err: float) -> tuple[float, float]:
    """Mean and standard error of the likelihood, seen through a wide prior around zero.

    Parameters
    ----------
    evidence : Evidence
        Not empty.
    prior_err : float
        How far such values lie from zero in general.

    Returns
    -------
    mean, err : float
        Of a normal likelihood that would leave the same posterior. Only steers where to look.
    """
    if evidence.mean_and_err is not None:
        return evidence.mean_and_err
    grid = np.linspace(-6.0 * prior_err, 6.0 * prior_err, _GRID)
    log = log_fit(evidence, grid) - 0.5 * (grid / prior_err) ** 2
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = float(weight @ grid)
    var = float(weight @ (grid - mean) ** 2)
    # Take the prior's own part out again.
    precision = max(1.0 / var - 1.0 / prior_err**2, 0.01 / prior_err**2)
    return mean / var / precision, math.sqrt(1.0 / precision)


def _gather(rows: list[tuple[float, float, float, bool]], spreads: tuple[float, ...]) -> Evidence:
    exact = [(low, err, of_set) for low, high, err, of_set in rows if low == high]
    mean_and_err = None
    if exact:
        value, err = (np.array(column) for column in list(zip(*exact, strict=True))[:2])
        # A plain mean: the error of a curve grows with the curve, so weighting would favour small ones.
        mean_and_err = (float(value.mean()), float(np.sqrt(err @ err)) / len(err))
    sides = [row for row in rows if row[0] != row[1]]
    of_ball = np.array([row[:3] for row in sides if not row[3]]).reshape(-1, 3)
    of_set = np.array([row[:3] for row in sides if row[3]]).reshape(-1, 3)
    return Evidence(
        mean_and_err=mean_and_err,
        ball_sides=of_ball[:, :2],
        ball_errs=of_ball[:, 2],
        set_sides=of_set[:, :2],
        set_errs=of_set[:, 2],
        spreads=spreads,
        n_balls=len(rows),
    )


def _log_between(values: Array, limits: Array, errs: Array) -> Array:
    """Sum over rows of the log probability that a reading of ``values`` falls between the limits."""
    from scipy.special import ndtr

    low, high = ((limits[:, k, None] - values) / errs[:, None] for k in (0, 1))
    # Taken on the falling side, so that far tails do not vanish in 1 - 1.
    turn = low > 0.0
    part = np.where(turn, ndtr(-low) - ndtr(-high), ndtr(high) - ndtr(low))
    return np.asarray(np.log(part + _TINY).sum(axis=0), dtype=np.float64)
