"""A pattern and a step in sentences; no arithmetic beyond rounding.

Every claim carries its millimetres and how sure they are; "not settled" and "no clear difference" say how
many more balls would help. Never a probability without its millimetres, never a score.
"""

from __future__ import annotations

from collections.abc import Sequence

from facemark.caveats import TEXTS, Caveat
from facemark.explain.centre import Axis, AxisWord
from facemark.explain.moveon import MoveOn, Odds, Rule, Step
from facemark.explain.pattern import Label, Pattern
from facemark.explain.span import Span
from facemark.explain.spread import SpreadWord
from facemark.explain.thresholds import limit_costs
from facemark.tell.words import HEADLINES, place_words, plural

MM_DIGITS = 0  # half a millimetre is less than a mark's own error


def mm(value: float) -> str:
    """'9', never '-0'."""
    return f"{abs(round(value)):d}"


def sided(value: float, plus: str, minus: str) -> str:
    """'9 mm toe'; a rounded zero has no side."""
    return f"{mm(value)} mm {plus if value > 0 else minus}" if round(value) else "0 mm"


def between(span: Span, plus: str, minus: str) -> str:
    """'5 to 13 mm toe', or '3 mm heel to 7 mm toe' where both sides are possible."""
    least, most = span.least_mm, span.most_mm
    if round(least) * round(most) < 0:
        return f"{sided(least, plus, minus)} to {sided(most, plus, minus)}"
    near, far = sorted((abs(least), abs(most)))
    return f"{mm(near)} to {mm(far)} mm {plus if least + most > 0 else minus}"


def percent(frac: float) -> str:
    return f"{100 * frac:.0f} %"


def chance(frac: float) -> str:
    """'below 1 in 1000', '4 in 100'."""
    return "below 1 in 1000" if frac < 0.001 else f"{100 * frac:.1f} in 100"


# --- one pattern ---
def pattern_title(pattern: Pattern) -> str:
    """The headline with what would settle it."""
    words = HEADLINES.get(pattern.headline, pattern.headline)
    for apart in pattern.outliers:
        if apart.headline_without != pattern.headline:
            words += f" (without strike {apart.number + 1}: {apart.headline_without})"
    return words[:1].upper() + words[1:] + _settle(pattern)


def _settle(pattern: Pattern) -> str:
    if pattern.label not in (Label.TOO_FEW, Label.NOT_SETTLED, Label.MAYBE_TWO_GROUPS):
        return ""
    if pattern.label is Label.TOO_FEW:
        return f": at least {plural(pattern.balls_needed or 1, 'more ball')}"
    if pattern.balls_needed is None:
        return ": more balls alone would not settle it"
    return f": about {plural(pattern.balls_needed, 'more ball')} would settle it if the group stays as it is"


def pattern_lines(pattern: Pattern) -> list[str]:
    """Everything a set of balls says, a sentence a line."""
    lines = [pattern_title(pattern) + "."]
    if pattern.label is Label.TOO_FEW:
        lines.append(
            f"{_balls(pattern)}: their middle is {place_words(pattern.toe_mm, pattern.high_mm)}, "
            "which may change by centimetres with the next balls."
        )
        return lines + doubt_lines(pattern.caveats)
    if pattern.label is Label.TWO_GROUPS:
        lines += [
            f"{plural(group.n_balls, 'ball')} around {place_words(group.toe_mm, group.high_mm)} "
            f"(±{mm(1.96 * max(group.toe_err_mm, group.high_err_mm))} mm)."
            for group in pattern.groups
        ]
        lines.append("The middle between two groups describes neither; work on why there are two.")
    lines.append(f"{_balls(pattern)}.")
    if pattern.label is Label.TWO_GROUPS:
        return lines + _zone_lines(pattern) + doubt_lines(pattern.caveats)
    lines.append(f"Toe-heel: {_axis(pattern.toe_mm, pattern.toe_axis, 'toe', 'heel')}.")
    lines.append(f"High-low: {_axis(pattern.high_mm, pattern.high_axis, 'high', 'low')}.")
    lines += _centre_lines(pattern) + _spread_lines(pattern) + _zone_lines(pattern) + _group_lines(pattern)
    lines += _limit_lines(pattern)
    return lines + doubt_lines(pattern.caveats)


def _balls(pattern: Pattern) -> str:
    if pattern.from_group:
        return f"At least {plural(pattern.n_balls, 'ball')}, not told apart: centre and spread of the whole"
    seen = plural(pattern.n_balls, "ball")
    if pattern.n_hit is not None and pattern.n_hit > pattern.n_balls:
        return f"{seen} of {pattern.n_hit} left a mark"
    return seen


def _axis(value: float, axis: Axis, plus: str, minus: str) -> str:
    here = sided(value, plus, minus)
    if axis.span is None:
        return f"{here}; nothing to judge by, because all strikes are equal here"
    where = f"{here} ({between(axis.span, plus, minus)})"
    if axis.word is AxisWord.CENTRED:
        slight = "" if axis.slight is None else f", slightly {plus if value > 0 else minus}"
        return f"{where}: centred{slight}"
    if axis.word is not AxisWord.UNSETTLED:
        return f"{where}: {plus if axis.word is AxisWord.PLUS else minus} side"
    if axis.n_more_balls is None:
        return f"{where}: not settled, and more balls alone would not settle it"
    return (
        f"{where}: not settled; about {plural(axis.n_more_balls, 'more ball')} would settle it if the group "
        "stays as it is"
    )


def _centre_lines(pattern: Pattern) -> list[str]:
    if pattern.region is None or pattern.offset is None:
        return ["No region for the centre: the strikes lie in one place or on one line."]
    region, offset = pattern.region, pattern.offset
    lines = [
        f"The true centre lies, 95 times in 100, in an ellipse of half axes {mm(region.long_mm)} and "
        f"{mm(region.short_mm)} mm around it."
    ]
    if offset.direction_deg is None:
        lines.append(
            f"It may be the sweet spot itself (up to {mm(offset.span.most_mm)} mm off); no direction can be "
            "stated."
        )
    else:
        lines.append(
            f"That is {mm(offset.distance_mm)} mm from the sweet spot ({mm(offset.span.least_mm)} to "
            f"{mm(offset.span.most_mm)})."
        )
    return lines


def _spread_lines(pattern: Pattern) -> list[str]:
    spread = pattern.spread
    if spread is None:
        return ["Spread: smaller than these numbers can show; never zero."]
    word = {
        SpreadWord.SCATTERED: "scattered",
        SpreadWord.CONTAINED: "contained",
        SpreadWord.UNSETTLED: "not settled whether scattered",
    }[spread.word]
    more = spread.n_more_balls
    if spread.word is SpreadWord.UNSETTLED and more:
        word += f"; about {plural(more, 'more ball')} would settle it"
    lines = [
        f"Spread {spread.one_mm:.1f} mm ({span_words(spread.one_span)}): toe-heel {spread.toe_mm:.1f} "
        f"({span_words(spread.toe_span)}), high-low {spread.high_mm:.1f} "
        f"({span_words(spread.high_span)}): {word}.",
        f"80 % of strikes within {mm(spread.ring_mm)} mm of the own centre "
        f"({mm(spread.ring_span.least_mm)} to {mm(spread.ring_span.most_mm)}).",
    ]
    if spread.tilt_deg is not None and 10.0 < abs(spread.tilt_deg) < 80.0:
        ends = "high toe to low heel" if spread.tilt_deg > 0 else "low toe to high heel"
        lines.append(f"The group is tilted, from {ends} ({abs(spread.tilt_deg):.0f}°).")
    return lines


def span_words(span: Span | None) -> str:
    if span is None:
        return "no scatter seen"
    return f"{span.least_mm:.1f} to {span.most_mm:.1f}"


def _zone_lines(pattern: Pattern) -> list[str]:
    zone = pattern.zone
    if zone is None:
        return []
    line = (
        f"{zone.n_in} of {zone.n_balls} within {zone.radius_mm:g} mm of the sweet spot: true rate "
        f"{percent(zone.rate.least_frac)} to {percent(zone.rate.most_frac)}"
    )
    doubtful = zone.n_maybe_in - zone.n_surely_in
    if doubtful:
        line += f"; {plural(doubtful, 'ball')} too close to call ({zone.n_surely_in} to {zone.n_maybe_in} in)"
    return [line + "."]


def _group_lines(pattern: Pattern) -> list[str]:
    split = pattern.split
    if split is None or pattern.label in (Label.TWO_GROUPS, Label.MAYBE_TWO_GROUPS):
        return []
    return [
        f"No evidence of two groups; {plural(pattern.n_balls, 'ball')} would miss two groups less than about "
        "five spreads apart."
    ]


def _limit_lines(pattern: Pattern) -> list[str]:
    """What the limits mean in speed and bend."""
    costs, limits = limit_costs(pattern.kind, pattern.limits), pattern.limits
    worth, harmless = costs["worth_toe_mm"], costs["harmless_toe_mm"]
    bend = "" if worth.bend_draw_m is None else f" or {abs(worth.bend_draw_m):.1f} m of bend"
    far = "" if harmless.bend_draw_m is None else f" or {abs(harmless.bend_draw_m):.1f} m"
    return [
        f"Limits for a {pattern.kind}: a side is named from {limits.worth_toe_mm:g} mm toe-heel (about "
        f"{100 * worth.speed_lost_frac:.1f} % of ball speed{bend}) and {limits.worth_high_mm:g} mm high-low; "
        f"centred means inside {limits.harmless_toe_mm:g} ({100 * harmless.speed_lost_frac:.1f} %{far}) and "
        f"{limits.harmless_high_mm:g} mm; scattered is a spread above {limits.spread_limit_mm:g} mm."
    ]


def doubt_lines(caveats: Sequence[Caveat]) -> list[str]:
    lines = []
    for caveat in caveats:
        text = TEXTS[caveat.key]
        detail = f" ({caveat.detail})" if caveat.detail else ""
        lines.append(f"- {text.meaning.rstrip('.')}{detail}. {text.remedy}")
    return ["Doubts:", *lines] if lines else []


# --- the step ---
def step_lines(step: MoveOn) -> list[str]:
    """The decision, its odds, and what is too close to call."""
    zone = "" if step.zone_mm is None else f" within {step.zone_mm:g} mm"
    lines = [
        f"{step.step[:1].upper()}{step.step[1:]}: {step.n_in} of {step.n_balls}{zone}, true rate "
        f"{percent(step.rate.least_frac)} to {percent(step.rate.most_frac)}."
    ]
    if step.step is Step.HIT_MORE and step.n_next is not None:
        lines.append(f"Look again after {plural(step.n_next, 'more ball')} at the same task.")
    if step.step is Step.STAY:
        lines.append("Start a new count only when the task changes.")
    lines += _odds_lines(step)
    return lines + doubt_lines(step.caveats)


def _odds_lines(step: MoveOn) -> list[str]:
    how = "ball by ball" if step.rule is Rule.IN_ORDER else "after 10, 20 and 30 balls"
    by_rate = {odds.rate_frac: odds for odds in step.odds}
    return [
        f"The rule, looked at {how}: {_odds(by_rate[0.6])}; {_odds(by_rate[0.85])}.",
    ]


def _odds(odds: Odds) -> str:
    return (
        f"a player who hits {percent(odds.rate_frac)} is moved on {100 * odds.move_on_frac:.0f} times in 100 "
        f"and sent back {100 * odds.easier_frac:.0f}"
    )
