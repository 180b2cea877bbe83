"""Photos, readings and corrections of the book."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from facemark.errors import BookError
from facemark.tell.book.base import Base, by_id, change, get_or_put, new_id, now
from facemark.tell.book.coats import surpassed_in
from facemark.tell.book.rows import CorrectionRow, PhotoFacts, PhotoRow, ReadingRow
from facemark.tell.book.tables import CORRECTION, PHOTO, READING, SESSION
from facemark.tell.book.where import PICTURE_ENDINGS
from facemark.version import VERSION

# A reading with the newest correction's record beside it.
WITH_CORRECTION = sa.select(READING, CORRECTION.c.record.label("corrected")).select_from(
    READING.outerjoin(
        CORRECTION,
        (CORRECTION.c.reading_id == READING.c.id) & (CORRECTION.c.n == READING.c.n_corrections),
    )
)


class Evidence(Base):
    """What was read from photos, and what was put right by hand."""

    def add_reading(
        self, session_id: str, photo: PhotoFacts, record: dict[str, Any], settings_sha: str
    ) -> tuple[ReadingRow, bool]:
        """Put a reading in, once: the same photo, settings and version are one row for ever.

        Parameters
        ----------
        session_id : the session it belongs to, if it is new.
        photo : from ``identity.photo_facts``.
        record : ``Reading.to_dict()``.
        settings_sha : from ``identity.settings_sha``.

        Returns
        -------
        The row, and whether it was new. One that was here stays in its session.
        """
        facts = {
            "name": photo.name,
            "taken": photo.taken,
            "width_px": photo.width_px,
            "height_px": photo.height_px,
            "kept_as": None,
        }
        with self._writing() as connection:
            photo_row, _ = get_or_put(connection, PHOTO, {"sha256": photo.sha256}, facts)
            key = {
                "photo_id": photo_row.id,
                "settings_sha": settings_sha,
                "version": str(record.get("version", VERSION)),
            }
            rest = {"session_id": session_id, "made": now(), "record": record, "n_corrections": 0}
            row, was_new = get_or_put(connection, READING, key, rest | summary_of(record))
            return _one(connection, row.id), was_new

    def find_reading(self, sha256: str, settings_sha: str, version: str = VERSION) -> ReadingRow | None:
        """The reading of this photo with these settings, if the book has it."""
        wanted = WITH_CORRECTION.join(PHOTO, PHOTO.c.id == READING.c.photo_id).where(
            PHOTO.c.sha256 == sha256,
            READING.c.settings_sha == settings_sha,
            READING.c.version == version,
        )
        with self._reading() as connection:
            row = connection.execute(wanted).one_or_none()
        return None if row is None else reading_row(row)

    def readings_of_photo(self, sha256: str) -> list[ReadingRow]:
        """Every reading of one photo, whatever settings and version it was read with, oldest first."""
        wanted = (
            WITH_CORRECTION.join(PHOTO, PHOTO.c.id == READING.c.photo_id)
            .where(PHOTO.c.sha256 == sha256)
            .order_by(READING.c.made, READING.c.id)
        )
        with self._reading() as connection:
            return [reading_row(row) for row in connection.execute(wanted)]

    def reading(self, reading_id: str) -> ReadingRow:
        """One reading.

        Raises
        ------
        BookError
            There is none of this id.
        """
        with self._reading() as connection:
            return _one(connection, reading_id)

    def readings(
        self,
        *,
        player_id: str | None = None,
        session_id: str | None = None,
        club_id: str | None = None,
        since: dt.date | None = None,
        until: dt.date | None = None,
        newest_first: bool = False,
        limit: int | None = None,
    ) -> list[ReadingRow]:
        """Readings by the session's day, then as made; ``since`` and ``until`` include their day."""
        wanted = WITH_CORRECTION.join(SESSION, SESSION.c.id == READING.c.session_id)
        equal = (
            (SESSION.c.player_id, player_id),
            (READING.c.session_id, session_id),
            (SESSION.c.club_id, club_id),
        )
        wanted = wanted.where(*(column == value for column, value in equal if value is not None))
        if since is not None:
            wanted = wanted.where(SESSION.c.day >= since)
        if until is not None:
            wanted = wanted.where(SESSION.c.day <= until)
        order = (SESSION.c.day, SESSION.c.name, READING.c.made, READING.c.id)
        wanted = wanted.order_by(*(column.desc() if newest_first else column for column in order))
        with self._reading() as connection:
            return [reading_row(row) for row in connection.execute(wanted.limit(limit))]

    def counted_readings(self, session_id: str) -> list[ReadingRow]:
        """A session's readings, as made, without those whose balls another one counts (``coats.py``)."""
        with self._reading() as connection:
            left_out = surpassed_in(connection, SESSION.c.id == session_id)
        return [row for row in self.readings(session_id=session_id) if row.id not in left_out]

    def add_correction(
        self, reading_id: str, edits: Sequence[Mapping[str, Any]], record: dict[str, Any], by: str = "player"
    ) -> CorrectionRow:
        """Put a reading right; its raw record stays, and so do earlier corrections."""
        with self._writing() as connection:
            n = by_id(connection, READING, reading_id, lock=True).n_corrections + 1
            correction_id = new_id()
            connection.execute(
                CORRECTION.insert().values(
                    id=correction_id,
                    reading_id=reading_id,
                    n=n,
                    made=now(),
                    by=by,
                    edits=[dict(edit) for edit in edits],
                    record=record,
                )
            )
            change(connection, READING, reading_id, {"n_corrections": n} | summary_of(record))
            return _correction(by_id(connection, CORRECTION, correction_id))

    def corrections(self, reading_id: str) -> list[CorrectionRow]:
        """All corrections of a reading, oldest first."""
        wanted = sa.select(CORRECTION).where(CORRECTION.c.reading_id == reading_id).order_by(CORRECTION.c.n)
        with self._reading() as connection:
            return [_correction(row) for row in connection.execute(wanted)]

    def undo_correction(self, reading_id: str) -> ReadingRow:
        """Take the newest correction back; the reading as it then stands.

        Raises
        ------
        BookError
            The reading was never corrected.
        """
        with self._writing() as connection:
            n = by_id(connection, READING, reading_id, lock=True).n_corrections
            if n == 0:
                raise BookError("this reading was never corrected", remedy="There is nothing to take back.")
            connection.execute(
                CORRECTION.delete().where(CORRECTION.c.reading_id == reading_id, CORRECTION.c.n == n)
            )
            change(connection, READING, reading_id, {"n_corrections": n - 1})
            row = _one(connection, reading_id)
            change(connection, READING, reading_id, summary_of(row.current))
            return _one(connection, reading_id)

    # --- pictures, only when asked for ---
    def photo(self, photo_id: str) -> PhotoRow:
        """One photo's row."""
        with self._reading() as connection:
            return photo_row(by_id(connection, PHOTO, photo_id))

    def keep_photo(self, photo_id: str, data: bytes, ext: str) -> Path:
        """Keep a picture beside the book, readable by its owner only.

        ``data`` is stored as it is: hand in a picture without place and card interior. ``ext`` is jpg, png,
        webp or heic.
        """
        ending = ext.lower().lstrip(".")
        if ending not in PICTURE_ENDINGS:
            raise BookError(
                f"a picture ending in {ending[:10]!r} cannot be kept",
                remedy=f"Use {', '.join(PICTURE_ENDINGS)}.",
            )
        from facemark.tell.files import written_whole

        with self._writing() as connection:
            path = self.place.picture(by_id(connection, PHOTO, photo_id).sha256, ending)
            make_private_folder(path.parent)
            with written_whole(path) as temporary:
                temporary.write_bytes(data)
            path.chmod(0o600)
            change(connection, PHOTO, photo_id, {"kept_as": ending})
        return path

    def picture_path(self, photo_id: str) -> Path | None:
        """Where a kept picture lies; None if it was not kept, or was kept on another machine."""
        with self._reading() as connection:
            row = by_id(connection, PHOTO, photo_id)
        path = None if row.kept_as is None else self.place.picture(row.sha256, row.kept_as)
        return path if path is not None and path.is_file() else None

    def photo_bytes(self, photo_id: str) -> bytes | None:
        """A kept picture; None as in ``picture_path``."""
        path = self.picture_path(photo_id)
        return None if path is None else path.read_bytes()


def make_private_folder(folder: Path) -> None:
    """A folder that only its owner can look into, with the folders above it."""
    try:
        if not folder.is_dir():
            folder.mkdir(parents=True, mode=0o700)
    except OSError as err:
        raise BookError(
            f"the folder {folder} could not be made ({os.strerror(err.errno or 0)})",
            remedy="Check the permissions of the folder above it.",
        ) from None


def summary_of(record: Mapping[str, Any]) -> dict[str, Any]:
    """The few columns of a reading that lists and histories need."""
    group, pattern = record.get("group") or {}, record.get("pattern") or {}
    return {
        "label": str(pattern.get("label", "")),
        "n_balls": float(group.get("n_balls") or pattern.get("n_balls") or 0),
        **{name: group.get(name) for name in ("toe_mm", "high_mm", "toe_spread_mm", "high_spread_mm")},
    }


def _one(connection: sa.Connection, reading_id: str) -> ReadingRow:
    by_id(connection, READING, reading_id)
    return reading_row(connection.execute(WITH_CORRECTION.where(READING.c.id == reading_id)).one())


def reading_row(row: sa.Row[Any]) -> ReadingRow:
    names = (
        "id",
        "photo_id",
        "session_id",
        "settings_sha",
        "version",
        "made",
        "record",
        "corrected",
        "label",
    )
    return ReadingRow(**{name: row._mapping[name] for name in names})


def _correction(row: sa.Row[Any]) -> CorrectionRow:
    names = ("id", "reading_id", "made", "by", "edits", "record")
    return CorrectionRow(**{name: row._mapping[name] for name in names})


def photo_row(row: sa.Row[Any]) -> PhotoRow:
    names = ("id", "sha256", "name", "taken", "width_px", "height_px")
    return PhotoRow(**{name: row._mapping[name] for name in names}, kept=row.kept_as is not None)
