"""The classical mark finder: voting for discs that show their rim, a joint fit where they hide each other.

It stands in when the learned splitter's weights are missing, and it is the splitter's independent check.
Score and errors are calibrated on drawn faces (tests/see/drawn_faces.py, tuning seeds), see the constants.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark import caveats
from facemark.caveats import Caveat
from facemark.see.camera import Array
from facemark.see.discs import Disc, fit_discs
from facemark.see.mark import Mark, MarkMethod, Marks
from facemark.see.powder import PowderMap
from facemark.see.voting import Circle
from facemark.strike import GroupEstimate

CLEAR_DEG = 150.0  # a voted disc with this much rim stands for itself
ALONE_DEG = 230.0  # and with this much it stands alone
UNEXPLAINED_FRAC = 0.10  # marked area outside the voted discs that calls for the fit
SMALL_RADIUS_FRAC = 0.72  # a voted disc this much smaller than its fellows is a gap between them
LEAST_VISIBLE_DEG = 24.0  # rim test, metrology notes
LEAST_STEP_RATIO = 0.4
LEAST_DEPTH_FRAC = 0.4  # against the photo's other discs: shallower is a blotch of thin powder
AT_EDGE_FRAC = 0.97  # share of a disc on the face
TOUCHES_FREE_FRAC = 0.97
CROWDED_FRAC = 0.12  # share of the marked area under two discs from which balls can hide
COUNT_GAP = 2
HIDE_FRAC = 0.85  # a rim may stick out of the bare area by this little and not be seen; assumed
# Calibrated on 90 drawn faces (seeds 10_000-10_089), never on photos.
SCORE_WEIGHTS = (3.07, 1.17, -1.94, -1.16, -1.81, -1.79)
SURE_SCORE = 0.9
ALONE_FREE_FRAC, ALONE_RIM_DEG = 0.8, 200.0
ALONE_ERR_MM = 0.35
TOUCHING_ERR_MM = 0.9
DOUBTFUL_ERR_MM = 1.5
FIT_ERR_FACTOR = 2.4
GROUP_ERR_MM = 1.5
SPREAD_ERR_FACTOR = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A disc with everything its score is made of."""

    disc: Disc
    voted_deg: float  # rim of the voted disc at the same place, 0 without one
    on_face_frac: float
    free_frac: float  # share of its area under no other disc
    n_discs: int


def find_classical(powder: PowderMap, circles: Sequence[Circle], n_balls: int | None) -> Marks:
    """Find the marks without the learned splitter.

    Parameters
    ----------
    powder : PowderMap
    circles : sequence of Circle
        From ``vote_circles``.
    n_balls : int or None
        Balls hit, if told.

    Returns
    -------
    Marks
        May be empty: whether that is an error, marks.py decides.
    """
    candidates = find_candidates(powder, circles, n_balls)
    marks = tuple(_mark(c, candidates) for c in candidates)
    n_least = sum(m.sure for m in marks)
    touching = any(m.touches for m in marks)
    unseen = _unseen(powder, candidates)
    told_more = n_balls is not None and n_balls > len(marks)
    separable = bool(marks) and not (touching and (told_more or unseen.crowded_frac > CROWDED_FRAC))
    found: list[Caveat] = []
    if touching:
        found.append(Caveat(key=caveats.MARKS_TOUCH))
    if not separable:
        found.append(Caveat(key=caveats.MARKS_UNSEPARATED, detail=f"at least {n_least} marks"))
    if any(m.at_edge for m in marks):
        found.append(Caveat(key=caveats.MARK_AT_EDGE))
    if n_balls is not None and (
        len(marks) > n_balls + COUNT_GAP or (separable and len(marks) < n_balls - COUNT_GAP)
    ):
        found.append(Caveat(key=caveats.COUNT_DIFFERS, detail=f"{n_balls} told, {len(marks)} seen"))
    return Marks(
        marks=marks,
        n_least=n_least,
        separable=separable,
        group=_group(marks, unseen, n_balls if not separable else None),
        method=MarkMethod.CLASSICAL,
        caveats=tuple(found),
    )


def find_candidates(
    powder: PowderMap, circles: Sequence[Circle], n_balls: int | None
) -> tuple[Candidate, ...]:
    """Discs that pass the rim test, clearest first."""
    clear = _of_one_size(circles)
    explained = _explains(powder, clear)
    hidden = n_balls is not None and len(clear) < n_balls
    # Where whole discs explain everything, a higher count speaks for balls on one spot or balls that
    # missed: no
    # discount for splits then.
    alone = explained and all(c.visible_deg >= ALONE_DEG for c in clear)
    fit = fit_discs(powder, clear, n_balls=None if alone else n_balls, grow=hidden or not explained)
    discs = [d for d in fit.discs if d.visible_deg >= LEAST_VISIBLE_DEG and d.step_ratio >= LEAST_STEP_RATIO]
    if discs:
        usual = float(np.median([d.depth_frac for d in discs]))
        discs = [d for d in discs if d.depth_frac >= LEAST_DEPTH_FRAC * usual and _centre_on_face(powder, d)]
    return tuple(_candidate(powder, d, discs, circles) for d in discs)


def _of_one_size(circles: Sequence[Circle]) -> tuple[Circle, ...]:
    """Voted discs without those much smaller than the rest (gaps, blotches)."""
    if not circles:
        return ()
    usual = float(np.average([c.radius_mm for c in circles], weights=[c.visible_deg for c in circles]))
    return tuple(c for c in circles if c.radius_mm >= SMALL_RADIUS_FRAC * usual)


def _explains(powder: PowderMap, clear: Sequence[Circle]) -> bool:
    """Whether the voted discs stand for themselves and leave no marked area over."""
    if not clear or any(c.visible_deg < CLEAR_DEG for c in clear):
        return False
    covered = np.zeros(powder.marked.shape, np.uint8)
    for c in clear:
        x, y = powder.map_from_mm(np.array([[c.toe_mm, c.high_mm]]))[0]
        radius = (c.radius_mm + 1.2) * powder.px_per_mm
        cv2.circle(covered, (round(x * 16), round(y * 16)), round(radius * 16), 1, -1, shift=4)
    over = powder.marked & (covered == 0)
    return bool(over.sum() <= UNEXPLAINED_FRAC * powder.marked.sum())


def _disc_image(powder: PowderMap, d: Disc) -> NDArray[np.bool_]:
    h, w = powder.marked.shape
    x, y = powder.map_from_mm(np.array([[d.toe_mm, d.high_mm]]))[0]
    col, row = np.arange(w)[None, :], np.arange(h)[:, None]
    return np.asarray((col - x) ** 2 + (row - y) ** 2 < (d.radius_mm * powder.px_per_mm) ** 2)


def _centre_on_face(powder: PowderMap, d: Disc) -> bool:
    x, y = powder.map_from_mm(np.array([[d.toe_mm, d.high_mm]]))[0].round().astype(int)
    h, w = powder.inside.shape
    return bool(0 <= x < w and 0 <= y < h and powder.inside[y, x])


def _candidate(powder: PowderMap, d: Disc, discs: Sequence[Disc], circles: Sequence[Circle]) -> Candidate:
    mine = _disc_image(powder, d)
    others = np.zeros_like(mine)
    for o in discs:
        if o is not d:
            others |= _disc_image(powder, o)
    full = np.pi * (d.radius_mm * powder.px_per_mm) ** 2
    voted = [c.visible_deg for c in circles if np.hypot(c.toe_mm - d.toe_mm, c.high_mm - d.high_mm) < 2.5]
    return Candidate(
        disc=d,
        voted_deg=max(voted, default=0.0),
        on_face_frac=float((mine & powder.inside).sum() / full),
        free_frac=float((mine & ~others).sum() / max(mine.sum(), 1)),
        n_discs=len(discs),
    )


def _mark(c: Candidate, all_: Sequence[Candidate]) -> Mark:
    score = _score(c, all_)
    alone = c.free_frac >= ALONE_FREE_FRAC and c.disc.visible_deg >= ALONE_RIM_DEG
    floor = ALONE_ERR_MM if alone else TOUCHING_ERR_MM + DOUBTFUL_ERR_MM * (1 - score)
    return Mark(
        toe_mm=c.disc.toe_mm,
        high_mm=c.disc.high_mm,
        toe_err_mm=float(np.hypot(floor, FIT_ERR_FACTOR * c.disc.toe_err_mm)),
        high_err_mm=float(np.hypot(floor, FIT_ERR_FACTOR * c.disc.high_err_mm)),
        diameter_mm=2 * c.disc.radius_mm,
        score_frac=score,
        sure=score >= SURE_SCORE,
        touches=c.free_frac < TOUCHES_FREE_FRAC,
        at_edge=c.on_face_frac < AT_EDGE_FRAC,
    )


def _score(c: Candidate, all_: Sequence[Candidate]) -> float:
    """Probability that this disc is a mark within 4 mm: a logistic curve on what the fit says."""
    usual = float(np.median([o.disc.radius_mm for o in all_]))
    features = np.array(
        [
            1.0,
            np.log(max(c.disc.gain, 1.0) / 100),
            min(abs(np.log(max(c.disc.step_ratio, 0.1))), 1.0),
            c.free_frac,
            abs(c.disc.radius_mm - usual) / 3,
            0.5 * np.log(c.disc.toe_err_mm * c.disc.high_err_mm),
        ]
    )
    return float(1 / (1 + np.exp(-features @ np.array(SCORE_WEIGHTS))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Unseen:
    """Where marks can hide: the places at which a whole disc fits into what is already bare."""

    toe_mm: float
    high_mm: float
    toe_spread_mm: float
    high_spread_mm: float
    crowded_frac: float  # share of the marked area under two discs or more


def _unseen(powder: PowderMap, candidates: Sequence[Candidate]) -> Unseen:
    radius = float(np.median([c.disc.radius_mm for c in candidates])) if candidates else 10.5
    count = np.zeros(powder.marked.shape, np.uint8)
    for c in candidates:
        count += _disc_image(powder, c.disc)
    bare = powder.marked | (~powder.inside & (count > 0))
    depth = cv2.distanceTransform(bare.astype(np.uint8), cv2.DIST_L2, 5) / powder.px_per_mm
    room = powder.inside & (depth >= HIDE_FRAC * radius)
    if not room.any():
        room = powder.inside & (depth >= 0.9 * depth[powder.inside].max())
    rows, cols = np.nonzero(room)
    at = powder.mm_from_map(np.column_stack([cols, rows]))
    crowded = float((count >= 2).sum()) / max(float((count >= 1).sum()), 1.0)
    return Unseen(
        toe_mm=float(at[:, 0].mean()),
        high_mm=float(at[:, 1].mean()),
        toe_spread_mm=float(at[:, 0].std()),
        high_spread_mm=float(at[:, 1].std()),
        crowded_frac=crowded,
    )


def _group(marks: Sequence[Mark], unseen: Unseen, n_told: int | None) -> GroupEstimate:
    """Centre and spread of all balls: seen marks in place, unseen ones spread over where they can hide."""
    n_seen = len(marks)
    n_hidden = max(0, n_told - n_seen) if n_told is not None else 0
    n = n_seen + n_hidden
    toe = np.array([m.toe_mm for m in marks])
    high = np.array([m.high_mm for m in marks])
    share = n_hidden / max(n, 1)

    def moments(seen: Array, mean_u: float, sd_u: float) -> tuple[float, float]:
        mean_s, var_s = (float(seen.mean()), float(seen.var())) if n_seen else (mean_u, 0.0)
        mean = (1 - share) * mean_s + share * mean_u
        var = (1 - share) * (var_s + (mean_s - mean) ** 2) + share * (sd_u**2 + (mean_u - mean) ** 2)
        return mean, float(np.sqrt(var * n / (n - 1))) if n > 1 else 0.0

    toe_mean, toe_spread = moments(toe, unseen.toe_mm, unseen.toe_spread_mm)
    high_mean, high_spread = moments(high, unseen.high_mm, unseen.high_spread_mm)
    own_toe = float(np.sqrt(sum(m.toe_err_mm**2 for m in marks))) / max(n_seen, 1)
    own_high = float(np.sqrt(sum(m.high_err_mm**2 for m in marks))) / max(n_seen, 1)
    blind = GROUP_ERR_MM * (unseen.crowded_frac if n_told is None else 1.0)
    n_err = 0.0 if n_hidden == 0 and unseen.crowded_frac < CROWDED_FRAC else 0.3 * n
    return GroupEstimate(
        toe_mm=toe_mean,
        high_mm=high_mean,
        toe_err_mm=float(np.hypot(own_toe, blind)),
        high_err_mm=float(np.hypot(own_high, blind)),
        toe_spread_mm=toe_spread,
        high_spread_mm=high_spread,
        toe_spread_err_mm=float(np.hypot(own_toe, SPREAD_ERR_FACTOR * blind)),
        high_spread_err_mm=float(np.hypot(own_high, SPREAD_ERR_FACTOR * blind)),
        n_balls=float(n),
        n_balls_err=n_err,
    )
