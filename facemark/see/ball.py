"""Is there a golf ball in the photo, and how far away is it?

A ball is a sphere: its outline is where a cone of sight touches it, an ellipse that grows toward the
picture's corners by up to 10 % (metrology.md 3), so a plain circle would measure it wrong. Here the cone
itself is fitted: every outline pixel is a ray at one angle from the ray to the centre, and
sin(angle) = radius / distance exactly. Candidates come from gradient voting in a tiny copy (edges pointing
from dark ground to a bright ball); grass blades, fingers and a shaded underside hide part of the outline,
so half of it is enough.

What is taken for a ball must be one colour inside, brighter than what surrounds it, and shaded round like a
sphere: a round sticker or a bright hole in the powder is flat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array, Camera
from facemark.see.edges import LIGHT_FROM_CODE

# Equipment Rules: not less than 42.67 mm. Balls are made up to 0.3 % larger (from memory, metrology.md 1).
BALL_DIAMETER_MM = 42.67
BALL_ERR_FRAC = 0.0015

VOTE_SIDE_PX = 320
MIN_RADIUS_FRAC, MAX_RADIUS_FRAC = 0.014, 0.22  # of the picture's long side: 1.4 m away to 10 cm
RADIUS_STEP = 1.12
MAX_TRIED = 8
FINE_RADIUS_PX = 110.0  # edges are measured at this size: 0.1 px is then 0.1 %
N_ANGLES = 180
MIN_CONTRAST_FRAC = 0.10  # (inside - outside) / (inside + outside) in light
ON_LIMB_FRAC = 0.018  # an edge place within this of the radius belongs to the outline
MIN_LIMB_FRAC = 0.45  # share of the outline that must be seen
MIN_SHADE_FRAC = 0.06  # a sphere is at least this much darker somewhere near its rim; a flat disc is not


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BallFind:
    """A ball: ``centre_cam_mm`` (3,), ``limb_px`` (K, 2) its outline; ``size_err_frac`` one standard error
    of its angular size; ``score`` share of the outline that was seen."""

    centre_cam_mm: Array
    limb_px: Array
    size_err_frac: float
    score: float


def find_ball(pixels: NDArray[np.uint8], camera: Camera, *, near_px: Array | None = None) -> BallFind | None:
    """Find the ball.

    Parameters
    ----------
    pixels : (H, W, 3) uint8
        The photo, RGB.
    camera : Camera
    near_px : (2,), optional
        The face's centre; what covers it is not the ball.

    Returns
    -------
    BallFind, or None when nothing in the photo passes for a golf ball.
    """
    factor = max(1, round(max(pixels.shape[:2]) / VOTE_SIDE_PX))
    height, width = pixels.shape[0] // factor, pixels.shape[1] // factor
    tiny = cv2.resize(
        pixels[: height * factor, : width * factor], (width, height), interpolation=cv2.INTER_AREA
    )
    # The least of the three channels sets white off against anything coloured; brightness finds yellow balls.
    for channel in (tiny.min(axis=2), cv2.cvtColor(tiny, cv2.COLOR_RGB2GRAY)):
        found = []
        for x, y, radius in _votes(np.asarray(channel, np.uint8)):
            rough = np.array([(x + 0.5) * factor - 0.5, (y + 0.5) * factor - 0.5, radius * factor])
            ball = _measure(pixels, camera, rough)
            if ball is None:
                continue
            centre = camera.project(ball.centre_cam_mm)[0]
            radius_px = float(np.linalg.norm(ball.limb_px - centre, axis=1).mean())
            if near_px is not None and np.linalg.norm(centre - near_px) < 1.05 * radius_px:
                continue
            found.append(ball)
        if found:
            return max(found, key=lambda ball: ball.score)
    return None


def _votes(channel: NDArray[np.uint8]) -> list[tuple[float, float, float]]:
    """(x, y, radius) of the best round bright things in a tiny picture."""
    smooth = cv2.GaussianBlur(channel.astype(np.float32), (0, 0), 1.0)
    gx, gy = (
        cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=0.125),
        cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=0.125),
    )
    size = np.hypot(gx, gy)
    # Against the light of the place, so that a ball in the shade votes as loudly as one in the sun.
    relative = size / (cv2.GaussianBlur(smooth, (0, 0), 4.0) + 8.0)
    strong = relative > max(0.02, float(np.quantile(relative, 0.88)))
    y, x = np.nonzero(strong)
    ux, uy = gx[y, x] / size[y, x], gy[y, x] / size[y, x]
    height, width = channel.shape
    long_side = max(height, width)
    radius = MIN_RADIUS_FRAC * long_side
    peaks: list[tuple[float, float, float, float]] = []
    while radius < MAX_RADIUS_FRAC * long_side:
        # The gradient points up-light, from the ground into the ball: one vote each, at this radius.
        cx, cy = np.rint(x + radius * ux).astype(int), np.rint(y + radius * uy).astype(int)
        inside = (cx >= 0) & (cx < width) & (cy >= 0) & (cy < height)
        tally = np.bincount(cy[inside] * width + cx[inside], minlength=height * width)
        blur = max(1.0, 0.07 * radius)
        field = cv2.GaussianBlur(tally.reshape(height, width).astype(np.float32), (0, 0), blur)
        # A whole circle of votes that all fall within the blur gives about 1.
        field *= 2 * math.pi * blur**2 / (2 * math.pi * radius)
        top = cv2.dilate(field, np.ones((5, 5), np.uint8))
        for row, column in np.argwhere((field == top) & (field > 0.25)):
            peaks.append((float(field[row, column]), float(column), float(row), radius))
        radius *= RADIUS_STEP
    chosen: list[tuple[float, float, float]] = []
    for _, px, py, r in sorted(peaks, reverse=True):
        if all(math.hypot(px - a, py - b) > 0.25 * r or not 0.75 < r / c < 1.33 for a, b, c in chosen):
            chosen.append((px, py, r))
        if len(chosen) >= MAX_TRIED:
            break
    return chosen


def _measure(pixels: NDArray[np.uint8], camera: Camera, rough: Array) -> BallFind | None:
    """The candidate measured along its outline, or None if it is no ball."""
    radius = float(rough[2])
    shrink = max(1.0, radius / FINE_RADIUS_PX)
    low = np.maximum(np.floor(rough[:2] - 1.6 * radius).astype(int), 0)
    high = np.minimum(np.ceil(rough[:2] + 1.6 * radius).astype(int) + 1, [pixels.shape[1], pixels.shape[0]])
    crop = pixels[low[1] : high[1], low[0] : high[0]]
    if min(crop.shape[:2]) < 8:
        return None
    size = np.maximum(np.round(np.array([crop.shape[1], crop.shape[0]]) / shrink).astype(int), 4)
    scale = np.array([crop.shape[1], crop.shape[0]]) / size
    fine = cv2.LUT(cv2.resize(crop, tuple(size.tolist()), interpolation=cv2.INTER_AREA), LIGHT_FROM_CODE)
    fine = cv2.GaussianBlur(fine, (0, 0), 0.8)
    circle = np.array([*((rough[:2] - low + 0.5) / scale - 0.5), radius / float(scale.mean())])
    for reach in (0.30, 0.16):
        limb = _limb(fine, circle, reach)
        fitted = _circle(limb, circle)
        if fitted is None or not 0.6 < fitted[2] / circle[2] < 1.6:
            return None
        circle = fitted
    limb = _limb(fine, circle, 0.12)
    away = np.abs(np.linalg.norm(limb - circle[:2], axis=1) - circle[2])
    on = away < ON_LIMB_FRAC * circle[2] + 0.5
    share = float(np.sum(on)) / N_ANGLES
    if share < MIN_LIMB_FRAC or _gap_deg(limb[on] - circle[:2]) > 160.0 or not _like_ball(fine, circle):
        return None
    cone = _cone((limb[on] + 0.5) * scale - 0.5 + low, camera)
    if cone is None:
        return None
    axis, alpha, err = cone
    distance = BALL_DIAMETER_MM / 2 / math.sin(alpha)
    return BallFind(
        centre_cam_mm=axis * distance,
        limb_px=_cone_px(axis, alpha, camera),
        size_err_frac=err / math.tan(alpha),
        score=share,
    )


def _limb(light: NDArray[np.float32], circle: Array, reach_frac: float) -> Array:
    """(K, 2) places where the outline crosses rays from the circle's middle."""
    turn = np.arange(N_ANGLES) * (2 * math.pi / N_ANGLES)
    step = 0.5
    offsets = np.arange(-reach_frac * circle[2], reach_frac * circle[2] + step, step)
    if len(offsets) < 9:
        offsets = np.linspace(-reach_frac * circle[2], reach_frac * circle[2], 9)
        step = float(offsets[1] - offsets[0])
    reach = circle[2] + offsets
    direction = np.column_stack([np.cos(turn), np.sin(turn)])
    grid = circle[:2] + reach[None, :, None] * direction[:, None, :]
    seen = cv2.remap(
        light,
        grid.astype(np.float32),
        None,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=-1.0,
    )
    value = np.asarray(seen, float).min(axis=2)
    outside_picture = np.any(value < 0, axis=1)
    # Mean light just inside and just outside of every place along the look.
    wide = max(2, round(0.045 * circle[2] / step))
    total = np.cumsum(np.pad(value, ((0, 0), (1, 0))), axis=1)
    mean = (total[:, wide:] - total[:, :-wide]) / wide
    inner, outer = mean[:, :-wide], mean[:, wide:]
    contrast = (inner - outer) / (inner + outer + 3.0)
    at = np.argmax(contrast, axis=1)
    rows = np.arange(N_ANGLES)
    level = 0.5 * (inner[rows, at] + outer[rows, at])
    middle = at + wide - 0.5
    # Half-way crossing nearest to the steepest place.
    falls = (value[:, :-1] >= level[:, None]) & (value[:, 1:] < level[:, None])
    index = np.arange(value.shape[1] - 1)
    best = np.argmin(np.where(falls, np.abs(index + 0.5 - middle[:, None]), 1e6), axis=1)
    drop = np.maximum(value[rows, best] - value[rows, best + 1], 1e-9)
    place = best + (value[rows, best] - level) / drop
    good = falls[rows, best] & (contrast[rows, at] > MIN_CONTRAST_FRAC) & ~outside_picture
    radius = reach[0] + place * step
    return np.asarray((circle[:2] + radius[:, None] * direction)[good])


def _circle(points: Array, guess: Array) -> Array | None:
    """Robust circle (x, y, radius): the best of many through three points, then least squares on its own."""
    if len(points) < 0.3 * N_ANGLES:
        return None
    # Every third is drawn far apart on purpose; a fixed list of triples keeps the search repeatable.
    n = len(points)
    first = np.arange(n)
    best, best_count = guess, -1.0
    for one, two in ((n // 3, 2 * n // 3), (n // 4, n // 2), (n // 5, 3 * n // 5), (n // 6, n // 3)):
        a, b, c = points[first], points[(first + one) % n], points[(first + two) % n]
        centre, radius = _through(a, b, c)
        away = np.abs(np.linalg.norm(points[None] - centre[:, None], axis=2) - radius[:, None])
        inlier = np.clip(1.0 - away / (ON_LIMB_FRAC * radius[:, None] + 0.5), 0, None).sum(axis=1)
        inlier[~np.isfinite(inlier) | (np.abs(np.log(radius / guess[2])) > 0.5)] = -1.0
        k = int(np.argmax(inlier))
        if inlier[k] > best_count:
            best, best_count = np.array([*centre[k], radius[k]]), float(inlier[k])
    if best_count < 0:
        return None
    for _ in range(5):
        away = np.linalg.norm(points - best[:2], axis=1) - best[2]
        on = np.abs(away) < ON_LIMB_FRAC * best[2] + 0.5
        if on.sum() < 12:
            return None
        p = points[on]
        design = np.column_stack([2 * p, np.ones(len(p))])
        x, y, c = np.linalg.lstsq(design, np.sum(p**2, axis=1), rcond=None)[0]
        best = np.array([x, y, math.sqrt(max(c + x * x + y * y, 1.0))])
    return best


def _through(a: Array, b: Array, c: Array) -> tuple[Array, Array]:
    """Centres (N, 2) and radii (N,) of circles through three points each."""
    ab, ac = b - a, c - a
    area = 2 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
    area = np.where(np.abs(area) < 1e-6, 1e-6, area)
    ab2, ac2 = np.sum(ab**2, axis=1), np.sum(ac**2, axis=1)
    shift = np.column_stack(
        [(ac[:, 1] * ab2 - ab[:, 1] * ac2) / area, (ab[:, 0] * ac2 - ac[:, 0] * ab2) / area]
    )
    return a + shift, np.maximum(np.linalg.norm(shift, axis=1), 1e-3)


def _gap_deg(offsets: Array) -> float:
    """Widest stretch of the outline with nothing seen."""
    turn = np.sort(np.degrees(np.arctan2(offsets[:, 1], offsets[:, 0])))
    return float(np.max(np.diff(np.append(turn, turn[0] + 360.0))))


def _like_ball(light: NDArray[np.float32], circle: Array) -> bool:
    """One colour inside, smoothly and roundly shaded."""
    y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    u, v = (x - circle[0]) / circle[2], (y - circle[1]) / circle[2]
    rho2 = u * u + v * v
    inside = rho2 < 0.93**2
    if inside.sum() < 60:
        return False
    colour = light[inside]
    grey = colour.mean(axis=1)
    # One colour: the share of each channel hardly changes from place to place.
    hue = colour / (colour.sum(axis=1, keepdims=True) + 6.0)
    spread = np.median(np.abs(hue - np.median(hue, axis=0)), axis=0).max()
    if spread > 0.03:
        return False
    # Lambert's sphere, with light from everywhere and from one side: linear in the surface normal.
    nz = np.sqrt(1.0 - rho2[inside])
    design = np.column_stack([np.ones(len(grey)), u[inside], v[inside], nz, u[inside] ** 2, v[inside] ** 2])
    weight = np.ones(len(grey))
    model = grey
    for _ in range(4):
        coefficient = np.linalg.lstsq(design * weight[:, None], grey * weight, rcond=None)[0]
        model = design @ coefficient
        off = np.abs(grey - model)
        weight = 1.0 / (1.0 + (off / (3.0 * np.median(off) + 1e-3)) ** 2)
    middle = float(np.median(grey))
    rough = float(np.median(np.abs(grey - model))) / middle
    odd = float(np.mean(np.abs(grey - model) > 0.35 * middle))
    rim = rho2[inside] > 0.80**2
    shade = 1.0 - float(np.quantile(model[rim], 0.15) / np.quantile(model, 0.9))
    return rough < 0.12 and odd < 0.22 and shade > MIN_SHADE_FRAC


def _cone(limb_px: Array, camera: Camera) -> tuple[Array, float, float] | None:
    """Cone of sight that touches the ball: unit axis (3,), half angle [rad], one standard error of the angle.

    Robust Gauss-Newton on angle(ray, axis) - half angle; exact for any place in the picture.
    """
    rays = camera.rays(limb_px)
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    axis = rays.mean(axis=0)
    axis /= np.linalg.norm(axis)
    alpha, spread = 0.0, 0.0
    keep = np.ones(len(rays), bool)
    for _ in range(12):
        side = np.cross(axis, [0.0, 1.0, 0.0])
        side /= np.linalg.norm(side)
        up = np.cross(side, axis)
        angle = np.arccos(np.clip(rays @ axis, -1, 1))
        if keep.sum() < 12:
            return None
        # Moving the axis toward a ray makes that ray's angle smaller by as much.
        toward = np.column_stack([rays @ side, rays @ up]) / np.sin(angle)[:, None]
        design = np.column_stack([toward, np.ones(len(rays))])
        move = np.linalg.lstsq(design[keep], angle[keep], rcond=None)[0]
        alpha = float(move[2])
        axis = axis + side * move[0] + up * move[1]
        axis /= np.linalg.norm(axis)
        off = angle - design @ move
        spread = max(1.4826 * float(np.median(np.abs(off[keep]))), 1e-6)
        keep = np.abs(off) < 3.0 * spread
    # Neighbouring looks share grass blades and dimples: about one in four is independent.
    return axis, alpha, spread / math.sqrt(keep.sum() / 4.0)


def _cone_px(axis: Array, alpha: float, camera: Camera) -> Array:
    """(72, 2) outline of the cone in pixels."""
    side = np.cross(axis, [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side)
    up = np.cross(side, axis)
    turn = np.linspace(0, 2 * math.pi, 72, endpoint=False)
    rays = math.cos(alpha) * axis + math.sin(alpha) * (
        np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * up
    )
    return camera.project(rays)
