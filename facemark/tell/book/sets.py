"""Sessions of the book as sets of balls, for everything in explain/ that compares sets.

Photos of one session are joined: their marks stand side by side, those of a series once (``coats.py``).
Each photo has its own placement error; the worst of them is taken as common to all, which is on the safe side
(independent errors would partly cancel).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from facemark.errors import BookError
from facemark.explain.hitset import Conditions, HitSet
from facemark.inputs import ClubKind
from facemark.tell.book.rows import ClubRow, ReadingRow, SessionRow
from facemark.tell.book.store import Book
from facemark.tell.reading_file import reading_set
from facemark.tell.session_join import join_strikes

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """A session with its club and its balls."""

    session: SessionRow
    club: ClubRow
    hit_set: HitSet  # named after the day, and the session's name where it has one

    @property
    def has_balls(self) -> bool:
        """Not only photos without a mark."""
        strikes = self.hit_set.strikes
        return bool(strikes.strikes) or (not strikes.separable and strikes.group is not None)


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
    wanted = {name.strip().casefold() for name in clubs}
    missing = wanted - {club.name.strip().casefold() for club in known.values()}
    if missing:
        raise BookError(
            f"the player has no session with a club called {', '.join(sorted(missing))}",
            remedy=f"Known are {', '.join(sorted({c.name for c in known.values()})) or 'none yet'}.",
        )
    found = []
    for session in book.sessions(player_id):
        club = known[session.club_id]
        if (
            (wanted and club.name.strip().casefold() not in wanted)
            or (since is not None and session.day < since)
            or (until is not None and session.day > until)
            or (only is not None and session.id not in only)
        ):
            continue
        readings = book.counted_readings(session.id)
        if readings:
            name = f"{session.day} {session.name}".strip()
            found.append(
                Sitting(session=session, club=club, hit_set=join_readings(readings, name, session, club))
            )
    return found


def join_readings(readings: Sequence[ReadingRow], name: str, session: SessionRow, club: ClubRow) -> HitSet:
    """Readings of one session as one set of balls.

    Raises
    ------
    BookError
        A record that is no reading.
    """
    try:
        sets = [reading_set(row.current, name=name).strikes for row in readings]
    except (KeyError, TypeError, ValueError, AttributeError) as err:
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
    for one in (one for one in found if one.has_balls):
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
    found = [one for one in found if one.has_balls]
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
