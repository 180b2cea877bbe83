"""A record's numbers in sentences; the sentences themselves stand in ``languages/``.

Left and right are derived here and nowhere else, from push, draw and the player's hand. Words AND number,
never a bare sign. Every function takes the units and the language to speak in (default: mm, m, m/s, English).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from typing import Any

from facemark.tell.language import ENGLISH, Language
from facemark.tell.units import METRES_PER_YARD as METRES_PER_YARD
from facemark.tell.units import FaceLengths as FaceLengths
from facemark.tell.units import Lengths as Lengths
from facemark.tell.units import Speeds as Speeds
from facemark.tell.units import Units as Units

SESSION_BALLS = 40  # what a player hits with one club in one session; common practice, no source

NORMAL_95 = 1.96  # standard errors within which a normal value lies in 95 of 100 cases: what people are told

# Headlines as English words, for pages that speak English only.
HEADLINES = {
    key.removeprefix("headline."): words
    for key, words in ENGLISH.sentences.items()
    if key.startswith("headline.") and "{" not in words
}

PLAIN_UNITS = Units()
_SPEED_KEYS = {
    Speeds.METRES_PER_SECOND: "mps",
    Speeds.MILES_PER_HOUR: "mph",
    Speeds.KILOMETRES_PER_HOUR: "kmh",
}


# --- numbers with units ---
def face_length(mm: float, digits: int, units: Units, language: Language) -> str:
    """'12 mm' or '0.47 in'; ``digits`` are those of millimetres."""
    number = language.number(units.face_length(mm), units.face_digits(digits))
    return f"{number} {language.say(f'unit.{units.face}')}"


def speed_words(mps: float, units: Units, language: Language) -> str:
    """'42 m/s', '94 mph'."""
    return f"{language.number(units.speed(mps))} {speed_unit(units, language)}"


def speed_unit(units: Units, language: Language) -> str:
    """'m/s', 'mph', 'km/h'."""
    return language.say(f"unit.{_SPEED_KEYS[units.speeds]}")


# --- places ---
def place_words(
    toe_mm: float, high_mm: float, units: Units = PLAIN_UNITS, language: Language = ENGLISH
) -> str:
    """'12 mm toe, 4 mm low'; a rounded zero has no direction.

    Examples
    --------
    >>> place_words(12.2, -3.9)
    '12 mm toe, 4 mm low'
    >>> place_words(0.2, 0.4)
    'on the sweet spot'
    """
    across = _side(toe_mm, "side.toe", "side.heel", units, language)
    up = _side(high_mm, "side.high", "side.low", units, language)
    if across and up:
        return language.say("place.both", across=across, up=up)
    if across:
        return language.say("place.across", across=across)
    if up:
        return language.say("place.up", up=up)
    return language.say("place.spot")


def _offset_words(toe_mm: float, high_mm: float, units: Units, language: Language) -> str:
    """Where something lies from the face's middle: '2 mm toe, 1 mm low of the middle of the face'."""
    sides = (
        _side(toe_mm, "side.toe", "side.heel", units, language),
        _side(high_mm, "side.high", "side.low", units, language),
    )
    said = ", ".join(side for side in sides if side)
    return language.say("spot.from middle", place=said) if said else language.say("spot.middle")


def _side(mm: float, plus: str, minus: str, units: Units, language: Language) -> str:
    digits = units.face_digits(0)
    if not round(units.face_length(mm), digits):
        return ""
    return language.say(plus if mm > 0 else minus, far=face_length(abs(mm), 0, units, language))


def side_word(plus_right: float, language: Language = ENGLISH) -> str:
    """'right' for plus, 'left' for minus."""
    return language.say("to.right" if plus_right > 0 else "to.left")


def push_side(push: float, hand: str, language: Language = ENGLISH) -> str:
    """Which side a push (plus) or pull (minus) starts to: a right-hander's push goes right."""
    return side_word(push if hand == "right" else -push, language)


def draw_side(draw: float, hand: str, language: Language = ENGLISH) -> str:
    """Which side a draw (plus) or fade (minus) bends to: a right-hander's draw goes left."""
    return side_word(-draw if hand == "right" else draw, language)


def plural(n: float, one: str, many: str | None = None) -> str:
    """'1 ball', '3 balls': English, for pages that speak nothing else."""
    return f"{n:g} {one if n == 1 else (many or one + 's')}"


# --- sentences of a reading ---
def title_line(record: dict[str, Any], language: Language = ENGLISH) -> str:
    """Photo, number of marks, hand and kind of club."""
    return language.say(
        "title",
        photo=record["photo"]["name"],
        marks=language.say_n("mark", len(record["marks"])),
        hand=language.say(f"hand.{record['hand']}"),
        kind=language.say(f"kind.{record['club']['kind']}"),
    )


def corrected_line(record: dict[str, Any], language: Language = ENGLISH) -> str:
    """What a person changed by hand, counted."""
    names = [edit["edit"] for edit in record["corrected"]["edits"]]
    return language.say("corrected", edits=", ".join(edit_words(dict(Counter(names)), language)))


def edit_words(counts: dict[str, int], language: Language = ENGLISH) -> list[str]:
    """'2 marks moved', 'sweet spot moved': edits by name and how often, in the order of the table."""
    said = []
    for key in ENGLISH.sentences:
        name = key.removeprefix("edit.").removesuffix(".one")
        if key.startswith("edit.") and not key.endswith(".many") and name in counts:
            once = key == f"edit.{name}"
            said.append(language.say(key) if once else language.say_n(f"edit.{name}", counts[name]))
    return said


def group_line(record: dict[str, Any], units: Units = PLAIN_UNITS, language: Language = ENGLISH) -> str:
    """Where the group's centre is, and how well that is known."""
    group = record["group"]
    err = NORMAL_95 * math.hypot(group["toe_err_mm"], group["high_err_mm"]) / math.sqrt(2)
    return language.say(
        "group",
        place=place_words(group["toe_mm"], group["high_mm"], units, language),
        err=face_length(max(1.0, err), 0, units, language),
        spot=_spot_words(record, units, language),
    )


def _spot_words(record: dict[str, Any], units: Units, language: Language) -> str:
    spot = record["sweet_spot"]
    err = NORMAL_95 * max(spot["toe_err_mm"], spot["high_err_mm"])
    return language.say(f"group.spot {spot['from']}", err=face_length(err, err_digits(err), units, language))


def err_digits(mm: float) -> int:
    """An error below a millimetre keeps a digit: it is never ±0."""
    return 0 if mm >= 0.95 else 1


def headline_words(headline: str, language: Language = ENGLISH) -> str:
    """The pattern's headline ('scattered, high toe'; 'centred, slightly toe and low') in a language."""
    first, _, rest = headline.partition(", ")
    words = language.say(f"headline.{first}")
    if not rest:
        return words
    if not rest.startswith("slightly "):
        return language.say(
            "headline.with direction", headline=words, direction=language.say(f"headline.{rest}")
        )
    one, _, other = rest.removeprefix("slightly ").partition(" and ")
    slight = language.say(f"slight.{one}")
    if other:
        slight = language.say("headline.slight and", one=slight, other=language.say(f"slight.{other}"))
    return language.say("headline.slightly", headline=words, slight=slight)


def pattern_line(record: dict[str, Any], language: Language = ENGLISH) -> str:
    """The headline of the pattern, and what would settle it."""
    pattern = record["pattern"]
    headline = headline_words(pattern["headline"], language)
    more = pattern["balls_needed"]
    if not more:
        return language.say("pattern", headline=headline)
    count = language.say_n("more ball", more)
    if pattern["label"] == "too few":
        return language.say("pattern.too few", headline=headline, more=count)
    if more <= SESSION_BALLS:
        return language.say("pattern.more", headline=headline, more=count)
    return language.say("pattern.many more", headline=headline)


def flight_lines(record: dict[str, Any], units: Units, language: Language = ENGLISH) -> list[str]:
    """What the strike alone did: start and bend with their 95 % ranges, speed kept.

    Numbers are for the average strike with face and path square; sides follow the player's hand.
    """
    flight, hand = record["flight"], record["hand"]
    started = _sided(
        flight["start_push_deg"],
        lambda push: push_side(push, hand, language),
        "°",
        1,
        language,
    )
    in_units = {key: units.range_length(value) for key, value in flight["curve_draw_m"].items()}
    bent = _sided(
        in_units,
        lambda draw: draw_side(draw, hand, language),
        f" {language.say(f'unit.{units.lengths}')}",
        0,
        language,
    )
    kept = flight["speed_kept_frac"]
    # A pattern may count one ball for certain where several marks are shown.
    alone = record["pattern"]["n_balls"] == len(record["marks"]) == 1
    key = "flight.one strike" if alone else "flight.average strike"
    return [
        language.say(key, start=started, bend=bent),
        language.say(
            "flight.speed",
            kept=language.number(100 * min(1.0, kept["median"])),
            least=language.number(100 * kept["low95"]),
            most=language.number(100 * kept["high95"]),
        ),
    ]


def _sided(
    quantity: dict[str, float],
    side: Callable[[float], str],
    unit: str,
    digits: int,
    language: Language,
) -> str:
    """'2.3° right (1.8 to 2.9°)', or 'either way' where the range covers both sides."""
    middle, low, high = (quantity[key] for key in ("median", "low95", "high95"))

    def written(value: float) -> str:
        return language.number(abs(value), digits)

    # An end that rounds to nothing is no side.
    if round(low, digits) < 0 < round(high, digits):
        ends = {
            "left": written(low) + unit,
            "left_side": side(low),
            "right": written(high) + unit,
            "right_side": side(high),
        }
        return language.say("span.both sides", **ends)
    near, far = sorted((abs(low), abs(high))) if low * high > 0 else (0.0, max(abs(low), abs(high)))
    return language.say(
        "span.one side",
        middle=written(middle) + unit,
        side=side(middle),
        near=written(near),
        far=written(far) + unit,
    )


# --- what it rests on ---
def scale_line(record: dict[str, Any], language: Language = ENGLISH) -> str:
    """What the millimetres rest on."""
    scale = record["scale"]
    words = {
        "object": language.say(f"object.{scale['kind']}"),
        "err": language.number(100 * NORMAL_95 * scale["err_frac"], 1),
    }
    if not scale["pose_known"]:
        return language.say("scale.tilt unknown", **words)
    return language.say("scale.tilt known", **words, tilt=language.number(scale["tilt_deg"]))


def spot_line(record: dict[str, Any], units: Units = PLAIN_UNITS, language: Language = ENGLISH) -> str:
    """Which sweet spot was used, and how well it is known."""
    spot = record["sweet_spot"]
    place = _offset_words(spot["toe_mm"], spot["high_mm"], units, language)
    errs = [NORMAL_95 * spot["toe_err_mm"], NORMAL_95 * spot["high_err_mm"]]
    toe, high = (face_length(err, err_digits(err), units, language) for err in errs)
    return language.say("spot", where=language.say(f"spot.{spot['from']}", place=place), toe=toe, high=high)


def session_words(effort_frac: float | None, tee_mm: float | None) -> str:
    """The name a session gets in the book from its conditions, in English: 'effort 70 %, tee 45 mm'."""
    words = [] if effort_frac is None else [f"effort {100 * effort_frac:.0f} %"]
    words += [] if tee_mm is None else [f"tee {tee_mm:g} mm"]
    return ", ".join(words)


def speed_line(record: dict[str, Any], units: Units = PLAIN_UNITS, language: Language = ENGLISH) -> str:
    """The head speed behind the flight, and whether anybody told it."""
    key = "speed.typical" if record["head_mps"] is None else "speed.told"
    return language.say(key, speed=speed_words(record["flight"]["head_mps"], units, language))


def mark_line(mark: dict[str, Any], units: Units = PLAIN_UNITS, language: Language = ENGLISH) -> str:
    """'A  12 mm toe, 4 mm low  (±1.2 mm)', with what weakens it."""
    err = NORMAL_95 * max(mark["toe_err_mm"], mark["high_err_mm"])
    line = language.say(
        "mark",
        letter=f"{mark['letter']:>3s}",
        place=place_words(mark["toe_mm"], mark["high_mm"], units, language),
        err=face_length(err, 1, units, language),
    )
    doubts = mark_doubts(mark, language)
    return f"{line}  {'; '.join(doubts)}" if doubts else line


def mark_doubts(mark: dict[str, Any], language: Language = ENGLISH) -> list[str]:
    """What weakens a mark, and in a series the photo that first showed it."""
    doubts = [] if mark["sure"] else [language.say("mark.likely")]
    if mark["at_edge"]:
        doubts.append(language.say("mark.at edge"))
    if mark.get("by_hand"):
        doubts.append(language.say("mark.by hand"))
    if mark["photo_index"] is not None:
        doubts.insert(0, language.say("mark.photo", n=mark["photo_index"] + 1))
    return doubts
