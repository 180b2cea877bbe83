"""Bring a book to this program's layout; make one where there is none; refuse a newer one.

The steps lie in ``migrations/versions`` and are shipped. A file is copied before anything in it is changed.
Everything happens in one transaction, under a lock, so that two programs opening one old book do it once.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from facemark.errors import BookError
from facemark.tell.book.engine import BOOK_TABLES
from facemark.tell.book.where import Place
from facemark.tell.files import written_whole

LAYOUT = "0003"  # the newest step; a test holds it against migrations/versions
_LOCK_KEY = (
    7_041_776_001  # any number, the same in every program that migrates; of the server's advisory lock
)


def bring_up_to_date(engine: sa.Engine, place: Place) -> None:
    """Make or migrate the book if it is not of this layout.

    Raises
    ------
    BookError
        A newer program wrote it, or it is a database of something else.
    """
    with engine.connect() as connection:
        found = layout_of(connection, place)
    if found == LAYOUT:
        return
    if found is not None and place.path is not None:
        _copy(place.path, found)
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        if connection.dialect.name == "postgresql":
            connection.execute(sa.text("select pg_advisory_xact_lock(:key)"), {"key": _LOCK_KEY})
        if layout_of(connection, place) != LAYOUT:
            _upgrade(connection, LAYOUT)


def layout_of(connection: sa.Connection, place: Place) -> str | None:
    """The layout the book is in; None: it is still empty."""
    tables = set(sa.inspect(connection).get_table_names())
    if not tables:
        return None
    if not tables >= BOOK_TABLES:
        raise BookError(
            f"{place} is a database of something else (it holds {', '.join(sorted(tables)[:3])})",
            remedy="Name another file or database for the book; nothing was changed.",
        )
    found = connection.execute(sa.text("select version_num from alembic_version")).scalar()
    if found is not None and found > LAYOUT:  # steps are numbered 0001, 0002, ...
        raise BookError(
            f"the book {place} was written by a newer facemark (layout {found}, this program knows {LAYOUT})",
            remedy="Update facemark on this machine; nothing was changed.",
        )
    return found


def alembic_config(connection: sa.Connection) -> Any:
    """Alembic's settings, without an ini file."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def _upgrade(connection: sa.Connection, target: str) -> None:
    from alembic import command

    command.upgrade(alembic_config(connection), target)


def _copy(path: Path, layout: str) -> None:
    """A whole copy beside the book, by SQLite's own means, so that the log's content is in it."""
    when = dt.datetime.now(dt.UTC).strftime("%Y%m%dT%H%M%S%f")
    copy = path.with_name(f"{path.name}.{layout}-{when}.bak")
    with (
        written_whole(copy) as temporary,
        contextlib.closing(sqlite3.connect(path)) as source,
        contextlib.closing(sqlite3.connect(temporary)) as target,
    ):
        source.backup(target)
    shutil.copymode(path, copy)
