"""Deleting, and the proof of it. What is deleted is overwritten, as far as a program can see to that."""

from __future__ import annotations

import hashlib
import os
import platform
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from facemark.errors import BookError
from facemark.tell.book.base import Base, by_id, new_id, now
from facemark.tell.book.engine import copies_of, in_words
from facemark.tell.book.rows import Removed
from facemark.tell.book.tables import (
    BALL,
    BLOCK,
    CLUB,
    CORRECTION,
    EXPORT,
    EXPORT_PLAYER,
    PHOTO,
    PLAYER,
    READING,
    SESSION,
)
from facemark.tell.book.wipe import wipe

# What no program on this machine can see to; printed with every proof.
BEYOND_US = (
    "copies that people made themselves, printed pages, messages sent, backups of the whole machine",
    "the books of other bays that have not joined: forget the player there too, before they do",
)
BEYOND_US_SERVER = "the server's own log, its backups and its freed space: ask whoever runs the server"


class Forgetting(Base):
    """Take out again what was put in."""

    def note_export(self, path: Path, player_ids: Sequence[str]) -> None:
        """Remember a file that was written with these players' data."""
        values = {
            "id": new_id(),
            "path": str(path.absolute()),
            "machine": platform.node(),
            "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
            "made": now(),
        }
        with self._writing() as connection:
            connection.execute(EXPORT.insert().values(values))
            for player_id in player_ids:
                connection.execute(EXPORT_PLAYER.insert().values(export_id=values["id"], player_id=player_id))

    def exports(self, player_id: str) -> list[Path]:
        """Files this book knows of that hold the player's data, oldest first."""
        wanted = sa.select(EXPORT.c.path).join(EXPORT_PLAYER).where(EXPORT_PLAYER.c.player_id == player_id)
        with self._reading() as connection:
            return [Path(path) for path in connection.execute(wanted.order_by(EXPORT.c.made)).scalars()]

    def forget_player(self, player_id: str) -> Removed:
        """Delete a player: rows, kept pictures, exports still as they were written, copies of older layouts.

        Freed pages of the file are overwritten and the file is packed. The proof lists what went and what
        may remain elsewhere.

        Raises
        ------
        BookError
            There is no such player.
        """
        when = now()
        sessions = sa.select(SESSION.c.id).where(SESSION.c.player_id == player_id)
        mine = EXPORT.c.id.in_(
            sa.select(EXPORT_PLAYER.c.export_id).where(EXPORT_PLAYER.c.player_id == player_id)
        )
        with self._writing() as connection:
            name = by_id(connection, PLAYER, player_id, lock=True).name
            clubs = connection.execute(
                sa.select(SESSION.c.club_id).where(SESSION.c.player_id == player_id).distinct()
            )
            club_ids = list(clubs.scalars())
            files, remains = _drop_exports(connection, mine)
            exports = connection.execute(sa.select(EXPORT.c.id).where(mine)).scalars().all()
            readings = sa.select(READING.c.id).where(READING.c.session_id.in_(sessions))
            rows = _drop_readings(connection, readings, BALL.c.session_id.in_(sessions))
            rows["block"] = _drop(connection, BLOCK, BLOCK.c.player_id == player_id)
            rows["session"] = _drop(connection, SESSION, SESSION.c.player_id == player_id)
            rows["club"] = _drop(
                connection, CLUB, CLUB.c.id.in_(club_ids) & CLUB.c.id.not_in(sa.select(SESSION.c.club_id))
            )
            _drop(connection, EXPORT_PLAYER, EXPORT_PLAYER.c.export_id.in_(exports))
            rows["export"] = _drop(connection, EXPORT, EXPORT.c.id.in_(exports))
            pictures, elsewhere = self._drop_photos(connection, rows)
            rows["player"] = _drop(connection, PLAYER, PLAYER.c.id == player_id)
        copies, stuck = self._drop_copies()
        files += [*pictures, *copies]
        remains += [*elsewhere, *stuck, *self._wipe()]
        remains += BEYOND_US if self.place.path is not None else (*BEYOND_US, BEYOND_US_SERVER)
        return Removed(what=name, when=when, rows=rows, files=tuple(files), remains=tuple(remains))

    def delete_session(self, session_id: str) -> Removed:
        """Delete one session with its readings, balls and kept pictures; practice blocks stay.

        Raises
        ------
        BookError
            There is no such session.
        """
        when = now()
        with self._writing() as connection:
            row = by_id(connection, SESSION, session_id, lock=True)
            readings = sa.select(READING.c.id).where(READING.c.session_id == session_id)
            rows = _drop_readings(connection, readings, BALL.c.session_id == session_id)
            connection.execute(BLOCK.update().where(BLOCK.c.session_id == session_id).values(session_id=None))
            rows["session"] = _drop(connection, SESSION, SESSION.c.id == session_id)
            files, remains = self._drop_photos(connection, rows)
        return Removed(
            what=f"session of {row.day}", when=when, rows=rows, files=tuple(files), remains=tuple(remains)
        )

    def delete_reading(self, reading_id: str) -> Removed:
        """Delete one reading with its corrections, its balls' notes and, if no other reading needs it, its
        photo.

        Raises
        ------
        BookError
            There is no such reading.
        """
        when = now()
        with self._writing() as connection:
            by_id(connection, READING, reading_id, lock=True)
            readings = sa.select(READING.c.id).where(READING.c.id == reading_id)
            rows = _drop_readings(connection, readings, BALL.c.reading_id == reading_id)
            files, remains = self._drop_photos(connection, rows)
        return Removed(what="reading", when=when, rows=rows, files=tuple(files), remains=tuple(remains))

    def _wipe(self) -> list[str]:
        """Overwrite freed space. The rows are gone already, so trouble here is told and stops nothing."""
        try:
            with in_words(self.place):
                return wipe(self._engine, self.place)
        except BookError as err:
            return [f"the file could not be packed: {err}. Deleted rows are overwritten all the same"]

    def _drop_photos(self, connection: sa.Connection, rows: dict[str, int]) -> tuple[list[str], list[str]]:
        """Photos that no reading needs any more, with their kept pictures."""
        orphans = PHOTO.c.id.not_in(sa.select(READING.c.photo_id))
        files, remains = [], []
        for photo in connection.execute(sa.select(PHOTO).where(orphans, PHOTO.c.kept_as.is_not(None))):
            path = self.place.photos / f"{photo.sha256}.{photo.kept_as}"
            trouble = destroy(path)
            if trouble is None:
                files.append(str(path))
            else:
                remains.append(f"a kept picture, {path} ({trouble}): on another machine, or moved")
        rows["photo"] = _drop(connection, PHOTO, orphans)
        return files, remains

    def _drop_copies(self) -> tuple[list[str], list[str]]:
        """Copies made before a change of layout: they hold the player too, and the book is in order."""
        troubles = {copy: destroy(copy) for copy in copies_of(self.place.path)} if self.place.path else {}
        gone = [str(copy) for copy, trouble in troubles.items() if trouble is None]
        return gone, [f"{copy} ({trouble})" for copy, trouble in troubles.items() if trouble is not None]


def _drop(connection: sa.Connection, table: sa.Table, which: sa.ColumnElement[bool]) -> int:
    return connection.execute(table.delete().where(which)).rowcount


def _drop_readings(
    connection: sa.Connection, readings: sa.Select[Any], balls: sa.ColumnElement[bool]
) -> dict[str, int]:
    return {
        "ball": _drop(connection, BALL, balls | BALL.c.reading_id.in_(readings)),
        "correction": _drop(connection, CORRECTION, CORRECTION.c.reading_id.in_(readings)),
        "reading": _drop(connection, READING, READING.c.id.in_(readings)),
    }


def _drop_exports(connection: sa.Connection, which: sa.ColumnElement[bool]) -> tuple[list[str], list[str]]:
    """Delete exported files that are still what was written; tell of the others."""
    gone, remains = [], []
    for row in connection.execute(sa.select(EXPORT).where(which).order_by(EXPORT.c.made)):
        path = Path(row.path)
        if row.machine != platform.node():
            remains.append(f"{path} on {row.machine}: that is another machine")
        elif path.is_file():  # else it was deleted or moved by its owner
            trouble = _destroy_if_same(path, row.sha256)
            if trouble is None:
                gone.append(str(path))
            else:
                remains.append(f"{path} ({trouble}): look at it yourself")
    return gone, remains


def _destroy_if_same(path: Path, sha256: str) -> str | None:
    try:
        same = hashlib.sha256(path.read_bytes()).hexdigest() == sha256
    except OSError as err:
        return str(err.strerror)
    return destroy(path) if same else "changed since it was written"


def destroy(path: Path) -> str | None:
    """Overwrite a file with zeros, then delete it; None, or why it could not be done.

    A disk that writes elsewhere may still hold the old blocks.
    """
    try:
        with path.open("r+b") as file:
            file.write(bytes(path.stat().st_size))
            file.flush()
            os.fsync(file.fileno())
        path.unlink()
    except OSError as err:
        return str(err.strerror)
    return None
