"""What is set up for a block and when a ball counts as good, in sentences (for plan_words.py)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from facemark.explain.corridor import Corridor
from facemark.explain.gate import Gate, Shift
from facemark.explain.path_gate import PathGate
from facemark.explain.practice import Practice
from facemark.explain.stations import Aim, GateFrom, Station
from facemark.tell.words import place_words, push_side

if TYPE_CHECKING:
    from facemark.tell.plan_words import Teller

LEAST_START_DEG = 0.1  # a strike's own start is told from here on


def set_up_lines(practice: Practice, teller: Teller) -> list[str]:
    """What stands where."""
    station, lines = practice.station, []
    if station.shift is not None:
        lines += _shift_lines(station, station.shift, teller)
    if station.aim is Aim.HEIGHT:
        lines.append(_height_line(station.higher_mm, teller))
    if station.aim is Aim.SLOWER:
        if station.keep is not None:
            lines.append(teller.say("plan.slower.two", **_group_places(station, teller)))
        else:
            lines.append(teller.say("plan.gate.none" if station.gate is None else "plan.slower.slow"))
    if station.gate is not None:
        lines += _gate_lines(station.gate, station, teller)
        if station.aim is Aim.STATIONS and station.gate_from is not GateFrom.TOLD:
            lines.append(teller.say("plan.gate.joint"))
    if station.gate_after is not None:
        after = station.gate_after
        lines.append(
            teller.say(
                "plan.shift.after",
                toe=teller.face(after.toe_clear_mm),
                heel=teller.face(after.heel_clear_mm),
                gap=teller.face(after.gap_mm),
            )
        )
    if station.corridor is not None:
        lines += _corridor_lines(station.corridor, teller)
    if station.path_gate is not None:
        lines += _bottle_lines(station.path_gate, teller)
    return lines


def _shift_lines(station: Station, shift: Shift, teller: Teller) -> list[str]:
    gain = teller.say(
        "plan.shift.gain",
        clear=teller.face(shift.clear_mm),
        **{
            word: told
            for name, rate in (("now", shift.now), ("shifted", shift.shifted), ("tighter", shift.tighter))
            for word, told in (
                (name, teller.of_ten(rate.likely_frac)),
                (f"{name}_range", teller.range_of_ten(rate.low80_frac, rate.high80_frac)),
            )
        },
    )
    if station.aim is not Aim.SHIFT:
        return [teller.say("plan.shift.later"), gain]
    # A toe strike means that the head passed too near the player: he stands nearer.
    key = "plan.shift.nearer" if shift.toe_mm > 0.0 else "plan.shift.farther"
    return [teller.say(key, far=teller.face(abs(shift.toe_mm))), gain]


def _height_line(higher_mm: float | None, teller: Teller) -> str:
    if higher_mm is None:
        return teller.say("plan.height.ground")
    key = "plan.height.higher" if higher_mm > 0.0 else "plan.height.lower"
    return teller.say(key, far=teller.face(abs(higher_mm)))


def _group_places(station: Station, teller: Teller) -> dict[str, str]:
    return {
        name: place_words(group.toe_mm, group.high_mm, teller.units, teller.language)
        for name, group in (("keep", station.keep), ("leave", station.leave))
        if group is not None
    }


def _gate_lines(gate: Gate, station: Station, teller: Teller) -> list[str]:
    lines = [
        teller.say("plan.gate.head"),
        teller.say(
            "plan.gate.tees",
            toe=teller.face(gate.toe_clear_mm),
            heel=teller.face(gate.heel_clear_mm),
            toe_tees=teller.number(gate.toe_clear_tees_ratio, 1),
            heel_tees=teller.number(gate.heel_clear_tees_ratio, 1),
            gap=teller.face(gate.gap_mm),
        ),
    ]
    if station.gate_from is GateFrom.KEPT:
        lines.append(teller.say("plan.gate.kept"))
    if gate.passes is not None and gate.hits_toe_tee_frac is not None and gate.hits_heel_tee_frac is not None:
        lines.append(
            teller.say(
                "plan.gate.passes",
                likely=teller.of_ten(gate.passes.likely_frac),
                range=teller.range_of_ten(gate.passes.low80_frac, gate.passes.high80_frac),
                toe_hits=teller.few_of_ten(gate.hits_toe_tee_frac),
                heel_hits=teller.few_of_ten(gate.hits_heel_tee_frac),
            )
        )
    if station.n_seen is not None:
        balls = teller.language.say_n("ball", station.n_seen)
        lines.append(teller.say("plan.gate.through", through=station.n_through, balls=balls))
    return [*lines, teller.say("plan.gate.means")]


def _corridor_lines(corridor: Corridor, teller: Teller) -> list[str]:
    ahead, gap = teller.ahead(corridor.distance_m), teller.ground(1000.0 * corridor.gap_m)
    side = _start_side(corridor, teller)
    if corridor.n_sticks == 1:
        lines = [teller.say("plan.stick.one", distance=ahead)]
    elif corridor.shape is None:
        lines = [teller.say("plan.stick.two", distance=ahead, gap=gap)]
    else:
        lines = [teller.say("plan.stick.side", distance=ahead, gap=gap, side=side)]
    near, wide = sorted(abs(edge) for edge in (corridor.low_push_deg, corridor.high_push_deg))
    words: dict[str, object] = {"angle": teller.number(wide, 1)}
    key = "plan.stick.free"
    if corridor.shape is not None:
        key, words["near"], words["side"] = "plan.stick.free side", teller.number(near, 1), side
    if corridor.carry_m is not None and corridor.high_push_m is not None and corridor.low_push_m is not None:
        off = max(abs(corridor.low_push_m), abs(corridor.high_push_m))
        key = f"plan.stick.free{'' if corridor.shape is None else ' side'} at"
        words |= {"off": teller.far(off), "carry": teller.far(corridor.carry_m)}
    lines.append(teller.say(key, **words))
    start = corridor.strike_start_push_deg
    if start is not None and abs(start.median) >= LEAST_START_DEG:
        own, low, high = (teller.start(deg) for deg in (start.median, start.low80, start.high80))
        lines.append(teller.say("plan.stick.strike", start=own, low=low, high=high))
    return [*lines, _face_line(corridor, teller)]


def _face_line(corridor: Corridor, teller: Teller) -> str:
    """Where the face may point; for a curve that is to come back one end is known."""
    low, high, share = corridor.face_low_open_deg, corridor.face_high_open_deg, corridor.face_share_frac
    if low is not None and high is not None:
        return teller.say(
            "plan.stick.face",
            low=_face(low, teller),
            high=_face(high, teller),
            share=teller.number(100.0 * share.median),
            share_low=teller.number(100.0 * share.low80),
            share_high=teller.number(100.0 * share.high80),
        )
    limit = low if high is None else high
    assert limit is not None
    # Up to so far open for a draw, closed for a fade; where the strike alone starts the ball farther than the
    # sticks allow, the face has to point the other way.
    at_most = (limit > 0.0) == (high is not None)
    key = "plan.stick.face at most" if at_most else "plan.stick.face at least"
    return teller.say(key, limit=_face(limit, teller), side=_start_side(corridor, teller))


def _start_side(corridor: Corridor, teller: Teller) -> str:
    return push_side(corridor.low_push_deg + corridor.high_push_deg, teller.hand, teller.language)


def _face(open_deg: float, teller: Teller) -> str:
    key = "plan.face.open" if open_deg > 0.0 else "plan.face.closed"
    return teller.say(key, angle=teller.number(abs(open_deg), 1))


def _bottle_lines(bottle: PathGate, teller: Teller) -> list[str]:
    where = bottle.comes_from
    return [
        teller.say(
            f"plan.bottle.{where}",
            along=teller.ground(abs(bottle.ahead_mm)),
            out=teller.ground(bottle.out_mm),
        ),
        teller.say("plan.bottle.fill", rise=teller.ground(10.0 * math.ceil(bottle.rise_mm / 10.0))),
        teller.say(
            f"plan.bottle.ok {where}",
            ok=teller.number(abs(bottle.ok_out_deg)),
            struck=teller.number(abs(bottle.struck_out_deg)),
        ),
        teller.say("plan.bottle.try"),
    ]


def good_line(practice: Practice, teller: Teller) -> str:
    """When a ball counts as good."""
    station, zone = practice.station, teller.face(practice.zone_mm)
    corridor = station.corridor
    if station.aim is Aim.STATIONS and station.curve_window_m is not None:
        return teller.say("plan.good.all", window=teller.far(station.curve_window_m))
    if station.aim is Aim.BOTTLE:
        return teller.say("plan.good.bottle")
    if corridor is not None and corridor.n_sticks == 1:
        if corridor.shape is not None:
            return teller.say("plan.good.one side", side=_start_side(corridor, teller))
        return teller.say("plan.good.one", half=teller.ground(500.0 * corridor.gap_m))
    if corridor is not None:
        return teller.say("plan.good.two")
    gate = station.gate_after or station.gate
    if gate is not None:
        # The toe-side tee stops heel strikes.
        heel, toe = gate.toe_clear_mm, gate.heel_clear_mm
        key = "plan.good.gate" if station.gate_after is None else "plan.good.shift"
        return teller.say(key, heel=teller.face(heel), toe=teller.face(toe))
    if station.keep is not None:
        return teller.say("plan.good.group", **_group_places(station, teller))
    return teller.say("plan.good.zone", zone=zone)
