"""The effort ladder: its rule's exact odds, and where blocks lead."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from scipy import stats

from facemark.errors import SetupError
from facemark.explain.ladder import Block, Focus, Stop, check_step, climb, ladder_odds, step_of, stop_today
from facemark.explain.moveon import Step

MONDAY, FRIDAY = dt.date(2026, 5, 4), dt.date(2026, 5, 8)


def block(
    n_good: int,
    *,
    effort: float = 0.2,
    day: dt.date = MONDAY,
    focus: Focus = Focus.STRIKE,
    tolerance: float | None = None,
    pain: bool = False,
) -> Block:
    return Block(
        focus=focus,
        effort_frac=effort,
        n_good=n_good,
        n_balls=10,
        day=day,
        tolerance_mm=tolerance,
        pain=pain,
    )


def by_hand(rate: float) -> tuple[float, float]:
    """Up and back of the two-set rule from scipy's binomial: at 10 back at <= 5; at 20 up at >= 17, back at
    <= 13; at 30 up at >= 24, back at <= 20."""
    one = stats.binom(10, rate).pmf
    up = back = 0.0
    for a in range(11):
        if a <= 5:
            back += one(a)
            continue
        for b in range(11):
            if a + b >= 17:
                up += one(a) * one(b)
            elif a + b <= 13:
                back += one(a) * one(b)
            else:
                for c in range(11):
                    chance = one(a) * one(b) * one(c)
                    up += chance * (a + b + c >= 24)
                    back += chance * (a + b + c <= 20)
    return up, back


@pytest.mark.parametrize("rate", [0.5, 0.6, 0.7, 0.8, 0.88, 0.95])
def test_odds_by_another_way_of_counting(rate: float) -> None:
    odds = ladder_odds(rate)
    assert (odds.up_frac, odds.back_frac) == pytest.approx(by_hand(rate), abs=1e-9)
    assert odds.up_frac + odds.back_frac + odds.stay_frac == pytest.approx(1.0)


def test_the_goals() -> None:
    """A 60 % player goes up wrongly in at most 10 %, an 88 % player is held back in at most 10 %."""
    assert ladder_odds(0.6).up_frac <= 0.10
    assert ladder_odds(0.88).back_frac + ladder_odds(0.88).stay_frac <= 0.10


def test_two_sets_before_a_step_up() -> None:
    assert step_of(10, 10) is Step.HIT_MORE
    assert step_of(17, 20) is Step.MOVE_ON
    assert step_of(5, 10) is Step.EASIER
    assert climb([block(10)], Focus.STRIKE).effort_frac == 0.2
    assert climb([block(10), block(8)], Focus.STRIKE).effort_frac == 0.4


def test_one_step_back_and_never_below_the_lowest() -> None:
    assert climb([block(4, effort=0.6)], Focus.STRIKE).effort_frac == 0.4
    assert climb([block(4, effort=0.2)], Focus.STRIKE).effort_frac == 0.2


def test_thirty_without_a_decision_starts_anew() -> None:
    rung = climb([block(7), block(8), block(8)], Focus.STRIKE)
    assert rung.last_step is Step.STAY
    assert (rung.n_good, rung.n_balls, rung.effort_frac) == (0, 0, 0.2)


def test_another_gate_is_another_task() -> None:
    rung = climb([block(9, tolerance=25.0), block(8, tolerance=18.0)], Focus.STRIKE)
    assert (rung.n_good, rung.n_balls) == (8, 10)
    same = climb([block(9, tolerance=25.0), block(8, tolerance=26.0)], Focus.STRIKE)
    assert same.effort_frac == 0.4


def test_other_focuses_are_passed_over() -> None:
    assert climb([block(9, focus=Focus.START), block(9, focus=Focus.START)], Focus.STRIKE).last_step is None


def test_held_today_is_learned_on_another_day() -> None:
    held = [block(9, effort=1.0), block(9, effort=1.0)]
    assert climb(held, Focus.STRIKE).held
    assert not climb(held, Focus.STRIKE).learned
    more_today = [*held, block(9, effort=1.0), block(9, effort=1.0)]
    assert not climb(more_today, Focus.STRIKE).learned
    later = [*held, block(9, effort=1.0, day=FRIDAY), block(8, effort=1.0, day=FRIDAY)]
    assert climb(later, Focus.STRIKE).learned
    half_on_the_first_day = [*held, block(9, effort=1.0), block(8, effort=1.0, day=FRIDAY)]
    assert not climb(half_on_the_first_day, Focus.STRIKE).learned
    lost = [*held, block(5, effort=1.0, day=FRIDAY)]
    assert not climb(lost, Focus.STRIKE).held
    assert climb(lost, Focus.STRIKE).effort_frac == 0.8


def test_picked_up_the_next_time() -> None:
    rung = climb([block(9), block(9), block(8, effort=0.4), block(9, effort=0.4, day=FRIDAY)], Focus.STRIKE)
    assert rung.effort_frac == 0.6


def test_stop_rules() -> None:
    assert stop_today([block(9, pain=True)], MONDAY) is Stop.PAIN
    assert stop_today([block(5), block(4)], MONDAY) is Stop.FAILED
    assert stop_today([block(5), block(4)], FRIDAY) is None
    assert stop_today([block(5), block(9)], MONDAY) is None
    assert stop_today([block(9)], MONDAY, drifting=True) is Stop.DRIFT


def test_impossible_blocks() -> None:
    with pytest.raises(SetupError):
        climb([block(11)], Focus.STRIKE)
    with pytest.raises(SetupError):
        climb([block(5, effort=1.5)], Focus.STRIKE)
    with pytest.raises(SetupError):
        ladder_odds(1.2)


def test_two_single_balls_are_no_two_failed_sets() -> None:
    one = Block(focus=Focus.STRIKE, effort_frac=0.2, n_good=0, n_balls=1, day=MONDAY)
    assert stop_today([one, one], MONDAY) is None
    assert stop_today([one] * 20, MONDAY) is Stop.FAILED  # two sets, ball by ball
    at_once = Block(focus=Focus.STRIKE, effort_frac=0.2, n_good=4, n_balls=20, day=MONDAY)
    assert stop_today([at_once], MONDAY) is Stop.FAILED


@pytest.mark.parametrize("effort", [0.33, 0.5, 0.21, 0.99])
def test_an_effort_between_two_steps_is_not_moved_to_one_of_them(effort: float) -> None:
    with pytest.raises(SetupError, match="20, 40, 60, 80, 100 %"):
        check_step("--effort", effort)
    assert check_step("--effort", 60.0 / 100.0) == 0.6


@pytest.mark.parametrize("effort", [0.008, 0.0, 1.5, -0.2, math.nan])
def test_an_effort_is_one_to_a_hundred_percent(effort: float) -> None:
    with pytest.raises(SetupError, match=r"1 to 100 % is possible"):
        climb([], Focus.STRIKE, start_frac=effort)
