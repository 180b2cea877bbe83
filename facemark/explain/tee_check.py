"""Do the tees that were struck and the marks on the face tell the same story?

A struck tee on the toe side means that the head passed too far from the player: a heel strike. A struck tee
on the heel side means a toe strike. Each mark says with what chance it touched either tee (its place, its own
error, and how well a tee is pushed where it should be); added up over the marks that is how many tees should
have fallen. Where the number noted is as unlikely as once in twenty sets, the two contradict each other: the
head was not set with its sweet spot at the ball, a tee or the ball was moved, the head came through twisted,
or marks are missing or merged. If it fits with the sides swapped, the sides were swapped.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import special

from facemark.errors import SetupError
from facemark.explain.evidence import Array
from facemark.explain.gate import TEE_PLACED_ERR_MM, Gate
from facemark.strike import StrikeSet

UNLIKELY_FRAC = 0.05  # of a set that agrees being called a contradiction, for both tees together


class Story(StrEnum):
    """How tees and marks go together."""

    AGREE = "agree"
    SWAPPED = "toe and heel swapped"
    MORE_TEES = "more tees struck than the marks explain"
    FEWER_TEES = "fewer tees struck than the marks explain"


@dataclass(frozen=True, slots=True, kw_only=True)
class TeeCheck:
    """Tees noted against tees that the marks should have struck."""

    story: Story
    n_toe_tee: int  # noted
    n_heel_tee: int
    n_toe_tee_expected: float  # from the marks
    n_heel_tee_expected: float
    chance_frac: float  # that marks and tees that agree look this different


def check_tees(strikes: StrikeSet, gate: Gate, *, n_toe_tee: int, n_heel_tee: int) -> TeeCheck:
    """Hold the tees that were struck against the marks.

    Raises
    ------
    SetupError
        Balls that cannot be told apart, or more tees struck than balls.
    """
    if not strikes.separable or not strikes.strikes:
        raise SetupError(
            "the marks cannot be told apart, so tees and marks cannot be compared",
            remedy="Photograph after every three or four balls, then wipe and spray again.",
        )
    n = max(strikes.n_balls or 0, sum(strike.n_balls for strike in strikes.strikes))
    if min(n_toe_tee, n_heel_tee) < 0 or n_toe_tee + n_heel_tee > n:
        raise SetupError(
            f"{n_toe_tee + n_heel_tee} struck tees were noted for {n} balls",
            remedy="Count for each ball at most one tee, or none.",
        )
    toe_tee, heel_tee = _chances(strikes, gate)
    ends = [_end_chance(toe_tee, n_toe_tee), _end_chance(heel_tee, n_heel_tee)]
    chance = min(1.0, 2.0 * min(ends))
    story = Story.AGREE
    if chance < UNLIKELY_FRAC:
        swapped = [_end_chance(toe_tee, n_heel_tee), _end_chance(heel_tee, n_toe_tee)]
        if n_toe_tee != n_heel_tee and 2.0 * min(swapped) >= UNLIKELY_FRAC:
            story = Story.SWAPPED
        else:
            noted = n_toe_tee if ends[0] <= ends[1] else n_heel_tee
            expected = toe_tee if ends[0] <= ends[1] else heel_tee
            story = Story.MORE_TEES if noted > float(expected.sum()) else Story.FEWER_TEES
    return TeeCheck(
        story=story,
        n_toe_tee=n_toe_tee,
        n_heel_tee=n_heel_tee,
        n_toe_tee_expected=float(toe_tee.sum()),
        n_heel_tee_expected=float(heel_tee.sum()),
        chance_frac=chance,
    )


def _chances(strikes: StrikeSet, gate: Gate) -> tuple[Array, Array]:
    """For each ball, the chance that the head touched the toe-side and the heel-side tee."""
    toe, heel = [], []
    for strike in strikes.strikes:
        err = math.hypot(strike.toe_err_mm, strikes.shared.toe_mm, TEE_PLACED_ERR_MM)
        toe += [float(special.ndtr((-gate.toe_clear_mm - strike.toe_mm) / err))] * strike.n_balls
        heel += [float(special.ndtr((strike.toe_mm - gate.heel_clear_mm) / err))] * strike.n_balls
    return np.array(toe), np.array(heel)


def _end_chance(chances: Array, noted: int) -> float:
    """Two-sided chance of a count this far out: Poisson-binomial, by convolution."""
    counts = np.array([1.0])
    for p in chances:
        counts = np.convolve(counts, [1.0 - p, p])
    if noted >= len(counts):
        return 0.0
    return float(min(1.0, 2.0 * min(counts[: noted + 1].sum(), counts[noted:].sum())))
