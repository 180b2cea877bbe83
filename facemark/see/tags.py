"""Are there square tags in the photo, and where exactly are their corners?

Tags are looked for in a small copy of the photo (about 1000 pixels wide, 10-25 ms) and, if none shows, in
larger ones. Their corners are then made exact in the full picture: four straight edges, met in pairs. The
same search answers whether the photo is mirrored, because most tags can be read in one sense only.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark import sheet
from facemark.see.camera import Array
from facemark.see.edges import LIGHT_FROM_CODE, dark_side_line, meet
from facemark.see.small import SMALL_SIDE_PX, Small

PLAIN_CELLS = 6  # DICT_4X4_50: 4 x 4 bits and the black border
# These four look the same in a mirror, so they say nothing about mirroring (found by trying all 50).
PLAIN_MIRROR_IDS = frozenset({8, 9, 17, 47})
WORK_SIDES_PX = (SMALL_SIDE_PX, 2000, 4000)  # long side of the copy searched, smallest first
MIN_TAG_SIDE_PX = 25.0  # below, a cell is 4 px and corners are worse than 1 %; assumed
MIN_CONTRAST_FRAC = 0.016  # of full light, between black and paper; deep shade still has 0.04; assumed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tag:
    """One tag. ``corners_px`` (4, 2) as printed: top left, top right, bottom right, bottom left."""

    ident: int
    corners_px: Array
    corner_err_px: float

    @property
    def side_px(self) -> float:
        return float(np.mean(np.linalg.norm(self.corners_px - np.roll(self.corners_px, 1, axis=0), axis=1)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tags:
    """Tags of the open dictionary (``plain``) and of our own sheet.

    ``mirrored``: they can be read only in the flipped picture, and ``corners_px`` are those of the FLIPPED
    picture. ``smallest_px``: side of the smallest tag that was read but is too small to measure, or None.
    """

    plain: tuple[Tag, ...]
    sheet: tuple[Tag, ...]
    mirrored: bool
    smallest_px: float | None

    @property
    def n(self) -> int:
        return len(self.plain) + len(self.sheet)


def find_tags(pixels: NDArray[np.uint8], *, thorough: bool = True, small: Small | None = None) -> Tags:
    """Find all tags of both dictionaries.

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) uint8
        The whole photo, RGB or grey.
    thorough : bool
        Also search larger copies when the small one shows none (costs up to 0.2 s at 12 megapixels).
    small : Small, optional
        ``shrink(pixels)``, if at hand.

    Returns
    -------
    Tags
        Empty tuples when there are none.
    """
    long_side = max(pixels.shape)
    sides = [side for side in WORK_SIDES_PX if side < 1.5 * long_side] or [long_side]
    seen = Tags(plain=(), sheet=(), mirrored=False, smallest_px=None)
    for side in sides if thorough else sides[:1]:
        at_hand = small if small is not None and side == SMALL_SIDE_PX <= max(small.pixels.shape) else None
        work = _grey(_shrunk(pixels, side) if at_hand is None else at_hand.pixels)
        seen = _read(pixels, work, mirrored=False)
        # Only self-mirrored tags, or none: look in the mirror before believing that side.
        if not seen.sheet and all(tag.ident in PLAIN_MIRROR_IDS for tag in seen.plain):
            flipped = _read(pixels[:, ::-1], np.ascontiguousarray(work[:, ::-1]), mirrored=True)
            if flipped.sheet or any(tag.ident not in PLAIN_MIRROR_IDS for tag in flipped.plain):
                seen = flipped
        if seen.n:
            return seen
    return seen


def _shrunk(pixels: NDArray[np.uint8], side_px: int) -> NDArray[np.uint8]:
    factor = side_px / max(pixels.shape)
    if factor > 0.8:
        return pixels
    size = (round(pixels.shape[1] * factor), round(pixels.shape[0] * factor))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)


def _grey(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    if pixels.ndim == 2:
        return pixels
    return np.asarray(cv2.cvtColor(np.ascontiguousarray(pixels), cv2.COLOR_RGB2GRAY), np.uint8)


def _read(pixels: NDArray[np.uint8], work: NDArray[np.uint8], *, mirrored: bool) -> Tags:
    """Read both dictionaries in ``work``, a grey copy, and make the corners exact in ``pixels``."""
    aruco = cv2.aruco
    detector = aruco.ArucoDetector(
        [
            aruco.getPredefinedDictionary(aruco.DICT_4X4_50),
            aruco.getPredefinedDictionary(getattr(aruco, sheet.DICTIONARY)),
        ]
    )
    corners, idents, _, kinds = detector.detectMarkersMultiDict(work)
    found: tuple[list[Tag], list[Tag]] = ([], [])
    smallest: float | None = None
    if idents is None:
        return Tags(plain=(), sheet=(), mirrored=mirrored, smallest_px=None)
    scale = np.array([pixels.shape[1] / work.shape[1], pixels.shape[0] / work.shape[0]])
    for quad, ident, kind in zip(corners, np.ravel(idents), np.ravel(kinds), strict=True):
        rough = (np.reshape(quad, (4, 2)).astype(float) + 0.5) * scale - 0.5
        if kind == 1 and int(ident) not in sheet.TAG_CENTRES_MM:
            continue
        tag = _exact(pixels, rough, int(ident), PLAIN_CELLS if kind == 0 else sheet.N_CELLS)
        if tag is None:
            continue
        if tag.side_px < MIN_TAG_SIDE_PX:
            smallest = tag.side_px if smallest is None else min(smallest, tag.side_px)
            continue
        found[int(kind)].append(tag)
    return Tags(
        plain=tuple(_once_each(found[0])),
        sheet=tuple(_once_each(found[1])),
        mirrored=mirrored,
        smallest_px=smallest,
    )


def _exact(pixels: NDArray[np.uint8], rough_px: Array, ident: int, n_cells: int) -> Tag | None:
    """The tag with exact corners, or None if its sides are not straight dark-on-bright edges."""
    cell_px = float(np.mean(np.linalg.norm(rough_px - np.roll(rough_px, 1, axis=0), axis=1))) / n_cells
    low = np.floor(rough_px.min(axis=0) - 1.5 * cell_px - 3).astype(int)
    high = np.ceil(rough_px.max(axis=0) + 1.5 * cell_px + 4).astype(int)
    low = np.maximum(low, 0)
    high = np.minimum(high, [pixels.shape[1], pixels.shape[0]])
    light = cv2.LUT(_grey(pixels[low[1] : high[1], low[0] : high[0]]), LIGHT_FROM_CODE)
    quad = rough_px - low
    scatter = 0.0
    for reach_cells in (0.8, 0.5):
        reach = float(np.clip(reach_cells * cell_px, 2.0, 14.0))
        lines = [dark_side_line(light, quad[i], quad[(i + 1) % 4], reach_px=reach) for i in range(4)]
        known = [line for line in lines if line is not None and line.contrast_frac > MIN_CONTRAST_FRAC]
        if len(known) < 4 or min(line.seen_frac for line in known) < 0.4:
            return None
        quad = np.array([meet(known[i - 1], known[i]) for i in range(4)])
        scatter = max(line.scatter_px for line in known)
    if np.max(np.abs(quad + low - rough_px)) > 1.5 * cell_px + 2.0 or scatter > 0.25 * cell_px + 0.5:
        return None
    full = quad + low
    if full.min() < 1.0 or np.any(full > np.array([pixels.shape[1], pixels.shape[0]]) - 2.0):
        return None
    # A line through n places that scatter by s is known to about s / sqrt(n) * 2 at its ends.
    return Tag(ident=ident, corners_px=full, corner_err_px=max(0.1, 0.5 * scatter))


def _once_each(tags: list[Tag]) -> list[Tag]:
    """Drop a second finding of the same square (same place), keep equal ids in different places."""
    kept: list[Tag] = []
    for tag in sorted(tags, key=lambda t: -t.side_px):
        centre = tag.corners_px.mean(axis=0)
        if all(
            np.linalg.norm(centre - other.corners_px.mean(axis=0)) > 0.5 * other.side_px for other in kept
        ):
            kept.append(tag)
    return sorted(kept, key=lambda t: t.ident)
