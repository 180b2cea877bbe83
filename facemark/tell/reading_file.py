"""A reading's record turned back into a set of balls, so that what was read once can be compared later."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from facemark.explain.hitset import Conditions, HitSet
from facemark.inputs import ClubKind
from facemark.record import caveats_of_record, group_of_record
from facemark.strike import SharedError, Strike, StrikeSet, SweetSpotFrom


def reading_set(record: Mapping[str, Any], *, name: str, kind: ClubKind | None = None) -> HitSet:
    """A reading's record (``Reading.to_dict``) as a set of balls.

    Raises
    ------
    KeyError, TypeError, ValueError
        The record is not a reading.
    """
    spot, face = record["sweet_spot"], record["face"]
    shared = SharedError(
        toe_mm=float(face["centre_toe_err_mm"]),
        high_mm=float(face["centre_high_err_mm"]),
        scale_frac=float(record["scale"]["err_frac"]),
        turn_deg=float(face["turn_err_deg"]),
        sweet_toe_mm=float(spot["toe_err_mm"]),
        sweet_high_mm=float(spot["high_err_mm"]),
    )
    strikes = tuple(
        Strike(
            toe_mm=float(mark["toe_mm"]),
            high_mm=float(mark["high_mm"]),
            toe_err_mm=float(mark["toe_own_err_mm"]),
            high_err_mm=float(mark["high_own_err_mm"]),
            n_balls=int(mark["n_balls"]),
            sure=bool(mark["sure"]),
        )
        for mark in record["marks"]
    )
    group = group_of_record(record, shared) if record["group"] else None
    return HitSet(
        name=name,
        strikes=StrikeSet(
            strikes=strikes,
            shared=shared,
            n_balls=record["n_balls_told"],
            n_least=int(record["n_least"]),
            separable=bool(record["separable"]),
            group=group,
            sweet_spot_from=SweetSpotFrom(spot["from"]),
            caveats=caveats_of_record(record),
        ),
        kind=kind or ClubKind(record["club"]["kind"]),
        conditions=Conditions(club=record["club"]["name"]),
    )
