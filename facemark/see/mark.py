"""What a mark finder says: one record per mark, and one for the whole group.

Two finders stand behind ``marks.find_marks``: the learned splitter and the classical one (voting and discs).
Positions are in the face frame (origin: face centre, toe plus, up plus), because a mark's size is known in
millimetres, not in pixels.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from facemark.caveats import Caveat
from facemark.strike import GroupEstimate


class MarkMethod(StrEnum):
    """Which finder spoke."""

    LEARNED = "learned splitter"
    CLASSICAL = "voting and discs"
    SERIES = "photos in sequence"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark on the face. Errors are one standard error of its own centre."""

    toe_mm: float
    high_mm: float
    toe_err_mm: float
    high_err_mm: float
    diameter_mm: float
    score_frac: float  # how often a mark with this score is right within 4 mm
    sure: bool
    touches: bool  # overlaps another mark
    at_edge: bool  # cut off by the face's edge


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marks:
    """All marks of a face.

    ``density``: balls per mm2 on the face map's grid reduced to 1 px/mm, or None; row 0, column 0 centred on
    the face map's pixel (0, 0). ``separable`` False: centre and spread come from ``group``.
    """

    marks: tuple[Mark, ...]
    n_least: int
    separable: bool
    group: GroupEstimate
    method: MarkMethod
    density: NDArray[np.float32] | None = None
    caveats: tuple[Caveat, ...] = ()
