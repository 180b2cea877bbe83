"""The picture shows what the record says, where the record says it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import facemark
from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Reference, ReferenceKind
from facemark.tell.overlay import ORANGE, PICTURE_WIDTH_PX, SKY, draw_overlay


@pytest.fixture(scope="module")
def photo(fixtures: Path) -> facemark.Photo:
    return facemark.load(fixtures / "photos" / "driver-tags.jpg")


@pytest.fixture(scope="module")
def record(photo: facemark.Photo) -> dict[str, object]:
    setup = facemark.Setup(
        club=typical_club(ClubKind.DRIVER),
        reference=Reference(kind=ReferenceKind.TAGS, size_mm=23.9),
        hand=facemark.Hand.RIGHT,
        n_balls=3,
    )
    return facemark.read(photo, setup).to_dict()


def near(picture: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    return np.abs(picture.astype(int) - colour).max(axis=2) < 30


def test_phone_width_and_signs(photo: facemark.Photo, record: dict[str, object]) -> None:
    picture = draw_overlay(photo, record)
    assert picture.shape[1] == PICTURE_WIDTH_PX
    assert picture.dtype == np.uint8
    assert near(picture, ORANGE).sum() > 500  # rings
    assert near(picture, SKY).sum() > 50  # centre of the group


def test_no_ring_without_a_mark(photo: facemark.Photo, record: dict[str, object]) -> None:
    face = slice(0, -230)  # without the caption, whose key shows the signs
    bare = draw_overlay(photo, {**record, "marks": []})
    full = draw_overlay(photo, record)
    assert near(bare, ORANGE)[face].sum() < 0.05 * near(full, ORANGE)[face].sum()


def test_the_photo_is_not_drawn_on(photo: facemark.Photo, record: dict[str, object]) -> None:
    before = photo.pixels.copy()
    draw_overlay(photo, record)
    assert np.array_equal(photo.pixels, before)
