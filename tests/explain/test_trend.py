"""Day against day: no verdict before four days, no progress where there is none, conditions checked."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from facemark import caveats as doubts
from facemark.errors import SetupError
from facemark.explain.hitset import Conditions, HitSet
from facemark.explain.trend import Progress, TrendWord, follow_days
from facemark.inputs import ClubKind
from facemark.strike import SweetSpotFrom
from tests.explain.sets import Array, drawn, exact, strike_set

SAME = Conditions(club="driver", effort_frac=1.0, tee_mm=40.0)


def day(name: str, points: Array, conditions: Conditions = SAME, **more: object) -> HitSet:
    strikes = strike_set(points, **more)  # type: ignore[arg-type]
    return HitSet(name=name, strikes=strikes, kind=ClubKind.DRIVER, conditions=conditions)


def series(spreads: list[float], **more: object) -> list[HitSet]:
    return [
        day(f"day {i}", exact(10, (2.0, 0.0), (s, s), seed=i), **more)  # type: ignore[arg-type]
        for i, s in enumerate(spreads)
    ]


def keys(progress: Progress) -> set[str]:
    return {caveat.key for caveat in progress.caveats}


@pytest.mark.parametrize("n_days", [1, 2, 3])
def test_fewer_than_four_days_get_no_verdict(n_days: int) -> None:
    progress = follow_days(series([12.0, 8.0, 4.0][:n_days]))
    assert progress.spread.word is TrendWord.TOO_FEW_DAYS
    assert progress.spread.change_frac is None
    assert progress.n_more_days == 4 - n_days


def test_steady_progress_is_seen() -> None:
    progress = follow_days(series([12.0, 9.6, 7.7, 6.1, 4.9]))
    assert progress.spread.word is TrendWord.SMALLER
    assert progress.spread.change_frac == pytest.approx(-0.2, abs=0.05)


def test_the_line_is_the_librarys() -> None:
    progress = follow_days(series([10.0, 11.0, 8.0, 9.0, 8.5, 7.0]))
    logs = np.log([d.spread_mm for d in progress.days])
    fit = stats.linregress(np.arange(6), logs)
    half = stats.t.ppf(0.975, 4) * fit.stderr
    assert progress.spread.change_frac == pytest.approx(np.expm1(fit.slope))
    assert progress.spread.change_most_frac == pytest.approx(np.expm1(fit.slope + half))
    assert progress.spread.chance_frac == pytest.approx(
        fit.pvalue / 2 if fit.slope < 0 else 1 - fit.pvalue / 2
    )


def test_no_progress_is_rarely_called_progress() -> None:
    """Five days with a day-to-day spread of 15 %: first against last would be wrong in 12 %."""
    rng = np.random.default_rng(5)
    words = []
    for _ in range(150):
        sizes = 8.0 * np.exp(0.15 * rng.standard_normal(5))
        days = [day(f"{i}", drawn(rng, 10, (2.0, 0.0), (s, s))) for i, s in enumerate(sizes)]
        words.append(follow_days(days).spread.word)
    assert words.count(TrendWord.SMALLER) / 150 <= 0.10  # nominal 5 %, standard error 1.8 %


def test_day_to_day_spread_of_the_centre() -> None:
    """Means of 0, 6, 0, 6, 0, 6 with sd 5 and n = 10: variance 10.8 less 2.5."""
    days = [day(f"{i}", exact(10, (6.0 * (i % 2), 0.0), (5.0, 5.0), seed=i)) for i in range(6)]
    progress = follow_days(days)
    assert progress.toe_day_to_day_mm == pytest.approx((10.8 - 2.5) ** 0.5)
    assert progress.high_day_to_day_mm == 0.0


def test_regression_to_the_mean_is_told() -> None:
    spreads = [14.0, 8.0, 8.5, 7.5, 8.0]
    progress = follow_days(series(spreads))
    assert doubts.BAD_DAY_FIRST in keys(progress)
    dropped = follow_days(series(spreads), started_bad=True)
    assert dropped.first_dropped
    assert doubts.BAD_DAY_FIRST not in keys(dropped)
    assert dropped.spread.word is TrendWord.NOT_SHOWN
    assert len(dropped.days) == 5  # shown, not counted
    assert follow_days(series(spreads[:4]), started_bad=True).n_more_days == 1


@pytest.mark.parametrize(
    ("other", "words"),
    [
        (Conditions(club="iron", effort_frac=1.0, tee_mm=40.0), "different club"),
        (Conditions(club="driver", effort_frac=0.6, tee_mm=40.0), "different effort"),
        (Conditions(club="driver", effort_frac=1.0, tee_mm=60.0), "different tee height"),
    ],
)
def test_other_conditions_stop_the_comparison(other: Conditions, words: str) -> None:
    days = [*series([12.0, 9.0, 7.0]), day("last", exact(10, (2.0, 0.0), (5.0, 5.0)), other)]
    progress = follow_days(days)
    assert progress.why_not == words
    assert progress.spread.word is TrendWord.NOT_COMPARED


def test_other_sweet_spot_methods_stop_what_is_measured_from_it() -> None:
    days = series([12.0, 9.0, 7.0, 5.0], sweet_spot_from=SweetSpotFrom.MEASURED)
    days[2] = day("day 2", exact(10, (2.0, 0.0), (7.0, 7.0)), sweet_spot_from=SweetSpotFrom.MARK)
    progress = follow_days(days)
    assert progress.miss.word is TrendWord.NOT_COMPARED
    assert progress.spread.change_frac is not None
    assert progress.toe_day_to_day_mm is None
    assert doubts.SWEET_SPOT_METHODS_DIFFER in keys(progress)


def test_unknown_conditions_are_a_doubt() -> None:
    days = [day(f"{i}", exact(10, (2.0, 0.0), (8.0, 8.0)), Conditions()) for i in range(4)]
    assert doubts.CONDITIONS_UNKNOWN in keys(follow_days(days))


def test_a_thin_day_is_left_out_in_words() -> None:
    days = [*series([12.0, 9.0, 7.0, 5.0]), day("thin", exact(10, (2.0, 0.0), (5.0, 5.0))[:3])]
    progress = follow_days(days)
    assert progress.days[-1].left_out == "too few balls (3)"
    assert progress.spread.change_frac is not None


def test_no_day_is_refused() -> None:
    with pytest.raises(SetupError, match="at least one day"):
        follow_days([])
