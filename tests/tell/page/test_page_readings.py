"""A photo goes in, a reading comes out, a person puts it right; the same numbers as the command prints."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from typer.testing import CliRunner

from facemark.tell.clean import PAINT_GREY
from facemark.tell.cli import app
from tests.tell.page.conftest import TAGS
from tests.tell.page.served import Phone


def test_the_reading_is_that_of_the_command(read: dict[str, Any], fixtures: Path) -> None:
    photo = str(fixtures / "photos" / "driver-tags.jpg")
    said = CliRunner().invoke(app, ["read", photo, "--tag-mm", "23.9", "--balls", "3", "--right", "--json"])
    assert json.loads(json.dumps(read["reading"]["record"])) == json.loads(said.stdout)


def test_the_check_comes_along(read: dict[str, Any]) -> None:
    assert {one["what"] for one in read["findings"]} >= {"face", "light", "scale", "sharpness", "tilt"}
    assert all(one["remedy"] for one in read["findings"] if one["grade"] != "good")


def test_words_and_record_agree(read: dict[str, Any]) -> None:
    words, record = read["reading"]["words"], read["reading"]["record"]
    assert len(words["marks"]) == len(record["marks"])
    for line, mark in zip(words["marks"], record["marks"], strict=True):
        assert line.startswith(mark["letter"])
        assert f"{round(abs(mark['toe_mm']))} mm {'toe' if mark['toe_mm'] > 0 else 'heel'}" in line
    assert words["flight"]


def test_the_picture_is_upright_and_bare(phone: Phone, read: dict[str, Any]) -> None:
    answer = phone.get(f"/photos/{read['id']}/picture")
    assert answer.headers["content-type"] == "image/jpeg"
    image = Image.open(io.BytesIO(answer.content))
    assert max(image.size) == 2560
    assert image.width / image.height == read["size_px"][0] / read["size_px"][1]
    assert not image.getexif()


def test_a_card_is_painted_over(phone: Phone, fixtures: Path) -> None:
    # A card used as scale may bear a name: its middle is one even grey in the picture that leaves here.
    data = (fixtures / "photos" / "driver-card.jpg").read_bytes()
    state = phone.read(data, phone.new_set("Card"), scale="card", hand="right", n_balls=10)
    image = Image.open(io.BytesIO(phone.get(f"/photos/{state['id']}/picture").content)).convert("RGB")
    corners = state["reading"]["record"]["scale"]["card_px"][0]
    shrink = image.width / state["size_px"][0]
    x, y = (round(shrink * sum(corner[i] for corner in corners) / len(corners)) for i in (0, 1))
    around = np.asarray(image.crop((x - 6, y - 6, x + 6, y + 6)), int)
    assert np.abs(around - PAINT_GREY).max() < 12


def _edit(record: dict[str, Any], letter: str, right_px: float) -> dict[str, Any]:
    mark = next(m for m in record["marks"] if m["letter"] == letter)
    return {"edit": "move_mark", "letter": letter, "x_px": mark["x_px"] + right_px, "y_px": mark["y_px"]}


def test_looking_at_a_correction_changes_nothing(phone: Phone, read: dict[str, Any]) -> None:
    path = f"/readings/{read['reading_id']}"
    before = phone.get(path).json()
    edits = [_edit(before["record"], "A", 40.0)]
    seen = phone.ask("PUT", f"{path}/corrections", json={"edits": edits, "preview": True})
    assert seen.status_code == 200
    assert seen.json()["record"]["marks"][0]["by_hand"]
    assert seen.json()["record"]["flight"] is None
    assert phone.get(path).json() == before


def test_corrections_are_kept_with_the_raw_reading_and_their_history(
    phone: Phone, read: dict[str, Any]
) -> None:
    path = f"/readings/{read['reading_id']}"
    raw = read["reading"]["record"]
    edits = [_edit(raw, "A", 40.0), {"edit": "delete_mark", "letter": "B"}]
    put = phone.ask("PUT", f"{path}/corrections", json={"edits": edits, "n_done": 2}).json()
    assert [m["letter"] for m in put["record"]["marks"]] == ["A", "C"]
    assert put["words"]["corrected"] == "Corrected by hand: 1 mark moved, 1 mark deleted"
    assert put["record"]["flight"] is not None
    # Undo: the pointer goes back, both edits stay for redo.
    undone = phone.ask("PUT", f"{path}/corrections", json={"edits": edits, "n_done": 1}).json()
    assert [m["letter"] for m in undone["record"]["marks"]] == ["A", "B", "C"]
    assert undone["history"] == {"edits": edits, "n_done": 1, "n_corrections": 2}
    none = phone.ask("PUT", f"{path}/corrections", json={"edits": edits, "n_done": 0}).json()
    assert none["record"] == raw
    assert none["history"] == {"edits": edits, "n_done": 0, "n_corrections": 3}
    # Another phone that still holds the first state is told so, and overwrites nothing.
    late = phone.ask("PUT", f"{path}/corrections", json={"edits": edits, "n_corrections": 1})
    assert late.status_code == 409
    assert late.json()["remedy"]
    assert phone.get(path).json()["history"] == none["history"]
    right = phone.ask("PUT", f"{path}/corrections", json={"edits": edits, "n_done": 0, "n_corrections": 3})
    assert right.status_code == 200


def test_an_impossible_edit_is_refused_with_what_to_do(phone: Phone, read: dict[str, Any]) -> None:
    path = f"/readings/{read['reading_id']}/corrections"
    answer = phone.ask("PUT", path, json={"edits": [{"edit": "delete_mark", "letter": "Z"}]})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert "no mark Z" in answer.json()["detail"]
    assert answer.json()["remedy"]


def test_a_photo_that_cannot_be_measured_says_why_and_what_to_do(phone: Phone, tags: bytes) -> None:
    state = phone.read(tags, phone.new_set("Wren"), scale="ball", hand="right")
    assert state["state"] == "failed"
    assert state["error"]["remedy"]
    assert any(one["grade"] == "not measurable" for one in state["findings"])
    # Told the right scale, the same photo is read without being sent again.
    again = phone.ask("POST", f"/photos/{state['id']}/read", json=TAGS)
    assert again.status_code == 202


def test_the_same_photo_again_is_the_same_reading(phone: Phone, read: dict[str, Any], tags: bytes) -> None:
    state = phone.read(tags, phone.new_set("Wren"), **TAGS)
    assert state["reading_id"] == read["reading_id"]
    assert state["in_other_set"] == read["set_id"]


def test_heic_is_read_like_the_rest(phone: Phone, fixtures: Path) -> None:
    data = (fixtures / "photos" / "small.heic").read_bytes()
    state = phone.read(data, phone.new_set("Wren"), **TAGS)
    assert state["state"] == "done", state["error"]
    assert len(state["reading"]["record"]["marks"]) == 3
