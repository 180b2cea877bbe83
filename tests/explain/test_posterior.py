"""Possible true groups: as wide as the printed intervals, and their spread without the marks' own errors."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from facemark.errors import SetupError
from facemark.explain.evidence import gather_evidence
from facemark.explain.posterior import draw_truths
from facemark.strike import SharedError
from tests.explain.sets import drawn, exact, strike_set


def test_each_axis_is_students_and_chi_squares() -> None:
    """Quantiles of the centre and of the spread along each axis, ten marks: exact laws with 9 degrees."""
    evidence = gather_evidence(strike_set(exact(10, (5.0, -2.0), (8.0, 6.0), tilt=0.4)))
    truths = draw_truths(evidence, np.random.default_rng(1), n_draws=60_000)
    for axis, (mean, spread) in enumerate(((5.0, 8.0), (-2.0, 6.0))):
        for p in (0.025, 0.2, 0.9, 0.975):
            centre = mean + stats.t.ppf(p, 9) * spread / np.sqrt(10)
            assert (truths.centre_mm[:, axis] < centre).mean() == pytest.approx(p, abs=0.005)
            variance = 9 * spread**2 / stats.chi2.ppf(1 - p, 9)
            assert (truths.scatter_mm2[:, axis, axis] < variance).mean() == pytest.approx(p, abs=0.005)


def test_both_axes_together_are_a_little_tight() -> None:
    evidence = gather_evidence(strike_set(exact(10, (5.0, -2.0), (8.0, 6.0), tilt=0.4)))
    truths = draw_truths(evidence, np.random.default_rng(4), n_draws=60_000)
    off = truths.centre_mm - evidence.mean_mm
    t2 = np.einsum("ni,ij,nj->n", off, np.linalg.inv(evidence.sampling_mm2), off)
    inside = (t2 <= 2 * 9 / 8 * stats.f.ppf(0.95, 2, 8)).mean()
    assert 0.95 <= inside <= 0.97  # the cloud is narrower than the region, by this much


def test_shared_error_and_own_errors() -> None:
    """Sweet spot 3 mm: centres spread by sqrt(64 / 40 + 9). Own errors 4 of 8 seen: strikes sqrt(48)."""
    shared = SharedError(sweet_toe_mm=3.0, sweet_high_mm=3.0)
    evidence = gather_evidence(strike_set(exact(40, (0.0, 0.0), (8.0, 8.0)), err_mm=4.0, shared=shared))
    truths = draw_truths(evidence, np.random.default_rng(2), n_draws=20_000)
    assert truths.centre_mm[:, 0].std() == pytest.approx((64 / 40 + 9) ** 0.5, rel=0.05)
    assert np.median(np.sqrt(truths.scatter_mm2[:, 0, 0])) == pytest.approx(48**0.5, rel=0.06)


def test_stated_share_of_future_strikes_holds() -> None:
    """The 90 % quantile predicted from ten balls holds 90 % of true strikes, over 400 players."""
    rng = np.random.default_rng(3)
    passed = []
    for _ in range(400):
        spread, centre = rng.uniform(5.0, 14.0), rng.normal(0.0, 8.0)
        points = drawn(rng, 10, (centre, 0.0), (spread, spread))
        truths = draw_truths(gather_evidence(strike_set(points)), rng, n_draws=300)
        line = np.quantile(truths.strikes_mm(rng, 10)[..., 0], 0.9)
        passed.append(stats.norm.cdf(line, centre, spread))
    assert np.mean(passed) == pytest.approx(0.90, abs=0.012)


def test_too_little_to_draw_from() -> None:
    for points in ([(1.0, 2.0), (3.0, 4.0)], [(3.0, 3.0)] * 8, [(float(i), 0.0) for i in range(8)]):
        with pytest.raises(SetupError, match="too few strikes"):
            draw_truths(gather_evidence(strike_set(points)), np.random.default_rng(1), n_draws=10)
