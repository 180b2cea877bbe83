"""Reports from the command line: beside a reading, and from the book."""

from __future__ import annotations

import datetime as dt
import json
import math
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from facemark.errors import FacemarkError
from facemark.record import plain
from facemark.tell.book.rows import PhotoFacts
from facemark.tell.book.store import Book
from facemark.tell.cli import _register, app
from tests.tell.report_sets import PHOTO, moved

_register()


def call(*words: object) -> str:
    result = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FACEMARK_HOME", str(tmp_path))
    for name in ("FACEMARK_UNITS", "FACEMARK_LANGUAGE", "FACEMARK_LENGTHS", "FACEMARK_BOOK", "FACEMARK_HAND"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


def put(
    book: Book, player: str, day: dt.date, records: list[dict[str, Any]], *, club: str = "", name: str = ""
) -> None:
    from facemark.remake import club_of_record

    who = book.player(player)
    data = {**records[0]["club"], **({"name": club} if club else {})}
    session = book.session(who.id, book.club(club_of_record(data)).id, day, name=name, effort_frac=0.6)
    for number, record in enumerate(records):
        record = {**record, "club": data}
        facts = PhotoFacts(
            sha256=f"{abs(hash((player, day, number, club, name))):064x}"[:64],
            name=f"{number}.jpg",
            taken=None,
            width_px=record["photo"]["width_px"],
            height_px=record["photo"]["height_px"],
        )
        book.add_reading(session.id, facts, plain(record), "0" * 64)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "book.db"
    with Book.open(path) as opened:
        put(opened, "Mia", dt.date(2026, 11, 11), [moved((16, -6), 12, seed) for seed in (3, 4)])
        put(opened, "Mia", dt.date(2026, 11, 25), [moved((2, -3), 3, seed) for seed in (1, 2)])
    return path


def test_three_reports_beside_a_reading(tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("a.html", "a.pdf", "a.png")]
    call(
        *("read", PHOTO, "--tag-mm", 23.9, "--right", "--balls", 3, "--language", "de"),
        *("--html", files[0], "--pdf", files[1], "--chat", files[2], "--homework", "Langsam schwingen."),
    )
    assert "Langsam schwingen." in files[0].read_text(encoding="utf-8")
    assert files[1].read_bytes().startswith(b"%PDF")
    assert files[2].read_bytes().startswith(b"\x89PNG")


def test_a_wrong_ending_is_refused(tmp_path: Path, book: Path) -> None:
    with pytest.raises(FacemarkError, match="written as"):
        CliRunner().invoke(
            app, ["report", "Mia", "--book", str(book), "--pdf", "a.txt"], catch_exceptions=False
        )


def test_the_last_session_against_the_one_before(tmp_path: Path, book: Path) -> None:
    page = tmp_path / "mia.html"
    text = call("report", "mia", "--book", book, "--html", page)
    assert "25 November 2026" in text
    assert "Against 11 November 2026: Better" in text
    assert "Against 11 November 2026: Better" in page.read_text(encoding="utf-8").replace("\u00a0", " ")
    with Book.open(book) as opened:
        assert opened.exports(opened.find_player("Mia").id) == [page]  # forget knows where it went


def test_a_file_that_was_written_is_known_though_the_next_one_fails(tmp_path: Path, book: Path) -> None:
    page, nowhere = tmp_path / "mia.html", tmp_path / "no" / "mia.png"
    words = ["report", "Mia", "--book", str(book), "--html", str(page), "--chat", str(nowhere)]
    with pytest.raises(FacemarkError, match="could not be written"):
        CliRunner().invoke(app, words, catch_exceptions=False)
    assert page.exists()
    with Book.open(book) as opened:
        assert opened.exports(opened.find_player("Mia").id) == [page]


def test_a_wrong_paper_is_told_before_anything_is_written(tmp_path: Path, book: Path) -> None:
    page, paper = tmp_path / "mia.html", tmp_path / "mia.pdf"
    words = ["report", "Mia", "--book", str(book), "--html", str(page), "--pdf", str(paper), "--paper", "b5"]
    with pytest.raises(FacemarkError, match="b5"):
        CliRunner().invoke(app, words, catch_exceptions=False)
    assert not page.exists()


def test_two_sessions_on_a_day_are_told_apart(book: Path) -> None:
    day = dt.date(2026, 11, 25)
    with Book.open(book) as opened:
        put(opened, "Mia", day, [moved((0, 0), 3, 9)], name="effort 60 %")
    with pytest.raises(FacemarkError, match='several sessions on 2026-11-25: "", "effort 60 %"'):
        CliRunner().invoke(app, ["report", "Mia", "--book", str(book)], catch_exceptions=False)
    assert "5 marks" in call("report", "Mia", "--book", book, "--session", "effort 60 %")
    assert "10 marks" in call("report", "Mia", "--book", book, "--session", "")
    # The name says what the conditions say: it is not said twice, and not in English to a German.
    german = call("report", "Mia", "--book", book, "--session", "Effort 60 %", "--language", "de")
    assert german.count("60 %") == 1
    assert "effort" not in german


def test_sessions_that_no_name_tells_apart_have_numbers(book: Path) -> None:
    """A club that was measured anew keeps its name; its numbers make it another club."""
    from facemark.remake import club_of_record

    day = dt.date(2026, 11, 25)
    record = moved((0, 0), 3, 9)
    record = {**record, "club": {**record["club"], "face_length_mm": 111.5}}
    with Book.open(book) as opened:
        put(opened, "Mia", day, [record], club=record["club"]["name"])
        assert len({club_of_record(row.data).name for row in opened.clubs()}) == 1
    for words in ([], ["--session", ""], ["--club", record["club"]["name"]]):
        with pytest.raises(FacemarkError, match=r'1 \("", 10 marks\), 2 \("", 5 marks\)') as caught:
            CliRunner().invoke(app, ["report", "Mia", "--book", str(book), *words], catch_exceptions=False)
        assert "numbers" in caught.value.remedy
    assert "10 marks" in call("report", "Mia", "--book", book, "--session", "1")
    assert "5 marks" in call("report", "Mia", "--book", book, "--session", "2")
    for none in ("0", "3"):
        with pytest.raises(FacemarkError, match="no session"):
            call("report", "Mia", "--book", book, "--session", none)


def test_a_day_of_its_own(book: Path) -> None:
    text = call(
        "report", "Mia", "--book", book, "--day", "2026-11-11", "--units", "in,yd", "--language", "de"
    )
    assert "11. November 2026" in text
    assert "Verglichen" not in text
    assert "Zoll" in text


def test_json_is_the_dictionary(book: Path) -> None:
    told = json.loads(call("report", "Mia", "--book", book, "--json"))
    assert told["comparison"]["verdict"] == "better"
    assert told["player"] == "Mia"


def test_the_next_block_comes_along(tmp_path: Path, book: Path) -> None:
    plan = tmp_path / "plan.json"
    block = {"focus": "strike", "n_balls": 10, "effort_frac": 0.4, "n_minutes": 10, "zone_mm": 12.0}
    plan.write_text(json.dumps(block), encoding="utf-8")
    told = call("report", "Mia", "--book", book, "--plan", plan)
    assert "Next block: strike" in told
    assert "10 balls at 40 % effort" in told
    gate = {"toe_clear_mm": 10.0, "heel_clear_mm": 12.0}
    plan.write_text(json.dumps(block | {"station": {"gate": gate}}), encoding="utf-8")
    assert "12 mm" in call("report", "Mia", "--book", book, "--plan", plan)


@pytest.mark.parametrize(
    "wrong",
    [
        [],
        {"focus": "zzz"},
        {"n_balls": "x"},
        {"zone_mm": math.inf},
        {"effort_frac": None},
        {"station": {"gate": {"toe_clear_mm": 10.0}}},
        {"station": {"gate": {"toe_clear_mm": 10.0, "heel_clear_mm": "12"}}},
        {"station": {"gate": []}},
        {"station": 7},
    ],
)
def test_a_plan_that_is_none_is_refused(tmp_path: Path, book: Path, wrong: Any) -> None:
    plan = tmp_path / "plan.json"
    block = {"focus": "strike", "n_balls": 10, "effort_frac": 0.4, "n_minutes": 10, "zone_mm": 12.0}
    plan.write_text(json.dumps(block | wrong if wrong else wrong), encoding="utf-8")
    with pytest.raises(FacemarkError, match="no plan"):
        CliRunner().invoke(
            app, ["report", "Mia", "--book", str(book), "--plan", str(plan)], catch_exceptions=False
        )


def test_the_next_block_is_planned_after_the_last_session_only(book: Path) -> None:
    planned = CliRunner().invoke(
        app, ["report", "Mia", "--book", str(book), "--json"], catch_exceptions=False
    )
    assert json.loads(planned.stdout)["plan"]["n_balls"] > 0
    assert "no next block" not in planned.stderr
    with Book.open(book) as opened:  # off the sweet spot a gate is wanted, and nobody told the head's length
        put(opened, "Ada", dt.date(2026, 11, 25), [moved((16, -6), 4, seed) for seed in (5, 6)])
    refused = CliRunner().invoke(
        app, ["report", "Ada", "--book", str(book), "--json"], catch_exceptions=False
    )
    assert refused.exit_code == 0
    assert json.loads(refused.stdout)["plan"] is None
    assert "no next block: a gate needs the head's length" in refused.stderr
    assert "--head-mm 120. Say it once with facemark plan --player Ada." in refused.stderr
    assert json.loads(call("report", "Mia", "--book", book, "--no-next", "--json"))["plan"] is None
    earlier = call("report", "Mia", "--book", book, "--day", "2026-11-11", "--json")
    assert json.loads(earlier)["plan"] is None


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--day", "2026-01-01"], "no session with readings"),
        (["--club", "putter"], "no session with readings"),
        (["--language", "xx"], "no table"),
        (["--units", "ft"], "not known"),
    ],
)
def test_what_cannot_be(book: Path, words: list[str], says: str) -> None:
    with pytest.raises(FacemarkError, match=says):
        CliRunner().invoke(app, ["report", "Mia", "--book", str(book), *words], catch_exceptions=False)


def test_two_clubs_on_a_day_are_told_apart(book: Path) -> None:
    with Book.open(book) as opened:
        put(opened, "Mia", dt.date(2026, 11, 25), [moved((0, 0), 3, 9)], club="second driver")
    with pytest.raises(FacemarkError, match="several clubs"):
        CliRunner().invoke(app, ["report", "Mia", "--book", str(book)], catch_exceptions=False)
    assert "second driver" in call("report", "Mia", "--book", book, "--club", "Second Driver")


def test_a_kept_photo_is_shown_clean(tmp_path: Path, book: Path) -> None:
    from tests.tell.report_sets import reading

    page = tmp_path / "kept.html"
    with Book.open(book) as opened:
        put(opened, "Jo", dt.date(2026, 11, 25), [reading()])
        [row] = opened.readings(player_id=opened.find_player("Jo").id)
    call("report", "Jo", "--book", book, "--html", page)
    assert "data:image/jpeg" not in page.read_text(encoding="utf-8")  # not kept: drawn from its numbers
    with Book.open(book) as opened:
        opened.keep_photo(row.photo_id, PHOTO.read_bytes(), "jpg")
    call("report", "Jo", "--book", book, "--html", page)
    assert "data:image/jpeg" in page.read_text(encoding="utf-8")
