"""Words and numbers agree, for both hands."""

from __future__ import annotations

import pytest

from facemark.tell.report import count_line
from facemark.tell.words import Lengths, Units, draw_side, flight_lines, place_words, push_side, spot_line
from tests.tell.report_sets import reading


@pytest.mark.parametrize(
    ("toe", "high", "says"),
    [
        (12.2, -3.9, "12 mm toe, 4 mm low"),
        (-8.0, 0.2, "8 mm heel, neither high nor low"),
        (0.3, 5.6, "6 mm high, neither toe nor heel"),
        (0.4, -0.4, "on the sweet spot"),
    ],
)
def test_places_in_words(toe: float, high: float, says: str) -> None:
    assert place_words(toe, high) == says


def test_flight_words_mirror_with_the_hand() -> None:
    # Right-hander: push starts right, draw bends left (trade vocabulary; common practice, no source).
    assert (push_side(1.0, "right"), draw_side(1.0, "right")) == ("right", "left")
    assert (push_side(1.0, "left"), draw_side(1.0, "left")) == ("left", "right")
    assert (push_side(-1.0, "right"), draw_side(-1.0, "right")) == ("left", "right")


def test_yards() -> None:
    # International yard: 0.9144 m exactly (1959 agreement).
    assert Units(lengths=Lengths.YARDS).range_length(91.44) == pytest.approx(100.0)


def test_several_balls_are_their_average_and_one_is_itself() -> None:
    record = reading()
    assert flight_lines(record, Units())[0].startswith("The average strike alone")
    hidden = record | {"pattern": record["pattern"] | {"n_balls": 1}}  # one for certain, more are shown
    assert flight_lines(hidden, Units())[0].startswith("The average strike alone")
    single = hidden | {"marks": record["marks"][:1]}
    assert flight_lines(single, Units())[0].startswith("This strike alone")


def test_a_measured_sweet_spot_is_told_from_the_middle_of_the_face() -> None:
    record = reading()
    for place, says in (
        ((0.2, 0.3), "measured, at the middle of the face ("),
        ((2.0, -0.4), "measured, 2 mm toe of the middle of the face ("),
        ((2.0, -1.0), "measured, 2 mm toe, 1 mm low of the middle of the face ("),
    ):
        spot = record["sweet_spot"] | {"from": "measured", "toe_mm": place[0], "high_mm": place[1]}
        assert says in spot_line(record | {"sweet_spot": spot})


@pytest.mark.parametrize(
    ("told", "says"), [(3, ""), (5, "3 of 5 balls left"), (2, "3 marks found, 2 balls told")]
)
def test_more_marks_than_balls_are_not_a_part_of_them(told: int, says: str) -> None:
    assert len(reading()["marks"]) == 3
    assert count_line(reading() | {"n_balls_told": told}).startswith(says)
    assert bool(count_line(reading() | {"n_balls_told": told})) == bool(says)
