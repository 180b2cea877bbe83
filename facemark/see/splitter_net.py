"""The splitter's network: planes in, maps out, mirrored answers averaged.

The same planes as facemark.learn.mark_net makes for training; a test holds both together.
"""

from __future__ import annotations

import functools
import json
import threading
from dataclasses import dataclass
from importlib import resources
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.rectify import FaceMap

Plane = NDArray[np.float32]

OUT_PLANES = (
    "centre",  # logit
    "density",  # log of balls per mm2
    "rim",  # logit
    "union",  # logit
    "layers",
    "offset_x",
    "offset_y",
    "log_sd_x",
    "log_sd_y",
    "radius",  # (mm - 10) / 3
)
CONTRAST_BOX_PX = 33  # 8 mm: narrower than a print, wider than a dimple
POWDER_PERCENTILE = 0.85  # grey of the powder: brighter than six in seven pixels of the face
STRIDE_PX = 32  # the network halves the picture five times
MIRRORS = 2  # looks that are averaged, where time allows
CELL_PX = 4  # input pixels per output cell: 1 mm

_FOLDER = resources.files("facemark.see") / "weights"
_lock = threading.Lock()  # an OpenCV network holds its own buffers


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SplitMaps:
    """What the network says about a face, (h, w) at 1 px/mm; cell (r, c) lies over map pixels 4r.., 4c...

    ``rate``: balls per mm2. ``centre``: 0 to 1, a centre lies here. ``offset_toe, offset_down`` and ``sd_toe,
    sd_high``: way to the nearest centre and its doubt [mm]. ``radius``: of that
    print [mm]. ``union``: 0 to 1.
    """

    rate: Plane
    centre: Plane
    union: Plane
    offset_toe: Plane
    offset_down: Plane
    sd_toe: Plane
    sd_high: Plane
    radius: Plane


def model_card() -> dict[str, Any] | None:
    """The model card that lies beside the weights, with the calibration; None without weights."""
    if not (_FOLDER / "marks.onnx").is_file():
        return None
    return _card()


@functools.cache
def _card() -> dict[str, Any]:
    return dict(json.loads((_FOLDER / "marks.json").read_text(encoding="utf-8")))


@functools.cache
def _network() -> Any:
    if not (_FOLDER / "marks.onnx").is_file():
        raise FileNotFoundError("facemark/see/weights/marks.onnx is missing")
    with resources.as_file(_FOLDER / "marks.onnx") as path:
        return network(str(path))


def network(path: str) -> Any:
    """An OpenCV network of an ONNX file."""
    # From a file: from memory OpenCV 5.0 ignores the choice of engine.
    return cv2.dnn.readNetFromONNX(path, cv2.dnn.ENGINE_CLASSIC)


def face_planes(face_map: FaceMap, before: NDArray[np.uint8] | None = None) -> Plane:
    """What the network looks at, (5, H, W) with H and W padded to multiples of 32.

    Grey, local contrast and outline of the face map, then grey and contrast of ``before``: the grey photo
    (H, W) taken before the last balls, laid over this one; zeros without one.
    """
    grey = cv2.cvtColor(face_map.pixels, cv2.COLOR_RGB2GRAY)
    height, width = grey.shape
    pad = ((0, -height % STRIDE_PX), (0, -width % STRIDE_PX))
    # Outside the outline all planes are zero, so it does not matter what the padding holds.
    inside = np.pad(face_map.inside, pad)
    now = grey_planes(np.pad(grey, pad), inside)
    then = np.zeros_like(now[:2]) if before is None else grey_planes(np.pad(before, pad), inside)[:2]
    return np.concatenate([now, then])


def grey_planes(grey: NDArray[np.uint8], inside: NDArray[np.bool_]) -> Plane:
    """(3, H, W) planes of (H, W) grey 0 to 255 and outline."""
    thin = np.sort(grey[::4, ::4][inside[::4, ::4]])
    level = float(thin[int(POWDER_PERCENTILE * (len(thin) - 1))]) if len(thin) else 255.0
    relative = grey.astype(np.float32) / np.float32(max(level, 8.0))
    within = inside.astype(np.float32)
    share = np.maximum(_box_mean(within), 1e-3)
    mean = _box_mean(relative * within) / share
    square = _box_mean(relative * relative * within) / share
    sd = np.sqrt(np.maximum(square - mean * mean, 0.0))
    contrast = np.clip((relative - mean) / (sd + 0.02), -4.0, 4.0) / 2.0
    planes = np.stack([np.clip(relative - 1.0, -1.0, 1.5) * within, contrast * within, within])
    return np.asarray(planes, np.float32)


def _box_mean(field: Plane) -> Plane:
    size = (CONTRAST_BOX_PX, CONTRAST_BOX_PX)
    return np.asarray(cv2.blur(field, size, borderType=cv2.BORDER_CONSTANT), np.float32)


def ask(
    planes: Plane, n_balls: int | None, *, mirrors: int, first: SplitMaps | None = None, net: Any = None
) -> SplitMaps:
    """Ask the network.

    Parameters
    ----------
    planes : (5, H, W)
        From ``face_planes``.
    n_balls : int, optional
        Declared count; None: not told.
    mirrors : {1, 2, 4}
        1: as it is; 2: also toe for heel; 4: also upside down. The answers are turned back and averaged.
    first : SplitMaps, optional
        The answer to the look as it is, if at hand.
    net : cv2.dnn.Net, optional
        Another network than the one in the package.

    Raises
    ------
    FileNotFoundError
        If the weights are missing; ask ``model_card`` first.
    """
    count = np.full((1, *planes.shape[1:]), (n_balls or 0) / 10.0, np.float32)
    whole = np.concatenate([planes[:3], count, planes[3:]])[None]
    sums: dict[str, Plane] = {}
    for turn in ((), (3,), (2,), (2, 3))[:mirrors]:
        if first is not None and not turn:
            sums = {name: getattr(first, name) for name in SplitMaps.__slots__}
            continue
        with _lock:
            network = _network() if net is None else net
            network.setInput(np.ascontiguousarray(np.flip(whole, turn)))
            maps = np.flip(network.forward(), turn)[0]
        for name, value in _meaning(maps, turn).items():
            sums[name] = sums[name] + value if name in sums else value
    mean = {name: np.asarray(value / mirrors, np.float32) for name, value in sums.items()}
    return SplitMaps(**mean)


def _meaning(maps: Plane, turn: tuple[int, ...]) -> dict[str, Plane]:
    """Raw planes as rates, probabilities and millimetres; a mirrored answer's offsets point the other way."""
    raw = dict(zip(OUT_PLANES, maps, strict=True))
    return {
        "rate": np.exp(np.clip(raw["density"], -14.0, 2.0)),
        "centre": 1.0 / (1.0 + np.exp(-raw["centre"])),
        "union": 1.0 / (1.0 + np.exp(-raw["union"])),
        "offset_toe": -raw["offset_x"] if 3 in turn else raw["offset_x"],
        "offset_down": -raw["offset_y"] if 2 in turn else raw["offset_y"],
        "sd_toe": np.exp(np.clip(raw["log_sd_x"], -2.5, 2.5)),
        "sd_high": np.exp(np.clip(raw["log_sd_y"], -2.5, 2.5)),
        "radius": 10.0 + 3.0 * raw["radius"],
    }
