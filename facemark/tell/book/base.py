"""What every part of the book stands on: reading and writing transactions, rows put in once."""

from __future__ import annotations

import contextlib
import copy
import datetime as dt
import uuid
from collections.abc import Iterator, Mapping
from typing import Any, Self

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from facemark.errors import BookError
from facemark.tell.book.engine import in_words
from facemark.tell.book.where import Place


def new_id() -> str:
    return str(uuid.uuid4())


def now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


class Base:
    """A book that is open. Safe to share between threads; a process opens its own."""

    def __init__(self, place: Place, engine: sa.Engine) -> None:
        self.place = place
        self._engine = engine
        self._snapshot: sa.Connection | None = None

    @contextlib.contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        """A transaction that only looks."""
        if self._snapshot is not None:
            yield self._snapshot
            return
        with in_words(self.place), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextlib.contextmanager
    def snapshot(self) -> Iterator[Self]:
        """The book as it stands now, to be read only: what others write meanwhile is not seen."""
        if self._snapshot is not None:
            yield self
            return
        engine = self._engine
        if self.place.path is None:
            engine = engine.execution_options(isolation_level="REPEATABLE READ")
        with in_words(self.place), engine.connect() as connection, connection.begin():
            still = copy.copy(self)
            still._snapshot = connection
            yield still

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sa.Connection]:
        """A transaction that writes: all of it or nothing, and others wait."""
        engine = self._engine.execution_options(writes=True)
        with in_words(self.place), engine.connect() as connection, connection.begin():
            yield connection


def put_once(connection: sa.Connection, table: sa.Table, values: Mapping[str, Any]) -> str | None:
    """Insert a row unless its unique key is there already; its id, or None if it was.

    The row count after "do nothing" cannot be relied on with PostgreSQL's driver; the returned id can.
    """
    make = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    statement = make(table).values(values).on_conflict_do_nothing().returning(table.c.id)
    found: str | None = connection.execute(statement).scalar_one_or_none()
    return found


def get_or_put(
    connection: sa.Connection, table: sa.Table, key: Mapping[str, Any], rest: Mapping[str, Any]
) -> tuple[sa.Row[Any], bool]:
    """The row whose unique columns are ``key``, made with ``rest`` if missing; and whether it was made."""
    found = _row(connection, table, key)
    if found is not None:
        return found, False
    made = put_once(connection, table, {"id": new_id(), **key, **rest})
    found = _row(connection, table, key)
    assert found is not None  # ours, or that of whoever was faster
    return found, made is not None


def _row(connection: sa.Connection, table: sa.Table, key: Mapping[str, Any]) -> sa.Row[Any] | None:
    return connection.execute(
        sa.select(table).where(*(table.c[name] == value for name, value in key.items()))
    ).one_or_none()


def by_id(connection: sa.Connection, table: sa.Table, row_id: str, *, lock: bool = False) -> sa.Row[Any]:
    """One row by its id; ``lock`` holds off other writers of it (SQLite's writers wait anyway).

    Raises
    ------
    BookError
        There is none.
    """
    try:
        uuid.UUID(row_id)
    except ValueError:
        found = None
    else:
        wanted = sa.select(table).where(table.c.id == row_id)
        found = connection.execute(wanted.with_for_update() if lock else wanted).one_or_none()
    if found is None:
        raise BookError(
            f"there is no {table.name} {row_id} in the book",
            remedy="It may have been deleted; look again with facemark history.",
        )
    return found


def change(connection: sa.Connection, table: sa.Table, row_id: str, values: Mapping[str, Any]) -> None:
    """Set columns of one row.

    Raises
    ------
    BookError
        There is no such row.
    """
    by_id(connection, table, row_id, lock=True)
    if values:
        connection.execute(table.update().where(table.c.id == row_id).values(**values))
