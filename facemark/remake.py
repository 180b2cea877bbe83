"""A reading's record turned back into what it was made from, so that it can be corrected without the photo.

The record keeps the camera and the place of the face before it (``face.frame``) unrounded; everything else is
as exact as it was written. The powder's density map is not kept. Doubts are kept whole but lose the stage
that raised them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

import numpy as np

from facemark.caveats import Caveat
from facemark.edits import edit_of
from facemark.errors import SetupError
from facemark.inputs import Club, ClubKind, Hand, ReferenceKind, Setup
from facemark.reading import Measured
from facemark.record import caveats_of_record, group_of_record
from facemark.see.camera import Array, Camera, FaceFrame
from facemark.see.face import Face, ToeFrom
from facemark.see.mark import Mark, MarkMethod, Marks
from facemark.see.place import SweetSpot
from facemark.see.scale import Scale
from facemark.strike import GroupEstimate, SharedError, Strike, StrikeSet, SweetSpotFrom


def setup_of_record(record: Mapping[str, Any]) -> Setup:
    """What was told for this reading, as far as corrections need it.

    The hand is the one in use: a reading from the book is not asked again which hand it shows.
    """
    told = record["hand_told"] if "hand_told" in record else record["hand"]
    return Setup(
        club=club_of_record(record["club"]),
        hand=None if told is None else Hand(told),
        n_balls=record["n_balls_told"],
        head_mps=record["head_mps"],
        effort_frac=record.get("effort_frac"),
    )


def club_of_record(data: Mapping[str, Any]) -> Club:
    """A club from plain data (``record.plain(club)``); a radius of null is a flat face."""
    values = {item.name: data[item.name] for item in fields(Club)}
    for radius in ("bulge_mm", "roll_mm"):
        values[radius] = math.inf if values[radius] is None else values[radius]
    values["kind"] = ClubKind(values["kind"])
    values["assumed"] = frozenset(values["assumed"])
    return Club(**values)


def measured_of_record(record: Mapping[str, Any]) -> Measured:
    """What was measured, from a reading's record (``Reading.to_dict``).

    Raises
    ------
    SetupError
        The record is not a reading, or comes from a version that did not keep the face's place.
    """
    try:
        return _measured(record)
    except (KeyError, TypeError, ValueError, IndexError) as err:
        raise SetupError(
            f"this reading cannot be taken up again ({type(err).__name__}: {err})",
            remedy="Read the photo once more with this version.",
        ) from None


def _measured(record: Mapping[str, Any]) -> Measured:
    frame = _frame(record)
    kept = caveats_of_record(record)
    spot = record["sweet_spot"]
    face = _face(record, frame)
    shared = _shared(record)
    marks = _marks(record, shared, kept)
    return Measured(
        photo_name=record["photo"]["name"],
        width_px=record["photo"]["width_px"],
        height_px=record["photo"]["height_px"],
        scale=_scale(record, frame),
        face=face,
        marks=marks,
        sweet_spot=SweetSpot(
            toe_mm=spot["toe_mm"],
            high_mm=spot["high_mm"],
            toe_err_mm=spot["toe_err_mm"],
            high_err_mm=spot["high_err_mm"],
            found_from=SweetSpotFrom(spot["from"]),
        ),
        strikes=_strikes(record, marks, shared, kept),
        photo_index=_photo_index(record),
        letters=tuple(mark["letter"] for mark in record["marks"]),
        by_hand=frozenset(mark["letter"] for mark in record["marks"] if mark["by_hand"]),
        edits=tuple(edit_of(item) for item in record["corrected"]["edits"]) if record["corrected"] else (),
    )


def _frame(record: Mapping[str, Any]) -> FaceFrame:
    kept = record["face"]["frame"]
    camera = Camera(
        focal_px=kept["focal_px"],
        centre_x_px=(record["photo"]["width_px"] - 1) / 2,
        centre_y_px=(record["photo"]["height_px"] - 1) / 2,
        focal_err_frac=kept["focal_err_frac"],
    )
    radii = [math.inf if kept[name] is None else kept[name] for name in ("bulge_mm", "roll_mm")]
    return FaceFrame(
        camera=camera,
        axes_cam=np.array(kept["axes_cam"], float),
        origin_cam_mm=np.array(kept["origin_cam_mm"], float),
        bulge_mm=radii[0],
        roll_mm=radii[1],
    )


def _scale(record: Mapping[str, Any], frame: FaceFrame) -> Scale:
    """The plane is the face's own: where the reference lay is not kept, and nothing asks any more."""
    kept = record["scale"]
    return Scale(
        kind=ReferenceKind(kept["kind"]),
        camera=frame.camera,
        plane_axes_cam=frame.axes_cam,
        plane_origin_cam_mm=frame.origin_cam_mm,
        pose_known=kept["pose_known"],
        tilt_deg=kept["tilt_deg"],
        scale_err_frac=kept["err_frac"],
        plane_gap_err_mm=0.0,
        footprint_px=_polygons(kept, "footprint_px"),
        mirrored=kept["mirrored"],
        caveats=(),
        card_px=_polygons(kept, "card_px"),  # a corrected reading's picture hides the card as well
    )


def _polygons(kept: Mapping[str, Any], name: str) -> tuple[Array, ...]:
    return tuple(np.array(polygon, float) for polygon in kept.get(name, ()))


def _face(record: Mapping[str, Any], frame: FaceFrame) -> Face:
    kept = record["face"]
    outline_px = np.array(kept["outline_px"], float)
    return Face(
        outline_px=outline_px,
        outline_mm=frame.mm_from_px(outline_px),
        frame=frame,
        width_mm=kept["width_mm"],
        height_mm=kept["height_mm"],
        centre_toe_err_mm=kept["centre_toe_err_mm"],
        centre_high_err_mm=kept["centre_high_err_mm"],
        turn_err_deg=kept["turn_err_deg"],
        hand=Hand(record["hand"]),
        hand_seen=None if record["hand_seen"] is None else Hand(record["hand_seen"]),
        toe_from=ToeFrom(record["toe_from"]),
    )


def _shared(record: Mapping[str, Any]) -> SharedError:
    spot, face = record["sweet_spot"], record["face"]
    # A spot found in the photo itself does not depend on where the outline's centre lies.
    in_photo = SweetSpotFrom(spot["from"]) in (SweetSpotFrom.MARK, SweetSpotFrom.BY_HAND)
    return SharedError(
        toe_mm=0.0 if in_photo else face["centre_toe_err_mm"],
        high_mm=0.0 if in_photo else face["centre_high_err_mm"],
        scale_frac=record["scale"]["err_frac"],
        turn_deg=face["turn_err_deg"],
        sweet_toe_mm=spot["toe_err_mm"],
        sweet_high_mm=spot["high_err_mm"],
    )


def _marks(record: Mapping[str, Any], shared: SharedError, kept: tuple[Caveat, ...]) -> Marks:
    spot = record["sweet_spot"]
    marks = tuple(
        Mark(
            toe_mm=item["toe_mm"] + spot["toe_mm"],
            high_mm=item["high_mm"] + spot["high_mm"],
            toe_err_mm=item["toe_own_err_mm"],
            high_err_mm=item["high_own_err_mm"],
            diameter_mm=item["diameter_mm"],
            score_frac=item["score_frac"],
            sure=item["sure"],
            touches=item["touches"],
            at_edge=item["at_edge"],
        )
        for item in record["marks"]
    )
    return Marks(
        marks=marks,
        n_least=record["n_least"],
        separable=record["separable"],
        group=_group(record, shared),
        method=MarkMethod(record["method"]),
        caveats=kept,
    )


def _group(record: Mapping[str, Any], shared: SharedError) -> GroupEstimate:
    """The group from the face centre, its error without that of placing (which the record adds)."""
    spot, own = record["sweet_spot"], group_of_record(record, shared)
    return replace(own, toe_mm=own.toe_mm + spot["toe_mm"], high_mm=own.high_mm + spot["high_mm"])


def _strikes(
    record: Mapping[str, Any], marks: Marks, shared: SharedError, kept: tuple[Caveat, ...]
) -> StrikeSet:
    spot, group = record["sweet_spot"], marks.group
    return StrikeSet(
        strikes=tuple(
            Strike(
                toe_mm=item["toe_mm"],
                high_mm=item["high_mm"],
                toe_err_mm=item["toe_own_err_mm"],
                high_err_mm=item["high_own_err_mm"],
                n_balls=item["n_balls"],
                sure=item["sure"],
            )
            for item in record["marks"]
        ),
        shared=shared,
        n_balls=record["n_balls_told"],
        n_least=record["n_least"],
        separable=record["separable"],
        group=GroupEstimate(
            toe_mm=group.toe_mm - spot["toe_mm"],
            high_mm=group.high_mm - spot["high_mm"],
            toe_err_mm=group.toe_err_mm,
            high_err_mm=group.high_err_mm,
            toe_spread_mm=group.toe_spread_mm,
            high_spread_mm=group.high_spread_mm,
            toe_spread_err_mm=group.toe_spread_err_mm,
            high_spread_err_mm=group.high_spread_err_mm,
            n_balls=group.n_balls,
            n_balls_err=group.n_balls_err,
        ),
        sweet_spot_from=SweetSpotFrom(spot["from"]),
        caveats=kept,
    )


def _photo_index(record: Mapping[str, Any]) -> tuple[int | None, ...] | None:
    found = tuple(mark["photo_index"] for mark in record["marks"])
    return None if all(index is None for index in found) else found
