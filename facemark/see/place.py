"""From marks on the face to strikes measured from the sweet spot, each with its error.

Positions shift from the face centre to the sweet spot in use. The doubts stay apart (strike.py): a mark's own
error; the placement error common to the photo (outline, scale, turn); the sweet spot's own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from facemark.caveats import CLUB_ASSUMED, SWEET_SPOT_ASSUMED, Caveat
from facemark.clubs import STATED_ERR, TYPICAL
from facemark.inputs import Club
from facemark.see.face import Face
from facemark.see.mark import Marks
from facemark.see.scale import Scale
from facemark.strike import SharedError, Strike, StrikeSet, SweetSpotFrom

CENTRE_MARK_ERR_MM = 1.0  # a printed mark shows the face centre, not the balance point; assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class SweetSpot:
    """The point all positions are measured from: where it lies from the face centre, and how we know."""

    toe_mm: float
    high_mm: float
    toe_err_mm: float
    high_err_mm: float
    found_from: SweetSpotFrom


def sweet_spot_of(club: Club) -> SweetSpot:
    """The sweet spot in use: measured if the club file says so, else assumed with the kind's range as doubt.

    Returns
    -------
    SweetSpot
        Offsets from the face centre [mm]; errors are one standard error (a rectangular range divided by
        the square root of 12, JCGM 100:2008 4.3.7).
    """
    if "sweet_toe_mm" in club.assumed or "sweet_high_mm" in club.assumed:
        toe, high = TYPICAL[club.kind]["sweet_toe_mm"], TYPICAL[club.kind]["sweet_high_mm"]
        return SweetSpot(
            toe_mm=club.sweet_toe_mm,
            high_mm=club.sweet_high_mm,
            toe_err_mm=(toe.high - toe.low) / math.sqrt(12.0),
            high_err_mm=(high.high - high.low) / math.sqrt(12.0),
            found_from=SweetSpotFrom.ASSUMED,
        )
    return SweetSpot(
        toe_mm=club.sweet_toe_mm,
        high_mm=club.sweet_high_mm,
        toe_err_mm=club.errs.get("sweet_toe_mm", STATED_ERR["sweet_toe_mm"]),
        high_err_mm=club.errs.get("sweet_high_mm", STATED_ERR["sweet_high_mm"]),
        found_from=SweetSpotFrom.MEASURED,
    )


def place_marks(marks: Marks, face: Face, scale: Scale, *, club: Club, n_balls: int | None) -> StrikeSet:
    """Measure every mark from the sweet spot.

    Parameters
    ----------
    marks : Marks
        In the face frame, origin at the face centre.
    face, scale : Face, Scale
        Where the errors common to the photo come from.
    club : Club
        Its sweet spot is the new origin.
    n_balls : int or None
        Balls hit, if told.

    Returns
    -------
    StrikeSet
    """
    spot = sweet_spot_of(club)
    strikes = tuple(
        Strike(
            toe_mm=mark.toe_mm - spot.toe_mm,
            high_mm=mark.high_mm - spot.high_mm,
            toe_err_mm=mark.toe_err_mm,
            high_err_mm=mark.high_err_mm,
            sure=mark.sure,
        )
        for mark in marks.marks
    )
    shared = SharedError(
        toe_mm=face.centre_toe_err_mm,
        high_mm=face.centre_high_err_mm,
        scale_frac=scale.scale_err_frac,
        turn_deg=face.turn_err_deg,
        sweet_toe_mm=spot.toe_err_mm,
        sweet_high_mm=spot.high_err_mm,
    )
    caveats = list(marks.caveats)
    if spot.found_from is SweetSpotFrom.ASSUMED:
        doubt = f"+-{spot.toe_err_mm:.1f} mm toe-heel, +-{spot.high_err_mm:.1f} mm high-low"
        caveats.append(Caveat(key=SWEET_SPOT_ASSUMED, detail=doubt))
    if club.assumed - {"sweet_toe_mm", "sweet_high_mm"}:
        caveats.append(Caveat(key=CLUB_ASSUMED, detail=f"a typical {club.kind.value}"))
    return StrikeSet(
        strikes=strikes,
        shared=shared,
        n_balls=n_balls,
        n_least=marks.n_least,
        separable=marks.separable,
        group=replace(
            marks.group, toe_mm=marks.group.toe_mm - spot.toe_mm, high_mm=marks.group.high_mm - spot.high_mm
        ),
        sweet_spot_from=spot.found_from,
        caveats=tuple(caveats),
    )


def placement_err_mm(toe_mm: float, high_mm: float, shared: SharedError) -> tuple[float, float]:
    """Placement error of a point ``toe_mm, high_mm`` from the face centre: (toe, high), one standard error.

    Law of propagation (JCGM 100:2008 5.1.2) over origin, scale and turn; the sweet spot's own doubt is not
    in it.
    """
    turn = math.radians(shared.turn_deg)
    return (
        math.sqrt(shared.toe_mm**2 + (toe_mm * shared.scale_frac) ** 2 + (high_mm * turn) ** 2),
        math.sqrt(shared.high_mm**2 + (high_mm * shared.scale_frac) ** 2 + (toe_mm * turn) ** 2),
    )
