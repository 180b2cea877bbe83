"""Strikes from typed tables and from readings: forms, doubts, and refusals that name the line."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from facemark.errors import BookError, FacemarkError, MarkError, SetupError
from facemark.inputs import ClubKind
from facemark.strike import SweetSpotFrom
from facemark.tell.reading_file import reading_set
from facemark.tell.strike_files import read_set, read_sets


def write(tmp_path: Path, text: str, name: str = "strikes.csv", encoding: str = "utf-8") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding=encoding)
    return path


@pytest.mark.parametrize(
    "text",
    [
        "toe_mm,high_mm\n1.5,-2\n3,4\n",
        "toe_mm;high_mm\n1,5;-2\n3;4\n",  # decimal comma
        "toe_mm\thigh_mm\n1,5\t-2\n3\t4\n",
        "# a note\n\nTOE_MM , High mm\n1.5, -2\n\n3,4\n",
        "1.5,-2\n3,4\n",  # no heading, two columns
        "high_mm,note,toe_mm\n-2,x,1.5\n4,,3\n",
    ],
)
def test_forms_of_a_table(tmp_path: Path, text: str) -> None:
    hit_set = read_set(write(tmp_path, text))
    assert [(s.toe_mm, s.high_mm) for s in hit_set.strikes.strikes] == [(1.5, -2.0), (3.0, 4.0)]
    assert hit_set.name == "strikes"
    assert hit_set.kind is ClubKind.DRIVER


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_encodings_of_spreadsheets(tmp_path: Path, encoding: str) -> None:
    path = write(tmp_path, "toe_mm,high_mm,club\n1,2,Hölzer\n", encoding=encoding)
    assert read_sets(path)[0].name == "Hölzer"


def test_errors_left_blank_count_as_the_largest_told(tmp_path: Path) -> None:
    path = write(tmp_path, "toe_mm,high_mm,toe_err_mm,high_err_mm\n1,2,0.5,1\n3,4,,\n")
    first, second = read_set(path).strikes.strikes
    assert (first.toe_err_mm, first.high_err_mm) == (0.5, 1.0)
    assert (second.toe_err_mm, second.high_err_mm) == (0.5, 1.0)


def test_a_filled_test_sheet(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        "ball,block,club,toe_mm,high_mm,result,sweet_spot,effort,tee_mm,note\n"
        "1,1,A,5,1,,measured,100,40,\n"
        "2,1,A,,,no mark,measured,100,40,\n"
        "3,1,A,9,9,out,measured,100,40,slip\n"
        "4,2,B,-3,2,,measured,80,40,\n"
        "5,2,B,,,,,,,\n",  # not hit yet
    )
    a, b = read_sets(path)
    assert (a.name, b.name) == ("A", "B")
    assert (len(a.strikes.strikes), a.strikes.n_balls, a.n_thrown_out) == (1, 2, 1)
    assert a.ball_numbers == (1,)
    assert a.strikes.sweet_spot_from is SweetSpotFrom.MEASURED
    assert (a.conditions.effort_frac, b.conditions.effort_frac) == (1.0, 0.8)
    assert b.strikes.n_balls is None
    with pytest.raises(SetupError, match="2 clubs: A, B"):
        read_set(path)


def test_a_sweet_spot_of_unknown_quality_is_told(tmp_path: Path) -> None:
    path = write(tmp_path, "toe_mm,high_mm\n1,2\n")
    assert [c.key for c in read_set(path).strikes.caveats] == ["sweet_spot_untold"]
    told = read_set(path, sweet_err_mm=1.5)
    assert told.strikes.caveats == ()
    assert told.strikes.shared.sweet_toe_mm == 1.5


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("", BookError, "is empty"),
        ("toe_mm,high_mm\n", MarkError, "at least one strike"),
        ("a,b\n1,2\n", BookError, "expected columns toe_mm and high_mm, found a, b"),
        ("toe_mm,high_mm\n1,2\n3,nan\n", SetupError, "line 3: expected a number for high_mm, got 'nan'"),
        ("toe_mm,high_mm\n1,inf\n", SetupError, "line 2: expected a number"),
        ("toe_mm,high_mm\n1,x\n", SetupError, "line 2: expected a number for high_mm, got 'x'"),
        ("toe_mm,high_mm\n1,\n", SetupError, "line 2: one of toe_mm and high_mm is missing"),
        ("toe_mm,high_mm\n1,5,2,5\n", SetupError, "line 2 has 4 columns, the heading has 2"),
        ("toe_mm,high_mm,result\n1,2,great\n", SetupError, "line 2: result 'great' is not known"),
        ("toe_mm,high_mm,sweet_spot\n1,2,eye\n", SetupError, "line 2: sweet_spot 'eye' is not known"),
        ("toe_mm,high_mm,sweet_spot\n1,2,measured\n3,4,assumed\n", SetupError, "several ways"),
        ('{"no": "reading"}', BookError, "is not the JSON of a reading"),
        ("{broken", BookError, "is not the JSON of a reading"),
    ],
)
def test_refusals_name_the_place(tmp_path: Path, text: str, kind: type[FacemarkError], words: str) -> None:
    with pytest.raises(kind, match=words) as caught:
        read_set(write(tmp_path, text))
    assert caught.value.remedy


def test_missing_files_and_folders(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(BookError):
            read_set(path)


def test_impossible_sweet_spot_error(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="from 0 up"):
        read_set(write(tmp_path, "toe_mm,high_mm\n1,2\n"), sweet_err_mm=-1.0)


def reading_record() -> dict[str, Any]:
    """The parts of a reading's record that matter here, as facemark read --json prints them."""
    return {
        "club": {"kind": "iron", "name": "seven"},
        "n_balls_told": 3,
        "scale": {"err_frac": 0.01},
        "face": {"centre_toe_err_mm": 0.3, "centre_high_err_mm": 0.4, "turn_err_deg": 0.0},
        "sweet_spot": {
            "from": "measured",
            "toe_mm": -2.0,
            "high_mm": -4.0,
            "toe_err_mm": 1.0,
            "high_err_mm": 1.0,
        },
        "marks": [
            {
                "toe_mm": 5.0,
                "high_mm": 1.0,
                "toe_err_mm": 0.6,
                "high_err_mm": 0.7,
                "toe_own_err_mm": 0.5,
                "high_own_err_mm": 0.5,
                "n_balls": 1,
                "sure": True,
            }
        ],
        "n_least": 1,
        "separable": False,
        "group": {
            "toe_mm": 12.0,
            "high_mm": 4.0,
            "toe_err_mm": 0.6,
            "high_err_mm": 0.5,
            "toe_spread_mm": 6.0,
            "high_spread_mm": 5.0,
            "toe_spread_err_mm": 1.0,
            "high_spread_err_mm": 1.0,
            "n_balls": 3.0,
            "n_balls_err": 0.5,
        },
        "caveats": [{"key": "marks_touch", "detail": ""}, {"key": "few_strikes", "detail": "3"}],
    }


def test_a_reading_comes_back_as_strikes() -> None:
    hit_set = reading_set(reading_record(), name="photo")
    strikes = hit_set.strikes
    assert hit_set.kind is ClubKind.IRON
    assert strikes.strikes[0].toe_err_mm == 0.5
    assert (strikes.shared.scale_frac, strikes.shared.sweet_toe_mm) == (0.01, 1.0)
    assert strikes.n_balls == 3
    assert not strikes.separable
    assert strikes.group is not None
    # 0.6 held the placement error 0.3 and 1 % of the 10 mm from the face centre: 0.36 - 0.09 - 0.01.
    assert strikes.group.toe_err_mm == pytest.approx((0.36 - 0.09 - 0.01) ** 0.5)
    assert [c.key for c in strikes.caveats] == ["marks_touch"]  # the pattern raises its own again


def test_a_reading_of_one_ball_comes_back_with_a_spread_that_is_not_known() -> None:
    record = reading_record()
    record["group"] |= {
        "toe_spread_mm": 0.0,
        "toe_spread_err_mm": None,
        "high_spread_err_mm": None,
        "n_balls": 1.0,
    }
    group = reading_set(record, name="photo").strikes.group
    assert group is not None
    assert group.toe_spread_err_mm == math.inf
