"""The errors common to a photo, in the group's centre and spread: against drawing them at random."""

from __future__ import annotations

import math

import numpy as np
import pytest

from facemark.see.place import placed_group, unplaced_group
from facemark.strike import GroupEstimate, SharedError

PLACES = ((14.0, -3.0), (2.0, 6.0), (-9.0, 1.0), (5.0, 9.0), (20.0, -8.0))
SPOT = (1.0, -2.0)
SHARED = SharedError(
    toe_mm=0.7, high_mm=0.4, scale_frac=0.03, turn_deg=2.0, sweet_toe_mm=9.0, sweet_high_mm=9.0
)


def group_of(places: np.ndarray, err_mm: float = 0.0) -> GroupEstimate:
    toe, high = places.mean(axis=0)
    sd = places.std(axis=0, ddof=1)
    return GroupEstimate(
        toe_mm=toe, high_mm=high, toe_err_mm=err_mm, high_err_mm=err_mm,
        toe_spread_mm=sd[0], high_spread_mm=sd[1],
        toe_spread_err_mm=err_mm, high_spread_err_mm=err_mm, n_balls=5.0, n_balls_err=0.0,
    )  # fmt: skip


def test_common_errors_are_those_of_photos_drawn_with_them() -> None:
    rng = np.random.default_rng(8)
    from_centre = np.array(PLACES) + SPOT
    seen = []
    for _ in range(20_000):
        turn = math.radians(rng.normal(0.0, SHARED.turn_deg))
        scale = 1.0 + rng.normal(0.0, SHARED.scale_frac)
        cos, sin = math.cos(turn), math.sin(turn)
        moved = scale * from_centre @ np.array([[cos, sin], [-sin, cos]])
        moved += rng.normal(0.0, 1.0, 2) * [SHARED.toe_mm, SHARED.high_mm]
        seen.append([*moved.mean(axis=0), *moved.std(axis=0, ddof=1)])
    drawn = np.std(seen, axis=0)
    group = placed_group(group_of(np.array(PLACES)), PLACES, SPOT, SHARED)
    stated = [group.toe_err_mm, group.high_err_mm, group.toe_spread_err_mm, group.high_spread_err_mm]
    assert stated == pytest.approx(drawn, rel=0.03)  # a turn's second order, and 0.5 % of chance


def test_own_errors_come_back_when_the_common_ones_are_taken_out() -> None:
    own = group_of(np.array(PLACES), err_mm=0.8)
    placed = placed_group(own, PLACES, SPOT, SHARED)
    assert placed.toe_spread_err_mm > own.toe_spread_err_mm
    back = unplaced_group(placed, PLACES, SPOT, SHARED)
    for name in ("toe_err_mm", "high_err_mm", "toe_spread_err_mm", "high_spread_err_mm"):
        assert getattr(back, name) == pytest.approx(0.8)


def test_the_spread_of_one_ball_stays_unknown() -> None:
    alone = GroupEstimate(
        toe_mm=3.0, high_mm=1.0, toe_err_mm=0.5, high_err_mm=0.5, toe_spread_mm=0.0, high_spread_mm=0.0,
        toe_spread_err_mm=math.inf, high_spread_err_mm=math.inf, n_balls=1.0, n_balls_err=0.0,
    )  # fmt: skip
    placed = placed_group(alone, [(3.0, 1.0)], (0.0, 0.0), SHARED)
    assert placed.toe_spread_err_mm == math.inf
    assert unplaced_group(placed, [(3.0, 1.0)], (0.0, 0.0), SHARED).high_spread_err_mm == math.inf
