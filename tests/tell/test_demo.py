"""The demo shows its own truth, and would show a miss."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

import facemark
from facemark.errors import BookError
from facemark.tell.demo import HITS_MM, PHOTO_NAME, PICTURE_NAME, TEXT_NAME, beside_truth, run_demo
from facemark.tell.overlay import PICTURE_WIDTH_PX


def test_writes_photo_picture_and_text(tmp_path: Path) -> None:
    text = run_demo(tmp_path / "new")
    beside = [line for line in text.splitlines() if "drawn at" in line]
    assert len(beside) == len(HITS_MM)
    assert all("read at" in line for line in beside)  # none missed, none too much
    assert all(float(line.split(" mm away")[0].split()[-1]) < 1.5 for line in beside)
    assert facemark.load(tmp_path / "new" / PHOTO_NAME).width_px > 1000
    with Image.open(tmp_path / "new" / PICTURE_NAME) as picture:
        assert picture.width == PICTURE_WIDTH_PX
    assert (tmp_path / "new" / TEXT_NAME).read_text(encoding="utf-8").strip() in text


def mark(letter: str, toe_mm: float, high_mm: float) -> dict[str, object]:
    return {
        "letter": letter,
        "toe_mm": toe_mm,
        "high_mm": high_mm,
        "toe_err_mm": 0.5,
        "high_err_mm": 0.5,
    }


def test_misses_and_inventions_are_named() -> None:
    record = {
        "sweet_spot": {"toe_mm": 1.0, "high_mm": -2.0},
        "marks": [mark("A", 9.0, 2.0), mark("B", -30.0, 0.0)],
    }
    truth = {
        "marks": [{"x_mm": 10.0, "y_mm": 3.0}, {"x_mm": -5.0, "y_mm": 5.0}],
        "sweet_spot_mm": [1.0, -2.0],
    }
    lines = beside_truth(record, truth)
    # A was read 9 mm toe of a sweet spot that lies 1 mm toe: 10 mm from the middle; high: 2 - 2 = 0.
    assert "A  drawn at 10 mm toe, 3 mm high" in lines[1]
    assert "3.0 mm away (±1.0 mm)" in lines[1]
    assert "not read" in lines[2]
    assert "nothing drawn" in lines[3]


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    with pytest.raises(BookError, match="could not be made"):
        run_demo(tmp_path / "taken")
