"""Is the book whole? Looks at everything; brings SQLite's log into the file, and changes no row."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import sqlalchemy as sa

from facemark.errors import BookError
from facemark.tell.book.engine import in_words
from facemark.tell.book.evidence import summary_of
from facemark.tell.book.store import Book
from facemark.tell.book.tables import CORRECTION, METADATA, PHOTO, READING, unpack
from facemark.tell.book.wipe import wipe_log

DAMAGED = "its record is damaged"
MAX_TOLD = 20  # troubles of one kind that are listed one by one


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What was counted and what is wrong; no trouble, no line.

    ``damaged``: the file itself or a record cannot be read; a copy is then better. ``notes``: no trouble.
    """

    n_rows: dict[str, int]
    troubles: tuple[str, ...]
    notes: tuple[str, ...]
    damaged: bool


def check_book(book: Book) -> Checked:
    """The database's own check, every reference, every record unpacked, every kept picture at its place.

    Raises
    ------
    BookError
        The book cannot even be read.
    """
    notes = _log_notes(book)
    troubles: list[str] = []
    with book._reading() as connection:
        if book.place.path is not None:
            answers = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
            troubles += [f"database: {answer}" for answer in answers if answer != "ok"]
            for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
                troubles.append(f"database: a row of {row[0]} names a missing row of {row[2]}")
        n_rows = {
            table.name: connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
            for table in METADATA.sorted_tables
        }
    troubles += _records(book)
    damaged = any(line.startswith("database: ") or line.endswith(DAMAGED) for line in troubles)
    troubles += _pictures(book)
    return Checked(n_rows=n_rows, troubles=tuple(troubles), notes=tuple(notes), damaged=damaged)


def _log_notes(book: Book) -> list[str]:
    """Empty the log, so that nothing deleted is left in it; where that may not be, looking goes on."""
    if book.place.path is None:
        return []
    try:
        with in_words(book.place):
            return wipe_log(book._engine)
    except BookError as err:
        return [f"the book's log was left as it is: {err}"]


def _records(book: Book) -> list[str]:
    """Every record can be unpacked, and the columns beside it say what it says."""
    newest = (CORRECTION.c.reading_id == READING.c.id) & (CORRECTION.c.n == READING.c.n_corrections)
    raw, corrected = (
        sa.type_coerce(column, sa.LargeBinary) for column in (READING.c.record, CORRECTION.c.record)
    )
    wanted = sa.select(READING, raw.label("raw"), corrected.label("fixed")).select_from(
        READING.outerjoin(CORRECTION, newest)
    )
    troubles = []
    # Not the records as columns: one that is damaged must not hide the others.
    columns = [column for column in wanted.selected_columns if column.name != "record"]
    with book._reading() as connection:
        for row in connection.execution_options(yield_per=500).execute(wanted.with_only_columns(*columns)):
            try:
                record = unpack(row.raw)
                record = unpack(row.fixed) if row.fixed is not None else record
                numbers = summary_of(record)
            except (zlib.error, ValueError, TypeError, AttributeError):  # no JSON, or not a record's
                troubles.append(f"reading {row.id}: {DAMAGED}")
                continue
            if any(row._mapping[name] != value for name, value in numbers.items()):
                troubles.append(f"reading {row.id}: the numbers beside its record are not the record's")
            if row.n_corrections and row.fixed is None:
                troubles.append(f"reading {row.id}: its newest correction is missing")
    return troubles


def _pictures(book: Book) -> list[str]:
    with book._reading() as connection:
        kept = connection.execute(sa.select(PHOTO).where(PHOTO.c.kept_as.is_not(None))).all()
    troubles = []
    for photo in kept:
        try:
            path = book.place.picture(photo.sha256, photo.kept_as)
        except BookError as err:
            troubles.append(f"photo {photo.id}: {err}")
            continue
        if not path.is_file():
            troubles.append(f"kept picture {path.name} is not at {book.place.photos}")
    return troubles


def troubles_told(checked: Checked) -> list[str]:
    """The troubles, at most twenty of them in full."""
    more = len(checked.troubles) - MAX_TOLD
    return [*checked.troubles[:MAX_TOLD], *([f"... and {more} more"] if more > 0 else [])]
