"""Called against found, and misses on purpose."""

from __future__ import annotations

import math

import numpy as np
import pytest

from facemark.errors import SetupError
from facemark.explain.callit import Ask, Call, count_on_purpose, judge_calls


def calls(called: list[tuple[float, float]], found: list[tuple[float, float]]) -> list[Call]:
    return [
        Call(called_toe_mm=c[0], called_high_mm=c[1], toe_mm=f[0], high_mm=f[1])
        for c, f in zip(called, found, strict=True)
    ]


def test_by_hand() -> None:
    """Off by (3, 4) each time: 5 mm; leans 3 toe, 4 high, known exactly. Marks at toe +-10: centre 0, mean
    square 4 x 100 + 0 over n - 1 = 4: 10 mm."""
    found = [(10.0, 0.0), (-10.0, 0.0), (10.0, 0.0), (-10.0, 0.0), (0.0, 0.0)]
    feel = judge_calls(calls([(t + 3.0, h + 4.0) for t, h in found], found))
    assert feel.feel_err_mm == pytest.approx(5.0)
    assert (feel.toe_lean_mm, feel.high_lean_mm) == pytest.approx((3.0, 4.0))
    assert feel.toe_lean_span.least_mm == pytest.approx(3.0)
    assert feel.usual_place_mm == pytest.approx(10.0)


@pytest.mark.parametrize("spread", [(6.0, 6.0), (8.0, 4.0)])
def test_interval_holds(spread: tuple[float, float]) -> None:
    """95 % interval of the true root mean square, ten balls, over 2000 players."""
    rng = np.random.default_rng(2)
    true, inside = math.hypot(*spread), 0
    for _ in range(2000):
        found = rng.normal(0.0, 9.0, (10, 2))
        feel = judge_calls(calls((found + rng.standard_normal((10, 2)) * spread).tolist(), found.tolist()))
        inside += feel.feel_span.least_mm <= true <= feel.feel_span.most_mm
    assert 0.93 <= inside / 2000 <= 0.975


def test_good_calls_beat_the_usual_place_and_guesses_do_not() -> None:
    rng = np.random.default_rng(3)
    found = rng.normal(0.0, 10.0, (20, 2))
    good = judge_calls(calls((found + rng.normal(0.0, 3.0, (20, 2))).tolist(), found.tolist()))
    guess = judge_calls(calls(rng.normal(0.0, 10.0, (20, 2)).tolist(), found.tolist()))
    assert good.beats_usual_place
    assert not guess.beats_usual_place


def test_bad_calls() -> None:
    with pytest.raises(SetupError, match="at least 5"):
        judge_calls(calls([(0.0, 0.0)] * 4, [(1.0, 1.0)] * 4))
    with pytest.raises(SetupError, match="beyond any club face"):
        judge_calls(calls([(0.0, math.nan)] * 5, [(1.0, 1.0)] * 5))


def test_misses_on_purpose() -> None:
    asked = [Ask.TOE, Ask.MIDDLE, Ask.HEEL, Ask.HEEL]
    assert count_on_purpose(asked, [14.0, 3.0, -9.0, 2.0], edge_mm=6.0) == (3, 4)
    with pytest.raises(SetupError):
        count_on_purpose(asked, [1.0], edge_mm=6.0)
    with pytest.raises(SetupError):
        count_on_purpose([Ask.TOE], [1.0], edge_mm=0.0)
