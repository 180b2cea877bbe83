"""What is put into the book comes out of it, once, on both databases."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from facemark.clubs import typical_club
from facemark.errors import BookError, SetupError
from facemark.inputs import ClubKind, Hand, Setup
from facemark.tell.book.identity import club_of, settings_sha
from facemark.tell.book.store import Book
from facemark.tell.lesson.jobs import Looked
from facemark.tell.lesson.keep import Keeper
from facemark.tell.lesson.photos import Source
from facemark.tell.lesson.who import Face, Told
from tests.tell.book.readings import DAY, facts, group, put, record_of, session_of


def test_a_reading_comes_back_whole(book: Book) -> None:
    session = session_of(book, "Ada")
    record = record_of(group(4))
    row, was_new = book.add_reading(session.id, facts("a"), record, "s")
    assert was_new
    assert row.record == record
    assert row.corrected is None
    assert row.current is row.record
    assert row.label == "not settled"
    assert row.made.utcoffset() == dt.timedelta(0)
    assert book.reading(row.id) == row
    assert book.photo(row.photo_id).taken == facts("a").taken
    assert book.find_reading(facts("a").sha256, "s") == row
    assert book.find_reading(facts("a").sha256, "other settings") is None


def test_the_same_photo_with_the_same_settings_is_one_row(book: Book) -> None:
    first = put(book, "Ada", "a")
    again, was_new = book.add_reading(
        session_of(book, "Ben").id, facts("a"), record_of(group(3)), first.settings_sha
    )
    assert not was_new
    assert again == first
    other, was_new = book.add_reading(first.session_id, facts("a"), record_of(group(3)), "other settings")
    assert was_new
    assert other.photo_id == first.photo_id
    newer, was_new = book.add_reading(
        first.session_id, facts("a"), record_of(group(3)) | {"version": "99.0"}, first.settings_sha
    )
    assert was_new
    assert newer.version == "99.0"


def test_all_readings_of_one_photo_and_its_session(book: Book) -> None:
    first = put(book, "Ada", "a")
    put(book, "Ada", "b")
    second, _ = book.add_reading(first.session_id, facts("a"), record_of(group(3)), "other settings")
    assert book.readings_of_photo(facts("a").sha256) == [first, second]
    assert book.readings_of_photo("0" * 64) == []
    assert book.session_by_id(first.session_id).day == DAY
    with pytest.raises(BookError, match="no session"):
        book.session_by_id(first.id)


@pytest.mark.parametrize(
    "name", ["Ada", "O'Brien", 'a "b" c', "../../etc/passwd", "=1+1", "Jürgen 🏌️", "'; drop table player;--"]
)
def test_any_nickname_is_only_text(book: Book, name: str) -> None:
    row = book.player(name, Hand.LEFT)
    assert row.name == name
    assert book.find_player(name) == row
    assert book.players() == [row]


@pytest.mark.parametrize("name", ["", "  \t ", "x" * 81, "x" * 500, "a\x00b", "a\x1bb"])
def test_nicknames_that_cannot_be(book: Book, name: str) -> None:
    with pytest.raises(SetupError, match="nickname"):
        book.player(name)
    assert book.players() == []


def test_one_player_however_typed(book: Book) -> None:
    row = book.player("  Ada   Lo ")
    assert row.name == "Ada Lo"
    assert book.player("ADA LO").id == row.id
    # One letter e with acute accent, or e and an accent: the same text by Unicode's composition (NFC).
    assert book.player("Ren\u00e9").id == book.player("Rene\u0301").id
    assert book.player("ada lo", Hand.LEFT).hand is Hand.LEFT
    assert book.player("ada lo", Hand.RIGHT).hand is Hand.LEFT  # what was known stays


def test_an_unknown_player_brings_near_names(book: Book) -> None:
    with pytest.raises(BookError) as caught:
        book.find_player("Ada")
    assert "empty" in caught.value.remedy
    book.player("Adam")
    book.player("Zoe")
    with pytest.raises(BookError) as caught:
        book.find_player("Ada")
    assert caught.value.remedy == "Did you mean Adam?"
    with pytest.raises(BookError) as caught:
        book.find_player("Qqq")
    assert "Adam, Zoe" in caught.value.remedy


def test_players_change(book: Book) -> None:
    ada, ben = book.player("Ada"), book.player("Ben")
    until = dt.date(2027, 1, 1)
    changed = book.update_player(ada.id, note="goal: centre", keep_until=until, name="Ada 2")
    assert (changed.note, changed.keep_until, changed.name) == ("goal: centre", until, "Ada 2")
    with pytest.raises(BookError, match="another player"):
        book.update_player(ben.id, name="ADA 2")
    with pytest.raises(SetupError, match="birth"):
        book.update_player(ben.id, birth=dt.date(2015, 1, 1))
    with pytest.raises(BookError, match="no player"):
        book.update_player("nobody", note="x")


def test_clubs_are_told_apart_by_their_numbers(book: Book) -> None:
    iron = typical_club(ClubKind.IRON)
    row = book.club(iron)
    assert book.club(iron) == row
    assert club_of(row.data) == iron
    assert math.isinf(club_of(row.data).bulge_mm)
    driver = book.club(typical_club(ClubKind.DRIVER))
    assert driver.id != row.id
    put(book, "Ada", "a")
    assert book.clubs(book.player("Ada").id) == [driver]
    assert {club.id for club in book.clubs()} == {row.id, driver.id}


def test_sessions_keep_what_was_noted_and_fill_in_the_rest(book: Book) -> None:
    first = session_of(book, "Ada", effort_frac=0.2)
    again = session_of(book, "Ada", effort_frac=0.8, tee_mm=45.0, place="bay 3")
    assert again.id == first.id
    assert (again.effort_frac, again.tee_mm, again.place) == (0.2, 45.0, "bay 3")
    other = session_of(book, "Ada", name="second set")
    assert other.id != first.id
    assert [s.id for s in book.sessions(first.player_id)] == [first.id, other.id]
    with pytest.raises(SetupError, match="weather"):
        session_of(book, "Ada", weather="rain")


def test_readings_by_player_session_club_and_day(book: Book) -> None:
    days = [DAY + dt.timedelta(days=n) for n in range(3)]
    rows = [put(book, "Ada", f"a{n}", day=day) for n, day in enumerate(days)]
    iron = put(book, "Ada", "iron", day=days[1], kind=ClubKind.IRON)
    other = put(book, "Ben", "b", day=days[0])
    ada = book.player("Ada").id

    def ids(**told: object) -> list[str]:
        return [row.id for row in book.readings(**told)]  # type: ignore[arg-type]

    assert set(ids()) == {row.id for row in [*rows, iron, other]}
    assert ids(
        player_id=ada, since=days[1], until=days[1], club_id=book.club(typical_club(ClubKind.IRON)).id
    ) == [iron.id]
    assert ids(session_id=other.session_id) == [other.id]
    assert ids(player_id=ada, newest_first=True, limit=1) == [rows[2].id]
    assert ids(player_id=ada, until=days[0]) == [rows[0].id]


def test_corrections_stand_beside_the_raw_reading(book: Book) -> None:
    raw = put(book, "Ada", "a")
    first, second = record_of(group(4, seed=2)), record_of(group(3, seed=3))
    second["pattern"]["label"] = "toe"
    book.add_correction(raw.id, [{"do": "delete", "letter": "E"}], first, by="coach")
    book.add_correction(raw.id, [{"do": "delete", "letter": "D"}], second)
    row = book.reading(raw.id)
    assert row.record == raw.record
    assert row.current == second
    assert row.label == "toe"
    assert [(c.by, c.record) for c in book.corrections(raw.id)] == [("coach", first), ("player", second)]
    assert book.undo_correction(raw.id).current == first
    assert book.undo_correction(raw.id) == raw
    with pytest.raises(BookError, match="never corrected"):
        book.undo_correction(raw.id)


def test_balls_are_noted_anew_as_a_whole(book: Book) -> None:
    row = put(book, "Ada", "a")
    book.set_balls(row.session_id, [{"curve_draw_m": -8.0}, {"start_push_deg": 2.0}])
    book.set_balls(row.session_id, [{"called_toe_mm": 5.0}], reading_id=row.id)
    book.set_balls(row.session_id, [{"curve_draw_m": -9.0}])
    notes = {(ball.n, ball.reading_id): ball.note for ball in book.balls(row.session_id)}
    assert notes == {(1, None): {"curve_draw_m": -9.0}, (1, row.id): {"called_toe_mm": 5.0}}


def test_blocks_in_the_order_they_were_done(book: Book) -> None:
    ada = book.player("Ada").id
    told = {"effort_frac": 0.2, "n_balls": 10, "verdict": "stay", "plan": {"gap_mm": 15.0}}
    first = book.add_block(ada, focus="strike", n_good=6, **told)
    second = book.add_block(ada, focus="start", n_good=8, **told)
    assert book.blocks(ada) == [first, second]
    assert book.blocks(ada, focus="start") == [second]


def test_a_kept_picture(book: Book) -> None:
    row = put(book, "Ada", "a")
    assert book.photo_bytes(row.photo_id) is None
    path = book.keep_photo(row.photo_id, b"picture", ".JPG")
    assert path.name == f"{facts('a').sha256}.jpg"
    assert path.stat().st_mode & 0o077 == 0
    assert book.photo_bytes(row.photo_id) == b"picture"
    assert book.photo(row.photo_id).kept
    with pytest.raises(BookError, match="cannot be kept"):
        book.keep_photo(row.photo_id, b"", "../sh")


def test_settings_are_the_same_only_if_everything_told_is() -> None:
    driver = typical_club(ClubKind.DRIVER)
    assert settings_sha(Setup(club=driver)) == settings_sha(Setup(club=typical_club(ClubKind.DRIVER)))
    others = [
        Setup(club=driver, n_balls=5),
        Setup(club=driver, hand=Hand.LEFT),
        Setup(club=typical_club(ClubKind.IRON)),
    ]
    assert len({settings_sha(setup) for setup in [Setup(club=driver), *others]}) == 4


def test_a_lesson_makes_room_only_among_the_players_own_readings(book: Book) -> None:
    """Ada's came from another bay while the photo was being read for Ben."""
    theirs = put(book, "Ada", "a")
    session = session_of(book, "Ben")
    older, _ = book.add_reading(session.id, facts("a"), record_of(group(3)), "older settings")
    setup = Setup(club=typical_club(ClubKind.DRIVER))
    sources = (Source(name="a.jpg", path="a.jpg", dated=DAY),)
    row = Keeper(book).put(
        Face(name="a", sources=sources),
        Looked(sha256=(facts("a").sha256,), taken=None, label=None),
        Told(player="Ben", setup=setup, player_from="sheet", club_told=True),
        key="new settings",
        record=record_of(group(4)),
    )
    assert {one.id for one in book.readings()} == {theirs.id, row.id}
    assert older.id != row.id
