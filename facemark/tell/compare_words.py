"""Clubs side by side and days in a row, in sentences; no arithmetic beyond rounding.

"Tighter", "nearer", "gets tighter" are said only where compare.py or trend.py earned them; otherwise how many
more balls or days would help.
"""

from __future__ import annotations

from facemark.explain.compare import ClubResult, Comparison, Pair, Verdict
from facemark.explain.trend import Progress, Trend, TrendWord
from facemark.tell.pattern_words import between, doubt_lines, mm, percent, sided, span_words
from facemark.tell.words import place_words, plural


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
    open_pairs = [pair.n_more_for_quarter for pair in comparison.pairs if pair.tighter is None]
    if comparison.verdict is Verdict.DIFFERENT and open_pairs and None not in open_pairs:
        more = plural(max(need or 0 for need in open_pairs), "more ball")
        lines.append(f"Where no spread differs, about {more} each would show one larger by a quarter.")
    return lines + doubt_lines(comparison.caveats)


def _club_line(club: ClubResult) -> str:
    pattern = club.pattern
    line = f"{club.name}: {plural(pattern.n_balls, 'ball')}"
    if club.n_thrown_out:
        line += f" ({club.n_thrown_out} thrown out by the rule)"
    if club.left_out:
        return f"{line}; left out: {club.left_out}."
    line += f", {pattern.headline}; centre {place_words(pattern.toe_mm, pattern.high_mm)}"
    if pattern.spread is not None:
        line += f"; spread {pattern.spread.one_mm:.1f} mm ({span_words(pattern.spread.one_span)})"
    if club.miss_mm is not None and club.miss_span is not None:
        line += f"; lands {mm(club.miss_mm)} mm from its sweet spot on average ({span_words(club.miss_span)})"
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
    return lines + doubt_lines(progress.caveats)


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
