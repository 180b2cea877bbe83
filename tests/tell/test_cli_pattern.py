"""The commands pattern, compare, trend and step, from files to text and JSON; and the test sheet."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from facemark.errors import SetupError
from facemark.tell import cli_pattern
from facemark.tell.sheets import RULE, plan_test, write_plan_csv, write_plan_pdf
from tests.explain.sets import Array, exact

APP = typer.Typer(pretty_exceptions_enable=False)
cli_pattern.register(APP)


def run(*arguments: object) -> str:
    result = CliRunner().invoke(APP, [str(argument) for argument in arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def table(path: Path, points: Array, **columns: str) -> Path:
    lines = [",".join(["toe_mm", "high_mm", *columns])]
    lines += [",".join([f"{t:.6f}", f"{h:.6f}", *columns.values()]) for t, h in points]
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_pattern_in_words_and_as_json(tmp_path: Path) -> None:
    path = table(tmp_path / "a.csv", exact(10, (9.0, 0.0), (5.0, 5.0)))
    words = run("pattern", path)
    assert words.startswith("Toe side.")
    assert "9 mm toe (5 to 13 mm toe)" in words
    record = json.loads(run("pattern", path, "--json"))
    assert record["label"] == "toe"
    assert record["toe_mm"] == pytest.approx(9.0, abs=1e-5)
    assert record["toe_err_mm"] == pytest.approx(5.0 / math.sqrt(10), abs=1e-5)
    assert record["spread"]["one_mm"] == pytest.approx(5.0, abs=1e-5)
    assert record["balls_needed"] == 0
    assert [c["key"] for c in record["caveats"]] == ["sweet_spot_untold"]


def test_not_settled_says_how_many_more(tmp_path: Path) -> None:
    path = table(tmp_path / "a.csv", exact(10, (6.5, 0.0), (9.0, 7.0)))
    record = json.loads(run("pattern", path, "--json"))
    assert f"about {record['balls_needed']} more balls would settle it" in run("pattern", path)


def test_limits_are_settings(tmp_path: Path) -> None:
    path = table(tmp_path / "a.csv", exact(20, (4.0, 0.0), (4.0, 4.0)))
    assert run("pattern", path).startswith("Centred")
    assert run("pattern", path, "--worth", "3").startswith("Toe side")
    assert "within 5 mm" in run("pattern", path, "--zone", "5")
    with pytest.raises(SetupError, match="--worth"):
        run("pattern", path, "--worth", "-1")
    with pytest.raises(SetupError, match="--balls says 3"):
        run("pattern", path, "--balls", "3")


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf"])
def test_pictures_are_written(tmp_path: Path, suffix: str) -> None:
    path = table(tmp_path / "a.csv", exact(10, (9.0, 0.0), (5.0, 5.0)))
    run("pattern", path, "--picture", tmp_path / f"map.{suffix}", "--left")
    assert (tmp_path / f"map.{suffix}").stat().st_size > 5000


def test_compare_files_and_table(tmp_path: Path) -> None:
    tight, wide = exact(12, (0.0, 0.0), (3.0, 3.0)), exact(12, (0.0, 0.0), (10.0, 10.0), seed=1)
    a = table(tmp_path / "A.csv", tight)
    b = table(tmp_path / "B.csv", wide)
    words = run("compare", a, b, "--picture", tmp_path / "clubs.png")
    assert "A is tighter than B" in words
    assert (tmp_path / "clubs.png").exists()
    record = json.loads(run("compare", a, b, "--json"))
    assert (record["verdict"], record["tightest"]) == ("difference shown", "A")
    rows = [f"{t},{h},{club}" for club, points in (("A", tight), ("B", wide)) for t, h in points]
    both = tmp_path / "both.csv"
    both.write_text("\n".join(["toe_mm,high_mm,club", *rows]), encoding="utf-8")
    assert json.loads(run("compare", both, "--json"))["tightest"] == "A"
    with pytest.raises(SetupError, match="at least two clubs"):
        run("compare", a)
    with pytest.raises(SetupError, match="at least one file"):
        run("compare")


def test_no_clear_difference_says_how_many_more(tmp_path: Path) -> None:
    paths = [
        table(tmp_path / f"{n}.csv", exact(10, (i, 0.0), (8.0, 7.0), seed=i)) for i, n in enumerate("AB")
    ]
    words = run("compare", *paths)
    assert words.startswith("No clear difference; about ")
    assert "more balls each would show a spread larger by a quarter" in words


def test_trend(tmp_path: Path) -> None:
    paths = [
        table(tmp_path / f"day{i}.csv", exact(10, (2.0, 0.0), (s, s), seed=i), club="driver")
        for i, s in enumerate((12.0, 9.6, 7.7, 6.1, 4.9))
    ]
    words = run("trend", *paths, "--picture", tmp_path / "trend.png")
    assert words.startswith("The group gets tighter")
    assert "Leave the first set out" in words  # regression to the mean is told
    assert run("trend", *paths[:3]).startswith("No verdict on progress: 1 more day")
    assert json.loads(run("trend", *paths, "--started-bad", "--json"))["first_dropped"] is True


def test_step_by_counts_by_balls_and_by_file(tmp_path: Path) -> None:
    assert run("step", "--block", "9/10").startswith("Move on: 9 of 10")
    assert run("step", "--block", "8/10").startswith("Hit more: 8 of 10, true rate 49 % to 94 %")
    assert run("step", "--hits", "000").startswith("Make it easier: 0 of 3")
    path = table(
        tmp_path / "a.csv", np.array([[1.0, 0.0]] * 9 + [[20.0, 0.0]]) + np.arange(10)[:, None] / 100
    )
    record = json.loads(run("step", path, "--zone", "10", "--json"))
    assert (record["step"], record["zone_mm"]) == ("move on", 10.0)
    for wrong in (
        ["step"],
        ["step", "--hits", "1x"],
        ["step", "--block", "8-10"],
        ["step", "--block", "9/8"],
    ):
        with pytest.raises(SetupError):
            run(*wrong)


# --- the test sheet ---
def test_order_is_mixed_and_fair() -> None:
    blocks = plan_test(["A", "B"], n_balls=20)
    assert [block.club for block in blocks] == list("ABBABAAB")
    assert [block.first_ball for block in blocks] == list(range(1, 41, 5))
    three = plan_test(["A", "B", "C"], n_balls=10)
    assert [block.club for block in three] == list("ABCCBA")
    # A steady wander over the test adds the same to the mean of each club.
    for plan, clubs in ((blocks, "AB"), (three, "ABC")):
        means = [
            np.mean([b.first_ball + (b.n_balls - 1) / 2 for b in plan if b.club == club]) for club in clubs
        ]
        assert np.ptp(means) == 0.0
    uneven = plan_test(["A", "B"], n_balls=12)
    assert sum(block.n_balls for block in uneven if block.club == "A") == 12


@pytest.mark.parametrize("clubs", [[], ["A"], ["A", "A"], ["A", " "], list("ABCDEFGHI")])
def test_impossible_tests(clubs: list[str]) -> None:
    with pytest.raises(SetupError, match="different club names"):
        plan_test(clubs, n_balls=10)


def test_impossible_counts() -> None:
    for n_balls, n_block in ((3, 3), (500, 5), (10, 0), (10, 11)):
        with pytest.raises(SetupError, match="balls a club"):
            plan_test(["A", "B"], n_balls=n_balls, n_block=n_block)


def test_sheet_is_written_filled_and_read_back(tmp_path: Path) -> None:
    out = tmp_path / "test.pdf"
    words = run("compare", "--plan", "--club", "A & Ω", "--club", "B", "--balls", "10", "--out", out)
    assert "wander" in words
    assert out.read_bytes().startswith(b"%PDF")
    text = (tmp_path / "test.csv").read_text(encoding="utf-8")
    assert RULE in text
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    assert [row["club"] for row in rows] == ["A & Ω"] * 5 + ["B"] * 10 + ["A & Ω"] * 5
    rng = np.random.default_rng(1)
    for row in rows:
        toe, high = rng.standard_normal(2) * (3.0 if row["club"] == "B" else 12.0)
        row |= {"toe_mm": f"{toe:.1f}", "high_mm": f"{high:.1f}", "effort": "80", "tee_mm": "40"}
    filled = tmp_path / "filled.csv"
    with filled.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    record = json.loads(run("compare", filled, "--json"))
    assert record["tightest"] == "B"
    assert all(club["drift"] is not None for club in record["clubs"])
    assert "conditions_unknown" not in {c["key"] for c in record["caveats"]}


def test_sheet_runs_over_pages_and_is_the_same_twice(tmp_path: Path) -> None:
    blocks = plan_test(list("ABCDEFGH"), n_balls=60)
    for name in ("1", "2"):
        write_plan_pdf(tmp_path / f"{name}.pdf", blocks, paper="letter")
        write_plan_csv(tmp_path / f"{name}.csv", blocks)
    for suffix in ("pdf", "csv"):
        first, second = ((tmp_path / f"{n}.{suffix}").read_bytes() for n in "12")
        assert first == second
    assert (tmp_path / "1.pdf").read_bytes().count(b"/Type /Page\n") >= 3
    with pytest.raises(SetupError, match="paper"):
        write_plan_pdf(tmp_path / "x.pdf", blocks, paper="a5")


def test_the_explanation_states_the_limits_in_use() -> None:
    from facemark.explain.thresholds import thresholds_for
    from facemark.inputs import ClubKind

    page = Path(__file__).parents[2] / "docs" / "explanation" / "what-ten-balls-can-tell.md"
    text = page.read_text(encoding="utf-8")
    wood, iron = thresholds_for(ClubKind.DRIVER), thresholds_for(ClubKind.IRON)
    for name, first, second in (
        ("worth a side word", "worth_toe_mm", "worth_high_mm"),
        ("harmless", "harmless_toe_mm", "harmless_high_mm"),
    ):
        cells = [f"{getattr(k, first):g} / {getattr(k, second):g} mm" for k in (wood, iron)]
        assert f"| {name}, toe-heel / high-low | {cells[0]} | {cells[1]} |" in text
    for name, field in (
        ("spread called scattered", "spread_limit_mm"),
        ("two groups at least apart", "apart_mm"),
        ("zone that is counted", "zone_mm"),
    ):
        assert f"| {name} | {getattr(wood, field):g} mm | {getattr(iron, field):g} mm |" in text
