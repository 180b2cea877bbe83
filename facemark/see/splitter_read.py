"""From the splitter's maps to marks and a group, each with a doubt that was calibrated.

Calibration (weights/marks.json) is a handful of straight lines fitted on drawn faces of another seed: the
log-odds that a point is right within 4 mm, the log of its error, the log of the group's errors.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.caveats import COUNT_DIFFERS, MARK_AT_EDGE, MARKS_TOUCH, MARKS_UNSEPARATED, Caveat
from facemark.see.mark import Mark, MarkMethod, Marks
from facemark.see.rectify import FaceMap
from facemark.see.splitter_net import CELL_PX, SplitMaps
from facemark.see.splitter_points import KERNEL_SD_MM, Shares, share_out
from facemark.strike import GroupEstimate

Floats = NDArray[np.float64]
Line = Mapping[str, float]  # {"bias": b, feature: weight, ...}

SLACK_MM = 3.0  # a centre may lie this far outside the believed outline
FAINT_PEAK = 0.2  # nowhere a centre more likely than this: a face without readable marks
CLEAR_PEAK = 0.3  # maxima of the centre map from here on count as balls of their own,
PEAK_REACH_CELLS = 6  # if nothing within 6 mm is higher,
LONE_MM = 16.0  # and stand alone with no other within this: most of a print's width
# Beyond its peaks the density holds stray parts of a ball, more of them the more lone prints there are; where
# prints hide each other it holds too little. Chosen for F1 on drawn photos (seeds 31, 61 and 77 of
# tests.bench.drawn).
STRAY_BALLS = 0.6
STRAY_BALLS_PER_LONE = 0.3
HIDDEN_RATIO = 1.2
# Lone prints as plain as this are found alike at every look, if the density holds hardly more balls. Assumed.
PLAIN_PEAK, PLAIN_GAP_BALLS = 0.6, 1.0
LEAST_GAP_MM = 0.3  # nearer, marks and density agree by chance
STRAY_FRAC = 0.03  # of the density's maximum: thinner cells do not pull the group
FROM_MARKS_SCORE = 0.8  # mean score from which the marks' own mean beats the density's
COUNT_GAP_BALLS = 2.0  # told and seen may differ by this before it is said
TWIN_MM = 3.0  # points closer than this may be one ball counted twice
GRID_SHIFT_CELLS = (CELL_PX - 1) / 2 / CELL_PX  # a cell's middle lies 1.5 px after its first pixel


def on_face(maps: SplitMaps, face_map: FaceMap) -> NDArray[np.float32]:
    """The density (h, w), zero away from the face."""
    inside = face_map.inside.astype(np.uint8)
    reach = cv2.distanceTransform(1 - inside, cv2.DIST_L2, 3) <= SLACK_MM * face_map.px_per_mm
    height, width = maps.rate.shape
    whole = np.zeros((height * CELL_PX, width * CELL_PX), np.float32)
    whole[: reach.shape[0], : reach.shape[1]] = reach
    share = cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(maps.rate * share, np.float32)


def seen_balls(maps: SplitMaps, rate: NDArray[np.float32]) -> float:
    """How many balls the powder speaks for, told or not; 0.0 for a face without marks.

    Peaks of the centre map, and what the density holds beyond them.
    """
    if float(maps.centre[rate > 0.0].max(initial=0.0)) < FAINT_PEAK:
        return 0.0
    peaks = _peaks(maps, rate)
    n_lone = int((_apart_mm(peaks) > LONE_MM).sum())
    beyond = float(rate.sum()) - len(peaks) - STRAY_BALLS - STRAY_BALLS_PER_LONE * n_lone
    return max(1.0, len(peaks) + HIDDEN_RATIO * max(0.0, beyond))


def stand_apart(maps: SplitMaps, rate: NDArray[np.float32], n_balls: int) -> bool:
    """Whether ``n_balls`` prints lie there, each plain to see and clear of the others."""
    peaks = _peaks(maps, rate)
    return (
        0 < n_balls == len(peaks)
        and float(_apart_mm(peaks).min()) > LONE_MM
        and float(maps.centre[tuple(peaks.T)].min()) > PLAIN_PEAK
        and abs(float(rate.sum()) - n_balls) < PLAIN_GAP_BALLS
    )


def _peaks(maps: SplitMaps, rate: NDArray[np.float32]) -> NDArray[np.intp]:
    """(N, 2) row and column of the maxima of the centre map that count as balls of their own."""
    centre = np.where(rate > 0.0, maps.centre, np.float32(0.0))
    side = 2 * PEAK_REACH_CELLS + 1
    highest = cv2.dilate(centre, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)))
    return np.argwhere((centre >= highest) & (centre >= CLEAR_PEAK))


def _apart_mm(peaks: NDArray[np.intp]) -> Floats:
    """(N,) from each to the nearest other; cells are millimetres."""
    apart = np.hypot(*(peaks[:, None] - peaks[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, math.inf)
    return np.asarray(apart.min(axis=1, initial=math.inf))


def no_marks(face_map: FaceMap, rate: NDArray[np.float32], n_told: int | None) -> Marks:
    """A face on which no ball can be seen."""
    caveats = (Caveat(key=COUNT_DIFFERS, detail=f"{n_told} told, none seen"),) if n_told else ()
    nowhere = GroupEstimate(
        toe_mm=0.0,
        high_mm=0.0,
        toe_err_mm=math.inf,
        high_err_mm=math.inf,
        toe_spread_mm=0.0,
        high_spread_mm=0.0,
        toe_spread_err_mm=math.inf,
        high_spread_err_mm=math.inf,
        n_balls=0.0,
        n_balls_err=float(rate.sum()) + 0.3,
    )
    return Marks(
        marks=(),
        n_least=0,
        separable=True,
        group=nowhere,
        method=MarkMethod.LEARNED,
        density=on_map_grid(rate),
        caveats=caveats,
    )


def read_marks(
    maps: SplitMaps,
    face_map: FaceMap,
    n_points: int,
    *,
    n_seen: float,
    n_told: int | None,
    paired: bool,
    calibration: Mapping[str, Any],
) -> Marks:
    """Read marks and group from the maps that the network gave for ``n_points`` declared balls.

    Parameters
    ----------
    maps : SplitMaps
    face_map : FaceMap
    n_points : int
        How many points share the density: the told count, or the own one.
    n_seen : float
        How many balls the powder speaks for when nothing is declared.
    n_told : int, optional
    paired : bool
        The maps come from two photos and tell of the balls in between.
    calibration : mapping
        From the model card.
    """
    rate = on_face(maps, face_map)
    shares = share_out(rate, n_points)
    features = point_features(maps, rate, shares, told=n_told is not None, paired=paired)
    score = 1.0 / (1.0 + np.exp(-line(calibration["score"], features)))
    err = np.column_stack([np.exp(line(calibration[f"{axis}_err"], features)) for axis in ("toe", "high")])
    mm = face_map.mm_from_map(cells_to_map(shares.xy))
    sure = score >= calibration["sure_paired_score" if paired else "sure_score"]
    marks = _marks(face_map, maps, shares, mm, err, score, sure, shown_score=calibration["shown_score"])
    n_sure = sum(m.sure for m in marks)
    separable = 0 < n_sure == len(marks) and abs(len(marks) - (n_told or n_seen)) < 1.0
    counted = counted_points(score, n_told is not None, calibration)
    place = group_place(rate, mm[counted], score[counted], face_map)
    group = _group(place, score[counted], err[counted], n_seen=n_seen, calibration=calibration)
    return Marks(
        marks=marks,
        n_least=n_sure,
        separable=separable,
        group=group,
        method=MarkMethod.LEARNED,
        density=on_map_grid(rate),
        caveats=_caveats(marks, separable, n_seen, n_told),
    )


def point_features(
    maps: SplitMaps, rate: NDArray[np.float32], shares: Shares, *, told: bool, paired: bool
) -> dict[str, Floats]:
    """What the score and the errors of points rest on; one entry per point in each."""
    n = len(shares.xy)
    peak = np.asarray(cv2.dilate(maps.centre, np.ones((3, 3), np.uint8)), np.float32)

    def at(plane: NDArray[np.float32]) -> Floats:
        return sample(plane, shares.xy)

    total = max(float(rate.sum()), 1e-6)
    gap = np.abs(shares.xy[:, None] - shares.xy[None]) if n > 1 else np.full((1, 1, 2), 99.0)
    apart = np.hypot(gap[..., 0], gap[..., 1]) + np.eye(n) * 99.0
    return {
        "own_near": np.log((shares.own_near + 0.01) / (1.01 - shares.own_near)),
        "peak": np.log((at(peak) + 0.01) / np.clip(1.01 - at(peak), 1e-3, None)),
        "log_share_toe": np.log(shares.sd[:, 0]),
        "log_share_high": np.log(shares.sd[:, 1]),
        "log_net_toe": np.log(at(maps.sd_toe)),
        "log_net_high": np.log(at(maps.sd_high)),
        "missing": np.full(n, min(0.7, max(-0.7, math.log(n / total)))),
        "log_n": np.full(n, math.log(n)),
        "told": np.full(n, float(told)),
        "paired": np.full(n, float(paired)),
        "log_apart": np.log(np.clip(apart.min(axis=1), 0.3, 30.0)),
        "twin": np.exp(-apart.min(axis=1) / TWIN_MM),
    }


def line(model: Line, features: Mapping[str, Floats]) -> Floats:
    """bias + sum of weight times feature."""
    first = next(iter(features.values()))
    value = np.full(np.shape(first), float(model["bias"]))
    for name, weight in model.items():
        if name != "bias":
            value = value + weight * features[name]
    return np.asarray(value)


def sample(plane: NDArray[np.float32], xy: Floats) -> Floats:
    """Linear interpolation of (h, w) at (n, 2) columns and rows."""
    points = xy.astype(np.float32).reshape(-1, 1, 2)
    got = cv2.remap(plane, points, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(got, float).reshape(-1)


def cells_to_map(xy: Floats) -> Floats:
    """(n, 2) cells as (n, 2) pixels of the face map."""
    return xy * CELL_PX + (CELL_PX - 1) / 2


def on_map_grid(rate: NDArray[np.float32]) -> NDArray[np.float32]:
    """The density with cell (0, 0) centred on the face map's pixel (0, 0), as ``Marks`` wants it."""
    shift = np.array([[1.0, 0.0, GRID_SHIFT_CELLS], [0.0, 1.0, GRID_SHIFT_CELLS]])
    moved = cv2.warpAffine(rate, shift, (rate.shape[1], rate.shape[0]), flags=cv2.INTER_LINEAR)
    return np.asarray(moved, np.float32)


def moments(rate: NDArray[np.float32]) -> tuple[Floats, Floats]:
    """Mean and sd (column, row) of a density [cells], the kernel's own width removed from the sd."""
    total = max(float(rate.sum()), 1e-9)
    column, row = np.arange(rate.shape[1]), np.arange(rate.shape[0])
    by_column, by_row = rate.sum(axis=0) / total, rate.sum(axis=1) / total
    mean = np.array([by_column @ column, by_row @ row])
    var = np.array([by_column @ (column - mean[0]) ** 2, by_row @ (row - mean[1]) ** 2])
    return mean, np.sqrt(np.maximum(var - KERNEL_SD_MM**2, 0.0))


def _marks(
    face_map: FaceMap,
    maps: SplitMaps,
    shares: Shares,
    mm: Floats,
    err: Floats,
    score: Floats,
    sure: NDArray[np.bool_],
    *,
    shown_score: float,
) -> tuple[Mark, ...]:
    """Points whose score is worth showing, best first."""
    radius = np.clip(sample(maps.radius, shares.xy), 4.0, 16.0)
    # Depth inside the outline at each centre: a print deeper than its radius is whole.
    depth = cv2.distanceTransform(face_map.inside.astype(np.uint8), cv2.DIST_L2, 3) / face_map.px_per_mm
    deep = sample(np.asarray(depth, np.float32), cells_to_map(shares.xy))
    apart = np.hypot(*(mm[:, None] - mm[None]).transpose(2, 0, 1)) - radius[:, None] - radius[None]
    np.fill_diagonal(apart, math.inf)
    touches = apart.min(axis=1) < 0.0
    order = [i for i in np.argsort(-score) if score[i] >= shown_score]
    return tuple(
        Mark(
            toe_mm=float(mm[i, 0]),
            high_mm=float(mm[i, 1]),
            toe_err_mm=float(err[i, 0]),
            high_err_mm=float(err[i, 1]),
            diameter_mm=float(2.0 * radius[i]),
            score_frac=float(score[i]),
            sure=bool(sure[i]),
            touches=bool(touches[i]),
            at_edge=bool(deep[i] < 0.8 * radius[i]),
        )
        for i in order
    )


def counted_points(score: Floats, told: bool, calibration: Mapping[str, Any]) -> NDArray[np.bool_]:
    """Which points the group rests on: all, if their number was told, else those worth showing."""
    shown = score >= calibration["shown_score"]
    return np.ones_like(shown) if told or not shown.any() else shown


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroupPlace:
    """Centre and spread (toe, high) [mm], and how far the marks' own and the density's are apart in both."""

    centre: Floats
    spread: Floats
    from_marks: bool  # else from the density
    centre_gap: Floats
    spread_gap: Floats


def group_place(rate: NDArray[np.float32], mm: Floats, score: Floats, face_map: FaceMap) -> GroupPlace:
    """Where the group lies: from the marks if they are good, else from the density."""
    n = len(mm)
    mean, sd = moments(np.where(rate >= STRAY_FRAC * rate.max(), rate, np.float32(0.0)))
    # The density's sd divides by n, a sample's by n - 1.
    wide = sd * math.sqrt(n / (n - 1)) if n > 1 else np.zeros(2)
    middle = face_map.mm_from_map(cells_to_map(mean[None]))[0]
    marks_middle, marks_wide = mm.mean(axis=0), mm.std(axis=0, ddof=1) if n > 1 else np.zeros(2)
    from_marks = float(score.mean()) >= FROM_MARKS_SCORE
    return GroupPlace(
        centre=marks_middle if from_marks else middle,
        spread=marks_wide if from_marks else wide,
        from_marks=from_marks,
        centre_gap=np.abs(marks_middle - middle),
        spread_gap=np.abs(marks_wide - wide),
    )


def _group(
    place: GroupPlace, score: Floats, err: Floats, *, n_seen: float, calibration: Mapping[str, Any]
) -> GroupEstimate:
    """Centre and spread with the errors that such groups had."""
    n, centre, spread = len(score), place.centre, place.spread
    features = group_features(score, err, place)
    lines = calibration["group_from_marks" if place.from_marks else "group_from_density"]
    errs = {name: math.exp(float(line(lines[name], features))) for name in GROUP_ERRS}
    return GroupEstimate(
        toe_mm=float(centre[0]),
        high_mm=float(centre[1]),
        toe_err_mm=errs["group_toe_err"],
        high_err_mm=errs["group_high_err"],
        toe_spread_mm=float(spread[0]),
        high_spread_mm=float(spread[1]),
        toe_spread_err_mm=errs["spread_toe_err"] if n > 1 else math.inf,
        high_spread_err_mm=errs["spread_high_err"] if n > 1 else math.inf,
        n_balls=float(n_seen),
        n_balls_err=errs["count_err"],
    )


GROUP_ERRS = ("group_toe_err", "group_high_err", "spread_toe_err", "spread_high_err", "count_err")


def group_features(score: Floats, err: Floats, place: GroupPlace) -> dict[str, Floats]:
    """What the group's errors rest on; single numbers."""
    gaps = zip(("toe", "high"), place.centre_gap, place.spread_gap, strict=True)
    apart = {
        f"log_{what}_gap_{axis}": np.asarray(math.log(float(gap) + LEAST_GAP_MM))
        for axis, centre, spread in gaps
        for what, gap in (("centre", centre), ("spread", spread))
    }
    return apart | {
        "log_doubt": np.asarray(math.log(1.005 - float(score.mean()))),
        "log_mean_err_toe": np.asarray(math.log(float(np.sqrt((err[:, 0] ** 2).mean())))),
        "log_mean_err_high": np.asarray(math.log(float(np.sqrt((err[:, 1] ** 2).mean())))),
        "log_spread": np.asarray(math.log(float(np.hypot(*place.spread)) + 1.0)),
        "log_n": np.asarray(math.log(len(score))),
    }


def _caveats(
    marks: tuple[Mark, ...], separable: bool, n_seen: float, n_told: int | None
) -> tuple[Caveat, ...]:
    caveats = []
    if any(m.touches for m in marks):
        caveats.append(Caveat(key=MARKS_TOUCH, detail=f"{sum(m.touches for m in marks)} of {len(marks)}"))
    if not separable:
        caveats.append(Caveat(key=MARKS_UNSEPARATED, detail=f"{sum(m.sure for m in marks)} for certain"))
    if any(m.at_edge for m in marks):
        caveats.append(Caveat(key=MARK_AT_EDGE, detail=f"{sum(m.at_edge for m in marks)}"))
    if n_told is not None and abs(n_seen - n_told) > COUNT_GAP_BALLS:
        caveats.append(Caveat(key=COUNT_DIFFERS, detail=f"{n_told} told, about {n_seen:.0f} seen"))
    return tuple(caveats)
