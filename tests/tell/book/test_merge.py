"""A bay that was offline joins; from either database into either."""

from __future__ import annotations

import datetime as dt
import sqlite3
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


def test_notes_of_balls_are_not_doubled(book: Book, bay: Book) -> None:
    row = put(bay, "Ada", "a")
    bay.set_balls(row.session_id, [{"start_push_deg": 1.0}, {"start_push_deg": 2.0}])
    bay.set_balls(row.session_id, [{"called_toe_mm": 5.0}], reading_id=row.id)
    book.merge(bay)
    (session,) = book.sessions(book.find_player("Ada").id)
    before = book.balls(session.id)
    assert len(before) == 3
    bay.set_balls(row.session_id, [{"start_push_deg": 3.0}])  # noted anew there: other ids
    assert book.merge(bay).known["ball"] == 2
    assert book.balls(session.id) == before


def test_an_export_written_again_there_is_one_file(book: Book, bay: Book, tmp_path: Path) -> None:
    ada = put(bay, "Ada", "a")
    path = tmp_path / "ada.csv"
    for content in ("first", "second"):
        path.write_text(content, encoding="utf-8")
        bay.note_export(path, [bay.session_by_id(ada.session_id).player_id])
        book.merge(bay)
    here = book.find_player("Ada").id
    assert book.exports(here) == [path]
    path.write_text("third", encoding="utf-8")
    book.note_export(path, [here])
    book.merge(bay)  # knows the second content only
    proof = book.forget_player(here)
    assert str(path) in proof.files
    assert not any(str(path) in line for line in proof.remains)


def test_a_kept_picture_comes_whole_or_later(
    book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Book.open(tmp_path / "bay.db") as bay:
        row = put(bay, "Ada", "a")
        theirs = bay.keep_photo(row.photo_id, b"picture", "jpg")
        ours = book.place.photos / theirs.name
        for call in ("read_bytes", "write_bytes"):
            with monkeypatch.context() as patch:
                patch.setattr(Path, call, _no_disk)
                with pytest.raises(BookError, match="could not be"):
                    book.merge(bay)
            assert not ours.exists()
            assert len(book.readings()) == 1
        book.merge(bay)
    assert ours.read_bytes() == b"picture"
    assert ours.stat().st_mode & 0o077 == 0


def _no_disk(*_: object) -> None:
    raise OSError(5, "Input/output error")


def test_a_book_altered_by_hand_is_refused(book: Book, tmp_path: Path) -> None:
    with Book.open(tmp_path / "altered.db") as bay:
        put(bay, "Ada", "a")
        with sqlite3.connect(tmp_path / "altered.db") as connection:  # references are not held by itself
            connection.execute("delete from photo")
        connection.close()
        with pytest.raises(BookError, match="no book holds") as caught:
            book.merge(bay)
    assert "book check" in caught.value.remedy
    assert book.players() == []


def test_what_was_deleted_here_comes_back(book: Book, bay: Book) -> None:
    """So the proof says: forget the player in the other bay too, before it joins."""
    put(bay, "Ada", "a")
    book.merge(bay)
    proof = book.forget_player(book.find_player("Ada").id)
    assert any("other bays" in line for line in proof.remains)
    assert book.merge(bay).added["reading"] == 1
