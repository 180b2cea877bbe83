"""The whole program: photos in sequence of which one cannot be measured."""

from __future__ import annotations

import numpy as np
import pytest

import facemark
from facemark.clubs import typical_club
from facemark.errors import FacemarkError, SetupError
from facemark.inputs import ClubKind, Photo, Reference, ReferenceKind, Setup
from facemark.reading import read_series

SETUP = Setup(
    club=typical_club(ClubKind.DRIVER),
    hand=facemark.Hand.RIGHT,
    reference=Reference(kind=ReferenceKind.TAGS, size_mm=23.9),
)


def test_an_earlier_photo_that_cannot_be_measured_costs_only_the_order() -> None:
    good = facemark.load("fixtures/photos/driver-tags.jpg")
    dark = Photo(pixels=np.zeros((1200, 1600, 3), np.uint8), name="pocket.jpg")
    reading = read_series([dark, good], SETUP, n_new=[1, 2])
    assert "photo_left_out" in {c.key for c in reading.caveats}
    record = reading.to_dict()
    assert record["n_balls_told"] is None  # the face may have been sprayed anew in between
    assert len(record["marks"]) == 3
    assert {m["photo_index"] for m in record["marks"]} == {1}
    with pytest.raises(FacemarkError):
        read_series([good, dark], SETUP, n_new=[1, 2])


def test_no_ball_before_a_photo_is_a_count_too() -> None:
    good = facemark.load("fixtures/photos/driver-tags.jpg")
    reading = read_series([good, good], SETUP, n_new=[3, 0])
    assert {m["photo_index"] for m in reading.to_dict()["marks"]} == {0}
    with pytest.raises(FacemarkError, match="mark"):
        read_series([good, good], SETUP, n_new=[0, 0])


def test_two_clubs_are_no_series() -> None:
    driver = facemark.load("fixtures/photos/driver-card.jpg")
    iron = facemark.load("fixtures/photos/iron-ball.jpg")
    setup = Setup(club=typical_club(ClubKind.DRIVER), hand=facemark.Hand.RIGHT)
    with pytest.raises(SetupError, match="not one club"):
        read_series([driver, iron], setup)


def test_more_balls_than_can_be_read_are_refused_before_any_photo_is() -> None:
    good = facemark.load("fixtures/photos/driver-tags.jpg")
    with pytest.raises(SetupError, match="80 balls"):
        read_series([good, good], SETUP, n_new=[40, 40])


def test_a_quick_reading_says_what_it_left_out() -> None:
    photo = facemark.load("fixtures/photos/driver-tags.jpg")
    full, fast = facemark.read(photo, SETUP), facemark.read(photo, SETUP, fast=True)
    assert "read_fast" not in {c.key for c in full.caveats}
    assert "read_fast" in {c.key for c in fast.caveats}
    # The marks stand apart: a smaller look at the face moves them by less than their stated errors.
    # By place: two nearly equal scores may change their order.
    both = [sorted(one.strikes.strikes, key=lambda strike: strike.toe_mm) for one in (fast, full)]
    for quick, slow in zip(*both, strict=True):
        assert abs(quick.toe_mm - slow.toe_mm) < 0.5
        assert abs(quick.high_mm - slow.high_mm) < 0.5
