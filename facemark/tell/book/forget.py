"""Deleting, and the proof of it. What is deleted is overwritten, as far as a program can see to that."""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
from collections.abc import Iterable, Sequence
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


Picture = Path | str  # where a kept picture lies, or why nobody can say


class Forgetting(Base):
    """Take out again what was put in."""

    def note_export(self, path: Path, player_ids: Sequence[str], *, content: Path | None = None) -> None:
        """Remember a file that was written with these players' data; what lay there before is overwritten.

        ``content``: where the file lies now, if it is about to be moved to ``path``.
        """
        values = {
            "id": new_id(),
            "path": str(path.absolute()),
            "machine": platform.node(),
            "sha256": hashlib.sha256((content or path).read_bytes()).hexdigest(),
            "made": now(),
        }
        before = (EXPORT.c.path == values["path"]) & (EXPORT.c.machine == values["machine"])
        with self._writing() as connection:
            drop_exports(connection, before)
            connection.execute(EXPORT.insert().values(values))
            for player_id in player_ids:
                connection.execute(EXPORT_PLAYER.insert().values(export_id=values["id"], player_id=player_id))

    def exports(self, player_id: str) -> list[Path]:
        """Files this book knows of that hold the player's data, oldest first."""
        wanted = sa.select(EXPORT.c.path).join(EXPORT_PLAYER).where(EXPORT_PLAYER.c.player_id == player_id)
        with self._reading() as connection:
            return [Path(path) for path in connection.execute(wanted.order_by(EXPORT.c.made)).scalars()]

    def n_shared_exports(self, player_id: str) -> int:
        """How many of these files hold other players too."""
        with self._reading() as connection:
            return len(_shared(connection, player_id))

    def forget_player(self, player_id: str) -> Removed:
        """Delete a player: rows, kept pictures, exports still as they were written, copies of older layouts.

        Files go after the rows are gone for certain. An export that other players share goes too. Freed pages
        of the file are overwritten and the file is packed. The proof lists what went and what may remain
        elsewhere.

        Raises
        ------
        BookError
            There is no such player.
        """
        when = now()
        with self._writing() as connection:
            name = by_id(connection, PLAYER, player_id, lock=True).name
            shared = _shared(connection, player_id)
            exports = connection.execute(
                sa.select(EXPORT).join(EXPORT_PLAYER).where(EXPORT_PLAYER.c.player_id == player_id)
            ).all()
            rows, pictures = self._drop_player(connection, player_id)
        files, remains, gone = _delete_exports(exports)
        # The rows are gone already: a book that is busy just now may go on naming a file that is not there.
        with contextlib.suppress(BookError), self._writing() as connection:
            rows["export"] += drop_exports(connection, EXPORT.c.id.in_(gone))
        shared_files = tuple(row.path for row in exports if row.id in shared and row.path in files)
        for more, left in (_delete_pictures(pictures), self._delete_copies()):
            files += more
            remains += left
        remains += self._wipe()
        remains += BEYOND_US if self.place.path is not None else (*BEYOND_US, BEYOND_US_SERVER)
        return Removed(
            what=name,
            when=when,
            rows=rows,
            files=tuple(files),
            remains=tuple(remains),
            shared_files=shared_files,
        )

    def _drop_player(self, connection: sa.Connection, player_id: str) -> tuple[dict[str, int], list[Picture]]:
        """All rows of a player, and the kept pictures that nothing needs any more."""
        found = sa.select(SESSION.c.id, SESSION.c.club_id).where(SESSION.c.player_id == player_id)
        held = connection.execute(found.with_for_update()).all()  # nobody adds a reading meanwhile
        sessions = sa.select(SESSION.c.id).where(SESSION.c.player_id == player_id)
        readings = sa.select(READING.c.id).where(READING.c.session_id.in_(sessions))
        rows = _drop_readings(connection, readings, BALL.c.session_id.in_(sessions))
        rows["block"] = _drop(connection, BLOCK, BLOCK.c.player_id == player_id)
        _free_blocks(connection, BLOCK.c.session_id.in_(sessions))  # other players' that name such a session
        rows["session"] = _drop(connection, SESSION, SESSION.c.player_id == player_id)
        rows["club"] = _drop_clubs(connection, {row.club_id for row in held})
        _drop(connection, EXPORT_PLAYER, EXPORT_PLAYER.c.player_id == player_id)
        rows["export"] = _drop(connection, EXPORT, EXPORT.c.id.not_in(sa.select(EXPORT_PLAYER.c.export_id)))
        pictures = self._drop_photos(connection, rows)
        rows["player"] = _drop(connection, PLAYER, PLAYER.c.id == player_id)
        return rows, pictures

    def delete_session(self, session_id: str) -> Removed:
        """Delete a session with its readings, balls, kept pictures, and its club if no other session has it.

        Practice blocks stay.

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
            _free_blocks(connection, BLOCK.c.session_id == session_id)
            rows["session"] = _drop(connection, SESSION, SESSION.c.id == session_id)
            rows["club"] = _drop_clubs(connection, {row.club_id})
            pictures = self._drop_photos(connection, rows)
        files, remains = _delete_pictures(pictures)
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
            pictures = self._drop_photos(connection, rows)
        files, remains = _delete_pictures(pictures)
        return Removed(what="reading", when=when, rows=rows, files=tuple(files), remains=tuple(remains))

    def _wipe(self) -> list[str]:
        """Overwrite freed space. The rows are gone already, so trouble here is told and stops nothing."""
        try:
            with in_words(self.place):
                return wipe(self._engine, self.place)
        except BookError as err:
            return [f"the file could not be packed: {err}. Deleted rows are overwritten all the same"]

    def _drop_photos(self, connection: sa.Connection, rows: dict[str, int]) -> list[Picture]:
        """Photos that no reading needs any more; their kept pictures are to be deleted."""
        orphans = PHOTO.c.id.not_in(sa.select(READING.c.photo_id))
        kept = connection.execute(sa.select(PHOTO).where(orphans, PHOTO.c.kept_as.is_not(None))).all()
        pictures: list[Picture] = []
        for photo in kept:
            try:
                pictures.append(self.place.picture(photo.sha256, photo.kept_as))
            except BookError as err:  # an altered row: its player can be forgotten all the same
                pictures.append(str(err))
        rows["photo"] = _drop(connection, PHOTO, orphans)
        return pictures

    def _delete_copies(self) -> tuple[list[str], list[str]]:
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


def _drop_clubs(connection: sa.Connection, club_ids: Iterable[str]) -> int:
    """Those of the clubs that no session has any more."""
    return _drop(connection, CLUB, CLUB.c.id.in_(club_ids) & CLUB.c.id.not_in(sa.select(SESSION.c.club_id)))


def _free_blocks(connection: sa.Connection, which: sa.ColumnElement[bool]) -> None:
    connection.execute(BLOCK.update().where(which).values(session_id=None))


def _shared(connection: sa.Connection, player_id: str) -> set[str]:
    """Exports of a player that hold others too."""
    mine = sa.select(EXPORT_PLAYER.c.export_id).where(EXPORT_PLAYER.c.player_id == player_id)
    others = sa.select(EXPORT_PLAYER.c.export_id).where(
        EXPORT_PLAYER.c.export_id.in_(mine), EXPORT_PLAYER.c.player_id != player_id
    )
    return set(connection.execute(others).scalars())


def drop_exports(connection: sa.Connection, which: sa.ColumnElement[bool]) -> int:
    """Forget files, whoever is in them."""
    _drop(connection, EXPORT_PLAYER, EXPORT_PLAYER.c.export_id.in_(sa.select(EXPORT.c.id).where(which)))
    return _drop(connection, EXPORT, which)


def _delete_exports(exports: Sequence[sa.Row[Any]]) -> tuple[list[str], list[str], list[str]]:
    """Delete exported files that are still what was written, tell of the others; ids of those now gone."""
    files: list[str] = []
    remains: list[str] = []
    gone: list[str] = []
    for row in sorted(exports, key=lambda row: row.made):
        path = Path(row.path)
        if row.machine != platform.node():
            remains.append(f"{path} on {row.machine}: that is another machine")
        elif not (path.is_file() or path.is_symlink()):  # deleted or moved by its owner
            gone.append(row.id)
        elif (trouble := _destroy_if_same(path, row.sha256)) is None:
            files.append(str(path))
            gone.append(row.id)
        else:
            remains.append(f"{path} ({trouble}): look at it yourself")
    return files + _delete_empty_folders(files), remains, gone


def _delete_empty_folders(files: Sequence[str]) -> list[str]:
    """Folders that ``export --all`` made (only those hold a README.txt), once nothing is left in them."""
    gone = []
    for readme in (Path(file) for file in files if Path(file).name == "README.txt"):
        for folder in (readme.with_name("photos"), readme.parent):
            with contextlib.suppress(OSError):  # not there, or somebody put more into it
                folder.rmdir()
                gone.append(str(folder))
    return gone


def _delete_pictures(pictures: Sequence[Picture]) -> tuple[list[str], list[str]]:
    files, remains = [], []
    for picture in pictures:
        trouble = destroy(picture) if isinstance(picture, Path) else "its name was altered"
        if trouble is None:
            files.append(str(picture))
        else:
            remains.append(f"a kept picture, {picture} ({trouble}): on another machine, or moved")
    return files, remains


def _destroy_if_same(path: Path, sha256: str) -> str | None:
    if path.is_symlink():
        return destroy(path)
    try:
        same = hashlib.sha256(path.read_bytes()).hexdigest() == sha256
    except OSError as err:
        return str(err.strerror)
    return destroy(path) if same else "changed since it was written"


def destroy(path: Path) -> str | None:
    """Overwrite a file with zeros, then delete it; None, or why it could not be done.

    A link is only taken away: what it leads to may be anything. A disk that writes elsewhere may still hold
    the old blocks.
    """
    try:
        if path.is_symlink():
            target = path.readlink()
            path.unlink()
            return f"a link, now deleted; the file was moved to {target}"
        with path.open("r+b") as file:
            file.write(bytes(path.stat().st_size))
            file.flush()
            os.fsync(file.fileno())
        path.unlink()
    except OSError as err:
        return str(err.strerror)
    return None
