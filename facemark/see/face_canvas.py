"""Parts of the photo on the face finder's canvases: boxes of its proportions, and the pictures in them."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.small import Small

Plane = NDArray[np.float32]
Views = tuple[Small, ...]  # the photo and smaller copies of it, the finest first
Box = tuple[int, int, int, int]  # left, top, right, bottom in whole photo pixels; right and bottom excluded
Canvas = tuple[int, int]  # height, width

CLOSE_CANVASES = ((288, 448), (352, 448), (448, 352))  # height, width: low faces, others, standing ones
LOW_FRAC = 0.55  # a face this low for its width leaves room for its shaft on the low canvas
STRIDE_PX = 32  # the network halves the picture five times
FILL = 128  # grey that fills a canvas of other proportions, as trained
SAMPLES = 3  # a map pixel is the mean of at most this many photo samples each way


def far_canvas(height: int, width: int, long_px: int) -> Canvas:
    """(height, width) of the reduced whole photo, multiples of the stride."""
    shrink = long_px / max(height, width)
    sides = (max(STRIDE_PX, -(-round(side * shrink) // STRIDE_PX) * STRIDE_PX) for side in (height, width))
    rows, columns = sides
    return rows, columns


def grown(box: Box, canvas: Canvas) -> Box:
    """The smallest box around ``box`` with the canvas's proportions; it may reach beyond the photo."""
    left, top, right, bottom = box
    wide, tall = right - left, bottom - top
    scale = max(wide / canvas[1], tall / canvas[0])
    more_x, more_y = round(scale * canvas[1]) - wide, round(scale * canvas[0]) - tall
    left, top = left - more_x // 2, top - more_y // 2
    return left, top, left + wide + more_x, top + tall + more_y


def drawn(views: Views, box: Box, canvas: Canvas) -> Plane:
    """(1, 3, h, w) the box of the photo on the canvas, RGB in 0..1."""
    shrink = (box[3] - box[1]) / canvas[0]
    photo_from_canvas = np.array(
        [[shrink, 0, box[0] + shrink / 2 - 0.5], [0, shrink, box[1] + shrink / 2 - 0.5]]
    )
    return sampled(views, photo_from_canvas, shrink, canvas)


def sampled(views: Views, photo_from_canvas: Array, shrink: float, canvas: Canvas) -> Plane:
    """(1, 3, h, w) RGB in 0..1, each pixel the mean of a few samples of the photo; grey outside of it."""
    view = next(one for one in reversed(views) if one.factor <= max(shrink, 1))
    n = max(1, min(SAMPLES, math.ceil(shrink / view.factor)))
    canvas_from_fine = np.array([[1 / n, 0, 0.5 / n - 0.5], [0, 1 / n, 0.5 / n - 0.5], [0, 0, 1]])
    view_from_canvas = np.column_stack(
        [photo_from_canvas[:, :2] / view.factor, view.small_from_px(photo_from_canvas[:, 2])]
    )
    fine = cv2.warpAffine(
        view.pixels,
        view_from_canvas @ canvas_from_fine,
        (canvas[1] * n, canvas[0] * n),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(FILL, FILL, FILL),
    )
    mean = cv2.resize(fine, canvas[::-1], interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(mean.transpose(2, 0, 1)[None], dtype=np.float32) / np.float32(255)


def close_canvas(face_box: tuple[float, float, float, float], canvases: tuple[Canvas, ...]) -> Canvas:
    """Lying or standing, as the face is."""
    low, other, standing = canvases
    wide, tall = face_box[2] - face_box[0], face_box[3] - face_box[1]
    return standing if tall > wide else low if tall < LOW_FRAC * wide else other


def crop_around(face_box: tuple[float, float, float, float], canvas: Canvas, fill_frac: float) -> Box:
    """The crop in whose middle the face takes its share."""
    left, top, right, bottom = face_box
    shrink = max((right - left) / canvas[1], (bottom - top) / canvas[0]) / fill_frac
    x = round((left + right) / 2 - shrink * canvas[1] / 2)
    y = round((top + bottom) / 2 - shrink * canvas[0] / 2)
    return x, y, x + max(1, round(shrink * canvas[1])), y + max(1, round(shrink * canvas[0]))


def moved(before: tuple[float, float, float, float], after: tuple[float, float, float, float]) -> float:
    """Largest move of a side of the box, in shares of its longer side."""
    size = max(before[2] - before[0], before[3] - before[1])
    return max(abs(a - b) for a, b in zip(before, after, strict=True)) / size
