"""A bay that writes into a book: a process of its own, for tests and benches of writing together.

    python -m tests.book_writer ADDRESS BAY N_SESSIONS

Prints one line a reading, after the book acknowledged it: session's day, the reading's id, whether it was
new. All bays read the same photos on their last session of a day, so duplicates are certain.
"""

from __future__ import annotations

import datetime as dt
import subprocess
import sys

from facemark.tell.book.store import Book
from tests.tell.book.readings import DAY, facts, group, record_of, session_of


def write(address: str, bay: str, n_sessions: int) -> None:
    """One session after the other: a reading of the bay's own, and one that every bay has."""
    with Book.open(address) as book:
        for n in range(n_sessions):
            day = DAY + dt.timedelta(days=n)
            own = session_of(book, f"player of {bay}", day)
            shared = session_of(book, "player of all", day)
            for session, content in ((own, f"{bay} {n}"), (shared, f"shared {n}")):
                record = record_of(group(5, seed=n))
                row, was_new = book.add_reading(session.id, facts(content), record, "s" * 64)
                print(day, row.id, was_new, flush=True)


def start(address: str, bay: str, n_sessions: int) -> subprocess.Popen[str]:
    """Start a bay; its lines come on standard output."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.book_writer", address, bay, str(n_sessions)],
        stdout=subprocess.PIPE,
        text=True,
    )


def acknowledged(output: str) -> dict[str, bool]:
    """Id of each reading that was acknowledged, and whether it was new; a line cut short was not."""
    lines = [line.split() for line in output.splitlines() if len(line.split()) == 3]
    return {reading_id: was_new == "True" for _, reading_id, was_new in lines if was_new in ("True", "False")}


if __name__ == "__main__":
    write(sys.argv[1], sys.argv[2], int(sys.argv[3]))
