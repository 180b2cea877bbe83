"""Which discs, each taking powder away in turn, explain the bare patch?

Model: removal S = 1 - prod(1 - q_i m_i), m_i a soft disc of centre, radius, depth q_i ("soft union"). Discs
are born where the convolution of the unexplained removal with a disc promises most, all discs are then fitted
together (Gauss-Newton with Huber weights), and discs that do not pay for themselves die. The price of a disc
is its prior: a told count makes discs cheap up to that count and dear beyond, and never forces one. A disc
must show its rim where the model says that it shows (rim test), or it is a blotch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facemark.see.camera import Array
from facemark.see.disc_scene import RADIUS_MM, RADIUS_SPREAD_MM, DiscScene, rim_test
from facemark.see.powder import PowderMap
from facemark.see.voting import Circle

GROW_PX_PER_MM = 1.0  # births and deaths are judged on a coarse grid, the last fit on the powder map's own
RADIUS_SPREAD_IN_PHOTO_MM = 0.8  # one player, one ball, one swing
PRICE = 8.0  # log-likelihood that a disc must bring with no count told
PRICE_BELOW_TOLD, PRICE_ABOVE_TOLD = 3.0, 60.0
# Two prints this near look like one ragged print: unless the told count asks for it, a pair must bring more.
PAIR_MM, PAIR_PRICE = 7.0, 120.0
N_MOST = 16
N_FIT_STEPS = 6
N_POLISH_STEPS = 2  # after a coarse fit of discs that stand alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """One fitted disc. Errors: from the fit's curvature, per axis, before calibration (marks.py)."""

    toe_mm: float
    high_mm: float
    radius_mm: float
    depth_frac: float
    toe_err_mm: float
    high_err_mm: float
    visible_deg: float  # rim that the model leaves visible
    step_ratio: float  # seen / predicted step across that rim
    gain_ratio: float  # log likelihood ratio with and without this disc


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DiscFit:
    """All discs, and the share of the removal that they explain."""

    discs: tuple[Disc, ...]
    explained_frac: float


def fit_discs(
    powder: PowderMap,
    seeds: Sequence[Circle],
    *,
    n_balls: int | None = None,
    grow: bool = True,
    radius_mm: float | None = None,
) -> DiscFit:
    """Fit discs to the removal map.

    Parameters
    ----------
    powder : PowderMap
    seeds : sequence of Circle
        Discs already voted.
    n_balls : int or None
        Balls hit, if told: evidence, not a command.
    grow : bool
        False: only the seeds are fitted.
    radius_mm : float or None
        Radius of this player's marks, if earlier photos told it.

    Returns
    -------
    DiscFit
        Discs in face mm, largest gain first.
    """
    scene = DiscScene.of(powder, step=1)
    if scene is None:
        return DiscFit(discs=(), explained_frac=0.0)
    radius0, spread0 = _common_radius(seeds)
    if radius_mm is not None:
        radius0, spread0 = radius_mm, RADIUS_SPREAD_IN_PHOTO_MM
    scene.radius_mm, scene.radius_spread_mm = radius0, spread0
    coarse = DiscScene.of(powder, step=max(1, round(powder.px_per_mm / GROW_PX_PER_MM)))
    assert coarse is not None  # the same powder map gave the fine one
    coarse.radius_mm, coarse.radius_spread_mm = radius0, spread0
    p = coarse.fit(coarse.params_of(seeds), N_FIT_STEPS)
    if grow:
        p = _grow(coarse, p, n_balls)
    p = p + np.array([coarse.origin[0] - scene.origin[0], scene.origin[1] - coarse.origin[1], 0, 0])
    p = scene.fit(p, N_FIT_STEPS if grow else N_POLISH_STEPS)
    return _report(scene, p)


def _common_radius(seeds: Sequence[Circle]) -> tuple[float, float]:
    """Radius that the clearly seen discs share [mm], and how far single ones may stray."""
    clear = [(c.radius_mm, c.visible_deg) for c in seeds if c.visible_deg >= 150]
    if not clear:
        return RADIUS_MM, RADIUS_SPREAD_MM
    r = np.array([a for a, _ in clear])
    w = np.array([b for _, b in clear])
    prior = 100.0  # weighs like a third of one full rim
    mean = float((r @ w + prior * RADIUS_MM) / (w.sum() + prior))
    return mean, RADIUS_SPREAD_IN_PHOTO_MM + 0.5 / len(clear)


def _price(n: int, n_balls: int | None) -> float:
    """What the ``n``-th disc must bring."""
    if n_balls is None:
        return PRICE
    return PRICE_BELOW_TOLD if n <= n_balls else PRICE_ABOVE_TOLD


def _total(scene: DiscScene, p: Array, n_balls: int | None) -> float:
    prices = sum(_price(i + 1, n_balls) for i in range(len(p)))
    if len(p) > (1 if n_balls is None else n_balls):
        gap = np.hypot(*(p[:, None, :2] - p[None, :, :2]).transpose(2, 0, 1))[np.triu_indices(len(p), 1)]
        prices += PAIR_PRICE * float(np.clip(1 - gap / PAIR_MM, 0, 1).sum())
    return scene.judge(p) + prices


def _grow(scene: DiscScene, p: Array, n_balls: int | None) -> Array:
    """Births, deaths, splits and moves until nothing pays any more."""
    cost = _total(scene, p, n_balls)
    for _ in range(3 * N_MOST):
        tries = [np.vstack([p, b]) for b in scene.births(p, 2)] if len(p) < N_MOST else []
        better = _best_of(scene, tries, n_balls, cost)
        if better is None and 0 < len(p) < N_MOST:
            better = _best_of(scene, _splits(scene, p), n_balls, cost)
        if better is None and len(p) > 1:
            better = _best_of(scene, _likely_deaths(scene, p, n_balls, cost), n_balls, cost)
        if better is None and len(p) > 1:
            better = _best_of(scene, _moves(scene, p), n_balls, cost)
        if better is None:
            break
        p, cost = better
    return scene.fit(p, 3 * N_FIT_STEPS)


def _best_of(
    scene: DiscScene, tries: list[Array], n_balls: int | None, cost: float
) -> tuple[Array, float] | None:
    """The best of several changed sets after a fit, if it is cheaper than now."""
    best: tuple[Array, float] | None = None
    for p in tries:
        q = scene.fit(p, N_FIT_STEPS)
        value = _total(scene, q, n_balls)
        if value < cost - 0.1 and (best is None or value < best[1]):
            best = (q, value)
    return best


def _deaths(p: Array) -> list[Array]:
    return [np.delete(p, i, axis=0) for i in range(len(p))]


def _likely_deaths(scene: DiscScene, p: Array, n_balls: int | None, cost: float) -> list[Array]:
    """Sets without one disc that cost little even before the others are fitted anew."""
    value = [(_total(scene, q, n_balls), q) for q in _deaths(p)]
    value.sort(key=lambda v: v[0])
    return [q for v, q in value[:3] if v < cost + 2 * PRICE]


def _splits(scene: DiscScene, p: Array) -> list[Array]:
    """Each disc as two, 5 mm apart along the way its surroundings are least explained."""
    rest = scene.image - (1 - scene.left_over(p))
    out = []
    score = []
    for i in range(len(p)):
        d = np.hypot(scene.x[None, :] - p[i, 0], scene.y[:, None] - p[i, 1])
        w = np.clip(rest, 0, None) * scene.weight * (d < p[i, 2] + 5)
        dx, dy = scene.x[None, :] - p[i, 0], scene.y[:, None] - p[i, 1]
        cov = np.array(
            [[(w * dx * dx).sum(), (w * dx * dy).sum()], [(w * dx * dy).sum(), (w * dy * dy).sum()]]
        )
        _, vec = np.linalg.eigh(cov)
        step = 2.5 * vec[:, 1]
        two = np.repeat(p[i : i + 1], 2, axis=0)
        two[0, :2] += step
        two[1, :2] -= step
        two[:, 2] = scene.radius_mm
        out.append(np.vstack([np.delete(p, i, axis=0), two]))
        score.append(float(w.sum()))
    order = np.argsort(score)[::-1][:3]
    return [out[i] for i in order]


def _moves(scene: DiscScene, p: Array) -> list[Array]:
    """The least needed disc put where it would bring most."""
    lost = [scene.judge(q) for q in _deaths(p)]
    weakest = int(np.argmin(lost))
    rest = np.delete(p, weakest, axis=0)
    return [np.vstack([rest, b]) for b in scene.births(rest, 2)]


def _report(scene: DiscScene, p: Array) -> DiscFit:
    if len(p) == 0:
        return DiscFit(discs=(), explained_frac=0.0)
    H, _ = scene.normal_equations(p)
    cov = np.linalg.inv(H)
    base = scene.judge(p)
    discs = []
    for i in range(len(p)):
        visible, ratio = rim_test(scene, p, i)
        discs.append(
            Disc(
                toe_mm=float(scene.origin[0] + p[i, 0]),
                high_mm=float(scene.origin[1] - p[i, 1]),
                radius_mm=float(p[i, 2]),
                depth_frac=float(p[i, 3]),
                toe_err_mm=float(np.sqrt(cov[4 * i, 4 * i])),
                high_err_mm=float(np.sqrt(cov[4 * i + 1, 4 * i + 1])),
                visible_deg=visible,
                step_ratio=ratio,
                gain_ratio=scene.judge(np.delete(p, i, axis=0)) - base,
            )
        )
    total = float((scene.weight * scene.image).sum())
    seen = float((scene.weight * np.minimum(scene.image, 1 - scene.left_over(p))).sum())
    discs.sort(key=lambda d: -d.gain_ratio)
    return DiscFit(discs=tuple(discs), explained_frac=seen / max(total, 1e-9))
