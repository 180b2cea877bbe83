"""All sentences people see, in one table; numbers come in, words go out.

Left and right are derived here and nowhere else, from push, draw and the player's hand. Words AND number,
never a bare sign.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

PICTURE_WORDS = {
    "toe": "TOE",
    "heel": "HEEL",
    "ruler": "20 mm",
    "mark": "mark",
    "likely": "likely mark",
    "group": "centre of group",
    "sweet_spot": "sweet spot used",
}


class Lengths(StrEnum):
    """How lengths on the range are shown."""

    METRES = "m"
    YARDS = "yd"


METRES_PER_YARD = 0.9144  # exact, international yard of 1959


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """What the reader wants to see. Millimetres on the face stay millimetres."""

    lengths: Lengths = Lengths.METRES

    def range_length(self, metres: float) -> float:
        return metres / METRES_PER_YARD if self.lengths is Lengths.YARDS else metres


def place_words(toe_mm: float, high_mm: float) -> str:
    """'12 mm toe, 4 mm low'; a rounded zero has no direction.

    Examples
    --------
    >>> place_words(12.2, -3.9)
    '12 mm toe, 4 mm low'
    >>> place_words(0.2, 0.4)
    'on the sweet spot'
    """
    toe, high = round(abs(toe_mm)), round(abs(high_mm))
    across = f"{toe} mm {'toe' if toe_mm > 0 else 'heel'}" if toe else ""
    up = f"{high} mm {'high' if high_mm > 0 else 'low'}" if high else ""
    if across and up:
        return f"{across}, {up}"
    if across:
        return f"{across}, neither high nor low"
    if up:
        return f"{up}, neither toe nor heel"
    return "on the sweet spot"


def side_word(plus_right: float) -> str:
    """'right' for plus, 'left' for minus."""
    return "right" if plus_right > 0 else "left"


def push_side(push: float, hand: str) -> str:
    """Which side a push (plus) or pull (minus) starts to: a right-hander's push goes right."""
    return side_word(push if hand == "right" else -push)


def draw_side(draw: float, hand: str) -> str:
    """Which side a draw (plus) or fade (minus) bends to: a right-hander's draw goes left."""
    return side_word(-draw if hand == "right" else draw)


def plural(n: float, one: str, many: str | None = None) -> str:
    """'1 ball', '3 balls'."""
    return f"{n:g} {one if n == 1 else (many or one + 's')}"


def group_line(record: dict[str, Any]) -> str:
    """Where the group's centre is, and how well that is known."""
    group = record["group"]
    err = 1.96 * math.hypot(group["toe_err_mm"], group["high_err_mm"]) / math.sqrt(2)
    return (
        f"Centre of the group: {place_words(group['toe_mm'], group['high_mm'])} "
        f"(±{max(1, round(err))} mm; sweet spot {_spot_words(record)})"
    )


def _spot_words(record: dict[str, Any]) -> str:
    spot = record["sweet_spot"]
    err = 1.96 * max(spot["toe_err_mm"], spot["high_err_mm"])
    how = {"measured": "measured", "centre mark": "from the centre mark", "assumed": "assumed"}[spot["from"]]
    return f"{how} ±{err:.0f} mm"
