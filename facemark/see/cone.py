"""The cone of sight that touches a ball: from places on its outline to a direction and an angle.

A ball's outline is where a cone of sight touches it, an ellipse in the picture that grows toward the corners
(metrology.md 3). Fitting the cone itself is exact anywhere in the picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array, Camera

N_ANGLES = 180  # looks outward from the middle
ON_LIMB_FRAC = 0.018  # an edge place within this of the radius belongs to the outline; assumed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cone:
    """Cone of sight touching the ball: unit ``axis`` (3,), half angle [rad] and one standard error of it."""

    axis: Array
    alpha_rad: float
    alpha_err_rad: float
    share_frac: float  # of the looks around that saw the outline
    gap_deg: float  # widest stretch without


def fit_cone(places_px: Array, look: NDArray[np.intp], camera: Camera) -> Cone | None:
    """The cone most places agree on; exact for any place in the picture.

    Unit rays of a cone's outline lie in a plane (ray . axis = cos alpha), so three of them give a cone. The
    best of a fixed list of triples spread round the outline, then least squares over those that agree.
    """
    if len(np.unique(look)) < 0.3 * N_ANGLES:
        return None
    rays = camera.rays(places_px)
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    order = np.argsort(look, kind="stable")
    rays, look = rays[order], look[order]
    best = _agreed_cone(rays)
    if best is None:
        return None
    axis, alpha_best = best
    keep = np.zeros(len(rays), bool)
    spread = 0.0
    for _ in range(8):
        side = np.cross(axis, [0.0, 1.0, 0.0])
        side /= np.linalg.norm(side)
        up = np.cross(side, axis)
        angle = np.arccos(np.clip(rays @ axis, -1, 1))
        keep = np.abs(angle - alpha_best) < ON_LIMB_FRAC * alpha_best
        if keep.sum() < 12:
            return None
        # Moving the axis toward a ray makes that ray's angle smaller by as much.
        toward = np.column_stack([rays @ side, rays @ up]) / np.sin(angle)[:, None]
        design = np.column_stack([toward, np.ones(len(rays))])[keep]
        move = np.linalg.lstsq(design, angle[keep], rcond=None)[0]
        spread = float(np.std(angle[keep] - design @ move))
        axis = axis + side * move[0] + up * move[1]
        axis /= np.linalg.norm(axis)
        alpha_best = float(move[2])
    looks = np.unique(look[keep])
    gaps = np.diff(np.append(looks, looks[0] + N_ANGLES))
    # Neighbouring looks share grass blades and dimples: about one in four is independent.
    return Cone(
        axis=axis,
        alpha_rad=alpha_best,
        alpha_err_rad=spread / math.sqrt(len(looks) / 4.0),
        share_frac=len(looks) / N_ANGLES,
        gap_deg=float(gaps.max()) * 360.0 / N_ANGLES,
    )


def _agreed_cone(rays: Array) -> tuple[Array, float] | None:
    """Axis and half angle of the cone through three of the unit rays that most others agree with."""
    n = len(rays)
    first = np.arange(0, n, max(1, n // 90))
    best, best_count = None, 0.0
    for one, two in ((n // 3, 2 * n // 3), (n // 4, n // 2), (n // 5, 3 * n // 5), (n // 6, n // 3)):
        a, b, c = rays[first], rays[(first + one) % n], rays[(first + two) % n]
        axes = np.cross(b - a, c - a)
        axes /= np.maximum(np.linalg.norm(axes, axis=1, keepdims=True), 1e-12)
        axes *= np.sign(axes[:, 2:] + 1e-12)
        alpha = np.arccos(np.clip(np.sum(axes * a, axis=1), -1, 1))
        off = np.abs(np.arccos(np.clip(axes @ rays.T, -1, 1)) - alpha[:, None])
        count = np.clip(1.0 - off / (1.5 * ON_LIMB_FRAC * alpha[:, None] + 1e-9), 0, None).sum(axis=1)
        count[(alpha < 0.005) | (alpha > 0.4)] = 0.0
        k = int(np.argmax(count))
        if count[k] > best_count:
            best, best_count = (axes[k], float(alpha[k])), float(count[k])
    return best


def polar(outline: Array) -> tuple[Array, Array]:
    """Middle (2,) of an outline and its radius at each look."""
    middle = outline.mean(axis=0)
    arm = outline - middle
    angle = np.arctan2(arm[:, 1], arm[:, 0]) % (2 * math.pi)
    order = np.argsort(angle)
    turn = np.arange(N_ANGLES) * (2 * math.pi / N_ANGLES)
    return middle, np.interp(turn, angle[order], np.linalg.norm(arm, axis=1)[order], period=2 * math.pi)


def outline_of_cone(axis: Array, alpha: float, camera: Camera) -> Array:
    """(72, 2) outline of the cone in pixels."""
    side = np.cross(axis, [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side)
    up = np.cross(side, axis)
    turn = np.linspace(0, 2 * math.pi, 72, endpoint=False)
    rays = math.cos(alpha) * axis + math.sin(alpha) * (
        np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * up
    )
    return camera.project(rays)
