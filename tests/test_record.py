"""The record: complete, plain, and described in docs/reference/results.md."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import facemark
from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Reference, ReferenceKind
from facemark.record import letters, plain
from facemark.see.camera import Camera, FaceFrame
from facemark.tell.report import json_text, reading_text
from facemark.tell.words import Units


@pytest.fixture(scope="module")
def reading(fixtures: Path) -> facemark.reading.Reading:  # type: ignore[name-defined]
    setup = facemark.Setup(
        club=typical_club(ClubKind.DRIVER),
        hand=facemark.Hand.RIGHT,
        reference=Reference(kind=ReferenceKind.TAGS, size_mm=23.9),
        n_balls=3,
    )
    return facemark.read(facemark.load(fixtures / "photos" / "driver-tags.jpg"), setup)


@pytest.fixture(scope="module")
def record(reading: Any) -> dict[str, Any]:
    return dict(reading.to_dict())


@pytest.fixture(scope="module")
def truth(fixtures: Path) -> dict[str, Any]:
    path = fixtures / "photos" / "truth" / "driver-tags.json"
    return dict(json.loads(path.read_text(encoding="utf-8")))


def test_every_key_is_described(record: dict[str, Any]) -> None:
    page = (Path(__file__).parent.parent / "docs" / "reference" / "results.md").read_text(encoding="utf-8")
    for key in record:
        assert f"`{key}`" in page, key
    for part in ("scale", "face", "sweet_spot", "group"):
        for key in record[part]:
            assert key.replace("_spread_err", "_spread") in page or f"`{key}`" in page, (part, key)
    for key in record["marks"][0]:
        assert f"`{key}`" in page, key


def test_the_json_is_strict(record: dict[str, Any]) -> None:
    def refuse(token: str) -> None:
        raise AssertionError(token)

    assert json.loads(json_text(record), parse_constant=refuse) == record


def test_the_marks_are_where_the_picture_was_drawn(record: dict[str, Any], truth: dict[str, Any]) -> None:
    # Truth: exact, from the path-traced scene (fixtures/README.md). Bound: issue table, 1.0 mm RMS, with room
    # for a single photo's common shift.
    spot = record["sweet_spot"]
    found = np.array(
        [[m["toe_mm"] + spot["toe_mm"], m["high_mm"] + spot["high_mm"]] for m in record["marks"]]
    )
    drawn = np.array([[m["x_mm"], m["y_mm"]] for m in truth["marks"]])
    assert len(found) == len(drawn)
    gap = np.linalg.norm(found[:, None] - drawn[None], axis=2).min(axis=1)
    assert math.sqrt(float((gap**2).mean())) < 2.0
    assert record["face"]["mm_per_px"] == pytest.approx(
        math.sqrt(math.prod(truth["mm_per_px_at_face_centre"])), rel=0.01
    )
    assert record["hand"] == "right"


def test_stated_errors_cover_the_truth(record: dict[str, Any], truth: dict[str, Any]) -> None:
    spot = record["sweet_spot"]
    drawn = np.array([[m["x_mm"], m["y_mm"]] for m in truth["marks"]])
    for mark in record["marks"]:
        place = np.array([mark["toe_mm"] + spot["toe_mm"], mark["high_mm"] + spot["high_mm"]])
        nearest = drawn[np.argmin(np.linalg.norm(drawn - place, axis=1))]
        # 3.5 standard errors: one mark in two thousand would fall outside.
        assert abs(place[0] - nearest[0]) < 3.5 * mark["toe_err_mm"]
        assert abs(place[1] - nearest[1]) < 3.5 * mark["high_err_mm"]


def test_text_and_json_agree(record: dict[str, Any]) -> None:
    text = reading_text(record, Units())
    for mark in record["marks"]:
        assert f"{round(abs(mark['toe_mm']))} mm {'toe' if mark['toe_mm'] > 0 else 'heel'}" in text
    assert "sweet spot" in text.lower()
    assert "wipe the face" in text


def test_same_photo_same_numbers(reading: Any, fixtures: Path) -> None:
    photo = facemark.load(fixtures / "photos" / "driver-tags.jpg")
    again = facemark.read(photo, reading.setup)
    assert again.to_dict() == reading.to_dict()


def test_letters() -> None:
    assert letters(3) == ["A", "B", "C"]
    assert letters(28)[26:] == ["AA", "AB"]


def test_plain_knows_no_infinity() -> None:
    assert plain({"a": math.inf, "b": math.nan, "c": np.float64(1.5), "d": (1, None)}) == {
        "a": None,
        "b": None,
        "c": 1.5,
        "d": [1, None],
    }
    with pytest.raises(TypeError):
        plain(object())


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("tilt_deg", [0.0, 20.0, 40.0])
def test_face_to_pixel_and_back(side: float, tilt_deg: float) -> None:
    turn = math.radians(tilt_deg)
    axes = np.array(
        [[-side, 0.0, 0.0], [0.0, -math.cos(turn), math.sin(turn)], [0.0, -math.sin(turn), -math.cos(turn)]]
    )
    frame = FaceFrame(
        camera=Camera.from_exif(4000, 3000, 27.0),
        axes_cam=axes,
        origin_cam_mm=np.array([10.0, -20.0, 350.0]),
        bulge_mm=305.0,
        roll_mm=280.0,
    )
    rng = np.random.default_rng(3)
    face = rng.uniform([-60, -35], [60, 35], (200, 2))
    assert np.abs(frame.mm_from_px(frame.px_from_mm(face)) - face).max() < 1e-5
    assert frame.tilt_deg == pytest.approx(
        math.degrees(math.acos(abs(axes[:, 2] @ frame.origin_cam_mm) / np.linalg.norm(frame.origin_cam_mm)))
    )
