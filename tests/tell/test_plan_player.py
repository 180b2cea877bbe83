"""Plans of a player in the book: whose hand, and what a slip in the command leaves behind."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from facemark.errors import BookError, FacemarkError, SetupError
from facemark.inputs import Hand
from facemark.tell.book.store import Book
from tests.explain.sets import exact
from tests.tell.book.readings import facts, record_of, session_of
from tests.tell.test_plan import at, run

__all__ = ["at"]

POINTS = [tuple(p) for p in exact(12, (9.0, 0.0), (4.0, 3.0))]
LOU = ("--player", "Lou", "--book", "b.db")


def left_record() -> dict[str, Any]:
    return record_of(POINTS) | {"hand": "left", "hand_seen": "left"}


def put_left(at: Path) -> None:
    with Book.open(at / "b.db") as book:
        book.add_reading(session_of(book, "Lou").id, facts("one"), left_record(), "s" * 64)


def hand_in_book(at: Path) -> Hand | None:
    with Book.open(at / "b.db") as book:
        return book.find_player("Lou").hand


def planned_hand(*words: str) -> str:
    return str(json.loads(run("plan", *words, *LOU, "--json"))["hand"])


def test_a_player_of_unknown_hand_has_the_hand_of_the_last_reading(at: Path) -> None:
    put_left(at)
    assert hand_in_book(at) is None
    assert planned_hand("--head-mm", "118") == "left"
    run("block", "8/10", *LOU)
    assert planned_hand() == "left"  # also when the marks are older than the block
    assert planned_hand("--right") == "right"  # what was said goes first


def test_the_players_own_hand_goes_before_the_readings(at: Path) -> None:
    put_left(at)
    with Book.open(at / "b.db") as book:
        book.player("Lou", Hand.RIGHT)
    assert planned_hand("--head-mm", "118") == "right"


def test_a_new_player_has_the_hand_of_the_file(at: Path) -> None:
    (at / "lou.json").write_text(json.dumps(left_record()), "utf-8")
    assert planned_hand("lou.json", "--head-mm", "118") == "left"
    assert hand_in_book(at) is Hand.LEFT
    run("block", "8/10", *LOU)
    assert planned_hand() == "left"


def test_a_typed_table_says_nothing_of_the_hand(at: Path) -> None:
    assert planned_hand("marks.csv", "--head-mm", "118") == "right"
    assert hand_in_book(at) is None


@pytest.mark.parametrize(
    "words", [("nosuch.json", "--head-mm", "118"), ("few.csv", "--head-mm", "118"), ("marks.csv",)]
)
def test_a_plan_that_fails_makes_no_player(at: Path, words: tuple[str, ...]) -> None:
    (at / "few.csv").write_text("toe_mm,high_mm\n1,far\n", "utf-8")
    with pytest.raises(FacemarkError):
        run("plan", *words, "--player", "typo", "--book", "b.db")
    with Book.open(at / "b.db") as book, pytest.raises(BookError, match="no player typo"):
        book.find_player("typo")


@pytest.mark.parametrize("change", [{"hand": "both"}, {"hand": None}, {"head_mps": "fast"}, {"club": 7}])
def test_a_file_with_an_impossible_value_is_no_reading(at: Path, change: dict[str, Any]) -> None:
    (at / "odd.json").write_text(json.dumps(left_record() | change), "utf-8")
    for command in (("plan", "odd.json", "--head-mm", "118"), ("bend", "--reading", "odd.json")):
        with pytest.raises(BookError, match="not the JSON of a reading"):
            run(*command)


def test_a_doubt_that_only_another_version_knows_is_left_out(at: Path) -> None:
    known = {"key": "thin_powder", "detail": ""}
    newer = {"key": "moon_phase", "detail": "waxing", "meaning": "New.", "matters": "New.", "remedy": "New."}
    record = left_record() | {"caveats": [known, newer]}
    (at / "newer.json").write_text(json.dumps(record), "utf-8")
    run("plan", "newer.json", "--head-mm", "118")
    said = [doubt["key"] for doubt in json.loads(run("pattern", "newer.json", "--json"))["caveats"]]
    assert ("thin_powder" in said, "moon_phase" in said) == (True, False)
    assert "powder" in run("pattern", "newer.json")


def test_a_wrong_ending_is_refused_before_anything_is_written(at: Path) -> None:
    pages = ("--pdf", "lou.pdf", "--picture", "lou.gif")
    with pytest.raises(FacemarkError, match=r"must end in \.png"):
        run("plan", "marks.csv", "--head-mm", "118", *LOU, *pages)
    assert not (at / "lou.pdf").exists()
    assert not (at / "b.db").exists()


def test_a_page_that_was_written_is_known_though_the_picture_fails(at: Path) -> None:
    pages = ("--pdf", "lou.pdf", "--picture", "no/lou.png")
    with pytest.raises(BookError, match="could not be written"):
        run("plan", "marks.csv", "--head-mm", "118", *LOU, *pages)
    assert (at / "lou.pdf").exists()
    with Book.open(at / "b.db") as book:
        assert [path.name for path in book.exports(book.find_player("Lou").id)] == ["lou.pdf"]


def test_struck_tees_are_held_against_the_gate_that_stands_after_a_shift(at: Path) -> None:
    moss = ("--player", "Moss", "--book", "b.db")
    station = json.loads(run("plan", "marks.csv", "--head-mm", "118", *moss, "--json"))["station"]
    gate = station["gate_after"]
    # All balls of the shifted group 2 mm beyond the room on the heel side: each strikes the heel-side tee.
    rows = "\n".join(f"{gate['heel_clear_mm'] + 2.0:.2f},0" for _ in range(10))
    (at / "shifted.csv").write_text(f"toe_mm,high_mm\n{rows}\n", "utf-8")
    said = json.loads(
        run("block", "0/10", *moss, "--struck", ",".join(["heel"] * 10), "--marks", "shifted.csv", "--json")
    )
    assert said["tees"]["story"] == "agree"
    assert said["tees"]["n_heel_tee_expected"] > 7.0


@pytest.mark.parametrize("day", ["0001-01-01", "2026-05-03", "9999-12-31"])
def test_blocks_are_noted_in_the_order_they_were_hit(at: Path, day: str) -> None:
    run("plan", "marks.csv", "--head-mm", "118", *LOU, "--day", "2026-05-04")
    run("block", "8/10", *LOU, "--day", "2026-05-04")
    with pytest.raises(SetupError, match=r"lies ahead|noted already"):
        run("block", "8/10", *LOU, "--day", day)
    with Book.open(at / "b.db") as book:
        assert [row.n_balls for row in book.blocks(book.find_player("Lou").id) if row.n_balls] == [10]
    run("block", "8/10", *LOU, "--day", "2026-05-04")
    # Another focus has a ladder of its own.
    run("block", "8/10", *LOU, "--day", "2026-05-03", "--focus", "start", "--effort", "20")
