"""The connection to the book's database, and its troubles in words.

SQLite: write-ahead log and full sync (an acknowledged row survives a killed program and a power cut), foreign
keys on, ten seconds of patience with other writers, and writers that announce themselves at once
(BEGIN IMMEDIATE): a transaction that reads first and writes later may find itself locked out half-way, and
patience does not help there. ``secure_delete`` overwrites what is deleted.
"""

from __future__ import annotations

import contextlib
import glob
import os
import re
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import exc

from facemark.errors import BookError
from facemark.tell.book.where import Place

PATIENCE_S = 10.0  # how long a writer waits for another; a write takes milliseconds
N_WAL_TRIES = 50  # two programs that make one new book at once both switch the log on
BOOK_TABLES = frozenset({"alembic_version", "player"})  # by these a book is told from anything else
CONNECT_S = 10  # how long a server may take to answer


def make_engine(place: Place) -> sa.Engine:
    """An engine for ``place``; nothing is opened yet.

    Raises
    ------
    BookError
        The address is a server's, and the extra for servers is not installed.
    """
    if place.path is None:
        return _server_engine(place)
    engine = sa.create_engine(_file_url(place.path), connect_args={"timeout": PATIENCE_S})

    @sa.event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None  # BEGIN is ours, see below
        _switch_on_log(connection)
        for pragma in ("synchronous = FULL", "foreign_keys = ON", "secure_delete = ON"):
            connection.execute(f"PRAGMA {pragma}")

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _file_url(path: Path) -> sa.URL:
    """Where nothing may be written beside a book, SQLite needs to be told that nobody else writes either."""
    beside = path.absolute().parent
    by_us = {"effective_ids": True} if os.access in os.supports_effective_ids else {}
    log = path.with_name(f"{path.name}-wal")
    if os.access(beside, os.W_OK, **by_us) or not path.is_file() or log.exists():
        return sa.URL.create("sqlite", database=str(path))
    return sa.URL.create("sqlite", database=path.absolute().as_uri(), query={"immutable": "1", "uri": "true"})


def _switch_on_log(connection: sqlite3.Connection) -> None:
    """WAL once and for all; the switch itself does not wait for other writers, so we do.

    A database of something else is left as it is; it will be refused (``migrate.layout_of``).
    """
    for n_try in range(N_WAL_TRIES):
        try:
            found = {name for (name,) in connection.execute("select name from sqlite_master")}
            if not found or found >= BOOK_TABLES:
                connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as err:
            if "locked" not in str(err) or n_try == N_WAL_TRIES - 1:
                raise
            time.sleep(PATIENCE_S / N_WAL_TRIES)


def _server_engine(place: Place) -> sa.Engine:
    try:
        import psycopg  # noqa: F401  # only to say kindly that it is missing
    except ImportError:
        raise BookError(
            "a book on a PostgreSQL server needs the extra 'postgres', which is not installed",
            remedy="Install it: pip install 'facemark[postgres]'.",
        ) from None
    return sa.create_engine(place.url, connect_args={"connect_timeout": CONNECT_S}, pool_pre_ping=True)


@contextlib.contextmanager
def in_words(place: Place) -> Iterator[None]:
    """Turn the database's errors into ours, with what to do next."""
    try:
        yield
    except exc.SQLAlchemyError as err:
        cause: Any = err.orig if isinstance(err, exc.StatementError) else err
        does_not_fit = isinstance(err, exc.StatementError) and (
            not isinstance(err, exc.DBAPIError) or isinstance(err, exc.IntegrityError | exc.DataError)
        )
        raise _error(str(cause).strip(), place, does_not_fit=does_not_fit) from None
    except sqlite3.Error as err:
        raise _error(str(err), place) from None


# What a database says -> what happened, what to do. The first that fits. The signs are whole phrases: what
# is said may hold names of hosts and users.
_FILE_SAID = (
    (
        ("file is not a database",),
        "is no book of facemark",
        "Nothing was changed. Name the book's own file with --book. If this was it, put a copy in its place "
        "({copies}).",
    ),
    (
        ("malformed", "corrupt", "disk i/o error"),
        "is damaged",
        "Nothing was changed. Put a copy in its place ({copies}), or name another book with --book.",
    ),
    (
        ("readonly database",),
        "may not be written",
        "Check the permissions of the file and its folder, or name another book with --book.",
    ),
    (
        ("disk is full",),
        "has no room left on its disk",
        "Make room and try again; what was acknowledged is safe.",
    ),
    (
        ("is locked",),
        "is being written by another program",
        "Wait until it has finished, then try again; nothing was changed.",
    ),
    (
        ("unable to open",),
        "cannot be opened",
        "Check that its folder exists and may be written, or name another book with --book.",
    ),
)
_SERVER_SAID = (
    (
        ("invalid connection option", "invalid port", "port argument", "invalid integer", "invalid sslmode"),
        "has an address that cannot be understood",
        "Write it as postgresql://USER@HOST/DATABASE, after HOST a :PORT if the server has its own.",
    ),
    (
        ("password authentication", "no password", "authentication failed", 'role "', "no pg_hba"),
        "does not let this user in",
        "Check the user's name; the password belongs into PGPASSWORD or the password file (~/.pgpass).",
    ),
    (
        ("permission denied", "read-only transaction"),
        "may not be written by this user",
        "Ask whoever runs the server for the right to write there.",
    ),
    (
        ("no space left", "disk full"),
        "has no room left on its disk",
        "Make room and try again; what was acknowledged is safe.",
    ),
    (
        ("deadlock detected", "lock timeout"),
        "is being written by another program",
        "Wait until it has finished, then try again; nothing was changed.",
    ),
    (
        ("does not exist",),
        "does not exist",
        "Have the database made on the server (createdb), or correct its name.",
    ),
    (
        ("connection", "resolve", "translate host", "timeout"),
        "does not answer",
        "Check the address and the network. Without a network write to a file (--book FILE) and join it "
        "later: facemark book merge FILE.",
    ),
)


def _error(said: str, place: Place, *, does_not_fit: bool = False) -> BookError:
    first_line = said.splitlines()[0][:160] if said else "no reason given"
    if does_not_fit:
        return BookError(
            f"a row does not fit into the book {place} ({first_line})",
            remedy="Fetch the book or export it came from anew; this one may have been altered.",
        )
    for signs, what, remedy in _FILE_SAID if place.path is not None else _SERVER_SAID:
        if any(sign in said.lower() for sign in signs):
            return BookError(f"the book {place} {what} ({first_line})", remedy=_filled(remedy, place))
    return BookError(
        f"the book {place} could not be used ({first_line})",
        remedy="Run facemark book check, and report this.",
    )


def _filled(remedy: str, place: Place) -> str:
    if "{copies}" not in remedy:
        return remedy
    names = ", ".join(copy.name for copy in copies_of(place.path)) if place.path is not None else ""
    return remedy.format(copies=f"made by facemark: {names}" if names else "facemark made none yet")


def copies_of(path: Path) -> list[Path]:
    """Copies that facemark made of a book before it changed its layout, oldest first."""
    ours = re.compile(re.escape(path.name) + r"\.\d{4}-\d{8}T\d+\.bak")
    beside = path.absolute().parent.glob(f"{glob.escape(path.name)}.*.bak")
    return sorted(copy for copy in beside if ours.fullmatch(copy.name))
