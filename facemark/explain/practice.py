"""What do I practise next, and why? One block of balls: one focus, its stations, its rules.

focus.py chooses what comes first; here the block is built: what is set up and how (gate, corridor, bottle),
how hard it is hit (ladder.py), and what weakens the plan.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from facemark.caveats import BOTTLE_BY_EYE, GATE_EFFORT, GATE_ROUGH, Caveat
from facemark.errors import SetupError
from facemark.explain.causes import Verdict
from facemark.explain.constants import NO_CURVE_M
from facemark.explain.corridor import GAPS_M, STICK_DISTANCE_M, Corridor, Shape, lay_corridor
from facemark.explain.evidence import gather_evidence
from facemark.explain.focus import ORDER, Blame, Why, choose_focus
from facemark.explain.gate import (
    JOINT_WIDER,
    SHIFT_GAIN_FRAC,
    Gate,
    Shift,
    check_head,
    fit_gate,
    gate_of,
    weigh_shift,
)
from facemark.explain.hitset import Drift
from facemark.explain.ladder import (
    N_UP,
    Block,
    Focus,
    Rung,
    Stop,
    check_effort,
    climb,
    club_key,
    of_club,
    stop_today,
)
from facemark.explain.offers import Offer, offers_beside
from facemark.explain.path_gate import From, PathGate, place_bottle
from facemark.explain.pattern import FEWEST_BALLS, Label, Pattern, describe_pattern
from facemark.explain.players import ToeHeel, draw_toe_heel
from facemark.explain.thresholds import thresholds_for
from facemark.explain.zone import zone_holding_mm
from facemark.inputs import ClubKind, Setup
from facemark.strike import StrikeSet

N_MINUTES = 10  # a station; common practice
MINUTES = (3, 60)  # assumed
PASS_FRAC = 0.8  # of a first block: a coaching convention
CURVE_SHARE_FRAC = 0.05  # of the carry: the window a curve should stay in, either way; assumed
N_STATIONS = 3  # strike, start, curve: a ball has to pass all three at once
SAME_EFFORT_FRAC = 0.1  # efforts nearer than this are one; half a step
GATE_ROUGH_FRAC = 0.8  # less sure than this that 7 to 9 of 10 pass: said


class Aim(StrEnum):
    """What the block does about it."""

    SHIFT = "shift"  # move the whole group
    HEIGHT = "height"  # tee height, one change at a time
    SLOWER = "slower"
    GATE = "gate"
    ONE_STICK = "one stick"
    CORRIDOR = "corridor"
    BOTTLE = "bottle"
    STATIONS = "stations"


class GateFrom(StrEnum):
    """Where the gate comes from."""

    FITTED = "fitted"  # to the marks
    TOLD = "told"
    KEPT = "kept"  # as it stood: its count is open, or there are no newer marks


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSetup:
    """What was told for the plan. None: not told."""

    head_mm: float | None = None  # longest way from heel to toe
    clear_mm: tuple[float, float] | None = None  # toe and heel side of a gate that is to be used as it is
    last_clear_mm: tuple[float, float] | None = None  # of the gate of the last block
    last_clear_of: Focus | None = None  # what that block was about; None: the strike
    carry_m: float | None = None
    stick_distance_m: float = STICK_DISTANCE_M
    stick_gap_m: float | None = None
    shape: Shape | None = None
    comes_from: From | None = None
    effort_frac: float | None = None  # of the first block; else the lowest
    photo_effort_frac: float | None = None  # at which the marks were made
    n_minutes: int = N_MINUTES
    day: dt.date | None = None  # today; None: no question about days is asked


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """What is set up. None: does not belong to this block."""

    aim: Aim
    gate: Gate | None = None
    gate_from: GateFrom | None = None
    gate_after: Gate | None = None  # once the group has been shifted
    shift: Shift | None = None
    high_mm: float | None = None  # where the group lies, where that is what is worked on
    corridor: Corridor | None = None
    path_gate: PathGate | None = None
    curve_window_m: float | None = None  # either way


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """The next block."""

    focus: Focus
    why: Why
    station: Station
    effort_frac: float
    n_balls: int
    n_minutes: int
    rung: Rung
    stop: Stop | None  # today is over: this block is for another day
    zone_mm: float  # a good strike without a gate lies this near the sweet spot
    sweet_toe_mm: float  # of the club, from the head's middle; for the drawing
    kind: ClubKind
    club: str  # its ``club_key``
    pattern: Pattern | None
    offers: tuple[Offer, ...]
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """Everything that is known when the focus is chosen."""

    strikes: StrikeSet | None
    setup: Setup
    told: PlanSetup
    blame: Blame | None
    pattern: Pattern | None
    group: ToeHeel | None
    ladders: Mapping[Focus, Rung]


def plan_practice(
    strikes: StrikeSet | None,
    setup: Setup,
    *,
    told: PlanSetup | None = None,
    blame: Blame | None = None,
    blocks: Sequence[Block] = (),
    drift: Drift | None = None,
    rng: np.random.Generator,
) -> Practice:
    """Plan the next block.

    Parameters
    ----------
    strikes : StrikeSet or None
        The last marks. None: from the blocks alone.
    setup : Setup
        Club and head speed are used.
    told : PlanSetup
    blame : Blame or None
        What was found of face and path; None: nobody looked.
    blocks : Blocks of this player, oldest first; those of other clubs only end the day.
    drift : Drift or None
        Of the last set, where its order is known.
    rng : numpy.random.Generator

    Returns
    -------
    Practice

    Raises
    ------
    SetupError
        Too little to plan from, notes that contradict each other, or numbers that cannot be.
    """
    told = told or PlanSetup()
    _check(told)
    known = _gather(strikes, setup, told, blame, of_club(blocks, club_key(setup.club)), rng)
    focus, why = choose_focus(
        known.pattern, blame, known.ladders, told_path=told.comes_from is not None, day=told.day
    )
    rung = known.ladders[focus]
    drifting = drift is not None and drift.shown
    stop = None if told.day is None else stop_today(blocks, told.day, drifting=drifting)
    if stop is None and drifting:
        stop = Stop.DRIFT
    station = _STATIONS[focus](known, why, rng)
    return Practice(
        focus=focus,
        why=why,
        station=station,
        effort_frac=rung.effort_frac,
        n_balls=rung.n_next,
        n_minutes=told.n_minutes,
        rung=rung,
        stop=stop,
        zone_mm=_zone_mm(known, station),
        sweet_toe_mm=setup.club.sweet_toe_mm,
        kind=setup.club.kind,
        club=club_key(setup.club),
        pattern=known.pattern,
        offers=offers_beside(focus, known.pattern),
        caveats=_caveats(station, known, rung.effort_frac),
    )


def _check(told: PlanSetup) -> None:
    low, high = MINUTES
    if not low <= told.n_minutes <= high:
        raise SetupError(
            f"a station of {told.n_minutes} minutes was asked for; {low} to {high} is possible",
            remedy="About ten minutes a station is usual.",
        )
    if told.head_mm is not None:
        check_head(told.head_mm)
    for name, effort in (("--effort", told.effort_frac), ("--photo-effort", told.photo_effort_frac)):
        if effort is not None:
            check_effort(name, effort)


def _gather(
    strikes: StrikeSet | None,
    setup: Setup,
    told: PlanSetup,
    blame: Blame | None,
    blocks: Sequence[Block],
    rng: np.random.Generator,
) -> _Known:
    pattern = None if strikes is None else describe_pattern(strikes, setup.club.kind)
    ladders = {focus: climb(blocks, focus, start_frac=told.effort_frac) for focus in ORDER}
    started = any(rung.last_step is not None for rung in ladders.values())
    if pattern is None and not started:
        raise SetupError(
            "nobody has looked at the strikes yet, and every plan starts there",
            remedy="Spray the face, hit ten balls, and read the photo.",
        )
    if pattern is not None and pattern.label is Label.TOO_FEW:
        if not started:
            raise SetupError(
                f"these marks speak for {pattern.n_balls} balls at most: too few or too merged to plan from",
                remedy=f"At least {FEWEST_BALLS} separate marks are needed, and {N_UP} make a good gate:"
                " photograph after every three or four balls.",
            )
        pattern, strikes = None, None
    group = None
    if strikes is not None:
        # The gate stands around the head, not around the sweet spot: its doubt does not move the tees.
        seen = replace(strikes.shared, sweet_toe_mm=0.0, sweet_high_mm=0.0)
        group = draw_toe_heel(gather_evidence(replace(strikes, shared=seen)), rng)
    return _Known(
        strikes=strikes,
        setup=setup,
        told=told,
        blame=blame,
        pattern=pattern,
        group=group,
        ladders=ladders,
    )


def _strike_station(known: _Known, why: Why, rng: np.random.Generator) -> Station:
    del rng
    if why is Why.TWO_GROUPS:
        return Station(aim=Aim.SLOWER)
    if why is Why.HIGH_LOW and known.pattern is not None:
        return Station(aim=Aim.HEIGHT, high_mm=known.pattern.high_mm)
    station = _gate(known, Focus.STRIKE, may_be_none=True)
    if why is Why.SCATTERED or station.gate is None:
        return replace(station, aim=Aim.SLOWER)
    if why is not Why.OFF_CENTRE or known.group is None:
        return station
    shift = weigh_shift(known.group)
    if shift.gain_frac < max(SHIFT_GAIN_FRAC, shift.tighter_gain_frac):
        return replace(station, shift=shift)
    moved = replace(known.group, centre_toe_mm=known.group.centre_toe_mm - shift.toe_mm)
    return replace(station, aim=Aim.SHIFT, shift=shift, gate_after=fit_gate(moved, known.told.head_mm))


def _gate(known: _Known, focus: Focus, *, may_be_none: bool = False) -> Station:
    """The gate, as the part of a station it is. One whose count is open stays as it is."""
    told, rung, group = known.told, known.ladders[focus], known.group
    n_stations = N_STATIONS if focus is Focus.TOGETHER else 1
    station = Station(aim=Aim.GATE)
    if told.clear_mm is not None:
        gate = gate_of(group, told.head_mm, *told.clear_mm, n_stations=n_stations)
        return replace(station, gate=gate, gate_from=GateFrom.TOLD)
    if told.last_clear_mm is not None and (rung.n_balls > 0 or group is None):
        wider = (JOINT_WIDER if focus is Focus.TOGETHER else 1.0) / (
            JOINT_WIDER if told.last_clear_of is Focus.TOGETHER else 1.0
        )
        toe, heel = (float(round(wider * clear)) for clear in told.last_clear_mm)
        gate = gate_of(group, told.head_mm, toe, heel, n_stations=n_stations)
        return replace(station, gate=gate, gate_from=GateFrom.KEPT)
    if group is None:
        raise SetupError(
            "the gate of the last block is not known and no strikes were given to fit a new one",
            remedy="Give the last marks, or the gap between the tees: --gap-mm.",
        )
    check_head(told.head_mm)
    try:
        return replace(
            station, gate=fit_gate(group, told.head_mm, n_stations=n_stations), gate_from=GateFrom.FITTED
        )
    except SetupError:  # the one reason left: wider than the face
        if may_be_none:
            return station
        raise


def _start_station(known: _Known, why: Why, rng: np.random.Generator) -> Station:
    looking = why in (Why.STARTS_UNKNOWN, Why.CANNOT_TELL) and known.ladders[Focus.START].last_step is None
    n_sticks = 1 if looking else 2
    aim = Aim.ONE_STICK if looking else Aim.CORRIDOR
    return Station(aim=aim, corridor=_corridor(known, n_sticks=n_sticks, rng=rng))


def _corridor(known: _Known, *, n_sticks: int, rng: np.random.Generator) -> Corridor:
    told = known.told
    return lay_corridor(
        known.strikes,
        known.setup,
        n_sticks=n_sticks,
        gap_m=told.stick_gap_m if told.stick_gap_m is not None else GAPS_M[0],
        distance_m=told.stick_distance_m,
        shape=told.shape,
        carry_m=told.carry_m,
        rng=rng,
    )


def _path_station(known: _Known, why: Why, rng: np.random.Generator) -> Station:
    del why, rng
    told, blame = known.told, known.blame
    path = blame.path_out_deg if blame and blame.verdict in (Verdict.PATH, Verdict.BOTH) else None
    comes = told.comes_from or (None if path is None else From.INSIDE if path > 0.0 else From.OUTSIDE)
    if comes is None:
        raise SetupError(
            "nobody said from which side the swing comes",
            remedy="Say --from outside or --from inside, or give what facemark separate --json wrote.",
        )
    told_gate = told.clear_mm or told.last_clear_mm
    room = _gate(known, Focus.STRIKE).gate if known.group is not None or told_gate is not None else None
    club = known.setup.club
    return Station(
        aim=Aim.BOTTLE,
        path_gate=place_bottle(
            comes,
            club.kind,
            head_mm=told.head_mm,
            sweet_toe_mm=club.sweet_toe_mm,
            toe_clear_mm=thresholds_for(club.kind).zone_mm if room is None else room.toe_clear_mm,
            path_out_deg=path,
        ),
    )


def _together_station(known: _Known, why: Why, rng: np.random.Generator) -> Station:
    del why
    carry = known.told.carry_m
    return replace(
        _gate(known, Focus.TOGETHER),
        aim=Aim.STATIONS,
        corridor=_corridor(known, n_sticks=2, rng=rng),
        curve_window_m=NO_CURVE_M if carry is None else max(NO_CURVE_M, CURVE_SHARE_FRAC * carry),
    )


_STATIONS = {
    Focus.STRIKE: _strike_station,
    Focus.START: _start_station,
    Focus.PATH: _path_station,
    Focus.TOGETHER: _together_station,
}


def _zone_mm(known: _Known, station: Station) -> float:
    """How near the sweet spot a good strike lies; without a gate at least 8 of 10 of today's marks do."""
    zone = thresholds_for(known.setup.club.kind).zone_mm
    if station.aim not in (Aim.SLOWER, Aim.HEIGHT) or known.strikes is None:
        return zone
    return max(zone, zone_holding_mm(known.strikes, PASS_FRAC))


def _caveats(station: Station, known: _Known, effort_frac: float) -> tuple[Caveat, ...]:
    found = [] if known.pattern is None else list(known.pattern.caveats)
    chance = None if station.gate is None else station.gate.chance_frac
    if chance is not None and station.gate_from is GateFrom.FITTED:
        if chance < GATE_ROUGH_FRAC or (known.group is not None and known.group.odd_shape):
            found.append(Caveat(key=GATE_ROUGH))
        photo = known.told.photo_effort_frac
        if photo is not None and abs(photo - effort_frac) > SAME_EFFORT_FRAC:
            found.append(Caveat(key=GATE_EFFORT))
    if station.path_gate is not None:
        found.append(Caveat(key=BOTTLE_BY_EYE))
    return tuple(found)
