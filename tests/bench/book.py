"""How the book behaves when it is large, and when many write: python -m tests.bench.book

Three things, on SQLite and on a throw-away PostgreSQL (where its binaries are found): many writers at once,
a writer killed at random moments, and a player's history in a book of 100 000 readings. Records are a real
reading's, its numbers shaken, so that they pack as real ones do. Commits go to the disk (FULL, fsync).
"""

from __future__ import annotations

import argparse
import datetime as dt
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa

import facemark
from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind, Setup
from facemark.tell.book.base import new_id, now
from facemark.tell.book.check import check_book
from facemark.tell.book.evidence import summary_of
from facemark.tell.book.store import Book
from facemark.tell.book.tables import PHOTO, PLAYER, READING, SESSION, pack
from facemark.tell.history import look_back
from tests.book_writer import acknowledged, start
from tests.postgres import binaries, make_database, running_server
from tests.tell.book.readings import DAY, facts

PHOTO_FILE = Path(__file__).parent.parent.parent / "fixtures" / "photos" / "driver-tags.jpg"
N_DISTINCT = 1000  # records that differ; more would only take longer to make
N_ASKED = 30  # players whose history is asked for


@contextmanager
def places(folder: Path) -> Iterator[dict[str, str]]:
    """An address with ``{}`` for a name, for each database at hand."""
    with ExitStack() as stack:
        found = {"SQLite": str(folder / "{}.db")}
        programs = binaries()
        if programs is None:
            print("PostgreSQL: no binaries on this machine (Debian: apt install postgresql), not measured")
        else:
            found["PostgreSQL"] = stack.enter_context(running_server(programs, durable=True))
        yield found


def address_of(kind: str, place: str, name: str) -> str:
    return place.format(name) if kind == "SQLite" else make_database(place, name)


def many_writers(kind: str, place: str, n_writers: int, n_sessions: int) -> None:
    address = address_of(kind, place, "writers")
    began = time.perf_counter()
    bays = [start(address, f"bay{n}", n_sessions) for n in range(n_writers)]
    said = [acknowledged(bay.communicate()[0]) for bay in bays]
    took = time.perf_counter() - began
    failed = sum(bay.returncode != 0 for bay in bays)
    with Book.open(address) as book:
        here = {row.id for row in book.readings()}
        troubles = check_book(book).troubles
    lost = len({name for one in said for name in one} - here)
    wanted = n_sessions * (n_writers + 1)
    print(
        f"{kind}: {n_writers} writers x {n_sessions} sessions at once: {len(here)} of {wanted} readings, "
        f"{lost} lost, {failed} writers failed, {len(troubles)} troubles   (wanted: all there); "
        f"{sum(map(len, said)) / took:.0f} acknowledged a second"
    )


def killed_writers(kind: str, place: str, n_kills: int) -> None:
    address = address_of(kind, place, "killed")
    with Book.open(address):
        pass
    dice = random.Random(20261125)
    known: set[str] = set()
    for n in range(n_kills):
        bay = start(address, f"bay{n}", 100_000)
        assert bay.stdout is not None
        first = bay.stdout.readline()
        time.sleep(dice.uniform(0.0, 1.5))
        bay.send_signal(signal.SIGKILL)
        known |= set(acknowledged(first + bay.communicate()[0]))
    with Book.open(address) as book:
        here = {row.id for row in book.readings()}
        troubles = check_book(book).troubles
    print(
        f"{kind}: writer killed (SIGKILL) at {n_kills} random moments: {len(known)} acknowledged, "
        f"{len(known - here)} of them missing, {len(troubles)} troubles   (wanted: none missing, none)"
    )


def large_book(kind: str, place: str, n_players: int, n_sessions: int, n_photos: int) -> None:
    address = address_of(kind, place, "large")
    began = time.perf_counter()
    with Book.open(address) as book:
        fill(book, n_players, n_sessions, n_photos)
        n_readings = n_players * n_sessions * n_photos
        took = time.perf_counter() - began
        size = size_bytes(book)
        print(
            f"{kind}: book of {n_readings} readings ({n_players} players x {n_sessions} sessions x "
            f"{n_photos} photos), {size / 1e6:.0f} MB, {size / n_readings / 1e3:.1f} kB a reading; "
            f"made in {took:.0f} s"
        )
        dice = random.Random(1)
        names = [f"player {n}" for n in dice.sample(range(n_players), min(N_ASKED, n_players))]
        players = [book.find_player(name) for name in names]
        look_back(book, players.pop())  # libraries are loaded once
        rows = [timed(lambda p=player: book.summaries(p.id)) for player in players]  # type: ignore[misc]
        first = [timed(lambda p=player: look_back(book, p)) for player in players]  # type: ignore[misc]
        whole = [timed(lambda p=player: look_back(book, p)) for player in players]  # type: ignore[misc]
        print(
            f"{kind}: history of one player, with the sentence on first and last: {ms(whole)}   "
            f"(wanted: <= 100 ms); its sessions alone: {ms(rows)}; the first time ever, when the patterns of "
            f"{n_sessions} sessions must be worked out from {n_sessions * n_photos} records: {ms(first)}"
        )
    process = timed(
        lambda: subprocess.run(
            [sys.executable, "-m", "facemark", "history", names[0], "--book", address],
            check=True,
            stdout=subprocess.DEVNULL,
        )
    )
    print(f"{kind}: the same as a command, with Python and its libraries loading: {1000 * process:.0f} ms")


def ms(times_s: list[float]) -> str:
    worst = 1000 * max(times_s)
    return f"{1000 * statistics.median(times_s):.0f} ms (median of {len(times_s)}, worst {worst:.0f})"


def timed(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def size_bytes(book: Book) -> int:
    if book.place.path is not None:
        return book.place.path.stat().st_size
    with book._reading() as connection:
        return int(connection.exec_driver_sql("select pg_database_size(current_database())").scalar_one())


def fill(book: Book, n_players: int, n_sessions: int, n_photos: int) -> None:
    """Many rows at once; the columns are those that ``add_reading`` writes."""
    dice = random.Random(7)
    records = shaken_records(dice)
    club = book.club(typical_club(ClubKind.DRIVER)).id
    for n_player in range(n_players):
        name, made = f"player {n_player}", now()
        player = {
            "id": new_id(),
            "name": name,
            "name_key": name,
            "hand": None,
            "note": "",
            "keep_until": None,
        }
        rows: dict[sa.Table, list[dict[str, Any]]] = {
            PLAYER: [player | {"keep_until": None, "created": made}],
            SESSION: [],
            PHOTO: [],
            READING: [],
        }
        for n_session in range(n_sessions):
            session = {
                "id": new_id(),
                "player_id": player["id"],
                "club_id": club,
                "name": "",
                "place": "",
                "day": DAY + dt.timedelta(days=7 * n_session),
                "ground": "mat",
                "ball": "",
                "note": "",
                "effort_frac": 0.5,
                "tee_mm": 45.0,
                "created": made,
            }
            rows[SESSION].append(session)
            for n_photo in range(n_photos):
                told = facts(f"{n_player} {n_session} {n_photo}")
                photo = {
                    "id": new_id(),
                    "sha256": told.sha256,
                    "name": told.name,
                    "taken": told.taken,
                    "width_px": told.width_px,
                    "height_px": told.height_px,
                    "kept_as": None,
                }
                packed, columns = dice.choice(records)
                rows[PHOTO].append(photo)
                rows[READING].append(
                    {
                        "id": new_id(),
                        "photo_id": photo["id"],
                        "session_id": session["id"],
                        "made": made,
                        "settings_sha": "s" * 64,
                        "version": "0.1.0",
                        "record": packed,
                        "n_corrections": 0,
                    }
                    | columns
                )
        with book._writing() as connection:
            for table, lines in rows.items():
                connection.execute(table.insert(), lines)
    if book.place.path is None:
        with book._engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.exec_driver_sql("ANALYZE")  # a server does so by itself within a minute


def shaken_records(dice: random.Random) -> list[tuple[bytes, dict[str, Any]]]:
    """A real reading's record with every number moved a little, packed; and its columns."""
    setup = Setup(
        club=typical_club(ClubKind.DRIVER),
        hand=Hand.RIGHT,
        reference=Reference(kind=ReferenceKind.TAGS, size_mm=23.9),
        n_balls=3,
    )
    record = facemark.read(facemark.load(PHOTO_FILE), setup).to_dict()

    def shaken(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: shaken(item) for key, item in value.items()}
        if isinstance(value, list):
            return [shaken(item) for item in value]
        if isinstance(value, float) and value:
            digits = len(repr(value).split(".")[-1])
            return round(value * dice.uniform(0.9, 1.1), digits)
        return value

    made = [shaken(record) for _ in range(N_DISTINCT)]
    packed = [pack(one) for one in made]
    plain = statistics.mean(len(repr(one)) for one in made)
    print(
        f"a record: {plain / 1e3:.0f} kB as text, {statistics.mean(map(len, packed)) / 1e3:.1f} kB packed "
        f"(kept whole: outline, ranges and doubts are what an old reading is checked by)"
    )
    return [(one, summary_of(whole)) for one, whole in zip(packed, made, strict=True)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--writers", type=int, default=8)
    parser.add_argument("--sessions", type=int, default=200)
    parser.add_argument("--kills", type=int, default=10)
    parser.add_argument(
        "--players", type=int, default=1000, help="of the large book; 25 sessions of 4 photos each"
    )
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, places(Path(folder)) as found:
        for kind, place in found.items():
            many_writers(kind, place, told.writers, told.sessions)
            killed_writers(kind, place, told.kills)
            large_book(kind, place, told.players, 25, 4)


if __name__ == "__main__":
    main()
