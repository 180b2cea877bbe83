"""What the page takes is what the program behind it takes, to the last ball and millimetre."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from pydantic import ValidationError

from facemark.errors import SetupError
from facemark.explain.corridor import check_corridor
from facemark.explain.gate import check_head
from facemark.tell.page.forms import BlockForm, PlanQuery
from facemark.tell.plan_book import Done, check_done


@pytest.mark.parametrize("n_balls", [0, 1, 30, 31, 60, 100])
def test_a_block_the_book_would_refuse_is_no_form(n_balls: int) -> None:
    assert _taken(lambda: BlockForm(n_balls=n_balls, n_good=0)) == _taken(
        lambda: check_done(Done(n_balls=n_balls, n_good=0, day=dt.date(2026, 5, 4), failed={}, tees={}))
    )


@pytest.mark.parametrize("head_mm", [39.9, 40.0, 127.0, 127.1, 160.0])
def test_a_head_that_cannot_be_is_no_form(head_mm: float) -> None:
    # The longest legal head is 127 mm (Equipment Rules, Part 2).
    assert _taken(lambda: PlanQuery(head_mm=head_mm)) == _taken(lambda: check_head(head_mm))


@pytest.mark.parametrize("carry_m", [19.9, 20.0, 350.0, 350.1])
def test_a_carry_that_cannot_be_is_no_form(carry_m: float) -> None:
    assert _taken(lambda: PlanQuery(carry_m=carry_m)) == _taken(lambda: check_corridor(None, 2.0, carry_m))


def _taken(ask: Callable[[], object]) -> bool:
    try:
        ask()
    except (ValidationError, SetupError):
        return False
    return True
