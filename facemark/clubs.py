"""What a typical head of each kind is, and how far heads differ.

On the ground floor because both halves need it: see/ the face's curvature and length, explain/ everything
else. Values without a source we could read say "from memory": they are placeholders with wide ranges, and a
club that uses them carries the caveat club_assumed.

Sources, as keys of sources.py or in words:
[moi-17] 17 driver heads of a 2008 test: vertical-axis inertia 3870-5867 g cm2, CG depth 32.2-47.0 mm
(Tutelman 2009, appendix; seen). [adjust-2020] one driver's mass, inertia tensor, depth and bulge
(Proceedings 2020, 49(1), 47, Table 1; seen). [roll-10-14] roll 10-14 inches (Tutelman 2009; seen).
[fairway-10in] fairway bulge 10 inches (clubmaker's column 2010; seen).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from facemark.errors import SetupError
from facemark.inputs import Club, ClubKind


class Typical(NamedTuple):
    """A typical value and the range heads of the kind are drawn from when it is assumed."""

    value: float
    low: float
    high: float


_FLAT = Typical(math.inf, math.inf, math.inf)

# Field -> typical value, low, high. Ranges not in the list above are from memory.
TYPICAL: Mapping[ClubKind, Mapping[str, Typical]] = MappingProxyType(
    {
        ClubKind.DRIVER: MappingProxyType(
            {
                "loft_deg": Typical(13.0, 10.0, 16.0),
                "face_length_mm": Typical(110.0, 98.0, 121.0),
                "face_height_mm": Typical(55.0, 48.0, 61.0),
                "sweet_toe_mm": Typical(0.0, -3.0, 3.0),
                "sweet_high_mm": Typical(0.0, -4.0, 4.0),
                # Radii from 10 inches (old heads) to 16 (the flattest): from memory beyond roll-10-14.
                "bulge_mm": Typical(305.0, 254.0, 406.0),
                "roll_mm": Typical(305.0, 254.0, 406.0),
                "head_kg": Typical(0.205, 0.195, 0.212),
                "cg_depth_mm": Typical(38.0, 32.0, 47.0),
                "moi_vertical_kgm2": Typical(4.6e-4, 3.87e-4, 5.87e-4),
                "moi_heeltoe_kgm2": Typical(3.0e-4, 2.0e-4, 4.1e-4),
                "moi_foreaft_kgm2": Typical(2.6e-4, 2.2e-4, 3.2e-4),
            }
        ),
        ClubKind.FAIRWAY: MappingProxyType(
            {
                "loft_deg": Typical(16.0, 13.0, 20.0),
                "face_length_mm": Typical(86.0, 76.0, 98.0),
                "face_height_mm": Typical(38.0, 32.0, 44.0),
                "sweet_toe_mm": Typical(0.0, -3.0, 3.0),
                "sweet_high_mm": Typical(0.0, -4.0, 4.0),
                "bulge_mm": Typical(265.0, 240.0, 330.0),
                "roll_mm": Typical(265.0, 240.0, 330.0),
                "head_kg": Typical(0.216, 0.208, 0.224),
                "cg_depth_mm": Typical(28.0, 20.0, 35.0),
                "moi_vertical_kgm2": Typical(2.7e-4, 2.2e-4, 3.2e-4),
                "moi_heeltoe_kgm2": Typical(1.5e-4, 1.1e-4, 2.0e-4),
                "moi_foreaft_kgm2": Typical(1.7e-4, 1.4e-4, 2.1e-4),
            }
        ),
        ClubKind.HYBRID: MappingProxyType(
            {
                "loft_deg": Typical(20.0, 17.0, 26.0),
                "face_length_mm": Typical(80.0, 70.0, 90.0),
                "face_height_mm": Typical(37.0, 32.0, 43.0),
                "sweet_toe_mm": Typical(0.0, -3.0, 3.0),
                "sweet_high_mm": Typical(0.0, -4.0, 4.0),
                "bulge_mm": Typical(400.0, 260.0, 900.0),
                "roll_mm": Typical(400.0, 260.0, 900.0),
                "head_kg": Typical(0.238, 0.230, 0.246),
                "cg_depth_mm": Typical(20.0, 14.0, 26.0),
                "moi_vertical_kgm2": Typical(2.7e-4, 2.3e-4, 3.1e-4),
                "moi_heeltoe_kgm2": Typical(1.15e-4, 0.9e-4, 1.5e-4),
                "moi_foreaft_kgm2": Typical(1.7e-4, 1.4e-4, 2.1e-4),
            }
        ),
        ClubKind.IRON: MappingProxyType(
            {
                "loft_deg": Typical(25.0, 20.0, 32.0),
                "face_length_mm": Typical(80.0, 70.0, 90.0),
                "face_height_mm": Typical(52.0, 44.0, 60.0),
                # Taken at the outline's centre; irons balance nearer the heel and lower (from memory), so the
                # range is not even.
                "sweet_toe_mm": Typical(0.0, -6.0, 3.0),
                "sweet_high_mm": Typical(0.0, -9.0, 2.0),
                "bulge_mm": _FLAT,
                "roll_mm": _FLAT,
                "head_kg": Typical(0.268, 0.255, 0.285),
                "cg_depth_mm": Typical(10.0, 4.0, 15.0),
                "moi_vertical_kgm2": Typical(2.6e-4, 2.4e-4, 3.0e-4),
                "moi_heeltoe_kgm2": Typical(0.65e-4, 0.55e-4, 1.0e-4),
                "moi_foreaft_kgm2": Typical(2.3e-4, 2.0e-4, 2.7e-4),
            }
        ),
        ClubKind.WEDGE: MappingProxyType(
            {
                "loft_deg": Typical(45.0, 38.0, 54.0),
                "face_length_mm": Typical(82.0, 72.0, 92.0),
                "face_height_mm": Typical(58.0, 50.0, 66.0),
                "sweet_toe_mm": Typical(0.0, -6.0, 3.0),
                "sweet_high_mm": Typical(0.0, -10.0, 2.0),
                "bulge_mm": _FLAT,
                "roll_mm": _FLAT,
                "head_kg": Typical(0.300, 0.285, 0.315),
                "cg_depth_mm": Typical(9.0, 3.0, 14.0),
                "moi_vertical_kgm2": Typical(2.8e-4, 2.4e-4, 3.2e-4),
                "moi_heeltoe_kgm2": Typical(1.0e-4, 0.8e-4, 1.3e-4),
                "moi_foreaft_kgm2": Typical(2.5e-4, 2.1e-4, 2.9e-4),
            }
        ),
    }
)

# One standard error that goes with a number the user states without saying how well it is known; assumed.
STATED_ERR: Mapping[str, float] = MappingProxyType(
    {
        "loft_deg": 1.0,
        "face_length_mm": 0.5,  # ruler, +/- 1 mm
        "face_height_mm": 0.5,
        "sweet_toe_mm": 1.0,  # balance point, three tries
        "sweet_high_mm": 1.0,
        "bulge_mm": 15.0,  # sagitta by feeler gauge
        "roll_mm": 20.0,
        "head_kg": 0.003,
        "cg_depth_mm": 2.0,
        "moi_vertical_kgm2": 0.2e-4,
        "moi_heeltoe_kgm2": 0.3e-4,
        "moi_foreaft_kgm2": 0.3e-4,
    }
)


# What a number can be at all; outside, the club file is refused. Wider than any head made, from memory, but
# for the two head dimensions, which the Equipment Rules limit (127 mm heel to toe, 71.12 mm sole to crown).
POSSIBLE: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "loft_deg": (0.0, 75.0),
        "face_length_mm": (40.0, 127.0),
        "face_height_mm": (15.0, 71.12),
        "sweet_toe_mm": (-25.0, 25.0),
        "sweet_high_mm": (-25.0, 25.0),
        "bulge_mm": (100.0, 5000.0),  # or flat
        "roll_mm": (100.0, 5000.0),
        "head_kg": (0.120, 0.450),
        "cg_depth_mm": (1.0, 70.0),
        "moi_vertical_kgm2": (0.5e-4, 8.0e-4),
        "moi_heeltoe_kgm2": (0.2e-4, 6.0e-4),
        "moi_foreaft_kgm2": (0.2e-4, 6.0e-4),
    }
)
MAY_BE_FLAT = frozenset({"bulge_mm", "roll_mm"})


def radius_from_gap_mm(span_mm: float, gap_mm: float) -> float:
    """Work out the radius of a curved face from a straight edge laid on it.

    Parameters
    ----------
    span_mm : float
        Between the two places, equally far from the middle, where the gap is measured.
    gap_mm : float
        Gap there, the edge touching the face in the middle.

    Returns
    -------
    float
        Radius [mm]; ``math.inf`` for no gap.

    Raises
    ------
    SetupError
    """
    if not (0.0 < span_mm <= POSSIBLE["face_length_mm"][1] and 0.0 <= gap_mm <= 0.25 * span_mm):
        raise SetupError(
            f"a gap of {gap_mm:g} mm over {span_mm:g} mm is not possible",
            remedy="Give the span and the gap in millimetres; the gap is a small part of the span.",
        )
    # The chord theorem: (span/2)^2 = gap (2 radius - gap).
    return math.inf if gap_mm == 0.0 else (0.25 * span_mm**2 + gap_mm**2) / (2.0 * gap_mm)


def err_of(club: Club, field: str) -> float:
    """Tell how well a measured number of a club is known.

    Parameters
    ----------
    club : Club
    field : str
        A key of ``STATED_ERR``.

    Returns
    -------
    float
        One standard error in the field's own unit: as stated, else the usual one for home measuring.
    """
    return club.errs.get(field, STATED_ERR[field])


def club_mistakes(club: Club) -> list[tuple[str, str]]:
    """List what cannot be about a club.

    Parameters
    ----------
    club : Club

    Returns
    -------
    list of (str, str)
        Field name and, in words, what came and what is possible. Empty: the club is possible.
    """
    found = []
    for field, (low, high) in POSSIBLE.items():
        value = getattr(club, field)
        flat = field in MAY_BE_FLAT and value == math.inf
        if not flat and not low <= value <= high:
            or_flat = ', or "flat"' if field in MAY_BE_FLAT else ""
            found.append((field, f"{value:g} is not possible; {low:g} to {high:g}{or_flat} is"))
    for field, err in club.errs.items():
        if not (math.isfinite(err) and err >= 0.0):
            found.append((field, f"its error {err:g} is not possible; 0 or more is"))
    if not found and not club.assumed & {"moi_vertical_kgm2", "moi_heeltoe_kgm2", "moi_foreaft_kgm2"}:
        moments = sorted((club.moi_vertical_kgm2, club.moi_heeltoe_kgm2, club.moi_foreaft_kgm2))
        if moments[2] > moments[0] + moments[1]:
            found.append(
                (
                    "moi_vertical_kgm2",
                    "no body has one moment of inertia larger than the sum of its other two: "
                    f"{moments[2]:g} against {moments[0]:g} + {moments[1]:g}",
                )
            )
    return found


def check_club(club: Club) -> None:
    """Refuse a club that cannot be.

    Parameters
    ----------
    club : Club

    Raises
    ------
    SetupError
        Naming every impossible number and what is possible.
    """
    found = club_mistakes(club)
    if found:
        raise SetupError(
            f'the club "{club.name}" cannot be: ' + "; ".join(f"{field}: {why}" for field, why in found),
            remedy="Correct these numbers in the club file, or leave them out to use typical ones.",
        )


def typical_club(kind: ClubKind) -> Club:
    """The typical club of a kind, everything assumed.

    Parameters
    ----------
    kind : ClubKind

    Returns
    -------
    Club
        ``assumed`` names every numeric field.
    """
    typical = {name: row.value for name, row in TYPICAL[kind].items()}
    return Club(
        name=f"typical {kind.value}",
        kind=kind,
        assumed=frozenset(typical),
        loft_deg=typical["loft_deg"],
        face_length_mm=typical["face_length_mm"],
        face_height_mm=typical["face_height_mm"],
        sweet_toe_mm=typical["sweet_toe_mm"],
        sweet_high_mm=typical["sweet_high_mm"],
        bulge_mm=typical["bulge_mm"],
        roll_mm=typical["roll_mm"],
        head_kg=typical["head_kg"],
        cg_depth_mm=typical["cg_depth_mm"],
        moi_vertical_kgm2=typical["moi_vertical_kgm2"],
        moi_heeltoe_kgm2=typical["moi_heeltoe_kgm2"],
        moi_foreaft_kgm2=typical["moi_foreaft_kgm2"],
    )
