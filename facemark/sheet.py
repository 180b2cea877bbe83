"""Where everything on our printed scale sheet is: the one place both the printer and the finder read.

A frame in the shape of a U stands round the face: two side bars and a sole bar, with square tags on them.
It may be cut down to an L, so that the shaft has room on either side. Coordinates are millimetres on paper,
x right, y up, origin in the middle of the window. The ids carry the version: a later layout uses others.

The dictionary is OpenCV's DICT_5X5_50 because none of its 50 tags can be read in a mirrored picture
(checked in tests/see/test_tags.py); 4 of the 50 in DICT_4X4_50 can.
"""

from __future__ import annotations

from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

VERSION = 1
DICTIONARY = "DICT_5X5_50"
N_CELLS = 7  # 5 x 5 bits and the black border

WINDOW_WIDTH_MM = 134.0  # a driver's face is at most 127 mm long (Equipment Rules, part 2) ...
WINDOW_HEIGHT_MM = 84.0  # ... and at most 71.12 mm high
BAR_MM = 32.0  # the two side bars
SOLE_BAR_MM = 46.0  # tags and a line to write on
TAG_MM = 24.5  # 7 cells of 3.5 mm
CHECK_RULER_MM = 100.0

# White margin a tag needs on every side is one cell, 3.5 mm; everything else keeps outside it.
_SIDE_X_MM = WINDOW_WIDTH_MM / 2 + BAR_MM / 2
_SOLE_Y_MM = -WINDOW_HEIGHT_MM / 2 - 4.0 - TAG_MM / 2

# Tag id -> centre. Ids 0-8 mean version 1.
TAG_CENTRES_MM: MappingProxyType[int, tuple[float, float]] = MappingProxyType(
    {
        0: (-_SIDE_X_MM, _SOLE_Y_MM),
        1: (-_SIDE_X_MM / 2, _SOLE_Y_MM),
        2: (0.0, _SOLE_Y_MM),
        3: (_SIDE_X_MM / 2, _SOLE_Y_MM),
        4: (_SIDE_X_MM, _SOLE_Y_MM),
        5: (-_SIDE_X_MM, _SOLE_Y_MM + 41.5),
        6: (-_SIDE_X_MM, _SOLE_Y_MM + 83.0),
        7: (_SIDE_X_MM, _SOLE_Y_MM + 41.5),
        8: (_SIDE_X_MM, _SOLE_Y_MM + 83.0),
    }
)


def tag_corners_mm(tag: int) -> Array:
    """(4, 2) corners of one tag's black square: top left, top right, bottom right, bottom left."""
    half = TAG_MM / 2
    square = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
    return np.asarray(square + np.array(TAG_CENTRES_MM[tag]))


def bars_mm() -> tuple[Array, Array, Array]:
    """The paper: left bar, sole bar, right bar, each a (4, 2) rectangle, clockwise from the top left."""
    inner, outer = WINDOW_WIDTH_MM / 2, WINDOW_WIDTH_MM / 2 + BAR_MM
    top, sill, foot = WINDOW_HEIGHT_MM / 2, -WINDOW_HEIGHT_MM / 2, -WINDOW_HEIGHT_MM / 2 - SOLE_BAR_MM
    return (
        _rectangle(-outer, top, -inner, sill),
        _rectangle(-outer, sill, outer, foot),
        _rectangle(inner, top, outer, sill),
    )


def bar_of(tag: int) -> int:
    """Which of ``bars_mm`` a tag is printed on."""
    return 0 if tag in (5, 6) else 2 if tag in (7, 8) else 1


def _rectangle(left: float, top: float, right: float, foot: float) -> Array:
    return np.array([[left, top], [right, top], [right, foot], [left, foot]])
