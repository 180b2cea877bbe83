"""Marks that a person has put right: which of them touch, and what the group then is.

Where every mark is there, centre and spread are those of the marks. Where balls hide under others the powder
spoke for the group, and a person who moves or deletes the marks that can be seen does not know the hidden
ones: the group then follows the seen marks by their share, and is doubted by as much as it moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from facemark import caveats
from facemark.caveats import Caveat
from facemark.see.camera import Array
from facemark.see.classical import ALONE_SPREAD_ERR_MM
from facemark.see.mark import Mark, Marks
from facemark.strike import GroupEstimate

TOUCH_FRAC = 0.9  # centres nearer than this many mean diameters: the marks overlap; assumed


def with_flags(marks: Sequence[Mark], outline_mm: Array) -> tuple[Mark, ...]:
    """The marks with ``touches`` and ``at_edge`` as their places say."""
    outline = outline_mm.astype(np.float32)
    found = []
    for i, mark in enumerate(marks):
        touches = any(
            np.hypot(mark.toe_mm - o.toe_mm, mark.high_mm - o.high_mm)
            < TOUCH_FRAC * (mark.diameter_mm + o.diameter_mm) / 2
            for j, o in enumerate(marks)
            if j != i
        )
        inside_mm = cv2.pointPolygonTest(outline, (mark.toe_mm, mark.high_mm), True)
        found.append(replace(mark, touches=touches, at_edge=inside_mm < 0.3 * mark.diameter_mm))
    return tuple(found)


def regroup(raw: Marks, marks: Sequence[Mark], *, n_told: int | None, complete: bool) -> Marks:
    """The raw marks replaced by these.

    Parameters
    ----------
    raw : Marks
        As found in the photo, its places in the same face frame as ``marks``.
    marks : sequence of Mark
        At least one.
    n_told : int or None
        Balls hit, if told. As many marks as balls do not say that the marks are rightly told apart: in a
        heap of marks some may be two, others none.
    complete : bool
        A person said that no mark is hidden.

    Returns
    -------
    Marks
    """
    separable = raw.separable or complete
    group = group_of_marks(marks) if separable else _follow(raw, marks)
    anew = _doubts(marks, n_told=n_told, separable=separable)
    settled = {caveats.MARKS_TOUCH, caveats.MARK_AT_EDGE, *(c.key for c in anew)}
    if separable:
        settled |= {caveats.MARKS_UNSEPARATED}
    if complete:
        settled |= {caveats.COUNT_DIFFERS}
    return replace(
        raw,
        marks=tuple(marks),
        n_least=max(1, sum(m.sure for m in marks)),
        separable=separable,
        group=group,
        density=None,
        caveats=(*(c for c in raw.caveats if c.key not in settled), *anew),
    )


def _doubts(marks: Sequence[Mark], *, n_told: int | None, separable: bool) -> list[Caveat]:
    """What is doubtful of these marks themselves, whatever the photo said."""
    n = len(marks)
    found = lying_doubts(marks)
    # Fewer marks than balls are no contradiction where balls hide under others.
    if n_told is not None and (n > n_told or (separable and n < n_told)):
        found.append(Caveat(key=caveats.COUNT_DIFFERS, detail=f"{n_told} told, {n} marked"))
    return found


def lying_doubts(marks: Sequence[Mark]) -> list[Caveat]:
    """How many of the marks lie over each other, and how many are cut by the face's edge, if any."""
    touching, cut = sum(m.touches for m in marks), sum(m.at_edge for m in marks)
    found = [Caveat(key=caveats.MARKS_TOUCH, detail=f"{touching} of {len(marks)}")] if touching else []
    return [*found, Caveat(key=caveats.MARK_AT_EDGE, detail=f"{cut}")] if cut else found


def group_of_marks(marks: Sequence[Mark]) -> GroupEstimate:
    """Centre and spread of marks that stand for all balls. Errors: of the marks' own places.

    One mark has no spread that could be known: its error is infinite.
    """
    n = len(marks)
    at = np.array([[m.toe_mm, m.high_mm] for m in marks])
    err = np.array([[m.toe_err_mm, m.high_err_mm] for m in marks])
    centre_err = np.sqrt((err**2).sum(axis=0)) / n
    spread = at.std(axis=0, ddof=1) if n > 1 else np.zeros(2)
    own_err = np.hypot(centre_err * np.sqrt(n / max(n - 1, 1)), ALONE_SPREAD_ERR_MM)
    spread_err = own_err if n > 1 else np.full(2, np.inf)
    return GroupEstimate(
        toe_mm=float(at[:, 0].mean()),
        high_mm=float(at[:, 1].mean()),
        toe_err_mm=float(centre_err[0]),
        high_err_mm=float(centre_err[1]),
        toe_spread_mm=float(spread[0]),
        high_spread_mm=float(spread[1]),
        toe_spread_err_mm=float(spread_err[0]),
        high_spread_err_mm=float(spread_err[1]),
        n_balls=float(n),
        n_balls_err=0.0,
    )


def _follow(raw: Marks, marks: Sequence[Mark]) -> GroupEstimate:
    group = raw.group
    if not raw.marks:
        return group
    before = np.mean([[m.toe_mm, m.high_mm] for m in raw.marks], axis=0)
    after = np.mean([[m.toe_mm, m.high_mm] for m in marks], axis=0)
    n_balls = max(group.n_balls, float(len(marks)))
    shift = (after - before) * len(marks) / n_balls
    return replace(
        group,
        toe_mm=group.toe_mm + float(shift[0]),
        high_mm=group.high_mm + float(shift[1]),
        toe_err_mm=float(np.hypot(group.toe_err_mm, shift[0])),
        high_err_mm=float(np.hypot(group.high_err_mm, shift[1])),
        toe_spread_err_mm=float(np.hypot(group.toe_spread_err_mm, abs(shift[0]))),
        high_spread_err_mm=float(np.hypot(group.high_spread_err_mm, abs(shift[1]))),
        n_balls=n_balls,
    )
