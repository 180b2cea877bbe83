"""Where is the powdered face, and where does it end?

Not the head: overspray on crown and sole lies beyond the face's edge and is not counted, nor is the hosel. A
rough border comes from the learned finder (face_net.py) or, without it, from pale face-shaped regions
(coarse.py); the walk to the edge itself is the same for both (edge.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark import caveats as cv
from facemark.caveats import Caveat
from facemark.errors import FaceError
from facemark.inputs import Photo
from facemark.see.camera import Array
from facemark.see.coarse import find_regions
from facemark.see.contour import area_px2, dilated, eroded, rolled_inside
from facemark.see.edge import FREE_WALK, GUIDED_IRON_WALK, GUIDED_WALK, Edge, Likely, fit_edge
from facemark.see.face_net import SEEN_FRAC, FaceGuess
from facemark.see.overspray import shown_edge, without_unsure

BORDER_BLUR_PX = 1.0
ROLL_FRAC = 0.06  # of the square root of the face's area: about 4 mm
N_TRIED = 3  # regions whose edge is walked before the best is taken
HIDDEN_CAVEAT_FRAC = 0.35
LEAST_SEEN_FRAC = 0.25  # less of the edge than this is no face; assumed
# Unless the learned finder is this sure. On 137 of 198 drawn photos it was, and its own outline overlapped
# the true one by 0.93 at least; what it took for a face in everyday pictures had 0.84 at most. So little edge
# is then a matter of light (a shadow across the face), and the centre's error says how little was seen.
SURE_CONFIDENCE_FRAC = 0.96
LEAST_WIDTH_PX = 60
BORDER_FRAC = 0.02  # more of the outline than this on the picture's border: cut off
NOT_FOUND = (
    "Spray the face evenly with dry powder, let it fill a third of the picture, and put something plain and "
    "dark behind it."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """The face's edge in the upright photo.

    ``outline_px`` (N, 2), closed (no repeated point), clockwise on the screen. ``edge_err_px``: one standard
    error of the edge's place, across it. ``hidden_frac``: share of the edge that was not clearly seen.
    ``dent_frac``: share of its hull's area that the rough border lacked; a bulge leaves dents beside it.
    ``guess``: the learned finder's answer it started from, if there was one.
    """

    outline_px: Array
    edge_err_px: float
    hidden_frac: float
    dent_frac: float = 0.0
    guess: FaceGuess | None = None
    caveats: tuple[Caveat, ...] = ()


def find_outline(
    photo: Photo, *, avoid_px: Sequence[Array] = (), guess: FaceGuess | None = None, bulging: bool = True
) -> Outline:
    """Find the outline of the powdered face.

    Parameters
    ----------
    photo : Photo
    avoid_px : sequence of (K, 2)
        Polygons that cannot be the face: card, tags, ball.
    guess : FaceGuess, optional
        The learned finder's answer; without it the simple finder looks, and the outline says so.
    bulging : bool
        The face bulges outward all round, as a wood's does; dents that marks leave are then bridged.

    Returns
    -------
    Outline

    Raises
    ------
    FaceError
        No powdered face, one cut off by the picture's border, or something that is not a face.
    """
    doubts: list[Caveat] = []
    dent_frac = 0.0
    if guess is not None:
        border = _border_of(guess)
        hull = cv2.convexHull(border.astype(np.float32))[:, 0].astype(float)
        dent_frac = 1.0 - abs(area_px2(border)) / abs(area_px2(hull))
        walk = GUIDED_WALK if bulging else GUIDED_IRON_WALK
        edge = fit_edge(photo.pixels, border, walk=walk, likely=_likely_of(guess))
        less = without_unsure(guess)
        if less is not None:
            inner = fit_edge(photo.pixels, _border_of(less), walk=walk, likely=_likely_of(less))
            edge = shown_edge(photo.pixels, edge, inner)
    else:
        doubts.append(Caveat(key=cv.FACE_NET_MISSING))
        edge = _best_edge(photo, avoid_px)
    sure = guess is not None and guess.confidence_frac >= SURE_CONFIDENCE_FRAC
    _refuse_if_not_face(photo, edge, least_seen_frac=0.0 if sure else LEAST_SEEN_FRAC)
    hidden_frac = float(1 - edge.clear_frac.mean())
    if hidden_frac > HIDDEN_CAVEAT_FRAC:
        detail = f"{100 * hidden_frac:.0f} % of the edge"
        doubts.append(Caveat(key=cv.FACE_EDGE_UNCERTAIN, detail=detail))
    return Outline(
        outline_px=edge.curve_px,
        edge_err_px=edge.edge_err_px,
        hidden_frac=hidden_frac,
        dent_frac=dent_frac,
        guess=guess,
        caveats=tuple(doubts),
    )


def _border_of(guess: FaceGuess) -> Array:
    """(K, 2) where the learned map crosses one half, in photo pixels, to a part of a map pixel."""
    grown = 2  # sub-pixel contours by drawing the map larger
    soft = cv2.resize(guess.face, None, fx=grown, fy=grown, interpolation=cv2.INTER_LINEAR)
    # Frayed borders would fold the walk's normals: blades of grass and mark rims are rolled away.
    seen = (cv2.GaussianBlur(soft, (0, 0), BORDER_BLUR_PX * grown) > SEEN_FRAC).astype(np.uint8)
    radius_px = ROLL_FRAC * math.sqrt(float(seen.sum()))
    pad = math.ceil(radius_px) + 2
    seen = np.pad(seen, pad)
    seen = eroded(dilated(seen, radius_px), radius_px)
    seen = rolled_inside(seen, radius_px)[pad:-pad, pad:-pad]
    if not seen.any():
        raise FaceError(
            "Expected a powdered club face; what was seen is too small to be one.", remedy=NOT_FOUND
        )
    contours, _ = cv2.findContours(seen, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    border = max(contours, key=cv2.contourArea)[:, 0].astype(float)
    # The contour runs through the centres of the outermost pixels: half a (grown) pixel inside the border.
    middle = border.mean(axis=0)
    away = border - middle
    border = border + 0.5 * away / np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
    return guess.photo_from_map((border + 0.5) / grown - 0.5)


def _likely_of(guess: FaceGuess) -> Likely:
    """The learned map, to be asked at photo pixels."""
    left, top, right, bottom = guess.box_px
    height, width = guess.face.shape

    def likely(px: Array) -> NDArray[np.float32]:
        x = ((px[:, 0] - left) / (right - left) * width - 0.5).astype(np.float32)
        y = ((px[:, 1] - top) / (bottom - top) * height - 0.5).astype(np.float32)
        # Folded into rows: remap takes pictures up to 32767 wide.
        rows = 64
        pad = -len(x) % rows
        shape = (rows, (len(x) + pad) // rows)
        at_x, at_y = (np.pad(v, (0, pad)).reshape(shape) for v in (x, y))
        map_ = cv2.remap(
            guess.face, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0
        )
        return np.asarray(map_.reshape(-1)[: len(x)], np.float32)

    return likely


def _best_edge(photo: Photo, avoid_px: Sequence[Array]) -> Edge:
    regions = find_regions(photo.pixels, tuple(avoid_px))
    if not regions:
        raise FaceError(
            "Expected a powdered club face; nothing pale and face-shaped was found.", remedy=NOT_FOUND
        )
    if regions[0].cut and regions[0].score_frac > 0.15:
        raise _cut_off()
    likely = [
        region for region in regions if region.score_frac > 0.35 * regions[0].score_frac and not region.cut
    ]
    tried = [(region, fit_edge(photo.pixels, region.hull_px, walk=FREE_WALK)) for region in likely[:N_TRIED]]
    if not tried:
        raise _cut_off()
    return max(tried, key=lambda pair: pair[0].score_frac ** 0.5 * _worth(pair[1]))[1]


def _worth(edge: Edge) -> float:
    """How much speaks for this outline: clear share times size (a part of a face has clear edges too)."""
    return float(edge.clear_frac.mean() * abs(area_px2(edge.curve_px)) ** 0.25)


def _refuse_if_not_face(photo: Photo, edge: Edge, *, least_seen_frac: float) -> None:
    curve = edge.curve_px
    low, high = curve.min(axis=0), curve.max(axis=0)
    beyond = (curve <= 1).any(axis=1) | (curve >= [photo.width_px - 2, photo.height_px - 2]).any(axis=1)
    if beyond.mean() > BORDER_FRAC:
        raise _cut_off()
    size, _ = cv2.minAreaRect(curve.astype(np.float32))[1:]
    aspect = max(size) / max(min(size), 1e-6)
    if max(high - low) < LEAST_WIDTH_PX:
        raise FaceError(
            f"Expected a face at least {LEAST_WIDTH_PX} pixels long; this one has {max(high - low):.0f}.",
            remedy="Go closer, or send the original file instead of a chat copy.",
        )
    seen_frac = float((edge.clear_frac > 0.3).mean())
    if seen_frac < least_seen_frac or not 1.05 < aspect < 4.0:
        raise FaceError(
            f"Expected the outline of a face; what was found shows {100 * seen_frac:.0f} % of an edge, "
            f"{aspect:.1f} times as long as high.",
            remedy=NOT_FOUND,
        )


def _cut_off() -> FaceError:
    return FaceError(
        "Expected the whole face in the picture; the border cuts it off.",
        remedy="Step back until the whole head and some shaft are in the picture.",
    )
