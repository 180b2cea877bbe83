"""Units people read: one switch for the face, the range and speeds. Records always hold mm, m and m/s."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from facemark.errors import SetupError

METRES_PER_YARD = 0.9144  # exact, international yard of 1959
MM_PER_INCH = 25.4  # exact, same agreement
MPS_PER_MPH = 1609.344 / 3600.0  # exact
MPS_PER_KMH = 1.0 / 3.6  # exact


class Lengths(StrEnum):
    """How lengths on the range are shown."""

    METRES = "m"
    YARDS = "yd"


class FaceLengths(StrEnum):
    """How lengths on the face are shown."""

    MILLIMETRES = "mm"
    INCHES = "in"


class Speeds(StrEnum):
    """How speeds are shown."""

    METRES_PER_SECOND = "m/s"
    MILES_PER_HOUR = "mph"
    KILOMETRES_PER_HOUR = "km/h"


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """What the reader wants to see."""

    lengths: Lengths = Lengths.METRES
    face: FaceLengths = FaceLengths.MILLIMETRES
    speeds: Speeds = Speeds.METRES_PER_SECOND

    def range_length(self, metres: float) -> float:
        return metres / METRES_PER_YARD if self.lengths is Lengths.YARDS else metres

    def face_length(self, mm: float) -> float:
        return mm / MM_PER_INCH if self.face is FaceLengths.INCHES else mm

    def face_digits(self, mm_digits: int) -> int:
        """Digits after the mark: as asked in millimetres; two in inches (a quarter of a millimetre)."""
        return 2 if self.face is FaceLengths.INCHES else mm_digits

    def speed(self, mps: float) -> float:
        per = {Speeds.MILES_PER_HOUR: MPS_PER_MPH, Speeds.KILOMETRES_PER_HOUR: MPS_PER_KMH}
        return mps / per.get(self.speeds, 1.0)

    @property
    def words(self) -> str:
        """The switch as typed: 'mm,m,m/s'."""
        return f"{self.face},{self.lengths},{self.speeds}"


def units_of(words: str, units: Units | None = None) -> Units:
    """``units`` (default: mm, m, m/s) with those of 'in,yd,mph' that are named, in any order.

    Raises
    ------
    SetupError
        A word is no unit of these, or two of one kind are named.
    """
    told: dict[str, str] = {}
    for word in (part.strip() for part in words.split(",")):
        kind = _KIND_OF.get(word)
        if kind is None:
            raise SetupError(
                f"the unit {word!r} is not known",
                remedy="Use mm or in; m or yd; m/s, mph or km/h; as in mm,yd,mph.",
            )
        if kind in told:
            raise SetupError(
                f"the units {words!r} name two of one kind",
                remedy="Name one of mm, in; one of m, yd; one of m/s, mph, km/h.",
            )
        told[kind] = word
    base = units or Units()
    return Units(
        lengths=Lengths(told.get("lengths", base.lengths)),
        face=FaceLengths(told.get("face", base.face)),
        speeds=Speeds(told.get("speeds", base.speeds)),
    )


_KIND_OF: dict[str, str] = {
    **{str(item): "face" for item in FaceLengths},
    **{str(item): "lengths" for item in Lengths},
    **{str(item): "speeds" for item in Speeds},
}
