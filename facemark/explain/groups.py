"""One pattern or two, and does a mark stand apart?

Ten marks can always be cut in two, and the cut always looks good: it "explains" 72 % of one plain group at
the median. So the split is held against the best split of one normal group (table below), and the
two centres must lie apart far enough to matter. Two groups closer than about five spreads cannot be seen with
ten marks; flat-topped patterns fool the test more often than the stated risk.

A mark that stands apart is flagged, never removed: its Mahalanobis distance against the Beta law of
[wilks1963], with Bonferroni over the marks. Two such marks hide each other, so look at the picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from facemark.explain.evidence import NO_SCATTER_MM2, Array

FEWEST_BALLS = 8  # below it neither question can be asked
FEWEST_IN_GROUP = 3
FALSE_FLAG_FRAC = 0.05  # chance of flagging any mark of a clean group

# n -> T exceeded by 5 % and by 0.7 % of single normal groups, whatever their shape; 90 000 groups each drawn
# for this file (45 000 from n = 80). The 5 % column agrees with our reference note within 0.002. The note's
# 1 % column (0.908 at n = 10) makes the false alarm 1.0 %; 0.7 % keeps it below 1 % with room.
SPLIT_LIMITS = {
    8: (0.882, 0.938),
    9: (0.871, 0.927),
    10: (0.861, 0.914),
    11: (0.851, 0.904),
    12: (0.841, 0.893),
    13: (0.833, 0.884),
    14: (0.824, 0.876),
    15: (0.818, 0.868),
    16: (0.812, 0.861),
    18: (0.800, 0.848),
    20: (0.791, 0.838),
    22: (0.783, 0.829),
    25: (0.773, 0.816),
    30: (0.759, 0.800),
    40: (0.742, 0.778),
    50: (0.729, 0.763),
    60: (0.721, 0.752),
    80: (0.707, 0.736),
    100: (0.700, 0.726),
    150: (0.687, 0.708),
    200: (0.680, 0.699),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """The best cut of the marks in two along their longest direction."""

    explained_frac: float  # T: between the two over total sum of squares on that direction
    apart_mm: float  # distance of the two centres in the plane
    members: tuple[tuple[int, ...], tuple[int, ...]]  # mark numbers, from 0
    surely_two: bool  # better than 99.3 % of single groups
    maybe_two: bool  # better than 95 %


def find_split(points_mm: Array) -> Split | None:
    """Cut (n, 2) marks in two as well as can be; None below ``FEWEST_BALLS`` or with all in one place.

    Notes
    -----
    The longest direction is the first principal axis: the angle atan2(2 Sxy, Sxx - Syy) / 2.
    """
    n = len(points_mm)
    if n < FEWEST_BALLS:
        return None
    centred = points_mm - points_mm.mean(axis=0)
    (xx, xy), (_, yy) = centred.T @ centred
    angle = 0.5 * math.atan2(2.0 * xy, xx - yy)
    scores = centred @ np.array([math.cos(angle), math.sin(angle)])
    total = float(scores @ scores)
    if total < NO_SCATTER_MM2:
        return None
    order = np.argsort(scores, kind="stable")
    size = np.arange(FEWEST_IN_GROUP, n - FEWEST_IN_GROUP + 1)
    below = np.cumsum(scores[order])[size - 1]
    explained = below**2 * (1.0 / size + 1.0 / (n - size)) / total
    best = int(np.argmax(explained))
    first, second = order[: size[best]], order[size[best] :]
    apart = points_mm[first].mean(axis=0) - points_mm[second].mean(axis=0)
    t = float(explained[best])
    maybe, sure = split_limits(n)
    return Split(
        explained_frac=t,
        apart_mm=float(np.hypot(*apart)),
        members=(tuple(sorted(first.tolist())), tuple(sorted(second.tolist()))),
        surely_two=t > sure,
        maybe_two=t > maybe,
    )


def split_limits(n: int) -> tuple[float, float]:
    """T exceeded by 5 % and by 0.7 % of single groups of n marks; linear between rows, beyond 200 as 200."""
    counts = list(SPLIT_LIMITS)
    table = np.array(list(SPLIT_LIMITS.values()))
    maybe, sure = (float(np.interp(n, counts, table[:, column])) for column in (0, 1))
    return maybe, sure


def balls_to_confirm(explained_frac: float, n: int) -> int | None:
    """Further balls after which a split as good as this one would be sure; None beyond 200 in all."""
    for total in range(n + 1, 201):
        if split_limits(total)[1] < explained_frac:
            return total - n
    return None


def chance_of_apartness(points_mm: Array) -> Array:
    """(n,) for each mark: chance that the farthest of n marks of one group lies at least this far off.

    Notes
    -----
    n D2 / (n-1)^2 follows Beta(1, (n-3)/2) in two dimensions; the chance is n times its upper tail, at most
    1. All ones below ``FEWEST_BALLS`` and where the marks lie on one line.
    """
    n = len(points_mm)
    if n < FEWEST_BALLS:
        return np.ones(n)
    offsets = points_mm - points_mm.mean(axis=0)
    S = offsets.T @ offsets / (n - 1)
    trace = float(np.trace(S))
    if trace < NO_SCATTER_MM2 or float(np.linalg.det(S)) < 1e-9 * trace**2:
        return np.ones(n)
    d2 = np.einsum("ni,ni->n", offsets @ np.linalg.inv(S), offsets)
    share = np.clip(n * d2 / (n - 1.0) ** 2, 0.0, 1.0)
    return np.asarray(np.minimum(n * special.betainc((n - 3.0) / 2.0, 1.0, 1.0 - share), 1.0))
