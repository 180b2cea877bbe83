"""Is one club hit better than another? Club against club, each from its own sweet spot.

Three questions, each asked of all clubs first and of pairs only if that shows something (Holm over pairs):
where is the centre, how tight is the group, how far from the sweet spot do balls land on average. "Tighter"
and "nearer" are said of a pair, "tightest" and "nearest" of a club that beats every other. Otherwise: no
clear difference, and how many more balls each would show one of a quarter. Known differences in effort, tee
height or ball stop the verdict; sweet spots found in different ways stop whatever is measured from them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

import numpy as np

from facemark import caveats as doubts
from facemark.caveats import Caveat
from facemark.errors import SetupError
from facemark.explain.contrast import (
    Mean,
    any_differ_chance,
    centre_mean,
    differ_chance,
    difference_span,
    holm,
    mean_span,
    miss_mean,
    spread_mean,
)
from facemark.explain.evidence import Evidence, gather_evidence
from facemark.explain.hitset import (
    Drift,
    HitSet,
    condition_caveats,
    differing_conditions,
    find_drift,
    same_sweet_spot_method,
)
from facemark.explain.howmany import RISK_FRAC, balls_for_centres, balls_for_ratio
from facemark.explain.pattern import Label, Pattern, describe_pattern
from facemark.explain.span import LEVEL_FRAC, Span
from facemark.explain.thresholds import Thresholds

N_DRAWS = 1999


class Question(StrEnum):
    """What is compared."""

    CENTRE = "centre"
    SPREAD = "spread"
    MISS = "miss"  # mean distance from the sweet spot: centre and spread together


class Verdict(StrEnum):
    """The outcome as a whole."""

    DIFFERENT = "difference shown"
    NO_CLEAR_DIFFERENCE = "no clear difference"
    NOT_COMPARED = "not compared"


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioSpan:
    """An interval of a ratio."""

    least_ratio: float
    most_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubResult:
    """One club of a comparison."""

    name: str
    pattern: Pattern
    miss_mm: float | None  # mean distance from the own sweet spot
    miss_span: Span | None
    drift: Drift | None
    n_thrown_out: int
    left_out: str  # why it takes no part; empty: it does


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two clubs: first less second, with 95 % intervals; chances are Holm's over all pairs. None: not
    asked."""

    first: str
    second: str
    toe_mm: float | None
    toe_span: Span | None
    high_mm: float | None
    high_span: Span | None
    centre_chance_frac: float | None
    centres_differ: bool
    spread_ratio: float | None
    spread_span: RatioSpan | None
    spread_chance_frac: float | None
    tighter: str | None  # name, only when earned
    miss_mm: float | None
    miss_span: Span | None
    miss_chance_frac: float | None
    nearer: str | None  # name, only when earned
    n_more_for_quarter: int | None  # balls each that would show a spread larger by a quarter
    n_more_for_centres: int | None  # that would show the difference of centres seen, if it is real


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Clubs side by side. Chances are those of "all clubs the same"; None: not asked."""

    verdict: Verdict
    why_not: str  # behind "not compared"
    clubs: tuple[ClubResult, ...]
    centre_chance_frac: float | None
    spread_chance_frac: float | None
    miss_chance_frac: float | None
    pairs: tuple[Pair, ...]
    tightest: str | None  # beats every other club
    nearest: str | None
    n_more_each: int | None  # balls each that would show a spread larger by a quarter, for every pair
    caveats: tuple[Caveat, ...]


def compare_clubs(
    sets: Sequence[HitSet],
    *,
    rng: np.random.Generator,
    thresholds: Thresholds | None = None,
    n_draws: int = N_DRAWS,
) -> Comparison:
    """Compare clubs.

    Parameters
    ----------
    sets : at least two, one for each club, with different names.
    rng : for the bootstrap behind comparisons of three and more clubs.
    thresholds : other limits than the kinds'.
    n_draws : bootstrap draws; the chance is known to about 0.5 / sqrt(n_draws).

    Raises
    ------
    SetupError
        Fewer than two clubs, or two of one name.
    """
    _check_names(sets)
    clubs = tuple(_club(hit_set, thresholds) for hit_set in sets)
    caveats = list(condition_caveats(sets, same_club=False))
    caveats += [
        Caveat(key=doubts.DRIFT_IN_SET, detail=club.name)
        for club in clubs
        if club.drift is not None and club.drift.shown
    ]
    usable = [hit_set for hit_set, club in zip(sets, clubs, strict=True) if not club.left_out]
    differing = differing_conditions(sets, same_club=False)
    why_not = f"different {' and '.join(differing)}" if differing else ""
    if len(usable) < 2:
        why_not = "; ".join(f"{club.name}: {club.left_out}" for club in clubs if club.left_out)
    if why_not:
        return _without_verdict(clubs, why_not, tuple(caveats))
    evidence = {hit_set.name: gather_evidence(hit_set.strikes) for hit_set in usable}
    answers = {
        question: _ask(question, evidence, rng, n_draws) for question in _askable(question_sets=usable)
    }
    n_pairs = math.comb(len(evidence), 2)
    pairs = tuple(_pair(names, answers, n_pairs) for names in combinations(evidence, 2))
    shown = any(pair.tighter or pair.nearer or pair.centres_differ for pair in pairs)
    needs = [pair.n_more_for_quarter for pair in pairs]
    known = [need for need in needs if need is not None]
    return Comparison(
        verdict=Verdict.DIFFERENT if shown else Verdict.NO_CLEAR_DIFFERENCE,
        why_not="",
        clubs=clubs,
        centre_chance_frac=_overall(answers, Question.CENTRE),
        spread_chance_frac=_overall(answers, Question.SPREAD),
        miss_chance_frac=_overall(answers, Question.MISS),
        pairs=pairs,
        tightest=_beats_all([pair.tighter for pair in pairs], len(evidence)),
        nearest=_beats_all([pair.nearer for pair in pairs], len(evidence)),
        n_more_each=max(known) if known and len(known) == len(needs) else None,
        caveats=tuple(caveats),
    )


def _check_names(sets: Sequence[HitSet]) -> None:
    names = [hit_set.name for hit_set in sets]
    if len(names) < 2:
        raise SetupError(
            f"expected at least two clubs to compare, got {len(names)}" + (f" ({names[0]})" if names else ""),
            remedy="Add the other club's strikes, or describe one club with facemark pattern.",
        )
    if len(set(names)) < len(names):
        raise SetupError(
            f"two sets have the same name: {', '.join(sorted({n for n in names if names.count(n) > 1}))}",
            remedy="Give each club its own name.",
        )


def _club(hit_set: HitSet, thresholds: Thresholds | None) -> ClubResult:
    pattern = describe_pattern(hit_set.strikes, hit_set.kind, thresholds=thresholds)
    left_out = ""
    if pattern.label is Label.TOO_FEW:
        left_out = f"too few balls ({pattern.n_balls})"
    elif pattern.region is None or pattern.spread is None:
        left_out = "all strikes in one place or on one line"
    miss = None
    if not left_out and not pattern.from_group:
        miss = miss_mean(gather_evidence(hit_set.strikes))
    span = None
    if miss is not None:
        least, most = mean_span(miss, level_frac=LEVEL_FRAC)
        span = Span(least_mm=max(least, 0.0), most_mm=most)
    return ClubResult(
        name=hit_set.name,
        pattern=pattern,
        miss_mm=None if miss is None else float(miss.at[0]),
        miss_span=span,
        drift=find_drift(hit_set),
        n_thrown_out=hit_set.n_thrown_out,
        left_out=left_out,
    )


def _without_verdict(clubs: tuple[ClubResult, ...], why_not: str, caveats: tuple[Caveat, ...]) -> Comparison:
    return Comparison(
        verdict=Verdict.NOT_COMPARED,
        why_not=why_not,
        clubs=clubs,
        centre_chance_frac=None,
        spread_chance_frac=None,
        miss_chance_frac=None,
        pairs=(),
        tightest=None,
        nearest=None,
        n_more_each=None,
        caveats=caveats,
    )


def _askable(question_sets: Sequence[HitSet]) -> tuple[Question, ...]:
    """Centres need one way of finding the sweet spot; spreads need marks told apart; misses both."""
    one_way = same_sweet_spot_method(question_sets)
    apart = all(hit_set.strikes.separable or hit_set.strikes.group is None for hit_set in question_sets)
    return tuple(
        question
        for question, can in (
            (Question.CENTRE, one_way),
            (Question.SPREAD, apart),
            (Question.MISS, one_way and apart),
        )
        if can
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Answer:
    """One question, answered for all clubs and for each pair (Holm)."""

    overall_frac: float
    means: dict[str, Mean]
    pair_fracs: dict[tuple[str, str], float]

    def shown(self, pair: tuple[str, str]) -> bool:
        return self.overall_frac < RISK_FRAC and self.pair_fracs[pair] < RISK_FRAC


_MEANS: dict[Question, Callable[[Evidence], Mean]] = {
    Question.CENTRE: centre_mean,
    Question.SPREAD: spread_mean,
    Question.MISS: miss_mean,
}


def _ask(
    question: Question, evidence: dict[str, Evidence], rng: np.random.Generator, n_draws: int
) -> _Answer:
    means = {name: _MEANS[question](one) for name, one in evidence.items()}
    pairs = list(combinations(means, 2))
    chances = [differ_chance(means[first], means[second]) for first, second in pairs]
    two = len(pairs) == 1
    overall = chances[0] if two else any_differ_chance(list(means.values()), rng, n_draws=n_draws)
    return _Answer(overall_frac=overall, means=means, pair_fracs=dict(zip(pairs, holm(chances), strict=True)))


def _overall(answers: dict[Question, _Answer], question: Question) -> float | None:
    return answers[question].overall_frac if question in answers else None


def _pair(names: tuple[str, str], answers: dict[Question, _Answer], n_pairs: int) -> Pair:
    first, second = names
    toe: tuple[float, Span] | tuple[None, None] = (None, None)
    high, miss = toe, toe
    centre, spread, away = (answers.get(question) for question in Question)
    if centre is not None:
        toe, high = (_in_mm(centre, names, axis) for axis in (0, 1))
    if away is not None:
        miss = _in_mm(away, names, 0)
    ratio, ratio_span = _as_ratio(spread, names)
    return Pair(
        first=first,
        second=second,
        toe_mm=toe[0],
        toe_span=toe[1],
        high_mm=high[0],
        high_span=high[1],
        centre_chance_frac=None if centre is None else centre.pair_fracs[names],
        centres_differ=centre is not None and centre.shown(names),
        spread_ratio=ratio,
        spread_span=ratio_span,
        spread_chance_frac=None if spread is None else spread.pair_fracs[names],
        tighter=_smaller(spread, names),
        miss_mm=miss[0],
        miss_span=miss[1],
        miss_chance_frac=None if away is None else away.pair_fracs[names],
        nearer=_smaller(away, names),
        n_more_for_quarter=None if spread is None else balls_for_ratio(_two(spread, names), n_pairs),
        n_more_for_centres=None if centre is None else balls_for_centres(*_two(centre, names), n_pairs),
    )


def _two(answer: _Answer, names: tuple[str, str]) -> tuple[Mean, Mean]:
    return answer.means[names[0]], answer.means[names[1]]


def _in_mm(answer: _Answer, names: tuple[str, str], axis: int) -> tuple[float, Span]:
    first, second = _two(answer, names)
    difference, least, most = difference_span(first, second, axis, level_frac=LEVEL_FRAC)
    return difference, Span(least_mm=least, most_mm=most)


def _as_ratio(answer: _Answer | None, names: tuple[str, str]) -> tuple[float | None, RatioSpan | None]:
    if answer is None:
        return None, None
    first, second = _two(answer, names)
    log, least, most = difference_span(first, second, 0, level_frac=LEVEL_FRAC)
    return math.exp(log), RatioSpan(least_ratio=math.exp(least), most_ratio=math.exp(most))


def _smaller(answer: _Answer | None, names: tuple[str, str]) -> str | None:
    """The club with the smaller one-coordinate mean, if the difference is shown."""
    if answer is None or not answer.shown(names):
        return None
    return min(names, key=lambda name: float(answer.means[name].at[0]))


def _beats_all(winners: list[str | None], n_clubs: int) -> str | None:
    for name in {winner for winner in winners if winner is not None}:
        if winners.count(name) == n_clubs - 1:
            return name
    return None
