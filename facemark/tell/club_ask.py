"""Making a club file by asking, and saying what a club file is worth."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import typer

from facemark.clubs import (
    MAY_BE_FLAT,
    POSSIBLE,
    STATED_ERR,
    TYPICAL,
    club_mistakes,
    radius_from_gap_mm,
    typical_club,
)
from facemark.errors import SetupError
from facemark.inputs import Club, ClubKind, Setup
from facemark.strike import Strike, StrikeSet
from facemark.tell.clubfile import MEANING, NUMBERS

CHECK_TOE_MM = 10.0  # the strike by which a club file's worth is shown
DRAW_SEED = 20260105
N_DRAWS = 1500
_SMALL_UNITS = {"kgm2": ("g cm2", 1e-7), "kg": ("g", 1e-3)}  # as makers print them

# What measuring what would gain, in the order of the effort.
_STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("the sweet spot (a pin)", ("sweet_toe_mm", "sweet_high_mm")),
    ("bulge and roll (a straight edge)", ("bulge_mm", "roll_mm")),
    ("depth and inertia (as printed by the maker)", ("cg_depth_mm", "moi_vertical_kgm2", "moi_heeltoe_kgm2")),
)


def ask_club(kind: ClubKind | None, name: str | None, *, blank: bool, default_name: str) -> Club:
    """Ask for a club, number by number; Enter leaves a number out.

    Parameters
    ----------
    kind, name
        As told; None: asked.
    blank : bool
        Ask nothing more.
    default_name : str

    Returns
    -------
    Club
    """
    if blank:
        return replace(typical_club(kind or ClubKind.DRIVER), name=name or default_name)
    while kind is None:
        answer = typer.prompt(f"Kind of club ({', '.join(ClubKind)})").strip().lower()
        kind = ClubKind(answer) if answer in set(ClubKind) else None
    club = typical_club(kind)
    name = name or typer.prompt("Name of the club", default=default_name)
    typer.echo("Enter leaves a number out; it is then assumed. Radii also as span/gap, such as 80/2.6.")
    for field in NUMBERS:
        club = _ask_number(club, field)
    return replace(club, name=name)


def _ask_number(club: Club, field: str) -> Club:
    unit, small = _SMALL_UNITS.get(field.rsplit("_", 1)[1], ("", 1.0))
    meaning = re.sub(r", kg.*", f", {unit}", MEANING[field]) if unit else MEANING[field]
    typical = TYPICAL[club.kind][field].value
    shown = "flat" if typical == math.inf else f"{typical / small:g}"
    while True:
        answer = typer.prompt(f"{meaning} [typical {shown}]", default="", show_default=False).strip().lower()
        if not answer:
            return club
        try:
            value = _number(answer, field) * small
        except (ValueError, SetupError) as err:
            typer.echo(f"  not understood ({err})")
            continue
        changed = replace(club, **{field: value}, assumed=club.assumed - {field})  # type: ignore[arg-type]
        wrong = [why for key, why in club_mistakes(changed) if key == field]
        if not wrong:
            return changed
        low, high = (limit / small for limit in POSSIBLE[field])
        typer.echo(f"  {value / small:g} is not possible; {low:g} to {high:g} is")


def _number(answer: str, field: str) -> float:
    if field in MAY_BE_FLAT:
        if answer == "flat":
            return math.inf
        if "/" in answer:
            span, gap = (float(part.replace(",", ".")) for part in answer.split("/"))
            return radius_from_gap_mm(span, gap)
    return float(answer.replace(",", "."))


def check_lines(club: Club) -> list[str]:
    """Say what is measured, what is assumed, and what measuring would gain.

    Parameters
    ----------
    club : Club

    Returns
    -------
    list of str
    """
    measured = [name for name in NUMBERS if name not in club.assumed]
    lines = [f"{club.name}: a {club.kind.value}; all numbers possible."]
    lines += [f"  measured  {name} = {_shown(club, name)}" for name in measured]
    lines += [f"  assumed   {name} = {_typical(club, name)}" for name in NUMBERS if name in club.assumed]
    start, bend = _widths(club)
    lines.append(
        f"For a strike {CHECK_TOE_MM:.0f} mm toe, in 95 of 100 cases: start known within ±{start:.1f}°, "
        f"bend within ±{bend:.0f} m."
    )
    for what, names in _STEPS:
        if not club.assumed & set(names):
            continue
        start, bend = _widths(replace(club, assumed=club.assumed - set(names)))
        lines.append(f"  with {what} measured: ±{start:.1f}° and ±{bend:.1f} m")
    return lines


def _widths(club: Club) -> tuple[float, float]:
    """Half the 95 % ranges of start [deg] and bend [m]."""
    import numpy as np

    from facemark.explain.constants import TYPICAL_HEAD_MPS
    from facemark.explain.flight import predict_flight

    strikes = StrikeSet(strikes=(Strike(toe_mm=CHECK_TOE_MM, high_mm=0.0),))
    setup = Setup(club=club, head_mps=TYPICAL_HEAD_MPS[club.kind].value)
    flight = predict_flight(strikes, setup, n_draws=N_DRAWS, rng=np.random.default_rng(DRAW_SEED))
    start, bend = flight.start_push_deg, flight.curve_draw_m
    return 0.5 * (start.high95 - start.low95), 0.5 * (bend.high95 - bend.low95)


def _shown(club: Club, name: str) -> str:
    value = getattr(club, name)
    if value == math.inf:
        return "flat"
    return f"{value:g} ±{club.errs.get(name, STATED_ERR[name]):g}"


def _typical(club: Club, name: str) -> str:
    low, high = TYPICAL[club.kind][name][1:]
    return "flat" if low == math.inf else f"{getattr(club, name):g} ({low:g} to {high:g})"
