"""What leaves the book: the chosen players' rows, and their readings one by one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from facemark.errors import BookError
from facemark.tell.book.coats import surpassed_in
from facemark.tell.book.evidence import WITH_CORRECTION, photo_row, reading_row
from facemark.tell.book.merge import Joining, raw_rows
from facemark.tell.book.people import club_row, clubs_named, player_row, session_row
from facemark.tell.book.rows import ClubRow, PhotoRow, PlayerRow, ReadingRow, SessionRow
from facemark.tell.book.tables import (
    BALL,
    BLOCK,
    CLUB,
    CORRECTION,
    PHOTO,
    PLAYER,
    READING,
    SESSION,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which part of the book; None and empty: all of it."""

    player_ids: tuple[str, ...] = ()
    club: str | None = None  # a club's name
    since: dt.date | None = None
    until: dt.date | None = None

    @property
    def narrowed(self) -> bool:
        """Not every session of the players."""
        return (self.club, self.since, self.until) != (None, None, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outgoing:
    """One reading with everything it belongs to."""

    player: PlayerRow
    club: ClubRow
    session: SessionRow
    photo: PhotoRow
    reading: ReadingRow


class Sending(Joining):
    """Give rows out."""

    def chosen_players(self, choice: Choice) -> list[PlayerRow]:
        """The players a choice speaks of, by name."""
        with self._reading() as connection:
            wanted = sa.select(PLAYER).where(_players(connection, choice)).order_by(PLAYER.c.name_key)
            return [player_row(row) for row in connection.execute(wanted)]

    def check_choice(self, choice: Choice) -> None:
        """Refuse what holds nothing: most likely a name or a day was mistyped.

        Raises
        ------
        BookError
            No club of that name, or no session of that club and those days.
        """
        if not choice.narrowed:
            return
        with self._reading() as connection:
            if choice.club is not None and not clubs_named(connection, choice.club):
                names = sorted(set(connection.execute(sa.select(CLUB.c.name)).scalars()))
                raise BookError(
                    f"there is no club called {choice.club} in the book",
                    remedy=f"Known are {', '.join(names) or 'none yet'}.",
                )
            if connection.execute(_sessions(connection, choice)).first() is None:
                raise BookError(
                    "no session in the book is of this choice",
                    remedy="Look at the clubs and days with facemark history.",
                )

    def chosen_sessions(self, choice: Choice) -> Iterator[tuple[PlayerRow, ClubRow, SessionRow]]:
        """Sessions with player and club, by player, then oldest first."""
        with self._reading() as connection:
            wanted = (
                sa.select(SESSION)
                .join(PLAYER)
                .where(SESSION.c.id.in_(_sessions(connection, choice)))
                .order_by(PLAYER.c.name_key, SESSION.c.day, SESSION.c.name, SESSION.c.id)
            )
            players = {row.id: player_row(row) for row in connection.execute(sa.select(PLAYER))}
            clubs = {row.id: club_row(row) for row in connection.execute(sa.select(CLUB))}
            sessions = [session_row(row) for row in connection.execute(wanted)]
        for session in sessions:
            yield players[session.player_id], clubs[session.club_id], session

    def chosen_readings(self, choice: Choice, *, counted: bool = False) -> Iterator[Outgoing]:
        """Readings in the order of ``chosen_sessions``; one session's at a time in memory.

        ``counted``: without those whose balls another one counts (``coats.py``).
        """
        for player, club, session in self.chosen_sessions(choice):
            mine = READING.c.session_id == session.id
            with self._reading() as connection:
                photos = {
                    row.id: photo_row(row)
                    for row in connection.execute(
                        sa.select(PHOTO).where(PHOTO.c.id.in_(sa.select(READING.c.photo_id).where(mine)))
                    )
                }
                rows = connection.execute(
                    WITH_CORRECTION.where(mine).order_by(READING.c.made, READING.c.id)
                ).all()
                left_out = surpassed_in(connection, SESSION.c.id == session.id) if counted else set()
            for row in rows:
                if row.id in left_out:
                    continue
                reading = reading_row(row)
                yield Outgoing(
                    player=player, club=club, session=session, photo=photos[reading.photo_id], reading=reading
                )

    def chosen_rows(self, choice: Choice) -> Iterator[tuple[str, dict[str, Any]]]:
        """Every row of the choice with its table's name, parents first: all that ``merge_rows`` needs."""
        with self._reading() as connection:
            for table, condition in _conditions(connection, choice).items():
                for row in raw_rows(connection, table, condition):
                    yield table.name, row


def _conditions(connection: sa.Connection, choice: Choice) -> dict[sa.Table, sa.ColumnElement[bool]]:
    """Which rows of each table belong to a choice, parents first."""
    sessions = _sessions(connection, choice)
    players = sa.select(PLAYER.c.id).where(_players(connection, choice))
    in_session = READING.c.session_id.in_(sessions)
    readings = sa.select(READING.c.id).where(in_session)
    return {
        PLAYER: PLAYER.c.id.in_(players),
        CLUB: CLUB.c.id.in_(sa.select(SESSION.c.club_id).where(SESSION.c.id.in_(sessions))),
        SESSION: SESSION.c.id.in_(sessions),
        PHOTO: PHOTO.c.id.in_(sa.select(READING.c.photo_id).where(in_session)),
        READING: in_session,
        CORRECTION: CORRECTION.c.reading_id.in_(readings),
        # A ball may name a reading that was moved to a session outside the choice; then it stays behind.
        BALL: BALL.c.session_id.in_(sessions)
        & (BALL.c.reading_id.is_(None) | BALL.c.reading_id.in_(readings)),
        BLOCK: BLOCK.c.player_id.in_(players)
        & (BLOCK.c.session_id.is_(None) | BLOCK.c.session_id.in_(sessions)),
    }


def _players(connection: sa.Connection, choice: Choice) -> sa.ColumnElement[bool]:
    """Those who were named; of a club or some days, only those who have such a session."""
    named = PLAYER.c.id.in_(choice.player_ids) if choice.player_ids else sa.true()
    if not choice.narrowed:
        return named
    there = sa.select(SESSION.c.player_id).where(SESSION.c.id.in_(_sessions(connection, choice)))
    return named & PLAYER.c.id.in_(there)


def _sessions(connection: sa.Connection, choice: Choice) -> sa.Select[Any]:
    wanted = sa.select(SESSION.c.id)
    if choice.player_ids:
        wanted = wanted.where(SESSION.c.player_id.in_(choice.player_ids))
    if choice.club is not None:
        wanted = wanted.where(SESSION.c.club_id.in_(clubs_named(connection, choice.club)))
    if choice.since is not None:
        wanted = wanted.where(SESSION.c.day >= choice.since)
    if choice.until is not None:
        wanted = wanted.where(SESSION.c.day <= choice.until)
    return wanted
