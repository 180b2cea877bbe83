"""From marks on the face to strikes measured from the sweet spot, each with its error.

Positions shift from the face centre to the sweet spot in use. The doubts stay apart (strike.py): a mark's own
error; the placement error common to the photo (outline, scale, turn); the sweet spot's own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from facemark.caveats import CLUB_ASSUMED, SWEET_SPOT_ASSUMED, SWEET_SPOT_FROM_MARK, Caveat
from facemark.clubs import STATED_ERR, TYPICAL
from facemark.errors import ScaleError
from facemark.inputs import Club
from facemark.see.centre_mark import CentreMark
from facemark.see.face import Face
from facemark.see.mark import Mark, Marks
from facemark.see.scale import Scale
from facemark.strike import GroupEstimate, SharedError, Strike, StrikeSet, SweetSpotFrom

# Shortest face in use less a tenth, to the longest legal head (127 mm, Equipment Rules Part 2) plus a tenth:
# a scale wrong by more than that is no doubt but a mistake.
FACE_LENGTHS_MM = (54.0, 140.0)
HALF_MARK_MM = 6.0  # a mark's centre may lie this far off the face and still leave a trace on it; assumed
SURE_WITHIN_MM = 4.0  # a fifth of a mark; the distance within which a mark counts as found
CENTRE_MARK_ERR_MM = 1.0  # how well a mark is printed at the face centre; assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class SweetSpot:
    """The point all positions are measured from: where it lies from the face centre, and how we know."""

    toe_mm: float
    high_mm: float
    toe_err_mm: float
    high_err_mm: float
    found_from: SweetSpotFrom


def sweet_spot_of(club: Club, centre_mark: CentreMark | None = None) -> SweetSpot:
    """The sweet spot in use: the printed mark if one is handed in, else the club file's, else assumed.

    A mark shows the middle of the face, not the balance point: heads of the kind differ around it as they do
    around the outline's centre, and that range stays in the error. What the mark spares is the outline's.

    Parameters
    ----------
    club : Club
    centre_mark : CentreMark, optional
        Only where the user asked for it.

    Returns
    -------
    SweetSpot
        Offsets from the face centre [mm]; errors are one standard error (a rectangular range divided by
        the square root of 12, JCGM 100:2008 4.3.7).
    """
    toe, high = TYPICAL[club.kind]["sweet_toe_mm"], TYPICAL[club.kind]["sweet_high_mm"]
    toe_err_mm, high_err_mm = ((row.high - row.low) / math.sqrt(12.0) for row in (toe, high))
    if centre_mark is not None:
        return SweetSpot(
            toe_mm=centre_mark.toe_mm + toe.value,
            high_mm=centre_mark.high_mm + high.value,
            toe_err_mm=math.hypot(centre_mark.toe_err_mm, CENTRE_MARK_ERR_MM, toe_err_mm),
            high_err_mm=math.hypot(centre_mark.high_err_mm, CENTRE_MARK_ERR_MM, high_err_mm),
            found_from=SweetSpotFrom.MARK,
        )
    if "sweet_toe_mm" in club.assumed or "sweet_high_mm" in club.assumed:
        return SweetSpot(
            toe_mm=club.sweet_toe_mm,
            high_mm=club.sweet_high_mm,
            toe_err_mm=toe_err_mm,
            high_err_mm=high_err_mm,
            found_from=SweetSpotFrom.ASSUMED,
        )
    return SweetSpot(
        toe_mm=club.sweet_toe_mm,
        high_mm=club.sweet_high_mm,
        toe_err_mm=club.errs.get("sweet_toe_mm", STATED_ERR["sweet_toe_mm"]),
        high_err_mm=club.errs.get("sweet_high_mm", STATED_ERR["sweet_high_mm"]),
        found_from=SweetSpotFrom.MEASURED,
    )


def place_marks(
    marks: Marks,
    face: Face,
    scale: Scale,
    *,
    club: Club,
    n_balls: int | None,
    centre_mark: CentreMark | None = None,
    spot: SweetSpot | None = None,
) -> StrikeSet:
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
    centre_mark : CentreMark, optional
        Taken as the sweet spot instead.
    spot : SweetSpot, optional
        Where the sweet spot was decided elsewhere (by hand).

    Returns
    -------
    StrikeSet
    """
    _check_size(marks, face, club)
    spot = spot or sweet_spot_of(club, centre_mark)
    by_mark = spot.found_from is SweetSpotFrom.MARK
    # Found in the strikes' own frame: where the outline's centre lies then cancels.
    in_photo = by_mark or spot.found_from is SweetSpotFrom.BY_HAND
    shared = SharedError(
        toe_mm=0.0 if in_photo else face.centre_toe_err_mm,
        high_mm=0.0 if in_photo else face.centre_high_err_mm,
        scale_frac=scale.scale_err_frac,
        turn_deg=face.turn_err_deg,
        sweet_toe_mm=spot.toe_err_mm,
        sweet_high_mm=spot.high_err_mm,
    )
    strikes = tuple(
        Strike(
            toe_mm=mark.toe_mm - spot.toe_mm,
            high_mm=mark.high_mm - spot.high_mm,
            toe_err_mm=mark.toe_err_mm,
            high_err_mm=mark.high_err_mm,
            sure=mark.sure and _well_placed(mark, shared),
        )
        for mark in marks.marks
    )
    caveats = list(marks.caveats)
    if spot.found_from in (SweetSpotFrom.MARK, SweetSpotFrom.ASSUMED):
        doubt = f"+-{spot.toe_err_mm:.1f} mm toe-heel, +-{spot.high_err_mm:.1f} mm high-low"
        key = SWEET_SPOT_FROM_MARK if by_mark else SWEET_SPOT_ASSUMED
        caveats.append(Caveat(key=key, detail=doubt))
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


def check_face_size(face: Face) -> None:
    """Refuse a face no club has: then the scale is wrong, and every millimetre with it.

    Asked before the face is drawn straight on, because a face of a metre takes a minute to draw.

    Raises
    ------
    ScaleError
    """
    if not FACE_LENGTHS_MM[0] <= face.width_mm <= FACE_LENGTHS_MM[1]:
        raise ScaleError(
            f"the face would be {face.width_mm:.0f} mm long; {FACE_LENGTHS_MM[0]:.0f} to"
            f" {FACE_LENGTHS_MM[1]:.0f} mm is possible",
            remedy="Check the size told for the scale object, and that it lies in the plane of the face.",
        )


def _check_size(marks: Marks, face: Face, club: Club) -> None:
    """Refuse a face no club has, and marks off any face."""
    check_face_size(face)
    table = TYPICAL[club.kind]
    most = [
        0.5 * (table[name].high if name in club.assumed else getattr(club, name)) + HALF_MARK_MM
        for name in ("face_length_mm", "face_height_mm")
    ]
    for mark in marks.marks:
        if abs(mark.toe_mm) > most[0] or abs(mark.high_mm) > most[1]:
            raise ScaleError(
                f"a mark would lie {math.hypot(mark.toe_mm, mark.high_mm):.0f} mm from the face's centre,"
                f" off any {club.kind.value}'s face",
                remedy="Check the size told for the scale object, its place, and the kind of club (--kind).",
            )


def _well_placed(mark: Mark, shared: SharedError) -> bool:
    """Whether a mark's place is good enough to be called certain: its 95 % error stays within the limit.

    A mark seen beyond doubt, on a face whose scale is known to 7 %, may still lie 5 mm from where it is said
    to be; only the marks near the face's centre are certain then.
    """
    toe, high = placement_err_mm(mark.toe_mm, mark.high_mm, shared)
    worst = max(math.hypot(mark.toe_err_mm, toe), math.hypot(mark.high_err_mm, high))
    return 1.96 * worst <= SURE_WITHIN_MM


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


def placed_group(
    group: GroupEstimate,
    places_mm: Iterable[tuple[float, float]],
    spot: tuple[float, float],
    shared: SharedError,
) -> GroupEstimate:
    """The group with the photo's common errors added to its own, as a record tells it.

    Parameters
    ----------
    group : GroupEstimate
        From the sweet spot; errors are its own only.
    places_mm : iterable of (toe, high)
        Its marks: how toe and high go together in them is what a turned frame mixes.
    spot : (toe, high)
        The sweet spot from the face centre [mm].
    shared : SharedError

    Returns
    -------
    GroupEstimate
    """
    errs = _common_group_errs(group, places_mm, spot, shared)
    return replace(group, **{name: math.hypot(getattr(group, name), err) for name, err in errs.items()})


def unplaced_group(
    group: GroupEstimate,
    places_mm: Iterable[tuple[float, float]],
    spot: tuple[float, float],
    shared: SharedError,
) -> GroupEstimate:
    """The group of a record with the photo's common errors taken out again: back from ``placed_group``."""
    errs = _common_group_errs(group, places_mm, spot, shared)
    own = {name: math.sqrt(max(getattr(group, name) ** 2 - err**2, 0.0)) for name, err in errs.items()}
    return replace(group, **own)


def _common_group_errs(
    group: GroupEstimate,
    places_mm: Iterable[tuple[float, float]],
    spot: tuple[float, float],
    shared: SharedError,
) -> dict[str, float]:
    """What origin, scale and turn add to the errors of centre and spread, by the field's name.

    Propagation (JCGM 100:2008 5.1.2) of sd' = (1 + scale) sd, and of a small turn, which moves the toe's
    variance by twice the covariance: d sd_toe = turn * correlation * sd_high, and the same the other way.
    """
    toe, high = placement_err_mm(group.toe_mm + spot[0], group.high_mm + spot[1], shared)
    turn = math.radians(shared.turn_deg) * _together(places_mm)
    spread = {"toe": group.toe_spread_mm, "high": group.high_spread_mm}
    return {
        "toe_err_mm": toe,
        "high_err_mm": high,
        "toe_spread_err_mm": math.hypot(spread["toe"] * shared.scale_frac, spread["high"] * turn),
        "high_spread_err_mm": math.hypot(spread["high"] * shared.scale_frac, spread["toe"] * turn),
    }


def _together(places_mm: Iterable[tuple[float, float]]) -> float:
    """Size of the correlation of toe and high among the marks; 1, the most there is, if not known."""
    off = np.array(list(places_mm), float).reshape(-1, 2)
    off -= off.mean(axis=0) if len(off) else 0.0
    toe, high = (off**2).sum(axis=0)
    return abs(float(off[:, 0] @ off[:, 1])) / math.sqrt(toe * high) if toe > 0.0 < high else 1.0
