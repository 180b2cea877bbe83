"""Which way is level on the face? Score lines run from heel to toe.

They show as thin bright or dark streaks, mostly faint under the powder and sharp inside the marks. The face,
seen straight on, is turned through a range of angles; at each it is averaged along the rows over the length
of a line piece, and what is left of thin cross-structure is squared and summed: streaks survive only when
they lie along the rows (a local Radon transform). The peak is the direction; how far it stands above the rest
says how sure it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.contour import eroded
from facemark.see.rectify import FaceMap

PIECE_MM = 14.0  # score lines beside the middle are 20 mm and longer
THIN_MM = 1.1  # a line with its shadow is narrower
GRAIN_MM = 0.25
EDGE_MM = 2.5  # the face's own edge is also a long thin thing: keep away from it
REACH_ERRS, PRIOR_ERRS = 4.5, 1.5  # looked for this far, believed this far, in expected errors
COARSE_DEG, FINE_DEG = 2.0, 0.5
CLIP_LOG = 0.12  # no single streak may outvote the others
LEAST_BELIEF = 0.2  # (rise - 1) times the prior. Assumed
MOST_RISE = 2.5
LEAST_RISE = 1.25  # peak against the median of all angles; below, no lines were seen. Assumed
# Where they lie farther off than one expected error, this: grain and dimples of drawn photos peak at up to 2.
FAR_RISE = 2.2
BEST_ERR_DEG, WORST_ERR_DEG = 0.3, 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """``turn_deg``: how much the score lines rise to the toe in the map; ``rise_frac``: peak over median."""

    turn_deg: float
    turn_err_deg: float
    rise_frac: float

    @property
    def seen(self) -> bool:
        return self.rise_frac >= LEAST_RISE


def find_level(face_map: FaceMap, *, expected_err_deg: float) -> Level:
    """Direction of the score lines on a face seen straight on.

    Parameters
    ----------
    face_map : FaceMap
        Toe to the right, crown up, roughly.
    expected_err_deg : float
        How well the map's rows are known to be level (one standard error); lines far beyond are not believed,
        because rows of dimple prints and smears are straight too.

    Returns
    -------
    Level
    """
    detail = _detail(face_map)
    reach_deg = REACH_ERRS * expected_err_deg
    angles = np.arange(-reach_deg, reach_deg + 0.5 * COARSE_DEG, COARSE_DEG)
    energy = np.array([_streaks(detail, float(angle), face_map.px_per_mm) for angle in angles])
    usual = max(float(np.median(energy)), 1e-12)
    peaks = 1 + np.flatnonzero((energy[1:-1] >= energy[:-2]) & (energy[1:-1] >= energy[2:]))
    prior = np.exp(-0.5 * (angles / (PRIOR_ERRS * expected_err_deg)) ** 2)
    # However straight they are, far lines must not outvote the prior.
    believed = np.clip(energy / usual - 1.0, 0.0, MOST_RISE - 1.0) * prior
    if not len(peaks) or believed[peaks].max() < LEAST_BELIEF:
        return Level(turn_deg=0.0, turn_err_deg=expected_err_deg, rise_frac=0.0)
    top = int(peaks[believed[peaks].argmax()])
    near = angles[top] + np.arange(-COARSE_DEG, COARSE_DEG + 0.1, FINE_DEG)
    fine = np.array([_streaks(detail, float(angle), face_map.px_per_mm) for angle in near])
    k = min(max(int(fine.argmax()), 1), len(fine) - 2)
    bend = fine[k - 1] - 2 * fine[k] + fine[k + 1]
    best = float(near[k]) + (FINE_DEG * 0.5 * float((fine[k - 1] - fine[k + 1]) / bend) if bend < 0 else 0.0)
    rise_frac = float(fine.max() / usual)
    if rise_frac < FAR_RISE and abs(best) > expected_err_deg:
        return Level(turn_deg=0.0, turn_err_deg=expected_err_deg, rise_frac=0.0)
    sure = min(1.0, max(0.0, (rise_frac - LEAST_RISE) / 1.5))
    return Level(
        turn_deg=best, turn_err_deg=WORST_ERR_DEG + (BEST_ERR_DEG - WORST_ERR_DEG) * sure, rise_frac=rise_frac
    )


def _detail(face_map: FaceMap) -> NDArray[np.float32]:
    """Thin structure of log brightness, clipped; 0 outside the face and near its edge."""
    grey = cv2.cvtColor(face_map.pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    # Without this blur the map's own rows win: only at 0 degrees does turning not blur the grain.
    grey = cv2.GaussianBlur(grey, (0, 0), GRAIN_MM * face_map.px_per_mm)
    log = np.log(grey + 8.0)
    detail = np.clip(log - cv2.GaussianBlur(log, (0, 0), THIN_MM * face_map.px_per_mm), -CLIP_LOG, CLIP_LOG)
    inside = eroded(face_map.inside.astype(np.uint8), EDGE_MM * face_map.px_per_mm)
    return np.asarray(detail * inside, np.float32)


def _streaks(detail: NDArray[np.float32], angle_deg: float, px_per_mm: float) -> float:
    """Mean square of what thin structure is left after averaging along lines that rise by ``angle_deg``."""
    height, width = detail.shape
    turn = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), -angle_deg, 1.0)
    # Cubic: linear interpolation blurs at every angle but 0, and would make 0 the winner.
    turned = cv2.warpAffine(detail, turn, (width, height), flags=cv2.INTER_CUBIC)
    along = cv2.blur(turned, (2 * round(PIECE_MM * px_per_mm / 2) + 1, 1))
    thin = along - cv2.blur(along, (1, 2 * math.ceil(THIN_MM * px_per_mm) + 1))
    return float(np.mean(thin**2))
