"""How may a golfer's group lie and spread, before we have seen enough of it?

Twenty balls give the spread toe to heel to about a sixth only. Two things help, and both are assumptions said
out loud: golfers' spreads are not just anything, and a golfer who is wide toe to heel is wide high to low
too, so the other axis speaks along. No published table of spreads could be read; the numbers below are the
placeholders that teachers' orders of size give (6 to 9 mm toe to heel for good players, 12 to 16 mm for
beginners; from memory), taken wide. With thirty balls they hardly matter.

Method: draws from the marks alone (posterior.py) are weighted by this prior over the flat one they came from
(importance weights). The flat prior of those draws is |cov|^-2; in the logarithms of the two spreads and
their correlation r that is weight prior x toe x high x (1 - r^2)^2.

The assumption of the shape is tested before it is used: where the marks' own ratio high-low to toe-heel lies
farther from the assumed one than the marks of 19 of 20 such players would, the marks are right and the
assumption is not. It is dropped, each axis speaks for itself, and the plan says that the gate is rough. (The
logarithm of a ratio of two spreads from f degrees of freedom each errs by about 1 / sqrt(f).)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from facemark.explain.constants import UNSEEN_HIGH_MM, UNSEEN_TOE_MM
from facemark.explain.evidence import Array, Evidence
from facemark.explain.posterior import draw_truths

# Medians and standard deviations of natural logarithms. All from memory, taken wide.
TOE_SPREAD_MM = 9.0  # half of all players between 7 and 12 mm, 19 of 20 between 4 and 20
TOE_SPREAD_LOG_FRAC = 0.4
HIGH_TO_TOE_FRAC = 0.8  # the spread high-low as a share of the spread toe-heel
HIGH_TO_TOE_LOG_FRAC = 0.2  # 19 of 20 players between 0.54 and 1.18
TILT_POWER = 1.0  # correlation r ~ (1 - r^2): no tilt is likelier than a steep one; assumed
N_DRAWS = 4000
ODD_SHAPE_Z = 1.96  # one in twenty players of the assumed shape is taken for another


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToeHeel:
    """What the group could be along the face: N possible centres and spreads, and how likely each is."""

    centre_toe_mm: Array  # (N,) from the sweet spot in use
    spread_toe_mm: Array  # (N,)
    weights: Array  # (N,), sum 1
    odd_shape: bool = False  # flatter or taller than golfers are assumed to be; each axis speaks for itself


def draw_toe_heel(evidence: Evidence, rng: np.random.Generator, *, n_draws: int = N_DRAWS) -> ToeHeel:
    """Draw what the group could be along the face.

    Raises
    ------
    SetupError
        Too few strikes, or all on one line.
    """
    truths = draw_truths(evidence, rng, n_draws=n_draws)
    toe = np.log(np.sqrt(truths.scatter_mm2[:, 0, 0]))
    high = np.log(np.sqrt(truths.scatter_mm2[:, 1, 1]))
    no_tilt = np.log1p(-(truths.scatter_mm2[:, 0, 1] ** 2) * np.exp(-2.0 * (toe + high)))
    weights_log = (
        _normal(toe, np.log(TOE_SPREAD_MM), TOE_SPREAD_LOG_FRAC)
        + _normal(truths.centre_mm[:, 0], 0.0, UNSEEN_TOE_MM)
        + _normal(truths.centre_mm[:, 1], 0.0, UNSEEN_HIGH_MM)
        + toe
        + high
        + (2.0 + TILT_POWER) * no_tilt
    )

    usual_log = np.log(HIGH_TO_TOE_FRAC)
    off = abs(float(np.median(high - toe)) - usual_log)
    odd_shape = off > ODD_SHAPE_Z * math.hypot(HIGH_TO_TOE_LOG_FRAC, 1.0 / math.sqrt(evidence.n_free))
    if not odd_shape:
        weights_log = weights_log + _normal(high - toe, usual_log, HIGH_TO_TOE_LOG_FRAC)
    weights = np.exp(weights_log - weights_log.max())
    return ToeHeel(
        centre_toe_mm=truths.centre_mm[:, 0],
        spread_toe_mm=np.exp(toe),
        weights=weights / weights.sum(),
        odd_shape=odd_shape,
    )


def _normal(value: Array, mean: float, deviation: float) -> Array:
    return np.asarray(-0.5 * ((value - mean) / deviation) ** 2)
