"""A reading as plain data: numbers, words, lists. The one source of text, page, picture and JSON.

Keys carry unit and sign; None is "not known"; never NaN or infinity. docs/reference/results.md describes it
and a test holds both together.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from string import ascii_uppercase
from typing import TYPE_CHECKING, Any

import numpy as np

from facemark.caveats import RAISED_ANEW, TEXTS, Caveat
from facemark.edits import edit_record, edits_words
from facemark.inputs import Setup
from facemark.see.place import placed_group, placement_err_mm, unplaced_group
from facemark.strike import GroupEstimate, SharedError
from facemark.version import SCHEMA, VERSION

if TYPE_CHECKING:
    from facemark.explain.flight import Flight
    from facemark.explain.pattern import Pattern
    from facemark.reading import Measured
    from facemark.see.camera import FaceFrame


def reading_record(
    *, setup: Setup, measured: Measured, pattern: Pattern, flight: Flight | None, caveats: Iterable[Caveat]
) -> dict[str, Any]:
    """The whole reading as a dictionary that ``json.dumps`` takes as it is.

    Marks and group are measured from the sweet spot in use. Their ``_err_`` holds own and placement error;
    how well the sweet spot itself is known stands in ``sweet_spot``.
    """
    face, scale, spot = measured.face, measured.scale, measured.sweet_spot
    centre_px = face.frame.px_from_mm(np.zeros((1, 2)))[0]
    spot_px = face.frame.px_from_mm(np.array([[spot.toe_mm, spot.high_mm]]))[0]
    ends_px = face.frame.px_from_mm(np.array([[0.5, 0.0], [-0.5, 0.0], [0.0, 0.5], [0.0, -0.5]]))
    return {
        "schema": SCHEMA,
        "version": VERSION,
        "photo": {
            "name": measured.photo_name,
            "width_px": measured.width_px,
            "height_px": measured.height_px,
        },
        "hand": face.hand.value,
        "hand_told": None if setup.hand is None else setup.hand.value,
        "hand_seen": None if face.hand_seen is None else face.hand_seen.value,
        "toe_from": face.toe_from.value,
        "club": plain(setup.club),
        "head_mps": setup.head_mps,
        "effort_frac": setup.effort_frac,
        "n_balls_told": setup.n_balls,
        "scale": {
            "kind": scale.kind.value,
            "mm_per_px": rounded(face.frame.mm_per_px, 6),
            "err_frac": rounded(scale.scale_err_frac, 5),
            "tilt_deg": rounded(face.frame.tilt_deg, 2),
            "pose_known": scale.pose_known,
            "mirrored": scale.mirrored,
            "footprint_px": [[rounded_list(point, 1) for point in polygon] for polygon in scale.footprint_px],
            "card_px": [[rounded_list(point, 1) for point in polygon] for polygon in scale.card_px],
        },
        "face": {
            "centre_mm": [0.0, 0.0],
            "centre_px": rounded_list(centre_px, 2),
            "centre_toe_err_mm": rounded(face.centre_toe_err_mm, 3),
            "centre_high_err_mm": rounded(face.centre_high_err_mm, 3),
            "turn_err_deg": rounded(face.turn_err_deg, 2),
            "width_mm": rounded(face.width_mm, 2),
            "height_mm": rounded(face.height_mm, 2),
            "mm_per_px": rounded(face.frame.mm_per_px, 6),
            # How far one millimetre toward the toe, and one toward the crown, goes in the photo.
            "toe_px_per_mm": rounded_list(ends_px[0] - ends_px[1], 4),
            "high_px_per_mm": rounded_list(ends_px[2] - ends_px[3], 4),
            "outline_px": [rounded_list(point, 1) for point in face.outline_px],
            "frame": _frame(face.frame),
        },
        "sweet_spot": {
            "from": spot.found_from.value,
            "toe_mm": spot.toe_mm,
            "high_mm": spot.high_mm,
            "toe_err_mm": rounded(spot.toe_err_mm, 3),
            "high_err_mm": rounded(spot.high_err_mm, 3),
            "x_px": rounded(float(spot_px[0]), 2),
            "y_px": rounded(float(spot_px[1]), 2),
        },
        "marks": _marks(measured),
        "n_least": measured.marks.n_least,
        "separable": measured.marks.separable,
        "method": measured.marks.method.value,
        "group": _group(measured),
        "pattern": plain(pattern, without=("caveats",)),
        "flight": plain(flight, without=("caveats",)),
        "corrected": _corrected(measured),
        "caveats": [caveat_record(caveat) for caveat in caveats],
    }


def letters(n: int) -> list[str]:
    """Names of marks: A to Z, then AA, AB, ..."""
    names = list(ascii_uppercase)
    for first in ascii_uppercase:
        if len(names) >= n:
            break
        names += [first + second for second in ascii_uppercase]
    return names[:n]


def caveat_record(caveat: Caveat) -> dict[str, str]:
    """A caveat with its texts."""
    text = TEXTS[caveat.key]
    return {
        "key": caveat.key,
        "detail": caveat.detail,
        "meaning": text.meaning,
        "matters": text.matters,
        "remedy": text.remedy,
    }


def caveats_of_record(record: Mapping[str, Any]) -> tuple[Caveat, ...]:
    """A record's doubts, without those raised anew and those only another version has a text for."""
    return tuple(
        Caveat(key=item["key"], detail=item["detail"])
        for item in record["caveats"]
        if item["key"] in TEXTS and item["key"] not in RAISED_ANEW
    )


def plain(value: Any, *, without: tuple[str, ...] = ()) -> Any:
    """Any of our records as plain data; infinity and NaN become None."""
    if is_dataclass(value) and not isinstance(value, type):
        return {
            item.name: plain(getattr(value, item.name), without=without)
            for item in fields(value)
            if item.name not in without
        }
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return value
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return rounded(float(value), 6)
    if isinstance(value, dt.date | dt.datetime):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): plain(item, without=without) for key, item in value.items()}
    if isinstance(value, frozenset | set):
        return sorted(plain(item, without=without) for item in value)
    if isinstance(value, np.ndarray):
        return plain(value.tolist(), without=without)
    if isinstance(value, Iterable):
        return [plain(item, without=without) for item in value]
    message = f"{type(value).__name__} has no place in a record"
    raise TypeError(message)


def rounded(value: float, digits: int) -> float | None:
    """``value`` rounded, or None if it is not a finite number."""
    return round(value, digits) if math.isfinite(value) else None


def rounded_list(values: Iterable[float], digits: int) -> list[float | None]:
    return [rounded(float(value), digits) for value in values]


def _marks(measured: Measured) -> list[dict[str, Any]]:
    records = []
    marks, strikes = measured.marks.marks, measured.strikes.strikes
    photo_index = measured.photo_index or (None,) * len(marks)
    given = measured.letters or letters(len(marks))
    for letter, mark, strike, photo in zip(given, marks, strikes, photo_index, strict=True):
        x_px, y_px = measured.face.frame.px_from_mm(np.array([[mark.toe_mm, mark.high_mm]]))[0]
        toe_err, high_err = placement_err_mm(mark.toe_mm, mark.high_mm, measured.strikes.shared)
        records.append(
            {
                "letter": letter,
                "toe_mm": rounded(strike.toe_mm, 2),
                "high_mm": rounded(strike.high_mm, 2),
                "toe_err_mm": rounded(math.hypot(mark.toe_err_mm, toe_err), 3),
                "high_err_mm": rounded(math.hypot(mark.high_err_mm, high_err), 3),
                "toe_own_err_mm": rounded(mark.toe_err_mm, 3),
                "high_own_err_mm": rounded(mark.high_err_mm, 3),
                "x_px": rounded(float(x_px), 2),
                "y_px": rounded(float(y_px), 2),
                "diameter_mm": rounded(mark.diameter_mm, 1),
                "n_balls": strike.n_balls,
                "score_frac": rounded(mark.score_frac, 3),
                "sure": strike.sure,
                "touches": mark.touches,
                "at_edge": mark.at_edge,
                "photo_index": photo,
                "by_hand": letter in measured.by_hand,
            }
        )
    return records


def _frame(frame: FaceFrame) -> dict[str, Any]:
    """Where the face stands before the camera, unrounded: a reading can be corrected without its photo."""
    radii = {name: getattr(frame, name) for name in ("bulge_mm", "roll_mm")}
    return {
        "focal_px": float(frame.camera.focal_px),
        "focal_err_frac": float(frame.camera.focal_err_frac),
        "axes_cam": [[float(value) for value in row] for row in frame.axes_cam],
        "origin_cam_mm": [float(value) for value in frame.origin_cam_mm],
        **{name: float(value) if math.isfinite(value) else None for name, value in radii.items()},
    }


def _corrected(measured: Measured) -> dict[str, Any] | None:
    if not measured.edits:
        return None
    return {
        "says": edits_words(measured.edits),
        "edits": [edit_record(edit) for edit in measured.edits],
    }


def _group(measured: Measured) -> dict[str, Any]:
    group = measured.strikes.group
    if group is None:  # place_marks always gives one; typed strikes have no record of this kind
        return {}
    spot = measured.sweet_spot
    places = [(strike.toe_mm, strike.high_mm) for strike in measured.strikes.strikes]
    group = placed_group(group, places, (spot.toe_mm, spot.high_mm), measured.strikes.shared)
    return {
        "toe_mm": rounded(group.toe_mm, 2),
        "high_mm": rounded(group.high_mm, 2),
        "toe_err_mm": rounded(group.toe_err_mm, 3),
        "high_err_mm": rounded(group.high_err_mm, 3),
        "toe_spread_mm": rounded(group.toe_spread_mm, 2),
        "high_spread_mm": rounded(group.high_spread_mm, 2),
        "toe_spread_err_mm": rounded(group.toe_spread_err_mm, 3),
        "high_spread_err_mm": rounded(group.high_spread_err_mm, 3),
        "n_balls": rounded(group.n_balls, 1),
        "n_balls_err": rounded(group.n_balls_err, 1),
    }


def group_of_record(record: Mapping[str, Any], shared: SharedError) -> GroupEstimate:
    """A record's group from the sweet spot, the photo's common errors taken out of its own again."""
    spot, values = record["sweet_spot"], record["group"]
    places = [(float(mark["toe_mm"]), float(mark["high_mm"])) for mark in record["marks"]]
    # None: the spread of one ball is not known.
    group = GroupEstimate(
        **{key: math.inf if value is None else float(value) for key, value in values.items()}
    )
    return unplaced_group(group, places, (float(spot["toe_mm"]), float(spot["high_mm"])), shared)
