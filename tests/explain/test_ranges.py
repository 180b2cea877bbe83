"""A number with its doubt: the quantiles are numpy's, draws that do not count left out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from facemark.explain.ranges import range_of


@pytest.mark.parametrize("n", [1, 2, 7, 400])
def test_quantiles_are_those_of_numpy(n: int) -> None:
    draws = np.random.default_rng(n).normal(3.0, 2.0, n)
    draws = np.insert(draws, [0, n // 2], np.nan)
    found = range_of(1.0, draws)
    expected = np.nanquantile(draws, [0.5, 0.1, 0.9, 0.025, 0.975])
    assert found.nominal == 1.0
    assert [found.median, found.low80, found.high80, found.low95, found.high95] == pytest.approx(expected)


def test_no_draws_say_nothing() -> None:
    found = range_of(1.0, np.full(5, np.nan))
    assert math.isnan(found.low95)
    assert math.isnan(found.median)
