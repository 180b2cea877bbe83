"""Where a ball met the face, in millimetres from the sweet spot: the waist of the hourglass.

see/ makes these from a photo; explain/ reads them and never sees a pixel. Strikes typed by hand, or from
another camera, enter here.

Three doubts are kept apart, because they behave differently when balls are averaged:
own error (each mark's centre; independent, shrinks with n), placement error (outline, scale and rotation;
common to the photo, does not shrink), and the sweet spot's own error (where the point in use really is).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from facemark.caveats import Caveat


class SweetSpotFrom(StrEnum):
    """How the sweet spot in use was found; printed with every reading."""

    MEASURED = "measured"  # club file, by balancing
    MARK = "centre mark"  # a printed mark on the face
    BY_HAND = "by hand"  # pointed at in the photo
    ASSUMED = "assumed"  # outline centre, plus the kind's typical offset


@dataclass(frozen=True, slots=True, kw_only=True)
class Strike:
    """One mark. Errors are one standard error of THIS mark against the others (own error)."""

    toe_mm: float
    high_mm: float
    toe_err_mm: float = 0.0
    high_err_mm: float = 0.0
    n_balls: int = 1
    sure: bool = True  # False: shown as likely, not certain
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedError:
    """Errors common to all strikes of one photo (one standard error each)."""

    toe_mm: float = 0.0  # placement of the origin along toe-heel
    high_mm: float = 0.0
    scale_frac: float = 0.0
    turn_deg: float = 0.0
    sweet_toe_mm: float = 0.0  # doubt about the sweet spot itself
    sweet_high_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupEstimate:
    """Centre and spread of all balls when they cannot be told apart one by one.

    Same origin as the strikes it travels with. ``_err_``: one standard error, own part only.
    """

    toe_mm: float
    high_mm: float
    toe_err_mm: float
    high_err_mm: float
    toe_spread_mm: float
    high_spread_mm: float
    toe_spread_err_mm: float
    high_spread_err_mm: float
    n_balls: float  # how many balls the powder speaks for; not an integer when it is an estimate
    n_balls_err: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeSet:
    """All strikes of one set of balls, with what is common to them."""

    strikes: tuple[Strike, ...]
    shared: SharedError = field(default_factory=SharedError)
    n_balls: int | None = None  # balls hit, if told
    n_least: int = 0  # marks that can be counted for certain: "at least k"
    separable: bool = True  # False: use ``group`` for centre and spread
    group: GroupEstimate | None = None
    sweet_spot_from: SweetSpotFrom = SweetSpotFrom.ASSUMED
    caveats: tuple[Caveat, ...] = ()
