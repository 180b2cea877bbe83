"""What a lesson left behind: rows of the book, processes of the machine."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path
from typing import Any

from facemark.tell.book.store import Book


def rows(path: Path) -> set[tuple[Any, ...]]:
    """Who, which photo, how many marks and where; and the file is sound."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    found = []
    with Book.open(path) as book:
        for player in book.players():
            for row in book.readings(player_id=player.id):
                marks = tuple((mark["toe_mm"], mark["high_mm"]) for mark in row.record["marks"])
                found.append((player.name, book.photo(row.photo_id).sha256, marks))
    assert len({sha256 for _, sha256, _ in found}) == len(found)
    return set(found)


def child_processes(pid: int) -> list[int]:
    """Everything a process started, down to the last; empty where the system does not tell."""
    found = []
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        with contextlib.suppress(OSError):
            for child in task.read_text().split():
                found += [int(child), *child_processes(int(child))]
    return found


def gone(pid: int) -> bool:
    """Ended, or ended and not yet buried by its parent."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except OSError:
        return True
