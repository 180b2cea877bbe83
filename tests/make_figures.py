"""The figures of docs/explanation/gear-effect.md, drawn from the program's own numbers:

python -m tests.make_figures
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from facemark.clubs import typical_club
from facemark.explain.flight import predict_flight
from facemark.explain.heads import plain_head
from facemark.explain.impact import Delivery, strike_ball
from facemark.explain.trajectory import fly
from facemark.inputs import Club, ClubKind, Hand, Setup
from facemark.strike import Strike, StrikeSet
from facemark.tell.bend import bend_figure
from facemark.tell.charts import INK, MARK, QUIET, REGION, SMALL_PT, write_figure
from facemark.tell.words import Units

FOLDER = Path(__file__).parent.parent / "docs" / "explanation" / "figures"
SEED = 20260106
TOE_MM = 12.0
BALL_MM = 21.3
SPEED_MPS = {ClubKind.DRIVER: 42.0, ClubKind.IRON: 35.0}


def centred(kind: ClubKind) -> Club:
    """The typical club with its sweet spot in the middle of the face, for plain pictures."""
    return replace(typical_club(kind), sweet_toe_mm=0.0, sweet_high_mm=0.0)


def turning_head() -> Figure:
    """From above: why a toe strike starts away and bends back, for a driver and an iron."""
    figure = Figure(figsize=(7.2, 4.4), layout="constrained")
    for axes, kind in zip(figure.subplots(1, 2), (ClubKind.DRIVER, ClubKind.IRON), strict=True):
        _draw_head(axes, centred(kind))
    return figure


def _draw_head(axes: Axes, club: Club) -> None:
    driver = club.kind is ClubKind.DRIVER
    half, depth = 0.5 * club.face_length_mm, club.cg_depth_mm
    across = np.linspace(-half, half, 80)
    fall = across**2 / (2.0 * club.bulge_mm)  # 0 for a flat face
    axes.plot(across, -fall, color=INK, linewidth=2.4)
    back = 105.0 if driver else 22.0
    around = np.linspace(0.0, np.pi, 80)
    axes.plot(half * np.cos(around), -fall[0] - back * np.sin(around), color=QUIET, linewidth=1.0)
    axes.plot([0.0], [-depth], "o", color=INK, markersize=6)
    axes.text(
        0.0,
        -depth - (6.0 if driver else 20.0),
        f"centre of gravity,\n{depth:.0f} mm behind the face",
        ha="center",
        va="top",
        fontsize=SMALL_PT,
        color=INK,
    )
    # The strike, drawn larger than life: 25 mm toe, so that the turn can be seen.
    x = 25.0
    lean = x / club.bulge_mm
    at = np.array([x, -(x**2) / (2.0 * club.bulge_mm)])
    ball = at + BALL_MM * np.array([np.sin(lean), np.cos(lean)])
    axes.add_patch(Circle((ball[0], ball[1]), BALL_MM, facecolor="none", edgecolor=INK, linewidth=1.2))
    start = np.array(
        [np.sin(np.radians(12.0 if driver else 4.0)), np.cos(np.radians(12.0 if driver else 4.0))]
    )
    _arrow(axes, ball, ball + 34.0 * start, QUIET, dashed=True)
    _word(axes, ball + 36.0 * start, "starts right", QUIET)
    # The head turns open about its centre of gravity; the face in front of it sweeps toward the toe.
    sweep = 20.0 * depth / 38.0
    _arrow(axes, (at[0], at[1] - 5.0), (at[0] + sweep, at[1] - 5.0), REGION, dashed=False)
    _word(axes, (half + 4.0, at[1] - 14.0), "the face sweeps\ntoward the toe", REGION)
    size = 13.0
    turn = np.linspace(np.radians(200.0), np.radians(340.0 if driver else 260.0), 40)
    ring = ball[:, None] + size * np.array([np.cos(turn), np.sin(turn)])
    axes.plot(*ring, color=REGION, linewidth=2.0)
    _arrow(axes, ring[:, -2], ring[:, -1], REGION, dashed=False)
    axes.annotate(
        "and turns the ball:\nit bends left" if driver else "and turns the ball\nabout half as much",
        (ball[0] - BALL_MM, ball[1]),
        xytext=(-5, 6),
        textcoords="offset points",
        ha="right",
        fontsize=SMALL_PT,
        color=REGION,
    )
    _word(axes, (-half - 18.0, -fall[0]), "heel", INK)
    _word(axes, (half + 4.0, -fall[0]), "toe", INK)
    axes.set_title("Driver: curved face" if driver else "Iron: flat face", fontsize=10, color=INK)
    axes.set(xlim=(-78, 105), ylim=(-125, 75), aspect="equal")
    axes.axis("off")


def _arrow(axes: Axes, tail: Any, tip: Any, colour: str, *, dashed: bool) -> None:
    style = {"arrowstyle": "-|>", "color": colour, "linewidth": 1.8, "linestyle": "--" if dashed else "-"}
    axes.annotate("", xy=tuple(tip), xytext=tuple(tail), arrowprops={**style, "shrinkA": 0, "shrinkB": 0})


def _word(axes: Axes, at: Any, words: str, colour: str) -> None:
    axes.text(at[0], at[1], words, fontsize=SMALL_PT, color=colour, va="center")


def start_against_bend() -> Figure:
    """Where toe and heel strikes land: the start's share, the bend's share, and both together."""
    figure = Figure(figsize=(7.2, 3.6), layout="constrained")
    toe = np.linspace(-20.0, 20.0, 41)
    for axes, kind in zip(figure.subplots(1, 2), SPEED_MPS, strict=True):
        club = centred(kind)
        delivery = Delivery(head_mps=SPEED_MPS[kind])
        launch = strike_ball(plain_head(club), toe, 0.0, delivery=delivery)
        flown = fly(launch)
        start_m = flown.carry_m * np.sin(np.radians(launch.start_push_deg))
        axes.axhline(0.0, color=QUIET, linewidth=0.8)
        axes.plot(toe, start_m, color=QUIET, linestyle=(0, (5, 3)), label="start alone")
        axes.plot(toe, -flown.curve_draw_m, color=REGION, linestyle=":", linewidth=2.2, label="bend alone")
        axes.plot(toe, flown.offline_push_m, color=INK, linewidth=2.4, label="where it lands")
        low, high, at = _landing_range(club, SPEED_MPS[kind])
        axes.fill_between(at, low, high, color=MARK, alpha=0.35, label="landing, 95 of 100", linewidth=0.0)
        axes.set_ylim(-18.0, 18.0)
        axes.set_title(f"{kind.value.capitalize()}, {SPEED_MPS[kind]:.0f} m/s", fontsize=10, color=INK)
        axes.set_xlabel("heel               mm from the sweet spot               toe", fontsize=SMALL_PT)
        axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
        axes.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
        axes.tick_params(labelsize=SMALL_PT)
    axes.legend(fontsize=SMALL_PT - 0.5, loc="lower right", frameon=False)
    figure.axes[0].set_ylabel("left          metres from the line          right", fontsize=SMALL_PT)
    return figure


def _landing_range(club: Club, mps: float) -> tuple[list[float], list[float], list[float]]:
    at = [-20.0, -15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0]
    marks = tuple(Strike(toe_mm=t, high_mm=0.0) for t in at)
    rng = np.random.default_rng(SEED)
    flight = predict_flight(StrikeSet(strikes=marks), Setup(club=club, head_mps=mps), n_draws=1500, rng=rng)
    rows = [mark.outcome.offline_push_m for mark in flight.marks]
    return [r.low95 for r in rows], [r.high95 for r in rows], at


def toe_strike() -> Figure:
    """The program's own picture of one toe strike."""
    club = typical_club(ClubKind.DRIVER)
    strikes = StrikeSet(strikes=(Strike(toe_mm=TOE_MM, high_mm=0.0),))
    rng = np.random.default_rng(SEED)
    flight = predict_flight(strikes, Setup(club=club, head_mps=SPEED_MPS[ClubKind.DRIVER]), rng=rng)
    return bend_figure(flight, club=club, hand=Hand.RIGHT, units=Units())


FIGURES = {"turning-head": turning_head, "start-against-bend": start_against_bend, "toe-strike": toe_strike}


def main() -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, draw in FIGURES.items():
        write_figure(draw(), FOLDER / f"{name}.svg")


if __name__ == "__main__":
    main()
