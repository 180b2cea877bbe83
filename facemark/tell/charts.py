"""Pictures of strikes: the face map, one map for each club on one scale, and the line over days.

Readable without colour: marks are circles with numbers, a flagged mark is a diamond, the centre's region is a
solid line, the 80 % ring is dashed, the sweet spot a cross with its error as bars. Colours are two of Okabe
and Ito's [okabe-ito], told apart by lightness too. matplotlib's Figure is used without pyplot: no global
state, no screen. Write with ``write_figure``: .png, .svg or .pdf by the ending.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from facemark.errors import BookError
from facemark.explain.compare import Comparison
from facemark.explain.pattern import Label, Pattern
from facemark.explain.trend import Day, Progress, Trend, TrendWord
from facemark.inputs import Hand
from facemark.strike import StrikeSet
from facemark.tell.compare_words import comparison_title, progress_title
from facemark.tell.files import written_whole
from facemark.tell.pattern_words import pattern_title, sided
from facemark.tell.words import plural

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#1a1a1a"
QUIET = "#6f6f6f"  # 5:1 on white
REGION = "#0072B2"  # blue of [okabe-ito]; dark in grey
MARK = "#E69F00"  # orange; light in grey
PHONE_INCH = 4.2  # width at which the text below is read on a phone held upright
TEXT_PT = 10.0
SMALL_PT = 8.5
PICTURE_DPI = 220


def face_map(strikes: StrikeSet, pattern: Pattern, *, hand: Hand = Hand.RIGHT, title: str = "") -> Figure:
    """The face in millimetres from the sweet spot, seen as in the photo.

    Parameters
    ----------
    strikes, pattern : a set of balls and what was made of it.
    hand : the club's; a right-handed head shows its toe on the left.
    title : above the headline; empty: none.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(PHONE_INCH, PHONE_INCH * 1.16), layout="constrained")
    axes = figure.add_subplot()
    reach = _reach_mm([(strikes, pattern)])
    _draw_face(axes, strikes, pattern, reach, hand)
    head = _wrapped(pattern_title(pattern), 46)
    figure.suptitle(f"{title}\n{head}" if title else head, fontsize=TEXT_PT + 1, color=INK)
    _legend(figure, [pattern])
    return figure


def club_maps(
    sets: Sequence[StrikeSet], comparison: Comparison, *, hand: Hand = Hand.RIGHT, columns: int = 2
) -> Figure:
    """One face map for each club of a comparison, all on one scale, each from its own sweet spot."""
    from matplotlib.figure import Figure

    n = len(sets)
    columns = min(columns, n)
    rows = math.ceil(n / columns)
    width = PHONE_INCH * (1.0 if columns < 3 else 1.5)
    height = rows * (width / columns + 0.15) + 1.25
    figure = Figure(figsize=(width, height), layout="constrained")
    patterns = [club.pattern for club in comparison.clubs]
    reach = _reach_mm(list(zip(sets, patterns, strict=True)))
    for place, (strikes, club) in enumerate(zip(sets, comparison.clubs, strict=True), start=1):
        axes = figure.add_subplot(rows, columns, place)
        _draw_face(axes, strikes, club.pattern, reach, hand, small=True)
        axes.set_title(
            f"{club.name}: {plural(club.pattern.n_balls, 'ball')}\n{club.pattern.headline}",
            fontsize=SMALL_PT + 0.5,
            color=INK,
        )
        if (place - 1) % columns:
            axes.set_ylabel("")
        if place + columns <= n:
            axes.set_xlabel("")
    figure.suptitle(_wrapped(comparison_title(comparison), 48), fontsize=TEXT_PT + 1, color=INK)
    _legend(figure, patterns)
    return figure


def trend_chart(progress: Progress) -> Figure:
    """Spread and distance from the sweet spot over the days, with 95 % bars; the line only when earned."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(PHONE_INCH, PHONE_INCH * 1.2), layout="constrained")
    days = list(progress.days)
    upper = figure.add_subplot(2, 1, 1)
    _draw_trend(upper, days, progress.spread, "spread_mm", "Spread, mm", progress.first_dropped)
    lower = figure.add_subplot(2, 1, 2, sharex=upper)
    _draw_trend(
        lower, days, progress.miss, "miss_mm", "Distance from the\nsweet spot, mm", progress.first_dropped
    )
    upper.tick_params(labelbottom=False)
    figure.suptitle(_wrapped(progress_title(progress), 46), fontsize=TEXT_PT + 1, color=INK)
    return figure


def write_figure(figure: Figure, path: str | os.PathLike[str]) -> None:
    """Write a figure whole or not at all, as .png, .svg or .pdf.

    Raises
    ------
    BookError
        Another ending, or the file cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() not in {".png", ".svg", ".pdf"}:
        raise BookError(
            f"{path.name}: a chart is written as .png, .svg or .pdf", remedy="Choose one of these endings."
        )
    # No date and no program version inside: the same numbers give the same file.
    quiet: dict[str, Any] = {"Date": None} if path.suffix.lower() == ".svg" else {}
    if path.suffix.lower() == ".pdf":
        quiet = {"CreationDate": None}
    import matplotlib as mpl

    with written_whole(path) as temporary, mpl.rc_context({"svg.hashsalt": "facemark"}):
        figure.savefig(temporary, format=path.suffix.lower()[1:], dpi=PICTURE_DPI, metadata=quiet)


# --- the face ---
def _draw_face(
    axes: Axes, strikes: StrikeSet, pattern: Pattern, reach: float, hand: Hand, *, small: bool = False
) -> None:
    side = -1.0 if hand is Hand.RIGHT else 1.0  # where the toe lies on the page
    axes.set_aspect("equal")
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    _draw_frame(axes, reach, side, small=small)
    _draw_zone(axes, pattern)
    _draw_sweet_spot(axes, strikes, side)
    if pattern.label is Label.TWO_GROUPS:
        _draw_groups(axes, pattern, side)
    elif pattern.label is not Label.TOO_FEW:
        _draw_region(axes, pattern, side)
    _draw_marks(axes, strikes, pattern, side, small=small)


def _draw_frame(axes: Axes, reach: float, side: float, *, small: bool) -> None:
    step = 10.0 if reach <= 35.0 else 20.0
    ticks = np.arange(-math.floor(reach / step) * step, reach + 0.1, step)
    axes.set_xticks(ticks, [f"{abs(t):g}" for t in ticks])
    axes.set_yticks(ticks, [f"{abs(t):g}" for t in ticks])
    axes.grid(color="#e3e3e3", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=SMALL_PT - 0.5, colors=QUIET, length=2)
    for spine in axes.spines.values():
        spine.set_color("#bdbdbd")
    size = SMALL_PT if small else TEXT_PT
    left, right = ("toe", "heel") if side < 0 else ("heel", "toe")
    axes.set_xlabel(f"\N{LEFTWARDS ARROW} {left}    mm    {right} \N{RIGHTWARDS ARROW}", fontsize=size)
    axes.set_ylabel("low \N{LEFTWARDS ARROW}  mm  \N{RIGHTWARDS ARROW} high", fontsize=size)


def _draw_zone(axes: Axes, pattern: Pattern) -> None:
    from matplotlib.patches import Circle

    axes.add_patch(
        Circle((0.0, 0.0), pattern.limits.zone_mm, fill=True, facecolor="#f0f0f0", edgecolor="none", zorder=0)
    )


def _draw_sweet_spot(axes: Axes, strikes: StrikeSet, side: float) -> None:
    """A cross; its arms show 95 % of what is common to all balls, where that is more than the cross."""
    shared = strikes.shared
    toe = 1.96 * math.hypot(shared.toe_mm, shared.sweet_toe_mm)
    high = 1.96 * math.hypot(shared.high_mm, shared.sweet_high_mm)
    axes.errorbar(
        0.0, 0.0, xerr=toe or None, yerr=high or None, color=INK, linewidth=1.0, capsize=2.5, zorder=3
    )
    axes.plot(0.0, 0.0, marker="+", markersize=13, markeredgewidth=2.0, color=INK, zorder=4)


def _draw_region(axes: Axes, pattern: Pattern, side: float) -> None:
    """The centre's 95 % region, solid; the ring of 80 % of strikes, dashed."""
    from matplotlib.patches import Circle, Ellipse

    centre = (side * pattern.toe_mm, pattern.high_mm)
    if pattern.region is not None:
        region = pattern.region
        axes.add_patch(
            Ellipse(
                centre,
                2.0 * region.long_mm,
                2.0 * region.short_mm,
                angle=side * region.tilt_deg,
                fill=False,
                edgecolor=REGION,
                linewidth=2.2,
                zorder=5,
            )
        )
    if pattern.spread is not None:
        axes.add_patch(
            Circle(
                centre,
                pattern.spread.ring_mm,
                fill=False,
                edgecolor=INK,
                linewidth=1.3,
                ls=(0, (4, 3)),
                zorder=2,
            )
        )
    axes.plot(*centre, marker="x", markersize=8, markeredgewidth=2.2, color=REGION, zorder=6)


def _draw_groups(axes: Axes, pattern: Pattern, side: float) -> None:
    """Two groups: each one's centre with the ellipse of its errors; the middle of both means nothing."""
    from matplotlib.patches import Ellipse

    for group in pattern.groups:
        centre = (side * group.toe_mm, group.high_mm)
        # 2.45 standard errors hold 95 % of a plane normal law; a guide here, n is small.
        across, up = 2.0 * 2.45 * group.toe_err_mm, 2.0 * 2.45 * group.high_err_mm
        axes.add_patch(Ellipse(centre, across, up, fill=False, edgecolor=REGION, linewidth=2.2, zorder=5))
        axes.plot(*centre, marker="x", markersize=8, markeredgewidth=2.2, color=REGION, zorder=6)


def _draw_marks(axes: Axes, strikes: StrikeSet, pattern: Pattern, side: float, *, small: bool) -> None:
    apart = {outlier.number for outlier in pattern.outliers}
    for number, strike in enumerate(strikes.strikes):
        flagged = number in apart
        above = 4.5 + number * 1e-4  # a mark covers the number below it, so numbers stay readable
        axes.plot(
            side * strike.toe_mm,
            strike.high_mm,
            marker="D" if flagged else "o",
            markersize=(6.5 if small else 11.0) * (1.1 if flagged else 1.0),
            markerfacecolor=MARK if strike.sure else "white",
            markeredgecolor=INK,
            markeredgewidth=1.0,
            linestyle="none",
            zorder=above,
        )
        if not small:
            axes.annotate(
                str(number + 1),
                (side * strike.toe_mm, strike.high_mm),
                ha="center",
                va="center",
                fontsize=SMALL_PT - 1,
                color=INK,
                zorder=above,
            )


def _reach_mm(sets: Sequence[tuple[StrikeSet, Pattern]]) -> float:
    """Half width of the map: everything drawn fits, rounded up to 5 mm, at least 25."""
    farthest = 22.0
    for strikes, pattern in sets:
        for strike in strikes.strikes:
            farthest = max(farthest, abs(strike.toe_mm), abs(strike.high_mm))
        centre = max(abs(pattern.toe_mm), abs(pattern.high_mm))
        if pattern.spread is not None and pattern.label is not Label.TOO_FEW:
            farthest = max(farthest, centre + pattern.spread.ring_mm)
        if pattern.region is not None:
            farthest = max(farthest, centre + min(pattern.region.long_mm, 60.0))
        farthest = max(farthest, pattern.limits.zone_mm)
    return 5.0 * math.ceil((farthest + 2.0) / 5.0)


def _legend(figure: Figure, patterns: Sequence[Pattern]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    told = [pattern for pattern in patterns if pattern.label is not Label.TOO_FEW]
    marker: dict[str, Any] = {"linestyle": "none", "markeredgecolor": INK}
    items: list[Any] = [Line2D([], [], marker="o", markerfacecolor=MARK, label="strike", **marker)]
    if any(pattern.outliers for pattern in patterns):
        items.append(Line2D([], [], marker="D", markerfacecolor=MARK, label="stands apart", **marker))
    items.append(Line2D([], [], marker="+", markersize=10, color=INK, ls="none", label="sweet spot"))
    whole = [pattern for pattern in told if pattern.label is not Label.TWO_GROUPS]
    if any(pattern.region is not None for pattern in told):
        items.append(
            Line2D([], [], color=REGION, linewidth=2.2, label="centre, 95 %" if whole else "centres, about")
        )
    if whole:
        items.append(Line2D([], [], color=INK, linewidth=1.3, ls=(0, (4, 3)), label="80 % of strikes"))
    zones = {pattern.limits.zone_mm for pattern in patterns}
    size = f", {zones.pop():g} mm" if len(zones) == 1 else ""
    items.append(Patch(facecolor="#e4e4e4", label=f"zone{size}"))
    figure.legend(
        handles=items,
        loc="outside lower center",
        ncols=3,
        fontsize=SMALL_PT,
        frameon=False,
        labelcolor=INK,
        columnspacing=1.2,
        handletextpad=0.5,
    )


# --- days ---
def _draw_trend(axes: Axes, days: list[Day], trend: Trend, field: str, label: str, dropped: bool) -> None:
    names, values, least, most = [], [], [], []
    for day in days:
        value = getattr(day, field)
        err = getattr(day, field.replace("_mm", "_err_frac"))
        names.append(day.name)
        values.append(math.nan if value is None else value)
        factor = 1.0 if err is None else math.exp(1.96 * err)  # the errors are of the logarithm
        least.append(0.0 if value is None else value - value / factor)
        most.append(0.0 if value is None else value * factor - value)
    x = np.arange(len(days))
    axes.errorbar(
        x,
        values,
        yerr=[least, most],
        color=INK,
        marker="o",
        markersize=8,
        markerfacecolor=MARK,
        markeredgecolor=INK,
        linestyle="none",
        capsize=4,
        linewidth=1.2,
        zorder=3,
    )
    if dropped:
        axes.plot(x[0], values[0], marker="o", markersize=8, markerfacecolor="white", color=INK, zorder=4)
        axes.annotate(
            "not counted", (x[0], values[0]), xytext=(9, 4), textcoords="offset points", fontsize=SMALL_PT
        )
    if trend.word is TrendWord.SMALLER and trend.change_frac is not None:
        counted = [i for i, v in enumerate(values) if not math.isnan(v) and not (dropped and i == 0)]
        step = np.arange(len(counted)) - (len(counted) - 1) / 2.0
        middle = float(np.mean(np.log([values[i] for i in counted])))
        fitted = np.exp(middle + step * math.log1p(trend.change_frac))
        axes.plot(counted, fitted, color=REGION, linewidth=2.2, zorder=2)
    axes.set_xticks(x, names, fontsize=SMALL_PT, rotation=30 if max(map(len, names)) > 5 else 0)
    axes.set_xlim(-0.5, len(days) - 0.5)
    axes.set_ylim(bottom=0.0)
    axes.set_ylabel(label, fontsize=TEXT_PT)
    axes.tick_params(labelsize=SMALL_PT, colors=INK)
    axes.grid(axis="y", color="#e3e3e3", linewidth=0.6)
    for name in ("top", "right"):
        axes.spines[name].set_visible(False)


def _wrapped(text: str, width: int) -> str:
    import textwrap

    return "\n".join(textwrap.wrap(text, width))


def map_summary(pattern: Pattern) -> str:
    """The picture in a sentence, for those who cannot see it."""
    where = f"centre {sided(pattern.toe_mm, 'toe', 'heel')}, {sided(pattern.high_mm, 'high', 'low')}"
    ring = "" if pattern.spread is None else f", 80 % of strikes within {pattern.spread.ring_mm:.0f} mm of it"
    return f"Face map of {plural(pattern.n_balls, 'strike')}: {pattern.headline}; {where}{ring}."
