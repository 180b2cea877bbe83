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
from facemark.see.edges import LIGHT_FROM_CODE, Line, colour_side_line, meet
from facemark.see.plane import PlaneFit, Shape, fit_plane
from facemark.see.small import Small, shrink

CARD_LENGTH_MM = 85.60  # ISO/IEC 7810, ID-1; manufacturing spread 0.1 %
CARD_HEIGHT_MM = 53.98
CARD_DIAGONAL_MM = math.hypot(CARD_LENGTH_MM, CARD_HEIGHT_MM)
CORNER_RADIUS_MM = 3.18  # 2.88 to 3.48
CARD_SIZE_ERR_FRAC = 0.001

WORK_SIDE_PX = 640
PATCH_STEPS = (1.5, 3.0, 6.0)  # Lab steps per work pixel below which a place counts as plain
MAX_LINES = 40
MAX_TRIED = 8
MIN_SIDE_FRAC = 0.06  # of the picture's long side; a smaller card carries the scale too badly
# Sum of squares of corner misses and of tilt, each over what is expected: true cards stay below 10 up to 37
# degrees of tilt, everything else met so far was above 39. A tilt of 45 degrees alone costs 14.
MAX_COST = 20.0
MIN_ROUNDNESS = 0.25  # rounded corners outnumber sharp ones by one at least
MIN_PLAIN_FRAC = 0.6
MIN_PLAIN_SMALL_FRAC = 0.85
ROUGH_SHAPE_FRAC = 0.12  # how far a first, 2 px rough outline may miss the card's proportion
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
    segments: list[Array] = []
    # Plain patches are quick to see; straight edges find a card that a shadow or a finger divides. Brightness
    # shows most cards; the colour channels the rest (a green card on a green mat).
    for channels in ((), (0,), (1, 2)) if beside is None else ((),):
        for channel in channels:
            plane = lab[:, :, channel]
            if channel:
                plane = cv2.convertScaleAbs(plane, alpha=2.0, beta=-128.0)
            segments.append(_segments(np.asarray(plane, np.uint8)))
        quads = _quads(_merged(np.vstack(segments)), size) if channels else _patches(lab)
        rough = [(quad + 0.5) * scale - 0.5 for quad in quads]
        if beside is not None:
            rough = [quad for quad in rough if beside.could_hold(quad, CARD_DIAGONAL_MM)]
        found = [_measure(pixels, camera, quad, work, scale) for quad in rough]
        cards = [card for card in found if card is not None]
        if cards:
            return max(cards, key=lambda card: card.score_frac)
    return None


def _patches(lab: NDArray[np.uint8]) -> list[Array]:
    """Four-sided plain patches, (4, 2) corners in work pixels, largest first."""
    step = np.zeros(lab.shape[:2], np.float32)
    for channel in range(3):
        smooth = cv2.GaussianBlur(lab[:, :, channel], (0, 0), 0.8).astype(np.float32)
        step += cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=0.125) ** 2
        step += cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=0.125) ** 2
    least = (MIN_SIDE_FRAC * max(step.shape)) ** 2 / 2
    patches: list[tuple[float, Array]] = []
    for limit in PATCH_STEPS:
        quiet = cv2.morphologyEx(
            (step < limit**2).astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)
        )
        outlines, _ = cv2.findContours(quiet, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
        for outline in outlines:
            hull = cv2.convexHull(outline)
            area = cv2.contourArea(hull)
            if not least < area < 0.4 * step.size or cv2.contourArea(outline) < 0.8 * area:
                continue
            quad = np.reshape(cv2.approxPolyN(hull, 4), (4, 2)).astype(float)
            if cv2.contourArea(quad.astype(np.float32)) > 1.15 * area:
                continue
            # The edge itself is not plain: the patch ends about 2 pixels inside it.
            middle = quad.mean(axis=0)
            arm = quad - middle
            grown = middle + arm * (1.0 + 2.5 / np.linalg.norm(arm, axis=1, keepdims=True))
            patches.append((area, _clockwise(grown)))
    ordered = [quad for _, quad in sorted(patches, key=lambda patch: -patch[0])]
    return _distinct(ordered)


def _segments(channel: NDArray[np.uint8]) -> Array:
    """(N, 4) straight pieces of edge: x0, y0, x1, y1."""
    lines = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(channel)[0]
    return np.zeros((0, 4)) if lines is None else np.reshape(lines, (-1, 4)).astype(float)


def _merged(segments: Array) -> list[tuple[Array, Array, Array]]:
    """Lines from collinear pieces: (point, direction, (K, 2) stretches seen along it), best-seen first."""
    span = segments[:, 2:] - segments[:, :2]
    length = np.hypot(span[:, 0], span[:, 1])
    order = np.argsort(-length)
    order = order[length[order] > 6.0][:400]
    left = np.ones(len(order), bool)
    lines: list[tuple[Array, Array, Array]] = []
    for rank in range(len(order)):
        if not left[rank] or len(lines) >= MAX_LINES:
            continue
        k = order[rank]
        if length[k] < 11.0:
            break
        point, along = segments[k, :2], span[k] / length[k]
        normal = np.array([-along[1], along[0]])
        rest = order[left]
        ends = segments[rest].reshape(-1, 2, 2) - point
        off = np.abs(ends @ normal).max(axis=1)
        turn = np.abs(span[rest] @ normal) / length[rest]
        with_it = (off < 2.0) & (turn < 0.08)
        stretches = np.sort(ends[with_it] @ along, axis=1)
        left[np.flatnonzero(left)[with_it]] = False
        lines.append((point, along, stretches))
    return sorted(lines, key=lambda line: -float(np.sum(np.diff(line[2], axis=1))))


def _quads(lines: list[tuple[Array, Array, Array]], size: tuple[int, int]) -> list[Array]:
    """Four-sided figures that could be a card, (4, 2) corners in work pixels, best-supported first."""
    if len(lines) < 4:
        return []
    points = np.array([line[0] for line in lines])
    along = np.array([line[1] for line in lines])
    cross = along[:, None, 0] * along[None, :, 1] - along[:, None, 1] * along[None, :, 0]
    gap = points[None] - points[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        # where[i, k]: how far along line i it meets line k
        where = (gap[:, :, 0] * along[None, :, 1] - gap[:, :, 1] * along[None, :, 0]) / cross
    where = np.where(np.isfinite(where), where, 1e9)
    meets = points[:, None] + where[:, :, None] * along[:, None]
    usable = np.all((meets > 1.0) & (meets < np.array(size) - 2.0), axis=2) & (
        np.abs(cross) > np.sin(np.radians(50.0))
    )
    # Opposite sides of a card under up to 45 degrees of tilt differ by less than 25 degrees.
    pairs = np.column_stack(np.nonzero(np.triu(np.abs(cross) < np.sin(np.radians(25.0)), 1)))
    if len(pairs) < 2:
        return []
    first, second = np.triu_indices(len(pairs), 1)
    i, j, k, m = pairs[first, 0], pairs[first, 1], pairs[second, 0], pairs[second, 1]
    keep = usable[i, k] & usable[i, m] & usable[j, k] & usable[j, m]
    i, j, k, m = i[keep], j[keep], k[keep], m[keep]
    sides = np.stack(
        [
            np.abs(where[i, k] - where[i, m]),
            np.abs(where[m, i] - where[m, j]),
            np.abs(where[j, k] - where[j, m]),
            np.abs(where[k, i] - where[k, j]),
        ],
        axis=1,
    )
    pair_a, pair_b = 0.5 * (sides[:, 0] + sides[:, 2]), 0.5 * (sides[:, 1] + sides[:, 3])
    long, short = np.maximum(pair_a, pair_b), np.minimum(pair_a, pair_b)
    lean = np.max(np.abs(np.log((sides[:, :2] + 1e-3) / (sides[:, 2:] + 1e-3))), axis=1)
    # 1.586 seen under up to 45 degrees of tilt; opposite sides differ by perspective only.
    keep = (long > MIN_SIDE_FRAC * max(size)) & (long > 1.1 * short) & (long < 2.3 * short) & (lean < 0.4)
    i, j, k, m, sides = i[keep], j[keep], k[keep], m[keep], sides[keep]
    seen = _side_support(lines, where, (i, j, k, m), sides)
    support = seen.sum(axis=1)
    # Three sides well seen and some of the fourth; fingers may hide the rest.
    good = np.flatnonzero((support > 1.8) & (np.sort(seen, axis=1)[:, 1] > 0.35))
    good = good[np.argsort(-support[good])][:60]
    return _distinct([_clockwise(meets[[i[q], i[q], j[q], j[q]], [k[q], m[q], m[q], k[q]]]) for q in good])


def _side_support(
    lines: list[tuple[Array, Array, Array]],
    where: Array,
    quads: tuple[Array, Array, Array, Array],
    sides: Array,
) -> Array:
    """(Q, 4) share of each side over which edge was seen, less what runs on through its corners."""
    n = len(lines)
    # Up to the meeting point: length seen; and how far the stretch through it runs on to either hand.
    seen_to, runs_back, runs_on = np.zeros((n, n)), np.zeros((n, n)), np.zeros((n, n))
    for row, (_, _, stretches) in enumerate(lines):
        at = where[row][:, None]
        seen_to[row] = np.sum(np.clip(at - stretches[:, 0], 0.0, stretches[:, 1] - stretches[:, 0]), axis=1)
        through = (stretches[:, 0] < at) & (stretches[:, 1] > at)
        runs_back[row] = np.max(np.where(through, at - stretches[:, 0], 0.0), axis=1)
        runs_on[row] = np.max(np.where(through, stretches[:, 1] - at, 0.0), axis=1)
    i, j, k, m = quads
    shares = []
    for side, (line, one, two) in enumerate(((i, k, m), (m, i, j), (j, k, m), (k, i, j))):
        forward = where[line, two] > where[line, one]
        low, high = np.where(forward, one, two), np.where(forward, two, one)
        length = np.maximum(sides[:, side], 1e-6)
        seen = np.minimum((seen_to[line, high] - seen_to[line, low]) / length, 1.0)
        beyond = np.maximum(runs_back[line, low] / length - 0.08, 0) + np.maximum(
            runs_on[line, high] / length - 0.08, 0
        )
        shares.append(seen - 0.5 * beyond)
    return np.stack(shares, axis=1)


def _clockwise(corners: Array) -> Array:
    """Corners in the order that runs clockwise in the picture (y down)."""
    nxt = np.roll(corners, -1, axis=0)
    area = float(np.sum(corners[:, 0] * nxt[:, 1] - corners[:, 1] * nxt[:, 0]))
    return corners if area > 0 else corners[::-1].copy()


def _distinct(quads: list[Array]) -> list[Array]:
    """The first few that are not the same figure again."""
    kept: list[Array] = []
    for quad in quads:
        if len(kept) >= MAX_TRIED:
            break
        if all(_apart(quad, other) > 4.0 for other in kept):
            kept.append(quad)
    return kept


def _apart(a: Array, b: Array) -> float:
    """Largest corner distance between two figures, whichever corner comes first."""
    return min(float(np.linalg.norm(a - np.roll(b, s, axis=0), axis=1).max()) for s in range(4))


def _measure(
    pixels: NDArray[np.uint8], camera: Camera, rough_px: Array, work: NDArray[np.uint8], scale: Array
) -> CardFind | None:
    """The candidate with exact edges, or None if it is no ID-1 card."""
    # Cheap questions first: most candidates are half a face, or two grass blades and a shaft.
    plain = _plainness(work, (rough_px + 0.5) / scale - 0.5)
    if plain < MIN_PLAIN_FRAC or _unlike_rectangle(camera, rough_px) > ROUGH_SHAPE_FRAC:
        return None
    edges = _edges(pixels, rough_px, reach_px=4.0 * float(scale.max()))
    if edges is None:
        return None
    corners, lines, contrast = edges
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
        if share[0] < 0.3 or share[1] < 0.5:
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
