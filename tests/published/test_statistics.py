"""The check values of tests/published/statistics.toml, each computed by the code that describes strikes."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from facemark.explain.centre import mean_test
from facemark.explain.contrast import holm
from facemark.explain.evidence import gather_evidence
from facemark.explain.moveon import BOUND_FRAC, HIT_GAIN_FRAC, MISS_GAIN_FRAC, Step, judge_in_order
from facemark.explain.span import f_quantile
from facemark.explain.spread import EXTREME_SPREAD, extreme_spread_mm, frac_inside, ring_per_spread
from facemark.explain.zone import rate_span
from facemark.sources import SOURCES
from facemark.strike import Strike, StrikeSet

ROWS: dict[str, dict[str, Any]] = {
    row["id"]: row
    for row in tomllib.loads(Path(__file__).with_name("statistics.toml").read_text("utf-8"))["row"]
}


def test_all_twelve_are_here_with_a_source() -> None:
    assert list(ROWS) == [f"V{i}" for i in range(1, 13)]
    assert all(row["source"] in SOURCES for row in ROWS.values())


def points_of(row: dict[str, Any]) -> np.ndarray:
    if "points" in row:
        return np.array(row["points"], float)
    first, second = np.array(ROWS["V2"]["first"]), np.array(ROWS["V2"]["second"])
    return first - second if row["id"] == "V2" else np.vstack([first, second])


@pytest.mark.parametrize("key", ["V1", "V2", "V3", "V4"])
def test_hotelling(key: str) -> None:
    row = ROWS[key]
    found = mean_test(points_of(row), np.array(row["at"]))
    assert found.t2_ratio == pytest.approx(row["t2"], abs=row["tolerance"])
    assert found.chance_frac == pytest.approx(row["p"], abs=min(row["tolerance"], 5e-6))
    assert found.n_free == tuple(row["n_free"])
    if "f" in row:
        assert found.f_ratio == pytest.approx(row["f"], abs=max(row["tolerance"], 5e-5))


def test_sweat_limit() -> None:
    n, p = 20, 3
    limit = p * (n - 1) / (n - p) * f_quantile(0.90, p, n - p)
    assert limit == pytest.approx(ROWS["V1"]["limit_10_percent"], abs=0.01)


def test_levene_of_the_library_and_our_f() -> None:
    row = ROWS["V5"]
    found = stats.levene(*row["groups"], center="median")
    assert found.statistic == pytest.approx(row["f"], abs=row["tolerance"])
    assert found.pvalue == pytest.approx(row["p"], abs=row["tolerance"])
    assert f_quantile(0.95, 9, 90) == pytest.approx(row["f_limit"], abs=1e-6)


@pytest.mark.parametrize("case", ROWS["V6"]["rates"])
def test_wilson(case: list[float]) -> None:
    n_in, n_balls, least, most = case
    found = rate_span(int(n_in), int(n_balls))
    assert found.least_frac == pytest.approx(least, abs=ROWS["V6"]["tolerance"])
    assert found.most_frac == pytest.approx(most, abs=ROWS["V6"]["tolerance"])


def test_many_comparisons() -> None:
    row = ROWS["V7"]
    p = np.array(row["p_values"])
    assert (stats.false_discovery_control(p) < 0.05).sum() == row["rejected_step_up"]
    assert (p * len(p) < 0.05).sum() == row["rejected_bonferroni"]
    # Holm rejects at least what Bonferroni does, and here no more.
    assert sum(q < 0.05 for q in holm(p.tolist())) == row["rejected_bonferroni"]


@pytest.mark.parametrize("case", ROWS["V8"]["extreme_spread"])
def test_extreme_spread(case: list[float]) -> None:
    n, mean = int(case[0]), case[1]
    assert EXTREME_SPREAD[n] == mean
    rng = np.random.default_rng(n)
    drawn = [extreme_spread_mm(rng.standard_normal((n, 2))) for _ in range(20_000)]
    # Own simulation: standard error 0.83 / sqrt(20 000) = 0.006 at n = 5.
    assert np.mean(drawn) == pytest.approx(mean, abs=0.02)


def test_round_group() -> None:
    row = ROWS["V9"]
    assert ring_per_spread(1.0, 0.5) == pytest.approx(row["k50"], abs=row["tolerance"])
    assert ring_per_spread(1.0, 0.8) == pytest.approx(row["k80"], abs=row["tolerance"])
    radius = np.linspace(0.0, 12.0, 4001)
    outside = [1.0 - frac_inside(r, (1.0, 1.0)) for r in radius]
    assert np.trapezoid(outside, radius) == pytest.approx(row["mean_radius"], abs=row["tolerance"])


@pytest.mark.parametrize("case", ROWS["V10"]["inside"])
def test_share_inside(case: list[float]) -> None:
    first, second, off, share = case
    assert frac_inside(10.0, (first, second), (off, 0.0)) == pytest.approx(share, abs=1e-5)
    assert frac_inside(10.0, (first, second), (0.0, off)) == pytest.approx(share, abs=1e-4 if off else 1e-5)


def test_gum_h2() -> None:
    """Five readings as five strikes: mean, its errors and correlation, and the distance as impedance."""
    row = ROWS["V11"]
    ohm = np.array(row["volt"]) / (np.array(row["milliampere"]) / 1000.0)
    phase = np.array(row["phase_rad"])
    strikes = tuple(
        Strike(toe_mm=r, high_mm=x) for r, x in zip(ohm * np.cos(phase), ohm * np.sin(phase), strict=True)
    )
    evidence = gather_evidence(StrikeSet(strikes=strikes))
    (r, x), (r_err, x_err) = evidence.mean_mm, evidence.err_mm
    tolerance = row["tolerance"]
    assert [r, r_err] == pytest.approx(row["resistance"], abs=tolerance)
    assert [x, x_err] == pytest.approx(row["reactance"], abs=tolerance)
    V = evidence.total_mm2
    z = math.hypot(r, x)
    along = np.array([r, x]) / z
    z_err = math.sqrt(along @ V @ along)
    assert [z, z_err] == pytest.approx(row["impedance"], abs=tolerance)
    rz, xz = V @ along / (np.array([r_err, x_err]) * z_err)
    assert [V[0, 1] / (r_err * x_err), rz, xz] == pytest.approx(row["correlations"], abs=0.001)


def test_two_point_rule() -> None:
    row = ROWS["V12"]
    assert pytest.approx(row["hit_gain"], abs=1e-4) == HIT_GAIN_FRAC
    assert pytest.approx(row["miss_gain"], abs=1e-4) == MISS_GAIN_FRAC
    assert pytest.approx(row["bound"], abs=1e-4) == BOUND_FRAC
    hits = row["straight_hits"]
    assert judge_in_order([True] * hits).step is Step.MOVE_ON
    assert judge_in_order([True] * (hits - 1)).step is Step.HIT_MORE
    assert judge_in_order([False] * row["straight_misses"]).step is Step.EASIER
    assert judge_in_order([False] * (row["straight_misses"] - 1)).step is Step.HIT_MORE
