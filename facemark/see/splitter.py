"""Which balls made this worn powder? The learned splitter: a small network, then one point per ball.

The network (facemark/learn, trained on drawn faces only) answers with maps at 1 px/mm. As many points as
balls share the density out evenly, each with a score and errors that were calibrated on other drawn faces.
Where marks cannot be told apart, the group's centre and spread come from the density itself. When nobody said
how many balls were hit, the peaks and the density beyond them say how many points there are. The first look
is always without a count; where it shows the prints plainly apart, no other is needed.

Weights and calibration: weights/marks.onnx and weights/marks.json, named by hash in the model card
(docs/reference/model-card-marks.md). Runs on OpenCV's dnn; the same photo always gives the same answer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from facemark.see.mark import Marks
from facemark.see.rectify import RECTIFIED_PX_PER_MM, FaceMap
from facemark.see.splitter_net import MIRRORS, ask, face_planes, model_card
from facemark.see.splitter_read import no_marks, on_face, read_marks, seen_balls, stand_apart

MOST_BALLS = 30  # more points than this say nothing that the density does not


def split_marks(
    face_map: FaceMap,
    *,
    n_balls: int | None = None,
    fast: bool = False,
    before: NDArray[np.uint8] | None = None,
) -> Marks | None:
    """Find the mark of every ball on a rectified face, or of those hit since an earlier photo.

    Parameters
    ----------
    face_map : FaceMap
        At 4 px/mm.
    n_balls : int, optional
        How many balls were hit, if told; "about ten" is fine.
    fast : bool
        One look per question instead of mirrored ones too.
    before : (H, W) uint8, optional
        Grey photo of the face before the last balls, laid over ``face_map``: only the balls since are looked
        for and counted.

    Returns
    -------
    Marks or None
        None only if the weights are missing. A face without marks gives no marks, whatever was told; its
        group has ``n_balls`` 0 and infinite errors.

    Raises
    ------
    ValueError
        If the face map is not at 4 px/mm, or ``n_balls`` is less than 1.
    """
    if abs(face_map.px_per_mm - RECTIFIED_PX_PER_MM) > 1e-9:
        raise ValueError(f"a face map at {RECTIFIED_PX_PER_MM} px/mm was expected, {face_map.px_per_mm} came")
    if n_balls is not None and n_balls < 1:
        raise ValueError(f"a count of balls of at least 1 was expected, {n_balls} came")
    card = model_card()
    if card is None:
        return None
    planes = face_planes(face_map, before)
    maps = ask(planes, None, mirrors=1)
    rate = on_face(maps, face_map)
    n_seen = seen_balls(maps, rate)
    plain = stand_apart(maps, rate, n_balls or round(n_seen))
    if n_balls is None and not plain and not fast:
        maps = ask(planes, None, mirrors=MIRRORS, first=maps)
        rate = on_face(maps, face_map)
        n_seen = seen_balls(maps, rate)
    if n_seen == 0.0:
        return no_marks(face_map, rate, n_balls)
    n_points = min(n_balls or round(n_seen), MOST_BALLS)
    if n_balls is not None and not plain:
        maps = ask(planes, n_points, mirrors=1 if fast else MIRRORS)
    return read_marks(
        maps,
        face_map,
        n_points,
        n_seen=n_seen,
        n_told=n_balls,
        paired=before is not None,
        calibration=card["calibration"],
    )
