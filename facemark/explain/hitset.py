"""One set of balls with its circumstances: may it be compared with another, and did it wander?

Club against club, or day against day, is only fair under the same conditions. What is known to differ stops
the verdict; what nobody noted is a doubt. Ball order, where known, shows whether the strikes wander
(tiredness, warming up): a straight line through position against ball number, tested on both axes and on the
distance from the set's own centre (a widening group), Bonferroni over the three.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from facemark.caveats import (
    CONDITIONS_DIFFER,
    CONDITIONS_UNKNOWN,
    COUNTS_UNEQUAL,
    SWEET_SPOT_METHODS_DIFFER,
    Caveat,
)
from facemark.explain.span import student_two_sided
from facemark.inputs import ClubKind
from facemark.strike import StrikeSet, SweetSpotFrom

DRIFT_RISK_FRAC = 0.05  # of calling a steady set drifting
FEWEST_FOR_DRIFT = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What must be the same before sets are compared. None: not noted."""

    club: str | None = None  # for days: the same head; for clubs it differs by design
    effort_frac: float | None = None  # 0..1, as felt
    tee_mm: float | None = None  # tee height
    ball: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HitSet:
    """Balls hit with one club on one day."""

    name: str  # of the club, or of the day
    strikes: StrikeSet
    kind: ClubKind
    conditions: Conditions = field(default_factory=Conditions)
    ball_numbers: tuple[int, ...] = ()  # when each strike was hit; empty: order not known
    n_thrown_out: int = 0  # by the rule fixed beforehand


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """How far the strikes wandered from the first ball to the last."""

    toe_mm: float
    high_mm: float
    outward_mm: float  # growth of the distance from the set's centre
    chance_frac: float  # that a steady set looks like this, over all three questions
    shown: bool


def find_drift(hit_set: HitSet) -> Drift | None:
    """Drift over the set; None where the order is not known or too few balls were hit."""
    numbers = np.asarray(hit_set.ball_numbers, float)
    strikes = hit_set.strikes.strikes
    if len(numbers) != len(strikes) or len(strikes) < FEWEST_FOR_DRIFT or np.ptp(numbers) <= 0.0:
        return None
    points = np.array([[strike.toe_mm, strike.high_mm] for strike in strikes])
    distance = np.hypot(*(points - points.mean(axis=0)).T)
    rises, chances = zip(
        *(_rise(numbers, values) for values in (points[:, 0], points[:, 1], distance)), strict=True
    )
    chance = min(1.0, 3.0 * min(chances))
    return Drift(
        toe_mm=rises[0],
        high_mm=rises[1],
        outward_mm=rises[2],
        chance_frac=chance,
        shown=chance < DRIFT_RISK_FRAC,
    )


def _rise(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """Rise of a straight line over the range of x, and the two-sided p of its slope."""
    x = x - x.mean()
    slope = float(x @ y) / float(x @ x)
    rest = y - y.mean() - slope * x
    variance = float(rest @ rest) / (len(x) - 2)
    rise = slope * float(np.ptp(x))
    if variance <= 0.0:
        return rise, 0.0 if slope else 1.0
    return rise, student_two_sided(slope / math.sqrt(variance / float(x @ x)), len(x) - 2)


def differing_conditions(sets: Sequence[HitSet], *, same_club: bool) -> tuple[str, ...]:
    """Names of the conditions known to differ between any two sets."""
    names = ["effort_frac", "tee_mm", "ball"] + (["club"] if same_club else [])
    words = {"effort_frac": "effort", "tee_mm": "tee height", "ball": "ball", "club": "club"}
    found = []
    for name in names:
        values = {getattr(hit_set.conditions, name) for hit_set in sets} - {None}
        if len(values) > 1:
            found.append(words[name])
    if same_club and len({hit_set.kind for hit_set in sets}) > 1 and "club" not in found:
        found.append("club")
    return tuple(found)


def condition_caveats(sets: Sequence[HitSet], *, same_club: bool) -> tuple[Caveat, ...]:
    """Doubts about comparing these sets."""
    found = []
    differing = differing_conditions(sets, same_club=same_club)
    if differing:
        found.append(Caveat(key=CONDITIONS_DIFFER, detail=", ".join(differing)))
    noted = ("effort_frac", "tee_mm") + (("club",) if same_club else ())
    missing = [name for name in noted if any(getattr(s.conditions, name) is None for s in sets)]
    if missing:
        words = {"effort_frac": "effort", "tee_mm": "tee height", "club": "club"}
        found.append(Caveat(key=CONDITIONS_UNKNOWN, detail=", ".join(words[name] for name in missing)))
    if not same_sweet_spot_method(sets):
        detail = "; ".join(f"{s.name}: {s.strikes.sweet_spot_from}" for s in sets)
        found.append(Caveat(key=SWEET_SPOT_METHODS_DIFFER, detail=detail))
    counts = [sum(strike.n_balls for strike in s.strikes.strikes) for s in sets]
    if min(counts) > 0 and max(counts) >= 2 * min(counts):
        found.append(Caveat(key=COUNTS_UNEQUAL, detail=", ".join(map(str, counts))))
    return tuple(found)


def same_sweet_spot_method(sets: Sequence[HitSet]) -> bool:
    """All sets found their sweet spot in the same way."""
    methods: set[SweetSpotFrom] = {hit_set.strikes.sweet_spot_from for hit_set in sets}
    return len(methods) <= 1
