"""The move-on rule: its decisions, its exact odds, and what is too close to call."""

from __future__ import annotations

import numpy as np
import pytest

from facemark.errors import SetupError
from facemark.explain.moveon import (
    BLOCK_LIMITS,
    Rule,
    Step,
    judge_blocks,
    judge_in_order,
    judge_strikes,
    step_odds,
)
from facemark.strike import StrikeSet
from tests.explain.sets import strike_set

# Section 8 of the statistics note: true rate, move on, make it easier, mean balls (two digits printed).
IN_ORDER = [
    (0.6, 0.08, 0.88, 11.5),
    (0.7, 0.30, 0.57, 15.2),
    (0.8, 0.71, 0.18, 15.2),
    (0.85, 0.89, 0.07, 13.3),
    (0.9, 0.98, 0.02, 10.8),
]
BLOCKS = [
    (0.5, 0.01, 0.98, None),
    (0.6, 0.06, 0.85, 17.8),
    (0.7, 0.25, 0.49, None),
    (0.8, 0.68, 0.11, 19.9),
    (0.85, 0.88, 0.03, None),
    (0.9, 0.98, 0.00, 13.6),
]


@pytest.mark.parametrize(
    ("rule", "row"), [(Rule.IN_ORDER, row) for row in IN_ORDER] + [(Rule.BLOCK, row) for row in BLOCKS]
)
def test_odds_of_the_note(rule: Rule, row: tuple[float, float, float, float | None]) -> None:
    rate, move_on, easier, n_mean = row
    odds = step_odds(rate, rule)
    assert odds.move_on_frac == pytest.approx(move_on, abs=0.0051)
    # 0.006: the note prints 0.88 at a rate of 0.6, exact counting (and 4 000 drawn players) give 0.8745.
    assert odds.easier_frac == pytest.approx(easier, abs=0.006)
    assert odds.move_on_frac + odds.easier_frac + odds.stay_frac == pytest.approx(1.0)
    if n_mean is not None:
        assert odds.n_balls_mean == pytest.approx(n_mean, abs=0.051)


@pytest.mark.parametrize("rule", list(Rule))
def test_odds_agree_with_drawn_players(rule: Rule) -> None:
    """The exact counting against 800 players of 75 %: standard error 0.018."""
    rng = np.random.default_rng(3)
    hits = rng.random((800, 30)) < 0.75
    if rule is Rule.IN_ORDER:
        steps = [judge_in_order(row.tolist()).step for row in hits]
    else:
        blocks = hits.reshape(800, 3, 10).sum(axis=2)
        steps = [judge_blocks([(int(k), 10) for k in row]).step for row in blocks]
    odds = step_odds(0.75, rule)
    assert steps.count(Step.MOVE_ON) / 800 == pytest.approx(odds.move_on_frac, abs=0.05)
    assert steps.count(Step.EASIER) / 800 == pytest.approx(odds.easier_frac, abs=0.05)


@pytest.mark.parametrize(
    ("n", "up", "down"), [(10, 10, 5), (13, 12, 7), (15, 13, 9), (20, 17, 13), (25, 21, 16), (30, 24, 20)]
)
def test_in_order_limits_of_the_note(n: int, up: int, down: int) -> None:
    """Hits that decide after n balls, misses placed so that nothing was decided before."""
    for hits, step in ((up, Step.MOVE_ON), (down, Step.EASIER)):
        alternating = undecided_path(n, hits)
        assert judge_in_order(alternating).step is step


def undecided_path(n: int, hits: int) -> list[bool]:
    """A sequence with ``hits`` of ``n`` whose share stays near its mean, so it decides as late as it can."""
    return [int((i + 1) * hits / n) > int(i * hits / n) for i in range(n)]


@pytest.mark.parametrize(("n", "limits"), BLOCK_LIMITS.items())
def test_block_limits(n: int, limits: tuple[int, int]) -> None:
    up, down = limits
    undecided = Step.STAY if n == 30 else Step.HIT_MORE
    assert judge_blocks([(up, n)]).step is Step.MOVE_ON
    assert judge_blocks([(up - 1, n)]).step is undecided
    assert judge_blocks([(down, n)]).step is Step.EASIER
    assert judge_blocks([(down + 1, n)]).step is undecided


def test_blocks_add_up_and_stop_at_the_first_decision() -> None:
    decision = judge_blocks([(8, 10), (9, 10), (0, 10)])
    assert (decision.step, decision.n_in, decision.n_balls) == (Step.MOVE_ON, 17, 20)
    assert judge_blocks([(8, 10)]).n_next == 10
    assert judge_blocks([(6, 7)]).n_next == 3


def test_balls_after_the_deciding_one_are_not_counted() -> None:
    decision = judge_in_order([False] * 3 + [True] * 20)
    assert (decision.step, decision.n_balls) == (Step.EASIER, 3)


def test_undecided_after_thirty_stays() -> None:
    # 22 of 30, evenly mixed: between the bounds throughout.
    assert judge_in_order(undecided_path(30, 22)).step is Step.STAY


def test_strikes_against_a_zone() -> None:
    inside = strike_set([(1.0, 0.0)] * 9 + [(20.0, 0.0)])
    decision = judge_strikes([inside], 10.0)
    assert (decision.step, decision.n_in, decision.n_close) == (Step.MOVE_ON, 9, 0)
    in_order = judge_strikes([inside], 10.0, in_order=True)
    assert (in_order.step, in_order.n_balls) == (Step.MOVE_ON, 7)


def test_a_mark_at_the_line_that_decides_leaves_it_open() -> None:
    points = [(1.0, 0.0)] * 8 + [(9.8, 0.0), (20.0, 0.0)]
    decision = judge_strikes([strike_set(points, err_mm=0.5)], 10.0)
    assert decision.step is Step.HIT_MORE
    assert (decision.n_close, decision.step_if_in, decision.step_if_out) == (1, Step.MOVE_ON, Step.HIT_MORE)
    assert decision.n_next == 10
    assert "too close" in decision.caveats[0].detail or decision.caveats[0].key == "mark_at_line"


def test_a_mark_at_the_line_that_changes_nothing_is_only_told() -> None:
    points = [(1.0, 0.0)] * 9 + [(9.8, 0.0)]
    decision = judge_strikes([strike_set(points, err_mm=0.5)], 10.0)
    assert decision.step is Step.MOVE_ON
    assert decision.n_close == 1


def test_unseen_balls_may_be_hits_or_misses() -> None:
    decision = judge_strikes([strike_set([(1.0, 0.0)] * 8, n_balls=10)], 10.0)
    assert (decision.step_if_out, decision.step_if_in) == (Step.HIT_MORE, Step.MOVE_ON)
    assert decision.step is Step.HIT_MORE


@pytest.mark.parametrize("radius", [0.0, -3.0, float("nan")])
def test_impossible_zones(radius: float) -> None:
    with pytest.raises(SetupError, match="positive"):
        judge_strikes([strike_set([(1.0, 0.0)])], radius)


def test_impossible_counts() -> None:
    with pytest.raises(SetupError):
        judge_blocks([(11, 10)])
    with pytest.raises(SetupError):
        judge_blocks([])
    with pytest.raises(SetupError):
        judge_in_order([])
    with pytest.raises(SetupError):
        step_odds(1.2, Rule.BLOCK)
    with pytest.raises(SetupError, match="cannot be told apart"):
        judge_strikes([StrikeSet(strikes=(), separable=False, n_least=3)], 10.0)
