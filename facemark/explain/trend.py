"""Is the player getting better from day to day? The day is the unit, because the balls of one day share it.

Each day gives one number (logarithm of the spread, or of the mean miss); a straight line through at least
four days is tested one-sided for "smaller" with m - 2 degrees of freedom. First day against last is not a
test: with an ordinary day-to-day spread of 15 % it finds progress in 12 % of series without any. A series
that starts after a bad day improves by itself (regression to the mean); that first day is told, and left out
on request. For the centre no line is drawn: its day-to-day spread (ISO 5725's between-day part) belongs to
any claim that is to outlive the day. The sweet spot's own doubt is common to all days of one club and
cancels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from facemark.caveats import BAD_DAY_FIRST, DRIFT_IN_SET, Caveat
from facemark.errors import SetupError
from facemark.explain.contrast import Mean, miss_mean, spread_mean
from facemark.explain.evidence import Array, gather_evidence
from facemark.explain.hitset import (
    HitSet,
    condition_caveats,
    differing_conditions,
    find_drift,
    same_sweet_spot_method,
)
from facemark.explain.pattern import Label, Pattern, describe_pattern
from facemark.explain.span import LEVEL_FRAC, student
from facemark.explain.thresholds import Thresholds

FEWEST_DAYS = 4
RISK_FRAC = 0.05  # of calling a series without progress progress, for each question


class TrendWord(StrEnum):
    """What may be said of a series."""

    SMALLER = "smaller"
    NOT_SHOWN = "no trend shown"
    TOO_FEW_DAYS = "too few days"
    NOT_COMPARED = "not compared"


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """One day of the series. ``_err_frac``: relative standard error within the day."""

    name: str
    pattern: Pattern
    spread_mm: float | None
    spread_err_frac: float | None
    miss_mm: float | None
    miss_err_frac: float | None
    left_out: str  # why it takes no part; empty: it does


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One quantity over the days."""

    word: TrendWord
    change_frac: float | None  # per day: -0.10 is 10 % smaller each day
    change_least_frac: float | None  # 95 % interval
    change_most_frac: float | None
    chance_frac: float | None  # of a fall this steep without any progress
    day_to_day_frac: float | None  # relative standard deviation between days beyond the scatter within them


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """A series of days."""

    why_not: str  # behind "not compared"
    days: tuple[Day, ...]
    spread: Trend
    miss: Trend
    toe_day_to_day_mm: float | None  # between-day standard deviation of the centre
    high_day_to_day_mm: float | None
    first_dropped: bool
    n_more_days: int
    caveats: tuple[Caveat, ...]


def follow_days(
    sets: Sequence[HitSet], *, started_bad: bool = False, thresholds: Thresholds | None = None
) -> Progress:
    """Follow one player with one club over days, oldest first.

    Parameters
    ----------
    sets : one for each day, in order of time.
    started_bad : the series was begun because the first day was bad; that day is shown but not counted.

    Raises
    ------
    SetupError
        No day at all.
    """
    if not sets:
        raise SetupError("expected at least one day, got none", remedy="Give one file of strikes a day.")
    days = tuple(_day(hit_set, thresholds) for hit_set in sets)
    counted = [i for i, day in enumerate(days) if not day.left_out and not (started_bad and i == 0)]
    differing = differing_conditions(sets, same_club=True)
    why_not = f"different {' and '.join(differing)}" if differing else ""
    one_way = same_sweet_spot_method(sets)
    spread = _trend([days[i].spread_mm for i in counted], [days[i].spread_err_frac for i in counted], why_not)
    miss = _trend(
        [days[i].miss_mm for i in counted],
        [days[i].miss_err_frac for i in counted],
        why_not or ("" if one_way else "sweet spots found in different ways"),
    )
    toe = high = None
    if one_way and not why_not and len(counted) >= 2:
        toe, high = _centre_day_to_day([sets[i] for i in counted])
    caveats = list(condition_caveats(sets, same_club=True))
    if not started_bad and len(counted) >= FEWEST_DAYS and _first_is_worst([days[i] for i in counted]):
        caveats.append(Caveat(key=BAD_DAY_FIRST, detail=days[counted[0]].name))
    for hit_set in sets:
        drift = find_drift(hit_set)
        if drift is not None and drift.shown:
            caveats.append(Caveat(key=DRIFT_IN_SET, detail=hit_set.name))
    return Progress(
        why_not=why_not,
        days=days,
        spread=spread,
        miss=miss,
        toe_day_to_day_mm=toe,
        high_day_to_day_mm=high,
        first_dropped=started_bad,
        n_more_days=max(0, FEWEST_DAYS - len(counted)),
        caveats=tuple(caveats),
    )


def _day(hit_set: HitSet, thresholds: Thresholds | None) -> Day:
    pattern = describe_pattern(hit_set.strikes, hit_set.kind, thresholds=thresholds)
    left_out = ""
    if pattern.label is Label.TOO_FEW:
        left_out = f"too few balls ({pattern.n_balls})"
    elif pattern.from_group:
        left_out = "the balls cannot be told apart"
    elif pattern.region is None or pattern.spread is None:
        left_out = "all strikes in one place or on one line"
    if left_out:
        return Day(
            name=hit_set.name,
            pattern=pattern,
            spread_mm=None,
            spread_err_frac=None,
            miss_mm=None,
            miss_err_frac=None,
            left_out=left_out,
        )
    evidence = gather_evidence(hit_set.strikes)
    spread, miss = spread_mean(evidence), miss_mean(evidence)
    far = float(miss.at[0])
    return Day(
        name=hit_set.name,
        pattern=pattern,
        # sqrt(pi / 2): mean distance of a round group is 1.2533 spreads
        spread_mm=math.exp(float(spread.at[0])) / math.sqrt(math.pi / 2.0),
        spread_err_frac=_err(spread),
        miss_mm=far,
        miss_err_frac=_err(miss) / far,
        left_out="",
    )


def _err(mean: Mean) -> float:
    return math.sqrt(float(mean.sampling[0, 0]))


def _trend(values: Sequence[float | None], errs: Sequence[float | None], why_not: str) -> Trend:
    nothing = Trend(
        word=TrendWord.NOT_COMPARED if why_not else TrendWord.TOO_FEW_DAYS,
        change_frac=None,
        change_least_frac=None,
        change_most_frac=None,
        chance_frac=None,
        day_to_day_frac=None,
    )
    y = np.log([value for value in values if value is not None])
    within = np.array([err for err in errs if err is not None]) ** 2
    if why_not or len(y) < FEWEST_DAYS:
        return nothing
    from scipy import stats  # heavy to import, and only needed here

    x = np.arange(len(y), dtype=float)
    fit = stats.linregress(x, y, alternative="less")
    rest = y - (fit.intercept + fit.slope * x)
    free = len(y) - 2
    half = student(0.5 + LEVEL_FRAC / 2.0, free) * float(fit.stderr)
    between = float(rest @ rest) / free - float(within.mean())
    return replace(
        nothing,
        word=TrendWord.SMALLER if fit.pvalue < RISK_FRAC else TrendWord.NOT_SHOWN,
        change_frac=math.expm1(fit.slope),
        change_least_frac=math.expm1(fit.slope - half),
        change_most_frac=math.expm1(fit.slope + half),
        chance_frac=float(fit.pvalue),
        day_to_day_frac=math.sqrt(max(between, 0.0)),
    )


def _centre_day_to_day(sets: Sequence[HitSet]) -> tuple[float, float]:
    """Between-day standard deviation of the centre along both axes: s_L^2 = var of day means - mean of A.

    The sweet spot's doubt is one and the same on all days of a club and is left out; each photo's own
    placement error differs from day to day and is taken off.
    """
    means, inside = [], []
    for hit_set in sets:
        shared = replace(hit_set.strikes.shared, sweet_toe_mm=0.0, sweet_high_mm=0.0)
        evidence = gather_evidence(replace(hit_set.strikes, shared=shared))
        means.append(evidence.mean_mm)
        inside.append(np.diag(evidence.total_mm2))
    between: Array = np.var(np.array(means), axis=0, ddof=1) - np.mean(inside, axis=0)
    toe, high = np.sqrt(np.maximum(between, 0.0))
    return float(toe), float(high)


def _first_is_worst(days: Sequence[Day]) -> bool:
    spreads = [day.spread_mm or 0.0 for day in days]
    misses = [day.miss_mm or 0.0 for day in days]
    return spreads[0] == max(spreads) or misses[0] == max(misses)
