"""bend, separate and club, as they are typed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from facemark.errors import FacemarkError, SetupError
from facemark.tell.cli_explain import register

APP = typer.Typer()
register(APP)
FEW = ["--draws", "200"]
SOME = ["--draws", "1000"]


@pytest.fixture(autouse=True)
def _no_settings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FACEMARK_HOME", str(tmp_path))


def run(*words: str, answers: str = "") -> str:
    found = CliRunner().invoke(APP, list(words), input=answers)
    if isinstance(found.exception, FacemarkError):
        raise found.exception
    assert found.exit_code == 0, found.output
    return found.output


def record(*words: str) -> dict[str, Any]:
    return json.loads(run(*words, "--json"))


def test_bend_says_right_and_left_for_both_hands() -> None:
    words = ("bend", "--toe", "12", "--high", "-4", "--speed", "42", *FEW)
    right, left = run(*words, "--right"), run(*words, "--left")
    assert "Starts 2.7° right" in right
    assert "m left" in right
    assert "Starts 2.7° left" in left
    assert "m right" in left
    assert "points left, so the ball starts left" in left


def test_irons_get_no_driver_talk() -> None:
    said = run("bend", "--toe", "12", "--kind", "iron", *FEW)
    assert "curved face" not in said
    assert "flat" in said


def test_the_nominal_block_is_the_plain_club() -> None:
    found = record("bend", "--toe", "10", "--speed", "42", *FEW)
    nominal = found["nominal"]
    assert set(nominal) >= {
        "ball_mps", "launch_deg", "start_push_deg", "back_rpm", "side_draw_rpm",
        "carry_m", "curve_draw_m", "offline_push_m", "apex_m", "landing_deg",
    }  # fmt: skip
    # physics note, computed by another program: 2.32 deg and 249 rpm of draw
    assert nominal["start_push_deg"] == pytest.approx(2.32, abs=0.005)
    assert nominal["side_draw_rpm"] == pytest.approx(249.0, abs=1.0)
    assert found["plain"]["head_mps"] == 42.0
    assert (
        found["ranges"]["curve_draw_m"]["low95"]
        < nominal["curve_draw_m"]
        < found["ranges"]["curve_draw_m"]["high95"]
    )


def test_the_nominal_block_does_not_depend_on_the_hand() -> None:
    words = ("bend", "--toe", "10", "--high", "3", *FEW)
    assert record(*words, "--left")["nominal"] == record(*words, "--right")["nominal"]


def test_speeds_in_three_units() -> None:
    found = [
        record("bend", "--toe", "5", "--speed", speed, "--speed-unit", unit, *FEW)["nominal"]["ball_mps"]
        for speed, unit in (("40", "mps"), ("89.4775", "mph"), ("144", "kmh"))
    ]
    assert found[1] == pytest.approx(found[0], rel=1e-5)
    assert found[2] == pytest.approx(found[0], rel=1e-9)


def test_wind_from_the_left_pushes_to_the_right_for_both_hands() -> None:
    for hand, sign in (("--right", 1.0), ("--left", -1.0)):
        calm = record("bend", "--toe", "0", hand, *FEW)["nominal"]["offline_push_m"]
        windy = record("bend", "--toe", "0", hand, "--wind-right", "5", *FEW)["nominal"]["offline_push_m"]
        assert sign * (windy - calm) > 3.0


def test_air_attack_and_landing_height_matter() -> None:
    plain = record("bend", "--toe", "0", *FEW)["nominal"]
    high = record("bend", "--toe", "0", "--altitude", "1500", *FEW)["nominal"]
    up = record("bend", "--toe", "0", "--attack", "4", *FEW)["nominal"]
    hill = record("bend", "--toe", "0", "--speed", "42", "--landing-up", "5", *FEW)["nominal"]
    assert high["carry_m"] > plain["carry_m"] + 3.0
    assert up["launch_deg"] > plain["launch_deg"]
    assert hill["carry_m"] < plain["carry_m"]


def test_bend_from_a_table_and_a_club_file(tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text("toe_mm,high_mm\n12,-4\n8,0\n10,2\n", encoding="utf-8")
    (tmp_path / "c.toml").write_text('schema = 1\nkind = "fairway"\nbulge_mm = 260\n', encoding="utf-8")
    found = record("bend", "--reading", str(tmp_path / "s.csv"), "--club", str(tmp_path / "c.toml"), *FEW)
    assert found["strike"]["n_balls"] == 3.0
    assert found["club"]["bulge_mm"] == 260.0
    assert len(found["ranges"]["marks"]) == 3
    assert found["ranges"]["scatter"] is not None


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_bend_draws_a_picture(ending: str, tmp_path: Path) -> None:
    out = tmp_path / f"p.{ending}"
    run("bend", "--toe", "12", "--high", "-4", *FEW, "--picture", str(out))
    run("bend", "--toe", "12", "--toe", "-3", "--left", *FEW, "--picture", str(tmp_path / f"q.{ending}"))
    assert out.stat().st_size > 5_000


def test_separate_in_the_order_of_a_coach() -> None:
    said = run(
        "separate", "--toe", "12", "--strike-err", "1", "--speed", "42", "--calm",
        "--shot", "2.7 right; 7 m left", "--shot", "3 right; 6 m left", *SOME,
    )  # fmt: skip
    assert "Verdict: the strike alone explains it." in said
    assert said.index("1 Strike") < said.index("2 Face") < said.index("3 Path")
    assert "instead of" in said


def test_separate_for_machines() -> None:
    found = record(
        "separate", "--toe", "0", "--start", "6 left", "--curve", "none", "--left", "--calm", *SOME
    )
    assert found["verdict"] in {"face", "face and path"}
    assert found["face_open_deg"]["median"] > 2.0  # a left-hander's push
    assert found["face_err_deg"] < found["face_err_without_deg"]


def test_separate_without_notes_or_strike_cannot_tell() -> None:
    assert record("separate", "--toe", "12", *SOME)["verdict"] == "cannot tell"
    assert record("separate", "--start", "left", "--curve", "right", *SOME)["verdict"] == "cannot tell"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("bend", "no strike was given"),
        ("bend --toe 90", "90 mm toe is off the face"),
        ("bend --toe 5 --speed -3", "head speed of -3"),
        ("bend --toe 5 --speed 40 --speed-unit knots", "knots"),
        ("bend --toe 1 --toe 2 --high 3", "--toe was given 2 times and --high 1 times"),
        ("bend --toe 1 --temperature 90", "temperature of 90"),
        ("bend --toe 1 --landing-up 55", "landing place lies higher"),
        ("separate --toe 1 --start left --start right", "left and as right"),
        ("separate --toe 1 --start left --shot left;left", "both given"),
        ("separate --toe 1 --calm --wind-right 3", "both given"),
        ("separate --toe 1 --start left --corridor wide", "corridor"),
    ],
)
def test_refusals(words: str, why: str) -> None:
    with pytest.raises(SetupError, match=why) as refused:
        run(*words.split())
    assert refused.value.remedy


def test_club_new_asks_and_check_tells(tmp_path: Path) -> None:
    out = str(tmp_path / "d.toml")
    # name, loft, length, height, sweet toe and high, bulge, roll, mass, depth, three inertias
    answers = "mine\n\n\n\n1.5\n99\n2\n80/2.6\nflat\n204\n\n4700\n\n\n"
    said = run("club", "new", out, "--kind", "driver", answers=answers)
    assert "99 is not possible; -25 to 25 is" in said
    told = run("club", "check", out)
    assert "measured  bulge_mm = 308.992" in told
    assert "measured  moi_vertical_kgm2 = 0.00047" in told
    assert "assumed   loft_deg" in told
    assert "with depth and inertia" in told


def test_club_new_blank_and_kind_asked(tmp_path: Path) -> None:
    run("club", "new", str(tmp_path / "b.toml"), "--kind", "wedge", "--blank")
    assert 'kind = "wedge"' in (tmp_path / "b.toml").read_text(encoding="utf-8")
    run("club", "new", str(tmp_path / "c.toml"), answers="spoon\niron\n" + "\n" * 13)
    assert 'kind = "iron"' in (tmp_path / "c.toml").read_text(encoding="utf-8")
