"""What the phone told about the set of balls, as a Setup. Plain data for server and reader alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind, Setup
from facemark.record import plain
from facemark.tell.book.identity import club_of


def told_of(
    *,
    club: Mapping[str, Any] | None,
    kind: str,
    hand: str | None,
    scale: str,
    size_mm: float | None,
    n_balls: int | None,
    head_mps: float | None = None,
    effort_frac: float | None = None,
) -> dict[str, Any]:
    """Checked and completed, as ``setup_of`` takes it.

    Raises
    ------
    SetupError
        A size, count or speed that cannot be.
    """
    told = {
        "club": plain(typical_club(ClubKind(kind))) if club is None else dict(club),
        "hand": hand,
        "scale": scale,
        # Only tags and the face itself need a size; the printed card may tell its measured line.
        "size_mm": size_mm if scale in ("tags", "face", "sheet") else None,
        "n_balls": n_balls,
        "head_mps": head_mps,
        "effort_frac": effort_frac,
    }
    setup_of(told)
    return told


def setup_of(told: Mapping[str, Any]) -> Setup:
    """The Setup that ``told_of`` described. Errors: as there."""
    kind = ReferenceKind(told["scale"])
    return Setup(
        club=club_of(told["club"]),
        hand=None if told["hand"] is None else Hand(told["hand"]),
        reference=Reference(kind=kind, size_mm=told["size_mm"]),
        n_balls=told["n_balls"],
        head_mps=told["head_mps"],
        effort_frac=told["effort_frac"],
    )
