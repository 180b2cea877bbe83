"""Several bays write at once and nothing is lost; a killed one loses nothing that was acknowledged.

Small here; ``python -m tests.bench.book`` does it with 8 writers and 200 sessions each.
"""

from __future__ import annotations

import random
import signal
import time
from pathlib import Path

import pytest
import sqlalchemy as sa

from facemark.errors import BookError
from facemark.tell.book import engine
from facemark.tell.book.check import check_book
from facemark.tell.book.store import Book
from facemark.tell.book.tables import READING, SESSION
from tests.book_writer import acknowledged, start
from tests.tell.book.readings import put

N_BAYS, N_SESSIONS = 3, 8


def test_bays_that_write_at_once_lose_nothing(address: str) -> None:
    """They even make the book together: none is there when they start."""
    bays = [start(address, f"bay{n}", N_SESSIONS) for n in range(N_BAYS)]
    said = [acknowledged(bay.communicate(timeout=120)[0]) for bay in bays]
    assert [bay.returncode for bay in bays] == [0] * N_BAYS
    with Book.open(address) as book:
        ids = [row.id for row in book.readings()]
        assert len(ids) == len(set(ids)) == N_SESSIONS * (N_BAYS + 1)
        assert {name for one in said for name in one} == set(ids)
        # Of each shared photo exactly one bay was told that it is new.
        assert sum(was_new for one in said for was_new in one.values()) == len(ids)
        assert len(book.players()) == N_BAYS + 1
        assert len(book.sessions(book.find_player("player of all").id)) == N_SESSIONS
        assert check_book(book).troubles == ()


def test_a_killed_writer_loses_nothing_acknowledged(address: str) -> None:
    with Book.open(address):
        pass
    dice = random.Random(5)
    known: set[str] = set()
    for n in range(2):
        bay = start(address, f"bay{n}", 10_000)
        assert bay.stdout is not None
        first = bay.stdout.readline()  # it has begun
        time.sleep(dice.uniform(0.0, 0.3))
        bay.send_signal(signal.SIGKILL)
        known |= set(acknowledged(first + bay.communicate(timeout=60)[0]))
    assert known
    with Book.open(address) as book:
        here = {row.id for row in book.readings()}
        assert known <= here
        assert len(here) <= len(known) + 2  # at most one a kill was written but not yet told
        assert check_book(book).troubles == ()


def test_a_writer_waits_only_so_long(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite: a second writer gives up politely; PostgreSQL lets both in."""
    monkeypatch.setattr(engine, "PATIENCE_S", 0.2)
    with Book.open(address) as book, Book.open(address) as other, book._writing():
        if book.place.path is None:
            other.player("Ben")
        else:
            with pytest.raises(BookError, match="another program") as caught:
                other.player("Ben")
            assert "nothing was changed" in caught.value.remedy


def test_a_full_disk(tmp_path: Path) -> None:
    """SQLite's own limit of pages says what a full disk says; a server's disk is the server's."""
    with Book.open(tmp_path / "book.db") as book:
        put(book, "Ada", "a")
        with book._engine.connect() as connection:
            n_pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
            connection.exec_driver_sql(f"PRAGMA max_page_count = {n_pages}")
        written = 1
        while (trouble := _refused(book, f"more {written}")) is None and written < 1000:
            written += 1
        assert trouble is not None
        assert "no room left" in str(trouble)
        assert "what was acknowledged is safe" in trouble.remedy
        assert len(book.readings()) == written
        assert check_book(book).troubles == ()


def _refused(book: Book, content: str) -> BookError | None:
    try:
        put(book, "Ada", content)
    except BookError as err:
        return err
    return None


def test_references_are_enforced(book: Book) -> None:
    row = put(book, "Ada", "a")
    for statement in (
        SESSION.delete().where(SESSION.c.id == row.session_id),
        READING.update().values(session_id="00000000-0000-0000-0000-000000000000"),
        SESSION.update().values(effort_frac=1.5),
    ):
        with pytest.raises(BookError), book._writing() as connection:
            connection.execute(statement)
    with book._reading() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(SESSION)).scalar_one() == 1
