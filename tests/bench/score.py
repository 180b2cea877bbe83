"""How far one reading is from the truth: small pure functions over the two dictionaries.

All positions in the face frame (mm from the outline's centre, toe and up plus), so that the choice of the
sweet spot plays no part. A predicted mark is right when it lies within the gate of a true one; pairs are the
one-to-one assignment of least total distance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

Array = NDArray[np.float64]

GATE_MM = 4.0
VISIBLE_FRAC = 0.25  # a mark with this share of its area touched by no other is one a person could point at
SIGMAS_95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """One photo. Lists hold one number per matched mark (or per axis of it, for ``within``)."""

    image: str
    tier: str
    reference: str
    n_true: int
    n_shown: int = 0
    n_right: int = 0
    n_visible: int = 0
    n_visible_right: int = 0
    n_sure: int = 0
    n_sure_wrong: int = 0
    n_least: int = 0
    miss_mm: tuple[float, ...] = ()
    ratio: tuple[float, ...] = ()  # error over stated standard error, both axes of every matched mark
    likely: tuple[tuple[float, bool], ...] = ()  # stated score of every shown mark, and whether it was right
    group_miss_mm: float | None = None
    group_ratio: tuple[float, ...] = ()
    spread_miss_frac: tuple[float, ...] = ()
    spread_ratio: tuple[float, ...] = ()  # miss of the spread over its stated error
    scale_err_frac: float | None = None
    iou_frac: float | None = None
    turn_miss_deg: float | None = None  # of the toe's direction, as seen in the picture
    turn_err_deg: float | None = None  # as stated
    centre_miss_mm: tuple[float, ...] = ()  # toe, high
    centre_ratio: tuple[float, ...] = ()
    hand_seen: bool | None = None  # what the photo alone said of the hand; None: it did not say
    seconds_s: float = 0.0
    decodes: float | None = None  # time of the reading over that of decoding its JPEG whole
    refused: str = ""
    notes: tuple[str, ...] = field(default=())


def matched(true_mm: Array, shown_mm: Array, gate_mm: float = GATE_MM) -> list[tuple[int, int]]:
    """Pairs (true, shown) within the gate: most pairs first, then least total distance."""
    if not len(true_mm) or not len(shown_mm):
        return []
    apart = np.linalg.norm(true_mm[:, None] - shown_mm[None], axis=2)
    rows, columns = linear_sum_assignment(np.where(apart <= gate_mm, apart, 1e3))
    return [(int(i), int(j)) for i, j in zip(rows, columns, strict=True) if apart[i, j] <= gate_mm]


def score_reading(
    truth: dict[str, Any], reading: dict[str, Any] | None, *, seconds_s: float = 0.0, refused: str = ""
) -> Score:
    """Compare a reading (``Reading.to_dict()``) with the truth; None: the photo was refused."""
    true_mm = np.array([[m["x_mm"], m["y_mm"]] for m in truth["marks"]], float).reshape(-1, 2)
    visible = np.array(
        [
            m["fraction_touched_by_no_other_mark"] >= VISIBLE_FRAC and m["fraction_on_face"] >= 0.5
            for m in truth["marks"]
        ],
        bool,
    )
    known: dict[str, Any] = {
        "image": truth["image"],
        "tier": "series" if "series" in truth else truth["tier"],
        "reference": truth["reference"]["kind"],
        "n_true": len(true_mm),
        "n_visible": int(visible.sum()),
        "seconds_s": seconds_s,
        "decodes": seconds_s / truth["decode_s"] if "decode_s" in truth else None,
    }
    if reading is None:
        return Score(**known, refused=refused)
    marks = reading["marks"]
    spot = np.array([reading["sweet_spot"]["toe_mm"], reading["sweet_spot"]["high_mm"]])
    shown_mm = np.array([[m["toe_mm"], m["high_mm"]] for m in marks], float).reshape(-1, 2) + spot
    pairs = matched(true_mm, shown_mm)
    right = {j for _, j in pairs}
    errs = np.array([[m["toe_err_mm"], m["high_err_mm"]] for m in marks], float).reshape(-1, 2)
    sure = [j for j, m in enumerate(marks) if m["sure"]]
    return Score(
        **known,
        n_shown=len(marks),
        n_right=len(pairs),
        n_visible_right=int(sum(visible[i] for i, _ in pairs)),
        n_sure=len(sure),
        n_sure_wrong=sum(j not in right for j in sure),
        n_least=int(reading.get("n_least") or 0),
        miss_mm=tuple(float(np.linalg.norm(true_mm[i] - shown_mm[j])) for i, j in pairs),
        ratio=tuple(
            float(abs(true_mm[i, k] - shown_mm[j, k]) / max(errs[j, k], 1e-9))
            for i, j in pairs
            for k in (0, 1)
        ),
        likely=tuple((float(m["score_frac"]), j in right) for j, m in enumerate(marks)),
        **_group(true_mm, reading["group"], spot),
        # With the true geometry (tests.bench.splitter) there is no place to score.
        **(_place(truth, reading["face"]) if "toe_px_per_mm" in reading["face"] else {}),
        scale_err_frac=reading["face"]["mm_per_px"] / math.sqrt(math.prod(truth["mm_per_px_at_face_centre"]))
        - 1,
        iou_frac=overlap(truth["face_outline_px"], reading["face"]["outline_px"], truth["image_size"]),
        hand_seen=reading["hand_seen"][:1].upper() == truth["handed"] if reading["hand_seen"] else None,
        notes=tuple(c["key"] for c in reading.get("caveats", ())),
    )


def _group(true_mm: Array, group: dict[str, Any], spot: Array) -> dict[str, Any]:
    """Errors of the group's centre and spread; nothing where there is no group or no truth."""
    if not group or not len(true_mm):
        return {}
    off = np.array([group["toe_mm"], group["high_mm"]]) + spot - true_mm.mean(axis=0)
    errs = np.maximum([group["toe_err_mm"], group["high_err_mm"]], 1e-9)
    found: dict[str, Any] = {
        "group_miss_mm": float(np.linalg.norm(off)),
        "group_ratio": tuple(float(v) for v in np.abs(off) / errs),
    }
    if len(true_mm) >= 3:
        sd = true_mm.std(axis=0, ddof=1)
        stated = np.array([group["toe_spread_mm"], group["high_spread_mm"]], float)
        found["spread_miss_frac"] = tuple(float(v) for v in np.abs(stated / sd - 1.0))
        errs = np.maximum([group["toe_spread_err_mm"], group["high_spread_err_mm"]], 1e-9)
        found["spread_ratio"] = tuple(float(v) for v in np.abs(stated - sd) / errs)
    return found


def _place(truth: dict[str, Any], face: dict[str, Any]) -> dict[str, Any]:
    """Errors of the face's centre [mm] and of the toe's direction, and what is stated of them."""
    camera = truth["camera"]
    ends_mm = np.array([[8.0, 0.0, 0.0], [-8.0, 0.0, 0.0]])
    seen = (ends_mm @ np.array(camera["R_face_to_cam"]).T + camera["t_face_to_cam"]) @ np.array(camera["K"]).T
    toe_px = seen[0, :2] / seen[0, 2] - seen[1, :2] / seen[1, 2]
    ours_px = np.array(face["toe_px_per_mm"])
    turn = math.atan2(toe_px[0] * ours_px[1] - toe_px[1] * ours_px[0], float(toe_px @ ours_px))
    px_per_mm = np.column_stack([face["toe_px_per_mm"], face["high_px_per_mm"]])
    off_mm = np.linalg.solve(px_per_mm, np.array(face["centre_px"]) - truth["face_centre_px"])
    stated_mm = np.array([face["centre_toe_err_mm"], face["centre_high_err_mm"]])
    return {
        "turn_miss_deg": abs(math.degrees(turn)),
        "turn_err_deg": float(face["turn_err_deg"]),
        "centre_miss_mm": tuple(float(v) for v in np.abs(off_mm)),
        "centre_ratio": tuple(float(v) for v in np.abs(off_mm) / stated_mm),
    }


def overlap(first_px: Any, second_px: Any, size_px: tuple[int, int]) -> float:
    """Area in common over area covered by either, of two outlines, on a grid of 1000 px."""
    shrink = 1000.0 / max(size_px)
    masks = []
    for outline in (first_px, second_px):
        mask = np.zeros((int(size_px[1] * shrink) + 1, int(size_px[0] * shrink) + 1), np.uint8)
        points = np.round(np.array(outline, float) * shrink * 16).astype(np.int32)
        cv2.fillPoly(mask, [points], 1, shift=4)
        masks.append(mask > 0)
    either = (masks[0] | masks[1]).sum()
    return float((masks[0] & masks[1]).sum() / either) if either else 0.0
