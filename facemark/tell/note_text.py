"""What was seen of a ball, as people write it: "2 right", "straight", "6 m left", "in".

Left and right become push and draw here, by the player's hand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from facemark.errors import SetupError
from facemark.explain.constants import STRAIGHT_DEG
from facemark.explain.notes import (
    Bend,
    CurveSeen,
    Note,
    Side,
    StartSeen,
    corridor_edge_deg,
    curve_metres,
    curve_side,
    start_degrees,
    start_side,
)
from facemark.inputs import Hand
from facemark.tell.words import METRES_PER_YARD, Lengths, Units

_MIDDLE = {"straight", "middle", "in", "on", "none", "no", "0"}
_NOT_SEEN = {"", "-", "?", "not seen"}
_LENGTHS_M = {
    "m": 1.0,
    "yd": METRES_PER_YARD,
    "yds": METRES_PER_YARD,
    "ft": METRES_PER_YARD / 3.0,
    "in": 0.0254,
}
_LENGTHS_M |= {"cm": 0.01, "mm": 0.001}
_NUMBER = r"(\d+(?:[.,]\d+)?)"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteStyle:
    """What all notes of a set share."""

    hand: Hand
    units: Units
    measured: bool = False
    edge_deg: float = STRAIGHT_DEG  # half the corridor, or what counts as straight over a stick


def note_of(start: str | None, curve: str | None, style: NoteStyle, *, of_set: bool = False) -> Note:
    """Make a note of two texts.

    Parameters
    ----------
    start, curve : str or None
    style : NoteStyle
    of_set : bool
        Whether it is a look at the whole set.

    Returns
    -------
    Note

    Raises
    ------
    SetupError
        Words that are not known, or that contradict each other.
    """
    return Note(
        start=None if _unseen(start) else start_of(start or "", style),
        curve=None if _unseen(curve) else curve_of(curve or "", style),
        of_set=of_set,
    )


def shot_of(text: str, style: NoteStyle) -> Note:
    """Make the note of one ball from "START; CURVE", such as "2 right; 6 m left".

    Parameters
    ----------
    text : str
    style : NoteStyle

    Returns
    -------
    Note

    Raises
    ------
    SetupError
    """
    parts = text.split(";")
    if len(parts) != 2:
        raise SetupError(
            f'the ball "{text}" was not understood', remedy='Write start; curve, such as "2 right; 6 m left".'
        )
    return note_of(parts[0], parts[1], style)


def start_of(text: str, style: NoteStyle) -> StartSeen:
    """Read a start: "left", "straight", "right", "in" (the corridor), "2 right", "1.5 deg left".

    Parameters
    ----------
    text : str
    style : NoteStyle

    Returns
    -------
    StartSeen

    Raises
    ------
    SetupError
    """
    words = text.lower().strip()
    if words in _MIDDLE:
        return start_side(Side.MIDDLE, edge_deg=style.edge_deg, measured=style.measured)
    right = _right(words, "start")
    push = right if style.hand is Hand.RIGHT else not right
    number = _amount(words, r"(?:deg|degrees?|°)?", "start", '"left", "straight", "2 right"')
    if number is None:
        side = Side.PUSH if push else Side.PULL
        return start_side(side, edge_deg=style.edge_deg, measured=style.measured)
    return start_degrees(number if push else -number, measured=style.measured)


def curve_of(text: str, style: NoteStyle) -> CurveSeen:
    """Read a curve: "left", "none", "right", "6 m left", "8 yd right".

    Parameters
    ----------
    text : str
    style : NoteStyle

    Returns
    -------
    CurveSeen

    Raises
    ------
    SetupError
    """
    words = text.lower().strip()
    if words in _MIDDLE:
        return curve_side(Bend.NONE, measured=style.measured)
    right = _right(words, "curve")
    draw = right if style.hand is Hand.LEFT else not right
    number = _amount(words, r"(?:m|yds?)?", "curve", '"left", "none", "6 m left"')
    if number is None:
        return curve_side(Bend.DRAW if draw else Bend.FADE, measured=style.measured)
    yards = "y" in words or ("m" not in words and style.units.lengths is Lengths.YARDS)
    metres = number * (METRES_PER_YARD if yards else 1.0)
    return curve_metres(metres if draw else -metres, measured=style.measured)


def corridor_of(text: str) -> float:
    """Read a corridor, such as "50 cm at 3 m" or "12 in at 10 ft".

    Parameters
    ----------
    text : str

    Returns
    -------
    float
        Degrees to either side.

    Raises
    ------
    SetupError
    """
    unit = "(mm|cm|m|in|ft|yds?)"
    found = re.fullmatch(rf"\s*{_NUMBER}\s*{unit}\s+at\s+{_NUMBER}\s*{unit}\s*", text.lower())
    if found is None:
        raise SetupError(
            f'the corridor "{text}" was not understood',
            remedy='Write width at distance with units, such as "50 cm at 3 m".',
        )
    width, of_width, distance, of_distance = found.groups()
    return corridor_edge_deg(_float(width) * _LENGTHS_M[of_width], _float(distance) * _LENGTHS_M[of_distance])


def _unseen(text: str | None) -> bool:
    return text is None or text.strip().lower() in _NOT_SEEN


def _right(words: str, what: str) -> bool:
    """Whether the words say right; left and right at once, or neither, is refused."""
    left, right = "left" in words, "right" in words
    if left and right:
        raise SetupError(
            f'the {what} "{words}" is left of the line and right of it at once',
            remedy="Note the balls one by one with --shot.",
        )
    if not left and not right:
        raise SetupError(
            f'the {what} "{words}" has no side',
            remedy=f"Write left or right beside it, or straight for a {what} of 0.",
        )
    return right


def _amount(words: str, unit: str, what: str, examples: str) -> float | None:
    bare = re.sub(r"\b(left|right|to the|of the (line|stick))\b", " ", words).strip()
    if not bare:
        return None
    found = re.fullmatch(rf"{_NUMBER}\s*{unit}", bare)
    if found is None:
        raise SetupError(f'the {what} "{words}" was not understood', remedy=f"Write for example {examples}.")
    return _float(found.group(1))


def _float(text: str) -> float:
    return float(text.replace(",", "."))
