"""Where does the even coat of powder end? The walk from a rough border to the face's edge.

What changes at the edge is not so much brightness as kind: the face's even coat gives way to a thinner,
speckled, turned-away one on crown and sole. So: unroll the picture along the rough border; describe the coat
just inside (coat.py); count outward as long as the picture looks like that coat. All columns are
decided together by the cheapest closed path (dynamic programming), then by a stiff closed spline weighted by
how clearly each column speaks, robustly (Tukey). Dark marks that reach the edge say nothing; there the spline
bridges. Repeat along the better curve with a shorter reach.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.coat import Crop, crop_around, unlike_coat
from facemark.see.contour import even, normals, smooth

N_POINTS = 320  # about 1 mm apart on a driver


Likely = Callable[[Array], NDArray[np.float32]]  # (K, 2) photo pixels -> (K,) how likely face, 0..1


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One look along the border.

    How far inward and outward [px of the shrunk face]; how many waves the curve may bend; how many columns
    are averaged along it (speckle needs company to be seen); whether outliers are dropped.
    """

    reach_in_px: int
    reach_out_px: int
    n_waves: float
    n_along: float
    strict: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """How to search.

    ``trust_frac``: weight of the border so far against one clear column, where nothing is seen.
    ``likely_frac``: of the learned map against the coat's own evidence. ``bulging``: dents are bridged
    between rounds, because a wood's face bulges outward all round.
    """

    rounds: tuple[Round, ...]
    trust_frac: float
    likely_frac: float
    bulging: bool


FREE_WALK = Walk(
    rounds=(
        Round(reach_in_px=46, reach_out_px=34, n_waves=6.0, n_along=5.0, strict=False),
        Round(reach_in_px=40, reach_out_px=28, n_waves=7.0, n_along=5.0, strict=False),
        Round(reach_in_px=28, reach_out_px=20, n_waves=9.0, n_along=5.0, strict=False),
        Round(reach_in_px=18, reach_out_px=14, n_waves=10.0, n_along=6.0, strict=True),
        Round(reach_in_px=14, reach_out_px=12, n_waves=12.0, n_along=9.0, strict=True),
    ),
    trust_frac=0.0,
    likely_frac=0.0,
    bulging=True,
)
GUIDED_WALK = Walk(
    rounds=(
        Round(reach_in_px=24, reach_out_px=18, n_waves=8.0, n_along=6.0, strict=False),
        Round(reach_in_px=16, reach_out_px=14, n_waves=10.0, n_along=6.0, strict=True),
        Round(reach_in_px=12, reach_out_px=10, n_waves=12.0, n_along=6.0, strict=True),
    ),
    trust_frac=0.1,
    likely_frac=1.2,
    bulging=True,
)
# An iron's top line may be hollow; where a mark hides it, the learned border is hollow too and must not be
# bridged. On 47 drawn irons: overlap 0.973, bridged 0.968.
GUIDED_IRON_WALK = replace(GUIDED_WALK, bulging=False)
MOST_REPEATS = 3  # a round is repeated while the edge lies beyond its reach
MOST_AT_END_FRAC = 0.03

BEND_COST = 0.5  # of one column against the next, per pixel squared
MOST_BEND_PX = 3
MOST_WAVES = 16  # of the closed curve; the tightest corner it can turn is about 5 mm
SLIDE_WEIGHT = 0.02  # keeps points from sliding along the curve


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edge:
    """The fitted edge. ``clear_frac`` (N,) 0..1: how clearly each point of the curve was seen."""

    curve_px: Array
    clear_frac: Array
    edge_err_px: float


def fit_edge(
    pixels: NDArray[np.uint8], rough_px: Array, *, walk: Walk = FREE_WALK, likely: Likely | None = None
) -> Edge:
    """Walk from a rough border to the face's edge.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 RGB
    rough_px : (K, 2) closed border, up to about 12 % of the face's size off

    Returns
    -------
    Edge
        ``N_POINTS`` points, clockwise on the screen, full-size pixels.
    """
    crop = crop_around(pixels, rough_px)
    curve = crop.from_photo(rough_px)
    clear, miss = np.zeros(N_POINTS), 1.0
    for turn in walk.rounds:
        for _ in range(MOST_REPEATS):
            if walk.bulging:
                # Dents come from marks and grass; only the very last step may leave one.
                curve = cv2.convexHull(curve.astype(np.float32))[:, 0].astype(float)
            curve, clear, miss, arrived = _step(crop, curve, turn, walk=walk, likely=likely)
            if arrived:
                break
    return Edge(
        curve_px=crop.to_photo(curve),
        clear_frac=clear,
        edge_err_px=float(miss / np.mean(crop.scale)),
    )


def _step(
    crop: Crop, curve: Array, turn: Round, *, walk: Walk, likely: Likely | None
) -> tuple[Array, Array, float, bool]:
    """One look along the border: new curve, how clear, usual miss, and whether the edge was within reach."""
    offsets = np.arange(-turn.reach_in_px, turn.reach_out_px + 1, dtype=float)
    curve = smooth(even(curve, N_POINTS), 16.0)
    outward = normals(curve)
    unlike, dark = unlike_coat(crop, curve, outward, offsets, turn.n_along)
    if likely is not None:
        places = crop.to_photo((curve[None] + offsets[:, None, None] * outward[None]).reshape(-1, 2))
        unlike = unlike + walk.likely_frac * (1 - 2 * likely(places).reshape(unlike.shape))
    path = _cheapest_path(np.cumsum(unlike, axis=0))
    at_end = (path <= 1) | (path >= len(offsets) - 2)
    clear = _clearness(unlike, dark, path, at_end)
    curve, clear, miss = _stiff_curve(
        curve,
        outward,
        offsets[path],
        clear,
        n_waves=turn.n_waves,
        trust_frac=walk.trust_frac,
        strict=turn.strict and at_end.mean() <= MOST_AT_END_FRAC,
    )
    return curve, clear, miss, bool(at_end.mean() <= MOST_AT_END_FRAC)


def _cheapest_path(cost: NDArray[np.float32]) -> NDArray[np.intp]:
    """(N,) row of each column on the cheapest closed path; cost (M, N). Of two turns the middle is closed."""
    n_rows, n = cost.shape
    bends = np.arange(-MOST_BEND_PX, MOST_BEND_PX + 1)
    bend_cost = BEND_COST * bends.astype(float) ** 2
    total = np.zeros(n_rows)
    came = np.zeros((2 * n, n_rows), np.int8)
    padded = np.full(n_rows + 2 * MOST_BEND_PX, 1e9)
    reachable = sliding_window_view(padded, 2 * MOST_BEND_PX + 1)  # a view: follows ``padded``
    rows = np.arange(n_rows)
    for j in range(2 * n):
        padded[MOST_BEND_PX:-MOST_BEND_PX] = total
        options = reachable + bend_cost
        choice = options.argmin(axis=1)
        total = options[rows, choice] + cost[:, j % n]
        came[j] = choice - MOST_BEND_PX
    path = np.zeros(2 * n, np.intp)
    path[-1] = int(total.argmin())
    for j in range(2 * n - 1, 0, -1):
        path[j - 1] = path[j] + came[j, path[j]]
    return np.concatenate([path[n : n + n // 2], path[n // 2 : n]])


def _clearness(
    unlike: NDArray[np.float32], dark: NDArray[np.bool_], path: NDArray[np.intp], at_end: NDArray[np.bool_]
) -> Array:
    """(N,) 0..1: how much the picture changes across the path, 0 where a mark hides it."""
    rows, n = np.arange(unlike.shape[0])[:, None], unlike.shape[1]
    inside = (rows >= path - 5) & (rows < path)
    outside = (rows > path) & (rows <= path + 5)
    step = (unlike * outside).sum(axis=0) / np.maximum(outside.sum(axis=0), 1) - (unlike * inside).sum(
        axis=0
    ) / np.maximum(inside.sum(axis=0), 1)
    hidden = (dark & (np.abs(rows - path) <= 3)).any(axis=0)
    clear = np.clip(step / 0.9, 0.0, 1.0)
    clear[hidden | (path <= 1)] = 0.0
    clear[path >= unlike.shape[0] - 2] = (
        0.3  # coat to the end of the reach: the edge is at least that far out
    )
    return np.asarray(clear.reshape(n), float)


def _stiff_curve(
    curve: Array,
    outward: Array,
    offset: Array,
    clear: Array,
    *,
    n_waves: float,
    trust_frac: float,
    strict: bool,
) -> tuple[Array, Array, float]:
    """(N, 2) closed curve near the clear points, (N,) how far each speaks for it, their usual miss [px].

    A Fourier curve of ``MOST_WAVES`` waves whose change of curvature is penalised, so that stretches which
    were not seen follow on smoothly from those that were. Least squares with robust weights.
    """
    n = len(curve)
    wave = np.arange(1, MOST_WAVES + 1)
    turn = 2 * math.pi * np.arange(n) / n
    base = np.column_stack([np.ones(n), np.cos(turn[:, None] * wave), np.sin(turn[:, None] * wave)])
    across = np.hstack([base * outward[:, :1], base * outward[:, 1:]])
    along = np.hstack([-base * outward[:, 1:], base * outward[:, :1]])
    target = curve + offset[:, None] * outward
    wanted = (target * outward).sum(axis=1)
    stay = SLIDE_WEIGHT * along.T @ (curve[:, 1] * outward[:, 0] - curve[:, 0] * outward[:, 1])
    order = np.concatenate([[0], wave, wave, [0], wave, wave]).astype(float)
    stiffness = np.diag(0.5 * n * (order / n_waves) ** 6)
    slide = SLIDE_WEIGHT * along.T @ along + stiffness + trust_frac * across.T @ across
    stay = stay + trust_frac * across.T @ (curve * outward).sum(axis=1)
    weight = clear + 1e-4
    miss = 1.0
    good = clear > 0.3
    fit, robust = target, np.ones(n)
    for _ in range(5):
        solved = np.linalg.solve(
            (across * weight[:, None]).T @ across + slide, across.T @ (weight * wanted) + stay
        )
        fit = np.column_stack([base @ solved[: base.shape[1]], base @ solved[base.shape[1] :]])
        left = ((target - fit) * outward).sum(axis=1)
        miss = 1.4826 * float(np.median(np.abs(left[good]))) if good.sum() > 10 else 3.0
        reach = max(2.5, 4.0 * miss)
        # Early rounds are far off in places and must follow (Huber); later, outliers go (Tukey).
        far = np.abs(left)
        robust = (
            np.clip(1 - (left / reach) ** 2, 0.0, 1.0) ** 2
            if strict
            else np.minimum(1.0, reach / (far + 1e-9))
        )
        weight = (clear + 1e-4) * robust + 1e-5
    return fit, clear * robust, max(miss, 0.3)
