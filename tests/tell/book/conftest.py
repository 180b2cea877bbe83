"""Every test of the book runs on both databases: a file, and a real server."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from facemark.tell.book.store import Book
from tests.postgres import make_schema, need_postgres, running_server


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    with running_server(need_postgres()) as address:
        yield address


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("FACEMARK_HOME", str(folder))
    monkeypatch.delenv("FACEMARK_BOOK", raising=False)
    return folder


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty book may be made."""
    return new_address(request, tmp_path, request.param)


def new_address(request: pytest.FixtureRequest, tmp_path: Path, kind: str) -> str:
    if kind == "sqlite":
        return str(tmp_path / f"{uuid.uuid4().hex}.db")
    return make_schema(request.getfixturevalue("server"), f"book_{uuid.uuid4().hex}")


@pytest.fixture
def book(address: str) -> Iterator[Book]:
    with Book.open(address) as opened:
        yield opened


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book without anything, to be copied: making one takes longer than all the rest."""
    path = tmp_path_factory.mktemp("empty") / "empty.db"
    with Book.open(path):
        return path
