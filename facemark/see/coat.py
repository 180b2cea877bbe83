"""What is the face's coat of powder like just inside a border, and how unlike it is what lies beyond?

Along a rough border each pixel is described by four numbers (brightness against the local coat, its size
without sign = grain, two colour ratios), held against their scatter on the coat just inside. Dark marks say
nothing about the coat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.contour import area_px2, blur_around, eroded, rolled_inside, unroll
from facemark.see.small import halved

# The face is shrunk until the square root of its area is this: 0.24 mm a pixel on a driver.
FACE_SIDE_PX = 300
MARGIN_FRAC = 0.35  # of that root, kept around the rough border
DARK_LOG = 0.16  # a mark is at least 15 % darker than the coat, over 1.7 mm and more
DEEP_PX, CLEAR_OF_EDGE_PX = 64, 20  # between these depths inside the border the coat is learnt
MARK_DEPTH_PX = 32.0  # 8 mm on a driver; crown or sole in a border too wide is shallower
SMALL_HOLE_PX2 = 160.0  # a dimple's print, 3 mm across
MARK_COST = -0.1  # a mark lies on the face: it speaks a little for reaching at least to its end
MOST_SHADE_LOG = 0.3  # usual slope of the light over a face's size; assumed
SHADE_RUN = 400.0  # neighbouring pixels say the same: this many count as one
MOST_LOCAL_LOG = 0.08  # the coat may differ by 8 % from its plane along the edge


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crop:
    """The surroundings of the face at ``FACE_SIDE_PX``."""

    log_light: NDArray[np.float32]
    soft: NDArray[np.float32]  # the same without grain
    ratios: NDArray[np.float32]  # (H, W, 2) log red/green, log blue/green
    origin_px: Array
    scale: Array  # crop px per photo px, x and y

    def from_photo(self, px: Array) -> Array:
        return np.asarray((px + 0.5 - self.origin_px) * self.scale - 0.5)

    def to_photo(self, xy: Array) -> Array:
        return np.asarray((xy + 0.5) / self.scale + self.origin_px - 0.5)


def crop_around(pixels: NDArray[np.uint8], rough_px: Array) -> Crop:
    side = math.sqrt(abs(area_px2(rough_px)))
    low = np.floor(rough_px.min(axis=0) - MARGIN_FRAC * side).clip(0).astype(int)
    high = np.ceil(rough_px.max(axis=0) + MARGIN_FRAC * side).astype(int) + 1
    high = np.minimum(high, [pixels.shape[1], pixels.shape[0]])
    scale = FACE_SIDE_PX / side
    part = halved(pixels[low[1] : high[1], low[0] : high[0]], 1 / scale)
    high = low + part.factor * np.array(part.pixels.shape[1::-1])
    size = np.maximum(1, np.round((high - low) * scale)).astype(int)
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(part.pixels, (int(size[0]), int(size[1])), interpolation=way).astype(np.float32) + 3.0
    log = np.log(small)
    log_light = np.log(small @ np.array([0.30, 0.59, 0.11], np.float32))
    return Crop(
        log_light=log_light,
        soft=np.asarray(cv2.GaussianBlur(log_light, (0, 0), 1.5), np.float32),
        ratios=np.dstack([log[..., 0] - log[..., 1], log[..., 2] - log[..., 1]]),
        origin_px=low.astype(float),
        scale=size / (high - low),
    )


def unlike_coat(
    crop: Crop, curve: Array, outward: Array, offsets: Array, n_along: float
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """(M, N) how unlike the face's coat each place is (below 0: like it), and where a dark mark hides it."""
    shade, dark_map = _coat(crop, curve)
    deep = np.arange(-DEEP_PX, offsets[0])  # further in than the edge is searched: surely face
    rows = np.concatenate([deep, offsets])
    light = unroll(crop.log_light - shade, curve, outward, rows)
    strip = np.dstack([light, unroll(crop.ratios, curve, outward, rows)])
    dark = unroll(dark_map, curve, outward, rows) > 0.5
    dark &= (rows <= 10)[:, None]  # what lies far beyond the present border is background, not a mark
    inner = (rows >= -DEEP_PX) & (rows <= -CLEAR_OF_EDGE_PX)
    near = inner & (rows >= -30)
    seen = (~dark).astype(np.float32)
    # The coat just inside, column by column, leaning on the whole face where marks hide it.
    everywhere = np.median(strip[inner][seen[inner] > 0], axis=0) if seen[inner].any() else np.zeros(3)
    weight = blur_around(seen[near].sum(axis=0)[None], 14.0)[0]
    total = np.stack(
        [blur_around((strip[near, :, k] * seen[near]).sum(axis=0)[None], 14.0)[0] for k in range(3)], 1
    )
    local = (total + 2.0 * everywhere) / (weight[:, None] + 2.0) - everywhere
    strip = strip - everywhere - np.clip(local, -MOST_LOCAL_LOG, MOST_LOCAL_LOG)
    numbers = np.dstack([strip[..., 0], np.abs(strip[..., 0]), strip[..., 1], strip[..., 2]])
    share = blur_around(seen, n_along)
    numbers = np.dstack(
        [blur_around(numbers[..., k] * seen, n_along) / np.maximum(share, 0.05) for k in range(4)]
    )
    known = share[inner] > 0.6
    if known.sum() < 50:
        known = np.ones_like(known)
    sample = numbers[inner][known]
    middle = np.median(sample, axis=0)
    scatter = 1.4826 * np.median(np.abs(sample - middle), axis=0)
    scatter = np.maximum(scatter, [0.02, 0.008, 0.008, 0.008])
    far = np.sqrt((((numbers - middle) / scatter) ** 2).sum(axis=2) / 4)
    usual = far[inner][known]
    limit = max(1.8 * float(np.percentile(usual, 85)), 1.1 * float(np.percentile(usual, 95)))
    unlike = np.clip((far - limit) / limit, -0.6, 0.8)
    unlike[(share < 0.3) | dark] = MARK_COST
    return np.asarray(unlike[len(deep) :], np.float32), dark[len(deep) :]


def _coat(crop: Crop, curve: Array) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """(H, W) log brightness the coat has or would have, as a plane; (H, W) 1 where a dark mark is."""
    core = np.zeros(crop.soft.shape, np.uint8)
    cv2.fillPoly(core, [np.round(curve).astype(np.int32)], 1)
    shade = _shade(crop.soft, core)
    return shade, _marks((crop.soft < shade - DARK_LOG).astype(np.uint8), core)


def _shade(soft: NDArray[np.float32], core: NDArray[np.uint8]) -> NDArray[np.float32]:
    """The plane through the log brightness of the coat inside the border."""
    deep = eroded(core, 16.0)
    if deep.sum() < 2000:
        deep = core
    y, x = np.nonzero(deep[::3, ::3])
    values = soft[::3, ::3][y, x]
    design = np.column_stack([np.ones(len(x)), x * 3 / FACE_SIDE_PX - 1, y * 3 / FACE_SIDE_PX - 1])
    # The coat is the upper crowd of brightness: start there and let in what lies near it. The slopes are
    # held back, or marks on one side would be taken for shade.
    plane = np.array([np.percentile(values, 80), 0.0, 0.0])
    held = np.diag([0.0, 1.0, 1.0]) / MOST_SHADE_LOG**2
    for near in (0.25, 0.2, 0.15, 0.12, 0.12):
        off = values - design @ plane
        keep = (off > -near) & (off < 1.5 * near)
        if keep.sum() < 30:
            break
        chosen, worth = design[keep], 1 / (near**2 * SHADE_RUN)
        plane = np.linalg.solve(worth * chosen.T @ chosen + held, worth * chosen.T @ values[keep])
    along_x = plane[1] * (np.arange(soft.shape[1]) / FACE_SIDE_PX - 1)
    along_y = plane[2] * (np.arange(soft.shape[0]) / FACE_SIDE_PX - 1)
    return np.asarray(along_x.astype(np.float32) + (plane[0] + along_y).astype(np.float32)[:, None])


def _marks(dark: NDArray[np.uint8], core: NDArray[np.uint8]) -> NDArray[np.float32]:
    """1 where a mark is: dark, wide, and reaching well into the face."""
    # Score lines cut a mark in stripes and dimples leave holes in it; overspray's dark rim is 2-3 mm wide,
    # a mark 5 mm and more.
    near = cv2.dilate(core, np.ones((21, 21), np.uint8))
    dark = np.minimum(
        np.asarray(cv2.morphologyEx(dark, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)), np.uint8), near
    )
    holes, _ = cv2.findContours(1 - dark, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    small = [hole for hole in holes if cv2.contourArea(hole) < SMALL_HOLE_PX2]
    cv2.drawContours(dark, small, -1, 1, cv2.FILLED)
    wide = rolled_inside(dark, 10.0)
    n, labels = cv2.connectedComponents(wide)
    # What is dark but nowhere deep may be crown or sole inside a border that is still too wide.
    is_mark = np.zeros(n, np.uint8)
    is_mark[labels[eroded(core, MARK_DEPTH_PX) > 0]] = 1
    is_mark[0] = 0  # all that is not dark
    return np.asarray(cv2.dilate(is_mark[labels], np.ones((5, 5), np.uint8)), np.float32)
