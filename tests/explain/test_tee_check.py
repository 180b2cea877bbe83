"""Tees against marks: a struck tee on the toe side is a heel strike."""

from __future__ import annotations

import numpy as np
import pytest

from facemark.errors import SetupError
from facemark.explain.gate import gate_of
from facemark.explain.tee_check import Story, check_tees
from tests.explain.sets import strike_set

GATE = gate_of(None, 120.0, 10.0, 10.0)
HEEL = [(-18.0, 0.0)] * 3 + [(0.0, 0.0)] * 7  # three heel strikes, beyond the 10 mm of room
TOE = [(18.0, 0.0)] * 3 + [(0.0, 0.0)] * 7


def test_heel_strikes_strike_the_toe_tee() -> None:
    found = check_tees(strike_set(HEEL), GATE, n_toe_tee=3, n_heel_tee=0)
    assert found.story is Story.AGREE
    assert found.n_toe_tee_expected == pytest.approx(3.0, abs=0.01)


def test_swapped_sides_are_seen() -> None:
    assert check_tees(strike_set(HEEL), GATE, n_toe_tee=0, n_heel_tee=3).story is Story.SWAPPED
    assert check_tees(strike_set(TOE), GATE, n_toe_tee=3, n_heel_tee=0).story is Story.SWAPPED


def test_more_and_fewer_tees() -> None:
    middle = [(0.0, 0.0)] * 10
    assert check_tees(strike_set(middle), GATE, n_toe_tee=4, n_heel_tee=0).story is Story.MORE_TEES
    assert check_tees(strike_set(HEEL), GATE, n_toe_tee=0, n_heel_tee=0).story is Story.FEWER_TEES


def test_a_mark_at_the_line_may_go_either_way() -> None:
    at_line = [(-10.0, 0.0)] * 2 + [(0.0, 0.0)] * 8
    for struck in (0, 1, 2):
        assert check_tees(strike_set(at_line), GATE, n_toe_tee=struck, n_heel_tee=0).story is Story.AGREE


def test_sets_that_agree_are_seldom_called_contradictions() -> None:
    """Tees struck as marks and tee placing make them: at most 5 of 100 sets are called wrong."""
    rng = np.random.default_rng(4)
    wrong = 0
    for _ in range(400):
        toe = rng.normal(3.0, 8.0, 10)
        seen = toe + rng.normal(0.0, 1.0, 10)
        tees = 10.0 + rng.normal(0.0, 2.0, (10, 2))
        struck = (int((toe < -tees[:, 0]).sum()), int((toe > tees[:, 1]).sum()))
        points = np.column_stack([seen, np.zeros(10)])
        found = check_tees(strike_set(points, err_mm=1.0), GATE, n_toe_tee=struck[0], n_heel_tee=struck[1])
        wrong += found.story is not Story.AGREE
    assert wrong / 400 <= 0.05


def test_impossible_counts() -> None:
    for toe, heel in ((6, 5), (-1, 0)):
        with pytest.raises(SetupError, match="struck tees"):
            check_tees(strike_set(HEEL), GATE, n_toe_tee=toe, n_heel_tee=heel)
    with pytest.raises(SetupError, match="told apart"):
        check_tees(strike_set(HEEL, separable=False), GATE, n_toe_tee=0, n_heel_tee=0)
