"""How well does the player feel where the ball was struck? Called before looking, then found.

For each ball the player says where it was before looking; the photo says where it was. The feel error is the
root mean square distance between the two (so that far misses count more), its interval by chi-square with
two numbers a ball, worn by unequal axes as Box has it. A call that leans one way (always too far toeward) is
told as its own number, by Student's t. Better players call better, above all toe to heel; that was the
strongest relation found in 49 golfers (Herder and Benoit 2022, known through a summary).

Calling is only worth something if it beats saying "the usual place" every time: the same root mean square of
the marks about their own centre. Fewer than five balls say nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from facemark.errors import SetupError
from facemark.explain.evidence import FARTHEST_MM
from facemark.explain.span import LEVEL_FRAC, Span, chi2_quantile, student

FEWEST_CALLS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One ball: where it was said to be, and where it was. From the sweet spot, plus toe and plus high."""

    called_toe_mm: float
    called_high_mm: float
    toe_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Feel:
    """How well the strikes were called."""

    n_balls: int
    feel_err_mm: float  # root mean square distance from call to mark
    feel_span: Span
    usual_place_mm: float  # what always calling the group's centre would have given
    toe_lean_mm: float  # mean of called less found: plus, called too far toward the toe
    toe_lean_span: Span
    high_lean_mm: float
    high_lean_span: Span

    @property
    def beats_usual_place(self) -> bool:
        """Surely better than calling the usual place every time."""
        return self.feel_span.most_mm < self.usual_place_mm


def judge_calls(calls: Sequence[Call]) -> Feel:
    """How good the calls were.

    Raises
    ------
    SetupError
        Fewer than five balls, or a place that is none.
    """
    if len(calls) < FEWEST_CALLS:
        raise SetupError(
            f"{len(calls)} called balls say nothing about feel; at least {FEWEST_CALLS} are needed",
            remedy="Call ten balls before you look at each.",
        )
    called = np.array([(call.called_toe_mm, call.called_high_mm) for call in calls], float)
    found = np.array([(call.toe_mm, call.high_mm) for call in calls], float)
    if not (
        np.isfinite([called, found]).all() and max(np.abs(called).max(), np.abs(found).max()) < FARTHEST_MM
    ):
        raise SetupError(
            "a called or found place lies beyond any club face, or is no number",
            remedy="Give millimetres from the sweet spot.",
        )
    n, off = len(calls), called - found
    squares = (off**2).mean(axis=0)
    total = float(squares.sum())
    # Two coordinates a ball, unequal: Box's degrees of freedom [box1954].
    nu = n * total**2 / float((squares**2).sum()) if total > 0.0 else 2.0 * n
    tail = (1.0 - LEVEL_FRAC) / 2.0
    err = math.sqrt(total)
    leans = [_lean(off[:, axis]) for axis in (0, 1)]
    centre = found - found.mean(axis=0)
    return Feel(
        n_balls=n,
        feel_err_mm=err,
        feel_span=Span(
            least_mm=err * math.sqrt(nu / chi2_quantile(1.0 - tail, nu)),
            most_mm=err * math.sqrt(nu / chi2_quantile(tail, nu)),
        ),
        usual_place_mm=math.sqrt(float((centre**2).sum()) / (n - 1)),
        toe_lean_mm=leans[0][0],
        toe_lean_span=leans[0][1],
        high_lean_mm=leans[1][0],
        high_lean_span=leans[1][1],
    )


def _lean(off: np.ndarray) -> tuple[float, Span]:
    mean, err = float(off.mean()), float(off.std(ddof=1)) / math.sqrt(len(off))
    half = student(0.5 + LEVEL_FRAC / 2.0, len(off) - 1.0) * err
    return mean, Span(least_mm=mean - half, most_mm=mean + half)


class Ask(StrEnum):
    """Where a ball was to be struck on purpose."""

    TOE = "toe"
    MIDDLE = "middle"
    HEEL = "heel"


def count_on_purpose(asked: Sequence[Ask], toe_mm: Sequence[float], *, edge_mm: float) -> tuple[int, int]:
    """Balls struck where they were asked for, and balls hit.

    Parameters
    ----------
    asked : one of heel, middle, toe for each ball.
    toe_mm : where each was struck, plus toward the toe.
    edge_mm : the middle reaches this far to either side.

    Raises
    ------
    SetupError
        Unequal counts, no ball, or an edge that is not positive.
    """
    if len(asked) != len(toe_mm) or not asked:
        raise SetupError(
            f"{len(asked)} balls were asked for and {len(toe_mm)} found",
            remedy="Give one place for each ball, in the order they were hit.",
        )
    if not edge_mm > 0.0:
        raise SetupError(
            f"the middle reaches {edge_mm:g} mm", remedy="Give a positive number of millimetres."
        )
    was = [Ask.TOE if t > edge_mm else Ask.HEEL if t < -edge_mm else Ask.MIDDLE for t in toe_mm]
    return sum(a is w for a, w in zip(asked, was, strict=True)), len(asked)
