"""Flight and causes in sentences: left and right from push, draw and hand; words and number, never a sign.

Ranges are those that hold in 95 of 100 cases, unless the line says otherwise.
"""

from __future__ import annotations

from collections.abc import Callable

from facemark.explain.causes import Causes, Verdict
from facemark.explain.flight import Flight, Outcome
from facemark.explain.ranges import Range
from facemark.inputs import ClubKind, Hand
from facemark.tell.words import Units, draw_side, place_words, plural, push_side

_WORTH_WORDS_MM = 2.0  # strikes nearer the sweet spot than this need no explanation


def bend_lines(flight: Flight, *, kind: ClubKind, hand: Hand, units: Units) -> list[str]:
    """Say what the strikes alone did.

    Parameters
    ----------
    flight : Flight
    kind : ClubKind
    hand : Hand
    units : Units

    Returns
    -------
    list of str
    """
    balls = "this strike" if flight.n_balls <= 1 else f"the mean of {plural(round(flight.n_balls), 'strike')}"
    lines = [
        f"{place_words(flight.toe_mm, flight.high_mm)}: {balls}, {hand.value}-handed {kind.value}, "
        f"head speed {flight.head_mps:.0f} m/s ({flight.head_mps / 0.44704:.0f} mph)",
        "The strike alone, face and path square (in brackets: 95 of 100 cases):",
        *_outcome_lines(flight, hand, units),
        *_why(flight.toe_mm, kind, hand),
    ]
    if flight.scatter is not None:
        scatter = flight.scatter
        lines.append(
            "The scatter of the strikes alone spreads the balls: "
            f"start ±{scatter.start_spread_deg.median:.1f}°, "
            f"bend ±{_length(scatter.curve_spread_m.median, units, 1)}, "
            f"carry ±{_length(scatter.carry_spread_m.median, units)}."
        )
    lines.append(_centring_line(flight, units))
    if len(flight.marks) > 1:
        lines.append("Each mark:")
        lines += [
            f"  {place_words(mark.toe_mm, mark.high_mm)}: "
            f"starts {start_words(mark.outcome.start_push_deg, hand)}, "
            f"bends {curve_words(mark.outcome.curve_draw_m, hand, units)}"
            for mark in flight.marks
        ]
    return lines


def start_words(start: Range, hand: Hand) -> str:
    """'2.3° right (1.8 to 2.9°)', or 'either way'."""
    return _sided(start, lambda push: push_side(push, hand.value), "°", 1.0, 1, "start either way")


def curve_words(curve: Range, hand: Hand, units: Units) -> str:
    """'6 m left (0 to 13 m)', or 'could bend either way'."""
    unit, scale = f" {units.lengths.value}", units.range_length(1.0)
    return _sided(curve, lambda draw: draw_side(draw, hand.value), unit, scale, 0, "bend either way")


def causes_lines(causes: Causes, *, hand: Hand, units: Units) -> list[str]:
    """Say whose doing it was: strike first, then face, then path.

    Parameters
    ----------
    causes : Causes
    hand : Hand
    units : Units

    Returns
    -------
    list of str
    """
    lines = [f"Verdict: {_verdict_words(causes, hand)}.", f"  Because {causes.reason.value}."]
    lines.append(f"  Next: {causes.observe.value}.")
    lines.append(f"1 Strike: {_strike_words(causes, hand, units)}")
    lines.append(
        f"2 Face: {_angle(causes.face_open_deg, 'open', 'closed')} at the middle of the face"
        f"{_left_start(causes, hand)}"
    )
    out, across = "in to out", "out to in"
    lines.append(
        f"3 Path: {_angle(causes.path_out_deg, out, across)}; face against path "
        f"{_angle(causes.face_to_path_open_deg, 'open', 'closed')}{_left_curve(causes, hand, units)}"
    )
    narrower = [
        f"{name} within ±{1.96 * known:.1f}° instead of ±{1.96 * unknown:.1f}°"
        for name, known, unknown in (
            ("face", causes.face_err_deg, causes.face_err_without_deg),
            ("path", causes.path_err_deg, causes.path_err_without_deg),
        )
        if round(1.96 * known, 1) < round(1.96 * unknown, 1)
    ]
    if causes.strike_seen and narrower:
        lines.append(f"Knowing the strike: {', '.join(narrower)}.")
    return lines


def _outcome_lines(outcome: Outcome, hand: Hand, units: Units) -> list[str]:
    carry, kept = outcome.carry_m, outcome.speed_kept_frac
    launch, back = outcome.launch_change_deg, outcome.back_change_rpm
    offline = outcome.offline_push_m
    landed = _sided(
        offline,
        lambda push: push_side(push, hand.value),
        f" {units.lengths.value}",
        units.range_length(1.0),
        0,
        "land either side",
    )
    return [
        f"  Starts {start_words(outcome.start_push_deg, hand)}, bends "
        f"{curve_words(outcome.curve_draw_m, hand, units)}.",
        f"  Lands {landed} of the target line, after {_length(carry.median, units)} in the air "
        f"({_number(carry.low95, units)} to {_length(carry.high95, units)}).",
        f"  Against a centred strike: launch {_more_less(launch, '°', 1, 'higher', 'lower')}, "
        f"backspin {_more_less(back, ' rpm', 0, 'more', 'less')}.",
        f"  Keeps {100 * kept.median:.0f} % of the ball speed "
        f"({100 * kept.low95:.0f} to {100 * kept.high95:.0f} %) "
        f"and {100 * outcome.carry_kept_frac.median:.0f} % of the carry "
        f"({100 * outcome.carry_kept_frac.low95:.0f} to {100 * outcome.carry_kept_frac.high95:.0f} %).",
    ]


def _centring_line(flight: Flight, units: Units) -> str:
    gain = flight.centring.carry_gain_m
    unit = f" {units.lengths.value}"
    words = _more_less(gain, unit, 0, "more", "less", scale=units.range_length(1.0))
    return f"Carry if this pattern were centred: {words}. That is what the model says, not a promise."


def _why(toe_mm: float, kind: ClubKind, hand: Hand) -> list[str]:
    if abs(toe_mm) < _WORTH_WORDS_MM:
        return []
    end = "toe" if toe_mm > 0 else "heel"
    out, back = push_side(toe_mm, hand.value), draw_side(toe_mm, hand.value)
    if kind.is_wood:
        return [
            f"Why: toward the {end} the curved face points {out}, so the ball starts {out}. The blow turns "
            f"the head, whose face then drags the ball's surface; that spin bends it back to the {back}."
        ]
    return [
        f"Why: the face is flat and gives way a little toward the {out}. The turning head drags the ball's "
        f"surface too, but less than a driver's, and the backspin hides most of it: a small bend {back}."
    ]


def _verdict_words(causes: Causes, hand: Hand) -> str:
    face = "open" if causes.face_open_deg.median > 0 else "closed"
    path = "in to out" if causes.path_out_deg.median > 0 else "out to in"
    return {
        Verdict.STRIKE: "the strike alone explains it",
        Verdict.FACE: f"the face ({face})",
        Verdict.PATH: f"the path ({path})",
        Verdict.BOTH: f"face ({face}) and path ({path})",
        Verdict.CANNOT_TELL: "cannot tell",
    }[causes.verdict]


def _strike_words(causes: Causes, hand: Hand, units: Units) -> str:
    if not causes.strike_seen:
        return "not seen"
    return (
        f"by itself it starts the ball {start_words(causes.strike_start_push_deg, hand)} and bends it "
        f"{curve_words(causes.strike_curve_draw_m, hand, units)}"
    )


def _left_start(causes: Causes, hand: Hand) -> str:
    if causes.left_start_push_deg is None or causes.seen_start_push_deg is None:
        return ""
    seen = causes.seen_start_push_deg
    left = causes.left_start_push_deg
    return (
        f"; of {abs(seen):.1f}° {push_side(seen, hand.value)} seen, "
        f"{abs(left.median):.1f}° {push_side(left.median, hand.value)} is left after the strike"
    )


def _left_curve(causes: Causes, hand: Hand, units: Units) -> str:
    if causes.left_curve_draw_m is None or causes.seen_curve_draw_m is None:
        return ""
    seen, left = causes.seen_curve_draw_m, causes.left_curve_draw_m.median
    return (
        f"; of {_length(abs(seen), units)} {draw_side(seen, hand.value)} seen, "
        f"{_length(abs(left), units)} {draw_side(left, hand.value)} is left after the strike"
    )


def _angle(angle: Range, plus: str, minus: str) -> str:
    return _sided(angle, lambda value: plus if value > 0 else minus, "°", 1.0, 1, "")


def _more_less(change: Range, unit: str, digits: int, plus: str, minus: str, *, scale: float = 1.0) -> str:
    """'3 m more (between 1 m less and 8 m more)'."""

    def one(value: float) -> str:
        shown = f"{abs(scale * value):.{digits}f}"
        if float(shown) == 0.0:
            return f"{shown}{unit}"
        return f"{shown}{unit} {plus if value > 0 else minus}"

    return f"{one(change.median)} (between {one(change.low95)} and {one(change.high95)})"


def _sided(
    quantity: Range, side: Callable[[float], str], unit: str, scale: float, digits: int, both: str
) -> str:
    middle, low, high = (scale * value for value in (quantity.median, quantity.low95, quantity.high95))

    def one(value: float) -> str:
        shown = f"{abs(value):.{digits}f}"
        return f"{shown}{unit}" if float(shown) == 0.0 else f"{shown}{unit} {side(value)}"

    if low < 0.0 < high and all(float(f"{abs(value):.{digits}f}") > 0.0 for value in (low, high)):
        tail = f", could {both}" if both else ""
        return f"{one(middle)} (between {one(low)} and {one(high)}{tail})"
    near, far = (0.0, max(abs(low), abs(high))) if low < 0.0 < high else sorted((abs(low), abs(high)))
    return f"{one(middle)} ({near:.{digits}f} to {far:.{digits}f}{unit})"


def _number(metres: float, units: Units) -> str:
    return f"{units.range_length(metres):.0f}"


def _length(metres: float, units: Units, digits: int = 0) -> str:
    return f"{units.range_length(metres):.{digits}f} {units.lengths.value}"
