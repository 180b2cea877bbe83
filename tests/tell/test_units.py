"""Units on one switch; factors from the definitions."""

from __future__ import annotations

import pytest

from facemark.errors import SetupError
from facemark.tell.language import ENGLISH, LANGUAGES
from facemark.tell.units import Units, units_of
from facemark.tell.words import face_length, place_words, speed_words


def test_factors() -> None:
    # Yard and pound agreement of 1959: 1 yd = 0.9144 m, 1 in = 25.4 mm, 1 mi = 1609.344 m, exact.
    american = units_of("in,yd,mph")
    assert american.range_length(91.44) == pytest.approx(100.0)
    assert american.face_length(25.4) == pytest.approx(1.0)
    assert american.speed(44.704) == pytest.approx(100.0)
    assert units_of("km/h").speed(10.0) == pytest.approx(36.0)
    assert (Units().range_length(7.0), Units().face_length(7.0), Units().speed(7.0)) == (7.0, 7.0, 7.0)


def test_inches_in_words() -> None:
    # 1/4 in = 6.35 mm, 1/2 in = 12.7 mm, by the same definition.
    inches = units_of("in")
    assert place_words(12.7, -6.35, inches) == "0.50 in toe, 0.25 in low"
    assert place_words(0.1, -0.1, inches) == "on the sweet spot"
    assert place_words(12.7, -6.35, inches, LANGUAGES["de"]) == "0,50 Zoll zur Spitze, 0,25 Zoll tief"
    assert face_length(1.24, 1, Units(), ENGLISH) == "1.2 mm"
    assert speed_words(42.0, units_of("mph"), ENGLISH) == "94 mph"


@pytest.mark.parametrize("words", ["ft", "mm,in", "", "mm;in", "m,yd,mph"])
def test_what_is_no_unit(words: str) -> None:
    with pytest.raises(SetupError):
        units_of(words)
