"""What do these marks amount to? Strikes of one set become a centre, a scatter, and how well each is known.

Three things must not be mixed up (JCGM 100 [jcgm100]; statistics of repeated against common errors):
- a mark's own error is already part of how the marks scatter. It is never added to the centre's error a
  second time; it is taken out of the spread of the *strikes*.
- errors common to all marks (origin, scale, turn, sweet spot) do not shrink with more balls.
- marks that are known worse count less: weight 1 / (strike variance + own variance), so ten blurred marks are
  not ten clean points. The covariance of that weighted centre is the squared-weight ("sandwich") form with
  the small-sample factor 1 / (1 - sum w^2 / (sum w)^2); with equal weights it is S / n.
Where the balls cannot be told apart, only a group centre and spread are known, with at least k balls sure:
then the scatter comes from the group, and the degrees of freedom from the fewest balls it may speak for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facemark.errors import MarkError, SetupError
from facemark.strike import GroupEstimate, SharedError, Strike, StrikeSet

Array = NDArray[np.float64]

# No face is longer than 12.7 cm (equipment-rules); beyond twice that it is the wrong unit, not a strike.
FARTHEST_MM = 254.0
# Scatter below a thousandth of a millimetre is rounding, not evidence: nothing is judged by it.
NO_SCATTER_MM2 = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """A set's centre and scatter, and how much stands behind them. p = 2; axes are toe, high.

    ``points_mm`` (n, 2), empty when only the group is known. Matrices are (2, 2) [mm2].
    """

    points_mm: Array
    n_marks: int
    n_balls: float  # balls the evidence speaks for; not an integer for a group
    mean_mm: Array  # (2,)
    seen_mm2: Array  # S, scatter of the marks as seen: strikes and own errors together
    own_mm2: Array  # mean own variance inside ``seen_mm2``, diagonal
    sampling_mm2: Array  # A, covariance of the mean that shrinks with balls
    shared_mm2: Array  # B, covariance of the mean that does not
    n_free: float  # degrees of freedom behind S and A
    scale_frac: float  # relative error of all distances
    from_group: bool

    @property
    def total_mm2(self) -> Array:
        """V = A + B, the covariance of the centre against the true sweet spot."""
        return np.asarray(self.sampling_mm2 + self.shared_mm2)

    @property
    def err_mm(self) -> tuple[float, float]:
        """One standard error of the centre, toe and high; NaN with a single ball."""
        V = self.total_mm2
        return math.sqrt(V[0, 0]), math.sqrt(V[1, 1])


def gather_evidence(strikes: StrikeSet) -> Evidence:
    """Turn a set of strikes into its centre and scatter.

    Raises
    ------
    MarkError
        There is no strike and no group.
    SetupError
        A number is not finite, an error is negative, or a strike lies farther off than any club is long.
    """
    check_strikes(strikes)
    if not strikes.separable and strikes.group is not None:
        return _from_group(strikes, strikes.group)
    return _from_marks(strikes.strikes, strikes.shared)


def check_strikes(strikes: StrikeSet) -> None:
    """Refuse what cannot be a strike. Errors as in ``gather_evidence``."""
    if not strikes.strikes and (strikes.separable or strikes.group is None):
        raise MarkError(
            "expected at least one strike, none came",
            remedy="Photograph the powdered face after hitting, or type one strike a line.",
        )
    for number, strike in enumerate(strikes.strikes, start=1):
        values = (strike.toe_mm, strike.high_mm, strike.toe_err_mm, strike.high_err_mm)
        if not all(math.isfinite(value) for value in values):
            raise SetupError(
                f"strike {number}: expected numbers, got toe {strike.toe_mm}, high {strike.high_mm} "
                f"with errors {strike.toe_err_mm}, {strike.high_err_mm}",
                remedy="Leave out the strikes you could not measure.",
            )
        if min(strike.toe_err_mm, strike.high_err_mm) < 0.0 or strike.n_balls < 1:
            raise SetupError(
                f"strike {number}: errors cannot be negative and a mark holds at least one ball "
                f"(got {strike.toe_err_mm}, {strike.high_err_mm}, {strike.n_balls} balls)",
                remedy="Correct the line, or leave the error columns empty.",
            )
        if max(abs(strike.toe_mm), abs(strike.high_mm)) > FARTHEST_MM:
            raise SetupError(
                f"strike {number}: {strike.toe_mm:g} / {strike.high_mm:g} mm lies beyond any club face",
                remedy="Give positions in millimetres from the sweet spot.",
            )


def _from_marks(marks: tuple[Strike, ...], shared: SharedError) -> Evidence:
    points = np.array([[s.toe_mm, s.high_mm] for s in marks], float)
    own = np.array([[s.toe_err_mm, s.high_err_mm] for s in marks], float) ** 2
    balls = np.array([s.n_balls for s in marks], float)
    weights = _weights(points, own, balls)
    mean = weights @ points
    squares = float(weights @ weights)  # weights sum to one; 1 / squares marks' worth of evidence
    offsets = points - mean
    if len(marks) > 1:
        sampling = (offsets * (weights**2)[:, None]).T @ offsets / (1.0 - squares)
    else:
        sampling = np.full((2, 2), np.nan)
    own_mean = (weights**2) @ own / squares
    return Evidence(
        points_mm=points,
        n_marks=len(marks),
        n_balls=float(balls.sum()),
        mean_mm=mean,
        seen_mm2=sampling / squares,
        own_mm2=np.diag(own_mean),
        sampling_mm2=sampling,
        shared_mm2=shared_covariance_mm2(mean, shared),
        n_free=1.0 / squares - 1.0,
        scale_frac=shared.scale_frac,
        from_group=False,
    )


def _weights(points: Array, own_mm2: Array, balls: Array) -> Array:
    """Weights that sum to one. Equal unless the marks are known unequally well or hold several balls."""
    n = len(points)
    own = own_mm2.mean(axis=1)
    weights = np.asarray(balls / balls.sum())
    if n < 3 or np.ptp(own) < 1e-9:
        return weights
    for _ in range(3):  # the strikes' variance depends weakly on the weights; three rounds settle it
        offsets = points - weights @ points
        squares = float(weights @ weights)
        seen = float((weights**2) @ (offsets**2).sum(axis=1)) / (2.0 * squares * (1.0 - squares))
        strikes = max(seen - float((weights**2) @ own) / squares, 0.05 * seen, 1e-6)
        weights = balls / (strikes + own)
        weights = np.asarray(weights / weights.sum())
    return weights


def _from_group(strikes: StrikeSet, group: GroupEstimate) -> Evidence:
    """Centre and spread of balls that cannot be told apart.

    The centre's own error is a property of the photo: it stands beside the shared errors, with no degrees of
    freedom to lose. The spread's own error costs degrees of freedom: a spread known to a relative r is worth
    1 / (2 r^2) of them (JCGM 100, G.4.2), joined with the fewest balls the group may speak for.
    """
    fewest = max(group.n_balls - group.n_balls_err, float(strikes.n_least), 1.0)
    if strikes.n_balls is not None:
        fewest = min(fewest, float(strikes.n_balls))
    spread = np.array([group.toe_spread_mm, group.high_spread_mm])
    spread_err = np.array([group.toe_spread_err_mm, group.high_spread_err_mm])
    rough = float(np.max(spread_err / np.maximum(spread, 1e-6)))
    nu = 1.0 / (1.0 / max(fewest - 1.0, 1e-6) + 2.0 * rough**2)
    mean = np.array([group.toe_mm, group.high_mm])
    S = np.diag(spread**2)
    own = np.diag([group.toe_err_mm**2, group.high_err_mm**2])
    return Evidence(
        points_mm=np.empty((0, 2)),
        n_marks=strikes.n_least,
        n_balls=fewest,
        mean_mm=mean,
        seen_mm2=S,
        own_mm2=np.zeros((2, 2)),  # the estimate is of the strikes, not of blurred marks
        sampling_mm2=S / fewest if fewest > 1.0 else np.full((2, 2), np.nan),
        shared_mm2=shared_covariance_mm2(mean, strikes.shared) + own,
        n_free=nu,
        scale_frac=strikes.shared.scale_frac,
        from_group=True,
    )


def shared_covariance_mm2(mean_mm: Array, shared: SharedError) -> Array:
    """B, (2, 2): origin and sweet spot, scale along the mean vector, turn across it."""
    across = np.array([-mean_mm[1], mean_mm[0]])
    origin = np.diag([shared.toe_mm**2 + shared.sweet_toe_mm**2, shared.high_mm**2 + shared.sweet_high_mm**2])
    return np.asarray(
        origin
        + shared.scale_frac**2 * np.outer(mean_mm, mean_mm)
        + math.radians(shared.turn_deg) ** 2 * np.outer(across, across)
    )
