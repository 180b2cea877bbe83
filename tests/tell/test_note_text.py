"""What people write about a ball's flight, for both hands."""

from __future__ import annotations

import math

import pytest

from facemark.errors import SetupError
from facemark.inputs import Hand
from facemark.tell.note_text import NoteStyle, corridor_of, curve_of, shot_of, start_of
from facemark.tell.words import Lengths, Units

RIGHT = NoteStyle(hand=Hand.RIGHT, units=Units())
LEFT = NoteStyle(hand=Hand.LEFT, units=Units())
YARDS = NoteStyle(hand=Hand.RIGHT, units=Units(lengths=Lengths.YARDS))


@pytest.mark.parametrize(
    "text", ["2 right", "right 2", "2° right", "2 deg right", "2,0 degrees to the right"]
)
def test_a_start_in_degrees(text: str) -> None:
    assert start_of(text, RIGHT).low_push_deg == 2.0
    assert start_of(text, LEFT).low_push_deg == -2.0


def test_a_start_by_side() -> None:
    assert start_of("left", RIGHT).high_push_deg == -1.0
    assert start_of("left", LEFT).low_push_deg == 1.0
    for word in ("straight", "in", "0"):
        seen = start_of(word, RIGHT)
        assert (seen.low_push_deg, seen.high_push_deg) == (-1.0, 1.0)


@pytest.mark.parametrize(
    ("text", "style", "draw_m"),
    [
        ("6 m left", RIGHT, 6.0),
        ("6 m left", LEFT, -6.0),
        ("10 yd right", RIGHT, -9.144),
        ("10 right", YARDS, -9.144),
        ("10 right", RIGHT, -10.0),
        ("10 m right", YARDS, -10.0),
    ],
)
def test_a_curve_in_metres_or_yards(text: str, style: NoteStyle, draw_m: float) -> None:
    assert curve_of(text, style).low_draw_m == pytest.approx(draw_m)


def test_a_curve_by_side() -> None:
    assert curve_of("left", RIGHT).low_draw_m == 4.0
    assert curve_of("left", LEFT).high_draw_m == -4.0
    assert curve_of("none", RIGHT).high_draw_m == 4.0


def test_one_ball() -> None:
    note = shot_of("2 right; 6 m left", RIGHT)
    assert note.start is not None
    assert note.curve is not None
    assert shot_of("2 right;", RIGHT).curve is None
    assert shot_of("-; left", RIGHT).start is None


@pytest.mark.parametrize(
    ("text", "degrees"), [("50 cm at 3 m", 4.36), ("12 in at 10 ft", 2.46), ("1yd at 6yd", 4.54)]
)
def test_corridors(text: str, degrees: float) -> None:
    # atan((width / 2 - 21.3 mm) / distance), by hand
    assert corridor_of(text) == pytest.approx(degrees, abs=0.01)


def test_measured_notes_count_more() -> None:
    measured = NoteStyle(hand=Hand.RIGHT, units=Units(), measured=True)
    assert start_of("2 right", measured).err_deg < start_of("2 right", RIGHT).err_deg
    assert curve_of("6 m left", measured).err_m < curve_of("6 m left", RIGHT).err_m


@pytest.mark.parametrize(
    ("read", "text", "words"),
    [
        (start_of, "left and right", "left of the line and right of it at once"),
        (start_of, "3", "has no side"),
        (start_of, "a bit right", "not understood"),
        (start_of, "90 right", "up to 45 is possible"),
        (curve_of, "left 5 right", "at once"),
        (curve_of, "5", "has no side"),
        (curve_of, "400 m left", "up to 150 m is possible"),
        (shot_of, "2 right", "not understood"),
    ],
)
def test_what_is_contradictory_or_unclear_is_refused(read, text: str, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(SetupError, match=words) as refused:
        read(text, RIGHT)
    assert refused.value.remedy


@pytest.mark.parametrize("text", ["3 m", "50 at 3", "2 cm at 3 m", "9 m at 3 m"])
def test_impossible_corridors_are_refused(text: str) -> None:
    with pytest.raises(SetupError):
        corridor_of(text)


def test_a_corridor_sets_what_straight_means() -> None:
    style = NoteStyle(hand=Hand.RIGHT, units=Units(), edge_deg=corridor_of("50 cm at 3 m"))
    assert start_of("in", style).high_push_deg == pytest.approx(4.36, abs=0.01)
    assert math.isinf(start_of("right", style).high_push_deg)
