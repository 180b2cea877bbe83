"""A bay that was offline joins; from either database into either."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from facemark.errors import BookError
from facemark.inputs import Hand
from facemark.tell.book.store import Book
from tests.tell.book.conftest import new_address
from tests.tell.book.readings import DAY, group, put, record_of
from tests.tell.book.test_forget import counts, fill


@pytest.fixture(params=["sqlite", "postgresql"])
def bay(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Book]:
    """The other bay's book."""
    (tmp_path / "bay").mkdir()
    with Book.open(new_address(request, tmp_path / "bay", request.param)) as opened:
        yield opened


def test_everything_comes_over_once(book: Book, bay: Book) -> None:
    fill(bay, "Ada", 3)
    merged = book.merge(bay)
    assert merged.known == {}
    assert merged.added == {name: n for name, n in counts(bay).items() if n}
    assert counts(book) == counts(bay)
    assert book.readings() == bay.readings()
    assert book.players() == bay.players()
    assert book.corrections(book.readings()[0].id) == bay.corrections(bay.readings()[0].id)
    assert book.photo_bytes(book.readings()[0].photo_id) == b"picture of Ada"
    again = book.merge(bay)
    assert again.added == {}
    assert again.known == merged.added
    assert counts(book) == counts(bay)


def test_duplicates_are_recognised_by_content(book: Book, bay: Book) -> None:
    here = put(book, "Ada", "same photo")
    put(book, "Ada", "only here")
    there = put(bay, "  ADA ", "same photo", tee_mm=40.0)
    put(bay, "Ada", "only there")
    bay.player("Ada", Hand.LEFT)
    merged = book.merge(bay)
    assert merged.known == {"player": 1, "club": 1, "session": 1, "photo": 1, "reading": 1}
    assert merged.added == {"photo": 1, "reading": 1}
    assert here.id != there.id
    (player,) = book.players()
    assert player.hand is Hand.LEFT
    (session,) = book.sessions(player.id)
    assert session.tee_mm == 40.0
    assert len(book.readings(session_id=session.id)) == 3


def test_sets_under_different_conditions_stay_apart(book: Book, bay: Book) -> None:
    put(book, "Ada", "slow", effort_frac=0.2)
    put(bay, "Ada", "fast", effort_frac=0.8)
    for _ in range(2):  # joining twice is joining once
        book.merge(bay)
        slow, fast = sorted(
            book.sessions(book.find_player("Ada").id), key=lambda session: session.effort_frac or 0
        )
        assert (slow.effort_frac, fast.effort_frac) == (0.2, 0.8)
        assert slow.name != fast.name
        assert [row.record["photo"] for row in book.readings(session_id=fast.id)] == [
            record_of(group(5))["photo"]
        ]
        assert len(book.readings()) == 2


def test_corrections_of_both_bays_in_the_order_they_were_made(book: Book, bay: Book) -> None:
    mine, theirs = put(book, "Ada", "a"), put(bay, "Ada", "a")
    records = [record_of(group(n, seed=n)) for n in (3, 4, 5)]
    records[2]["pattern"]["label"] = "heel"
    book.add_correction(mine.id, [], records[0], by="first")
    bay.add_correction(theirs.id, [], records[1], by="second")
    book.add_correction(mine.id, [], records[2], by="third")
    book.merge(bay)
    book.merge(bay)
    assert [c.by for c in book.corrections(mine.id)] == ["first", "second", "third"]
    assert book.reading(mine.id).current == records[2]
    assert book.reading(mine.id).label == "heel"
    assert book.undo_correction(mine.id).current == records[1]


def test_a_player_renamed_since_is_still_the_same(book: Book, bay: Book) -> None:
    put(bay, "Ada", "a")
    book.merge(bay)
    book.update_player(book.find_player("Ada").id, name="Ada Lo")
    put(bay, "Ada", "b", day=DAY + dt.timedelta(days=1))
    book.merge(bay)
    (player,) = book.players()
    assert player.name == "Ada Lo"
    assert len(book.readings(player_id=player.id)) == 2


def test_exports_of_the_other_bay_are_known(book: Book, bay: Book, tmp_path: Path) -> None:
    put(bay, "Ada", "a")
    path = tmp_path / "bay-export.csv"
    path.write_text("toe_mm", encoding="utf-8")
    bay.note_export(path, [bay.find_player("Ada").id])
    book.merge(bay)
    assert book.exports(book.find_player("Ada").id) == [path]


def test_a_book_cannot_join_itself(book: Book) -> None:
    with pytest.raises(BookError, match="itself"):
        book.merge(book)
