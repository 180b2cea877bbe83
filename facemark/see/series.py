"""Which mark came with which photo, when the face was photographed after every few balls?

Each photo is laid over the one before it on the face itself: outline first (both maps are drawn about it),
then score lines, powder grain and old marks by the enhanced correlation coefficient (Evangelidis & Psarakis
2008), with what is new masked out. The splitter then looks at both photos together and finds the balls hit in
between: it was taught on such pairs. Without it, powder that is gone and was there before gives the new
marks, by the same voting and discs as in one photo; bare places cannot speak and weigh nothing. Camera, light
and scale object may move in between: how far the two photos still disagree after that is measured in tiles
and carried as error.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from facemark import caveats
from facemark.caveats import Caveat
from facemark.errors import MarkError
from facemark.see.align import MISALIGNED_MM, align, grey_over, in_mm
from facemark.see.camera import Array
from facemark.see.classical import find_classical
from facemark.see.difference import LEAST_AREA_MM2, is_resprayed, laid_over, new_removal
from facemark.see.mark import Mark, MarkMethod, Marks
from facemark.see.marks import find_marks
from facemark.see.powder import PowderMap, map_powder
from facemark.see.rectify import FaceMap
from facemark.see.regroup import group_of_marks, lying_doubts
from facemark.see.voting import least_radius_mm, vote_circles


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesMark:
    """A mark and the photo (0 is the first) that showed it first."""

    mark: Mark
    photo_index: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeriesStep:
    """What one more photo shows.

    ``marks``: the new ones, in the latest photo's face frame. ``latest_from_earlier`` (2, 3): affine map of
    face mm (toe, high) from the photo before to the latest. ``n_missing``: told balls that left no readable
    mark.
    """

    marks: tuple[Mark, ...]
    n_missing: int
    resprayed: bool
    latest_from_earlier: Array
    align_err_mm: float  # one standard error per axis of laying both photos over each other
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """All marks of a series in the last photo's face frame, in order of the photos."""

    marks: tuple[SeriesMark, ...]
    n_missing: tuple[int, ...]  # by photo
    resprayed: tuple[bool, ...]
    align_err_mm: tuple[float, ...]
    counted: bool = True  # the new balls before every photo were told
    caveats: tuple[Caveat, ...] = ()


def follow_series(
    maps: Sequence[FaceMap],
    n_balls_each: Sequence[int | None] | None = None,
    *,
    effort_frac: float | None = None,
    learned: bool = True,
) -> Series:
    """Read a face photographed after every few balls.

    Parameters
    ----------
    maps : sequence of FaceMap
        In order; the first may show the fresh face.
    n_balls_each : sequence of int or None, optional
        New balls before each photo, as far as told.
    effort_frac : float or None
        How hard they were hit, as felt: gentle strikes leave smaller marks.
    learned : bool
        False: with the classical finder only.

    Returns
    -------
    Series

    Raises
    ------
    ValueError
        No maps, or counts that do not match them.
    MarkError
        The first photo cannot be read, or no photo shows a mark.
    """
    counts = list(n_balls_each) if n_balls_each is not None else [None] * len(maps)
    if not maps or len(counts) != len(maps):
        raise ValueError(f"one count for each photo was expected, {len(counts)} for {len(maps)} photos came")
    marks = list(_first(maps[0], counts[0], effort_frac=effort_frac, learned=learned))
    known = [SeriesMark(mark=m, photo_index=0) for m in marks]
    steps = [_step_of_first(marks, counts[0])]
    for k in range(1, len(maps)):
        radius = _usual_radius(known)
        step = find_new_marks(
            maps[:k], maps[k], n_new=counts[k], effort_frac=effort_frac, learned=learned, radius_mm=radius
        )
        known = [replace(s, mark=_moved(s.mark, step)) for s in known]
        known += [SeriesMark(mark=m, photo_index=k) for m in step.marks]
        steps.append(step)
    if not known:
        raise MarkError(
            "No photo of the series shows a mark of a ball.",
            remedy="Spray the face, hit a few balls, and photograph it after every few.",
        )
    return Series(
        marks=tuple(known),
        n_missing=tuple(s.n_missing for s in steps),
        resprayed=tuple(s.resprayed for s in steps),
        align_err_mm=tuple(s.align_err_mm for s in steps),
        counted=None not in counts,
        caveats=_said(steps, known, counts),
    )


def _said(
    steps: Sequence[SeriesStep], known: Sequence[SeriesMark], counts: Sequence[int | None]
) -> tuple[Caveat, ...]:
    """Each doubt of the steps once; what counts marks or balls counts those of the whole series."""
    said = {caveat.key: caveat for step in reversed(steps) for caveat in step.caveats}
    n_missing, n_told = sum(step.n_missing for step in steps), sum(n or 0 for n in counts)
    for key in (caveats.MARKS_TOUCH, caveats.MARK_AT_EDGE, caveats.BALL_LEFT_NO_MARK):
        said.pop(key, None)
    more = lying_doubts([one.mark for one in known])
    if n_missing:
        more.append(Caveat(key=caveats.BALL_LEFT_NO_MARK, detail=f"{n_missing} of {n_told}"))
    return (*said.values(), *more)


def marks_of_series(series: Series) -> Marks:
    """The series as one set of marks; centre and spread are those of the marks, which stand apart in time.

    Parameters
    ----------
    series : Series

    Returns
    -------
    Marks
    """
    marks = tuple(one.mark for one in series.marks)
    group = group_of_marks(marks)
    # Laying photos over each other moves all earlier marks together: that part does not shrink with n.
    common = float(np.hypot.reduce(np.asarray(series.align_err_mm, float))) / 2
    centre_mm, spread_mm = (np.zeros(2), np.zeros(2)) if series.counted else _uncounted_errs(marks)
    return Marks(
        marks=marks,
        n_least=sum(m.sure for m in marks),
        separable=True,
        group=replace(
            group,
            toe_err_mm=math.hypot(group.toe_err_mm, common, centre_mm[0]),
            high_err_mm=math.hypot(group.high_err_mm, common, centre_mm[1]),
            toe_spread_err_mm=math.hypot(group.toe_spread_err_mm, spread_mm[0]),
            high_spread_err_mm=math.hypot(group.high_spread_err_mm, spread_mm[1]),
            n_balls_err=float(sum(series.n_missing)),
        ),
        method=MarkMethod.SERIES,
        # A step that could not tell its own marks apart does not make the whole series unseparable.
        caveats=tuple(c for c in series.caveats if c.key != caveats.MARKS_UNSEPARATED),
    )


def _uncounted_errs(marks: Sequence[Mark]) -> tuple[Array, Array]:
    """(2,) errors of centre and spread (toe, high) because marks may be too many or too few.

    A mark is none with the chance that its score leaves; a missed one is as likely, and moves as much. First
    order in the weight of one mark.
    """
    xy = np.array([[m.toe_mm, m.high_mm] for m in marks])
    doubt = 2 * np.array([m.score_frac * (1 - m.score_frac) for m in marks])
    away, sd = xy - xy.mean(axis=0), np.maximum(xy.std(axis=0), 1e-6)
    centre = np.sqrt(doubt @ away**2) / len(marks)
    spread = np.sqrt(doubt @ ((away**2 - sd**2) / (2 * sd)) ** 2) / len(marks)
    return np.asarray(centre), np.asarray(spread)


def find_new_marks(
    earlier: Sequence[FaceMap],
    latest: FaceMap,
    *,
    n_new: int | None,
    effort_frac: float | None = None,
    learned: bool = True,
    radius_mm: float | None = None,
) -> SeriesStep:
    """Find the marks that the latest photo shows and the one before it does not.

    Parameters
    ----------
    earlier : sequence of FaceMap
        Photos before, in order; the last of them is compared.
    latest : FaceMap
    n_new : int or None
        Balls hit in between, if told.
    effort_frac : float or None
        How hard, as felt.
    learned : bool
        False: with the classical finder only.
    radius_mm : float or None
        Radius of this player's marks, if known.

    Returns
    -------
    SeriesStep
    """
    if not earlier:
        raise ValueError("at least one earlier face map was expected, none came")
    before, after = map_powder(earlier[-1]), map_powder(latest)
    warp, err = align(before, after)
    old = laid_over(before, after, warp)
    face_warp = in_mm(before, after, warp)
    if is_resprayed(old, after, err):
        marks = _all_of(latest, n_new, effort_frac=effort_frac, learned=learned)
        said = [Caveat(key=caveats.RESPRAYED)]
    else:
        found = _both_looked_at(earlier[-1], latest, face_warp, n_new) if learned else None
        if found is None:
            gone = new_removal(old, after, err)
            found = _where_powder_went(gone, err, n_new, effort_frac=effort_frac, radius_mm=radius_mm)
        marks = found.marks
        said = [c for c in found.caveats if c.key != caveats.COUNT_DIFFERS]
        if err > MISALIGNED_MM:
            said.append(Caveat(key=caveats.PHOTOS_MISALIGNED, detail=f"{err:.1f} mm"))
    n_missing = max(0, (n_new or 0) - len(marks))
    if n_missing:
        said.append(Caveat(key=caveats.BALL_LEFT_NO_MARK, detail=f"{n_missing} of {n_new}"))
    return SeriesStep(
        marks=marks,
        n_missing=n_missing,
        resprayed=any(c.key == caveats.RESPRAYED for c in said),
        latest_from_earlier=face_warp,
        align_err_mm=err,
        caveats=tuple(said),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    marks: tuple[Mark, ...] = ()
    caveats: tuple[Caveat, ...] = ()


def _both_looked_at(earlier: FaceMap, latest: FaceMap, face_warp: Array, n_new: int | None) -> _Found | None:
    """New marks as the splitter sees them in both photos together; None without its weights."""
    from facemark.see.splitter import split_marks  # loads the network's weights only where they are used

    if n_new == 0:
        return _Found()
    split = split_marks(latest, n_balls=n_new, before=grey_over(earlier, latest, face_warp))
    return None if split is None else _Found(marks=split.marks, caveats=split.caveats)


def _where_powder_went(
    gone: PowderMap, err_mm: float, n_new: int | None, *, effort_frac: float | None, radius_mm: float | None
) -> _Found:
    """New marks from the powder that went, by voting and discs."""
    if gone.marked_mm2 < LEAST_AREA_MM2 or n_new == 0:
        return _Found()
    votes = vote_circles(gone, smallest_mm=least_radius_mm(effort_frac))
    found = find_classical(gone, votes, n_new, radius_mm=radius_mm)
    return _Found(marks=tuple(_widened(m, err_mm) for m in found.marks), caveats=found.caveats)


def _first(
    face_map: FaceMap, n_balls: int | None, *, effort_frac: float | None, learned: bool
) -> tuple[Mark, ...]:
    if n_balls == 0:
        return ()
    return find_marks(face_map, n_balls=n_balls, effort_frac=effort_frac, learned=learned).marks


def _all_of(
    face_map: FaceMap, n_new: int | None, *, effort_frac: float | None, learned: bool
) -> tuple[Mark, ...]:
    """Marks on a new coat; a fresh coat without marks is no error in a series."""
    try:
        return _first(face_map, n_new, effort_frac=effort_frac, learned=learned)
    except MarkError:
        return ()


def _step_of_first(marks: Sequence[Mark], n_balls: int | None) -> SeriesStep:
    n_missing = max(0, (n_balls or 0) - len(marks))
    said = (Caveat(key=caveats.BALL_LEFT_NO_MARK, detail=f"{n_missing} of {n_balls}"),) if n_missing else ()
    return SeriesStep(
        marks=tuple(marks),
        n_missing=n_missing,
        resprayed=False,
        latest_from_earlier=np.eye(2, 3),
        align_err_mm=0.0,
        caveats=said,
    )


def _usual_radius(known: Sequence[SeriesMark]) -> float | None:
    clear = [s.mark.diameter_mm / 2 for s in known if s.mark.sure]
    return float(np.median(clear)) if clear else None


def _moved(mark: Mark, step: SeriesStep) -> Mark:
    """A mark of the photo before, in the latest photo's face frame."""
    toe, high = step.latest_from_earlier @ np.array([mark.toe_mm, mark.high_mm, 1.0])
    return _widened(replace(mark, toe_mm=float(toe), high_mm=float(high)), step.align_err_mm)


def _widened(mark: Mark, err_mm: float) -> Mark:
    return replace(
        mark,
        toe_err_mm=float(np.hypot(mark.toe_err_mm, err_mm)),
        high_err_mm=float(np.hypot(mark.high_err_mm, err_mm)),
    )
