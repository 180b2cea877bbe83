"""Edits: plain data and back, undo and redo, and what is refused."""

from __future__ import annotations

import json
from typing import Any

import pytest

from facemark.edits import (
    KINDS,
    AddMark,
    DeleteMark,
    DrawOutline,
    History,
    MoveMark,
    edit_of,
    edit_record,
    edits_words,
    history_of,
)
from facemark.errors import SetupError

ALL: list[dict[str, Any]] = [
    {"edit": "add_mark", "x_px": 3.0, "y_px": 4.0, "diameter_mm": 19.0},
    {"edit": "move_mark", "letter": "A", "x_px": 3.0, "y_px": 4.0},
    {"edit": "delete_mark", "letter": "AB"},
    {"edit": "merge_marks", "letter": "A", "other": "B"},
    {"edit": "split_mark", "letter": "A", "x_px": 1.0, "y_px": 2.0, "other_x_px": 3.0, "other_y_px": 4.0},
    {"edit": "move_sweet_spot", "x_px": 3.0, "y_px": 4.0},
    {"edit": "shift_outline", "right_px": -3.0, "down_px": 4.0},
    {"edit": "draw_outline", "points_px": [[float(i), float(i * i)] for i in range(8)]},
    {"edit": "toe_side", "x_px": 3.0, "y_px": 4.0},
    {"edit": "all_marks"},
]


@pytest.mark.parametrize("data", ALL, ids=lambda d: d["edit"])
def test_every_edit_survives_json(data: dict[str, Any]) -> None:
    edit = edit_of(json.loads(json.dumps(data)))
    assert edit_record(edit) == data
    assert edit_of(edit_record(edit)) == edit


def test_every_kind_is_tried() -> None:
    assert {data["edit"] for data in ALL} == set(KINDS)


@pytest.mark.parametrize(
    "data",
    [
        None,
        [],
        {"edit": "fly"},
        {"edit": ["move_mark"]},
        {"edit": "move_mark", "letter": "A", "x_px": 1.0},
        {"edit": "move_mark", "letter": "A", "x_px": "1", "y_px": 2.0},
        {"edit": "move_mark", "letter": "A", "x_px": float("nan"), "y_px": 2.0},
        {"edit": "move_mark", "letter": "A", "x_px": True, "y_px": 2.0},
        {"edit": "move_mark", "letter": "../../x", "x_px": 1.0, "y_px": 2.0},
        {"edit": "add_mark", "x_px": 1e300, "y_px": 2.0},
        {"edit": "add_mark", "x_px": float("nan"), "y_px": 2.0},
        pytest.param({"edit": "add_mark", "x_px": 10**400, "y_px": 2.0}, id="400 digits"),
        pytest.param({"edit": "add_mark", "x_px": -(10**5000), "y_px": 2.0}, id="5000 digits"),
        {"edit": "delete_mark", "letter": "A", "path": "/etc"},
        {"edit": "draw_outline", "points_px": [[0, 0]] * 3},
        {"edit": "draw_outline", "points_px": [[0, 0, 0]] * 9},
        {"edit": "all_marks", "x_px": 1.0},
    ],
    ids=str,
)
def test_what_is_no_edit_is_refused_with_a_remedy(data: Any) -> None:
    with pytest.raises(SetupError) as caught:
        edit_of(data)
    assert caught.value.remedy


def test_undo_and_redo_move_a_pointer() -> None:
    one, two, three = (AddMark(x_px=float(i), y_px=0.0) for i in range(3))
    history = History().with_edit(one).with_edit(two)
    assert history.undone().current == (one,)
    assert history.undone().redone() == history
    assert history.undone().undone().undone().current == ()
    assert history.redone() == history
    # A new edit after an undo forgets what was undone.
    assert history.undone().with_edit(three).edits == (one, three)


def test_a_file_says_how_many_edits_count() -> None:
    history = history_of({"schema": 1, "edits": ALL[:3], "n_done": 1})
    assert len(history.edits) == 3
    assert len(history.current) == 1
    assert history_of({"edits": ALL}).n_done == len(ALL)


@pytest.mark.parametrize(
    "data",
    [
        7,
        {"edits": "x"},
        {"schema": 2, "edits": []},
        {"edits": [], "n_done": 1},
        {"edits": [], "n_done": True},
        {"edits": [ALL[0]] * 201},
    ],
    ids=str,
)
def test_what_is_no_history_is_refused(data: Any) -> None:
    with pytest.raises(SetupError):
        history_of(data)


def test_words() -> None:
    moved = [MoveMark(letter=letter, x_px=0.0, y_px=0.0) for letter in "AB"]
    drawn = DrawOutline(points_px=tuple((float(i), 0.0) for i in range(8)))
    assert edits_words([*moved, DeleteMark(letter="C"), drawn, drawn]) == (
        "2 marks moved, 1 mark deleted, outline redrawn"
    )
