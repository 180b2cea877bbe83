"""Players, sets, balls: noted, explained, compared, kept, deleted."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from facemark.explain.moveon import MOST_BALLS
from facemark.explain.notes import Bend, Side, curve_side, start_side
from facemark.inputs import Hand
from facemark.tell.book.outgoing import Choice
from facemark.tell.book.store import Book
from facemark.tell.exports.write import write_export
from facemark.tell.history import look_back
from facemark.tell.page.meaning import notes_of_balls
from facemark.tell.report_files import session_from_book
from facemark.tell.units import Units
from tests.tell.page.conftest import TAGS
from tests.tell.page.served import Phone, served


@pytest.fixture
def served_book(tmp_path: Path) -> Iterator[tuple[Phone, Path]]:
    """A page of its own, and where its book lies."""
    with served(tmp_path / "own.db") as address:
        phone = Phone(address)
        yield phone, tmp_path / "own.db"
        phone.client.close()


@pytest.mark.parametrize(
    ("hand", "side", "bend"), [("right", Side.PUSH, Bend.DRAW), ("left", Side.PULL, Bend.FADE)]
)
def test_left_and_right_are_turned_by_the_hand(hand: str, side: Side, bend: Bend) -> None:
    # For a right-hander right is the push side and left the draw; for a left-hander both are mirrored
    # (trade usage; a left-hander's right is his pull side).
    notes = notes_of_balls([{"start": "right", "curve": "left"}, {}], Hand(hand), Units())
    assert len(notes) == 1
    assert notes[0].start == start_side(side)
    assert notes[0].curve == curve_side(bend)


def test_how_far_is_read_in_metres_whatever_the_units(phone: Phone) -> None:
    ball = {"start": "left", "start_deg": 2.5, "curve": "right", "curve_m": 6.0}
    note = notes_of_balls([ball], Hand.RIGHT, Units())[0]
    assert note.start is not None
    assert note.curve is not None
    assert note.start.low_push_deg == -2.5
    assert note.curve.low_draw_m == -6.0


def test_balls_are_kept_in_order_and_explained(phone: Phone, read: dict[str, Any]) -> None:
    set_id = read["set_id"]
    balls = [{"start": "right", "curve": "left"}] * 6 + [{"start": "on", "curve": "none", "strike_in": True}]
    kept = phone.ask("PUT", f"/sets/{set_id}/balls", json={"balls": balls}).json()["balls"]
    assert [ball["n"] for ball in kept] == [1, 2, 3, 4, 5, 6, 7]
    assert kept[6]["strike_in"] is True
    causes = phone.get(f"/sets/{set_id}/causes").json()
    assert causes["n_balls_noted"] == 7
    assert causes["lines"][0].startswith("Verdict: ")
    assert causes["strike_seen"]


def test_calls_are_held_against_the_marks(phone: Phone, read: dict[str, Any]) -> None:
    set_id, group = read["set_id"], read["reading"]["record"]["group"]
    toe, high = round(group["toe_mm"]) + 3, round(group["high_mm"]) + 4
    balls = [{"called_toe_mm": toe, "called_high_mm": high}] * 2
    phone.ask("PUT", f"/sets/{set_id}/balls", json={"balls": balls})
    called = phone.get(f"/sets/{set_id}").json()["called"]
    assert called["n_called"] == 2
    assert any(f"{n} mm away" in called["lines"][1] for n in (4, 5, 6))  # 3 and 4 mm off: 5 mm, by Pythagoras


@pytest.mark.parametrize(
    "ball",
    [{"start": "north"}, {"curve_m": -1}, {"start_deg": 1e9}, {"called_toe_mm": "x"}, {"path": "/etc"}],
    ids=str,
)
def test_a_ball_that_cannot_be_is_refused(phone: Phone, read: dict[str, Any], ball: dict[str, Any]) -> None:
    answer = phone.ask("PUT", f"/sets/{read['set_id']}/balls", json={"balls": [ball]})
    assert answer.status_code == 422
    assert answer.json()["remedy"]


def test_the_next_photo_of_the_same_powder(phone: Phone, tags: bytes) -> None:
    set_id = phone.new_set("Series")
    lone = phone.send(tags, set_id, **TAGS, series=True)
    assert lone.status_code == 422  # there is nothing to go on from
    first = phone.read(tags + b"1", set_id, **TAGS)
    second = phone.read(tags + b"2", set_id, **{**TAGS, "n_balls": 1}, series=True)
    assert (first["state"], second["state"], second["n_photo"]) == ("done", "done", 2)
    record = second["reading"]["record"]
    assert record["n_balls_told"] == 4
    # The same picture again: whatever was on the face before is of the first photo.
    assert [mark["photo_index"] for mark in record["marks"]].count(0) == 3
    # "Read it again" with the right number of new balls.
    again = phone.wait(phone.ask("POST", f"/photos/{second['id']}/read", json={**TAGS, "n_balls": 2}).json())
    assert again["state"] == "done"
    assert again["reading"]["record"]["n_balls_told"] == 5


def test_a_photo_read_alone_is_read_anew_as_part_of_a_series(phone: Phone, tags: bytes) -> None:
    alone = phone.read(tags + b"later", phone.new_set("Alone"), **TAGS)
    assert alone["state"] == "done"
    set_id = phone.new_set("Again")
    phone.read(tags + b"before", set_id, **TAGS)
    series = phone.read(tags + b"later", set_id, **TAGS, series=True)
    assert series["state"] == "done"
    assert series["in_other_set"] is None
    assert series["reading_id"] != alone["reading_id"]
    assert {mark["photo_index"] for mark in series["reading"]["record"]["marks"]} >= {0}


def test_kept_compared_and_deleted(phone: Phone, tags: bytes) -> None:
    player = phone.ask("POST", "/players", json={"name": "Robin", "hand": "right"}).json()
    sets = []
    for number in (3, 4):
        made = phone.ask("POST", "/sets", json={"player_id": player["id"], "effort_frac": 0.4}).json()
        state = phone.read(tags + bytes([number]), made["id"], **TAGS, keep=True)
        assert state["state"] == "done"
        sets.append((made["id"], state))
    listed = phone.get(f"/players/{player['id']}/sets").json()["sets"]
    assert [one["name"] for one in listed] == ["set 2", "set 1"]
    assert all(len(one["small"]["marks_mm"]) == 3 for one in listed)
    found = phone.get("/compare", params=[("sets", set_id) for set_id, _ in sets]).json()
    assert found["lines"]
    reading_id = sets[0][1]["reading_id"]
    assert phone.get(f"/readings/{reading_id}").json()["kept"]
    assert phone.get(f"/readings/{reading_id}/picture").content.startswith(b"\xff\xd8")
    assert phone.ask("DELETE", f"/sets/{sets[0][0]}").status_code == 204
    assert phone.get(f"/sets/{sets[0][0]}").status_code == 404
    assert phone.get(f"/photos/{sets[0][1]['id']}").status_code == 404
    # A deleted set's name is not given again while later ones stand.
    third = phone.ask("POST", "/sets", json={"player_id": player["id"]}).json()
    assert third["name"] == "set 3"
    proof = phone.ask("DELETE", f"/players/{player['id']}").json()
    assert proof["rows"]["reading"] == 1
    assert phone.get(f"/players/{player['id']}/sets").status_code == 404
    assert phone.get(f"/readings/{sets[1][1]['reading_id']}/picture").status_code == 404


def test_looking_at_a_plan_writes_nothing_and_booking_it_does(
    served_book: tuple[Phone, Path], fixtures: Path
) -> None:
    phone, path = served_book
    set_id = phone.new_set("Plan")
    ten = (fixtures / "photos" / "driver-card.jpg").read_bytes()
    assert phone.read(ten, set_id, scale="card", n_balls=10)["state"] == "done"
    balls = [{"start": "right", "curve": "left"}] * 6
    phone.ask("PUT", f"/sets/{set_id}/balls", json={"balls": balls})
    player_id = phone.get(f"/sets/{set_id}").json()["player_id"]
    told = {"head_mm": 118.0}
    plan = phone.get(f"/sets/{set_id}/plan", params=told)
    assert plan.status_code == 200, plan.text
    with Book.open(path) as book:
        assert not book.blocks(player_id)
    assert plan.json()["n_blocks"] == 0
    assert plan.json()["most_balls"] == MOST_BALLS  # as far as its counters go
    block = {"n_balls": 10, "n_good": 8, "n_blocks": 0, **told}
    wrong = phone.ask("POST", f"/sets/{set_id}/blocks", json={**block, "n_good": 11})
    assert wrong.status_code == 422
    with Book.open(path) as book:
        assert not book.blocks(player_id)
    done = phone.ask("POST", f"/sets/{set_id}/blocks", json=block)
    assert done.status_code == 201, done.text
    # The answer was lost and the player pressed again: it is in the book once.
    again = phone.ask("POST", f"/sets/{set_id}/blocks", json=block)
    assert again.status_code == 409
    assert again.json()["remedy"]
    with Book.open(path) as book:
        assert [row.n_balls for row in book.blocks(player_id)] == [0, 10]  # the plan, and the block


def test_a_nickname_of_the_other_hand_is_somebody_else(phone: Phone) -> None:
    told = {"name": "Lefty", "hand": "left"}
    assert phone.ask("POST", "/players", json=told).status_code == 201
    answer = phone.ask("POST", "/players", json={**told, "hand": "right"})
    assert answer.status_code == 409
    assert "left-handed" in answer.json()["detail"]
    assert phone.ask("POST", "/players", json=told).status_code == 201


def test_a_set_deleted_while_its_photo_waits_holds_nobody_up(phone: Phone, tags: bytes) -> None:
    gone, stays = phone.new_set("Gone"), phone.new_set("Stays")
    sent = phone.send(tags + b"gone", gone, **TAGS).json()
    assert phone.ask("DELETE", f"/sets/{gone}").status_code == 204
    assert phone.read(tags + b"stays", stays, **TAGS)["state"] == "done"
    assert phone.get(f"/photos/{sent['id']}").json()["detail"] == "This photo is no longer here."


def test_a_photo_and_the_series_that_goes_on_from_it_count_once(
    served_book: tuple[Phone, Path], tags: bytes, tmp_path: Path
) -> None:
    phone, path = served_book
    set_id = phone.new_set("Once")
    phone.read(tags + b"1", set_id, **TAGS)
    second = phone.read(tags + b"2", set_id, **{**TAGS, "n_balls": 1}, series=True)
    n_marks = len(second["reading"]["record"]["marks"])
    with Book.open(path) as book:
        player = book.find_player("Once")
        (one,) = look_back(book, player).sessions
        assert (one.n_photos, one.n_balls) == (1, second["reading"]["record"]["group"]["n_balls"])
        found = session_from_book(book, player)
        assert [len(record["marks"]) for record in found.session.records] == [n_marks]
        strikes, *_ = write_export(tmp_path / "out.csv", book, Choice())
    assert len(strikes.read_text(encoding="utf-8-sig").splitlines()) == 1 + n_marks
