"""As many points as balls, put where the network's density wants them.

Balanced soft k-means: every point takes the same share of the density, so that the points' mean is the
density's mean and crowded places get more points (an entropic transport plan between cells and points,
Sinkhorn's iterations; Cuturi 2013).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

KERNEL_SD_MM = 1.2  # the density was taught with every ball as a Gaussian of this sd
SOFT_MM = 1.5  # how softly points compete for the density; about the kernel
SEED_SD_MM = 2.5  # a seed takes its density from about one ball's worth of doubt around it
ROUNDS = 20
GATE_MM = 4.0  # "right" means within this


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shares:
    """Points on the grid and what each rests on. All arrays have one entry per point.

    ``xy`` (n, 2): column, row [mm on the grid]. ``own_near``: part of the point's own share within 4 mm.
    ``sd`` (n, 2): of its share, kernel removed.
    """

    xy: Floats
    own_near: Floats
    sd: Floats


def share_out(rate: NDArray[np.float32], n_points: int) -> Shares:
    """Puts ``n_points`` points on a density (h, w) at 1 px/mm."""
    rate = rate.astype(np.float64)
    keep = rate > 2e-4 * rate.max()
    row, column = np.nonzero(keep)
    cells = np.column_stack([column, row]).astype(float)
    mass = rate[keep] / rate[keep].sum() * n_points
    points = _seeds(rate * (n_points / max(rate.sum(), 1e-9)), n_points)
    shares = np.full((len(cells), n_points), 1.0 / n_points)
    scale = np.ones(n_points)
    for _ in range(ROUNDS):
        far2 = ((cells[:, None] - points[None]) ** 2).sum(axis=2)
        closeness = np.exp(-0.5 * (far2 - far2.min(axis=1, keepdims=True)) / SOFT_MM**2) + 1e-12
        for _ in range(4):
            split = mass / (closeness @ scale)
            scale = 1.0 / np.maximum(split @ closeness, 1e-12)
        shares = split[:, None] * closeness * scale
        points = shares.T @ cells / np.maximum(shares.sum(axis=0)[:, None], 1e-9)
    shares /= np.maximum(shares.sum(axis=0), 1e-9)
    points, own_near = _settled(cells, shares, points)
    away = cells[:, None] - points[None]
    var = (shares[..., None] * away**2).sum(axis=0) - KERNEL_SD_MM**2
    return Shares(xy=points, own_near=own_near, sd=np.sqrt(np.maximum(var, 0.04)))


def _seeds(rate: Floats, n_points: int) -> Floats:
    """Highest density first; each seed takes one ball's worth away from around it."""
    left = rate.copy()
    height, width = rate.shape
    x, y = np.arange(width), np.arange(height)
    seeds = np.zeros((n_points, 2))
    for k in range(n_points):
        smooth = cv2.GaussianBlur(left, (0, 0), 1.5, borderType=cv2.BORDER_CONSTANT)
        row, column = np.unravel_index(int(np.argmax(smooth)), smooth.shape)
        seeds[k] = column, row
        reach = np.exp(-0.5 * ((x[None] - column) ** 2 + (y[:, None] - row) ** 2) / SEED_SD_MM**2)
        want = left * reach
        left -= want * min(1.0, 1.0 / max(float(want.sum()), 1e-9))
    return seeds


def _settled(cells: Floats, shares: Floats, points: Floats) -> tuple[Floats, Floats]:
    """Moves each point to the place that has most of its own share within 4 mm (mean shift).

    The mean of a share that lies in two places is in neither, so the share's densest cell is tried as well.
    A soft disc a little narrower than the gate.
    """
    best, best_near = points, np.full(len(points), -1.0)
    for start in (points, cells[shares.argmax(axis=0)]):
        at = start
        for _ in range(6):
            far2 = ((cells[:, None] - at[None]) ** 2).sum(axis=2)
            near = shares * np.exp(-0.5 * far2 / 2.5**2)
            at = near.T @ cells / np.maximum(near.sum(axis=0)[:, None], 1e-9)
        far2 = ((cells[:, None] - at[None]) ** 2).sum(axis=2)
        own_near = (shares * (far2 <= GATE_MM**2)).sum(axis=0)
        better = own_near > best_near + 0.02
        best, best_near = np.where(better[:, None], at, best), np.where(better, own_near, best_near)
    return best, best_near
