"""Sessions of the book as sets of balls, for everything in explain/ that compares sets.

Photos of one session are joined: their marks stand side by side. Each photo has its own placement error; the
worst of them is taken as common to all, which is on the safe side (independent errors would partly cancel).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from facemark.errors import BookError
from facemark.explain.hitset import Conditions, HitSet
from facemark.inputs import ClubKind
from facemark.strike import GroupEstimate, SharedError, StrikeSet
from facemark.tell.book.rows import ClubRow, ReadingRow, SessionRow
from facemark.tell.book.store import Book
from facemark.tell.reading_file import reading_set

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """A session with its club and its balls."""

    session: SessionRow
    club: ClubRow
    hit_set: HitSet  # named after the day, and the session's name where it has one


def sittings(
    book: Book,
    player_id: str,
    *,
    clubs: Sequence[str] = (),
    since: dt.date | None = None,
    until: dt.date | None = None,
    only: Sequence[str] | None = None,
) -> list[Sitting]:
    """A player's sessions that hold readings, oldest first.

    Parameters
    ----------
    clubs : names of clubs, upper and lower case alike; none: all.
    only : ids of sessions to look at; None: all.

    Raises
    ------
    BookError
        A club the player has no session with, or a record that is no reading.
    """
    known = {club.id: club for club in book.clubs(player_id)}
    wanted = {name.strip().lower() for name in clubs}
    missing = wanted - {club.name.lower() for club in known.values()}
    if missing:
        raise BookError(
            f"the player has no session with a club called {', '.join(sorted(missing))}",
            remedy=f"Known are {', '.join(sorted({c.name for c in known.values()})) or 'none yet'}.",
        )
    found = []
    for session in book.sessions(player_id):
        club = known[session.club_id]
        if (
            (wanted and club.name.lower() not in wanted)
            or (since is not None and session.day < since)
            or (until is not None and session.day > until)
            or (only is not None and session.id not in only)
        ):
            continue
        readings = newest_of_photos(book.readings(session_id=session.id))
        if readings:
            name = f"{session.day} {session.name}".strip()
            found.append(
                Sitting(session=session, club=club, hit_set=join_readings(readings, name, session, club))
            )
    return found


def newest_of_photos(readings: Sequence[ReadingRow]) -> list[ReadingRow]:
    """Each photo once, as it was read last; in the order of ``readings``."""
    newest = {row.photo_id: row for row in sorted(readings, key=lambda row: row.made)}
    return [row for row in readings if newest[row.photo_id] is row]


def join_readings(readings: Sequence[ReadingRow], name: str, session: SessionRow, club: ClubRow) -> HitSet:
    """Readings of one session as one set of balls.

    Raises
    ------
    BookError
        A record that is no reading.
    """
    try:
        sets = [reading_set(row.current, name=name).strikes for row in readings]
    except (KeyError, TypeError, ValueError) as err:
        raise BookError(
            f"a record of {name} is not the record of a reading ({type(err).__name__}: {str(err)[:60]})",
            remedy="Read the photo again, or delete this reading.",
        ) from None
    return HitSet(
        name=name,
        strikes=sets[0] if len(sets) == 1 else join_strikes(sets),
        kind=ClubKind(club.kind),
        conditions=Conditions(
            club=club.id, effort_frac=session.effort_frac, tee_mm=session.tee_mm, ball=session.ball or None
        ),
    )


def club_sets(found: Sequence[Sitting], *, pool: bool) -> list[HitSet]:
    """Club against club: one set for each club's name, its newest session, or all of them (``pool``)."""
    by_club: dict[str, list[Sitting]] = {}
    for one in found:
        by_club.setdefault(one.club.name, []).append(one)
    sets = []
    for name, group in by_club.items():
        parts = [one.hit_set for one in (group if pool else group[-1:])]
        strikes = parts[0].strikes if len(parts) == 1 else join_strikes([part.strikes for part in parts])
        sets.append(
            replace(
                parts[-1],
                name=name,
                strikes=strikes,
                conditions=Conditions(
                    effort_frac=_only([part.conditions.effort_frac for part in parts]),
                    tee_mm=_only([part.conditions.tee_mm for part in parts]),
                    ball=_only([part.conditions.ball for part in parts]),
                ),
            )
        )
    return sets


def day_sets(found: Sequence[Sitting]) -> list[HitSet]:
    """Day after day: the first session of each day whose noted conditions are those of the last session."""
    days: dict[dt.date, HitSet] = {}
    for one in found:
        if alike(one.session, found[-1].session) and one.club.id == found[-1].club.id:
            days.setdefault(one.session.day, one.hit_set)
    return list(days.values())


def alike(one: SessionRow, other: SessionRow) -> bool:
    """Nothing noted of both sessions differs; what nobody noted becomes a doubt of the comparison."""
    return all(
        here in (None, "") or there in (None, "") or here == there
        for here, there in (
            (one.effort_frac, other.effort_frac),
            (one.tee_mm, other.tee_mm),
            (one.ball, other.ball),
        )
    )


def _only(values: Sequence[_T | None]) -> _T | None:
    """The one value of all parts; None where it was not noted or changed."""
    found = set(values)
    return found.pop() if len(found) == 1 else None


def join_strikes(sets: Sequence[StrikeSet]) -> StrikeSet:
    """Strikes of several photos of one session as one set."""
    told = [one.n_balls for one in sets if one.n_balls is not None]
    caveats = {(c.key, c.detail): c for one in sets for c in one.caveats}
    separable = all(one.separable or one.group is None for one in sets)
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
        group=None if separable else _join_groups([one.group for one in sets if one.group is not None]),
        sweet_spot_from=sets[0].sweet_spot_from,
        caveats=tuple(caveats.values()),
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
