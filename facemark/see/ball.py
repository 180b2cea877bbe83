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

from facemark.see.beside import SIZES_FRAC, Beside
from facemark.see.camera import Array, Camera
from facemark.see.cone import N_ANGLES, Cone, fit_cone, outline_of_cone, polar
from facemark.see.edges import LIGHT_FROM_CODE
from facemark.see.small import Small, shrink

# Equipment Rules: not less than 42.67 mm. Balls are made up to 0.3 % larger (from memory, metrology.md 1);
# the dark rim (LIMB_LEVEL) adds about as much again in either direction.
BALL_DIAMETER_MM = 42.67
BALL_ERR_FRAC = 0.006

VOTE_SIDE_PX = 320
MIN_RADIUS_FRAC, MAX_RADIUS_FRAC = 0.014, 0.22  # of the picture's long side: 1.4 m away to 10 cm
RADIUS_STEP = 1.12
N_CHANNELS = 3
MAX_TRIED = 6  # a channel
MAX_CHECKED = 2  # where the ball only checks another object; assumed
MIN_FINE_RADIUS_PX = 60.0  # edges repeat to 0.1 px, so this is good for 0.2 %
# Where between ground (0) and ball (1) the outline lies. Half-way were right for a flat white disc; a dimpled
# sphere darkens over its last few percent, which costs 1 % of radius on path-traced balls; between the two.
LIMB_LEVEL = 0.4
BLUR_GAP_PX = 3.0  # an edge is blurred over about this much
MIN_CONTRAST_FRAC = 0.10  # (inside - outside) / (inside + outside) in light
MIN_LIMB_FRAC = 0.52  # share of the outline that must be seen
PLAIN_SCORE_FRAC = 0.75  # with this much of the outline seen, no other channel is asked; assumed
MAX_GAP_DEG = 165.0  # widest stretch of outline hidden
MAX_HUE_SPREAD = 0.07  # a yellow ball is bluer in its shade; skin and grass vary more
MIN_SHADE_FRAC = 0.04  # a sphere is at least this much darker somewhere near its rim; a flat disc is not


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BallFind:
    """A ball: ``centre_cam_mm`` (3,), ``limb_px`` (K, 2) its outline; ``size_err_frac`` one standard error
    of its angular size; ``score_frac`` share of the outline that was seen."""

    centre_cam_mm: Array
    limb_px: Array
    size_err_frac: float
    score_frac: float


def find_ball(
    pixels: NDArray[np.uint8],
    camera: Camera,
    *,
    near_px: Array | None = None,
    small: Small | None = None,
    beside: Beside | None = None,
) -> BallFind | None:
    """Find the ball.

    Parameters
    ----------
    pixels : (H, W, 3) uint8
        The photo, RGB.
    camera : Camera
    near_px : (2,), optional
        The face's centre; what covers it is not the ball.
    small : Small, optional
        ``shrink(pixels)``, if at hand.
    beside : Beside, optional
        The ball only checks another object: it must be plain to see, and of about the size expected.

    Returns
    -------
    BallFind, or None when nothing in the photo passes for a golf ball.
    """
    small = shrink(pixels) if small is None else small
    tiny = shrink(small.pixels, VOTE_SIDE_PX)
    found: list[BallFind] = []
    shrunk = tiny.factor * small.factor
    radii = np.array([MIN_RADIUS_FRAC, MAX_RADIUS_FRAC]) * max(tiny.pixels.shape)
    if beside is not None:
        radii = np.clip(np.array(SIZES_FRAC) * beside.px_per_mm * BALL_DIAMETER_MM / 2 / shrunk, *radii)
    for channel in range(N_CHANNELS if beside is None else 1):
        tried = 0
        for x, y, radius in _votes(_channel(tiny.pixels, channel), radii[0], radii[1]):
            middle = small.px_from_small(tiny.px_from_small(np.array([x, y])))
            rough = np.array([*middle, radius * shrunk])
            if beside is not None:
                if tried >= MAX_CHECKED or not beside.could_hold(_circle(rough), BALL_DIAMETER_MM):
                    continue
                tried += 1
            if near_px is not None and np.linalg.norm(rough[:2] - near_px) < rough[2]:
                continue
            if any(_same(ball, rough) for ball in found):
                continue
            ball = _measure(pixels, small, camera, rough, channel)
            if ball is None or (beside is not None and ball.score_frac < PLAIN_SCORE_FRAC):
                continue
            if not (near_px is not None and _covers(ball, near_px)):
                found.append(ball)
        if found and max(ball.score_frac for ball in found) > PLAIN_SCORE_FRAC:
            break
    return max(found, key=lambda ball: ball.score_frac) if found else None


def _circle(rough: Array) -> Array:
    """(24, 2) outline of a candidate."""
    turn = np.linspace(0, 2 * math.pi, 24, endpoint=False)
    return np.asarray(rough[:2] + rough[2] * np.column_stack([np.cos(turn), np.sin(turn)]))


def _same(ball: BallFind, rough: Array) -> bool:
    """Was this candidate measured already?"""
    middle = ball.limb_px.mean(axis=0)
    return float(np.linalg.norm(middle - rough[:2])) < 0.5 * float(np.ptp(ball.limb_px[:, 0]))


def _covers(ball: BallFind, px: Array) -> bool:
    """Does the ball, and a little more, cover this pixel?"""
    outline = ball.limb_px.mean(axis=0) + 1.15 * (ball.limb_px - ball.limb_px.mean(axis=0))
    return cv2.pointPolygonTest(outline.astype(np.float32), (float(px[0]), float(px[1])), False) >= 0


def _channel(colour: NDArray[np.uint8] | NDArray[np.float32], which: int) -> NDArray[np.float32]:
    """(h, w) one of three ways colour sets a ball off: white on coloured, bright, coloured on grey."""
    red, green, blue = cv2.split(np.asarray(colour, np.float32))
    if which == 1:
        return np.asarray((red + green + blue) / 3, np.float32)
    least = cv2.min(cv2.min(red, green), blue)
    if which == 0:
        return np.asarray(least, np.float32)
    return np.asarray(cv2.max(cv2.max(red, green), blue) - least, np.float32)


def _votes(channel: NDArray[np.float32], least: float, most: float) -> list[tuple[float, float, float]]:
    """(x, y, radius) of the best round bright things of ``least`` to ``most`` radius in a tiny picture."""
    smooth = cv2.GaussianBlur(channel, (0, 0), 1.0)
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
    radius = least
    peaks: list[tuple[float, float, float, float]] = []
    while radius < most:
        # The gradient points up-light, from the ground into the ball: one vote each, at this radius.
        cx, cy = np.rint(x + radius * ux).astype(int), np.rint(y + radius * uy).astype(int)
        inside = (cx >= 0) & (cx < width) & (cy >= 0) & (cy < height)
        tally = np.bincount(cy[inside] * width + cx[inside], minlength=height * width)
        blur = max(1.0, 0.07 * radius)
        field = cv2.GaussianBlur(tally.reshape(height, width).astype(np.float32), (0, 0), blur)
        # A whole circle of votes that all fall within the blur gives about 1.
        field *= blur**2 / radius
        top = cv2.dilate(field, np.ones((5, 5), np.uint8))
        for row, column in np.argwhere((field == top) & (field > 0.25)):
            # Small circles come together by chance; large ones hardly.
            peaks.append((float(field[row, column]) * math.sqrt(radius), float(column), float(row), radius))
        radius *= RADIUS_STEP
    chosen: list[tuple[float, float, float]] = []
    for _, px, py, r in sorted(peaks, reverse=True):
        if all(math.hypot(px - a, py - b) > 0.25 * r or not 0.75 < r / c < 1.33 for a, b, c in chosen):
            chosen.append((px, py, r))
        if len(chosen) >= MAX_TRIED:
            break
    return chosen


def _measure(
    pixels: NDArray[np.uint8], small: Small, camera: Camera, rough: Array, channel: int
) -> BallFind | None:
    """The candidate measured along its outline, or None if it is no ball."""
    # The small copy will do for a ball that is still large in it.
    coarse = rough[2] / small.factor >= MIN_FINE_RADIUS_PX
    base, factor = (small.pixels, small.factor) if coarse else (pixels, 1)
    radius = float(rough[2]) / factor
    middle = (rough[:2] + 0.5) / factor - 0.5
    low = np.maximum(np.floor(middle - 1.6 * radius).astype(int), 0)
    high = np.minimum(np.ceil(middle + 1.6 * radius).astype(int) + 1, [base.shape[1], base.shape[0]])
    crop = base[low[1] : high[1], low[0] : high[0]]
    if min(crop.shape[:2]) < 8:
        return None
    fine = cv2.GaussianBlur(cv2.LUT(crop, LIGHT_FROM_CODE), (0, 0), 0.8)
    start = np.array([*(middle - low), radius])
    centre, radii = start[:2], np.full(N_ANGLES, start[2])
    cone: Cone | None = None
    for reach in (0.30, 0.16, 0.12):
        places, of_look = _limb(fine, channel, centre, radii, reach)
        cone = fit_cone((places + low + 0.5) * factor - 0.5, of_look, camera)
        if cone is None or cone.share_frac < 0.6 * MIN_LIMB_FRAC:
            return None
        centre, radii = polar((outline_of_cone(cone.axis, cone.alpha_rad, camera) + 0.5) / factor - 0.5 - low)
        if not 0.6 < radii.mean() / start[2] < 1.6:
            return None
    if cone is None or cone.share_frac < MIN_LIMB_FRAC or cone.gap_deg > MAX_GAP_DEG:
        return None
    if not _like_ball(fine, np.array([*centre, radii.mean()])):
        return None
    return BallFind(
        centre_cam_mm=cone.axis * (BALL_DIAMETER_MM / 2 / math.sin(cone.alpha_rad)),
        limb_px=outline_of_cone(cone.axis, cone.alpha_rad, camera),
        size_err_frac=cone.alpha_err_rad / math.tan(cone.alpha_rad),
        score_frac=cone.share_frac,
    )


def _limb(
    light: NDArray[np.float32], channel: int, centre: Array, radii: Array, reach_frac: float
) -> tuple[Array, NDArray[np.intp]]:
    """Places (K, 2) where looks from the middle outward cross a fall of light, and the look (K,) of each.

    Two places a look: the sharpest fall, and the outermost one at least half as sharp, because a dimple's
    shadow just inside the rim may be sharper than the rim.
    """
    turn = np.arange(N_ANGLES) * (2 * math.pi / N_ANGLES)
    typical = float(radii.mean())
    share = np.linspace(1 - reach_frac, 1 + reach_frac, int(np.clip(4 * reach_frac * typical, 24, 160)))
    direction = np.column_stack([np.cos(turn), np.sin(turn)])
    reach = radii[:, None] * share
    grid = centre + reach[:, :, None] * direction[:, None, :]
    seen = cv2.remap(
        light,
        grid.astype(np.float32),
        None,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    value = _channel(seen, channel)
    # Mean light just inside and just outside of every place along the look, with a gap for the blur between.
    wide = max(2, round(0.04 / (share[1] - share[0])))
    gap = max(2, round(BLUR_GAP_PX / (typical * (share[1] - share[0]))))
    apart = wide + min(gap, len(share) // 4)
    total = np.cumsum(np.pad(value, ((0, 0), (1, 0))), axis=1)
    mean = (total[:, wide:] - total[:, :-wide]) / wide
    inner, outer = mean[:, :-apart], mean[:, apart:]
    contrast = (inner - outer) / (np.abs(inner) + np.abs(outer) + 3.0)
    # Where a look leaves the picture, what it would see there is not known.
    limit = np.array([light.shape[1], light.shape[0]]) - 1.0
    contrast[np.any((grid[:, -1] < 0) | (grid[:, -1] > limit), axis=1)] = 0.0
    most = contrast.max(axis=1)
    sharpest = np.argmax(contrast, axis=1)
    last = contrast.shape[1] - 1 - np.argmax((contrast >= 0.5 * most[:, None])[:, ::-1], axis=1)
    # From the outer end of that stretch back to its own peak.
    outermost = np.array(
        [
            lo + int(np.argmax(row[lo : hi + 1]))
            for row, lo, hi in zip(contrast, np.maximum(last - wide, 0), last, strict=True)
        ]
    )
    places, looks = [], []
    for at in (sharpest, outermost):
        index, ok = _half_way(value, inner, outer, at, 0.5 * (wide + apart) - 0.5)
        ok &= (contrast[np.arange(N_ANGLES), at] > MIN_CONTRAST_FRAC) & (most > 0)
        if at is outermost:
            ok &= outermost > sharpest + wide
        radius = radii * (share[0] + index * (share[1] - share[0]))
        places.append((centre + radius[:, None] * direction)[ok])
        looks.append(np.flatnonzero(ok))
    return np.vstack(places), np.concatenate(looks)


def _half_way(
    value: Array, inner: Array, outer: Array, at: NDArray[np.intp], shift: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Fractional index where each row falls through ``LIMB_LEVEL``, nearest to the step found at ``at``."""
    rows = np.arange(len(value))
    level = LIMB_LEVEL * inner[rows, at] + (1 - LIMB_LEVEL) * outer[rows, at]
    falls = (value[:, :-1] >= level[:, None]) & (value[:, 1:] < level[:, None])
    away = np.abs(np.arange(value.shape[1] - 1) + 0.5 - (at + shift)[:, None])
    best = np.argmin(np.where(falls, away, 1e6), axis=1)
    drop = np.maximum(value[rows, best] - value[rows, best + 1], 1e-9)
    return best + (value[rows, best] - level) / drop, falls[rows, best]


def _like_ball(light: NDArray[np.float32], circle: Array) -> bool:
    """One colour inside, smoothly and roundly shaded."""
    y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    u, v = (x - circle[0]) / circle[2], (y - circle[1]) / circle[2]
    rho2 = u * u + v * v
    inside = rho2 < 0.93**2
    if inside.sum() < 60:
        return False
    colour = light[inside]
    # Roots, as the eye and a JPEG see it: the dark side of a ball in the sun counts too.
    grey = np.sqrt(colour.mean(axis=1))
    # One colour: the share of each channel hardly changes from place to place.
    hue = colour / (colour.sum(axis=1, keepdims=True) + 6.0)
    spread = np.median(np.abs(hue - np.median(hue, axis=0)), axis=0).max()
    if spread > MAX_HUE_SPREAD:
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
    return rough < 0.16 and odd < 0.15 and shade > MIN_SHADE_FRAC
