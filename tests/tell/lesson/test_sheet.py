"""The coach's sheet: what it says of a photo, and every mistake in it at once."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from facemark.errors import SetupError
from facemark.inputs import Hand, ReferenceKind
from facemark.tell.lesson.photos import Source
from facemark.tell.lesson.sheet import COLUMNS, SheetLine, find_sheet, load_sheet

TOML = """
schema = 1
[[photos]]
file = "*"
balls = 5
tag_mm = 24.0
[[photos]]
file = "IMG_20*.jpg"
player = "mia"
club = "driver"
effort = 70
tee_mm = 45
day = 2026-05-04
[[photos]]
file = "mia/evening/*"
series = true
new = [3, 3, 4]
scale = "sheet"
line_mm = 99.5
"""


def source(name: str) -> Source:
    return Source(name=name, path=f"/photos/{name}")


def test_lines_add_up_and_later_ones_overrule(tmp_path: Path) -> None:
    (tmp_path / "lesson.toml").write_text(TOML, encoding="utf-8")
    sheet = find_sheet(tmp_path)
    assert sheet is not None
    assert sheet.about(source("ben/IMG_1.jpg")) == SheetLine(n_balls=5, tag_mm=24.0)
    assert sheet.about(source("x/img_2001.JPG")) == SheetLine(
        n_balls=5,
        tag_mm=24.0,
        player="mia",
        club="driver",
        effort_frac=0.7,
        tee_mm=45.0,
        day=dt.date(2026, 5, 4),
    )
    # Another scale object replaces the first whole: never a tag's size with a card's line.
    assert sheet.about(source("mia/evening/a.jpg")) == SheetLine(
        n_balls=5, series=True, new=(3, 3, 4), scale=ReferenceKind.SHEET, line_mm=99.5
    )
    assert sheet.idle_patterns((source("ben/IMG_1.jpg"),)) == ["IMG_20*.jpg", "mia/evening/*"]


@pytest.mark.parametrize(
    "text",
    [
        "file,player,hand,balls,effort,tee_mm,series,new\na.jpg,mia,left,3,70 %,45.5,yes,3 3 4\n",
        "\ufefffile;player;hand;balls;effort;tee_mm;series;new\r\na.jpg;mia;left;3;0,7;45,5;true;3,3,4\r\n",
        "File\tPlayer\tHand\tBalls\tEffort\tTee mm\tSeries\tNew\na.jpg\tmia\tleft\t3\t0.7\t45,5\t1\t3+3+4\n",
    ],
)
def test_a_table_from_any_spreadsheet(tmp_path: Path, text: str) -> None:
    (tmp_path / "lesson.csv").write_text(text, encoding="utf-8")
    sheet = load_sheet(tmp_path / "lesson.csv")
    assert sheet.about(source("a.jpg")) == SheetLine(
        player="mia", hand=Hand.LEFT, n_balls=3, effort_frac=0.7, tee_mm=45.5, series=True, new=(3, 3, 4)
    )


def test_all_mistakes_at_once(tmp_path: Path) -> None:
    path = tmp_path / "lesson.csv"
    path.write_text("file,playr,balls,scale\na.jpg,mia,many,\n,,,coin\nb.jpg,,0,,x\n", encoding="utf-8")
    with pytest.raises(SetupError) as caught:
        load_sheet(path)
    text = str(caught.value)
    for words in ("line 2, playr", "player is", "'many'", "line 3, file: missing", "scale", "line 4, balls"):
        assert words in text
    assert "column without a heading" in text


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("lesson.toml", "[[photos]\n", "not TOML"),
        ("lesson.toml", "schema = 2\n", "schema"),
        ("lesson.toml", 'player = "mia"\n', "player outside"),
        ("lesson.toml", "schema = 1\n", "no line"),
        ("lesson.csv", "player,club\nmia,driver\n", "column called file"),
        ("lesson.csv", "\n", "no line"),
        ("lesson.toml", '[[photos]]\nfile = "*"\nnew = [3, -1]\n', "fewer than no balls"),
        ("lesson.toml", '[[photos]]\nfile = "*"\neffort = nan\n', "effort"),
    ],
)
def test_what_is_no_sheet(tmp_path: Path, name: str, text: str, words: str) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(SetupError, match=words):
        find_sheet(tmp_path)


def test_two_sheets_are_one_too_many_and_none_is_fine(tmp_path: Path) -> None:
    assert find_sheet(tmp_path) is None
    (tmp_path / "lesson.toml").write_text(TOML, encoding="utf-8")
    (tmp_path / "lesson.csv").write_text("file\na.jpg\n", encoding="utf-8")
    with pytest.raises(SetupError, match="both there"):
        find_sheet(tmp_path)


def test_the_columns_are_all_described_for_coaches() -> None:
    page = Path(__file__).parents[3] / "docs" / "how-to" / "read-a-lesson.md"
    text = page.read_text(encoding="utf-8")
    for column in COLUMNS:
        assert f"`{column}`" in text, column
