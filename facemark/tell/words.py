"""All sentences people see, in one table; numbers come in, words go out.

Left and right are derived here and nowhere else, from push, draw and the player's hand. Words AND number,
never a bare sign.
"""

from __future__ import annotations

import math
from collections.abc import Callable
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
    how = {"centre mark": "from the centre mark", "by hand": "put by hand"}.get(spot["from"], spot["from"])
    return f"{how} ±{err:.0f} mm"


def pattern_line(record: dict[str, Any]) -> str:
    """The headline of the pattern, and what would settle it."""
    pattern = record["pattern"]
    words = f"Pattern: {HEADLINES.get(pattern['headline'], pattern['headline'])}"
    more = pattern["balls_needed"]
    if more and pattern["label"] == "too few":
        words += f"; at least {plural(more, 'more ball')} before one can be named"
    elif more and more <= SESSION_BALLS:
        words += f"; about {plural(more, 'more ball')} would settle it"
    elif more:
        words += "; more balls than one session would be needed to settle it"
    return words


SESSION_BALLS = 40  # what a player hits with one club in one session; common practice, no source

HEADLINES = {"too few": "too few marks to tell", "toe": "toe side", "heel": "heel side"}


def flight_lines(record: dict[str, Any], units: Units) -> list[str]:
    """What the strike alone did: start and bend with their 95 % ranges, speed kept.

    Numbers are for the mean strike with face and path square; sides follow the player's hand.
    """
    flight, hand = record["flight"], record["hand"]
    start, curve = flight["start_push_deg"], flight["curve_draw_m"]
    started = _sided(start, lambda push: push_side(push, hand), "°", 1.0, 1)
    scale = units.range_length(1.0)
    bent = _sided(curve, lambda draw: draw_side(draw, hand), f" {units.lengths.value}", scale, 0)
    kept = flight["speed_kept_frac"]
    lines = [
        f"This strike alone starts the ball {started}",
        f"and bends it {bent}.",
        f"Ball speed kept: {100 * min(1.0, kept['median']):.0f} %"
        f" ({100 * kept['low95']:.0f} to {100 * kept['high95']:.0f} %).",
    ]
    return [" ".join(lines[:2]), lines[2]]


def _sided(
    quantity: dict[str, float], side: Callable[[float], str], unit: str, scale: float, digits: int
) -> str:
    """'2.3° right (1.8 to 2.9° right)', or 'either way' where the range covers both sides."""
    middle, low, high = (scale * quantity[key] for key in ("median", "low95", "high95"))
    # An end that rounds to nothing is no side.
    if round(low, digits) < 0 < round(high, digits):
        return (
            f"either way: between {abs(low):.{digits}f}{unit} {side(low)}"
            f" and {abs(high):.{digits}f}{unit} {side(high)}"
        )
    near, far = sorted((abs(low), abs(high))) if low * high > 0 else (0.0, max(abs(low), abs(high)))
    return f"{abs(middle):.{digits}f}{unit} {side(middle)} ({near:.{digits}f} to {far:.{digits}f}{unit})"


def scale_line(record: dict[str, Any]) -> str:
    """What the millimetres rest on."""
    scale = record["scale"]
    what = SCALE_WORDS[scale["kind"]]
    tilt = f", camera {scale['tilt_deg']:.0f}° off square" if scale["pose_known"] else ", tilt not known"
    return f"Scale: {what}, ±{196 * scale['err_frac']:.1f} %{tilt}"


SCALE_WORDS = {
    "sheet": "the printed card",
    "tags": "tags of the stated size",
    "card": "an ID-1 card",
    "ball": "a ball",
    "face": "the face's own length",
}


def spot_line(record: dict[str, Any]) -> str:
    """Which sweet spot was used, and how well it is known."""
    spot = record["sweet_spot"]
    where = {
        "measured": f"measured, {place_words(spot['toe_mm'], spot['high_mm'])} of the face centre",
        "centre mark": "the printed mark on the face",
        "by hand": "where it was put by hand",
        "assumed": "assumed at the middle of the face's outline",
    }[spot["from"]]
    toe, high = 1.96 * spot["toe_err_mm"], 1.96 * spot["high_err_mm"]
    return f"Sweet spot used: {where} (±{toe:.0f} mm toe-heel, ±{high:.0f} mm high-low)"


def mark_line(mark: dict[str, Any]) -> str:
    """'A  12 mm toe, 4 mm low  (±1.2 mm)', with what weakens it."""
    err = 1.96 * max(mark["toe_err_mm"], mark["high_err_mm"])
    doubts = [] if mark["sure"] else ["likely, not certain"]
    if mark["at_edge"]:
        doubts.append("cut by the edge")
    if mark.get("by_hand"):
        doubts.append("by hand")
    if mark["photo_index"] is not None:
        doubts.insert(0, f"photo {mark['photo_index'] + 1}")
    tail = f"  {'; '.join(doubts)}" if doubts else ""
    return f"{mark['letter']:>3s}  {place_words(mark['toe_mm'], mark['high_mm'])} (±{err:.1f} mm){tail}"
