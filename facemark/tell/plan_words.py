"""The next practice block in sentences: why, set up, hit, then, care, beside it.

The sentences stand in ``languages/``; here the numbers go in. Toe side is away from the player and heel side
toward him for both hands; left and right appear only where the ball's start is meant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from facemark.explain.corridor import next_gap_m
from facemark.explain.focus import Why
from facemark.explain.ladder import EFFORTS_FRAC, Focus
from facemark.explain.moveon import BLOCK_LIMITS
from facemark.explain.practice import Practice
from facemark.explain.stations import Aim, Station
from facemark.inputs import Hand
from facemark.tell.language import ENGLISH, Language
from facemark.tell.station_words import good_line, set_up_lines
from facemark.tell.units import FaceLengths, Lengths, Units
from facemark.tell.words import PLAIN_UNITS, face_length, place_words, push_side

SLOW_FRAC = 0.4  # up to this effort people are reminded how to swing slowly, and of small marks; assumed


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
        """A share in whole tenths: '8'."""
        return self.number(10.0 * frac)

    def few_of_ten(self, frac: float) -> str:
        """A share in tenths that may be small: '2', 'fewer than 1'."""
        return self.of_ten(frac) if frac >= 0.1 else self.say("plan.fewer than one")

    def range_of_ten(self, low_frac: float, high_frac: float) -> str:
        """'6 to 9'; one number where both ends are written alike."""
        low, high = self.of_ten(low_frac), self.of_ten(high_frac)
        return low if low == high else self.say("plan.range", low=low, high=high)

    def start(self, push_deg: float) -> str:
        """'0.8° right'."""
        side = push_side(push_deg, self.hand, self.language)
        return f"{self.number(abs(push_deg), 1)}° {side}"

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


def hit_lines(practice: Practice, teller: Teller) -> list[str]:
    """The dose, what counts as good, and how to swing slowly."""
    lines = [plan_dose(practice, teller) + ".", good_line(practice, teller)]
    if practice.effort_frac <= SLOW_FRAC:
        lines.append(teller.say("plan.slow"))
        if practice.focus is not Focus.START:
            lines.append(teller.say("plan.small marks"))
    return lines


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
        lines.append(teller.say(_easier_key(practice.station), down=down))
    return [*lines, teller.say("plan.rule.else"), teller.say("plan.rule.stop")]


def _easier_key(station: Station) -> str:
    """What helps when it falls apart at the lowest step."""
    if station.aim in (Aim.SHIFT, Aim.HEIGHT):
        return "plan.rule.no change"
    return "plan.rule.easier" if station.gate or station.corridor or station.path_gate else "plan.rule.slower"


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
        (any((station.gate, station.corridor, station.path_gate)), "plan.care.near"),
        (station.corridor is not None, "plan.care.stick"),
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
