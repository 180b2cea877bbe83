"""Speed kept and bend of each club of a comparison, through the flight model.

The comparison itself knows only millimetres; here its strikes are sent through each club's own file. Mean
over the balls; the range is the model's (head, sweet spot, air, strike), not that of another set of balls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from facemark.errors import SetupError
from facemark.explain.hitset import HitSet

DRAW_SEED = 20260103
N_DRAWS = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubFlight:
    """What the strikes of one club alone did to the balls, on average."""

    name: str
    speed_kept_frac: float  # against a centred strike
    speed_kept_least_frac: float
    speed_kept_most_frac: float
    curve_draw_m: float
    curve_least_draw_m: float
    curve_most_draw_m: float


def club_flights(
    sets: Sequence[HitSet], club_files: Sequence[str], speed: float | None, speed_unit: str
) -> list[ClubFlight]:
    """Send the strikes of every club that has a file (``NAME=FILE.toml``) through the flight model.

    Raises
    ------
    SetupError
        A name that is not compared, or an impossible club file.
    """
    import numpy as np

    from facemark.explain.flight import predict_flight
    from facemark.inputs import Setup
    from facemark.tell.ask import club_from_options, speed_mps

    files = dict(_named(item) for item in club_files)
    unknown = set(files) - {hit_set.name for hit_set in sets}
    if unknown:
        raise SetupError(
            f"--club-file names {', '.join(sorted(unknown))}, but compared are "
            f"{', '.join(hit_set.name for hit_set in sets)}",
            remedy="Use the names of the files, or of the club column.",
        )
    found = []
    for hit_set in sets:
        if hit_set.name not in files:
            continue
        setup = Setup(
            club=club_from_options(files[hit_set.name], None), head_mps=speed_mps(speed, speed_unit)
        )
        flight = predict_flight(hit_set.strikes, setup, n_draws=N_DRAWS, rng=np.random.default_rng(DRAW_SEED))
        outcomes = [mark.outcome for mark in flight.marks] or [flight]
        kept = [outcome.speed_kept_frac for outcome in outcomes]
        curve = [outcome.curve_draw_m for outcome in outcomes]
        found.append(
            ClubFlight(
                name=hit_set.name,
                speed_kept_frac=float(np.mean([one.median for one in kept])),
                speed_kept_least_frac=float(np.mean([one.low95 for one in kept])),
                speed_kept_most_frac=float(np.mean([one.high95 for one in kept])),
                curve_draw_m=float(np.mean([one.median for one in curve])),
                curve_least_draw_m=float(np.mean([one.low95 for one in curve])),
                curve_most_draw_m=float(np.mean([one.high95 for one in curve])),
            )
        )
    return found


def _named(item: str) -> tuple[str, Path]:
    name, mark, file = item.partition("=")
    if not (name and mark and file):
        raise SetupError(
            f"expected NAME=FILE.toml, got {item!r}", remedy="Say for example --club-file A=a.toml."
        )
    return name, Path(file)


def club_flight_lines(flights: Sequence[ClubFlight]) -> list[str]:
    """A sentence for each club."""
    lines = ["What the strikes alone did, mean over the balls (range of the model, not of another set):"]
    for flight in flights:
        bend = "draw" if flight.curve_draw_m > 0 else "fade"
        lines.append(
            f"{flight.name}: {100 * flight.speed_kept_frac:.1f} % of ball speed kept "
            f"({100 * flight.speed_kept_least_frac:.1f} to {100 * flight.speed_kept_most_frac:.1f}); "
            f"bend {abs(flight.curve_draw_m):.0f} m {bend} ({_bend(flight.curve_least_draw_m)} to "
            f"{_bend(flight.curve_most_draw_m)})."
        )
    return lines


def _bend(draw_m: float) -> str:
    return f"{abs(draw_m):.0f} m {'draw' if draw_m > 0 else 'fade'}" if round(draw_m) else "none"
