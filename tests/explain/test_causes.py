"""Strike, face or path: golfers whose truth is known, and notes that must not be guessed from."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from facemark.clubs import STATED_ERR, typical_club
from facemark.errors import SetupError
from facemark.explain import constants as c
from facemark.explain.air import Air
from facemark.explain.causes import Causes, Observe, Reason, Verdict, separate_causes
from facemark.explain.likelihood import curve_evidence, log_fit, matched_normal, start_evidence
from facemark.explain.notes import (
    Bend,
    Note,
    Side,
    corridor_edge_deg,
    curve_metres,
    curve_side,
    start_degrees,
    start_side,
)
from facemark.explain.shot import Conditions, hit, plain_case
from facemark.inputs import ClubKind, Setup
from facemark.strike import Strike, StrikeSet
from tests.bench.golfers import coverage, golfers

DRIVER = replace(typical_club(ClubKind.DRIVER), assumed=frozenset(), errs=dict(STATED_ERR))
SETUP = Setup(club=DRIVER, head_mps=42.0)
CALM = Conditions(head_mps=42.0)


def toe(mm: float) -> StrikeSet:
    return StrikeSet(strikes=(Strike(toe_mm=mm, high_mm=0.0, toe_err_mm=1.0, high_err_mm=1.0),))


def seen(toe_mm: float, face: float, path: float, *, n: int = 1) -> list[Note]:
    """What a careful observer measures of balls that the plain model flies."""
    shots = hit(plain_case(DRIVER, CALM), (toe_mm, 0.0), CALM, face_open_deg=face, path_out_deg=path)
    note = Note(
        start=start_degrees(float(shots.launch.start_push_deg), measured=True),
        curve=curve_metres(float(shots.landing.curve_draw_m), measured=True),
    )
    return [note] * n


def causes(strikes: StrikeSet | None, notes: list[Note], *, n_draws: int = 600, **more: object) -> Causes:
    rng = np.random.default_rng(5)
    return separate_causes(strikes, notes, SETUP, rng=rng, n_draws=n_draws, wind_noted=True, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("toe_mm", "face", "path", "verdict"),
    [
        (12.0, 0.0, 0.0, Verdict.STRIKE),
        (-12.0, 0.0, 0.0, Verdict.STRIKE),
        (0.0, 0.0, 0.0, Verdict.STRIKE),
        (8.0, 5.0, 0.0, Verdict.FACE),
        (8.0, -5.0, 0.0, Verdict.FACE),
        (8.0, 0.0, 6.0, Verdict.PATH),
        (-8.0, 0.0, -6.0, Verdict.PATH),
        (12.0, 4.0, -6.0, Verdict.BOTH),
    ],
)
def test_the_guilty_one_is_found(toe_mm: float, face: float, path: float, verdict: Verdict) -> None:
    found = causes(toe(toe_mm), seen(toe_mm, face, path))
    assert found.verdict is verdict
    assert found.face_open_deg.low95 <= face <= found.face_open_deg.high95
    assert found.path_out_deg.low95 <= path <= found.path_out_deg.high95


def test_ignoring_a_toe_strike_blames_face_and_path_for_it() -> None:
    # physics note, computed: 12 mm toe taken as centred puts about 2 deg on the face and 3.3 deg on the path.
    blind = causes(toe(0.0), seen(12.0, 0.0, 0.0))
    assert blind.face_open_deg.median == pytest.approx(2.0, abs=0.8)
    assert blind.path_out_deg.median == pytest.approx(3.3, abs=1.2)
    assert blind.verdict is not Verdict.STRIKE


def test_knowing_the_strike_shrinks_the_doubt() -> None:
    found = causes(toe(12.0), seen(12.0, 0.0, 0.0, n=5))
    assert found.face_err_deg < 0.7 * found.face_err_without_deg
    assert found.path_err_deg < 0.7 * found.path_err_without_deg


def test_a_draw_mirrors_a_fade() -> None:
    one = causes(toe(10.0), seen(10.0, 3.0, -2.0))
    other = causes(toe(-10.0), seen(-10.0, -3.0, 2.0))
    assert one.face_open_deg.median == pytest.approx(-other.face_open_deg.median, abs=0.25)
    assert one.path_out_deg.median == pytest.approx(-other.path_out_deg.median, abs=0.25)
    # 600 weighted draws place a median within about half a metre
    assert one.strike_curve_draw_m.median == pytest.approx(-other.strike_curve_draw_m.median, abs=0.8)


def test_shares_and_rest_add_up_to_what_was_seen() -> None:
    found = causes(toe(12.0), seen(12.0, 3.0, 0.0))
    assert found.seen_start_push_deg is not None
    assert found.left_start_push_deg is not None
    total = found.strike_start_push_deg.median + found.left_start_push_deg.median
    assert total == pytest.approx(found.seen_start_push_deg, abs=0.1)


@pytest.mark.parametrize(
    ("strikes", "notes", "reason", "observe"),
    [
        (toe(12.0), [], Reason.NOTHING_SEEN, Observe.START),
        (toe(12.0), [Note()], Reason.NOTHING_SEEN, Observe.START),
        (toe(12.0), [Note(start=start_degrees(9.0))], Reason.NO_CURVE, Observe.CURVE),
        (toe(12.0), [Note(curve=curve_metres(-20.0))], Reason.NO_START, Observe.START),
        (None, seen(0.0, 8.0, 0.0), Reason.NO_STRIKE, Observe.STRIKE),
        (
            toe(0.0),
            [Note(start=start_degrees(2.2), curve=curve_metres(0.0))],
            Reason.COVERS_ZERO,
            Observe.MORE_BALLS,
        ),
    ],
)
def test_what_is_missing_leads_to_cannot_tell(
    strikes: StrikeSet | None, notes: list[Note], reason: Reason, observe: Observe
) -> None:
    found = causes(strikes, notes)
    assert (found.verdict, found.reason, found.observe) == (Verdict.CANNOT_TELL, reason, observe)


def test_notes_that_no_golfer_can_make_are_not_explained() -> None:
    wild = [Note(start=start_degrees(40.0, measured=True), curve=curve_metres(140.0, measured=True))] * 5
    assert causes(toe(0.0), wild).verdict is Verdict.CANNOT_TELL


def test_sides_alone_tell_something_and_numbers_tell_more() -> None:
    sides = [Note(start=start_side(Side.PUSH), curve=curve_side(Bend.FADE))] * 8
    by_side = causes(toe(0.0), sides)
    assert by_side.face_open_deg.low80 > 0.0
    by_number = causes(toe(0.0), seen(0.0, 3.0, -2.0, n=8))
    assert by_number.face_err_deg < by_side.face_err_deg


def test_a_look_at_the_whole_set_counts_once() -> None:
    note = Note(start=start_degrees(3.0), curve=curve_metres(0.0))
    one, ten = causes(toe(0.0), [replace(note, of_set=True)]), causes(toe(0.0), [note] * 10)
    assert ten.face_err_deg < one.face_err_deg


def test_wind_that_was_not_noted_widens_the_path() -> None:
    rng = np.random.default_rng(5)
    noted = causes(toe(8.0), seen(8.0, 0.0, 0.0, n=5))
    silent = separate_causes(toe(8.0), seen(8.0, 0.0, 0.0, n=5), SETUP, rng=rng, n_draws=600)
    assert silent.path_err_deg > noted.path_err_deg
    assert "wind_not_noted" in {caveat.key for caveat in silent.caveats}
    assert "wind_not_noted" not in {caveat.key for caveat in noted.caveats}


def test_a_crosswind_that_was_noted_is_not_blamed_on_the_path() -> None:
    windy = Conditions(head_mps=42.0, air=Air(wind_push_mps=5.0))
    shots = hit(plain_case(DRIVER, windy), (0.0, 0.0), windy)
    curve = float(shots.landing.curve_draw_m)
    assert curve < -5.0
    notes = [Note(start=start_degrees(0.0, measured=True), curve=curve_metres(curve, measured=True))] * 3
    assert causes(toe(0.0), notes, conditions=windy).path_out_deg.median == pytest.approx(0.0, abs=0.4)
    assert causes(toe(0.0), notes).path_out_deg.median < -1.0


def test_stated_ranges_hold() -> None:
    # 20 golfers only, so wide limits; tests/bench/physics.py counts 500.
    shares = coverage(list(golfers(20, seed=11, n_draws=800)))
    for in80, in95 in shares.values():
        assert 0.55 <= in80 <= 0.97
        assert in95 >= 0.83


def test_fewer_notes_than_marks_widen_the_strike() -> None:
    rng = np.random.default_rng(1)
    marks = tuple(Strike(toe_mm=t, high_mm=h) for t, h in rng.normal(0.0, 9.0, (10, 2)))
    few = causes(StrikeSet(strikes=marks), seen(0.0, 0.0, 0.0, n=2))
    all_ = causes(StrikeSet(strikes=marks), seen(0.0, 0.0, 0.0, n=10))
    assert few.face_err_deg > all_.face_err_deg


# Corridors: free angle on each side, ball radius taken off (computed for the trade's notes).
@pytest.mark.parametrize(
    ("width_m", "distance_m", "edge_deg"),
    [
        (0.1524, 3.048, 1.0),
        (0.3048, 3.048, 2.5),
        (0.50, 3.048, 4.3),
        (0.1524, 4.572, 0.7),
        (0.3048, 4.572, 1.6),
        (0.50, 4.572, 2.9),
    ],
)
def test_corridors_in_degrees(width_m: float, distance_m: float, edge_deg: float) -> None:
    assert corridor_edge_deg(width_m, distance_m) == pytest.approx(edge_deg, abs=0.06)


def test_numbers_average_and_sides_do_not_have_to() -> None:
    many = start_evidence([Note(start=start_degrees(x)) for x in (1.0, 2.0, 3.0, 2.0)])
    assert many.mean_and_err == (pytest.approx(2.0), pytest.approx(c.START_ERR_EYE_DEG / 2.0))
    side = start_evidence([Note(start=start_side(Side.PUSH))])
    fit = log_fit(side, np.array([-5.0, 1.0, 5.0]))
    assert fit[1] == pytest.approx(math.log(0.5), abs=1e-9)  # right at the edge: even odds
    assert fit[0] < fit[1] < fit[2]
    assert matched_normal(side, 6.0)[0] > 1.0


def test_a_quarter_of_a_large_bend_is_its_error() -> None:
    assert curve_evidence([Note(curve=curve_metres(-40.0))]).mean_and_err == (-40.0, 10.0)
    assert curve_evidence([Note(curve=curve_metres(4.0))]).mean_and_err == (4.0, 3.0)


@pytest.mark.parametrize(
    "make",
    [
        lambda: start_degrees(120.0),
        lambda: start_degrees(math.nan),
        lambda: curve_metres(900.0),
        lambda: corridor_edge_deg(0.03, 3.0),
        lambda: corridor_edge_deg(0.5, -1.0),
        lambda: corridor_edge_deg(50.0, 3.0),
    ],
)
def test_impossible_notes_are_refused(make) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(SetupError, match="possible") as refused:
        make()
    assert refused.value.remedy
