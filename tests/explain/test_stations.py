"""Gate, corridor and bottle against hand-worked numbers (tests/worked/stations.py)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from facemark.clubs import typical_club
from facemark.errors import SetupError
from facemark.explain.corridor import Shape, lay_corridor, start_window_deg, starts
from facemark.explain.evidence import gather_evidence
from facemark.explain.gate import fit_gate, gate_of, pass_window, weigh_shift
from facemark.explain.path_gate import From, place_bottle
from facemark.explain.players import ToeHeel, draw_toe_heel
from facemark.explain.zone import zone_holding_mm
from facemark.inputs import ClubKind, Setup
from facemark.strike import Strike, StrikeSet
from tests.explain.sets import exact, strike_set
from tests.worked import stations as worked

DRIVER = Setup(club=typical_club(ClubKind.DRIVER))


def known(centre: float, spread: float) -> ToeHeel:
    """A group that is known exactly."""
    return ToeHeel(
        centre_toe_mm=np.array([centre]), spread_toe_mm=np.array([spread]), weights=np.array([1.0])
    )


def seen(n: int, centre: float, spread: float, *, seed: int = 1) -> ToeHeel:
    points = exact(n, (centre, 0.0), (spread, 0.8 * spread))
    return draw_toe_heel(gather_evidence(strike_set(points)), np.random.default_rng(seed))


@pytest.mark.parametrize(("gap", "distance", "angle", "table"), worked.CORRIDOR)
def test_free_angle(gap: float, distance: float, angle: float, table: float) -> None:
    low, high = start_window_deg(gap / 1000.0, distance / 1000.0)
    assert high == pytest.approx(angle, abs=2e-4)
    assert low == -high
    assert round(high, 1) == table


def test_a_draw_starts_beside_the_stick() -> None:
    gap, distance, near, far = worked.DRAW_WINDOW
    draw = start_window_deg(gap / 1000.0, distance / 1000.0, Shape.DRAW)
    assert draw == pytest.approx((near, far), abs=2e-4)
    assert start_window_deg(gap / 1000.0, distance / 1000.0, Shape.FADE) == pytest.approx(
        (-draw[1], -draw[0])
    )


@pytest.mark.parametrize(("angle", "carry", "off"), worked.YARDS)
def test_sideways_at_the_carry(angle: float, carry: float, off: float) -> None:
    """In any unit; through the corridor that gives exactly this angle."""
    gap = 2.0 * (3.048 * math.tan(math.radians(angle)) + 0.021335)
    found = lay_corridor(
        None, DRIVER, n_sticks=2, gap_m=gap, distance_m=3.048, carry_m=carry, rng=np.random.default_rng(1)
    )
    assert found.high_push_m == pytest.approx(off, abs=0.005)


@pytest.mark.parametrize(("toe", "heel", "centre", "spread", "rate"), worked.PASSES)
def test_pass_rate(toe: float, heel: float, centre: float, spread: float, rate: float) -> None:
    gate = gate_of(known(centre, spread), 120.0, toe, heel)
    assert gate.passes is not None
    assert gate.passes.likely_frac == pytest.approx(rate, abs=1.5e-4)  # four-figure table, two readings


def test_gap() -> None:
    head, toe, heel, gap = worked.GAP
    assert gate_of(None, head, toe, heel).gap_mm == gap


def test_toe_tee_stops_heel_strikes() -> None:
    """A group far toward the heel strikes the toe-side tee, and only that."""
    gate = gate_of(known(-20.0, 4.0), 120.0, 10.0, 10.0)
    assert gate.hits_toe_tee_frac == pytest.approx(0.9938, abs=1e-4)  # Phi(2.5)
    assert gate.hits_heel_tee_frac == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("outside", "path", "head", "room", "ahead", "out", "ok", "struck"), worked.BOTTLES)
def test_bottle(
    outside: bool,
    path: float | None,
    head: float,
    room: float,
    ahead: float,
    out: float,
    ok: float,
    struck: float,
) -> None:
    found = place_bottle(
        From.OUTSIDE if outside else From.INSIDE,
        ClubKind.DRIVER,
        head_mm=head,
        sweet_toe_mm=0.0,
        toe_clear_mm=room,
        path_out_deg=path,
    )
    assert (found.ahead_mm, found.out_mm, found.ok_out_deg) == (ahead, out, ok)
    assert found.struck_out_deg == pytest.approx(struck, abs=2e-3)


@pytest.mark.parametrize(("outside", "rise"), worked.RISES)
def test_how_high_the_head_passes_where_the_bottle_stands(outside: bool, rise: float) -> None:
    side = From.OUTSIDE if outside else From.INSIDE
    found = place_bottle(side, ClubKind.DRIVER, head_mm=120.0, sweet_toe_mm=0.0, toe_clear_mm=10.0)
    assert found.rise_mm == pytest.approx(rise, abs=0.05)


def test_fitted_gate_of_many_balls_is_the_eighty_percent_rule() -> None:
    """400 balls: c = 1.28 spreads, or any c between 1.04 and 1.64 spreads' middle, 1.3; whole millimetres."""
    gate = fit_gate(seen(400, 0.0, 10.0), 120.0)
    assert gate.toe_clear_mm == gate.heel_clear_mm == pytest.approx(13.0, abs=1.0)
    assert gate.chance_frac == pytest.approx(1.0, abs=0.01)


def test_one_of_three_stations_gets_the_root_of_the_share() -> None:
    """0.7^(1/3) = 0.8879 and 0.9^(1/3) = 0.9655; the middle, 0.8^(1/3) = 0.9283, is 1.80 spreads (table)."""
    assert pass_window(3) == pytest.approx((0.8879, 0.9655), abs=1e-4)
    gate = fit_gate(seen(400, 0.0, 10.0), 120.0, n_stations=3)
    assert gate.toe_clear_mm == pytest.approx(18.0, abs=1.0)
    assert gate.passes is not None
    assert gate.passes.likely_frac**3 == pytest.approx(0.8, abs=0.05)


def test_a_group_toward_the_toe_gets_its_room_on_the_heel_side() -> None:
    gate = fit_gate(seen(20, 10.0, 8.0), 120.0)
    mirrored = fit_gate(seen(20, -10.0, 8.0), 120.0)
    assert gate.heel_clear_mm > gate.toe_clear_mm
    assert gate.toe_clear_mm >= 1.03 * 7.0  # a middle strike passes with room
    assert mirrored.toe_clear_mm == pytest.approx(gate.heel_clear_mm, abs=1.0)
    assert gate.passes is not None
    assert gate.passes.likely_frac == pytest.approx(0.8, abs=0.04)


def test_shift_against_tightening() -> None:
    """8 mm off at a spread of 8, gate 10 mm: worked 59 % now, 79 % centred."""
    shift = weigh_shift(known(8.0, 8.0))
    assert shift.clear_mm == 10.0
    assert shift.now.likely_frac == pytest.approx(0.5865, abs=2e-4)
    assert shift.shifted.likely_frac == pytest.approx(0.7888, abs=2e-4)
    # spread 6.4: Phi(2/6.4) - Phi(-18/6.4) = Phi(0.3125) - Phi(-2.8125) = 0.6227 - 0.0025 = 0.6202
    assert shift.tighter.likely_frac == pytest.approx(0.6202, abs=2e-4)


def test_face_share_and_strike_of_the_start() -> None:
    """Published: the start lies 61 to 83 % of the way from path to face (Wood, Henrikson, Broadie 2018)."""
    for kind in (ClubKind.DRIVER, ClubKind.IRON):
        share, strike = starts(None, Setup(club=typical_club(kind)), rng=np.random.default_rng(1))
        assert strike is None
        assert 0.58 <= share.median <= 0.86
    toe = StrikeSet(strikes=tuple(Strike(toe_mm=t, high_mm=0.0) for t in (10.0, 12.0, 14.0)))
    _, strike = starts(toe, DRIVER, rng=np.random.default_rng(1))
    assert strike is not None
    assert 1.0 < strike.median < 3.0  # a toe strike of a driver starts on the push side; bulge 305 mm: 2.25


def test_the_strike_is_taken_off_the_face_window() -> None:
    toe = StrikeSet(strikes=tuple(Strike(toe_mm=t, high_mm=0.0) for t in (10.0, 12.0, 14.0)))
    rng = np.random.default_rng(1)
    found = lay_corridor(toe, DRIVER, n_sticks=2, gap_m=0.5, rng=rng)
    assert found.strike_start_push_deg is not None
    assert found.face_low_open_deg is not None
    assert found.face_high_open_deg is not None
    middle = (found.face_low_open_deg + found.face_high_open_deg) / 2.0
    assert middle == pytest.approx(
        -found.strike_start_push_deg.median / found.face_share_frac.median, rel=1e-6
    )


@pytest.mark.parametrize("shape", list(Shape))
@pytest.mark.parametrize("toe_mm", [0.0, 12.0, -12.0])
def test_a_curve_that_comes_back_has_its_face_between_path_and_start(shape: Shape, toe_mm: float) -> None:
    """Start = strike + share x face + (1 - share) x path, written out. A draw's path is farther out than its
    face: every such pair whose ball passes the sticks has its face within the stated limit."""
    strikes = StrikeSet(strikes=tuple(Strike(toe_mm=toe_mm, high_mm=h) for h in (-1.0, 0.0, 1.0)))
    found = lay_corridor(strikes, DRIVER, n_sticks=2, gap_m=0.3, shape=shape, rng=np.random.default_rng(1))
    draw = shape is Shape.DRAW
    limit = found.face_high_open_deg if draw else found.face_low_open_deg
    assert limit is not None
    assert (found.face_low_open_deg if draw else found.face_high_open_deg) is None
    own, share = found.strike_start_push_deg, found.face_share_frac.median
    assert own is not None
    sign, passed = (1.0 if draw else -1.0), []
    for face in np.arange(-12.0, 12.0, 0.25):
        for beyond in np.arange(
            0.0, 12.0, 0.25
        ):  # of the path beyond the face, to the side the ball starts to
            start = own.median + share * face + (1.0 - share) * (face + sign * beyond)
            if found.low_push_deg <= start <= found.high_push_deg:
                passed.append(sign * face)
    assert max(passed) <= sign * limit + 1e-9
    assert max(passed) == pytest.approx(sign * limit, abs=0.3)


def test_a_mark_of_two_balls_counts_twice_in_the_zone() -> None:
    """Distances 1, 2, 3, 4, 10 with the last twice: 8 of 10 of six balls is the fifth, 10 mm."""
    marks = [Strike(toe_mm=t, high_mm=0.0) for t in (1.0, 2.0, 3.0, 4.0)]
    twice = StrikeSet(strikes=(*marks, Strike(toe_mm=10.0, high_mm=0.0, n_balls=2)))
    assert zone_holding_mm(twice, 0.8) == 10.0
    once = StrikeSet(strikes=(*marks, Strike(toe_mm=10.0, high_mm=0.0)))
    assert zone_holding_mm(once, 0.8) == 4.0
    assert zone_holding_mm(once, 0.8, moved_high_mm=3.0) == 5.0  # 3-4-5


@pytest.mark.parametrize("head", [None, 20.0, 128.0, -120.0, math.nan])
def test_no_gate_without_a_possible_head(head: float | None) -> None:
    with pytest.raises(SetupError, match="head"):
        fit_gate(known(0.0, 8.0), head)


@pytest.mark.parametrize(("toe", "heel"), [(-5.0, -5.0), (0.0, 10.0), (math.nan, 5.0), (-1.0, 20.0)])
def test_gate_narrower_than_the_head(toe: float, heel: float) -> None:
    with pytest.raises(SetupError, match="narrower than the head"):
        gate_of(known(0.0, 8.0), 120.0, toe, heel)


def test_too_scattered_for_a_gate() -> None:
    with pytest.raises(SetupError, match="wider than the face"):
        fit_gate(known(0.0, 45.0), 120.0)


@pytest.mark.parametrize(
    ("gap", "distance", "carry"),
    [(-0.5, 3.0, 200.0), (0.5, -3.0, 200.0), (0.5, 3.0, -200.0), (0.04, 3.0, None), (math.nan, 3.0, None)],
)
def test_impossible_corridors(gap: float, distance: float, carry: float | None) -> None:
    with pytest.raises(SetupError):
        lay_corridor(
            None,
            DRIVER,
            n_sticks=2,
            gap_m=gap,
            distance_m=distance,
            carry_m=carry,
            rng=np.random.default_rng(1),
        )


@pytest.mark.parametrize(("path", "room"), [(5.0, 10.0), (-25.0, 10.0), (-5.0, -1.0), (math.nan, 10.0)])
def test_impossible_bottles(path: float, room: float) -> None:
    with pytest.raises(SetupError):
        place_bottle(
            From.OUTSIDE,
            ClubKind.DRIVER,
            head_mm=120.0,
            sweet_toe_mm=0.0,
            toe_clear_mm=room,
            path_out_deg=path,
        )


@pytest.mark.parametrize("spread", [(22.0, 6.0), (14.0, 4.0), (4.0, 16.0)])
def test_a_group_of_odd_shape_is_fitted_by_its_marks(spread: tuple[float, float]) -> None:
    """Assumed ratios would leave 1 to 35 of 4000 draws with weight, and a plan that is wrong and sure."""
    points = exact(20, (0.0, 0.0), spread)
    group = draw_toe_heel(gather_evidence(strike_set(points)), np.random.default_rng(1))
    assert group.odd_shape
    assert 1.0 / float((group.weights**2).sum()) > 200.0  # as many equal draws would say as much (Kish)
    middle = float(group.weights @ group.spread_toe_mm)
    assert middle == pytest.approx(spread[0], rel=0.25)  # the spread itself is assumed, too
    assert not seen(20, 0.0, 9.0).odd_shape


def test_one_in_twenty_players_of_the_assumed_shape_is_taken_for_another() -> None:
    """Ratio 0.8, give or take a fifth: the test of shape drops the assumption for about 5 % of them."""
    rng = np.random.default_rng(8)
    odd = 0
    for _ in range(300):
        spread = (8.0, 8.0 * 0.8 * math.exp(rng.normal(0.0, 0.2)))
        points = rng.normal(0.0, 1.0, (20, 2)) * spread
        odd += draw_toe_heel(gather_evidence(strike_set(points)), rng, n_draws=400).odd_shape
    assert 0.02 <= odd / 300 <= 0.09  # binomial: 0.05 +- 0.04 in 999 of 1000
