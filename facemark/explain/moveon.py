"""Move on, stay, or make it easier? Hits inside the tolerance decide, by a rule fixed beforehand.

"8 of 10, move on" holds a player who is exactly at 80 % back every third time and moves a 60 % player up
once in six. Two better rules with known odds:
- balls in order: Wald's test [wald1947] of 60 % (too hard) against 85 % (ready), both errors 10 %, at most 30
  balls. Each hit adds ln(0.85 / 0.60), each miss ln(0.15 / 0.40); beyond +-ln 9 the matter is decided. Seven
  straight hits move on, three straight misses make it easier.
- a photo has no order: after 10, 20, 30 balls of one task in all, at least 9, 17, 24 hits move on, at most 5,
  13, 20 make it easier, else stay.
Do not restart the count before the task changes, and do not mix tolerances. 80 % as a target is a coaching
convention, not a finding. A ball too close to the line is tried in and out; where that changes the answer
there is none yet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache

from facemark.caveats import MARK_AT_LINE, Caveat
from facemark.errors import SetupError
from facemark.explain.span import FracSpan
from facemark.explain.zone import count_zone, rate_span
from facemark.strike import StrikeSet

TOO_HARD_FRAC = 0.60  # a player with this hit rate should not move on
READY_FRAC = 0.85  # a player with this hit rate should
ERROR_FRAC = 0.10  # of either kind, as planned; what the stop at 30 makes of it: ``step_odds``
MOST_BALLS = 30

HIT_GAIN_FRAC = math.log(READY_FRAC / TOO_HARD_FRAC)  # natural logarithms of odds
MISS_GAIN_FRAC = math.log((1.0 - READY_FRAC) / (1.0 - TOO_HARD_FRAC))
BOUND_FRAC = math.log((1.0 - ERROR_FRAC) / ERROR_FRAC)

# Balls in all -> hits that move on, hits that make it easier. Its exact odds: ``step_odds``.
BLOCK_LIMITS = {10: (9, 5), 20: (17, 13), 30: (24, 20)}
SHOWN_RATES = (0.5, 0.6, 0.7, 0.8, 0.85, 0.9)


class Step(StrEnum):
    """What to do next."""

    MOVE_ON = "move on"
    STAY = "stay"
    EASIER = "make it easier"
    HIT_MORE = "hit more"  # not decided yet


class Rule(StrEnum):
    """How the balls were counted."""

    IN_ORDER = "balls in order"
    BLOCK = "block"


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """What the rule does with a player of a given true hit rate; exact."""

    rate_frac: float
    move_on_frac: float
    easier_frac: float
    stay_frac: float
    n_balls_mean: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveOn:
    """The decision and what it rests on."""

    step: Step
    rule: Rule
    n_in: int
    n_balls: int  # balls counted: up to the one that decided
    rate: FracSpan  # 95 % interval of the true hit rate
    n_next: int | None  # balls until the next look; None: decided
    odds: tuple[Odds, ...]  # of this rule, for ``SHOWN_RATES``
    zone_mm: float | None = None
    n_close: int = 0  # balls too close to call, or hit but not seen
    step_if_out: Step | None = None  # with those balls out, and in; None: there are none
    step_if_in: Step | None = None
    caveats: tuple[Caveat, ...] = ()


def judge_in_order(hits: Sequence[bool]) -> MoveOn:
    """Decide ball by ball; balls after the deciding one are not counted.

    Raises
    ------
    SetupError
        There is no ball.
    """
    if not hits:
        raise SetupError("expected at least one ball, got none", remedy="Hit a ball and note hit or miss.")
    step, used = _walk(hits)
    n_in = sum(map(bool, hits[:used]))
    return MoveOn(
        step=step,
        rule=Rule.IN_ORDER,
        n_in=n_in,
        n_balls=used,
        rate=rate_span(n_in, used),
        n_next=1 if step is Step.HIT_MORE else None,
        odds=tuple(step_odds(rate, Rule.IN_ORDER) for rate in SHOWN_RATES),
    )


def judge_blocks(blocks: Sequence[tuple[int, int]]) -> MoveOn:
    """Decide after blocks of one task, each (hits, balls), added up in the order they were hit.

    Raises
    ------
    SetupError
        There is no block, or more hits than balls.
    """
    if not blocks:
        raise SetupError("expected at least one block, got none", remedy="Count hits and balls of a block.")
    n_in = n_balls = 0
    step = Step.HIT_MORE
    for block_in, block_balls in blocks:
        rate_span(block_in, block_balls)  # refuses impossible counts
        n_in, n_balls = n_in + block_in, n_balls + block_balls
        step = _block_step(n_in, n_balls)
        if step is not Step.HIT_MORE:
            break
    return MoveOn(
        step=step,
        rule=Rule.BLOCK,
        n_in=n_in,
        n_balls=n_balls,
        rate=rate_span(n_in, n_balls),
        n_next=10 - n_balls % 10 if step is Step.HIT_MORE else None,
        odds=tuple(step_odds(rate, Rule.BLOCK) for rate in SHOWN_RATES),
    )


def judge_strikes(blocks: Sequence[StrikeSet], zone_mm: float, *, in_order: bool = False) -> MoveOn:
    """Decide from strikes and a tolerance radius.

    Parameters
    ----------
    blocks : StrikeSets of one task, in the order they were hit.
    zone_mm : tolerance, as a radius about the sweet spot [mm].
    in_order : the strikes of each block are listed in the order they were hit.

    Raises
    ------
    SetupError
        No block, no strike, a radius that is not positive, or balls that cannot be told apart.
    """
    zones = [count_zone(block, zone_mm) for block in blocks]
    if in_order:
        stated, out, inside = (
            judge_in_order([hit for block in blocks for hit in _hits(block, zone_mm, doubtful)])
            for doubtful in (None, False, True)
        )
    else:
        stated = judge_blocks([(zone.n_in, zone.n_balls) for zone in zones])
        out = judge_blocks([(zone.n_surely_in, zone.n_balls) for zone in zones])
        inside = judge_blocks([(zone.n_maybe_in, zone.n_balls) for zone in zones])
    n_close = sum(zone.n_maybe_in - zone.n_surely_in for zone in zones)
    if n_close == 0:
        return replace(stated, zone_mm=zone_mm)
    agree = out.step is inside.step is stated.step
    undecided = Step.STAY if stated.n_balls >= MOST_BALLS else Step.HIT_MORE
    detail = f"{n_close} of {stated.n_balls} balls; with them out: {out.step}, with them in: {inside.step}"
    n_next = stated.n_next
    if not agree and undecided is Step.HIT_MORE:
        n_next = 1 if in_order else 10 - stated.n_balls % 10
    return replace(
        stated,
        step=stated.step if agree else undecided,
        n_next=n_next,
        zone_mm=zone_mm,
        n_close=n_close,
        step_if_out=out.step,
        step_if_in=inside.step,
        caveats=(Caveat(key=MARK_AT_LINE, detail=detail),),
    )


def _hits(block: StrikeSet, zone_mm: float, doubtful: bool | None) -> list[bool]:
    """Hit or miss of each ball; ``doubtful`` None: as stated, else what doubtful balls count as."""
    zone = count_zone(block, zone_mm)
    hits = []
    for number, strike in enumerate(block.strikes):
        inside = math.hypot(strike.toe_mm, strike.high_mm) <= zone_mm
        if doubtful is not None and number in zone.close:
            inside = doubtful
        hits += [inside] * strike.n_balls
    return hits + [bool(doubtful)] * (zone.n_balls - len(hits))


def _walk(hits: Sequence[bool]) -> tuple[Step, int]:
    """Step and number of balls used."""
    sum_frac = 0.0
    for used, hit in enumerate(hits[:MOST_BALLS], start=1):
        sum_frac += HIT_GAIN_FRAC if hit else MISS_GAIN_FRAC
        step = _in_order_step(sum_frac)
        if step is not Step.HIT_MORE:
            return step, used
    return (Step.STAY, MOST_BALLS) if len(hits) >= MOST_BALLS else (Step.HIT_MORE, len(hits))


def _in_order_step(sum_frac: float) -> Step:
    if sum_frac >= BOUND_FRAC:
        return Step.MOVE_ON
    return Step.EASIER if sum_frac <= -BOUND_FRAC else Step.HIT_MORE


def _block_step(n_in: int, n_balls: int) -> Step:
    """The block rule; between the tens the stricter in-order bounds, beyond 30 the shares of the last row."""
    if n_balls < min(BLOCK_LIMITS):
        return Step.HIT_MORE
    if n_balls in BLOCK_LIMITS:
        up, down = BLOCK_LIMITS[n_balls]
        step = Step.MOVE_ON if n_in >= up else Step.EASIER if n_in <= down else Step.HIT_MORE
    elif n_balls < MOST_BALLS:
        step = _in_order_step(n_in * HIT_GAIN_FRAC + (n_balls - n_in) * MISS_GAIN_FRAC)
    else:
        up, down = BLOCK_LIMITS[MOST_BALLS]
        share = n_in * MOST_BALLS / n_balls
        step = Step.MOVE_ON if share >= up else Step.EASIER if share <= down else Step.HIT_MORE
    return Step.STAY if step is Step.HIT_MORE and n_balls >= MOST_BALLS else step


@cache
def step_odds(rate_frac: float, rule: Rule) -> Odds:
    """What a rule does with a player whose true hit rate is ``rate_frac``: exact, by counting all ways.

    Raises
    ------
    SetupError
        The rate is not between 0 and 1.
    """
    if not 0.0 <= rate_frac <= 1.0:
        raise SetupError(f"a hit rate lies between 0 and 1, got {rate_frac}", remedy="Say 0.8 for 80 %.")
    going = {0: 1.0}  # hits so far -> chance of being there undecided
    ends = {Step.MOVE_ON: 0.0, Step.EASIER: 0.0, Step.STAY: 0.0}
    n_mean = 0.0
    for n_balls in range(1, MOST_BALLS + 1):
        n_mean += sum(going.values())
        after: dict[int, float] = {}
        for n_in, chance in going.items():
            for hit, share in ((1, rate_frac), (0, 1.0 - rate_frac)):
                after[n_in + hit] = after.get(n_in + hit, 0.0) + chance * share
        going = {}
        for n_in, chance in after.items():
            step = _look(n_in, n_balls, rule)
            if step is Step.HIT_MORE:
                going[n_in] = chance
            else:
                ends[step] += chance
    return Odds(
        rate_frac=rate_frac,
        move_on_frac=ends[Step.MOVE_ON],
        easier_frac=ends[Step.EASIER],
        stay_frac=ends[Step.STAY],
        n_balls_mean=n_mean,
    )


def _look(n_in: int, n_balls: int, rule: Rule) -> Step:
    """The step after ``n_balls``, looking after each ball or after each ten."""
    if rule is Rule.BLOCK:
        return _block_step(n_in, n_balls) if n_balls in BLOCK_LIMITS else Step.HIT_MORE
    step = _in_order_step(n_in * HIT_GAIN_FRAC + (n_balls - n_in) * MISS_GAIN_FRAC)
    return Step.STAY if step is Step.HIT_MORE and n_balls >= MOST_BALLS else step
