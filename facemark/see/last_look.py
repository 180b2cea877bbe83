"""What does the last photo of a series, read by itself, say about all its marks?

The differences between photos tell which mark came when, but a new print is found only where powder was left
for it. The last photo shows all prints at once, and the splitter reads it with the whole count. Where both
speak of one mark, each place counts by its own error; a mark that only one of them sees stays or goes by its
score; told counts of new balls are kept.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from facemark.see.mark import Mark
from facemark.see.rectify import FaceMap

SAME_MARK_MM = 8.0  # nearer than this, both speak of one mark: less than half a usual print. Assumed
AGREE_MM = 4.0  # farther apart, at least one of them is wrong about it: a mark counts as found within this
# A mark that only one of them sees needs this score; with a told ball to spare, less. Assumed
ALONE_SCORE, SPARE_SCORE = 0.5, 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesMark:
    """A mark and the photo (0 is the first) that showed it first."""

    mark: Mark
    photo_index: int


def look_again(
    known: Sequence[SeriesMark], last: Sequence[Mark], n_new: Sequence[int | None]
) -> tuple[SeriesMark, ...]:
    """The marks of one coat, from the differences and from the last photo together.

    Parameters
    ----------
    known : sequence of SeriesMark
        From the differences, in the last photo's face frame.
    last : sequence of Mark
        The last photo read by itself.
    n_new : sequence of int or None
        New balls before each photo, as far as told; photos before this coat count 0.

    Returns
    -------
    tuple of SeriesMark
        In order of the photos. A mark that only the last photo shows is never called sure.
    """
    same = _same(known, last)
    found = [
        replace(one, mark=_both(one.mark, last[same[i]])) if i in same else one for i, one in enumerate(known)
    ]
    found = [one for i, one in enumerate(found) if i in same or one.mark.score_frac >= ALONE_SCORE]
    found = _within(found, n_new)
    extra = [mark for j, mark in enumerate(last) if j not in same.values()]
    for mark in sorted(extra, key=lambda m: -m.score_frac):
        index = _spare(found, n_new)
        if mark.score_frac >= (ALONE_SCORE if index is None else SPARE_SCORE) and (
            index is not None or None in n_new
        ):
            when = len(n_new) - 1 if index is None else index
            found.append(SeriesMark(mark=replace(mark, sure=False), photo_index=when))
    return tuple(sorted(found, key=lambda one: one.photo_index))


def hidden_marks(face_map: FaceMap, on_face: Sequence[Mark], n_missing: int) -> tuple[Mark, ...]:
    """Marks that the difference cannot show (too little powder was left) but the splitter believes in.

    The splitter is told how many balls this coat has seen; its points next to known marks are theirs, and of
    the rest the ``n_missing`` best are the missing balls. Never called sure.
    """
    from facemark.see.splitter import split_marks  # loads the network's weights only where they are used

    split = split_marks(face_map, n_balls=len(on_face) + n_missing)
    if split is None or not split.marks:
        return ()
    same = _same([SeriesMark(mark=mark, photo_index=0) for mark in on_face], split.marks)
    points = [p for j, p in enumerate(split.marks) if j not in same.values() and p.score_frac >= SPARE_SCORE]
    points.sort(key=lambda p: -p.score_frac)
    return tuple(replace(p, sure=False) for p in points[:n_missing])


def _same(known: Sequence[SeriesMark], last: Sequence[Mark]) -> dict[int, int]:
    """Index of a known mark -> index of the same mark in the last photo; the pairing with least distance."""
    if not known or not last:
        return {}
    from scipy.optimize import linear_sum_assignment  # costs start-up time, and only a series needs it

    here = np.array([[m.toe_mm, m.high_mm] for m in last])
    there = np.array([[one.mark.toe_mm, one.mark.high_mm] for one in known])
    gap = np.linalg.norm(there[:, None] - here[None], axis=2)
    rows, cols = linear_sum_assignment(np.minimum(gap, SAME_MARK_MM))
    return {int(r): int(c) for r, c in zip(rows, cols, strict=True) if gap[r, c] < SAME_MARK_MM}


def _both(mark: Mark, seen: Mark) -> Mark:
    """One mark found twice: the weighted mean place. Both looked at one photo, so no error gets smaller.

    Where they are far apart, either may be right: half of that is error, and the mark is not sure.
    """
    gap = math.hypot(mark.toe_mm - seen.toe_mm, mark.high_mm - seen.high_mm)
    apart = gap / 2 if gap > AGREE_MM else 0.0
    a, b = (m.toe_err_mm**2 + m.high_err_mm**2 for m in (mark, seen))
    share = b / (a + b)
    return replace(
        mark,
        toe_mm=share * mark.toe_mm + (1 - share) * seen.toe_mm,
        high_mm=share * mark.high_mm + (1 - share) * seen.high_mm,
        toe_err_mm=math.hypot(mark.toe_err_mm, apart),
        high_err_mm=math.hypot(mark.high_err_mm, apart),
        score_frac=(min if apart else max)(mark.score_frac, seen.score_frac),
        sure=mark.sure and not apart,
    )


def _within(found: Sequence[SeriesMark], n_new: Sequence[int | None]) -> list[SeriesMark]:
    """No more marks of a photo than balls were told; the best stay."""
    kept: list[SeriesMark] = []
    for index, n in enumerate(n_new):
        mine = sorted(
            (one for one in found if one.photo_index == index), key=lambda one: -one.mark.score_frac
        )
        kept += mine if n is None else mine[:n]
    return kept


def _spare(found: Sequence[SeriesMark], n_new: Sequence[int | None]) -> int | None:
    """The photo with most told balls left over, the later of two; None: no told ball is left."""
    left = [
        0 if n is None else n - sum(one.photo_index == index for one in found)
        for index, n in enumerate(n_new)
    ]
    best = max(range(len(left)), key=lambda index: (left[index], index))
    return best if left[best] > 0 else None
