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
# Score and errors: fitted to the outcome on 150 drawn faces (seeds 10_000-10_089 of
# tests/see/drawn_faces.py and
# 20_000-20_059 of draw_photo), a third of each tier, half with the count told. Never fitted to photos.
SCORE_WEIGHTS = {
    "one": 0.86,
    "log_gain": 1.31,  # log(likelihood lost without it / 100)
    "step": -3.51,  # |log(seen / predicted rim step)|
    "free": -1.54,
    "odd_radius": -2.60,  # deviation from the photo's other discs, in 3 mm
    "log_err": -0.35,
    "on_face": 2.69,
    "depth": -0.37,
    "voted": 0.71,  # in 200 degrees of voted rim
}
SURE_SCORE = 0.97
SHOWN_SCORE, SHOWN_SCORE_TOLD = 0.45, 0.25
CLEAR_SCORE = 0.7  # below this, a disc makes the whole group doubtful
OWN_ERR_MM = 0.1
DOUBT_ERR_MM = 6.4  # times 1 - score
TOUCH_ERR_MM = 1.15  # times the share under other discs
FIT_ERR_FACTOR = 3.2  # residue in a mark is alike over more than PATCH_MM2, and ragged rims are not round
# The group when marks hide each other; same drawn faces.
HIDDEN_PER_CROWDED = 1.5  # unseen balls for each seen one, times the share of area under two discs
# One standard error of the group's centre, and of its spread, is the root of the squares of: a share of
# the spread,
# a share of the gap between seen marks and worn powder's own centre, mean doubt of the marks [mm], a floor
# [mm].
CENTRE_ERR = (0.12, 0.82, 9.4, 0.4)
SPREAD_ERR = (0.09, 0.73, 8.4, 0.4)
ALONE_SPREAD_ERR_MM = 0.15
N_ERR_FRAC = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A disc with everything its score is made of."""

    disc: Disc
    voted_deg: float  # rim of the voted disc at the same place, 0 without one
    on_face_frac: float
    free_frac: float  # share of its area under no other disc
    n_discs: int


def find_classical(
    powder: PowderMap, circles: Sequence[Circle], n_balls: int | None, *, radius_mm: float | None = None
) -> Marks:
    """Find the marks without the learned splitter.

    Parameters
    ----------
    powder : PowderMap
    circles : sequence of Circle
        From ``vote_circles``.
    n_balls : int or None
        Balls hit, if told.
    radius_mm : float or None
        Radius of this player's marks, if earlier photos told it.

    Returns
    -------
    Marks
        May be empty: whether that is an error, marks.py decides.
    """
    everything = find_candidates(powder, circles, n_balls, radius_mm=radius_mm)
    scored = sorted(((c, _score(c, everything)) for c in everything), key=lambda cs: -cs[1])
    n_cheap = n_balls or 0  # a told count lets doubtful marks be shown, up to that count
    shown = [
        (c, score)
        for i, (c, score) in enumerate(scored)
        if score >= (SHOWN_SCORE_TOLD if i < n_cheap else SHOWN_SCORE)
    ]
    candidates = [c for c, _ in shown]
    marks = tuple(_mark(c, score) for c, score in shown)
    n_least = sum(m.sure for m in marks)
    touching = any(m.touches for m in marks)
    unseen = _unseen(powder, candidates)
    told_more = n_balls is not None and n_balls > len(marks)
    crowded = touching and (told_more or unseen.crowded_frac > CROWDED_FRAC)
    separable = bool(marks) and not crowded and all(score >= CLEAR_SCORE for _, score in scored)
    group = _group_of_marks(scored, marks) if separable else _group_of_powder(marks, unseen, n_balls)
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
        group=group,
        method=MarkMethod.CLASSICAL,
        caveats=tuple(found),
    )


def find_candidates(
    powder: PowderMap, circles: Sequence[Circle], n_balls: int | None, *, radius_mm: float | None = None
) -> tuple[Candidate, ...]:
    """Discs that pass the rim test, clearest first."""
    clear = _of_one_size(circles)
    explained = _explains(powder, clear)
    hidden = n_balls is not None and len(clear) < n_balls
    # Where whole discs explain everything, a higher count speaks for balls on one spot or balls that
    # missed: no
    # discount for splits then.
    alone = explained and all(c.visible_deg >= ALONE_DEG for c in clear)
    fit = fit_discs(
        powder, clear, n_balls=None if alone else n_balls, grow=hidden or not explained, radius_mm=radius_mm
    )
    discs = [d for d in fit.discs if d.visible_deg >= LEAST_VISIBLE_DEG and d.step_ratio >= LEAST_STEP_RATIO]
    if discs:
        depth = float(np.median([d.depth_frac for d in discs]))
        radius = float(np.median([d.radius_mm for d in discs]))
        discs = [
            d
            for d in discs
            if d.depth_frac >= LEAST_DEPTH_FRAC * depth
            and d.radius_mm >= SMALL_RADIUS_FRAC * radius
            and _centre_on_face(powder, d)
        ]
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


def _mark(c: Candidate, score: float) -> Mark:
    floor = OWN_ERR_MM + DOUBT_ERR_MM * (1 - score) + TOUCH_ERR_MM * (1 - c.free_frac)
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
    feature = {
        "one": 1.0,
        "log_gain": np.log(max(c.disc.gain_ratio, 1.0) / 100),
        "step": min(abs(np.log(max(c.disc.step_ratio, 0.1))), 1.0),
        "free": c.free_frac,
        "odd_radius": abs(c.disc.radius_mm - usual) / 3,
        "log_err": 0.5 * np.log(c.disc.toe_err_mm * c.disc.high_err_mm),
        "on_face": c.on_face_frac,
        "depth": c.disc.depth_frac,
        "voted": c.voted_deg / 200,
    }
    return float(1 / (1 + np.exp(-sum(SCORE_WEIGHTS[k] * v for k, v in feature.items()))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Unseen:
    """Where marks can hide, and where the powder went. Pairs are (toe, high) in mm.

    ``room_*``: the places at which a whole disc fits into what is already bare. ``worn_mm``: centre of the
    optical depth removed. ``crowded_frac``: share of the marked area under two discs or more.
    """

    room_mm: Array
    room_spread_mm: Array
    worn_mm: Array
    crowded_frac: float


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
    at = _mm_of(powder, room)
    lost = -np.log(1.03 - np.clip(powder.removed[powder.marked], 0, 1))  # 1.03: bare metal has a finite depth
    worn = _mm_of(powder, powder.marked)
    crowded = float((count >= 2).sum()) / max(float((count >= 1).sum()), 1.0)
    return Unseen(
        room_mm=at.mean(axis=0),
        room_spread_mm=at.std(axis=0),
        worn_mm=lost @ worn / lost.sum() if len(worn) else at.mean(axis=0),
        crowded_frac=crowded,
    )


def _mm_of(powder: PowderMap, where: NDArray[np.bool_]) -> Array:
    rows, cols = np.nonzero(where)
    return powder.mm_from_map(np.column_stack([cols, rows]))


def _group_of_marks(scored: Sequence[tuple[Candidate, float]], marks: Sequence[Mark]) -> GroupEstimate:
    """Centre and spread of marks that stand apart; doubt about a mark's existence widens the errors."""
    n = len(marks)
    at = np.array([[m.toe_mm, m.high_mm] for m in marks])
    err = np.array([[m.toe_err_mm, m.high_err_mm] for m in marks])
    centre = at.mean(axis=0)
    exists = np.zeros(2)
    for c, score in scored:
        exists += score * (1 - score) * ((np.array([c.disc.toe_mm, c.disc.high_mm]) - centre) / n) ** 2
    centre_err = np.sqrt((err**2).sum(axis=0) / n**2 + exists)
    spread = at.std(axis=0, ddof=1) if n > 1 else np.zeros(2)
    spread_err = np.hypot(centre_err * np.sqrt(n / max(n - 1, 1)), ALONE_SPREAD_ERR_MM)
    n_err = float(np.sqrt(sum(s * (1 - s) for _, s in scored)))
    return _estimate(centre, centre_err, spread, spread_err, n_balls=float(n), n_balls_err=n_err)


def _group_of_powder(marks: Sequence[Mark], unseen: Unseen, n_told: int | None) -> GroupEstimate:
    """Centre and spread of all balls when some hide: seen marks in place, unseen ones spread over the room
    they have, averaged with the centre of the worn powder."""
    n_seen = len(marks)
    if n_seen == 0:
        at, spread_seen, doubt = unseen.room_mm, np.zeros(2), 1.0
    else:
        places = np.array([[m.toe_mm, m.high_mm] for m in marks])
        at, spread_seen = places.mean(axis=0), places.std(axis=0)
        doubt = 1 - float(np.mean([m.score_frac for m in marks]))
    hidden = (
        HIDDEN_PER_CROWDED * n_seen * unseen.crowded_frac if n_told is None else max(0.0, n_told - n_seen)
    )
    n = n_seen + hidden
    share = hidden / n if n > 0 else 1.0
    mixed = (1 - share) * at + share * unseen.room_mm
    var = (1 - share) * (spread_seen**2 + (at - mixed) ** 2)
    var += share * (unseen.room_spread_mm**2 + (unseen.room_mm - mixed) ** 2)
    spread = np.sqrt(var * n / max(n - 1, 1.0))
    gap = np.abs(mixed - unseen.worn_mm)

    def error(factors: tuple[float, float, float, float]) -> Array:
        a, b, c, floor = factors
        return np.asarray(np.sqrt((a * spread) ** 2 + (b * gap) ** 2 + (c * doubt) ** 2 + floor**2))

    return _estimate(
        (mixed + unseen.worn_mm) / 2,
        error(CENTRE_ERR),
        spread,
        error(SPREAD_ERR),
        n_balls=float(n),
        n_balls_err=N_ERR_FRAC * n if n_told is None else 1.0,
    )


def _estimate(
    centre: Array, centre_err: Array, spread: Array, spread_err: Array, *, n_balls: float, n_balls_err: float
) -> GroupEstimate:
    return GroupEstimate(
        toe_mm=float(centre[0]),
        high_mm=float(centre[1]),
        toe_err_mm=float(centre_err[0]),
        high_err_mm=float(centre_err[1]),
        toe_spread_mm=float(spread[0]),
        high_spread_mm=float(spread[1]),
        toe_spread_err_mm=float(spread_err[0]),
        high_spread_err_mm=float(spread_err[1]),
        n_balls=n_balls,
        n_balls_err=n_balls_err,
    )
