"""Words and numbers agree, for both hands."""

from __future__ import annotations

import pytest

from facemark.tell.words import Lengths, Units, draw_side, place_words, push_side


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
