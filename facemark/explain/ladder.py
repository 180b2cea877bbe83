"""How hard may the next block be hit? The effort ladder, from the blocks in the book.

Start slow (20 % of full effort: a feeling, not a fifth of the speed), step up while the move-on rule says so,
one step back when it falls apart. The rule is moveon's block rule, with one thing added: a step up wants two
sets (twenty balls), because nine of ten happens to a 60 % player once in twenty tries. Going back wants one
bad set (5 of 10 or fewer) or the running count.

What is counted together: blocks of one focus, one effort and one tolerance. A changed gate is a changed task
and starts a new count. After thirty balls without a decision the count starts anew, because the player of
ball forty is no longer the player of ball one.

A top step passed is "held". It is learned when the same rule passes it again on another day.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from facemark.errors import SetupError
from facemark.explain.moveon import BLOCK_LIMITS, MOST_BALLS, Step, judge_blocks
from facemark.inputs import Club

EFFORTS_FRAC = (0.2, 0.4, 0.6, 0.8, 1.0)  # coaches start at 20 %; even steps are assumed
EFFORT_FRAC = (0.01, 1.0)  # that can be told
SAME_STEP_FRAC = 0.005  # a percent told and its step differ by rounding only
N_SET = min(BLOCK_LIMITS)  # balls of one set
N_UP = 2 * N_SET  # fewest balls before a step up: two sets
FAILED_FRAC = BLOCK_LIMITS[N_SET][1] / N_SET  # a set this bad or worse has failed
N_FAILED_STOP = 2  # failed sets in a row on one day
SAME_TOLERANCE_MM = 2.0  # tolerances this near are one task; about how well tees are set


class Focus(StrEnum):
    """What one block is about."""

    STRIKE = "strike"
    START = "start"
    PATH = "path"
    TOGETHER = "all together"


class Stop(StrEnum):
    """Why today is over."""

    PAIN = "pain"
    FAILED = "two failed sets"
    DRIFT = "drift"


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One block that was hit."""

    focus: Focus
    effort_frac: float
    n_good: int
    n_balls: int
    day: dt.date
    tolerance_mm: float | None = None  # room beyond the head, or between the sticks; None: not noted
    pain: bool = False
    club: str | None = None  # its ``club_key``; None: not noted


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """Where the player stands on the ladder of one focus."""

    focus: Focus
    effort_frac: float  # of the next block
    n_good: int  # counted at this effort and tolerance, not yet decided
    n_balls: int
    last_step: Step | None  # what the last block led to; None: no block yet
    held: bool  # the top step was passed
    held_day: dt.date | None
    learned: bool  # and passed again on another day
    tolerance_mm: float | None  # of the count above

    @property
    def n_next(self) -> int:
        """Balls of the next set."""
        return N_SET - self.n_balls % N_SET


def club_key(club: Club) -> str:
    """What tells one club's practice from another's: kind and name."""
    return f"{club.kind.value}: {club.name}"


def of_club(blocks: Sequence[Block], club: str | None) -> list[Block]:
    """The blocks of one club: what a driver has learned says nothing of an iron.

    Blocks that know no club count for every club; with None, all blocks are returned.
    """
    return [block for block in blocks if club is None or block.club in (None, club)]


def climb(blocks: Sequence[Block], focus: Focus, *, start_frac: float | None = None) -> Rung:
    """Where the blocks of one focus have led.

    Parameters
    ----------
    blocks : all blocks of the player with one club, oldest first; other focuses are passed over.
    focus : Focus
    start_frac : the effort of the first block; None: the lowest.

    Raises
    ------
    SetupError
        A block with more good balls than balls, or an effort that is none.
    """
    at = _nearest(EFFORTS_FRAC[0] if start_frac is None else start_frac)
    n_good = n_balls = 0
    last: Step | None = None
    tolerance: float | None = None
    held_day: dt.date | None = None
    day: dt.date | None = None
    learned = False
    for block in blocks:
        if block.focus is not focus:
            continue
        here = _nearest(block.effort_frac)
        new_day = held_day is not None and block.day != day  # a retest counts for itself
        if here != at or new_day or not _same(tolerance, block.tolerance_mm):
            n_good = n_balls = 0  # hit at another effort, or through another gate: another task
        at, tolerance, day = here, block.tolerance_mm, block.day
        n_good, n_balls = n_good + block.n_good, n_balls + block.n_balls
        last = step_of(n_good, n_balls)
        if last is Step.MOVE_ON and at == len(EFFORTS_FRAC) - 1:
            learned = learned or (held_day is not None and block.day > held_day)
            held_day = held_day or block.day
        elif last is Step.EASIER:
            held_day, learned = None, False
        if last is not Step.HIT_MORE:
            at = _moved(at, last)
            n_good = n_balls = 0
    return Rung(
        focus=focus,
        effort_frac=EFFORTS_FRAC[at],
        n_good=n_good,
        n_balls=n_balls,
        last_step=last,
        held=held_day is not None,
        held_day=held_day,
        learned=learned,
        tolerance_mm=tolerance,
    )


def step_of(n_good: int, n_balls: int) -> Step:
    """The ladder's rule for a running count: moveon's, and two sets before a step up."""
    step = judge_blocks([(n_good, n_balls)]).step
    return Step.HIT_MORE if step is Step.MOVE_ON and n_balls < N_UP else step


def stop_today(blocks: Sequence[Block], day: dt.date, *, drifting: bool = False) -> Stop | None:
    """Whether this day's practice is over: pain, two failed sets in a row, or strikes that wander."""
    today = [block for block in blocks if block.day == day]
    if any(block.pain for block in today):
        return Stop.PAIN
    failed = 0  # sets in a row; twenty balls noted at once are two
    for n_good, n_balls in _sets(today):
        failed = failed + n_balls // N_SET if n_good <= FAILED_FRAC * n_balls else 0
    if failed >= N_FAILED_STOP:
        return Stop.FAILED
    return Stop.DRIFT if drifting else None


def _sets(blocks: Sequence[Block]) -> list[tuple[int, int]]:
    """Good balls and balls of whole sets; shorter blocks of one task are put together until they are one."""
    sets: list[tuple[int, int]] = []
    task, n_good, n_balls = None, 0, 0
    for block in blocks:
        if (block.focus, block.effort_frac) != task:
            task, n_good, n_balls = (block.focus, block.effort_frac), 0, 0
        n_good, n_balls = n_good + block.n_good, n_balls + block.n_balls
        if n_balls >= N_SET:
            sets.append((n_good, n_balls))
            n_good = n_balls = 0
    return sets


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderOdds:
    """What the ladder does with a player of a given true rate at one step, set by set; exact."""

    rate_frac: float
    up_frac: float  # decisions
    back_frac: float
    stay_frac: float
    up_per_set_frac: float  # of sets hit
    back_per_set_frac: float
    n_sets_mean: float


def ladder_odds(rate_frac: float) -> LadderOdds:
    """Count all ways three sets of ten can go.

    Raises
    ------
    SetupError
        The rate is not between 0 and 1.
    """
    if not 0.0 <= rate_frac <= 1.0:
        raise SetupError(f"a rate lies between 0 and 1, got {rate_frac}", remedy="Say 0.8 for 80 %.")
    one = _binomial(N_SET, rate_frac)
    going = {0: 1.0}
    ends = {Step.MOVE_ON: 0.0, Step.EASIER: 0.0, Step.STAY: 0.0}
    n_sets = 0.0
    for n_balls in range(N_SET, MOST_BALLS + 1, N_SET):
        n_sets += sum(going.values())
        after: dict[int, float] = {}
        for n_good, chance in going.items():
            for more, share in enumerate(one):
                after[n_good + more] = after.get(n_good + more, 0.0) + chance * share
        going = {}
        for n_good, chance in after.items():
            step = step_of(n_good, n_balls)
            if step is Step.HIT_MORE:
                going[n_good] = chance
            else:
                ends[step] += chance
    return LadderOdds(
        rate_frac=rate_frac,
        up_frac=ends[Step.MOVE_ON],
        back_frac=ends[Step.EASIER],
        stay_frac=ends[Step.STAY],
        up_per_set_frac=ends[Step.MOVE_ON] / n_sets,
        back_per_set_frac=ends[Step.EASIER] / n_sets,
        n_sets_mean=n_sets,
    )


def _binomial(n: int, rate: float) -> list[float]:
    from math import comb

    return [comb(n, k) * rate**k * (1.0 - rate) ** (n - k) for k in range(n + 1)]


def check_effort(what: str, effort_frac: float) -> float:
    """An effort that can be one.

    Raises
    ------
    SetupError
        Less than 1 % or more than full, or no number.
    """
    low, high = EFFORT_FRAC
    if not low <= effort_frac <= high:
        raise SetupError(
            f"{what}: {100.0 * effort_frac:g} % effort was told; {100 * low:.0f} to {100 * high:.0f} % is"
            " possible",
            remedy="Say percent: 20 for a fifth of full effort.",
        )
    return effort_frac


def check_step(what: str, effort_frac: float) -> float:
    """An effort that is one of the ladder's steps.

    Raises
    ------
    SetupError
        It lies between two steps, or is none.
    """
    check_effort(what, effort_frac)
    if min(abs(step - effort_frac) for step in EFFORTS_FRAC) > SAME_STEP_FRAC:
        steps = ", ".join(f"{100.0 * step:.0f}" for step in EFFORTS_FRAC)
        raise SetupError(
            f"{what}: {100.0 * effort_frac:g} % effort was told; the ladder's steps are {steps} %",
            remedy="Effort is a feeling: say the step that comes nearest.",
        )
    return effort_frac


def _nearest(effort_frac: float) -> int:
    check_effort("a block", effort_frac)
    return min(range(len(EFFORTS_FRAC)), key=lambda i: abs(EFFORTS_FRAC[i] - effort_frac))


def _moved(at: int, step: Step) -> int:
    if step is Step.MOVE_ON:
        return min(at + 1, len(EFFORTS_FRAC) - 1)
    return max(at - 1, 0) if step is Step.EASIER else at


def _same(one_mm: float | None, other_mm: float | None) -> bool:
    return one_mm is None or other_mm is None or abs(one_mm - other_mm) <= SAME_TOLERANCE_MM
