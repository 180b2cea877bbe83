"""Does a thick coat on crown or sole pass for face? Of two possible edges, the one that the photo shows.

Where the learned finder took overspray for face, its map says so: it is sure of the face itself, and less
sure of a broad stretch beside it. That stretch has two borders, and a walk starts from each (edge.py). Across
the true edge the coat changes in the photo; across the other one head, powder and ground are all unlike it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.coat import Crop, crop_around, unlike_coat
from facemark.see.contour import dilated, even, normals, rolled_inside, smooth
from facemark.see.edge import N_POINTS, Edge
from facemark.see.face_net import SEEN_FRAC, FaceGuess

SURE_FRAC = 0.93  # of a face's pixels are surer than this, but for its border; assumed
BROAD_FRAC = 0.02  # of the square root of the face's area, 1.5 mm: half of an unsure stretch's least breadth
LEAST_UNSURE_FRAC = 0.08  # of the face's area; less cannot move the centre by 3 mm
UNSURE_SEEN_FRAC = 0.25  # what an unsure pixel counts when it is taken for overspray; below ``SEEN_FRAC``
APART_PX = 4.0  # of the shrunk face, 1 mm: nearer than this the two edges are one
LOOK_PX = 12  # this far to either side the coat is compared
N_ALONG = 6.0  # columns averaged, as in the walk
# The inner edge must be this much clearer. On 396 looks at 198 drawn photos (two sets of weights) true inner
# edges reached 1.19 and 1.33, false ones at most 0.41.
LEAST_CLEARER = 0.8


def without_unsure(guess: FaceGuess) -> FaceGuess | None:
    """The guess with its broad unsure stretches taken for overspray; None where there are hardly any."""
    soft = cv2.GaussianBlur(guess.face, (0, 0), 1.0)
    seen = soft > SEEN_FRAC
    side_px = math.sqrt(float(seen.sum()))
    borders, _ = cv2.findContours(
        (soft > SURE_FRAC).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    sure = np.zeros(soft.shape, np.uint8)
    if borders:
        # Filled: marks may be unsure as well, and lie inside.
        cv2.drawContours(sure, [max(borders, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    unsure = rolled_inside((seen & (sure == 0)).astype(np.uint8), BROAD_FRAC * side_px)
    if unsure.sum() < LEAST_UNSURE_FRAC * side_px**2:
        return None
    near = dilated(unsure, BROAD_FRAC * side_px / 2) > 0
    face = np.where(near, np.minimum(guess.face, np.float32(UNSURE_SEEN_FRAC)), guess.face)
    return replace(guess, face=face)


def shown_edge(pixels: NDArray[np.uint8], outer: Edge, inner: Edge) -> Edge:
    """The inner edge if the photo shows it much more clearly where the two differ, else the outer.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 RGB
    outer, inner : Edge
        Walked to from the finder's map as it is and from ``without_unsure``.

    Returns
    -------
    Edge
    """
    crop = crop_around(pixels, outer.curve_px)
    out, inn = (crop.from_photo(edge.curve_px) for edge in (outer, inner))
    beyond, within = _inside_px(inn, out) < -APART_PX, _inside_px(out, inn) > APART_PX
    if not beyond.any() or not within.any():
        return outer
    clearer = np.median(_steps(crop, inn)[within]) - np.median(_steps(crop, out)[beyond])
    return inner if clearer >= LEAST_CLEARER else outer


def _inside_px(border: Array, points: Array) -> Array:
    """(N,) how deep each point lies inside the closed border; below 0 outside."""
    polygon = even(border, N_POINTS).astype(np.float32)
    at = even(points, N_POINTS).tolist()
    return np.array([cv2.pointPolygonTest(polygon, (x, y), True) for x, y in at])


def _steps(crop: Crop, curve: Array) -> Array:
    """(N,) how much more unlike the coat it is outside the curve than inside: 0 no edge, 1.4 the clearest."""
    offsets = np.arange(-LOOK_PX, LOOK_PX + 1, dtype=float)
    curve = smooth(even(curve, N_POINTS), 16.0)
    unlike, _ = unlike_coat(crop, curve, normals(curve), offsets, N_ALONG)
    near = (np.abs(offsets) > 1) & (np.abs(offsets) <= 8)
    inside, outside = (unlike[near & side].mean(axis=0) for side in (offsets < 0, offsets > 0))
    return np.asarray(outside - inside, float)
