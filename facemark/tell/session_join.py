"""Several photos of one session become one set of balls.

Each photo is taken as a fresh coat of powder: its marks are other balls than those of the next photo (photos
of one coat belong together as a series, which is one reading; from the book its earlier photos do not come
beside it, see ``book/coats.py``). The marks stand side by side. Each photo has its
own placement error; the worst of them is taken as common to all, which is on the safe side (independent
errors would partly cancel).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from facemark.errors import SetupError
from facemark.strike import GroupEstimate, SharedError, Strike, StrikeSet
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
    groups = [] if separable else [_group_of(one) for one in sets if one.group or one.strikes]
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


def _group_of(one: StrikeSet) -> GroupEstimate:
    """A photo's group, of no more balls than were told.

    A photo whose marks all stand apart has no group of its own; beside one that does, they make one.
    """
    group = one.group or _join_groups([_group_of_one(strike) for strike in one.strikes])
    return group if one.n_balls is None else replace(group, n_balls=min(group.n_balls, float(one.n_balls)))


def _group_of_one(strike: Strike) -> GroupEstimate:
    return GroupEstimate(
        toe_mm=strike.toe_mm,
        high_mm=strike.high_mm,
        toe_err_mm=strike.toe_err_mm,
        high_err_mm=strike.high_err_mm,
        toe_spread_mm=0.0,
        high_spread_mm=0.0,
        toe_spread_err_mm=math.inf,
        high_spread_err_mm=math.inf,
        n_balls=float(strike.n_balls),
        n_balls_err=0.0,
    )


def _join_groups(groups: Sequence[GroupEstimate]) -> GroupEstimate:
    """Centre and spread of all balls from those of each photo: by how many balls each stands for."""
    toe, toe_err, toe_spread, toe_spread_err = _joined_axis(groups, "toe")
    high, high_err, high_spread, high_spread_err = _joined_axis(groups, "high")
    return GroupEstimate(
        toe_mm=toe,
        high_mm=high,
        toe_err_mm=toe_err,
        high_err_mm=high_err,
        toe_spread_mm=toe_spread,
        high_spread_mm=high_spread,
        toe_spread_err_mm=toe_spread_err,
        high_spread_err_mm=high_spread_err,
        n_balls=sum(group.n_balls for group in groups),
        n_balls_err=math.hypot(*(group.n_balls_err for group in groups)),
    )


def _joined_axis(groups: Sequence[GroupEstimate], axis: str) -> tuple[float, float, float, float]:
    """Centre, its error, spread and its error along an axis.

    (n - 1) spread**2 is the sum of what lies within each group and what lies between their centres; errors
    follow from its derivatives (JCGM 100:2008 5.1.2): those by the groups' spreads, and by their centres.
    """
    n_each = [group.n_balls for group in groups]
    centres, centre_errs, spreads, spread_errs = (
        [float(getattr(group, f"{axis}_{name}")) for group in groups]
        for name in ("mm", "err_mm", "spread_mm", "spread_err_mm")
    )
    n = sum(n_each)
    centre = sum(k * at for k, at in zip(n_each, centres, strict=True)) / n
    centre_err = math.hypot(*(k * err for k, err in zip(n_each, centre_errs, strict=True))) / n
    # Of one place alone the spread is not known, and nothing of it enters.
    inner = [max(k - 1.0, 0.0) * s for k, s in zip(n_each, spreads, strict=True)]
    outer = [k * (at - centre) for k, at in zip(n_each, centres, strict=True)]
    squares = sum(i * s for i, s in zip(inner, spreads, strict=True))
    squares += sum(o * (at - centre) for o, at in zip(outer, centres, strict=True))
    if n <= 1.0 or squares <= 0.0:
        return centre, centre_err, 0.0, math.inf
    spread = math.sqrt(squares / (n - 1.0))
    parts = [i * err for i, err in zip(inner, spread_errs, strict=True) if i > 0.0]
    parts += [o * err for o, err in zip(outer, centre_errs, strict=True)]
    return centre, centre_err, spread, math.hypot(*parts) / ((n - 1.0) * spread)
