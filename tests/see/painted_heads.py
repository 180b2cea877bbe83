"""A painted powdered face with exact truth, for the outline, level and toe stages only.

Written apart from draw.py: an even, grainy coat inside a known outline, a speckled rim beyond it (overspray
on crown and sole), plain ground, dark marks, a shaft.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.contour import centroid
from facemark.see.face_net import FaceGuess

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PaintedHead:
    pixels: NDArray[np.uint8]
    outline_px: Array
    px_per_mm: float


def ellipse(
    n: int, long: float, short: float, *, middle: tuple[float, float], turn_deg: float = 0.0
) -> Array:
    """(n, 2) points of a rounded face; clockwise on the screen."""
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    power = 0.85  # a little squarer than an ellipse, as faces are
    x = long / 2 * np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** power
    y = short / 2 * np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** power
    turn = math.radians(turn_deg)
    spin = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    return np.column_stack([x, y]) @ spin.T + np.array(middle)


def paint_head(
    rng: np.random.Generator,
    *,
    size_px: tuple[int, int] = (1200, 900),
    px_per_mm: float = 5.0,
    turn_deg: float = 0.0,
    middle: tuple[float, float] = (600.0, 450.0),
    marks_mm: tuple[tuple[float, float], ...] = ((-15.0, 4.0), (10.0, -3.0)),
    rim_mm: float = 2.5,
    crown_mm: float = 8.0,
    hollow_mm: float = 0.0,
    shaft: bool = True,
    ground: tuple[int, int, int] = (40, 80, 45),
) -> PaintedHead:
    """A right-handed driver face 110 x 55 mm; marks (right, down) from its middle; turned on the screen.

    ``hollow_mm``: how deep the top line dips in its middle, as an iron's does.
    """
    width, height = size_px
    outline = ellipse(720, 110 * px_per_mm, 55 * px_per_mm, middle=middle, turn_deg=turn_deg)
    turn = math.radians(turn_deg)
    if hollow_mm:
        assert turn_deg == 0.0
        across, top = (outline[:, 0] - middle[0]) / (30 * px_per_mm), outline[:, 1] < middle[1]
        outline[:, 1] += np.where(top, hollow_mm * px_per_mm * np.exp(-(across**2)), 0.0)
    right = np.array([math.cos(turn), math.sin(turn)])
    down = np.array([-math.sin(turn), math.cos(turn)])
    picture = np.empty((height, width, 3), np.float32)
    picture[:] = ground
    picture += rng.normal(0, 12, (height, width, 1))
    if shaft:
        heel = np.array(middle) + right * 46 * px_per_mm - down * 12 * px_per_mm
        way = right * math.cos(math.radians(59)) - down * math.sin(math.radians(59))
        _line(picture, heel, heel + way * 200 * px_per_mm, 12 * px_per_mm, (25, 25, 30))
    face = _fill(outline, size_px)
    head = cv2.dilate(
        face, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round(rim_mm * px_per_mm) + 1,) * 2)
    )
    crown = _fill(outline - down * crown_mm * px_per_mm, size_px)
    head = np.maximum(head, cv2.morphologyEx(crown | face, cv2.MORPH_CLOSE, np.ones((25, 25), np.uint8)))
    # Overspray: dark head under it, white specks that thin out.
    specks = cv2.GaussianBlur(rng.normal(size=(height, width)).astype(np.float32), (0, 0), 0.25 * px_per_mm)
    specks /= specks.std()
    rim = np.where(specks[..., None] > -0.5, np.array([185, 183, 180]), np.array([60, 58, 62]))
    picture = np.where(head[..., None] > 0, rim, picture)
    grain = cv2.GaussianBlur(rng.normal(size=(height, width)).astype(np.float32), (0, 0), 1.2)
    coat = np.array([212, 210, 206]) * (1 + 0.02 * grain / grain.std())[..., None]
    for x, y in marks_mm:
        at = np.array(middle) + (right * x + down * y) * px_per_mm
        mark = np.zeros((height, width), np.uint8)
        cv2.circle(mark, (round(at[0]), round(at[1])), round(11 * px_per_mm), 1, cv2.FILLED)
        coat = np.where(mark[..., None] > 0, coat * 0.45, coat)
    picture = np.where(face[..., None] > 0, coat, picture)
    picture = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.8)
    picture += rng.normal(0, 2.5, picture.shape)
    return PaintedHead(pixels=picture.clip(0, 255).astype(np.uint8), outline_px=outline, px_per_mm=px_per_mm)


def overlap(a: Array, b: Array, size_px: tuple[int, int]) -> float:
    """Intersection over union of two polygons, counted in pixels."""
    one, two = _fill(a, size_px) > 0, _fill(b, size_px) > 0
    return float((one & two).sum() / (one | two).sum())


def guess_of(outline_px: Array, size_px: tuple[int, int], *, confidence_frac: float) -> FaceGuess:
    """What a finder would answer that sees this outline."""
    small = cv2.resize(
        _fill(outline_px, size_px).astype(np.float32),
        (448, round(448 * size_px[1] / size_px[0])),
        interpolation=cv2.INTER_AREA,
    )
    face, none = cv2.GaussianBlur(small, (0, 0), 1.0), np.zeros_like(small)
    return FaceGuess(
        face=face,
        head=face,
        shaft=none,
        edge=none,
        scale=none,
        box_px=(-0.5, -0.5, size_px[0] - 0.5, size_px[1] - 0.5),
        centre_px=centroid(outline_px),
        toe_px=np.array([-1.0, 0.0]),
        up_px=np.array([0.0, -1.0]),
        toe_sure_frac=1.0,
        confidence_frac=confidence_frac,
        weights_hash="",
    )


def _fill(outline: Array, size_px: tuple[int, int]) -> NDArray[np.uint8]:
    mask = np.zeros((size_px[1], size_px[0]), np.uint8)
    cv2.fillPoly(mask, [np.round(outline * 16).astype(np.int32)], 1, shift=4)
    return mask


def _line(
    picture: NDArray[np.float32], start: Array, end: Array, width: float, colour: tuple[int, int, int]
) -> None:
    ends = [tuple(np.round(p).astype(int).tolist()) for p in (start, end)]
    cv2.line(picture, ends[0], ends[1], colour, round(width), cv2.LINE_AA)
