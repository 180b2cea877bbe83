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
                "bulge_mm": Typical(305.0, 254.0, 356.0),
                "roll_mm": Typical(305.0, 254.0, 356.0),
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
    table = TYPICAL[kind]
    return Club(
        name=f"typical {kind.value}",
        kind=kind,
        assumed=frozenset(table),
        **{name: typical.value for name, typical in table.items()},
    )
