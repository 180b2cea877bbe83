"""Pictures of what a strike did: the flight seen from above, and the face with an arrow for start and bend.

Readable without colour: the start line is dashed, the flight solid, the landing's range a bar with ends, and
every line carries its words. Colours are two of Okabe and Ito's [okabe-ito]. matplotlib's Figure is used
without pyplot; write with ``charts.write_figure``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from facemark.explain.flight import Flight, Outcome
from facemark.explain.ranges import Range
from facemark.inputs import Club, Hand
from facemark.tell.charts import INK, MARK, QUIET, REGION, SMALL_PT, TEXT_PT
from facemark.tell.flight_words import curve_words, start_words
from facemark.tell.words import Units, draw_side, place_words, push_side

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_INCH = 7.2
HEIGHT_INCH = 5.6
_STRETCH_LEAST_M = 12.0  # at least this much to either side is shown
_ARROW_MM = 20.0  # on the face: the longest start and the longest bend
_GAP_MM = 3.5  # between a mark and its arrows
_ARROW_LEAST = (0.5, 1.0)  # a start [deg] or bend [m] this small is not blown up to full length


def bend_figure(flight: Flight, *, club: Club, hand: Hand, units: Units) -> Figure:
    """Draw flight and face side by side.

    Parameters
    ----------
    flight : Flight
    club : Club
    hand : Hand
    units : Units

    Returns
    -------
    matplotlib.figure.Figure
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_INCH, HEIGHT_INCH), layout="constrained")
    above, face = figure.subplots(1, 2, width_ratios=[1.0, 1.15])
    _draw_above(above, flight, hand, units)
    _draw_face(face, flight, club, hand, units)
    what = "This strike" if flight.n_balls <= 1 else "The mean strike"
    figure.suptitle(
        f"{what}: {place_words(flight.toe_mm, flight.high_mm)}\n"
        f"starts {start_words(flight.start_push_deg, hand)}\n"
        f"bends {curve_words(flight.curve_draw_m, hand, units)}",
        fontsize=TEXT_PT,
        color=INK,
    )
    return figure


def path_from_above(outcome: Outcome, hand: Hand, *, points: int = 60) -> tuple[NDArray[np.float64], ...]:
    """Lay the median flight out on the ground.

    Parameters
    ----------
    outcome : Outcome
    hand : Hand
    points : int

    Returns
    -------
    along_m, right_m : (points,) float64
        From the tee; the bend grows as the square of the way, which a turning force of steady size makes.
    """
    sign = 1.0 if hand is Hand.RIGHT else -1.0
    start = np.radians(outcome.start_push_deg.median)
    carry, curve = outcome.carry_m.median, outcome.curve_draw_m.median
    way = np.linspace(0.0, 1.0, points)
    straight, bent = np.sqrt(max(carry**2 - curve**2, 0.0)) * way, curve * way**2
    along = straight * np.cos(start) + bent * np.sin(start)
    push = straight * np.sin(start) - bent * np.cos(start)
    return along, sign * push


def _draw_above(axes: Axes, flight: Flight, hand: Hand, units: Units) -> None:
    scale = units.range_length(1.0)
    along, right = (scale * part for part in path_from_above(flight, hand))
    sign = 1.0 if hand is Hand.RIGHT else -1.0
    low, high = sorted(
        scale * sign * value for value in (flight.offline_push_m.low95, flight.offline_push_m.high95)
    )
    far = scale * flight.carry_m.median
    reach = max(abs(low), abs(high), np.abs(right).max(), abs(far * _tangent(flight.start_push_deg)))
    reach = 1.25 * max(reach, scale * _STRETCH_LEAST_M)
    axes.plot([0.0, 0.0], [0.0, far], color=QUIET, linewidth=0.8)
    start_right = sign * far * _tangent(flight.start_push_deg)
    axes.plot([0.0, start_right], [0.0, far], color=QUIET, linewidth=1.4, linestyle=(0, (5, 3)))
    axes.plot(right, along, color=REGION, linewidth=2.4, solid_capstyle="round")
    axes.errorbar(
        [right[-1]],
        [along[-1]],
        xerr=[[max(right[-1] - low, 0.0)], [max(high - right[-1], 0.0)]],
        fmt="o",
        color=INK,
        markerfacecolor=MARK,
        markersize=7,
        capsize=5,
        linewidth=1.4,
    )
    _words_above(axes, start_right, far, landing=0.5 * (low + high))
    unit = units.lengths.value
    axes.set(xlim=(-reach, reach), ylim=(-0.03 * far, 1.13 * far))
    axes.set_xlabel(f"left and right of the target line, {unit}", fontsize=SMALL_PT)
    axes.set_ylabel(f"along the target line, {unit} (drawn shorter)", fontsize=SMALL_PT)
    axes.set_title("Seen from above", fontsize=TEXT_PT, color=INK)
    axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    _quiet(axes)


def _words_above(axes: Axes, start_right: float, far: float, *, landing: float) -> None:
    # Words stand where no line runs: below the flight's end, on the other side of the start line.
    side = "left" if start_right >= 0.0 else "right"
    axes.annotate(
        "start line",
        (0.62 * start_right, 0.62 * far),
        xytext=(6 if side == "left" else -6, -4),
        textcoords="offset points",
        ha=side,
        fontsize=SMALL_PT,
        color=QUIET,
    )
    axes.annotate(
        "landing, 95 of 100",
        (landing, far),
        xytext=(0, 9),
        textcoords="offset points",
        ha="center",
        fontsize=SMALL_PT,
        color=INK,
    )
    axes.annotate(
        "target line",
        (0.0, 0.1 * far),
        xytext=(-6 if side == "left" else 6, 0),
        textcoords="offset points",
        ha="right" if side == "left" else "left",
        fontsize=SMALL_PT,
        color=QUIET,
    )


def _draw_face(axes: Axes, flight: Flight, club: Club, hand: Hand, units: Units) -> None:
    # Seen as in a photo: a right-hander's toe is on the left, and the right of the target is on the left too.
    toe_sign = -1.0 if hand is Hand.RIGHT else 1.0
    ball_sign = -1.0 if hand is Hand.RIGHT else 1.0  # push, as seen by somebody facing the club
    half_length, half_height = 0.5 * club.face_length_mm, 0.5 * club.face_height_mm
    around = np.linspace(0.0, 2.0 * np.pi, 200)
    # The outline is a sketch, a rounded box of the face's length and height around the face centre.
    box_x = np.sign(np.cos(around)) * np.abs(np.cos(around)) ** 0.6 * half_length
    box_y = np.sign(np.sin(around)) * np.abs(np.sin(around)) ** 0.6 * half_height
    axes.plot(toe_sign * (box_x - club.sweet_toe_mm), box_y - club.sweet_high_mm, color=QUIET, linewidth=1.2)
    axes.plot([0.0], [0.0], "+", color=INK, markersize=11)
    many = len(flight.marks) > 1
    marks: list[tuple[float, float, Outcome]] = [(m.toe_mm, m.high_mm, m.outcome) for m in flight.marks]
    marks = marks if many else [(flight.toe_mm, flight.high_mm, flight)]
    longest = [
        max(least, *(abs(getattr(outcome, name).median) for *_, outcome in marks))
        for name, least in zip(("start_push_deg", "curve_draw_m"), _ARROW_LEAST, strict=True)
    ]
    for toe, high, outcome in marks:
        at = (toe_sign * toe, high)
        start = ball_sign * _ARROW_MM * outcome.start_push_deg.median / longest[0]
        bend = -ball_sign * _ARROW_MM * outcome.curve_draw_m.median / longest[1]
        axes.plot(*at, "o", color=INK, markerfacecolor=MARK, markersize=7, zorder=3)
        start_side = push_side(outcome.start_push_deg.median, hand.value)
        bend_side = draw_side(outcome.curve_draw_m.median, hand.value)
        _arrow(axes, (at[0], at[1] + _GAP_MM), start, QUIET, "" if many else start_side, dashed=True)
        _arrow(axes, (at[0], at[1] - _GAP_MM), bend, REGION, "" if many else bend_side, dashed=False)
    toe_x = toe_sign * (half_length + 3.0)
    axes.text(toe_x, half_height, "TOE", ha="center", fontsize=SMALL_PT, color=INK)
    axes.text(-toe_x, half_height, "HEEL", ha="center", fontsize=SMALL_PT, color=INK)
    axes.plot([], [], "+", color=INK, label="sweet spot used")
    axes.plot([], [], color=QUIET, linestyle="--", label="start (dashed, above the mark)")
    axes.plot([], [], color=REGION, label="bend (solid, below the mark)")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.22), fontsize=SMALL_PT, frameon=False, ncols=1)
    out = "right" if hand is Hand.RIGHT else "left"
    axes.set_title(
        f"The face, as a photo shows it\n(toward the toe: {out} of the target)", fontsize=TEXT_PT, color=INK
    )
    axes.set(xlim=(-half_length - 14.0, half_length + 14.0), aspect="equal")
    axes.set_ylim(-half_height - 12.0, half_height + 12.0)
    axes.set_xlabel("mm from the sweet spot", fontsize=SMALL_PT)
    axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    axes.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    _quiet(axes)


def _arrow(
    axes: Axes, at: tuple[float, float], length_mm: float, colour: str, word: str, *, dashed: bool
) -> None:
    """An arrow with the side the ball goes to, in the ball's own sense, at its tip."""
    if abs(length_mm) < 0.5:  # nothing anybody could see
        return
    axes.annotate(
        "",
        xy=(at[0] + length_mm, at[1]),
        xytext=at,
        arrowprops={
            "arrowstyle": "-|>",
            "color": colour,
            "linewidth": 1.8,
            "linestyle": "--" if dashed else "-",
            "shrinkA": 0.0,
            "shrinkB": 0.0,
        },
    )
    axes.annotate(
        word,
        (at[0] + length_mm, at[1]),
        xytext=(3 if length_mm > 0 else -3, 0),
        textcoords="offset points",
        ha="left" if length_mm > 0 else "right",
        va="center",
        fontsize=SMALL_PT,
        color=colour,
    )


def _tangent(angle: Range) -> float:
    return float(np.tan(np.radians(angle.median)))


def _quiet(axes: Axes) -> None:
    axes.tick_params(labelsize=SMALL_PT, colors=INK)
    for edge in ("top", "right"):
        axes.spines[edge].set_visible(False)
