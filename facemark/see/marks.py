"""Where are the marks, how sure is each, and what can be said of the group when they cannot be told apart?

Two finders stand behind this stage. The learned splitter (splitter.py) is the main one. The classical one is
the fall-back without weights and the independent check: voting for discs that show their own rim, and where
discs hide each other a joint fit of discs that take powder away in turn.

Marks that nobody can see are not invented. A told number of balls makes the fit readier to split up to that
number; what stays unresolved is said as "at least n", and the group's centre and spread then come from the
seen marks plus the area in which unseen ones can hide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from facemark import caveats
from facemark.caveats import Caveat
from facemark.errors import MarkError
from facemark.see.classical import CLEAR_DEG, COUNT_GAP, find_classical
from facemark.see.mark import MarkMethod, Marks
from facemark.see.powder import PowderMap, map_powder
from facemark.see.rectify import FaceMap
from facemark.see.voting import Circle, least_radius_mm, vote_circles

DARK_LEVEL = 40.0  # of 255; below this, noise is a tenth of the signal in a phone photo. Assumed
POWDER_FRAC = 0.37  # of white; fresh powder, the brightest matt thing around, is exposed brighter. Assumed
DISAGREE_MM = 5.0  # voting against the learned splitter; splitting notes
DOUBT_FACTOR = 0.7  # what a disagreement leaves of a score; assumed
GLARE_SHARE = 0.05
PATCHY_NOISE_FRAC = 0.15  # where the coat is this uneven, or the contrast this faint,
FAINT_CONTRAST_FRAC = 0.1
# a finder must have one mark this good: of 34 drawn faces without marks one had any
BELIEVED_SCORE = {MarkMethod.CLASSICAL: 0.88, MarkMethod.LEARNED: 0.75}
THIN_NOISE_FRAC = 0.12  # unevenness of the coat against a mark's depth; assumed


def find_marks(
    face_map: FaceMap,
    *,
    n_balls: int | None = None,
    effort_frac: float | None = None,
    learned: bool = True,
    fast: bool = False,
) -> Marks:
    """Find the marks on a rectified face.

    Parameters
    ----------
    face_map : FaceMap
    n_balls : int or None
        Balls hit, if told; "about ten" is good enough.
    effort_frac : float or None
        How hard they were hit, as felt, if told: the check by voting then looks for smaller discs. The
        learned splitter has seen prints of every size and is not told.
    learned : bool
        False: the classical finder only.
    fast : bool
        Fewer passes of the learned splitter.

    Returns
    -------
    Marks
        Positions in face mm, origin at the face centre.

    Raises
    ------
    MarkError
        Face too dark, no powder, or powder without a mark.
    """
    powder = map_powder(face_map)
    _refuse_dark(face_map)
    circles = vote_circles(powder, smallest_mm=least_radius_mm(effort_frac))
    marks = None
    if learned:
        from facemark.see.splitter import split_marks  # loads the network's weights only where they are used

        marks = split_marks(face_map, n_balls=n_balls, fast=fast)
    if marks is not None:
        marks = _check(marks, circles, n_balls)
    else:
        marks = find_classical(powder, circles, n_balls)
        if learned:
            marks = _with(marks, [Caveat(key=caveats.MARKS_NET_MISSING)])
    _refuse_unmarked(marks, powder)
    return _with(marks, _powder_caveats(powder))


def _refuse_dark(face_map: FaceMap) -> None:
    """Raise if even the bright parts of the face are lost in noise."""
    bright = float(np.percentile(face_map.pixels[face_map.inside], 90)) if face_map.inside.any() else 0.0
    if bright < DARK_LEVEL:
        raise MarkError(
            f"The face is too dark to read: {bright:.0f} of 255 at best, {DARK_LEVEL:.0f} or more expected.",
            remedy="Photograph in daylight or a lit room; tap the face to set the exposure.",
        )


def _refuse_unmarked(marks: Marks, powder: PowderMap) -> None:
    """Raise where there is nothing that could be a mark, or nothing better than the coat's own patches."""
    if not marks.marks:
        raise _no_marks(powder)
    uneven = powder.noise_frac > PATCHY_NOISE_FRAC or powder.contrast_frac < FAINT_CONTRAST_FRAC
    if uneven and max(m.score_frac for m in marks.marks) < BELIEVED_SCORE[marks.method]:
        raise MarkError(
            "No mark of a ball can be told from the light and the patches on this face.",
            remedy="Wipe the face, spray it evenly, let it dry, hit, and photograph it out of direct light.",
        )


def _no_marks(powder: PowderMap) -> MarkError:
    if powder.light_frac < POWDER_FRAC:
        return MarkError(
            "No powder was found on the face, so no marks can show.",
            remedy="Spray the face evenly with dry powder spray, let it dry, hit, and photograph again.",
        )
    return MarkError(
        "No mark of a ball shows on this face: freshly sprayed, or not sprayed at all.",
        remedy="Spray it evenly, hit at least one ball, then take the photo; if you did, the coat may be too"
        " thin or too thick.",
    )


def _check(marks: Marks, circles: Sequence[Circle], n_balls: int | None) -> Marks:
    """Hold the learned splitter against the discs that voting sees clearly, and against the told count.

    A clear disc with no mark within 5 mm lowers the score of the marks around it (none is then sure); a count
    that differs by more than two lowers all scores a little. Both are said.
    """
    said: list[Caveat] = []
    doubted = set()
    for c in circles:
        gaps = [float(np.hypot(m.toe_mm - c.toe_mm, m.high_mm - c.high_mm)) for m in marks.marks]
        if c.visible_deg < CLEAR_DEG or min(gaps, default=np.inf) <= DISAGREE_MM:
            continue
        doubted |= {i for i, gap in enumerate(gaps) if gap < 2 * c.radius_mm}
        where = f"a round mark at {c.toe_mm:+.0f} mm toe, {c.high_mm:+.0f} mm high was read differently"
        said.append(Caveat(key=caveats.CHECK_DISAGREES, detail=where))
    factor = 1.0
    if n_balls is not None and abs(marks.group.n_balls - n_balls) > COUNT_GAP:
        factor = 0.9
        detail = f"{n_balls} told, the powder speaks for about {marks.group.n_balls:.0f}"
        said.append(Caveat(key=caveats.COUNT_DIFFERS, detail=detail))
    if not said:
        return marks
    weaker = tuple(
        replace(
            m,
            score_frac=m.score_frac * factor * (DOUBT_FACTOR if i in doubted else 1.0),
            sure=m.sure and i not in doubted,
        )
        for i, m in enumerate(marks.marks)
    )
    return _with(
        replace(marks, marks=weaker, n_least=min(marks.n_least, max(1, sum(m.sure for m in weaker)))),
        said,
    )


def _powder_caveats(powder: PowderMap) -> list[Caveat]:
    said = []
    if powder.glare_frac > GLARE_SHARE:
        said.append(Caveat(key=caveats.GLARE, detail=f"{100 * powder.glare_frac:.0f} % of the face"))
    if powder.noise_frac > THIN_NOISE_FRAC:
        said.append(Caveat(key=caveats.THIN_POWDER))
    return said


def _with(marks: Marks, more: Sequence[Caveat]) -> Marks:
    """The same marks with more doubts, each key once."""
    said = {c.key: c for c in marks.caveats}
    for caveat in more:
        said.setdefault(caveat.key, caveat)
    return replace(marks, caveats=tuple(said.values()))
