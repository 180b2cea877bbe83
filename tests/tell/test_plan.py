"""The plan as words, record, page and picture; commands and the ladder's memory in the book."""

from __future__ import annotations

import datetime as dt
import io
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from typer.testing import CliRunner

from facemark.clubs import typical_club
from facemark.errors import BookError, FacemarkError
from facemark.explain.causes import Reason, Verdict
from facemark.explain.corridor import Shape
from facemark.explain.focus import Blame
from facemark.explain.ladder import Block, Focus
from facemark.explain.path_gate import From
from facemark.explain.practice import Practice, plan_practice
from facemark.explain.stations import Aim, PlanSetup
from facemark.inputs import ClubKind, Hand, Setup
from facemark.strike import StrikeSet
from facemark.tell.book.store import Book
from facemark.tell.cli import _register, app
from facemark.tell.language import ENGLISH, LANGUAGES
from facemark.tell.plan import (
    blame_of_record,
    practice_from_record,
    practice_lines,
    practice_pdf,
    practice_png,
    practice_record,
    teller_of,
)
from facemark.tell.plan_drawing import station_drawings
from facemark.tell.plan_words import plan_sections
from facemark.tell.units import FaceLengths, Lengths, Units
from tests.explain.sets import exact, strike_set
from tests.tell.book.readings import put, record_of

MONDAY = dt.date(2026, 5, 4)
FACE = Blame(verdict=Verdict.FACE, reason=Reason.LEFT_OVER, path_out_deg=0.0)
CENTRED = strike_set(exact(20, (0.0, 0.0), (4.0, 4.0)))
TWO = strike_set(np.vstack([exact(10, (-20.0, 0.0), (3.0, 3.0)), exact(10, (20.0, 0.0), (3.0, 3.0), seed=1)]))


def planned(strikes: StrikeSet | None, *, kind: ClubKind = ClubKind.DRIVER, **more: object) -> Practice:
    told = {"head_mm": 120.0, "day": MONDAY, **more}
    blame = told.pop("blame", None)
    blocks = told.pop("blocks", ())
    return plan_practice(
        strikes,
        Setup(club=typical_club(kind)),
        told=PlanSetup(**told),  # type: ignore[arg-type]
        blame=blame,  # type: ignore[arg-type]
        blocks=blocks,  # type: ignore[arg-type]
        rng=np.random.default_rng(1),
    )


PLANS: dict[str, Callable[[], Practice]] = {
    "shift": lambda: planned(strike_set(exact(20, (11.0, 0.0), (6.0, 5.0)))),
    "gate": lambda: planned(strike_set(exact(10, (0.0, 0.0), (9.0, 7.0))), photo_effort_frac=1.0),
    "height": lambda: planned(strike_set(exact(20, (0.0, -12.0), (5.0, 5.0)))),
    "scattered": lambda: planned(strike_set(exact(20, (0.0, 0.0), (16.0, 13.0)))),
    "two groups": lambda: planned(TWO),
    "one stick": lambda: planned(CENTRED, carry_m=200.0),
    "corridor": lambda: planned(CENTRED, blame=FACE, effort_frac=1.0),
    "draw": lambda: planned(CENTRED, blame=FACE, shape=Shape.DRAW, carry_m=180.0),
    "bottle": lambda: planned(
        CENTRED, blame=Blame(verdict=Verdict.PATH, reason=Reason.LEFT_OVER, path_out_deg=-6.0)
    ),
    "inside": lambda: planned(
        CENTRED,
        blame=Blame(verdict=Verdict.STRIKE, reason=Reason.NOTHING_LEFT, path_out_deg=0.0),
        comes_from=From.INSIDE,
    ),
    "stations": lambda: planned(
        CENTRED, blame=Blame(verdict=Verdict.STRIKE, reason=Reason.NOTHING_LEFT, path_out_deg=0.0)
    ),
    "iron, stopped": lambda: planned(
        strike_set(exact(20, (0.0, 9.0), (4.0, 3.0))),
        kind=ClubKind.IRON,
        head_mm=80.0,
        blocks=[Block(focus=Focus.STRIKE, effort_frac=0.2, n_good=3, n_balls=10, day=MONDAY, pain=True)],
    ),
}


@pytest.mark.parametrize("name", PLANS)
def test_every_plan_in_every_language_hand_and_unit(name: str) -> None:
    plan = PLANS[name]()
    for language in LANGUAGES.values():
        for hand in Hand:
            for units in (Units(), Units(lengths=Lengths.YARDS, face=FaceLengths.INCHES)):
                lines = practice_lines(plan, hand, units, language)
                assert len(lines) > 10
                assert not any("{" in line or "nan" in line.split() for line in lines)
                keys = [section.key for section in plan_sections(plan, teller_of(hand, units, language))]
                assert keys[:5] == ["why", "set up", "do", "rules", "care"]


def test_words_say_the_numbers() -> None:
    words = "\n".join(practice_lines(PLANS["shift"](), Hand.RIGHT))
    assert "Shift first: stand 11 mm nearer to the ball" in words  # a toe strike: the head passed too near
    assert "Toe-side tee struck: a heel strike." in words
    assert "17 of 20, 24 of 30 or more: step up to 40 %." in words
    assert "see a clinician" in words
    assert "4.1a(3)" in words
    heel = planned(strike_set(exact(20, (-11.0, 0.0), (6.0, 5.0))))
    assert "stand 11 mm farther from the ball" in "\n".join(practice_lines(heel, Hand.RIGHT))


def test_words_say_what_counts_as_good_and_how_sure_the_numbers_are() -> None:
    shift = "\n".join(practice_lines(PLANS["shift"](), Hand.RIGHT))
    assert "as most do once you have moved" in shift
    assert "of 10 pass today (" in shift
    assert "Of the 20 balls read, " in shift
    two = "\n".join(practice_lines(PLANS["two groups"](), Hand.RIGHT))
    assert "nearer to the group that stays (20 mm" in two
    draw = "\n".join(practice_lines(PLANS["draw"](), Hand.LEFT))
    assert "the face may point up to 8.9° open, the swing line farther left still" in draw
    corridor = "\n".join(practice_lines(PLANS["corridor"](), Hand.RIGHT))
    assert "% of the start, " in corridor


def test_left_and_right_belong_to_the_hand() -> None:
    """A draw starts right of the line for a right-hander and left of it for a left-hander."""
    draw = PLANS["draw"]()
    assert "to its right" in "\n".join(practice_lines(draw, Hand.RIGHT))
    assert "to its left" in "\n".join(practice_lines(draw, Hand.LEFT))


def test_cautions_stand_where_they_belong() -> None:
    care = {
        name: " ".join(next(s.lines for s in plan_sections(make(), teller_of()) if s.key == "care"))
        for name, make in PLANS.items()
    }
    assert all("eye protection" in care[name] for name in ("gate", "corridor", "one stick", "bottle"))
    assert "come back off a stick" in care["one stick"]  # it stands where a good ball flies
    assert "eye protection" not in care["height"]
    assert "off a stick" not in care["gate"]
    assert "bottle" in care["bottle"]
    assert all("clean the face before you play" in words for words in care.values())


def test_pain_comes_first() -> None:
    lines = practice_lines(PLANS["iron, stopped"](), Hand.RIGHT)
    assert lines[3].strip().startswith("Today is over: pain.")


@pytest.mark.parametrize("name", PLANS)
def test_record_is_plain_and_says_the_same(name: str) -> None:
    plan = PLANS[name]()
    record = json.loads(json.dumps(practice_record(plan, Hand.RIGHT), allow_nan=False))
    assert record["focus"] == plan.focus
    assert record["station"]["aim"] == plan.station.aim
    told = [line.strip() for line in practice_lines(plan, Hand.RIGHT)]
    for section in record["sections"]:
        assert set(section["lines"]) <= set(told)


@pytest.mark.parametrize("name", ["shift", "stations", "iron, stopped"])
@pytest.mark.parametrize("code", ["en", "de"])
def test_page_is_one_page_and_the_picture_as_wide_as_asked(name: str, code: str) -> None:
    plan = PLANS[name]()
    for paper, wide in (("a4", 595.3), ("letter", 612.0)):
        page = practice_pdf(plan, Hand.LEFT, language=LANGUAGES[code], paper=paper, who="Moss")
        pdf = pypdfium2.PdfDocument(page)
        assert len(pdf) == 1
        assert pdf[0].get_width() == pytest.approx(wide, abs=0.2)
        words = pdf[0].get_textpage().get_text_range()
        assert "Moss" in words
        assert "4.1a(3)" in words
    with Image.open(io.BytesIO(practice_png(plan, Hand.LEFT, width_px=540))) as image:
        assert image.width == 540


@pytest.mark.parametrize("name", ["gate", "draw", "bottle", "inside"])
def test_drawing_is_to_scale_and_mirrored_for_the_other_hand(name: str) -> None:
    """Circles and lines of the left-handed drawing are those of the right-handed one, x turned around."""
    from matplotlib.figure import Figure

    found = []
    for hand in (Hand.RIGHT, Hand.LEFT):
        axes = Figure().add_axes((0.0, 0.0, 1.0, 1.0))
        for draw in station_drawings(PLANS[name](), teller_of(hand)):
            draw(axes)
        assert axes.get_aspect() == 1.0
        circles = [(*patch.center, patch.radius) for patch in axes.patches if hasattr(patch, "radius")]
        lines = [(line.get_xdata(), line.get_ydata()) for line in axes.lines]
        found.append((circles, lines))
    (circles, lines), (other_circles, other_lines) = found
    assert lines
    for (x, y, r), (x2, y2, r2) in zip(circles, other_circles, strict=True):
        assert (-x, y, r) == pytest.approx((x2, y2, r2))
    for (xs, ys), (xs2, ys2) in zip(lines, other_lines, strict=True):
        assert -np.asarray(xs, float) == pytest.approx(np.asarray(xs2, float))
        assert np.asarray(ys, float) == pytest.approx(np.asarray(ys2, float))


def test_tees_stand_where_the_gate_says() -> None:
    from matplotlib.figure import Figure

    plan = PLANS["gate"]()
    gate = plan.station.gate
    assert gate is not None
    axes = Figure().add_axes((0.0, 0.0, 1.0, 1.0))
    for draw in station_drawings(plan, teller_of()):
        draw(axes)
    tees = sorted(patch.center[0] for patch in axes.patches if getattr(patch, "radius", 99.0) < 6.0)
    assert tees[1] - tees[0] == pytest.approx(gate.gap_mm + 5.0)  # middles of two 5 mm tees
    assert tees[1] == pytest.approx(60.0 + gate.toe_clear_mm + 2.5)  # toe to the right


def test_blame_from_a_record() -> None:
    record = {"verdict": "path", "reason": Reason.LEFT_OVER.value, "path_out_deg": {"median": -5.5}}
    assert blame_of_record(record).path_out_deg == -5.5
    for bad in ({}, {**record, "verdict": "guess"}, {**record, "path_out_deg": None}):
        with pytest.raises(BookError, match="separate"):
            blame_of_record(bad)


# --- commands ---
@pytest.fixture
def at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FACEMARK_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("FACEMARK_BOOK", raising=False)
    monkeypatch.chdir(tmp_path)
    rows = exact(20, (9.0, 1.0), (6.0, 5.0))
    table = "toe_mm,high_mm\n" + "\n".join(f"{t:.2f},{h:.2f}" for t, h in rows)
    (tmp_path / "marks.csv").write_text(table, encoding="utf-8")
    return tmp_path


def run(*words: str) -> str:
    _register()
    result = CliRunner().invoke(app, list(words))
    if isinstance(result.exception, FacemarkError):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.output


def test_plan_from_a_table_with_page_and_picture(at: Path) -> None:
    words = run("plan", "marks.csv", "--head-mm", "118", "--pdf", "p.pdf", "--picture", "p.png", "--left")
    assert words.startswith("Next block: strike")
    assert (at / "p.pdf").read_bytes().startswith(b"%PDF")
    with Image.open(at / "p.png") as image:
        assert image.width == 1080
        assert not image.info.get("Software")
    record = json.loads(run("plan", "marks.csv", "--head-mm", "118", "--json"))
    assert record["station"]["aim"] == Aim.SHIFT


def test_ladder_is_remembered_from_day_to_day(at: Path) -> None:
    moss = ("--player", "Moss", "--book", "b.db")
    run("plan", "marks.csv", "--head-mm", "118", *moss, "--day", "2026-05-04")
    said = run("block", "9/10", *moss, "--day", "2026-05-04", "--failed", "strike")
    assert "Not decided: 9 of 10 so far" in said
    assert "Failed first at: strike 1." in said
    kept = run("plan", *moss, "--day", "2026-05-04")
    assert "The gate is the one of the last plan." in kept  # its count is open, the marks are older
    # The first plan was a shift: the gate for the shifted group stands from now on, 20 mm of room in all.
    first = json.loads(run("plan", "marks.csv", "--head-mm", "118", "--json"))["station"]["gate_after"]
    assert f"Gap between them: {118 + first['toe_clear_mm'] + first['heel_clear_mm']:.0f} mm." in kept
    assert "Counted so far: 9 of 10." in kept
    assert "Step up: 40 % next." in run("block", "8/10", *moss, "--day", "2026-05-08")
    assert "10 balls at 40 % effort" in run("plan", *moss, "--day", "2026-05-08")
    back = run("block", "4/10", *moss, "--day", "2026-05-08")
    assert "Step back: 20 % next." in back
    over = run("block", "3/10", *moss, "--day", "2026-05-08")
    assert "Today is over: two failed sets." in over
    assert "Today is over" in run("plan", *moss, "--day", "2026-05-08")
    assert "Today is over" not in run("plan", *moss, "--day", "2026-05-11")
    with Book.open(at / "b.db") as book:
        rows = book.blocks(book.find_player("Moss").id)
    assert [row.verdict for row in rows if row.n_balls] == [
        "hit more",
        "move on",
        "make it easier",
        "make it easier",
    ]
    assert rows[1].plan["failed"] == {"strike": 1}


def test_plan_from_the_newest_session_of_the_book(at: Path) -> None:
    """Photos of one session are joined; marks from before a strike block are not used a second time."""
    near, far = exact(10, (10.0, 0.0), (5.0, 4.0)), exact(10, (10.0, 0.0), (5.0, 4.0), seed=1)
    with Book.open(at / "b.db") as book:
        put(book, "Moss", "one", points=[(-20.0, 0.0)] * 5, day=dt.date(2026, 4, 1))
        put(book, "Moss", "two", points=[tuple(p) for p in near], effort_frac=1.0)
        put(book, "Moss", "three", points=[tuple(p) for p in far], effort_frac=1.0)
    moss = ("--player", "Moss", "--book", "b.db")
    said = run("plan", *moss, "--head-mm", "118")
    assert "Shift first: stand 10 mm nearer" in said
    assert "another effort than the block's" in said  # the session's effort was noted: full
    run("block", "8/10", *moss)
    later = json.loads(run("plan", *moss, "--json"))
    assert later["station"]["aim"] == Aim.GATE
    assert later["kind"] == ClubKind.DRIVER  # the session's club, also when its marks are left out
    with Book.open(at / "b.db") as book:
        put(book, "Moss", "four", points=[tuple(p) for p in near], day=dt.date(2026, 5, 9))
    assert "Shift first" in run("plan", *moss)


def test_plan_from_records_alone() -> None:
    """What page and reports call: a reading's record, and that of ``separate``."""
    points = [tuple(p) for p in exact(20, (0.0, 0.0), (3.0, 3.0))]
    told = PlanSetup(head_mm=118.0)
    causes = {"verdict": "path", "reason": Reason.LEFT_OVER.value, "path_out_deg": {"median": 6.0}}
    record = record_of(points)
    record["sweet_spot"] |= {"toe_err_mm": 0.5, "high_err_mm": 0.5}
    plan = practice_from_record(record, told=told, causes=causes)
    assert plan.focus is Focus.PATH
    assert plan.station.path_gate is not None
    assert plan.station.path_gate.comes_from is From.INSIDE
    for bad in ({}, {"club": {}}, record | {"marks": [{}]}):
        with pytest.raises(BookError, match="not the record of a reading"):
            practice_from_record(bad, told=told)


def test_the_last_set_is_one_with_the_club_that_was_asked_for(at: Path) -> None:
    moss, day = ("--player", "Moss", "--book", "b.db"), dt.date(2026, 4, 1)
    iron = [tuple(p) for p in exact(12, (-9.0, 0.0), (4.0, 3.0))]
    with Book.open(at / "b.db") as book:
        put(book, "Moss", "irons", points=iron, kind=ClubKind.IRON, day=day)
        put(book, "Moss", "drives", points=[tuple(p) for p in exact(12, (9.0, 0.0), (4.0, 3.0))])
    driver = json.loads(run("plan", *moss, "--head-mm", "118", "--json"))
    assert (driver["kind"], driver["station"]["shift"]["toe_mm"] > 0.0) == (ClubKind.DRIVER, True)
    other = json.loads(run("plan", *moss, "--head-mm", "80", "--kind", "iron", "--json"))
    assert (other["kind"], other["station"]["shift"]["toe_mm"] < 0.0) == (ClubKind.IRON, True)


def test_marks_that_wander_end_the_day(at: Path) -> None:
    noise = np.random.default_rng(2).normal(0.0, 3.0, (20, 2))
    rows = [f"{n},{n + noise[n, 0] - 10:.1f},{noise[n, 1]:.1f}" for n in range(20)]  # 1 mm a ball
    (at / "tired.csv").write_text("ball,toe_mm,high_mm\n" + "\n".join(rows), "utf-8")
    assert "the marks wander with ball number" in run("plan", "tired.csv", "--head-mm", "118")


def test_struck_tees_against_the_photo(at: Path) -> None:
    moss = ("--player", "Moss", "--book", "b.db")
    run("plan", "marks.csv", "--head-mm", "118", "--gap-mm", "138", *moss)
    # 10 mm of room either side; the marks lie 9 mm toward the toe with a spread of 6: about nine of twenty
    # toe strikes beyond it, which strike the HEEL-side tee.
    agree = run("block", "11/20", *moss, "--struck", ",".join(["heel"] * 9), "--marks", "marks.csv")
    assert "the same story" in agree
    swapped = run("block", "11/20", *moss, "--struck", ",".join(["toe"] * 9), "--marks", "marks.csv")
    assert "sides swapped" in swapped
    record = json.loads(run("block", "19/20", *moss, "--struck", "toe", "--marks", "marks.csv", "--json"))
    assert record["tees"]["story"] != "agree"


def test_pages_of_a_player_are_noted_for_forgetting(at: Path) -> None:
    moss = ("--player", "Moss", "--book", "b.db")
    run("plan", "marks.csv", "--head-mm", "118", *moss, "--pdf", "moss.pdf")
    with Book.open(at / "b.db") as book:
        assert [path.name for path in book.exports(book.find_player("Moss").id)] == ["moss.pdf"]


def test_calls_and_misses_on_purpose(at: Path) -> None:
    rng = np.random.default_rng(3)
    found = rng.normal(0.0, 10.0, (12, 2))
    called = found + rng.normal(0.0, 2.0, (12, 2)) + [6.0, 0.0]
    lines = [
        f"{c[0]:.1f};{c[1]:.1f};{f[0]:.1f};{f[1]:.1f}".replace(".", ",")
        for c, f in zip(called, found, strict=True)
    ]
    (at / "calls.csv").write_text("called_toe_mm;called_high_mm;toe_mm;high_mm\n" + "\n".join(lines), "utf-8")
    said = run("callit", "calls.csv")
    assert "12 balls)" in said
    assert "They lean 6 mm toe (" in said or "They lean 7 mm toe (" in said
    (at / "asked.csv").write_text("asked,toe_mm\nheel,-12\ntoe,3\nmiddle,1\n", "utf-8")
    # Wilson's interval of 2 of 3: 20.8 to 93.9 %.
    said = run("callit", "asked.csv").strip()
    assert said.startswith("On purpose: 2 of 3 (your true rate: 21 to 94 %). The middle reaches 6 mm")
    iron = json.loads(run("callit", "asked.csv", "--kind", "iron", "--json"))
    assert iron["edge_mm"] == 5.0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("plan", "marks.csv"), "head's length"),
        (("plan", "marks.csv", "--head-mm", "118", "--gap-mm", "110"), "narrower than the head"),
        (("plan", "marks.csv", "--gap-mm", "130"), "head's length"),
        (("plan", "marks.csv", "--head-mm", "118", "--gap-mm", "nan"), "nan mm"),
        (("plan", "marks.csv", "--head-mm", "118", "--gap-mm", "121"), "too little room"),
        (("plan", "marks.csv", "--head-mm", "nan"), "possible"),
        (("plan", "marks.csv", "--head-mm", "118", "--photo-effort", "0.8"), "0.8 % effort"),
        (("plan", "marks.csv", "--head-mm", "-118"), "possible"),
        (("plan", "marks.csv", "--head-mm", "118", "--shape", "hook"), "--shape hook"),
        (("plan", "marks.csv", "--head-mm", "118", "--from", "above"), "--from above"),
        (("plan", "marks.csv", "--head-mm", "118", "--effort", "0"), "effort"),
        (("plan", "marks.csv", "--head-mm", "118", "--minutes", "0"), "minutes"),
        (("plan", "marks.csv", "--head-mm", "118", "--effort", "33"), "steps are 20, 40"),
        (("plan", "marks.csv", "--head-mm", "118", "--stick-gap-cm", "-5"), "gap between the sticks"),
        (("plan", "marks.csv", "--head-mm", "118", "--carry", "-200"), "a carry"),
        (("plan", "marks.csv", "--head-mm", "118", "--pdf", "p.txt"), ".pdf"),
        (("plan", "marks.csv", "--head-mm", "118", "--pdf", "p.pdf", "--paper", "a3"), "a3"),
        (("plan", "marks.csv", "--head-mm", "118", "--causes", "marks.csv"), "could not be read"),
        (("plan", "none.csv", "--head-mm", "118"), "none.csv"),
        (("plan", "--head-mm", "118"), "nobody has looked at the strikes"),
        (("plan", "--player", "Moss", "--book", "no.db"), "no book"),
        (("block", "8/10", "--player", "Moss", "--book", "no.db"), "no book"),
        (("callit", "marks.csv"), "called_toe_mm"),
    ],
)
def test_bad_input_in_clear_words(at: Path, words: tuple[str, ...], says: str) -> None:
    with pytest.raises(FacemarkError) as caught:
        run(*words)
    assert says in str(caught.value)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("11/10",), "cannot be"),
        (("8 of 10",), "expected good/balls"),
        (("8/10", "--failed", "grip"), "grip"),
        (("8/10", "--failed", "strike,start,curve"), "only 2 were not good"),
        (("8/10", "--struck", "crown"), "crown"),
        (("0/1", "--struck", "toe,heel"), "2 tees"),
        (("8/10", "--struck", "toe,toe,heel"), "only 2 of 10"),
        (("100/100",), "up to 30"),
        (("8/10", "--focus", "start", "--effort", "0.8"), "0.8 % effort"),
        (("8/10", "--focus", "start", "--effort", "nan"), "nan % effort"),
        (("8/10",), "no block was planned"),
        (("8/10", "--focus", "putting", "--effort", "20"), "--focus putting"),
        (("8/10", "--focus", "start", "--effort", "150"), "150 % effort"),
        (("8/10", "--focus", "start", "--effort", "50"), "steps are 20, 40, 60, 80, 100 %"),
    ],
)
def test_bad_blocks_in_clear_words(at: Path, words: tuple[str, ...], says: str) -> None:
    with Book.open(at / "b.db") as book:
        book.player("Fern")
    with pytest.raises(FacemarkError) as caught:
        run("block", *words, "--player", "Fern", "--book", "b.db")
    assert says in str(caught.value)
    assert caught.value.remedy


def test_language_table_is_english_by_default() -> None:
    assert teller_of().language is ENGLISH


@pytest.mark.parametrize(
    "more", [("--marks", "none.csv"), ("--marks", "bad.csv"), ("--marks", "marks.csv", "--focus", "start")]
)
def test_a_block_that_ends_in_an_error_leaves_the_book_as_it_was(at: Path, more: tuple[str, ...]) -> None:
    """Who mends the slip and says it again must not have hit the set twice."""
    (at / "bad.csv").write_text("toe_mm,high_mm\nfar,away\n", "utf-8")
    moss = ("--player", "Moss", "--book", "b.db")
    run("plan", "marks.csv", "--head-mm", "118", *moss)
    with pytest.raises(FacemarkError):
        run("block", "8/10", *moss, "--struck", "heel", "--effort", "20", *more)
    with Book.open(at / "b.db") as book:
        assert not [row for row in book.blocks(book.find_player("Moss").id) if row.n_balls]


def test_gate_and_tolerance_stand_at_another_effort(at: Path) -> None:
    moss = ("--player", "Moss", "--book", "b.db")
    run("plan", "marks.csv", "--head-mm", "118", *moss)
    run("block", "8/10", *moss, "--effort", "40")
    with Book.open(at / "b.db") as book:
        done = book.blocks(book.find_player("Moss").id)[-1]
    assert done.effort_frac == 0.4
    assert done.plan["tolerance_mm"] > 0.0
    assert done.plan["station"]["gate"]


def test_a_ladder_and_a_head_belong_to_their_club(at: Path) -> None:
    """What a driver has learned says nothing of an iron, and its head is longer."""
    moss = ("--player", "Moss", "--book", "b.db")
    run("plan", "marks.csv", "--head-mm", "118", "--kind", "driver", *moss)
    run("block", "9/10", *moss)
    run("block", "9/10", *moss)
    driver = json.loads(run("plan", "marks.csv", "--kind", "driver", "--json", *moss))
    assert driver["effort_frac"] == 0.4
    with pytest.raises(FacemarkError, match="head's length"):
        run("plan", "marks.csv", "--kind", "iron", *moss)
    iron = json.loads(run("plan", "marks.csv", "--kind", "iron", "--head-mm", "80", "--json", *moss))
    assert iron["effort_frac"] == 0.2
    assert "20 %" in run("block", "9/10", *moss)  # of the iron, planned last
