"""Where does the even coat of powder end? The walk from a rough border to the face's edge.

What changes at the edge is not so much brightness as kind: the face's even coat gives way to a thinner,
speckled, turned-away one on crown and sole. So: unroll the picture along the rough border; describe the coat
just inside by four numbers a pixel (brightness against the local coat, its size without sign = grain, two
colour ratios) with their scatter; count outward as long as the picture looks like that coat. All columns are
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
from facemark.see.contour import area_px2, blur_around, eroded, even, normals, rolled_inside, smooth, unroll
from facemark.see.small import halved

N_POINTS = 320  # about 1 mm apart on a driver
FACE_SIDE_PX = (
    300  # the face is shrunk until the square root of its area is this; 0.24 mm a pixel on a driver
)
MARGIN_FRAC = 0.35  # of that root, kept around the rough border


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

DARK_LOG = 0.16  # a mark is at least 15 % darker than the coat, over 1.7 mm and more
BEND_COST = 0.5  # of one column against the next, per pixel squared
MOST_BEND_PX = 3
DEEP_PX, CLEAR_OF_EDGE_PX = 64, 20  # between these depths inside the border the coat is learnt
MARK_DEPTH_PX = 32.0  # 8 mm on a driver; crown or sole in a border too wide is shallower
SMALL_HOLE_PX2 = 160.0  # a dimple's print, 3 mm across
MARK_COST = -0.1  # a mark lies on the face: it speaks a little for reaching at least to its end
MOST_SHADE_LOG = 0.3  # usual slope of the light over a face's size; assumed
SHADE_RUN = 400.0  # neighbouring pixels say the same: this many count as one
MOST_LOCAL_LOG = 0.08  # the coat may differ by 8 % from its plane along the edge
MOST_WAVES = 16  # of the closed curve; the tightest corner it can turn is about 5 mm
SLIDE_WEIGHT = 0.02  # keeps points from sliding along the curve


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edge:
    """The fitted edge. ``clear_frac`` (N,) 0..1: how clearly each point of the curve was seen."""

    curve_px: Array
    clear_frac: Array
    edge_err_px: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Crop:
    """The surroundings of the face at ``FACE_SIDE_PX``."""

    log_light: NDArray[np.float32]
    soft: NDArray[np.float32]  # the same without grain
    ratios: NDArray[np.float32]  # (H, W, 2) log red/green, log blue/green
    origin_px: Array
    scale: Array  # crop px per photo px, x and y

    def from_photo(self, px: Array) -> Array:
        return np.asarray((px + 0.5 - self.origin_px) * self.scale - 0.5)

    def to_photo(self, xy: Array) -> Array:
        return np.asarray((xy + 0.5) / self.scale + self.origin_px - 0.5)


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
    crop = _crop_around(pixels, rough_px)
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
    crop: _Crop, curve: Array, turn: Round, *, walk: Walk, likely: Likely | None
) -> tuple[Array, Array, float, bool]:
    """One look along the border: new curve, how clear, usual miss, and whether the edge was within reach."""
    offsets = np.arange(-turn.reach_in_px, turn.reach_out_px + 1, dtype=float)
    curve = smooth(even(curve, N_POINTS), 16.0)
    outward = normals(curve)
    unlike, dark = _unlike_coat(crop, curve, outward, offsets, turn.n_along)
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


def _crop_around(pixels: NDArray[np.uint8], rough_px: Array) -> _Crop:
    side = math.sqrt(abs(area_px2(rough_px)))
    low = np.floor(rough_px.min(axis=0) - MARGIN_FRAC * side).clip(0).astype(int)
    high = np.ceil(rough_px.max(axis=0) + MARGIN_FRAC * side).astype(int) + 1
    high = np.minimum(high, [pixels.shape[1], pixels.shape[0]])
    scale = FACE_SIDE_PX / side
    part = halved(pixels[low[1] : high[1], low[0] : high[0]], 1 / scale)
    high = low + part.factor * np.array(part.pixels.shape[1::-1])
    size = np.maximum(1, np.round((high - low) * scale)).astype(int)
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(part.pixels, (int(size[0]), int(size[1])), interpolation=way).astype(np.float32) + 3.0
    log = np.log(small)
    log_light = np.log(small @ np.array([0.30, 0.59, 0.11], np.float32))
    return _Crop(
        log_light=log_light,
        soft=np.asarray(cv2.GaussianBlur(log_light, (0, 0), 1.5), np.float32),
        ratios=np.dstack([log[..., 0] - log[..., 1], log[..., 2] - log[..., 1]]),
        origin_px=low.astype(float),
        scale=size / (high - low),
    )


def _unlike_coat(
    crop: _Crop, curve: Array, outward: Array, offsets: Array, n_along: float
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """(M, N) how unlike the face's coat each place is (below 0: like it), and where a dark mark hides it."""
    shade, dark_map = _coat(crop, curve)
    deep = np.arange(-DEEP_PX, offsets[0])  # further in than the edge is searched: surely face
    rows = np.concatenate([deep, offsets])
    light = unroll(crop.log_light - shade, curve, outward, rows)
    strip = np.dstack([light, unroll(crop.ratios, curve, outward, rows)])
    dark = unroll(dark_map, curve, outward, rows) > 0.5
    dark &= (rows <= 10)[:, None]  # what lies far beyond the present border is background, not a mark
    inner = (rows >= -DEEP_PX) & (rows <= -CLEAR_OF_EDGE_PX)
    near = inner & (rows >= -30)
    seen = (~dark).astype(np.float32)
    # The coat just inside, column by column, leaning on the whole face where marks hide it.
    everywhere = np.median(strip[inner][seen[inner] > 0], axis=0) if seen[inner].any() else np.zeros(3)
    weight = blur_around(seen[near].sum(axis=0)[None], 14.0)[0]
    total = np.stack(
        [blur_around((strip[near, :, k] * seen[near]).sum(axis=0)[None], 14.0)[0] for k in range(3)], 1
    )
    local = (total + 2.0 * everywhere) / (weight[:, None] + 2.0) - everywhere
    strip = strip - everywhere - np.clip(local, -MOST_LOCAL_LOG, MOST_LOCAL_LOG)
    numbers = np.dstack([strip[..., 0], np.abs(strip[..., 0]), strip[..., 1], strip[..., 2]])
    share = blur_around(seen, n_along)
    numbers = np.dstack(
        [blur_around(numbers[..., k] * seen, n_along) / np.maximum(share, 0.05) for k in range(4)]
    )
    known = share[inner] > 0.6
    if known.sum() < 50:
        known = np.ones_like(known)
    sample = numbers[inner][known]
    middle = np.median(sample, axis=0)
    scatter = 1.4826 * np.median(np.abs(sample - middle), axis=0)
    scatter = np.maximum(scatter, [0.02, 0.008, 0.008, 0.008])
    far = np.sqrt((((numbers - middle) / scatter) ** 2).sum(axis=2) / 4)
    usual = far[inner][known]
    limit = max(1.8 * float(np.percentile(usual, 85)), 1.1 * float(np.percentile(usual, 95)))
    unlike = np.clip((far - limit) / limit, -0.6, 0.8)
    unlike[(share < 0.3) | dark] = MARK_COST
    return np.asarray(unlike[len(deep) :], np.float32), dark[len(deep) :]


def _coat(crop: _Crop, curve: Array) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """(H, W) log brightness the coat has or would have, as a plane; (H, W) 1 where a dark mark is."""
    core = np.zeros(crop.soft.shape, np.uint8)
    cv2.fillPoly(core, [np.round(curve).astype(np.int32)], 1)
    shade = _shade(crop.soft, core)
    return shade, _marks((crop.soft < shade - DARK_LOG).astype(np.uint8), core)


def _shade(soft: NDArray[np.float32], core: NDArray[np.uint8]) -> NDArray[np.float32]:
    """The plane through the log brightness of the coat inside the border."""
    deep = eroded(core, 16.0)
    if deep.sum() < 2000:
        deep = core
    y, x = np.nonzero(deep[::3, ::3])
    values = soft[::3, ::3][y, x]
    design = np.column_stack([np.ones(len(x)), x * 3 / FACE_SIDE_PX - 1, y * 3 / FACE_SIDE_PX - 1])
    # The coat is the upper crowd of brightness: start there and let in what lies near it. The slopes are
    # held back, or marks on one side would be taken for shade.
    plane = np.array([np.percentile(values, 80), 0.0, 0.0])
    held = np.diag([0.0, 1.0, 1.0]) / MOST_SHADE_LOG**2
    for near in (0.25, 0.2, 0.15, 0.12, 0.12):
        off = values - design @ plane
        keep = (off > -near) & (off < 1.5 * near)
        if keep.sum() < 30:
            break
        chosen, worth = design[keep], 1 / (near**2 * SHADE_RUN)
        plane = np.linalg.solve(worth * chosen.T @ chosen + held, worth * chosen.T @ values[keep])
    along_x = plane[1] * (np.arange(soft.shape[1]) / FACE_SIDE_PX - 1)
    along_y = plane[2] * (np.arange(soft.shape[0]) / FACE_SIDE_PX - 1)
    return np.asarray(along_x.astype(np.float32) + (plane[0] + along_y).astype(np.float32)[:, None])


def _marks(dark: NDArray[np.uint8], core: NDArray[np.uint8]) -> NDArray[np.float32]:
    """1 where a mark is: dark, wide, and reaching well into the face."""
    # Score lines cut a mark in stripes and dimples leave holes in it; overspray's dark rim is 2-3 mm wide,
    # a mark 5 mm and more.
    near = cv2.dilate(core, np.ones((21, 21), np.uint8))
    dark = np.minimum(
        np.asarray(cv2.morphologyEx(dark, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)), np.uint8), near
    )
    holes, _ = cv2.findContours(1 - dark, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    small = [hole for hole in holes if cv2.contourArea(hole) < SMALL_HOLE_PX2]
    cv2.drawContours(dark, small, -1, 1, cv2.FILLED)
    wide = rolled_inside(dark, 10.0)
    n, labels = cv2.connectedComponents(wide)
    # What is dark but nowhere deep may be crown or sole inside a border that is still too wide.
    is_mark = np.zeros(n, np.uint8)
    is_mark[labels[eroded(core, MARK_DEPTH_PX) > 0]] = 1
    is_mark[0] = 0  # all that is not dark
    return np.asarray(cv2.dilate(is_mark[labels], np.ones((5, 5), np.uint8)), np.float32)


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
