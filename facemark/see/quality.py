"""Is the photo good enough to measure in?

``check_photo`` is the first look of every reading, before any search: a black or blank picture is refused
there, with what to do, instead of failing later with a puzzling reason. The other checks judge one thing each
once the face has been outlined, for ``facemark check``: light, sharpness, size, tilt, shine. They refuse
nothing; the limits are assumed unless a line says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.errors import PhotoError
from facemark.inputs import Photo
from facemark.see.camera import Array
from facemark.see.powder import map_powder
from facemark.see.rectify import FaceMap
from facemark.see.scale import MIN_PX_PER_MM, TILT_CAVEAT_DEG, Scale
from facemark.see.small import Small

LOOK_PX = 400  # long side of the copy that is looked at
DARKEST_P99 = 35.0  # 99 % of the pixels darker than this (of 255): nothing to measure; assumed
FLATTEST_SPREAD = 4.0  # spread of grey values of a lens cap, a wall, a white page; assumed

DARKEST_FACE = 40.0  # of 255; marks.py refuses such a face
DARK_FACE = 120.0  # powder is the whitest thing around: half of full scale or more is usual
WHITE_LEVEL = 253
BLOWN_FRAC = (0.10, 0.60)  # of the face at full white: powder's grain and thin places are lost, then all
PX_PER_MM = (MIN_PX_PER_MM, MIN_PX_PER_MM / 2)
BLUR_MM = (0.6, 2.0)  # width of the sharpest edges
SOFT_BLUR_MM = 1.2  # where no sheet, tag or card is there: powder's own edges are up to 0.8 mm wide
BLUR_PX = 5.0  # never called blurred below: it is then the pixels that are too few
GLARE_FRAC = (0.05, 0.30)

N_EDGES = 600
EDGE_SIGMA_PX = 0.8  # blur against noise, taken off again
EDGE_HALF_MM = 2.5  # profiles reach this far either side of an edge, and at least
EDGE_HALF_PX = 9
LEAST_STEP = 25.0  # of 255, across an edge
N_WAYS, LEAST_PER_WAY = 4, 12  # directions of edges: shake blurs one of them
WIDTH_OF_BLUR = 2.563  # width from 10 to 90 % of a step blurred by a Gaussian of sigma 1


class Grade(StrEnum):
    """How good one thing about a photo is."""

    GOOD = "good"
    FAIR = "could be better"
    BAD = "not measurable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing about a photo: ``says`` what is, ``remedy`` what to do (empty where it is good)."""

    what: str
    grade: Grade
    says: str
    remedy: str = ""


def check_photo(photo: Photo, *, small: Small | None = None) -> None:
    """Refuse a photo that cannot hold a face.

    Parameters
    ----------
    photo : Photo
    small : Small, optional
        ``shrink(photo.pixels)``, if at hand.

    Raises
    ------
    PhotoError
        All dark, or all one tone.
    """
    look = photo.pixels if small is None else small.pixels
    step = max(1, max(look.shape[:2]) // LOOK_PX)
    grey = cv2.cvtColor(np.ascontiguousarray(look[::step, ::step]), cv2.COLOR_RGB2GRAY)
    bright = float(np.percentile(grey, 99))
    if bright < DARKEST_P99:
        raise PhotoError(
            f"the photo is almost black (99 % of it is no brighter than {bright:.0f} of 255)",
            remedy="Photograph again in more light, without flash on the face.",
        )
    if float(grey.std()) < FLATTEST_SPREAD:
        raise PhotoError(
            "the photo shows one even tone and nothing else",
            remedy="Check that the lens is clear and the club is in the picture.",
        )


def check_light(photo: Photo, outline_px: Array) -> Finding:
    """Is the face, (N, 2) ``outline_px``, neither lost in the dark nor burnt out?"""
    low = np.maximum(np.floor(outline_px.min(axis=0)).astype(int), 0)
    high = np.ceil(outline_px.max(axis=0)).astype(int) + 1
    crop = photo.pixels[low[1] : high[1], low[0] : high[0]]
    inside = np.zeros(crop.shape[:2], np.uint8)
    cv2.fillPoly(inside, [np.round(outline_px - low).astype(np.int32)], 1)
    face = crop[inside > 0]
    bright = float(np.percentile(face, 90))
    blown_frac = float((face.max(axis=1) >= WHITE_LEVEL).mean())
    says = (
        f"the powder's brightness is {bright:.0f} of 255, {100 * blown_frac:.0f} % of the face is pure white"
    )
    if bright < DARK_FACE:
        grade = Grade.BAD if bright < DARKEST_FACE else Grade.FAIR
        return Finding(
            what="light",
            grade=grade,
            says=f"too dark: {says}",
            remedy="Use more light, or tap the face first.",
        )
    if blown_frac > BLOWN_FRAC[0]:
        grade = Grade.BAD if blown_frac > BLOWN_FRAC[1] else Grade.FAIR
        remedy = "Tap the face before the photo, or go into the shade."
        return Finding(what="light", grade=grade, says=f"too bright: {says}", remedy=remedy)
    return Finding(what="light", grade=Grade.GOOD, says=says)


def check_size(px_per_mm: float) -> Finding:
    """Is the face large enough in the photo?"""
    says = f"{px_per_mm:.1f} pixels per millimetre on the face"
    if px_per_mm >= PX_PER_MM[0]:
        return Finding(what="size", grade=Grade.GOOD, says=says)
    return Finding(
        what="size",
        grade=Grade.FAIR if px_per_mm >= PX_PER_MM[1] else Grade.BAD,
        says=f"too small: {says}, {PX_PER_MM[0]:.0f} or more are wanted",
        remedy="Go closer, or send the original photo instead of a chat copy.",
    )


def check_tilt(scale: Scale) -> Finding:
    """Did the camera look squarely at the face?"""
    if not scale.pose_known:
        return Finding(
            what="tilt",
            grade=Grade.FAIR,
            says=f"nothing shows the tilt when the scale is a {scale.kind.value}",
            remedy="Use the printed card, tags or an ID-1 card instead.",
        )
    says = f"the camera is {scale.tilt_deg:.0f} degrees off square"
    if scale.tilt_deg <= TILT_CAVEAT_DEG:
        return Finding(what="tilt", grade=Grade.GOOD, says=says)
    return Finding(what="tilt", grade=Grade.FAIR, says=says, remedy="Hold the phone parallel to the face.")


def check_glare(face_map: FaceMap) -> Finding:
    """How much of the face shines? Marks cannot be seen there."""
    glare_frac = map_powder(face_map).glare_frac
    says = f"{100 * glare_frac:.0f} % of the face shines"
    if glare_frac <= GLARE_FRAC[0]:
        return Finding(what="glare", grade=Grade.GOOD, says=says)
    grade = Grade.FAIR if glare_frac <= GLARE_FRAC[1] else Grade.BAD
    remedy = "Turn the face away from the light, or shade it."
    return Finding(what="glare", grade=grade, says=says, remedy=remedy)


def check_sharpness(
    photo: Photo, objects_px: Sequence[Array], px_per_mm: float, *, printed: bool = True
) -> Finding:
    """Are edges sharp? Looked for near ``objects_px``: (K, 2) polygons of the face and the scale object.

    ``printed``: the scale object has sharp edges of its own (sheet, tags, card).
    """
    width_px = edge_width_px(photo, objects_px, px_per_mm)
    if not math.isfinite(width_px):
        return Finding(
            what="sharpness",
            grade=Grade.FAIR,
            says="no clear edge was found to judge by",
            remedy="Put something plain and dark behind the face.",
        )
    width_mm = width_px / px_per_mm
    says = f"the sharpest edges are {width_px:.0f} pixels ({width_mm:.1f} mm) wide"
    if width_mm <= (BLUR_MM[0] if printed else SOFT_BLUR_MM) or width_px <= BLUR_PX:
        return Finding(what="sharpness", grade=Grade.GOOD, says=says)
    return Finding(
        what="sharpness",
        grade=Grade.FAIR if width_mm <= BLUR_MM[1] else Grade.BAD,
        says=f"blurred: {says}",
        remedy="Wipe the lens, tap the face to focus, and hold the phone still.",
    )


def edge_width_px(photo: Photo, objects_px: Sequence[Array], px_per_mm: float) -> float:
    """Width from 10 to 90 % of the sharpest edges in their worst direction; NaN where there are none.

    The steepest places near the objects are found, and the tone is followed across each. Of the edges in each
    of four directions the sharpest quarter speaks; the widest direction counts, since a shaking hand blurs
    only edges across its movement.
    """
    points = np.vstack(objects_px)
    pad = 3 * EDGE_HALF_PX
    low = np.maximum(np.floor(points.min(axis=0)).astype(int) - pad, 0)
    high = np.ceil(points.max(axis=0)).astype(int) + pad
    crop = np.ascontiguousarray(photo.pixels[low[1] : high[1], low[0] : high[0]])
    grey = cv2.GaussianBlur(cv2.cvtColor(crop, cv2.COLOR_RGB2GRAY).astype(np.float32), (0, 0), EDGE_SIGMA_PX)
    slope_x = cv2.Sobel(grey, cv2.CV_32F, 1, 0) / 8
    slope_y = cv2.Sobel(grey, cv2.CV_32F, 0, 1) / 8
    steep = np.hypot(slope_x, slope_y)
    near = np.zeros(grey.shape, np.uint8)
    for polygon in objects_px:
        cv2.fillPoly(near, [np.round(polygon - low).astype(np.int32)], 1)
    near = cv2.dilate(near, np.ones((EDGE_HALF_PX, EDGE_HALF_PX), np.uint8))
    way = np.floor((np.arctan2(slope_y, slope_x) % math.pi) / math.pi * N_WAYS + 0.5).astype(int) % N_WAYS
    half_px = max(EDGE_HALF_PX, round(EDGE_HALF_MM * px_per_mm))
    widths = []
    for k in range(N_WAYS):
        at = _steepest(np.where((near > 0) & (way == k), steep, 0), half_px)
        found = [_width(grey, (x, y), (slope_x[y, x], slope_y[y, x]), half_px) for x, y in at]
        seen = [w for w in found if math.isfinite(w)]
        if len(seen) >= LEAST_PER_WAY:
            widths.append(float(np.percentile(seen, 25)))
    return max(widths, default=math.nan)


def _steepest(steep: NDArray[np.float32], apart_px: int) -> list[tuple[int, int]]:
    """The steepest place (x, y) of each tile of the picture, the steepest of all first."""
    tile = 2 * apart_px
    found = []
    for y0 in range(apart_px, steep.shape[0] - apart_px, tile):
        for x0 in range(apart_px, steep.shape[1] - apart_px, tile):
            part = steep[y0 : min(y0 + tile, steep.shape[0] - apart_px)]
            part = part[:, x0 : min(x0 + tile, steep.shape[1] - apart_px)]
            y, x = np.unravel_index(int(np.argmax(part)), part.shape)
            found.append((float(part[y, x]), x0 + int(x), y0 + int(y)))
    found.sort(reverse=True)
    return [(x, y) for height, x, y in found[: N_EDGES // N_WAYS] if height > 0]


def _width(grey: NDArray[np.float32], at: tuple[int, int], slope: tuple[float, float], half_px: int) -> float:
    """Width of one edge from 10 to 90 % of its step, own blur taken off; NaN for anything but one step."""
    length = math.hypot(*slope)
    along = np.arange(-half_px, half_px + 0.25, 0.5)
    x = (at[0] + along * slope[0] / length).astype(np.float32)[None]
    y = (at[1] + along * slope[1] / length).astype(np.float32)[None]
    tone = cv2.remap(grey, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0]
    n = len(tone) // 4
    dark, bright = float(np.median(tone[:n])), float(np.median(tone[-n:]))
    step = bright - dark
    level = (tone - dark) / max(step, 1e-3)
    # Ringing of sharpening and grain may overshoot a little; more is another edge in the way.
    if step < LEAST_STEP or level.min() < -0.4 or level.max() > 1.4:
        return math.nan
    middle = len(tone) // 2
    below = np.nonzero(level[: middle + 1] < 0.1)[0]
    above = np.nonzero(level[middle:] > 0.9)[0]
    if len(below) == 0 or len(above) == 0:
        return math.nan
    raw_px = _crossing(along, level, middle + int(above[0]), 0.9) - _crossing(
        along, level, int(below[-1]) + 1, 0.1
    )
    return math.sqrt(max(raw_px**2 - (WIDTH_OF_BLUR * EDGE_SIGMA_PX) ** 2, 0.0))


def _crossing(along: Array, level: NDArray[np.float32], k: int, at_frac: float) -> float:
    """Where the level passes ``at_frac`` between samples k - 1 and k."""
    before, after = float(level[k - 1]), float(level[k])
    share = (at_frac - before) / (after - before) if after > before else 1.0
    return float(along[k - 1] + min(max(share, 0.0), 1.0) * (along[k] - along[k - 1]))
