"""Every ball of a session counts once, whatever photos it stands on."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from facemark.tell.book.coats import of_series
from facemark.tell.book.outgoing import Choice
from facemark.tell.book.store import Book
from facemark.tell.exports.read import import_file
from facemark.tell.exports.write import write_export
from facemark.tell.history import history_lines, look_back
from facemark.tell.report_files import session_from_book
from tests.tell.book.readings import facts, group, record_of, session_of

COATS = [group(3, seed=1), group(4, seed=2), group(2, seed=3)]


def _read(book: Book, photos: str, *, told: bool = True, name: str = "set 1") -> None:
    """A reading of the last of ``photos`` (letters), as a series if there are several, in Ada's set."""
    coats = ["abc".index(photo) for photo in photos]
    record: dict[str, Any] = record_of([point for n in coats for point in COATS[n]])
    if len(photos) > 1:
        shown_first = [index for index, n in enumerate(coats) for _ in COATS[n]]
        for mark, index in zip(record["marks"], shown_first, strict=True):
            mark["photo_index"] = index
        if told:
            record = of_series(record, [facts(photo).sha256 for photo in photos])
    session = session_of(book, "Ada", name=name)
    book.add_reading(session.id, facts(photos[-1]), record, f"settings {photos}")


def _counts(book: Book, tmp_path: Path) -> tuple[float, int, int]:
    """Balls of the history, marks of the report, lines of the exported strikes."""
    ada = book.find_player("Ada")
    (one,) = look_back(book, ada).sessions
    found = session_from_book(book, ada)
    written = write_export(tmp_path / "out.csv", book, Choice())
    with written[0].open(encoding="utf-8-sig", newline="") as file:
        n_lines = len(list(csv.DictReader(file)))
    with Book.open(tmp_path / "back.db") as back:  # and the tables still say what the rows say
        import_file(written[0], back)
    return one.n_balls, sum(len(record["marks"]) for record in found.session.records), n_lines


@pytest.mark.parametrize("told", [True, False], ids=["photos named", "as stored before"])
@pytest.mark.parametrize(
    ("readings", "n_balls"),
    [
        (["a", "ab"], 7),
        (["a", "ab", "abc"], 9),
        (["a", "b", "ab"], 7),  # the second photo alone, then as what it is
        (["a", "b"], 7),  # two coats
    ],
    ids=["next", "chain", "alone first", "two coats"],
)
def test_balls_of_one_coat_count_once(
    book: Book, tmp_path: Path, told: bool, readings: list[str], n_balls: int
) -> None:
    for photos in readings:
        _read(book, photos, told=told)
    assert _counts(book, tmp_path) == (n_balls, n_balls, n_balls)


def test_an_earlier_photo_read_again_does_not_come_back(book: Book, tmp_path: Path) -> None:
    for photos in ("a", "ab"):
        _read(book, photos)
    session = session_of(book, "Ada", name="set 1")
    book.add_reading(session.id, facts("a"), record_of(COATS[0]), "other settings")
    assert _counts(book, tmp_path) == (7, 7, 7)
    assert "7 balls; centre" in history_lines(look_back(book, book.find_player("Ada")))[1]


def test_photos_a_series_does_not_name_stay_beside_it(book: Book, tmp_path: Path) -> None:
    _read(book, "a")
    _read(book, "bc")
    assert _counts(book, tmp_path) == (9, 9, 9)


def test_a_series_of_a_lesson_hides_no_other_face(book: Book, tmp_path: Path) -> None:
    # Stored before series named their photos, in a session that the page did not make.
    _read(book, "a", told=False, name="")
    _read(book, "bc", told=False, name="")
    assert _counts(book, tmp_path) == (9, 9, 9)


def test_a_lessons_series_and_one_of_its_photos_alone_count_once(book: Book, tmp_path: Path) -> None:
    """In a session that is no set of the page, the record's first bytes say that it is of a series."""
    _read(book, "a", name="")
    _read(book, "ab", name="")
    assert _counts(book, tmp_path) == (7, 7, 7)
