"""The dictionary behind a report: joined rightly, compared honestly."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from facemark.errors import SetupError
from facemark.explain.hitset import Conditions
from facemark.strike import Strike, StrikeSet
from facemark.tell.language import LANGUAGES
from facemark.tell.reading_file import reading_set
from facemark.tell.report_content import report_content, report_text
from facemark.tell.session_join import join_strikes
from facemark.tell.session_report import Session, session_report
from facemark.tell.units import Units
from tests.tell.report_sets import moved, reading

TODAY, BEFORE = dt.date(2026, 11, 25), dt.date(2026, 11, 11)
SAME = Conditions(effort_frac=0.6, tee_mm=40.0)


def test_one_reading_keeps_its_own_numbers() -> None:
    report = session_report(Session(records=(reading(),)))
    for name in ("marks", "group", "pattern", "flight", "caveats", "sweet_spot"):
        assert report[name] == reading()[name], name


def test_the_report_is_strict_json() -> None:
    records = (moved((8, -3), 4, 1), moved((8, -3), 4, 2))
    report = session_report(Session(records=records, day=TODAY), before=Session(records=records, day=BEFORE))

    def refuse(token: str) -> None:
        raise AssertionError(token)

    assert json.loads(json.dumps(report, allow_nan=False), parse_constant=refuse) == report


def test_photos_are_joined_mark_by_mark() -> None:
    records = (moved((8, -3), 4, 1), moved((12, 1), 4, 2, n=7))
    report = session_report(Session(records=records))
    assert [mark["letter"] for mark in report["marks"]][::6] == ["1A", "2B"]
    places = np.array([[m["toe_mm"], m["high_mm"]] for record in records for m in record["marks"]])
    assert [report["pattern"]["toe_mm"], report["pattern"]["high_mm"]] == pytest.approx(places.mean(axis=0))
    assert report["n_balls_told"] == report["pattern"]["n_balls"] == 12
    # Own errors of the marks average out; that of placing them does not.
    own = reading()["marks"][0]["toe_own_err_mm"] / math.sqrt(12)
    least = math.hypot(own, reading()["face"]["centre_toe_err_mm"])
    assert least <= report["group"]["toe_err_mm"] < least + 0.1


def test_a_photo_whose_marks_stand_apart_counts_beside_one_whose_marks_do_not() -> None:
    apart = reading_set(moved((0, 0), 3, 1), name="apart").strikes
    apart = replace(apart, group=None, separable=True)
    mixed = reading_set(moved((10, 0), 3, 2), name="mixed").strikes
    mixed = replace(mixed, separable=False)
    assert mixed.group is not None
    joined = join_strikes([apart, mixed])
    assert joined.group is not None
    assert joined.group.n_balls == 10
    mean = np.mean([strike.toe_mm for strike in apart.strikes])
    assert joined.group.toe_mm == pytest.approx((mean + mixed.group.toe_mm) / 2)


def test_the_error_of_a_joined_spread_is_that_of_photos_drawn_anew() -> None:
    """One mark beside a group of four, each moved by its error 50 000 times."""
    rng = np.random.default_rng(12)
    alone = StrikeSet(strikes=(Strike(toe_mm=0.0, high_mm=0.0, toe_err_mm=1.2, high_err_mm=1.0),))
    seen = reading_set(moved((0, 0), 3, 1), name="a").strikes.group
    assert seen is not None
    group = replace(
        seen,
        toe_mm=16.0,
        toe_err_mm=0.7,
        toe_spread_mm=5.0,
        toe_spread_err_mm=0.8,
        n_balls=4.0,
        n_balls_err=0.0,
    )
    joined = join_strikes([alone, StrikeSet(strikes=(), separable=False, group=group)]).group
    assert joined is not None
    assert joined.toe_mm == pytest.approx(4 * 16.0 / 5)

    def pooled(mark: Any, centre: Any, spread: Any) -> Any:
        middle = (mark + 4 * centre) / 5
        return np.sqrt((3 * spread**2 + (mark - middle) ** 2 + 4 * (centre - middle) ** 2) / 4)

    drawn = pooled(*(at + err * rng.normal(size=50_000) for at, err in ((0.0, 1.2), (16.0, 0.7), (5.0, 0.8))))
    assert joined.toe_spread_mm == pytest.approx(pooled(0.0, 16.0, 5.0))
    assert joined.toe_spread_err_mm == pytest.approx(drawn.std(), rel=0.03)


def test_a_photos_group_stands_for_no_more_balls_than_were_told() -> None:
    group = reading_set(moved((0, 0), 3, 1), name="a").strikes.group
    assert group is not None
    many = replace(group, n_balls=9.0)
    told = StrikeSet(strikes=(), n_balls=5, separable=False, group=many)
    joined = join_strikes([told, replace(told, n_balls=None)]).group
    assert joined is not None
    assert joined.n_balls == 14.0


def test_a_doubt_names_its_photos() -> None:
    calm, doubtful = moved((8, -3), 4, 1), moved((8, -3), 4, 2)
    calm["caveats"] = [item for item in calm["caveats"] if item["key"] != "mark_at_edge"]
    report = session_report(Session(records=(calm, doubtful, calm)))
    content = report_content(report, Units(), LANGUAGES["en"])
    lines = [line.replace("\u00a0", " ") for line in content.doubts.lines]
    assert [line for line in lines if "cut off" in line] == [
        "A mark is cut off by the edge of the face (1 mark; photo 2)."
    ]


def test_a_numbered_set_is_named_in_the_readers_language() -> None:
    for name, said in (("set 2", "Serie 2"), ("nach dem Regen", "nach dem Regen")):
        report = session_report(Session(records=(reading(),), name=name))
        assert said in report_content(report, Units(), LANGUAGES["de"]).meta


@pytest.mark.parametrize("broken", ["club", "hand", "nothing"])
def test_what_does_not_belong_together(broken: str) -> None:
    records = [moved((8, -3), 4, 1), moved((8, -3), 4, 2)]
    if broken == "club":
        records[1]["club"] = {**records[1]["club"], "name": "another"}
    if broken == "hand":
        records[1]["hand"] = "left"
    with pytest.raises(SetupError):
        session_report(Session(records=() if broken == "nothing" else tuple(records)))


def session(centre: tuple[float, float], spread: float, seed: int, **more: object) -> Session:
    records = tuple(moved(centre, spread, seed + i, n=8) for i in range(2))
    return Session(records=records, **{"conditions": SAME, **more})  # type: ignore[arg-type]


def verdict(now: Session, before: Session) -> str:
    return str(session_report(now, before=before)["comparison"]["verdict"])


def test_better_worse_cannot_tell() -> None:
    wide, tight = session((2, 1), 12, 10), session((2, 1), 3, 20)
    assert verdict(tight, wide) == "better"
    assert verdict(wide, tight) == "worse"
    assert verdict(tight, session((2, 1), 3, 30)) == "cannot tell"


def test_a_tighter_group_farther_off_is_no_progress_and_no_relapse() -> None:
    # Spread 3 mm at 40 mm from the sweet spot against spread 9 mm on it: one gained, the other lost.
    assert verdict(session((38, 0), 3, 40), session((0, 0), 9, 50)) == "cannot tell"


def test_other_conditions_are_not_compared() -> None:
    other = session((2, 1), 12, 10, conditions=Conditions(effort_frac=0.9, tee_mm=40.0))
    report = session_report(session((2, 1), 3, 20), before=other)
    assert report["comparison"]["verdict"] == "not compared"
    assert report["comparison"]["differing"] == ["effort"]
    content = report_content(report, Units(), LANGUAGES["de"])
    assert content.comparison.lines == ("Nicht in beiden Übungseinheiten gleich: Krafteinsatz.",)


def test_too_few_balls_are_not_compared() -> None:
    few = Session(records=(moved((2, 1), 4, 1, n=3),), conditions=SAME)
    report = session_report(session((2, 1), 3, 20), before=few)
    assert report["comparison"]["verdict"] == "not compared"
    text = report_text(report_content(report, Units(), LANGUAGES["en"]))
    assert "Too few balls in one of the two sessions." in text


def test_the_centre_moved_the_way_it_says() -> None:
    # From 10 mm heel to 10 mm toe: it moved toward the toe.
    report = session_report(session((10, 0), 3, 60), before=session((-10, 0), 3, 70))
    assert report["comparison"]["pair"]["centres_differ"]
    lines = " ".join(report_content(report, Units(), LANGUAGES["en"]).comparison.lines)
    assert "The centre moved:" in lines
    assert "toe" in lines
    assert "heel" not in lines
