"""Is there a bank-card-sized card in the photo, and where exactly are its edges?

Any ID-1 card (ISO/IEC 7810: 85.60 x 53.98 mm, corners rounded with 2.88-3.48 mm), plain side up, any colour,
fingers over a part of it allowed. Straight pieces of edge are found in a small copy (line segment detector,
Grompone von Gioi 2010, in OpenCV) and put together to four-sided figures; the few best are measured in the
full picture: four edges as exact lines, because the corners are round. What is taken for a card must be
a flat rectangle of the right proportion seen from a possible place, with rounded corners and a plain inside;
a book, a sheet of paper or a phone is none of that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.beside import Beside
from facemark.see.camera import Array, Camera
from facemark.see.card_figures import LOOKS, figures, mended
from facemark.see.edges import LIGHT_FROM_CODE, Line, colour_side_line, meet
from facemark.see.plane import PlaneFit, Shape, fit_plane
from facemark.see.small import Small, shrink

CARD_LENGTH_MM = 85.60  # ISO/IEC 7810, ID-1; manufacturing spread 0.1 %
CARD_HEIGHT_MM = 53.98
CARD_DIAGONAL_MM = math.hypot(CARD_LENGTH_MM, CARD_HEIGHT_MM)
CORNER_RADIUS_MM = 3.18  # 2.88 to 3.48
CARD_SIZE_ERR_FRAC = 0.001

WORK_SIDE_PX = 640
# Sum of squares of corner misses and of tilt, each over what is expected: true cards stay below 10 up to 37
# degrees of tilt, everything else met so far was above 39. A tilt of 45 degrees alone costs 14.
MAX_COST = 20.0
MIN_ROUNDNESS = 0.25  # rounded corners outnumber sharp ones by one at least
MIN_PLAIN_FRAC = 0.6
MIN_PLAIN_SMALL_FRAC = 0.85
ROUGH_SHAPE_FRAC = 0.12  # how far a first, 2 px rough outline may miss the card's proportion
MENDED_REACH_PX = 6.0  # of the small copy: how far a mended figure may miss a card's edges; assumed
# Of each side, and of all four together, must be seen; chosen on drawn cards of a development seed.
LEAST_SIDE_FRAC, LEAST_SEEN_SIDES = 0.3, 2.2
MOST_SHADE_RATIO = 8.0  # light over shade along the inside of the sides: a stop more than open shade; assumed
MIN_ROUND_PX_PER_MM = 3.0  # from here on a corner of 3 mm radius can be told from a sharp one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardFind:
    """A card: ``corners_px`` (4, 2) where its edges meet, clockwise; ``plane`` it lies in."""

    corners_px: Array
    plane: PlaneFit
    score_frac: float


def find_card(
    pixels: NDArray[np.uint8], camera: Camera, *, small: Small | None = None, beside: Beside | None = None
) -> CardFind | None:
    """Find the card.

    Parameters
    ----------
    pixels : (H, W, 3) uint8
        The photo, RGB.
    camera : Camera
    small : Small, optional
        ``shrink(pixels)``, if at hand.
    beside : Beside, optional
        The card only checks another object: plain patches of about its size are looked at, and no more.

    Returns
    -------
    CardFind, or None when nothing in the photo passes for an ID-1 card.
    """
    small = shrink(pixels) if small is None else small
    factor = min(1.0, WORK_SIDE_PX / max(small.pixels.shape[:2]))
    size = (round(small.pixels.shape[1] * factor), round(small.pixels.shape[0] * factor))
    work = np.asarray(cv2.resize(small.pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    lab = np.asarray(cv2.cvtColor(work, cv2.COLOR_RGB2LAB), np.uint8)
    scale = np.array([small.pixels.shape[1], small.pixels.shape[0]]) / size * small.factor
    segments, patches = np.zeros((0, 4)), []
    for looks in LOOKS if beside is None else LOOKS[:1]:
        quads, segments = figures(lab, segments, looks)
        if not looks:
            patches = quads
        if beside is not None:
            at = [(quad + 0.5) * scale - 0.5 for quad in quads]
            quads = [q for q, px in zip(quads, at, strict=True) if beside.could_hold(px, CARD_DIAGONAL_MM)]
        cards = _cards(pixels, camera, quads, work, scale)
        if cards or beside is not None:
            return max(cards, key=lambda card: card.score_frac, default=None)
    # A patch may be a card with one corner lost to a finger or to the ground, and misses the edges by far:
    # the small copy brings it near first.
    tried = [quad for patch in patches for quad in mended(patch)]
    tried = [quad for quad in tried if _plainness_if_card(camera, quad, work, scale) is not None]
    near = [_edges(work, quad, reach_px=MENDED_REACH_PX) for quad in tried]
    cards = _cards(pixels, camera, [edges[0] for edges in near if edges is not None], work, scale)
    return max(cards, key=lambda card: card.score_frac, default=None)


def _cards(
    pixels: NDArray[np.uint8], camera: Camera, quads: list[Array], work: NDArray[np.uint8], scale: Array
) -> list[CardFind]:
    """Those of the figures in the small copy that are cards, with exact edges."""
    found = [_measure(pixels, camera, quad, work, scale) for quad in quads]
    return [card for card in found if card is not None]


def _plainness_if_card(camera: Camera, quad: Array, work: NDArray[np.uint8], scale: Array) -> float | None:
    """How plain the figure in the small copy is; None if it is too motley or too crooked for a card."""
    # Cheap questions first: most candidates are half a face, or two grass blades and a shaft.
    if _unlike_rectangle(camera, (quad + 0.5) * scale - 0.5) > ROUGH_SHAPE_FRAC:
        return None
    plain = _plainness(work, quad)
    return plain if plain >= MIN_PLAIN_FRAC else None


def _measure(
    pixels: NDArray[np.uint8], camera: Camera, quad: Array, work: NDArray[np.uint8], scale: Array
) -> CardFind | None:
    """The candidate, (4, 2) in the small copy, with exact edges, or None if it is no ID-1 card."""
    plain = _plainness_if_card(camera, quad, work, scale)
    if plain is None:
        return None
    rough_px = (quad + 0.5) * scale - 0.5
    edges = _edges(pixels, rough_px, reach_px=4.0 * float(scale.max()))
    if edges is None:
        return None
    corners, lines, contrast = edges
    within = [float(inside.sum()) for inside, _ in contrast]
    if max(within) > MOST_SHADE_RATIO * min(within):
        return None  # black at one side and white at another: a printed pattern, no shadow
    plane = _pose(camera, corners, lines)
    if plane.cost_frac > MAX_COST:
        return None
    roundness = _roundness(pixels, corners, contrast)
    # Where the corners are too small to be seen, the inside must be the plainer.
    if roundness < MIN_ROUNDNESS and (roundness < 0 or plain < MIN_PLAIN_SMALL_FRAC):
        return None
    seen = float(np.mean([line.seen_frac for line in lines]))
    score = seen + 0.5 * roundness + 0.5 * plain - plane.cost_frac / MAX_COST
    return CardFind(corners_px=corners, plane=plane, score_frac=score)


def _edges(
    pixels: NDArray[np.uint8], rough_px: Array, *, reach_px: float
) -> tuple[Array, list[Line], list[tuple[Array, Array]]] | None:
    """Exact corners, the four lines and (inside, outside) colour of each side."""
    low = np.maximum(np.floor(rough_px.min(axis=0) - 3 * reach_px).astype(int), 0)
    high = np.ceil(rough_px.max(axis=0) + 3 * reach_px).astype(int)
    high = np.minimum(high, [pixels.shape[1], pixels.shape[0]])
    light = cv2.LUT(pixels[low[1] : high[1], low[0] : high[0]], LIGHT_FROM_CODE)
    corners = rough_px - low
    lines: list[Line] = []
    contrast: list[tuple[Array, Array]] = []
    for reach in (reach_px, max(0.4 * reach_px, 4.0)):
        sides = [colour_side_line(light, corners[i], corners[(i + 1) % 4], reach_px=reach) for i in range(4)]
        known = [side for side in sides if side is not None]
        if len(known) < 4:
            return None
        lines = [side[0] for side in known]
        contrast = [(side[1], side[2]) for side in known]
        share = sorted(line.seen_frac for line in lines)
        if share[0] < LEAST_SIDE_FRAC or sum(share) < LEAST_SEEN_SIDES:
            return None
        corners = np.array([meet(lines[i - 1], lines[i]) for i in range(4)])
    if np.max(np.abs(corners + low - rough_px)) > 3.0 * reach_px:
        return None
    return corners + low, lines, contrast


def _unlike_rectangle(camera: Camera, corners_px: Array) -> float:
    """How far the outline is from a card under any pose: misfit of proportion and right angle, as a fraction.

    The first two columns of K^-1 H are the card's axes seen from the camera: equally long and square to each
    other if the figure is the card (Zhang 2000, equations 3 and 4).
    """
    half = np.array([CARD_LENGTH_MM, CARD_HEIGHT_MM]) / 2
    local = np.array([[-half[0], half[1]], [half[0], half[1]], [half[0], -half[1]], [-half[0], -half[1]]])
    misses = []
    for turn in (0, 1):
        px = np.roll(corners_px, -turn, axis=0).astype(np.float32)
        axes = np.linalg.solve(camera.matrix, cv2.getPerspectiveTransform(local.astype(np.float32), px))
        lengths = np.linalg.norm(axes[:, :2], axis=0)
        slant = abs(float(axes[:, 0] @ axes[:, 1])) / float(lengths[0] * lengths[1])
        misses.append(max(slant, abs(float(np.log(lengths[0] / lengths[1])))))
    return min(misses)


def _pose(camera: Camera, corners_px: Array, lines: list[Line]) -> PlaneFit:
    """The plane of the card; which pair of sides is the long one is tried both ways."""
    err = max(0.2, 0.5 * max(line.scatter_px for line in lines))
    half = np.array([CARD_LENGTH_MM, CARD_HEIGHT_MM]) / 2
    local = np.array([[-half[0], half[1]], [half[0], half[1]], [half[0], -half[1]], [-half[0], -half[1]]])
    sides = np.linalg.norm(np.roll(corners_px, -1, axis=0) - corners_px, axis=1)
    turns = (0, 1) if sides[0] + sides[2] > sides[1] + sides[3] else (1, 0)
    fits = []
    for turn in turns:
        shape = Shape(local_mm=local, px=np.roll(corners_px, -turn, axis=0), corner_err_px=err)
        fits.append(fit_plane(camera, [shape])[0])
        if fits[-1].misfit_frac < 1.0:
            break
    return min(fits, key=lambda fit: fit.cost_frac)


def _roundness(pixels: NDArray[np.uint8], corners_px: Array, contrast: list[tuple[Array, Array]]) -> float:
    """Share of corners rounded as on a card, minus the share that are sharp; 0 if too small to tell."""
    length = np.linalg.norm(np.roll(corners_px, -1, axis=0) - corners_px, axis=1)
    px_per_mm = float(length.sum()) / (2 * (CARD_LENGTH_MM + CARD_HEIGHT_MM))
    if px_per_mm < MIN_ROUND_PX_PER_MM:
        return 0.0
    votes = []
    for i in range(4):
        a = (corners_px[i - 1] - corners_px[i]) / length[i - 1]
        b = (corners_px[(i + 1) % 4] - corners_px[i]) / length[i]
        inward = (a + b) / np.linalg.norm(a + b)
        # From 5 mm inside to 1 mm outside along the diagonal; a card's edge lies 1.3 mm inside the corner.
        depth_mm = np.arange(5.0, -1.01, -0.1)
        at = (corners_px[i] + depth_mm[:, None] * px_per_mm * inward).astype(np.float32)
        low = np.floor(at.min(axis=0)).astype(int) - 1
        high = np.ceil(at.max(axis=0)).astype(int) + 2
        if low.min() < 0 or high[0] > pixels.shape[1] or high[1] > pixels.shape[0]:
            continue
        light = cv2.LUT(pixels[low[1] : high[1], low[0] : high[0]], LIGHT_FROM_CODE)
        seen = cv2.remap(light, (at - low.astype(np.float32))[None], None, cv2.INTER_LINEAR)[0]
        inside = np.median(seen[:15], axis=0)
        outside = 0.5 * (contrast[i - 1][1] + contrast[i][1])
        step = outside - inside
        share = (seen - inside) @ step / max(float(step @ step), 1e-6)
        if share[-5:].mean() < 0.5:
            continue  # a finger, or something else behind this corner
        edge_mm = float(depth_mm[np.argmax(share > 0.5)])
        votes.append(1.0 if 0.75 < edge_mm < 2.6 else -1.0 if edge_mm < 0.5 else 0.0)
    return float(np.sum(votes)) / 4 if votes else 0.0


def _plainness(work: NDArray[np.uint8], corners: Array) -> float:
    """Share of the inside that is of one hue and free of edges; a hard shadow across it is allowed."""
    size = (64, 40)
    target = np.array([[3, 3], [size[0] - 4, 3], [size[0] - 4, size[1] - 4], [3, size[1] - 4]], np.float32)
    turned = np.roll(
        corners,
        -int(np.linalg.norm(corners[1] - corners[0]) < np.linalg.norm(corners[2] - corners[1])),
        axis=0,
    )
    flat = cv2.warpPerspective(work, cv2.getPerspectiveTransform(turned.astype(np.float32), target), size)
    lab = cv2.cvtColor(flat, cv2.COLOR_RGB2LAB).astype(float)[6:-6, 6:-6]
    hue = lab[:, :, 1:] - np.median(lab[:, :, 1:].reshape(-1, 2), axis=0)
    one_hue = float(np.mean(np.hypot(hue[:, :, 0], hue[:, :, 1]) < 14.0))
    steps = np.abs(np.diff(lab[:, :, 0], axis=0))[:, :-1] + np.abs(np.diff(lab[:, :, 0], axis=1))[:-1]
    return min(one_hue, float(np.mean(steps < 16.0)) * 1.05)
