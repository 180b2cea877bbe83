"""A doubt's own numbers, said again in the reader's units and language.

The stages that raise a doubt write its numbers as a short English phrase in millimetres. Here each kind of
phrase is taken apart into its numbers and said anew. A phrase of no known kind is shown as it came: a doubt
is never dropped for want of a translation. A test holds the kinds against the phrases in the code.

The stages write one standard error; people are told what holds in 95 of 100 cases, as everywhere on the page.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from facemark.tell.language import ENGLISH, Language
from facemark.tell.units import Units
from facemark.tell.words import (
    HEADLINES,
    NORMAL_95,
    edit_words,
    err_digits,
    face_length,
    headline_words,
    place_words,
    speed_words,
)

_N = r"[+-]?\d+(?:\.\d+)?"
_HAND = r"(right|left)-handed"
_CONDITION = r"(?:effort|tee height|ball|club)"
_KIND = r"(driver|fairway|hybrid|iron|wedge)"
_LABEL = "(?:" + "|".join(sorted(HEADLINES, key=len, reverse=True)) + ")"
_HEADLINE = rf"({_LABEL}(?:, (?:slightly )?{_LABEL}(?: and {_LABEL})?)?)"
# As the scale stage names its objects, and their key in the table.
_THINGS = {"sheet": "sheet", "tags": "tags", "card": "card", "ball": "ball", "face's length": "face"}
_THING = "(" + "|".join(_THINGS) + ")"
_OTHER_SCALE = rf"({_N}) mm by the {_THING}"
# An edit's English words without their count, and its name.
_EDITS = {
    words.removeprefix("{n} "): key.split(".")[1]
    for key, words in ENGLISH.sentences.items()
    if key.startswith("edit.")
}
_EDIT = rf"(?:\d+ )?(?:{'|'.join(_EDITS)})"

Say = Callable[[re.Match[str], Units, Language], str]


def detail_words(detail: str, units: Units, language: Language) -> str:
    """A doubt's ``detail`` in the reader's units and language; unknown phrases unchanged.

    Examples
    --------
    >>> from facemark.tell.language import LANGUAGES
    >>> detail_words("2 of 3 seen", Units(), LANGUAGES["de"])
    '2 von 3 gesehen'
    """
    whole = _phrase(detail, units, language)
    if whole is not None:
        return whole
    parts = [_phrase(part, units, language) or part for part in detail.split("; ")]
    return "; ".join(parts)


def _phrase(detail: str, units: Units, language: Language) -> str | None:
    for pattern, say in _KINDS:
        found = pattern.fullmatch(detail)
        if found:
            return say(found, units, language)
    return None


def _number(text: str, language: Language) -> str:
    return text.lstrip("+").replace(".", language.decimal_mark)


def _plain(key: str, *names: str) -> Say:
    """Numbers without a length: only the decimal mark changes."""

    def say(found: re.Match[str], units: Units, language: Language) -> str:
        values = {name: _number(found[i], language) for i, name in enumerate(names, start=1)}
        return language.say(key, **values)

    return say


def _lengths(key: str, *names: str, digits: int) -> Say:
    """Millimetres on the face."""

    def say(found: re.Match[str], units: Units, language: Language) -> str:
        values = {
            name: face_length(float(found[i]), digits, units, language)
            for i, name in enumerate(names, start=1)
        }
        return language.say(key, **values)

    return say


def _told_length(key: str) -> Say:
    """A length as somebody told it: all its digits."""

    def say(found: re.Match[str], units: Units, language: Language) -> str:
        digits = len(found[1].partition(".")[2])
        return language.say(key, length=face_length(float(found[1]), digits, units, language))

    return say


def _hands(key: str, *names: str) -> Say:
    def say(found: re.Match[str], units: Units, language: Language) -> str:
        values = {name: language.say(f"hand.{found[i]}") for i, name in enumerate(names, start=1)}
        return language.say(key, **values)

    return say


def _spot(found: re.Match[str], units: Units, language: Language) -> str:
    errs = [NORMAL_95 * float(found[i]) for i in (1, 2)]
    toe, high = (face_length(err, err_digits(err), units, language) for err in errs)
    return language.say("detail.spot", toe=toe, high=high)


def _marks(found: re.Match[str], units: Units, language: Language) -> str:
    return language.say_n("mark", int(found[1]))


def _turn(found: re.Match[str], units: Units, language: Language) -> str:
    degrees = language.number(NORMAL_95 * float(found[1]))
    return language.say("detail.plus-minus degrees", degrees=degrees)


def _scales(found: re.Match[str], units: Units, language: Language) -> str:
    def length(mm: str) -> str:
        return face_length(float(mm), 0, units, language)

    others = [
        language.say("detail.scales other", length=length(mm), one=language.say(f"scale.{_THINGS[name]}"))
        for mm, name in re.findall(_OTHER_SCALE, found[3])
    ]
    return language.say(
        "detail.scales",
        length=length(found[1]),
        one=language.say(f"scale.{_THINGS[found[2]]}"),
        others=language.say("detail.scales and").join(others),
    )


def _edits(found: re.Match[str], units: Units, language: Language) -> str:
    """'2 marks moved, sweet spot moved': what was changed by hand, counted."""
    counts: dict[str, int] = {}
    for part in found[0].split(", "):
        number, _, words = part.partition(" ")
        if number.isdigit():
            counts[_EDITS[words]] = int(number)
        else:
            counts[_EDITS[part]] = 1
    return ", ".join(edit_words(counts, language))


def _tall(found: re.Match[str], units: Units, language: Language) -> str:
    """'49 mm high, a fairway has at most 44 mm': a face too tall to be all face."""
    height, most = (face_length(float(found[i]), 0, units, language) for i in (1, 3))
    return language.say("detail.tall", height=height, most=most, kind=language.say(f"kind.{found[2]}"))


def _typical(found: re.Match[str], units: Units, language: Language) -> str:
    return language.say("detail.typical", kind=language.say(f"kind.{found[1]}"))


def _round_mark(found: re.Match[str], units: Units, language: Language) -> str:
    place = place_words(float(found[1]), float(found[2]), units=units, language=language)
    return language.say("detail.round mark", place=place)


def _with_them(found: re.Match[str], units: Units, language: Language) -> str:
    return language.say("detail.with them", headline=headline_words(found[1], language))


def _without(found: re.Match[str], units: Units, language: Language) -> str:
    return language.say("detail.without", n=found[1], headline=headline_words(found[2], language))


def _typical_speed(found: re.Match[str], units: Units, language: Language) -> str:
    speed = speed_words(float(found[1]), units, language)
    low, high = (language.number(units.speed(float(found[i]))) for i in (2, 3))
    return language.say("detail.typical speed", speed=speed, low=low, high=high)


def _head_speed(found: re.Match[str], units: Units, language: Language) -> str:
    return language.say("detail.head speed", speed=speed_words(float(found[1]), units, language))


def _conditions(found: re.Match[str], units: Units, language: Language) -> str:
    return ", ".join(language.say(f"condition.{name}") for name in found[0].split(", "))


def _method(found: re.Match[str], units: Units, language: Language) -> str:
    return f"{found[1]}: {language.say(f'method.{found[2]}')}"


def _axis(found: re.Match[str], units: Units, language: Language) -> str:
    return language.say("detail.axis", axis=language.say(f"axis.{found[0]}"))


_KINDS: tuple[tuple[re.Pattern[str], Say], ...] = tuple(
    (re.compile(pattern), say)
    for pattern, say in (
        (rf"({_N}) % of the edge", _plain("detail.edge", "share")),
        (r"the edge bulges", _plain("detail.bulges")),
        (rf"({_N}) mm high, a {_KIND} has at most ({_N}) mm", _tall),
        (
            rf"({_N}) mm high, told are ({_N}) mm",
            _lengths("detail.taller than told", "height", "told", digits=0),
        ),
        (rf"\+-({_N}) mm toe-heel, \+-({_N}) mm high-low", _spot),
        (rf"a typical {_KIND}", _typical),
        (rf"at least ({_N}) marks", _plain("detail.at least marks", "n")),
        (rf"at least ({_N}) balls", _plain("detail.at least balls", "n")),
        (rf"({_N}) for certain", _plain("detail.certain", "n")),
        (rf"({_N}) told, none seen", _plain("detail.told none", "told")),
        (rf"({_N}) told, about ({_N}) seen", _plain("detail.told about", "told", "seen")),
        (rf"({_N}) told, ({_N}) seen", _plain("detail.told seen", "told", "seen")),
        (rf"({_N}) told, ({_N}) marked", _plain("detail.told marked", "told", "n")),
        (
            rf"({_N}) told, the powder speaks for about ({_N})",
            _plain("detail.told powder", "told", "seen"),
        ),
        (rf"({_N}) mm", _told_length("detail.length")),
        (rf"({_N}) mm ball", _told_length("detail.ball")),
        (rf"({_N}) of the ten a usual set has", _plain("detail.of ten", "n")),
        (rf"({_N}) of ({_N}) seen", _plain("detail.seen of", "n", "of")),
        (rf"({_N}) of ({_N})", _plain("detail.of", "n", "of")),
        (rf"\+-({_N}) degrees", _turn),
        (rf"({_N}) degrees", _plain("detail.degrees", "degrees")),
        (
            rf"what is ({_N}) mm by the {_THING} is ({_N} mm by the .+)",
            _scales,
        ),
        (rf"{_EDIT}(?:, {_EDIT})*", _edits),
        (rf"({_N}) pixels per millimetre", _plain("detail.resolution", "pixels")),
        (rf"({_N}) tags, ({_N}) pixels off one plane", _plain("detail.bent", "n", "pixels")),
        (rf"{_HAND}, sole down", _hands("detail.hand down", "hand")),
        (rf"told {_HAND}, the photo shows {_HAND}", _hands("detail.hands", "told", "seen")),
        (_HAND, _hands("detail.hand", "hand")),
        (rf"a round mark at ({_N}) mm toe, ({_N}) mm high was read differently", _round_mark),
        (rf"({_N}) % of the face", _plain("detail.face share", "share")),
        (r"(\d+)", _marks),
        (rf"with them: {_HEADLINE}", _with_them),
        (rf"strike (\d+); without it: {_HEADLINE}", _without),
        (r"strike (\d+)", _plain("detail.strike", "n")),
        (r"strikes ([\d, ]+)", _plain("detail.strikes", "numbers")),
        (r"(toe-heel|high-low)", _axis),
        (rf"({_N}) m/s, drawn from ({_N}) to ({_N})", _typical_speed),
        (rf"head speed ({_N}) m/s", _head_speed),
        (rf"({_N}) mm toe or heel", _lengths("detail.far across", "far", digits=0)),
        (rf"({_N}) mm high or low", _lengths("detail.far up", "far", digits=0)),
        (
            rf"spin ratio ({_N}), above the ({_N}) of the lift and drag sources",
            _plain("detail.spin ratio", "ratio", "most"),
        ),
        (
            rf"Reynolds number ({_N}), outside that of the lift and drag sources",
            _plain("detail.reynolds", "number"),
        ),
        (rf"{_CONDITION}(?:, {_CONDITION})*", _conditions),
        (r"(.+): (measured|centre mark|by hand|assumed)", _method),
    )
)
