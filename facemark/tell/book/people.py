"""Players, clubs and sessions of the book."""

from __future__ import annotations

import datetime as dt
from typing import Any

import sqlalchemy as sa

from facemark.errors import BookError, SetupError
from facemark.inputs import Club, ClubKind, Hand
from facemark.record import plain
from facemark.tell.book.base import Base, by_id, change, get_or_put, now
from facemark.tell.book.identity import clean_name, content_sha, name_key, near_names
from facemark.tell.book.rows import ClubRow, PlayerRow, SessionRow
from facemark.tell.book.tables import CLUB, PLAYER, SESSION

# What may be told of a session, and what stands there when it is not.
CONDITIONS: dict[str, Any] = {
    "place": "",
    "ground": "",
    "ball": "",
    "effort_frac": None,
    "tee_mm": None,
    "note": "",
}

SESSION_COLUMNS = tuple(SessionRow.__dataclass_fields__)


class People(Base):
    """Who, with which club, when."""

    def player(self, name: str, hand: Hand | None = None) -> PlayerRow:
        """The player of this nickname, made if new; ``hand`` fills in what was not known.

        Raises
        ------
        SetupError
            The nickname is empty, too long or not writable.
        """
        rest = {"name": clean_name(name), "hand": hand, "note": "", "keep_until": None, "created": now()}
        with self._writing() as connection:
            row, _ = get_or_put(connection, PLAYER, {"name_key": name_key(name)}, rest)
            if hand is not None and row.hand is None:
                change(connection, PLAYER, row.id, {"hand": hand.value})
            return player_row(by_id(connection, PLAYER, row.id))

    def find_player(self, name: str) -> PlayerRow:
        """The player of this nickname.

        Raises
        ------
        BookError
            Nobody is called so; near names are told.
        """
        with self._reading() as connection:
            row = connection.execute(
                sa.select(PLAYER).where(PLAYER.c.name_key == name_key(name))
            ).one_or_none()
        if row is not None:
            return player_row(row)
        names = [player.name for player in self.players()]
        near = near_names(name, names)
        if near:
            remedy = f"Did you mean {' or '.join(near)}?"
        elif names:
            remedy = f"The book knows {', '.join(names[:8])}{', ...' if len(names) > 8 else ''}."
        else:
            remedy = "The book is empty; read photos into it first."
        raise BookError(f"there is no player {clean_name(name)} in the book {self.place}", remedy=remedy)

    def player_by_id(self, player_id: str) -> PlayerRow:
        """One player.

        Raises
        ------
        BookError
            There is none of this id.
        """
        with self._reading() as connection:
            return player_row(by_id(connection, PLAYER, player_id))

    def players(self) -> list[PlayerRow]:
        """All players, by name."""
        with self._reading() as connection:
            return [
                player_row(row) for row in connection.execute(sa.select(PLAYER).order_by(PLAYER.c.name_key))
            ]

    def update_player(self, player_id: str, **fields: Any) -> PlayerRow:
        """Change name, hand, note or keep_until.

        Raises
        ------
        BookError
            There is no such player, or the new nickname is another player's.
        SetupError
            A field that a player has not.
        """
        _check_fields(fields, {"name", "hand", "note", "keep_until"})
        if "name" in fields:
            fields |= {"name": clean_name(fields["name"]), "name_key": name_key(fields["name"])}
        with self._writing() as connection:
            taken = connection.execute(
                sa.select(PLAYER.c.id).where(PLAYER.c.name_key == fields.get("name_key", ""))
            ).scalar()
            if taken not in (None, player_id):
                raise BookError(
                    f"the nickname {fields['name']} is another player's", remedy="Choose another nickname."
                )
            change(connection, PLAYER, player_id, fields)
            return player_row(by_id(connection, PLAYER, player_id))

    def club(self, club: Club) -> ClubRow:
        """The row of exactly these numbers, made if new."""
        data = plain(club)
        rest = {"name": club.name, "kind": club.kind, "data": data, "created": now()}
        with self._writing() as connection:
            return club_row(get_or_put(connection, CLUB, {"data_sha": content_sha(data)}, rest)[0])

    def club_by_id(self, club_id: str) -> ClubRow:
        """One club. Errors as in ``player_by_id``."""
        with self._reading() as connection:
            return club_row(by_id(connection, CLUB, club_id))

    def clubs(self, player_id: str | None = None) -> list[ClubRow]:
        """All clubs, or those a player has sessions with, by name."""
        wanted = sa.select(CLUB).order_by(CLUB.c.name, CLUB.c.created)
        if player_id is not None:
            played = sa.select(SESSION.c.club_id).where(SESSION.c.player_id == player_id)
            wanted = wanted.where(CLUB.c.id.in_(played))
        with self._reading() as connection:
            return [club_row(row) for row in connection.execute(wanted)]

    def session(
        self, player_id: str, club_id: str, day: dt.date, *, name: str = "", **conditions: Any
    ) -> SessionRow:
        """The session of player, club, day and name, made if new.

        ``conditions``: place, ground, ball, effort_frac, tee_mm, note. In a session that exists they fill in
        what was not noted; what was noted stays.
        """
        _check_fields(conditions, set(CONDITIONS))
        key = {"player_id": player_id, "club_id": club_id, "day": day, "name": name.strip()}
        with self._writing() as connection:
            row, was_new = get_or_put(
                connection, SESSION, key, {**CONDITIONS, **conditions, "created": now()}
            )
            if not was_new:
                here = row._mapping
                missing = {
                    field: value
                    for field, value in conditions.items()
                    if here[field] in ("", None) and value not in ("", None)
                }
                change(connection, SESSION, row.id, missing)
            return session_row(by_id(connection, SESSION, row.id))

    def session_by_id(self, session_id: str) -> SessionRow:
        """One session. Errors as in ``player_by_id``."""
        with self._reading() as connection:
            return session_row(by_id(connection, SESSION, session_id))

    def sessions(self, player_id: str) -> list[SessionRow]:
        """A player's sessions, oldest first."""
        wanted = (
            sa.select(SESSION)
            .where(SESSION.c.player_id == player_id)
            .order_by(SESSION.c.day, SESSION.c.name, SESSION.c.created)
        )
        with self._reading() as connection:
            return [session_row(row) for row in connection.execute(wanted)]


def _check_fields(fields: dict[str, Any], known: set[str]) -> None:
    unknown = sorted(set(fields) - known)
    if unknown:
        raise SetupError(
            f"the book has no place for {', '.join(unknown)}", remedy=f"Known are {', '.join(sorted(known))}."
        )


def clubs_named(connection: sa.Connection, name: str) -> list[str]:
    """Ids of the clubs of a name; compared here, because SQLite knows small letters of English only."""
    wanted = name.strip().casefold()
    rows = connection.execute(sa.select(CLUB.c.id, CLUB.c.name))
    return [row.id for row in rows if row.name.strip().casefold() == wanted]


def player_row(row: sa.Row[Any]) -> PlayerRow:
    return PlayerRow(
        id=row.id,
        name=row.name,
        hand=None if row.hand is None else Hand(row.hand),
        note=row.note,
        keep_until=row.keep_until,
        created=row.created,
    )


def club_row(row: sa.Row[Any]) -> ClubRow:
    return ClubRow(id=row.id, name=row.name, kind=ClubKind(row.kind), data=row.data, created=row.created)


def session_row(row: sa.Row[Any]) -> SessionRow:
    """The session in a row that may hold more columns."""
    return SessionRow(**{name: row._mapping[SESSION.c[name]] for name in SESSION_COLUMNS})
