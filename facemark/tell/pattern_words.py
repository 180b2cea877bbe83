"""Pattern, comparison, progress and step in sentences; no arithmetic beyond rounding.

Every claim carries its millimetres and how sure they are; "not settled" and "no clear difference" say how
many more balls would help. Never a probability without its millimetres, never a score.
"""

from __future__ import annotations

from collections.abc import Sequence

from facemark.caveats import TEXTS, Caveat
from facemark.explain.centre import Axis, AxisWord
from facemark.explain.compare import ClubResult, Comparison, Pair, Verdict
from facemark.explain.moveon import MoveOn, Odds, Rule, Step
from facemark.explain.pattern import Label, Pattern
from facemark.explain.span import Span
from facemark.explain.spread import SpreadWord
from facemark.explain.thresholds import limit_costs
from facemark.explain.trend import Progress, Trend, TrendWord
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
        return lines + _doubt_lines(pattern.caveats)
    if pattern.label is Label.TWO_GROUPS:
        lines += [
            f"{plural(group.n_balls, 'ball')} around {place_words(group.toe_mm, group.high_mm)} "
            f"(±{mm(1.96 * max(group.toe_err_mm, group.high_err_mm))} mm)."
            for group in pattern.groups
        ]
        lines.append("The middle between two groups describes neither; work on why there are two.")
    lines.append(f"{_balls(pattern)}.")
    if pattern.label is Label.TWO_GROUPS:
        return lines + _zone_lines(pattern) + _doubt_lines(pattern.caveats)
    lines.append(f"Toe-heel: {_axis(pattern.toe_mm, pattern.toe_axis, 'toe', 'heel')}.")
    lines.append(f"High-low: {_axis(pattern.high_mm, pattern.high_axis, 'high', 'low')}.")
    lines += _centre_lines(pattern) + _spread_lines(pattern) + _zone_lines(pattern) + _group_lines(pattern)
    lines += _limit_lines(pattern)
    return lines + _doubt_lines(pattern.caveats)


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
        f"Spread {spread.one_mm:.1f} mm ({_range(spread.one_span)}): toe-heel {spread.toe_mm:.1f} "
        f"({_range(spread.toe_span)}), high-low {spread.high_mm:.1f} ({_range(spread.high_span)}): {word}.",
        f"80 % of strikes within {mm(spread.ring_mm)} mm of the own centre "
        f"({mm(spread.ring_span.least_mm)} to {mm(spread.ring_span.most_mm)}).",
    ]
    if spread.tilt_deg is not None and 10.0 < abs(spread.tilt_deg) < 80.0:
        ends = "high toe to low heel" if spread.tilt_deg > 0 else "low toe to high heel"
        lines.append(f"The group is tilted, from {ends} ({abs(spread.tilt_deg):.0f}°).")
    return lines


def _range(span: Span) -> str:
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


def _doubt_lines(caveats: Sequence[Caveat]) -> list[str]:
    lines = []
    for caveat in caveats:
        text = TEXTS[caveat.key]
        detail = f" ({caveat.detail})" if caveat.detail else ""
        lines.append(f"- {text.meaning.rstrip('.')}{detail}. {text.remedy}")
    return ["Doubts:", *lines] if lines else []


# --- clubs ---
def comparison_title(comparison: Comparison) -> str:
    """The one sentence a fitter needs."""
    if comparison.verdict is Verdict.NOT_COMPARED:
        return f"Not compared: {comparison.why_not}"
    if comparison.verdict is Verdict.NO_CLEAR_DIFFERENCE:
        return "No clear difference" + _more_each(comparison)
    found = []
    nearest, tightest = comparison.nearest, comparison.tightest
    if len(comparison.clubs) > 2 and nearest is not None and nearest == tightest:
        found.append(f"{nearest} is tightest and lands nearest its sweet spot")
    elif len(comparison.clubs) > 2:
        found += [f"{nearest} lands nearest its sweet spot"] if nearest is not None else []
        found += [f"{tightest} is tightest"] if tightest is not None else []
    if not found:
        found = [words for pair in comparison.pairs for words in _earned(pair)]
    return "; ".join(found)


def _more_each(comparison: Comparison) -> str:
    if comparison.n_more_each is None:
        return "; more balls alone would not show a spread larger by a quarter"
    return (
        f"; about {plural(comparison.n_more_each, 'more ball')} each would show a spread larger by a quarter"
    )


def _earned(pair: Pair) -> list[str]:
    """Words about a pair that its balls have earned."""
    words = []
    if pair.nearer is not None:
        words.append(f"{pair.nearer} lands nearer its sweet spot than {_other(pair, pair.nearer)}")
    if pair.tighter is not None:
        words.append(f"{pair.tighter} is tighter than {_other(pair, pair.tighter)}")
    if pair.centres_differ:
        words.append(f"{pair.first} and {pair.second} are struck in different places")
    return words


def _other(pair: Pair, name: str) -> str:
    return pair.second if name == pair.first else pair.first


def comparison_lines(comparison: Comparison) -> list[str]:
    """Everything a comparison says, a sentence a line."""
    lines = [comparison_title(comparison) + "."]
    lines += [_club_line(club) for club in comparison.clubs]
    for pair in comparison.pairs:
        lines += _pair_lines(pair)
    if comparison.verdict is Verdict.DIFFERENT and comparison.n_more_each:
        lines.append(f"For the rest{_more_each(comparison)[1:]}.")
    return lines + _doubt_lines(comparison.caveats)


def _club_line(club: ClubResult) -> str:
    pattern = club.pattern
    line = f"{club.name}: {plural(pattern.n_balls, 'ball')}"
    if club.n_thrown_out:
        line += f" ({club.n_thrown_out} thrown out by the rule)"
    if club.left_out:
        return f"{line}; left out: {club.left_out}."
    line += f", {pattern.headline}; centre {place_words(pattern.toe_mm, pattern.high_mm)}"
    if pattern.spread is not None:
        line += f"; spread {pattern.spread.one_mm:.1f} mm ({_range(pattern.spread.one_span)})"
    if club.miss_mm is not None and club.miss_span is not None:
        line += f"; lands {mm(club.miss_mm)} mm from its sweet spot on average ({_range(club.miss_span)})"
    return line + "."


def _pair_lines(pair: Pair) -> list[str]:
    head = f"{pair.first} against {pair.second}"
    earned = _earned(pair)
    lines = [f"{head}: {'; '.join(earned)}." if earned else f"{head}: no clear difference."]
    if pair.spread_ratio is not None and pair.spread_span is not None:
        lines.append(
            f"  spread {pair.spread_ratio:.2f} times as large ({pair.spread_span.least_ratio:.2f} to "
            f"{pair.spread_span.most_ratio:.2f})."
        )
    if pair.toe_mm is not None and pair.toe_span is not None:
        line = (
            f"  centre {sided(pair.toe_mm, 'more toe', 'more heel')} "
            f"({between(pair.toe_span, 'toe', 'heel')})"
        )
        if pair.high_mm is not None and pair.high_span is not None:
            line += (
                f", {sided(pair.high_mm, 'higher', 'lower')} ({between(pair.high_span, 'higher', 'lower')})"
            )
        if not pair.centres_differ and pair.n_more_for_centres:
            line += f"; about {plural(pair.n_more_for_centres, 'more ball')} each would show it if it is real"
        lines.append(line + ".")
    if pair.miss_mm is not None and pair.miss_span is not None:
        lines.append(
            f"  lands {sided(pair.miss_mm, 'farther off', 'nearer')} on average "
            f"({between(pair.miss_span, 'farther', 'nearer')})."
        )
    return lines


# --- days ---
def progress_lines(progress: Progress) -> list[str]:
    """Everything a series of days says, a sentence a line."""
    lines = [progress_title(progress) + "."]
    for day in progress.days:
        line = f"{day.name}: {plural(day.pattern.n_balls, 'ball')}"
        if day.left_out or day.spread_mm is None or day.miss_mm is None:
            lines.append(f"{line}; left out: {day.left_out}.")
            continue
        lines.append(
            f"{line}, spread {day.spread_mm:.1f} mm (±{percent(1.96 * (day.spread_err_frac or 0.0))}), "
            f"lands {day.miss_mm:.1f} mm from the sweet spot on average "
            f"(±{percent(1.96 * (day.miss_err_frac or 0.0))})."
        )
    lines += _trend_lines("Spread", progress.spread) + _trend_lines(
        "Distance from the sweet spot", progress.miss
    )
    if progress.toe_day_to_day_mm is not None and progress.high_day_to_day_mm is not None:
        lines.append(
            f"The centre wanders from day to day by {progress.toe_day_to_day_mm:.1f} mm toe-heel and "
            f"{progress.high_day_to_day_mm:.1f} mm high-low beyond the scatter of a day; a claim that is to "
            "outlive the day carries that."
        )
    if progress.first_dropped:
        lines.append("The first day began the series because it was bad; it is shown but not counted.")
    return lines + _doubt_lines(progress.caveats)


def progress_title(progress: Progress) -> str:
    """The one sentence a coach needs."""
    if progress.why_not:
        return f"Not compared: {progress.why_not}"
    if progress.spread.word is TrendWord.TOO_FEW_DAYS:
        return f"No verdict on progress: {plural(progress.n_more_days, 'more day')} at least"
    found = []
    if progress.spread.word is TrendWord.SMALLER:
        found.append("the group gets tighter")
    if progress.miss.word is TrendWord.SMALLER:
        found.append("strikes come nearer the sweet spot")
    words = "; ".join(found) or "no progress shown yet; go on counting"
    return words[:1].upper() + words[1:]


def _trend_lines(name: str, trend: Trend) -> list[str]:
    if trend.change_frac is None or trend.change_least_frac is None or trend.change_most_frac is None:
        return []
    line = (
        f"{name}: {_change(trend.change_frac)} a day ({_change(trend.change_least_frac)} to "
        f"{_change(trend.change_most_frac)})"
    )
    if trend.day_to_day_frac is not None:
        extra = percent(trend.day_to_day_frac)
        line += f"; days differ by {extra if trend.day_to_day_frac else 'nothing'} beyond their own scatter"
    return [line + "."]


def _change(frac: float) -> str:
    return f"{percent(abs(frac))} {'larger' if frac > 0 else 'smaller'}"


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
    return lines + _doubt_lines(step.caveats)


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
