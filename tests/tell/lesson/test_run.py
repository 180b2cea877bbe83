"""Every photo accounted for: read once, known again, doubled, nobody's, bad. Workers are played."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from facemark.inputs import Hand, Setup
from facemark.tell.book.coats import SERIES
from facemark.tell.book.rows import PhotoFacts
from facemark.tell.book.store import Book
from facemark.tell.lesson.command import _write_sheet
from facemark.tell.lesson.contact import _lines
from facemark.tell.lesson.jobs import Draw, Job, Outcome, Read
from facemark.tell.lesson.keep import Keeper
from facemark.tell.lesson.run import Entry, LessonRun, Status
from facemark.tell.lesson.sheet import LessonSheet, SheetLine
from facemark.tell.lesson.summary import Tally, entry_record, summary_lines
from facemark.tell.session_report import Session, session_report
from facemark.tell.words import group_line
from tests.tell.lesson.players import SETUP, Inline, common, faces_of, pretend, write_photos

PHOTOS = {
    "ben/driver/1.jpg": "one",
    "ben/driver/2.jpg": "two",
    "ben/driver/3.jpg": "bad",
    "mia/iron/4.jpg": "two",  # the same picture under another name, another player
    "mia/iron/5.jpg": "five",
    "6.jpg": "six",
}


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Book]:
    monkeypatch.setenv("FACEMARK_HOME", str(tmp_path / "home"))
    with Book.open(tmp_path / "book.db") as opened:
        yield opened


@pytest.fixture
def photos(tmp_path: Path) -> Path:
    write_photos(tmp_path / "photos", PHOTOS)
    return tmp_path / "photos"


def run(
    book: Book,
    folder: Path,
    *,
    engine: Inline | None = None,
    setup: Setup = SETUP,
    pictures: bool = False,
    fast: bool = False,
    sheet: LessonSheet | None = None,
) -> dict[str, Entry]:
    lesson = LessonRun(
        faces_of(folder, sheet),
        common=common(setup),
        keeper=Keeper(book),
        fast=fast,
        want_pictures=pictures,
    )
    return {entry.face.name: entry for entry in lesson.entries(engine or Inline())}  # type: ignore[arg-type]


def contents(book: Book) -> set[tuple[object, ...]]:
    """What the book holds, without ids and times."""
    clubs = {club.id: club.name for club in book.clubs()}
    found = set()
    for player in book.players():
        for session in book.sessions(player.id):
            for row in book.readings(session_id=session.id):
                photo = book.photo(row.photo_id)
                found.add((player.name, clubs[session.club_id], session.day, photo.name, photo.sha256))
    return found


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("room", [1, 2, 50])
def test_each_photo_has_one_end_whatever_the_order_of_work(
    book: Book, photos: Path, room: int, newest_first: bool
) -> None:
    entries = run(book, photos, engine=Inline(room=room, newest_first=newest_first))
    assert {name: entry.status for name, entry in entries.items()} == {
        "6.jpg": Status.WHOSE,
        "ben/driver/1.jpg": Status.READ,
        "ben/driver/2.jpg": Status.READ,
        "ben/driver/3.jpg": Status.FAILED,
        "mia/iron/4.jpg": Status.SAME,
        "mia/iron/5.jpg": Status.READ,
    }
    assert entries["mia/iron/4.jpg"].note == "is the same picture as ben/driver/2.jpg"
    held = {(player, club, name) for player, club, _, name, _ in contents(book)}
    assert held == {
        ("ben", "typical driver", "1.jpg"),
        ("ben", "typical driver", "2.jpg"),
        ("mia", "typical iron", "5.jpg"),
    }
    assert entries["6.jpg"].failed is not None
    assert "--player" in entries["6.jpg"].failed.remedy


def test_a_second_run_reads_nothing_and_says_the_same(book: Book, photos: Path) -> None:
    first = run(book, photos)
    engine = Inline()
    second = run(book, photos, engine=engine)
    # Only the bad photo is tried again.
    assert [job.sources[0].name for job in engine.done if isinstance(job, Read)] == ["ben/driver/3.jpg"]
    for name, entry in first.items():
        if entry.status is Status.READ:
            assert second[name].status is Status.KNOWN
            assert (second[name].reading_id, second[name].record) == (entry.reading_id, entry.record)
        else:
            assert second[name].status is entry.status
    assert said(first) == said(second)


def said(entries: dict[str, Entry]) -> list[str]:
    """The lines about players; the counts below them tell new from known."""
    tally = Tally()
    for entry in entries.values():
        tally.add(entry)
    lines = summary_lines(tally, ())
    return lines[: lines.index("")]


def test_a_run_that_dies_on_the_way_goes_on_where_it_was(book: Book, photos: Path, tmp_path: Path) -> None:
    class Killed(BaseException):
        pass

    def killed_at(n: int) -> Inline:
        left = [n]

        def work(job: Job) -> Outcome:
            left[0] -= 1
            if left[0] < 0:
                raise Killed
            return pretend(job)

        return Inline(work, room=2)

    with Book.open(tmp_path / "whole.db") as whole:
        run(whole, photos)
        expected = contents(whole)
    n_reads = 0
    for n in range(12):
        engine = killed_at(n)
        try:
            run(book, photos, engine=engine)
        except Killed:
            engine.done.pop()  # the one it died of
        n_reads += sum(
            isinstance(job, Read) and job.sources[0].name != "ben/driver/3.jpg" for job in engine.done
        )
    run(book, photos)
    assert contents(book) == expected
    # Read, then killed before the answer was kept: at most the two in hand are done again at each death.
    assert len(book.readings()) == 3


def test_a_corrected_sheet_puts_the_new_reading_in_place_of_the_old(book: Book, photos: Path) -> None:
    run(book, photos)
    entries = run(book, photos, setup=replace(SETUP, n_balls=6))
    assert entries["ben/driver/1.jpg"].status is Status.READ
    assert len(book.readings()) == 3
    assert all(len(row.record["marks"]) == 6 for row in book.readings())
    # --fast is another way of reading, and its numbers may differ.
    assert (
        run(book, photos, setup=replace(SETUP, n_balls=6), fast=True)["ben/driver/1.jpg"].status
        is Status.READ
    )
    assert len(book.readings()) == 3


def test_what_was_put_right_by_hand_stays(book: Book, photos: Path) -> None:
    entry = run(book, photos)["ben/driver/1.jpg"]
    assert entry.reading_id is not None
    assert entry.record is not None
    corrected = entry.record | {"marks": entry.record["marks"][:2], "n_least": 2}
    book.add_correction(entry.reading_id, [{"do": "remove"}], corrected)
    again = run(book, photos, setup=replace(SETUP, n_balls=6))["ben/driver/1.jpg"]
    assert (again.status, again.record) == (Status.KNOWN, corrected)
    assert "by hand" in (again.note or "")


def test_what_was_put_right_by_hand_is_counted(book: Book, photos: Path) -> None:
    entry = run(book, photos)["ben/driver/1.jpg"]
    assert entry.reading_id is not None
    assert entry.record is not None
    corrected = entry.record | {"marks": entry.record["marks"][:2], "n_least": 2}
    book.add_correction(entry.reading_id, [{"do": "remove"}], corrected)
    assert any("ben, driver: 2 photos, 6 marks" in line for line in said(run(book, photos)))
    # So it is where the sheet says something else now, and the correction stands.
    six = said(run(book, photos, setup=replace(SETUP, n_balls=6)))
    assert any("ben, driver: 2 photos, 8 marks" in line for line in six)


def test_a_copy_that_nobody_owns_does_not_hide_the_photo_that_somebody_does(book: Book, photos: Path) -> None:
    # "0..." comes before "ben": looked at first, nobody's, or of a club that cannot be.
    write_photos(photos, {"0.jpg": "one", "ben/0_club/8.jpg": "two"})
    line = SheetLine(player="ben", club="no such club")
    sheet = LessonSheet(file="lesson.toml", lines=(("ben/0_club/8.jpg", line),))
    entries = run(book, photos, sheet=sheet)
    assert entries["0.jpg"].status is Status.WHOSE
    assert entries["ben/0_club/8.jpg"].status is Status.FAILED
    assert entries["ben/driver/1.jpg"].status is Status.READ
    assert entries["ben/driver/2.jpg"].status is Status.READ


def test_a_photo_of_another_player_is_shown_as_hers(book: Book, photos: Path) -> None:
    run(book, photos)
    write_photos(photos, {"ada/iron/5.jpg": "five"})  # mia's, filed wrongly, and looked at first
    entries = run(book, photos)
    wrong = entries["ada/iron/5.jpg"]
    assert wrong.is_anothers
    assert (entry_record(wrong)["player"], wrong.player) == ("mia", "mia")
    assert _lines(wrong)[0][0].startswith("mia, ")
    right = entries["mia/iron/5.jpg"]
    assert (right.status, right.note) == (Status.KNOWN, None)


def test_another_day_or_tee_in_the_sheet_moves_the_reading(book: Book, photos: Path) -> None:
    def told(**words: object) -> LessonSheet:
        return LessonSheet(file="lesson.toml", lines=(("*", SheetLine(**words)),))  # type: ignore[arg-type]

    day = dt.date(2026, 5, 4)
    ben = "ben/driver/1.jpg"
    for sheet, name in (
        (told(tee_mm=40.0, day=day), "tee 40 mm"),
        (told(tee_mm=45.0, day=day), "tee 45 mm"),
        (told(tee_mm=45.0, day=day + dt.timedelta(days=1)), "tee 45 mm"),
    ):
        assert run(book, photos, sheet=sheet)[ben].status is Status.READ
        again = run(book, photos, sheet=sheet)[ben]
        assert again.status is Status.KNOWN
        assert again.session is not None
        assert (again.session.name, again.session.day) == (name, sheet.lines[0][1].day)
        assert len(book.readings()) == 3


def test_balls_of_another_effort_are_not_joined(book: Book, photos: Path) -> None:
    line = SheetLine(effort_frac=0.7)
    lines = said(run(book, photos, sheet=LessonSheet(file="lesson.toml", lines=(("ben/*/1.jpg", line),))))
    assert [words.split(";")[0] for words in lines] == [
        "ben, driver: 1 photo, 4 marks",
        "ben, driver, effort 70 %: 1 photo, 4 marks",
        "mia, iron: 1 photo, 4 marks",
    ]


def test_a_hand_said_for_one_photo_holds_for_the_player_in_every_run(book: Book, photos: Path) -> None:
    line = SheetLine(hand=Hand.LEFT)
    sheet = LessonSheet(file="lesson.toml", lines=(("ben/driver/2.jpg", line),))
    first = run(book, photos, sheet=sheet)["ben/driver/1.jpg"]
    assert first.told is not None
    assert first.told.setup.hand is Hand.LEFT
    again = run(book, photos, sheet=sheet)["ben/driver/1.jpg"]
    assert (again.status, again.reading_id) == (Status.KNOWN, first.reading_id)


def test_a_photo_of_another_player_is_left_with_him(book: Book, photos: Path) -> None:
    run(book, photos)
    moved = photos.parent / "later"
    write_photos(moved, {"zoe/driver/9.jpg": "one"})
    entry = run(book, moved)["zoe/driver/9.jpg"]
    assert entry.status is Status.KNOWN
    assert "is in the book as ben's" in (entry.note or "")
    assert "zoe" not in {player.name for player in book.players()}
    # And it is not counted as Zoe's either.
    tally = Tally()
    tally.add(entry)
    assert tally.sets == {}


def test_a_photo_that_the_page_read_stays_in_its_set(book: Book, photos: Path) -> None:
    entry = run(book, photos)["ben/driver/1.jpg"]
    assert entry.reading_id is not None
    (row,) = [one for one in book.readings() if one.id == entry.reading_id]
    session = book.session_by_id(row.session_id)
    on_page = book.session(session.player_id, session.club_id, session.day, name="set 1")
    facts = PhotoFacts(sha256=entry.sha256 or "", name="face.jpg", taken=None, width_px=10, height_px=10)
    paged, _ = book.add_reading(on_page.id, facts, row.record, "page")
    book.delete_reading(row.id)
    again = run(book, photos, setup=replace(SETUP, n_balls=6))["ben/driver/1.jpg"]
    assert (again.status, again.reading_id) == (Status.KNOWN, paged.id)
    assert "in set 1 of the page" in (again.note or "")


def test_a_series_is_one_face_with_its_own_key(book: Book, photos: Path) -> None:
    line = SheetLine(series=True, new=(3, 2), effort_frac=0.7)
    sheet = LessonSheet(file="lesson.toml", lines=(("ben/driver/[12].jpg", line),))
    engine = Inline()
    entries = run(book, photos, engine=engine, sheet=sheet)
    assert entries["ben/driver"].status is Status.READ
    (job,) = [job for job in engine.done if isinstance(job, Read) and job.series]
    assert [source.file for source in job.sources] == ["1.jpg", "2.jpg"]
    assert job.new == (3, 2)
    record = entries["ben/driver"].record
    assert record is not None
    assert tuple(record[SERIES]) == job.sha256  # so that no photo of it counts beside it
    assert run(book, photos, sheet=sheet)["ben/driver"].status is Status.KNOWN
    ben = book.find_player("ben")
    assert {session.name for session in book.sessions(ben.id)} == {"effort 70 %"}
    assert {session.effort_frac for session in book.sessions(ben.id)} == {0.7}


def test_pictures_of_what_is_known_are_drawn_again(book: Book, photos: Path) -> None:
    run(book, photos)
    engine = Inline()
    entries = run(book, photos, engine=engine, pictures=True)
    drawn = [job.source.name for job in engine.done if isinstance(job, Draw)]
    assert sorted(drawn) == ["ben/driver/1.jpg", "ben/driver/2.jpg", "mia/iron/5.jpg"]
    assert entries["ben/driver/1.jpg"].picture == b""


def test_what_is_printed_of_each_and_of_all(book: Book, photos: Path) -> None:
    entries = run(book, photos)
    record = entry_record(entries["ben/driver/3.jpg"])
    assert record["status"] == "failed"
    assert record["error"] == {
        "stage": "face",
        "message": "no face could be outlined",
        "remedy": "Photograph it again",
    }
    assert entry_record(entries["ben/driver/1.jpg"])["reading"] == entries["ben/driver/1.jpg"].record
    tally = Tally()
    for entry in entries.values():
        tally.add(entry)
    assert tally.failed
    text = "\n".join(summary_lines(tally, ["ben/._1.jpg"]))
    # 4 marks at 0, 2, 4 and 6 mm toe, 1 mm low, in each of the two photos: their mean is 3 mm toe.
    assert "ben, driver: 2 photos, 8 marks; centre of the group: 3 mm toe, 1 mm low" in text
    assert "mia, iron: 1 photo, 4 marks" in text
    assert "6 photos: 3 read, 1 the same picture as another, 1 nobody's (whose?), 1 not readable" in text
    assert "1 other file skipped (ben/._1.jpg)" in text
    assert "ben/driver/3.jpg: no face could be outlined." in text


def test_the_centre_is_said_as_a_reading_and_a_report_say_it(book: Book, photos: Path) -> None:
    entries = run(book, photos)
    records = [entries[f"ben/driver/{n}.jpg"].record for n in (1, 2)]
    one = entries["mia/iron/5.jpg"].record
    assert one is not None
    ben, mia = said(entries)
    for line, told in ((ben, session_report(Session(records=tuple(filter(None, records))))), (mia, one)):
        assert group_line(told).removeprefix("C") in line


def test_the_sheet_is_found_again_for_the_player_it_shows(book: Book, photos: Path, tmp_path: Path) -> None:
    run(book, photos)
    write_photos(photos, {"ada/iron/5.jpg": "five"})  # mia's, and told to be another's
    wrong = replace(run(book, photos)["ada/iron/5.jpg"], picture=None)
    pages = _write_sheet(tmp_path / "sheet.png", str(tmp_path / "book.db"), [wrong])
    assert book.exports(book.find_player("mia").id) == pages == [tmp_path / "sheet.png"]


def test_capital_letters_make_no_second_player(book: Book, photos: Path) -> None:
    write_photos(photos, {"Ben/Driver/7.jpg": "seven"})
    entries = run(book, photos)
    tally = Tally()
    for entry in entries.values():
        tally.add(entry)
    counted = {(key.player, key.club): len(sets) for key, sets in tally.sets.items()}
    assert counted == {("ben", "driver"): 3, ("mia", "iron"): 1}
    assert [player.name for player in book.players()] == ["ben", "mia"]


def test_every_key_of_a_line_is_described(book: Book, photos: Path) -> None:
    page = (Path(__file__).parents[3] / "docs" / "reference" / "results.md").read_text(encoding="utf-8")
    section = page.split("## A lesson")[1].split("## ")[0]
    for entry in run(book, photos).values():
        for key in entry_record(entry):
            assert f"`{key}`" in section, key
        assert f'"{entry.status.value}"' in section
