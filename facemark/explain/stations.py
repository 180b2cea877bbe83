"""What is set up for one block: gate, sticks, bottle, or only the balls, for each focus.

focus.py says what the block is about, gate.py, corridor.py and path_gate.py work out where things stand; here
they are chosen and joined. A block whose point is a change (another stance, another tee height) counts a ball
as good where it lies once the change was made, so that it cannot be passed without it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from facemark.errors import SetupError
from facemark.explain.causes import Verdict
from facemark.explain.constants import NO_CURVE_M
from facemark.explain.corridor import GAPS_M, STICK_DISTANCE_M, Corridor, Shape, lay_corridor
from facemark.explain.focus import Blame, Why
from facemark.explain.gate import (
    JOINT_WIDER,
    SHIFT_GAIN_FRAC,
    Gate,
    Shift,
    check_head,
    count_through,
    fit_gate,
    gate_of,
    weigh_shift,
)
from facemark.explain.ladder import Focus, Rung
from facemark.explain.path_gate import From, PathGate, place_bottle
from facemark.explain.pattern import Group, Pattern
from facemark.explain.players import ToeHeel
from facemark.explain.thresholds import thresholds_for
from facemark.inputs import ClubKind, Setup
from facemark.strike import StrikeSet

N_MINUTES = 10  # a station; common practice
CURVE_SHARE_FRAC = 0.05  # of the carry: the window a curve should stay in, either way; assumed
N_STATIONS = 3  # strike, start, curve: a ball has to pass all three at once
HEIGHT_SHARE_FRAC = 0.5  # of a height miss is asked for at once; assumed
ON_GROUND = {ClubKind.HYBRID, ClubKind.IRON, ClubKind.WEDGE}  # mostly hit without a tee


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
    n_through: int | None = None  # of the marks read, that would have passed the gate
    n_seen: int | None = None  # balls of those marks; None: no marks, or they cannot be told apart
    gate_after: Gate | None = None  # once the group has been shifted; a good ball passes this one, too
    shift: Shift | None = None
    high_mm: float | None = None  # where the group lies, where that is what is worked on
    higher_mm: float | None = None  # the tee, for a height miss; None off the ground
    keep: Group | None = None  # of two groups: the one whose swing stays
    leave: Group | None = None  # and the other
    corridor: Corridor | None = None
    path_gate: PathGate | None = None
    curve_window_m: float | None = None  # either way


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """Everything that is known when the focus is chosen."""

    strikes: StrikeSet | None
    setup: Setup
    told: PlanSetup
    blame: Blame | None
    pattern: Pattern | None
    group: ToeHeel | None
    ladders: Mapping[Focus, Rung]
    left_out: bool = False  # there were marks, too few to plan from


def build_station(known: Known, focus: Focus, why: Why, rng: np.random.Generator) -> Station:
    """What is set up for this focus.

    Raises
    ------
    SetupError
        Something is missing, such as the head's length, or cannot be.
    """
    return _STATIONS[focus](known, why, rng)


def _strike_station(known: Known, why: Why, rng: np.random.Generator) -> Station:
    del rng
    if why is Why.TWO_GROUPS and known.pattern is not None:
        keep, leave = sorted(known.pattern.groups, key=lambda group: math.hypot(group.toe_mm, group.high_mm))
        return Station(aim=Aim.SLOWER, keep=keep, leave=leave)
    if why is Why.HIGH_LOW and known.pattern is not None:
        return _height(known.pattern)
    station = _gate(known, Focus.STRIKE, may_be_none=True)
    if why is Why.SCATTERED or station.gate is None:
        return replace(station, aim=Aim.SLOWER)
    if why is not Why.OFF_CENTRE or known.group is None:
        return station
    shift = weigh_shift(known.group)
    if shift.gain_frac < max(SHIFT_GAIN_FRAC, shift.tighter_gain_frac):
        return replace(station, shift=shift)
    station = replace(station, aim=Aim.SHIFT, shift=shift)
    if station.gate_from is not GateFrom.FITTED:
        return station  # a gate that was told, or stands already, asks for the shift by itself
    moved = replace(known.group, centre_toe_mm=known.group.centre_toe_mm - shift.toe_mm)
    return replace(station, gate_after=fit_gate(moved, known.told.head_mm))


def _height(pattern: Pattern) -> Station:
    on_ground = pattern.kind in ON_GROUND
    return Station(
        aim=Aim.HEIGHT,
        high_mm=pattern.high_mm,
        higher_mm=None if on_ground else -HEIGHT_SHARE_FRAC * pattern.high_mm,
    )


def _gate(known: Known, focus: Focus, *, may_be_none: bool = False) -> Station:
    """The gate, as the part of a station it is, and how many of the marks read would have passed it."""
    station = _bare_gate(known, focus, may_be_none=may_be_none)
    if station.gate is None or known.strikes is None or not known.strikes.separable:
        return station
    n_through, n_seen = count_through(known.strikes, station.gate)
    return replace(station, n_through=n_through, n_seen=n_seen)


def _bare_gate(known: Known, focus: Focus, *, may_be_none: bool) -> Station:
    """The gate alone. One whose count is open stays as it is."""
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
        gate = fit_gate(group, told.head_mm, n_stations=n_stations)
    except SetupError:  # the one reason left: wider than the face
        if may_be_none:
            return station
        raise
    return replace(station, gate=gate, gate_from=GateFrom.FITTED)


def _start_station(known: Known, why: Why, rng: np.random.Generator) -> Station:
    looking = why in (Why.STARTS_UNKNOWN, Why.CANNOT_TELL) and known.ladders[Focus.START].last_step is None
    n_sticks = 1 if looking else 2
    aim = Aim.ONE_STICK if looking else Aim.CORRIDOR
    return Station(aim=aim, corridor=_corridor(known, n_sticks=n_sticks, rng=rng))


def _corridor(known: Known, *, n_sticks: int, rng: np.random.Generator) -> Corridor:
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


def _path_station(known: Known, why: Why, rng: np.random.Generator) -> Station:
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


def _together_station(known: Known, why: Why, rng: np.random.Generator) -> Station:
    del why
    carry = known.told.carry_m
    return replace(
        _gate(known, Focus.TOGETHER),
        aim=Aim.STATIONS,
        corridor=_corridor(known, n_sticks=2, rng=rng),
        curve_window_m=NO_CURVE_M if carry is None else max(NO_CURVE_M, CURVE_SHARE_FRAC * carry),
    )


_STATIONS: dict[Focus, Callable[[Known, Why, np.random.Generator], Station]] = {
    Focus.STRIKE: _strike_station,
    Focus.START: _start_station,
    Focus.PATH: _path_station,
    Focus.TOGETHER: _together_station,
}
