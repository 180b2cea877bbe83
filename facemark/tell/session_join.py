"""Several photos of one session become one set of balls.

Each photo is taken as a fresh coat of powder: its marks are other balls than those of the next photo (photos
of one coat belong together with ``facemark read --series``). What is common to a photo's marks (outline,
scale, turn) differs from photo to photo, so the mean of n photos carries it shared out; the sweet spot is one
and the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from facemark.caveats import Caveat
from facemark.errors import SetupError
from facemark.explain.hitset import HitSet
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
        None came, or they are of different clubs or hands, or their sweet spots were found differently.
    """
    _check_alike(records)
    sets = [_set_of(record) for record in records]
    if len(sets) == 1:
        return sets[0].strikes
    parts = [one.strikes for one in sets]
    counts = [_balls(part) for part in parts]
    shares = [count / sum(counts) for count in counts]
    told = [part.n_balls for part in parts if part.n_balls is not None]
    return StrikeSet(
        strikes=tuple(strike for part in parts for strike in part.strikes),
        shared=_shared([part.shared for part in parts], shares),
        n_balls=sum(told) if len(told) == len(parts) else None,
        n_least=sum(part.n_least for part in parts),
        separable=all(part.separable for part in parts),
        group=_group(parts, shares),
        sweet_spot_from=parts[0].sweet_spot_from,
        caveats=_caveats(parts),
    )


def _set_of(record: Mapping[str, Any]) -> HitSet:
    try:
        return reading_set(record, name=record["photo"]["name"])
    except (KeyError, TypeError, ValueError) as err:
        raise SetupError(
            f"a reading cannot be taken up again ({type(err).__name__}: {err})",
            remedy="Read the photo once more with this version.",
        ) from None


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


def _balls(part: StrikeSet) -> float:
    if not part.separable and part.group is not None:
        return max(part.group.n_balls, 1.0)
    return float(max(sum(strike.n_balls for strike in part.strikes), 1))


def _shared(photos: Sequence[SharedError], shares: Sequence[float]) -> SharedError:
    """Errors of the joined mean (JCGM 100:2008 5.1.2): each photo's own, shared out; the sweet spot's once.

    The scale may rest on the same object every time: it is not taken to average out.
    """

    def spread_out(errs: Sequence[float]) -> float:
        return math.sqrt(sum((share * err) ** 2 for share, err in zip(shares, errs, strict=True)))

    def in_common(errs: Sequence[float]) -> float:
        return sum(share * err for share, err in zip(shares, errs, strict=True))

    return SharedError(
        toe_mm=spread_out([one.toe_mm for one in photos]),
        high_mm=spread_out([one.high_mm for one in photos]),
        scale_frac=in_common([one.scale_frac for one in photos]),
        turn_deg=spread_out([one.turn_deg for one in photos]),
        sweet_toe_mm=in_common([one.sweet_toe_mm for one in photos]),
        sweet_high_mm=in_common([one.sweet_high_mm for one in photos]),
    )


def _group(parts: Sequence[StrikeSet], shares: Sequence[float]) -> GroupEstimate | None:
    """Centre and spread of all balls: the law of total variance over the photos."""
    groups = [part.group for part in parts if part.group is not None]
    if len(groups) < len(parts):
        return None
    toe = sum(share * group.toe_mm for share, group in zip(shares, groups, strict=True))
    high = sum(share * group.high_mm for share, group in zip(shares, groups, strict=True))
    toe_spread, toe_spread_err = _spread(
        shares,
        [(group.toe_mm - toe, group.toe_spread_mm, group.toe_spread_err_mm) for group in groups],
    )
    high_spread, high_spread_err = _spread(
        shares,
        [(group.high_mm - high, group.high_spread_mm, group.high_spread_err_mm) for group in groups],
    )
    return GroupEstimate(
        toe_mm=toe,
        high_mm=high,
        toe_err_mm=math.hypot(*(s * g.toe_err_mm for s, g in zip(shares, groups, strict=True))),
        high_err_mm=math.hypot(*(s * g.high_err_mm for s, g in zip(shares, groups, strict=True))),
        toe_spread_mm=toe_spread,
        high_spread_mm=high_spread,
        toe_spread_err_mm=toe_spread_err,
        high_spread_err_mm=high_spread_err,
        n_balls=sum(group.n_balls for group in groups),
        n_balls_err=math.hypot(*(group.n_balls_err for group in groups)),
    )


def _spread(shares: Sequence[float], photos: Sequence[tuple[float, float, float]]) -> tuple[float, float]:
    """Spread of all and its error, from each photo's (offset of its mean, spread, error of the spread)."""
    rows = list(zip(shares, photos, strict=True))
    spread = math.sqrt(sum(share * (within**2 + offset**2) for share, (offset, within, _) in rows))
    if not spread:
        return 0.0, math.hypot(*(share * err for share, (_, _, err) in rows))
    return spread, math.hypot(*(share * within / spread * err for share, (_, within, err) in rows))


def _caveats(parts: Sequence[StrikeSet]) -> tuple[Caveat, ...]:
    """Each doubt once; its numbers only where all photos say the same."""
    found: dict[str, Caveat] = {}
    for part in parts:
        for caveat in part.caveats:
            known = found.setdefault(caveat.key, caveat)
            if known.detail != caveat.detail:
                found[caveat.key] = Caveat(key=caveat.key)
    return tuple(found.values())
