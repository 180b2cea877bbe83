"""What is the pattern of this set of balls, and how sure is it?

Ten marks are little evidence. The headline follows one fixed order, and a word is only said when the chance
of saying it wrongly is small: too few marks; two groups; maybe two groups; scattered and/or a direction;
centred; not settled. "Not settled: hit n more" is a result. Numbers, error rates and check values:
docs/explanation/what-ten-balls-can-tell.md; parts: evidence, centre, spread, groups, zone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from facemark import caveats as doubts
from facemark.caveats import Caveat
from facemark.clubs import TYPICAL
from facemark.explain.centre import Axis, AxisWord, Offset, Region, find_offset, find_region, judge_axis
from facemark.explain.evidence import Array, Evidence, gather_evidence
from facemark.explain.groups import (
    FALSE_FLAG_FRAC,
    Split,
    balls_to_confirm,
    chance_of_apartness,
    find_split,
)
from facemark.explain.spread import Spread, SpreadWord, extreme_spread_mm, measure_spread
from facemark.explain.thresholds import Thresholds, thresholds_for
from facemark.explain.zone import Zone, count_zone
from facemark.inputs import ClubKind
from facemark.strike import Strike, StrikeSet

FEWEST_BALLS = 5  # below it no word at all
FEWEST_FREE = 2.5  # five balls give 4; unequally known ones or a rough group less
SAME_PLACE_MM = 0.05  # nearer than this two typed strikes are the same line twice
OFF_FACE_MM = 6.0  # beyond the longest face of the kind: half a mark


class Label(StrEnum):
    """The pattern in one word. Which words are earned, and how, is in ``_label``."""

    CENTRED = "centred"
    TOE = "toe"
    HEEL = "heel"
    HIGH = "high"
    LOW = "low"
    HIGH_TOE = "high toe"
    HIGH_HEEL = "high heel"
    LOW_TOE = "low toe"
    LOW_HEEL = "low heel"
    SCATTERED = "scattered"
    TWO_GROUPS = "two groups"
    MAYBE_TWO_GROUPS = "maybe two groups"
    NOT_SETTLED = "not settled"
    TOO_FEW = "too few"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One of two groups. Errors are one standard error of its centre, common errors included."""

    toe_mm: float
    high_mm: float
    toe_err_mm: float
    high_err_mm: float
    n_balls: int
    members: tuple[int, ...]  # strikes, numbered from 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """A mark that stands apart."""

    number: int  # of the strike, from 0
    chance_frac: float  # that the farthest mark of a clean group lies this far off
    headline_without: str  # what would be said without it


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """What a set of balls says. ``_err_``: one standard error, common errors included; None: not known.

    Spans hold the true value in 95 of 100 sets. Positions from the sweet spot, plus toe and plus high.
    """

    label: Label
    headline: str  # the label with what belongs to it: "scattered, high toe"; "centred, slightly toe"
    n_balls: int  # balls the numbers rest on; for a group, the fewest it may hold
    n_hit: int | None  # balls hit, if told
    toe_mm: float
    high_mm: float
    toe_err_mm: float | None
    high_err_mm: float | None
    toe_axis: Axis
    high_axis: Axis
    region: Region | None
    offset: Offset | None
    spread: Spread | None
    extreme_spread_mm: float | None
    zone: Zone | None
    direction: Label | None  # toe, high toe, ...: also beside "scattered"
    slight: tuple[Label, ...]  # real, but smaller than matters
    balls_needed: int | None  # more balls that would settle the headline; 0: settled; None: no number would
    groups: tuple[Group, ...]
    split: Split | None
    outliers: tuple[Apart, ...]
    from_group: bool  # the balls could not be told apart; centre and spread of the whole are used
    kind: ClubKind
    limits: Thresholds
    caveats: tuple[Caveat, ...]

    @property
    def toe_spread_mm(self) -> float | None:
        return None if self.spread is None else self.spread.toe_mm

    @property
    def high_spread_mm(self) -> float | None:
        return None if self.spread is None else self.spread.high_mm

    @property
    def radius80_mm(self) -> float | None:
        return None if self.spread is None else self.spread.ring_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Judgement:
    """Everything the headline needs."""

    evidence: Evidence
    toe: Axis
    high: Axis
    spread: Spread | None
    split: Split | None
    label: Label
    direction: Label | None
    headline: str


def describe_pattern(strikes: StrikeSet, kind: ClubKind, *, thresholds: Thresholds | None = None) -> Pattern:
    """Describe one set of balls.

    Parameters
    ----------
    strikes : StrikeSet
        From a photo or typed. With ``separable`` False its ``group`` is used instead of the marks.
    kind : ClubKind
        Chooses the limits.
    thresholds : Thresholds, optional
        Other limits than the kind's.

    Returns
    -------
    Pattern
        From one ball up; below five the label is "too few" and nothing is claimed.

    Raises
    ------
    MarkError
        There is no strike.
    SetupError
        A number is not finite, an error negative, or a strike farther off than a club is long.

    Example
    -------
    >>> balls = tuple(Strike(toe_mm=t, high_mm=h) for t, h in [(9, 1), (12, 3), (8, -2), (14, 0), (11, 2)])
    >>> describe_pattern(StrikeSet(strikes=balls), ClubKind.DRIVER).label
    <Label.TOE: 'toe'>
    """
    limits = thresholds or thresholds_for(kind)
    judged = _judge(strikes, limits)
    evidence, label, headline = judged.evidence, judged.label, judged.headline
    more = _more_balls(judged)
    caveats = list(strikes.caveats)
    if _hangs_on_likely(strikes, limits, label):
        label, headline, more = Label.NOT_SETTLED, Label.NOT_SETTLED.value, None
        caveats.append(Caveat(key=doubts.WORD_HANGS_ON_MARK, detail=f"with them: {judged.headline}"))
    outliers = _outliers(strikes, limits, evidence)
    caveats += _caveats(strikes, kind, judged, outliers)
    toe_err, high_err = evidence.err_mm
    settled = label not in (Label.TOO_FEW, Label.NOT_SETTLED)
    return Pattern(
        label=label,
        headline=headline,
        n_balls=math.floor(evidence.n_balls + 1e-9),
        n_hit=strikes.n_balls,
        toe_mm=float(evidence.mean_mm[0]),
        high_mm=float(evidence.mean_mm[1]),
        toe_err_mm=toe_err if judged.toe.span is not None else None,
        high_err_mm=high_err if judged.high.span is not None else None,
        toe_axis=judged.toe,
        high_axis=judged.high,
        region=find_region(evidence) if label is not Label.TOO_FEW else None,
        offset=find_offset(evidence) if label is not Label.TOO_FEW else None,
        spread=judged.spread,
        extreme_spread_mm=extreme_spread_mm(evidence.points_mm) if len(evidence.points_mm) > 1 else None,
        zone=count_zone(strikes, limits.zone_mm) if strikes.separable else None,
        direction=judged.direction if settled else None,
        slight=_slight(judged) if settled else (),
        balls_needed=more,
        groups=_groups(strikes, judged.split) if label is Label.TWO_GROUPS else (),
        split=judged.split,
        outliers=outliers,
        from_group=evidence.from_group,
        kind=kind,
        limits=limits,
        caveats=tuple(caveats),
    )


def _judge(strikes: StrikeSet, limits: Thresholds) -> _Judgement:
    evidence = gather_evidence(strikes)
    toe = judge_axis(
        evidence,
        0,
        worth_mm=limits.worth_toe_mm,
        harmless_mm=limits.harmless_toe_mm,
        false_word_frac=limits.false_word_frac,
    )
    high = judge_axis(
        evidence,
        1,
        worth_mm=limits.worth_high_mm,
        harmless_mm=limits.harmless_high_mm,
        false_word_frac=limits.false_word_frac,
    )
    spread = measure_spread(evidence, limit_mm=limits.spread_limit_mm)
    split = find_split(evidence.points_mm)
    label, direction = _label(evidence, (toe, high), spread, split, limits)
    judged = _Judgement(
        evidence=evidence,
        toe=toe,
        high=high,
        spread=spread,
        split=split,
        label=label,
        direction=direction,
        headline=label.value,
    )
    return replace(judged, headline=_headline(judged))


def _label(
    evidence: Evidence,
    axes: tuple[Axis, Axis],
    spread: Spread | None,
    split: Split | None,
    limits: Thresholds,
) -> tuple[Label, Label | None]:
    """The headline's rule, in its fixed order. Second: the direction, also where the label is another."""
    n = evidence.n_balls if evidence.from_group else evidence.n_marks
    if n < FEWEST_BALLS or evidence.n_free < FEWEST_FREE:
        return Label.TOO_FEW, None
    if split is not None and split.apart_mm >= limits.apart_mm:
        if split.surely_two:
            return Label.TWO_GROUPS, None
        if split.maybe_two:
            return Label.MAYBE_TWO_GROUPS, None
    direction = _direction(*axes)
    if spread is not None and spread.word is SpreadWord.SCATTERED:
        return Label.SCATTERED, direction
    if direction is not None:
        return direction, direction
    if all(axis.word is AxisWord.CENTRED for axis in axes):
        return Label.CENTRED, None
    return Label.NOT_SETTLED, None


def _direction(toe: Axis, high: Axis) -> Label | None:
    words = []
    if high.word in (AxisWord.PLUS, AxisWord.MINUS):
        words.append("high" if high.word is AxisWord.PLUS else "low")
    if toe.word in (AxisWord.PLUS, AxisWord.MINUS):
        words.append("toe" if toe.word is AxisWord.PLUS else "heel")
    return Label(" ".join(words)) if words else None


def _slight(judged: _Judgement) -> tuple[Label, ...]:
    """Offsets that are real but too small to matter."""
    words = []
    if judged.toe.slight is not None:
        words.append(Label.TOE if judged.toe.slight is AxisWord.PLUS else Label.HEEL)
    if judged.high.slight is not None:
        words.append(Label.HIGH if judged.high.slight is AxisWord.PLUS else Label.LOW)
    return tuple(words)


def _headline(judged: _Judgement) -> str:
    if judged.label is Label.SCATTERED and judged.direction is not None:
        return f"{judged.label}, {judged.direction}"
    slight = _slight(judged)
    if judged.label is Label.CENTRED and slight:
        return f"{judged.label}, slightly {' and '.join(slight)}"
    return judged.label.value


def _more_balls(judged: _Judgement) -> int | None:
    """Further balls that would settle the headline if centre and spread stay as they are."""
    evidence = judged.evidence
    if judged.label is Label.TOO_FEW:
        return max(FEWEST_BALLS - math.floor(evidence.n_balls + 1e-9), 1)
    if judged.label is Label.MAYBE_TWO_GROUPS and judged.split is not None:
        return balls_to_confirm(judged.split.explained_frac, evidence.n_marks)
    if judged.label is not Label.NOT_SETTLED:
        return 0
    needs = [axis.n_more_balls for axis in (judged.toe, judged.high) if axis.word is AxisWord.UNSETTLED]
    known = [need for need in needs if need is not None]
    return max(known) if len(known) == len(needs) else None


def _hangs_on_likely(strikes: StrikeSet, limits: Thresholds, label: Label) -> bool:
    """The word changes when the marks that are only likely are left out."""
    sure = tuple(strike for strike in strikes.strikes if strike.sure)
    if not strikes.separable or len(sure) == len(strikes.strikes) or label is Label.TOO_FEW:
        return False
    if not sure:
        return label is not Label.NOT_SETTLED
    without = _judge(replace(strikes, strikes=sure), limits).label
    return without is not label and label is not Label.NOT_SETTLED


def _outliers(strikes: StrikeSet, limits: Thresholds, evidence: Evidence) -> tuple[Apart, ...]:
    chances = chance_of_apartness(evidence.points_mm)
    found = []
    for number in np.flatnonzero(chances < FALSE_FLAG_FRAC):
        rest = strikes.strikes[:number] + strikes.strikes[number + 1 :]
        without = _judge(replace(strikes, strikes=rest), limits).headline
        found.append(Apart(number=int(number), chance_frac=float(chances[number]), headline_without=without))
    return tuple(found)


def _groups(strikes: StrikeSet, split: Split | None) -> tuple[Group, ...]:
    if split is None:
        return ()
    return tuple(_group(strikes, members) for members in split.members)


def _group(strikes: StrikeSet, members: tuple[int, ...]) -> Group:
    part = gather_evidence(replace(strikes, strikes=tuple(strikes.strikes[i] for i in members)))
    toe_err, high_err = part.err_mm
    return Group(
        toe_mm=float(part.mean_mm[0]),
        high_mm=float(part.mean_mm[1]),
        toe_err_mm=toe_err,
        high_err_mm=high_err,
        n_balls=math.floor(part.n_balls + 1e-9),
        members=members,
    )


def _caveats(
    strikes: StrikeSet, kind: ClubKind, judged: _Judgement, outliers: tuple[Apart, ...]
) -> list[Caveat]:
    evidence, found = judged.evidence, []
    if evidence.n_balls < 10:
        n_least = math.floor(evidence.n_balls + 1e-9)  # 9.7 balls' worth of worn powder are not ten
        found.append(Caveat(key=doubts.FEW_STRIKES, detail=f"{n_least} of the ten a usual set has"))
    if evidence.from_group and all(c.key != doubts.MARKS_UNSEPARATED for c in strikes.caveats):
        found.append(Caveat(key=doubts.MARKS_UNSEPARATED, detail=f"at least {strikes.n_least} balls"))
    for apart in outliers:
        detail = f"strike {apart.number + 1}; without it: {apart.headline_without}"
        found.append(Caveat(key=doubts.MARK_STANDS_APART, detail=detail))
    found += [
        Caveat(key=doubts.MARK_OFF_FACE, detail=f"strike {number + 1}")
        for number in _off_face(strikes.strikes, kind)
    ]
    same = sorted({number + 1 for pair in _same_place(evidence.points_mm) for number in pair})
    if same:
        found.append(Caveat(key=doubts.SAME_PLACE_TWICE, detail=f"strikes {', '.join(map(str, same))}"))
    if judged.label is not Label.TOO_FEW and find_region(evidence) is None:
        found.append(Caveat(key=doubts.MARKS_IN_LINE))
    if judged.spread is not None and judged.spread.below_reading:
        found.append(Caveat(key=doubts.SPREAD_BELOW_READING))
    for axis, name in ((judged.toe, "toe-heel"), (judged.high, "high-low")):
        if axis.sweet_spot_limits and judged.label is not Label.TOO_FEW:
            found.append(Caveat(key=doubts.SWEET_SPOT_LIMITS, detail=name))
    seen = sum(strike.n_balls for strike in strikes.strikes)
    if strikes.separable and strikes.n_balls is not None and seen < strikes.n_balls:
        found.append(Caveat(key=doubts.BALLS_UNSEEN, detail=f"{seen} of {strikes.n_balls} seen"))
    return found


def _off_face(marks: tuple[Strike, ...], kind: ClubKind) -> list[int]:
    """Strikes beyond the longest face of the kind, with the sweet spot's own range allowed for."""
    table = TYPICAL[kind]
    toe = table["face_length_mm"].high / 2.0 + table["sweet_toe_mm"].high + OFF_FACE_MM
    high = table["face_height_mm"].high / 2.0 - table["sweet_high_mm"].low + OFF_FACE_MM
    return [i for i, mark in enumerate(marks) if abs(mark.toe_mm) > toe or abs(mark.high_mm) > high]


def _same_place(points_mm: Array) -> list[tuple[int, int]]:
    if len(points_mm) < 2:
        return []
    distance = np.hypot(*(points_mm[:, None, :] - points_mm[None, :, :]).transpose(2, 0, 1))
    first, second = np.nonzero(np.triu(distance < SAME_PLACE_MM, k=1))
    return list(zip(first.tolist(), second.tolist(), strict=True))
