"""Leave no trace of what was deleted in the database's own files, as far as that can be done from outside."""

from __future__ import annotations

import sqlalchemy as sa

from facemark.tell.book.tables import METADATA
from facemark.tell.book.where import Place

LOG_IN_USE = (
    "the book's log (…-wal): another program has the book open; close it, then run facemark book check"
)


def wipe(engine: sa.Engine, place: Place) -> list[str]:
    """Overwrite freed space; what could not be done, in words.

    SQLite: deleted rows were overwritten with zeros in the log (secure_delete); bringing the log into the
    file overwrites them there, and packing leaves no freed page. PostgreSQL: rows are given up to be
    overwritten (VACUUM); when that happens is the server's business.
    """
    if place.path is None:
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            for table in METADATA.sorted_tables:
                connection.exec_driver_sql(f'VACUUM "{table.name}"')
        return []
    told = wipe_log(engine)
    if not told:
        _call(engine, "VACUUM")
        told = wipe_log(engine)
    return told


def wipe_log(engine: sa.Engine) -> list[str]:
    """Bring SQLite's log into the file and empty it; a sentence if another program holds it."""
    return [LOG_IN_USE] if _call(engine, "PRAGMA wal_checkpoint(TRUNCATE)") else []


def _call(engine: sa.Engine, statement: str) -> int:
    """Run a statement outside any transaction; the first number of its answer."""
    raw = engine.raw_connection()
    try:
        cursor = raw.cursor()
        answer = cursor.execute(statement).fetchone()
        cursor.close()
    finally:
        raw.close()
    return answer[0] if answer else 0
