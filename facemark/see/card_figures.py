"""Four-sided figures in a small copy of the photo that could be a card.

Plain patches, and straight pieces of edge (line segment detector, Grompone von Gioi 2010, in OpenCV) put
together four by four. What a card is, card.py decides in the full picture.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array

PATCH_STEPS = (1.5, 3.0, 6.0)  # Lab steps per work pixel below which a place counts as plain
FAINT_CLIP = 4.0  # how far local contrast is raised (CLAHE's clip limit); assumed
MAX_LINES = 40  # longest lines that are put together; assumed
MAX_TRIED = 8  # figures measured in the full picture; assumed
MIN_SIDE_FRAC = 0.06  # of the picture's long side; a smaller card carries the scale too badly

# Plain patches are quick to see; straight edges find a card that a shadow or a finger divides. Brightness
# shows most cards; the colour channels more (a green card on a green mat); local contrast the faint rest.
LOOKS = ((), ("light",), ("green", "blue"), ("faint",))

_TURNS = (np.arange(4)[:, None] + np.arange(4)) % 4  # four corners, whichever comes first


def figures(lab: NDArray[np.uint8], segments: Array, looks: tuple[str, ...]) -> tuple[list[Array], Array]:
    """Figures by one of ``LOOKS``.

    Parameters
    ----------
    lab : (H, W, 3) uint8
        The small copy, CIE L*a*b* as OpenCV codes it.
    segments : (N, 4)
        Pieces of edge from the looks before.
    looks : tuple of str

    Returns
    -------
    list of (4, 2) corners in pixels of the copy, clockwise, most likely first; and all pieces so far
    """
    if not looks:
        return _patches(lab), segments
    size = (lab.shape[1], lab.shape[0])
    segments = np.vstack([segments, *(_segments(_plane(lab, look)) for look in looks)])
    return _quads(_merged(segments), size), segments


def mended(quad: Array) -> list[Array]:
    """The figure, and four more: each corner in turn where the other three want it (a parallelogram)."""
    tried = [quad]
    for k in range(4):
        other = quad.copy()
        other[k] = quad[k - 1] + quad[(k + 1) % 4] - quad[(k + 2) % 4]
        tried.append(other)
    return tried


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
            _, _, width, height = cv2.boundingRect(outline)
            if width * height <= least:
                continue  # most are specks
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


def _plane(lab: NDArray[np.uint8], look: str) -> NDArray[np.uint8]:
    """The picture in which straight edges are looked for."""
    light = lab[:, :, 0]
    if look == "light":
        return light
    if look == "faint":
        even = cv2.createCLAHE(FAINT_CLIP, (8, 8)).apply(cv2.GaussianBlur(light, (0, 0), 1.0))
        return np.asarray(even, np.uint8)
    colour = lab[:, :, 1 if look == "green" else 2]
    return np.asarray(cv2.convertScaleAbs(colour, alpha=2.0, beta=-128.0), np.uint8)


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
    gaps = a - b[_TURNS]
    return math.sqrt((gaps**2).sum(axis=2).max(axis=1).min())
