"""Several photos of one session become one set of balls.

Each photo is taken as a fresh coat of powder: its marks are other balls than those of the next photo (photos
of one coat belong together with ``facemark read --series``). The marks stand side by side. Each photo has its
own placement error; the worst of them is taken as common to all, which is on the safe side (independent
errors would partly cancel).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from facemark.errors import SetupError
from facemark.strike import GroupEstimate, SharedError, StrikeSet
from facemark.tell.reading_file import reading_set


def joined_strikes(records: Sequence[Mapping[str, Any]]) -> StrikeSet:
    """All strikes of a session's readings as one set.

    Parameters
    ----------
    records : readings (``Reading.to_dict``) of one club and one hand, at least one.

    Raises
    ------
    SetupError
        None came, one is no reading, or they are of different clubs or hands, or their sweet spots were
        found differently.
    """
    _check_alike(records)
    try:
        sets = [reading_set(record, name=record["photo"]["name"]).strikes for record in records]
    except (KeyError, TypeError, ValueError) as err:
        raise SetupError(
            f"a reading cannot be taken up again ({type(err).__name__}: {err})",
            remedy="Read the photo once more with this version.",
        ) from None
    return sets[0] if len(sets) == 1 else join_strikes(sets)


def _check_alike(records: Sequence[Mapping[str, Any]]) -> None:
    if not records:
        raise SetupError("expected at least one reading, got none", remedy="Read a photo first.")
    for what, values in (
        ("clubs", {record["club"]["name"] for record in records}),
        ("hands", {record["hand"] for record in records}),
        ("ways to find the sweet spot", {record["sweet_spot"]["from"] for record in records}),
    ):
        if len(values) > 1:
            raise SetupError(
                f"the readings of one report have different {what}: {', '.join(sorted(values))}",
                remedy="Make one report for each.",
            )


def join_strikes(sets: Sequence[StrikeSet]) -> StrikeSet:
    """Strikes of several photos of one session as one set."""
    told = [one.n_balls for one in sets if one.n_balls is not None]
    caveats = {(c.key, c.detail): c for one in sets for c in one.caveats}
    separable = all(one.separable or one.group is None for one in sets)
    groups = (
        [] if separable else [one.group or _group_of_marks(one) for one in sets if one.group or one.strikes]
    )
    return StrikeSet(
        strikes=tuple(strike for one in sets for strike in one.strikes),
        shared=SharedError(
            **{
                name: max(getattr(one.shared, name) for one in sets)
                for name in SharedError.__dataclass_fields__
            }
        ),
        n_balls=sum(told) if len(told) == len(sets) else None,
        n_least=sum(one.n_least for one in sets),
        separable=separable,
        group=None if separable else _join_groups(groups),
        sweet_spot_from=sets[0].sweet_spot_from,
        caveats=tuple(caveats.values()),
    )


def _group_of_marks(one: StrikeSet) -> GroupEstimate:
    """A photo whose marks all stand apart has no group of its own; beside one that does, they make one."""
    n = len(one.strikes)

    def axis(name: str) -> tuple[float, float, float]:
        """Mean, its error from the marks' own, and spread (0 for a single mark)."""
        values = [float(getattr(strike, f"{name}_mm")) for strike in one.strikes]
        middle = sum(values) / n
        own = math.sqrt(sum(getattr(strike, f"{name}_err_mm") ** 2 for strike in one.strikes)) / n
        return middle, own, math.sqrt(sum((value - middle) ** 2 for value in values) / max(n - 1, 1))

    (toe, toe_err, toe_spread), (high, high_err, high_spread) = axis("toe"), axis("high")
    return GroupEstimate(
        toe_mm=toe,
        high_mm=high,
        toe_err_mm=toe_err,
        high_err_mm=high_err,
        toe_spread_mm=toe_spread,
        high_spread_mm=high_spread,
        # Of a spread of n values: spread / sqrt(2 (n - 1)), for normal scatter (common practice).
        toe_spread_err_mm=toe_spread / math.sqrt(2 * max(n - 1, 1)),
        high_spread_err_mm=high_spread / math.sqrt(2 * max(n - 1, 1)),
        n_balls=n,
        n_balls_err=0.0,
    )


def _join_groups(groups: Sequence[GroupEstimate]) -> GroupEstimate:
    """Centre and spread of all balls from those of each photo: sums of squares add up, errors in squares."""
    n = sum(group.n_balls for group in groups)
    share = [group.n_balls / n for group in groups]

    def mean(name: str) -> float:
        return sum(w * float(getattr(group, name)) for w, group in zip(share, groups, strict=True))

    def err(name: str) -> float:
        return math.sqrt(sum((w * getattr(group, name)) ** 2 for w, group in zip(share, groups, strict=True)))

    def spread(axis: str) -> float:
        middle = mean(f"{axis}_mm")
        squares = sum(
            max(group.n_balls - 1.0, 0.0) * getattr(group, f"{axis}_spread_mm") ** 2
            + group.n_balls * (getattr(group, f"{axis}_mm") - middle) ** 2
            for group in groups
        )
        return math.sqrt(squares / max(n - 1.0, 1.0))

    return replace(
        groups[0],
        toe_mm=mean("toe_mm"),
        high_mm=mean("high_mm"),
        toe_err_mm=err("toe_err_mm"),
        high_err_mm=err("high_err_mm"),
        toe_spread_mm=spread("toe"),
        high_spread_mm=spread("high"),
        toe_spread_err_mm=err("toe_spread_err_mm"),
        high_spread_err_mm=err("high_spread_err_mm"),
        n_balls=n,
        n_balls_err=math.sqrt(sum(group.n_balls_err**2 for group in groups)),
    )
