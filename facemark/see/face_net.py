"""Where in the photo is the face, and which way does its toe lie? The learned finder's answer.

A small network looks twice: at the whole photo, reduced, and at a crop around the face it found there. Only
where it sees no face it looks again at a larger picture of the whole. It learned from drawn scenes only
(facemark.learn.face_scenes), so its answer is a guess to be refined on the photo's own edges (outline.py),
never an outline by itself.
"""

from __future__ import annotations

import functools
import hashlib
import json
import math
import threading
from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.errors import FaceError
from facemark.inputs import Hand, Photo
from facemark.see.camera import Array
from facemark.see.face_canvas import (
    CLOSE_CANVASES,
    Box,
    Canvas,
    Plane,
    Views,
    close_canvas,
    crop_around,
    drawn,
    far_canvas,
    grown,
    moved,
    sampled,
)
from facemark.see.small import Small
from facemark.see.small import shrink as smaller_copy

Forward = Callable[[Plane], Plane]  # (1, 3, H, W) RGB in 0..1 -> (9, H, W) maps

WAYS = ("toe_x", "toe_y", "up_x", "up_y")
MAPS = ("face", "head", "shaft", "edge", "scale", *WAYS)
TOE, UP = MAPS.index("toe_x"), MAPS.index("up_x")


class Look(NamedTuple):
    """Longer side of the reduced whole photo, share of the crop that the face takes in the second look, and
    the crop's sizes."""

    far_px: int
    fill_frac: float
    canvases: tuple[Canvas, ...] = CLOSE_CANVASES


# Trained at 448, and on shares of 0.5 to 0.88. The first is for speed; the others, in turn where no face was
# seen, are for small faces and for hosels outside the crop. Reduced to 256 px one of 26 drawn photos was
# missed, to 320 none.
LOOKS = (Look(320, 0.66), Look(448, 0.66), Look(448, 0.50))
# Before them, where time counts: as many pixels a face, two thirds of the time.
FAST_LOOK = Look(256, 0.76, ((256, 384), (320, 384), (384, 320)))
SEEN_FRAC = 0.5  # a pixel is face when this probable
LEAST_FAR_FRAC = 0.0006  # a face smaller than this share of the reduced photo cannot be measured
LEAST_CLOSE_FRAC = 0.05  # a face fills at least this share of its own crop
# Of a face's probability in one piece: 0.86 and more on whole faces, mostly below 0.75 on torn ones.
LEAST_WHOLE_FRAC, LEAST_PIECE_FRAC = 0.85, 0.75
# Below, what was found is no face; the second number where the toe's side is not sure. Set on drawn photos,
# drawn scenes without a club and everyday pictures (docs/reference/model-card-face.md).
LEAST_CONFIDENCE_FRAC, LEAST_UNSURE_CONFIDENCE_FRAC = 0.88, 0.955
TOE_SURE_FRAC, TOE_CLEAR_FRAC = 0.6, 0.8  # the toe's side is sure; so clear that no turned look is needed
LEAN_DEG = 20.0  # a face leaning more is looked at turned level; the network learned little of leaning ones
LEAST_ASPECT = 1.15  # length over height by second moments; balls and coins are round
MOVED_FRAC, MOST_LOOKS = 0.12, 4  # look again when the last look moved or resized the face by more

_FOLDER = resources.files("facemark.see") / "weights"
_lock = threading.Lock()  # an OpenCV network holds its own buffers


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceGuess:
    """Maps over a box of the photo, (h, w) in 0..1, and what they say.

    ``face``: powdered face, also where something thin covers it; ``head``: face and body; ``shaft``: hosel
    and shaft; ``edge``: outline of the face; ``scale``: tags, card, ball or ruler. Only the chosen face is
    left in ``face`` and ``edge``.
    """

    face: Plane
    head: Plane
    shaft: Plane
    edge: Plane
    scale: Plane
    box_px: tuple[float, float, float, float]  # left, top, right, bottom; pixel centres at whole numbers
    centre_px: Array  # (2,) centroid of the face
    toe_px: Array  # (2,) unit vector toward the toe, x right, y down; 68 % within 2.5 degrees on drawn photos
    up_px: Array  # (2,) unit vector toward the crown
    toe_sure_frac: float  # 1: all pixels agree on the toe's side and on up; below 0.6 not known
    confidence_frac: float  # 1: every pixel is surely face or surely not
    weights_hash: str

    @property
    def hand(self) -> Hand:
        """Seen from the front with the crown up, a right-handed head has its toe on the left."""
        turn = self.toe_px[0] * self.up_px[1] - self.toe_px[1] * self.up_px[0]
        return Hand.RIGHT if turn > 0 else Hand.LEFT

    def photo_from_map(self, xy: Array) -> Array:
        """(N, 2) photo pixels of (N, 2) map pixels (column, row), centres at whole numbers in both."""
        left, top, right, bottom = self.box_px
        height, width = self.face.shape
        step = np.array([(right - left) / width, (bottom - top) / height])
        return np.asarray(np.array([left, top]) + (np.asarray(xy, float).reshape(-1, 2) + 0.5) * step)

    def map_from_photo(self, px: Array) -> Array:
        """(N, 2) map pixels (column, row) of (N, 2) photo pixels."""
        left, top, right, bottom = self.box_px
        height, width = self.face.shape
        step = np.array([(right - left) / width, (bottom - top) / height])
        return np.asarray((np.asarray(px, float).reshape(-1, 2) - np.array([left, top])) / step - 0.5)


def guess_face(photo: Photo, *, small: Small | None = None, fast: bool = False) -> FaceGuess | None:
    """Find the face.

    Parameters
    ----------
    photo : Photo
    small : Small, optional
        ``shrink(photo.pixels)``, if at hand.
    fast : bool
        Look at smaller pictures first.

    Returns
    -------
    FaceGuess or None
        None when the weights are not there (a caveat for the caller, ``face_net_missing``).

    Raises
    ------
    FaceError
        If no face is seen.
    """
    if not (_FOLDER / "face.onnx").is_file():
        return None
    return _guess(photo.pixels, _forward, weights_hash=_weights()[1], small=small, fast=fast)


def model_card() -> dict[str, Any] | None:
    """The card beside the weights; None without weights."""
    if not (_FOLDER / "face.json").is_file():
        return None
    return dict(json.loads((_FOLDER / "face.json").read_text(encoding="utf-8")))


def _guess(
    pixels: NDArray[np.uint8],
    forward: Forward,
    *,
    weights_hash: str,
    small: Small | None = None,
    fast: bool = False,
) -> FaceGuess:
    views = (Small(pixels=pixels, factor=1), smaller_copy(pixels) if small is None else small)
    looks = [(look, LEAST_WHOLE_FRAC) for look in ((FAST_LOOK, *LOOKS) if fast else LOOKS)]
    # From afar a whole face may look torn: before giving up, a piece of one is looked at from near.
    for look, least_whole in (*looks, (LOOKS[0], LEAST_PIECE_FRAC)):
        guess = _looked(views, forward, look, least_whole, weights_hash=weights_hash)
        if guess is not None:
            guess = _upright(guess, views, forward)
            if _is_face(guess):
                return guess
    raise FaceError(
        "Expected a powdered club face; none was seen in the photo.",
        remedy="Fill a third to two thirds of the photo's width with the face, sharp and evenly lit.",
    )


def _looked(
    views: Views, forward: Forward, look: Look, least_whole: float, *, weights_hash: str
) -> FaceGuess | None:
    """One look at the whole, one at the face, more while the face still moves or grows."""
    height, width = views[0].pixels.shape[:2]
    canvas = far_canvas(height, width, look.far_px)
    box = grown((0, 0, width, height), canvas)
    maps = forward(drawn(views, box, canvas))
    face = _chosen(maps, middle=None)
    if np.count_nonzero(face) < LEAST_FAR_FRAC * face.size or _whole_frac(maps, face) < least_whole:
        return None
    for _ in range(MOST_LOOKS):
        last = _box_of(face, box, canvas)
        canvas = close_canvas(last, look.canvases)
        box = crop_around(last, canvas, look.fill_frac)
        maps = forward(drawn(views, box, canvas))
        face = _chosen(maps, middle=last)
        if np.count_nonzero(face) < LEAST_CLOSE_FRAC * face.size:
            return None
        if moved(last, _box_of(face, box, canvas)) < MOVED_FRAC:
            return _result(maps, face, box, weights_hash)
    return None


def _upright(guess: FaceGuess, views: Views, forward: Forward) -> FaceGuess:
    """Look again with the picture turned, where the face leans or its toe is not sure: best seen level."""
    lean_deg, _ = _lean(guess.face)
    turns_deg = [] if abs(lean_deg) < LEAN_DEG else [lean_deg]
    if not turns_deg and guess.toe_sure_frac >= TOE_CLEAR_FRAC:
        return guess
    seen = [guess]
    for turn_deg in [*turns_deg, lean_deg + 180]:
        seen.append(_turned(guess, views, forward, turn_deg))
        if _is_face(seen[-1]) and seen[-1].toe_sure_frac >= TOE_CLEAR_FRAC:
            break
    return max(seen, key=lambda one: min(one.toe_sure_frac, one.confidence_frac))


def _lean(face: Plane) -> tuple[float, float]:
    """Angle [degrees, -90 to 90, clockwise on the screen] of the face's long axis, and length over height."""
    moments = cv2.moments((face > SEEN_FRAC).astype(np.uint8), binaryImage=True)
    matrix = np.array([[moments["mu20"], moments["mu11"]], [moments["mu11"], moments["mu02"]]])
    sizes, axes = np.linalg.eigh(matrix)
    angle = math.degrees(math.atan2(axes[1, 1], axes[0, 1]))
    return (angle + 90) % 180 - 90, math.sqrt(max(sizes[1], 1e-9) / max(sizes[0], 1e-9))


def _is_face(guess: FaceGuess) -> bool:
    """Clear enough, and longer than high; where its ends look alike it must be clearer."""
    unsure = guess.toe_sure_frac < TOE_SURE_FRAC
    least = LEAST_UNSURE_CONFIDENCE_FRAC if unsure else LEAST_CONFIDENCE_FRAC
    return guess.confidence_frac >= least and _lean(guess.face)[1] >= LEAST_ASPECT


def _turned(guess: FaceGuess, views: Views, forward: Forward, turn_deg: float) -> FaceGuess:
    """The same face looked at on a picture turned by ``turn_deg``, and turned back."""
    height, width = guess.face.shape
    step = (guess.box_px[2] - guess.box_px[0]) / width
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    turn = np.array([[c, -s], [s, c]])  # photo from level
    rows, columns = np.nonzero(guess.face > SEEN_FRAC)
    level = guess.photo_from_map(np.column_stack([columns, rows])) @ turn
    low, high = level.min(axis=0), level.max(axis=0)
    canvas = close_canvas((*low, *high), CLOSE_CANVASES)
    shrink = max((high - low) / canvas[::-1]) / LOOKS[0].fill_frac
    # Photo pixel of the canvas's pixel (0, 0).
    corner = turn @ ((low + high) / 2) - shrink * turn @ ((np.array(canvas[::-1]) - 1) / 2)
    maps = forward(sampled(views, np.column_stack([shrink * turn, corner]), shrink, canvas))
    # Back onto the guess's box: canvas pixels of its map pixels.
    origin = guess.photo_from_map(np.zeros(2))[0]
    back = np.column_stack([turn.T * step / shrink, turn.T @ (origin - corner) / shrink])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    maps = np.stack([cv2.warpAffine(one, back, (width, height), flags=flags) for one in maps])
    for k in (TOE, UP):
        maps[k], maps[k + 1] = c * maps[k] - s * maps[k + 1], s * maps[k] + c * maps[k + 1]
    face = _chosen(maps, middle=guess.box_px)
    if not face.any():
        return guess
    left, top, right, bottom = guess.box_px
    box = (round(left + 0.5), round(top + 0.5), round(right + 0.5), round(bottom + 0.5))
    return _result(maps, face, box, guess.weights_hash)


def _chosen(maps: Plane, *, middle: tuple[float, float, float, float] | None) -> NDArray[np.bool_]:
    """(h, w) the piece of the face map with the most probability in it; in a crop, the middle counts most."""
    weight = maps[0].copy()
    if middle is not None:
        height, width = weight.shape
        x = (np.arange(width) - width / 2) / (width / 2)
        y = (np.arange(height) - height / 2) / (height / 2)
        weight *= np.exp(-2 * (x[None, :] ** 2 + y[:, None] ** 2)).astype(np.float32)
    n, pieces = cv2.connectedComponents((maps[0] > SEEN_FRAC).astype(np.uint8), connectivity=4)
    if n < 2:
        return np.zeros(weight.shape, bool)
    sums = np.bincount(pieces.ravel(), weights=weight.ravel(), minlength=n)
    return np.asarray(pieces == 1 + int(np.argmax(sums[1:])))


def _whole_frac(maps: Plane, face: NDArray[np.bool_]) -> float:
    """Share of the probability in and around the chosen piece that is in it: low in a torn face."""
    columns, rows = np.flatnonzero(face.any(axis=0)), np.flatnonzero(face.any(axis=1))
    reach = max(columns[-1] - columns[0], rows[-1] - rows[0]) + 1
    left, top = max(columns[0] - reach, 0), max(rows[0] - reach, 0)
    around = np.s_[top : rows[-1] + reach + 1, left : columns[-1] + reach + 1]
    return float(maps[0][face].sum() / maps[0][around].sum())


def _box_of(face: NDArray[np.bool_], box: Box, canvas: tuple[int, int]) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of the face in photo pixels."""
    columns, rows = np.flatnonzero(face.any(axis=0)), np.flatnonzero(face.any(axis=1))
    shrink = (box[3] - box[1]) / canvas[0]
    return (
        box[0] + columns[0] * shrink,
        box[1] + rows[0] * shrink,
        box[0] + (columns[-1] + 1) * shrink,
        box[1] + (rows[-1] + 1) * shrink,
    )


def _result(maps: Plane, face: NDArray[np.bool_], box: Box, weights_hash: str) -> FaceGuess:
    # Soft borders belong to the chosen piece, other pieces do not.
    near = cv2.dilate(face.astype(np.uint8), np.ones((15, 15), np.uint8)).astype(bool)
    probable = np.where(near, maps[0], np.float32(0))
    confidence = float(np.minimum(probable, face).sum() / np.maximum(probable, face).sum())
    inside = probable * face
    means = np.asarray((maps * inside).sum(axis=(1, 2)) / max(float(inside.sum()), 1e-6), float)
    toe, up = means[TOE : TOE + 2], means[UP : UP + 2]
    middle = _centroid(inside)
    left, top, right, bottom = (edge - 0.5 for edge in box)
    step = np.array([(right - left) / face.shape[1], (bottom - top) / face.shape[0]])
    return FaceGuess(
        face=probable,
        head=maps[1],
        shaft=maps[2],
        edge=np.where(near, maps[3], np.float32(0)),
        scale=maps[4],
        box_px=(left, top, right, bottom),
        centre_px=np.array([left, top]) + (middle + 0.5) * step,
        toe_px=_unit(toe),
        up_px=_unit(up),
        toe_sure_frac=_toe_sure_frac(toe, up),
        confidence_frac=confidence,
        weights_hash=weights_hash,
    )


def _toe_sure_frac(toe: Array, up: Array) -> float:
    """The mean of unit vectors is short where they disagree; the two directions must be square, too."""
    shorter = min(1.0, float(np.linalg.norm(toe)), float(np.linalg.norm(up)))
    across = _unit(toe)[0] * _unit(up)[1] - _unit(toe)[1] * _unit(up)[0]
    return shorter * abs(float(across))


def _centroid(weight: Plane) -> Array:
    """(2,) column and row."""
    total = max(float(weight.sum()), 1e-6)
    columns, rows = weight.sum(axis=0), weight.sum(axis=1)
    return np.array([columns @ np.arange(len(columns)), rows @ np.arange(len(rows))]) / total


def _unit(way: Array) -> Array:
    return np.asarray(way / max(float(np.linalg.norm(way)), 1e-6))


@functools.cache
def _weights() -> tuple[Any, str]:
    """The network and the first half of its file's SHA-256."""
    # From a file: from memory OpenCV 5.0 ignores the choice of engine. This one takes 0.6 of its time.
    with resources.as_file(_FOLDER / "face.onnx") as path:
        net = cv2.dnn.readNetFromONNX(str(path), cv2.dnn.ENGINE_CLASSIC)
        return net, hashlib.sha256(path.read_bytes()).hexdigest()[:32]


def _forward(picture: Plane) -> Plane:
    with _lock:
        net = _weights()[0]
        net.setInput(picture)
        return np.asarray(net.forward()[0], np.float32)
