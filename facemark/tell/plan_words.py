"""The next practice block in sentences: why, set up, hit, then, care, beside it.

The sentences stand in ``languages/``; here the numbers go in. Toe side is away from the player and heel side
toward him for both hands; left and right appear only where the ball's start is meant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from facemark.explain.corridor import Corridor, next_gap_m
from facemark.explain.focus import Why
from facemark.explain.gate import Gate, Shift
from facemark.explain.ladder import EFFORTS_FRAC, Focus
from facemark.explain.moveon import BLOCK_LIMITS
from facemark.explain.path_gate import PathGate
from facemark.explain.practice import Aim, GateFrom, Practice, Station
from facemark.inputs import ClubKind, Hand
from facemark.tell.language import ENGLISH, Language
from facemark.tell.units import FaceLengths, Lengths, Units
from facemark.tell.words import PLAIN_UNITS, face_length, place_words, push_side

SLOW_FRAC = 0.4  # up to this effort people are reminded how to swing slowly, and of small marks; assumed
HALF_FRAC = 0.5  # of a height miss is asked for at once; assumed
_ON_GROUND = {ClubKind.IRON, ClubKind.WEDGE, ClubKind.HYBRID}


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading and its sentences."""

    key: str  # of the heading
    head: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Teller:
    """Whom the words are for."""

    hand: Hand = Hand.RIGHT
    units: Units = PLAIN_UNITS
    language: Language = ENGLISH

    def say(self, key: str, **words: object) -> str:
        return self.language.say(key, **words)

    def number(self, value: float, digits: int = 0) -> str:
        return self.language.number(value, digits)

    def face(self, mm: float) -> str:
        """'12 mm', '0.47 in'."""
        return face_length(mm, 0, self.units, self.language)

    def ground(self, mm: float) -> str:
        """Distances laid out with a tape: '45 cm', '18 in'."""
        if self.units.face is FaceLengths.INCHES or self.units.lengths is Lengths.YARDS:
            return f"{self.number(mm / 25.4, 0)} {self.say('unit.in')}"
        cm = mm / 10.0
        return f"{self.number(cm, 0 if abs(cm - round(cm)) < 0.05 else 1)} {self.say('unit.cm')}"

    def ahead(self, metres: float) -> str:
        """'3.05 m', '10 ft'."""
        if self.units.lengths is Lengths.YARDS:
            return f"{self.number(metres / 0.3048)} {self.say('unit.ft')}"
        return f"{self.number(metres, 2)} {self.say('unit.m')}"

    def far(self, metres: float) -> str:
        """'9 m', '10 yd'."""
        unit = self.say(f"unit.{self.units.lengths}")
        return f"{self.number(self.units.range_length(metres))} {unit}"

    def of_ten(self, frac: float) -> str:
        """A share in tenths, whole from one up: '8', '0.4'."""
        tenths = 10.0 * frac
        return self.number(tenths, 1 if 0.05 <= tenths < 0.95 else 0)

    def effort(self, frac: float) -> str:
        return self.number(100.0 * frac)


def plan_title(practice: Practice, teller: Teller) -> str:
    """'Next block: strike'."""
    return teller.say("plan.title", focus=teller.say(f"plan.focus.{practice.focus}"))


def plan_dose(practice: Practice, teller: Teller) -> str:
    """'10 balls at 20 % effort, about 10 minutes'."""
    return teller.say(
        "plan.dose",
        balls=teller.language.say_n("ball", practice.n_balls),
        effort=teller.effort(practice.effort_frac),
        minutes=practice.n_minutes,
    )


def plan_sections(practice: Practice, teller: Teller) -> list[Section]:
    """Everything the plan says, in order."""
    parts: list[tuple[str, list[str]]] = [
        ("why", why_lines(practice, teller)),
        ("set up", set_up_lines(practice, teller)),
        ("do", hit_lines(practice, teller)),
        ("rules", rule_lines(practice, teller)),
        ("care", care_lines(practice, teller)),
        ("beside", [teller.say(f"plan.offer.{offer.name.lower()}") for offer in practice.offers]),
        ("doubts", doubt_lines(practice, teller)),
    ]
    return [
        Section(key=key, head=teller.say(f"plan.head.{key}"), lines=tuple(lines))
        for key, lines in parts
        if lines
    ]


def why_lines(practice: Practice, teller: Teller) -> list[str]:
    """Why this focus; first of all whether today is over."""
    pattern, words = practice.pattern, {}
    if pattern is not None and practice.why in (Why.OFF_CENTRE, Why.HIGH_LOW):
        words["place"] = place_words(pattern.toe_mm, pattern.high_mm, teller.units, teller.language)
    if pattern is not None and pattern.spread is not None and practice.why is Why.SCATTERED:
        words["spread"] = teller.face(pattern.spread.one_mm)
    over = [] if practice.stop is None else [teller.say(f"plan.stop.{practice.stop}")]
    return [*over, teller.say(f"plan.why.{practice.why.name.lower()}", **words)]


def set_up_lines(practice: Practice, teller: Teller) -> list[str]:
    """What stands where."""
    station, lines = practice.station, []
    if station.shift is not None:
        lines += _shift_lines(station, station.shift, teller)
    if station.aim is Aim.HEIGHT and station.high_mm is not None:
        lines.append(_height_line(practice.kind, station.high_mm, teller))
    if station.aim is Aim.SLOWER:
        if practice.why is Why.TWO_GROUPS:
            lines.append(teller.say("plan.slower.two"))
        else:
            lines.append(teller.say("plan.gate.none" if station.gate is None else "plan.slower.slow"))
    if station.gate is not None:
        lines += _gate_lines(station.gate, station.gate_from, teller)
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
        now=teller.of_ten(shift.now.likely_frac),
        shifted=teller.of_ten(shift.shifted.likely_frac),
        tighter=teller.of_ten(shift.tighter.likely_frac),
    )
    if station.aim is not Aim.SHIFT:
        return [teller.say("plan.shift.later"), gain]
    # A toe strike means that the head passed too near the player: he stands nearer.
    key = "plan.shift.nearer" if shift.toe_mm > 0.0 else "plan.shift.farther"
    return [teller.say(key, far=teller.face(abs(shift.toe_mm))), gain]


def _height_line(kind: ClubKind, high_mm: float, teller: Teller) -> str:
    if kind in _ON_GROUND:
        return teller.say("plan.height.ground")
    key = "plan.height.lower" if high_mm > 0.0 else "plan.height.higher"
    return teller.say(key, far=teller.face(HALF_FRAC * abs(high_mm)))


def _gate_lines(gate: Gate, comes_from: GateFrom | None, teller: Teller) -> list[str]:
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
    if comes_from is GateFrom.KEPT:
        lines.append(teller.say("plan.gate.kept"))
    if gate.passes is not None and gate.hits_toe_tee_frac is not None and gate.hits_heel_tee_frac is not None:
        lines.append(
            teller.say(
                "plan.gate.passes",
                likely=teller.of_ten(gate.passes.likely_frac),
                low=teller.of_ten(gate.passes.low80_frac),
                high=teller.of_ten(gate.passes.high80_frac),
                toe_hits=teller.of_ten(gate.hits_toe_tee_frac),
                heel_hits=teller.of_ten(gate.hits_heel_tee_frac),
            )
        )
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
    if start is not None and abs(start.median) >= 0.1:
        shift = (
            f"{teller.number(abs(start.median), 1)}° {push_side(start.median, teller.hand, teller.language)}"
        )
        lines.append(teller.say("plan.stick.strike", start=shift))
    lines.append(
        teller.say(
            "plan.stick.face",
            low=_face(corridor.face_low_open_deg, teller),
            high=_face(corridor.face_high_open_deg, teller),
            share=teller.number(100.0 * corridor.face_share_frac.median),
        )
    )
    return lines


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
        teller.say("plan.bottle.fill"),
        teller.say(
            f"plan.bottle.ok {where}",
            ok=teller.number(abs(bottle.ok_out_deg)),
            struck=teller.number(abs(bottle.struck_out_deg)),
        ),
        teller.say("plan.bottle.try"),
    ]


def hit_lines(practice: Practice, teller: Teller) -> list[str]:
    """The dose, what counts as good, and how to swing slowly."""
    lines = [plan_dose(practice, teller) + ".", _good_line(practice, teller)]
    if practice.effort_frac <= SLOW_FRAC:
        lines.append(teller.say("plan.slow"))
        if practice.focus is not Focus.START:
            lines.append(teller.say("plan.small marks"))
    return lines


def _good_line(practice: Practice, teller: Teller) -> str:
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
    if station.gate is not None:
        # The toe-side tee stops heel strikes.
        heel, toe = station.gate.toe_clear_mm, station.gate.heel_clear_mm
        return teller.say("plan.good.gate", heel=teller.face(heel), toe=teller.face(toe))
    return teller.say("plan.good.zone", zone=zone)


def rule_lines(practice: Practice, teller: Teller) -> list[str]:
    """Step up, step back, stop."""
    rung, lines = practice.rung, []
    if rung.n_balls:
        lines.append(teller.say("plan.rule.so far", good=rung.n_good, balls=rung.n_balls))
    at = EFFORTS_FRAC.index(practice.effort_frac)

    def counts(which: int, joined: str, at_least: int) -> str:
        pairs = [(row[which], balls) for balls, row in BLOCK_LIMITS.items() if balls >= at_least]
        words = ", ".join(teller.say("plan.rule.of", good=good, balls=balls) for good, balls in pairs)
        return teller.say(joined, counts=words)

    up = counts(0, "plan.rule.or more", 2 * min(BLOCK_LIMITS))
    down = counts(1, "plan.rule.or fewer", 0)
    if at + 1 < len(EFFORTS_FRAC):
        lines.append(teller.say("plan.rule.up", up=up, effort=teller.effort(EFFORTS_FRAC[at + 1])))
    else:
        lines += [teller.say("plan.rule.top", up=up), *_narrower(practice.station, teller)]
    if at > 0:
        lines.append(teller.say("plan.rule.back", down=down, effort=teller.effort(EFFORTS_FRAC[at - 1])))
    else:
        lines.append(teller.say("plan.rule.easier", down=down))
    return [*lines, teller.say("plan.rule.else"), teller.say("plan.rule.stop")]


def _narrower(station: Station, teller: Teller) -> list[str]:
    """What comes after the top of the ladder."""
    if station.corridor is not None:
        gap = next_gap_m(station.corridor.gap_m)
        return [] if gap is None else [teller.say("plan.rule.narrow", gap=teller.ground(1000.0 * gap))]
    return [] if station.gate is None else [teller.say("plan.rule.new marks")]


def care_lines(practice: Practice, teller: Teller) -> list[str]:
    """Cautions of what is set up, each once."""
    station = practice.station
    wanted: list[tuple[bool, str]] = [
        (station.gate is not None, "plan.care.gate"),
        (station.corridor is not None, "plan.care.stick"),
        (station.path_gate is not None, "plan.care.bottle"),
        (practice.focus is not Focus.START, "plan.care.spray"),
        (True, "plan.care.rules"),
    ]
    return [teller.say(key) for asked, key in wanted if asked]


def doubt_lines(practice: Practice, teller: Teller) -> list[str]:
    """What weakens the plan, each with what to do."""
    texts = teller.language.doubts
    keys = dict.fromkeys(caveat.key for caveat in practice.caveats)
    return [f"{texts[key].meaning} {texts[key].remedy}" for key in keys]


def plan_lines(practice: Practice, teller: Teller) -> list[str]:
    """The whole plan as lines of text."""
    lines = [plan_title(practice, teller)]
    for section in plan_sections(practice, teller):
        lines += ["", f"{section.head}:"]
        lines += [f"  {line}" for line in section.lines]
    return lines


def short_lines(practice: Practice, teller: Teller) -> list[tuple[str, list[str]]]:
    """What fits under the drawing of a phone picture: set up, a good ball, rules, care."""
    wanted: list[tuple[str, Callable[[Practice, Teller], list[str]]]] = [
        ("set up", set_up_lines),
        ("do", hit_lines),
        ("rules", rule_lines),
        ("care", care_lines),
    ]
    return [(teller.say(f"plan.head.{key}"), lines(practice, teller)) for key, lines in wanted]
