"""Where does the bottle stand that a swing too far across strikes, and a better one misses?

Seen from above, the head's toe end runs along a line. With the path p degrees out (from inside to outside,
plus) and the ball at 0, the toe end at s ahead of the ball is at

    toe_reach + s tan p - bend(s)        beyond the ball's line, away from the player

where toe_reach is from the sweet spot to the head's toe end, and bend(s) = s^2 cos(tilt) / (2 R) is how far
the swing's tilted circle of radius R has turned in from its tangent; by the same circle it has risen
s^2 sin(tilt) / (2 R). From outside (p < 0) the head is too far
out BEHIND the ball; from inside (p > 0) it is too far out AHEAD of it. Both bottles stand on the toe side: on
the heel side the shaft, which leans to the player, would strike first.

The bottle's near side stands where a path of ``ok`` degrees still passes with the strike gate's toe-side
clearance. Radius and tilt are from memory, so the place is good to about 2 degrees: set it, swing slowly
without a ball, and move it out until the head just clears.

Not used: a basket two feet ahead and inside the line, as one teaching page has it. By the same circle the
head is there already 8 cm above the ground.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from facemark.errors import SetupError
from facemark.explain.gate import check_head
from facemark.inputs import ClubKind

BEHIND_MM = 450.0  # 18 in behind the ball, as a published drill for a swing from outside has it
AHEAD_MM = 300.0  # "a few inches ahead" of the ball in another, taken at a foot
LEAST_OK_DEG = 2.0  # nobody swings straighter than this at will; assumed
OK_SHARE_FRAC = 0.5  # the first bottle asks for half of the way back; assumed
MOST_PATH_DEG = 20.0  # beyond it the note is wrong, not the swing; assumed
ROUND_MM = 5.0  # bottles are set to half a centimetre

# Radius of the head's circle [m] and tilt of its plane from the ground [deg]; from memory.
SWING: dict[ClubKind, tuple[float, float]] = {
    ClubKind.DRIVER: (1.75, 48.0),
    ClubKind.FAIRWAY: (1.70, 51.0),
    ClubKind.HYBRID: (1.65, 54.0),
    ClubKind.IRON: (1.55, 57.0),
    ClubKind.WEDGE: (1.50, 60.0),
}


class From(StrEnum):
    """Where the swing comes from."""

    OUTSIDE = "outside"
    INSIDE = "inside"


@dataclass(frozen=True, slots=True, kw_only=True)
class PathGate:
    """One bottle on the toe side of the head's way. Distances from the ball's middle."""

    comes_from: From
    ahead_mm: float  # along the target line; behind the ball: minus
    out_mm: float  # to the bottle's near side, away from the player
    ok_out_deg: float  # the path that just passes with the strike's room; from inside plus
    struck_out_deg: float  # a centred strike on this path touches the bottle
    head_mm: float
    toe_clear_mm: float
    bend_mm: float  # taken off for the swing's circle
    rise_mm: float  # how high above the ground the head passes there; what stands lower is flown over
    radius_m: float
    tilt_deg: float


def place_bottle(
    comes_from: From,
    kind: ClubKind,
    *,
    head_mm: float | None,
    sweet_toe_mm: float,
    toe_clear_mm: float,
    path_out_deg: float | None = None,
) -> PathGate:
    """Work out where the bottle goes.

    Parameters
    ----------
    comes_from : From
    kind : ClubKind
        Chooses the circle of the swing.
    head_mm : the head's length.
    sweet_toe_mm : the sweet spot from the head's middle, plus toward the toe.
    toe_clear_mm : room for the strikes' own scatter, as the strike gate's toe side has it.
    path_out_deg : the path as it is; None: not known.

    Raises
    ------
    SetupError
        No head length, a negative room, or a path that is not possible or comes from the other side.
    """
    head = check_head(head_mm)
    if not (math.isfinite(toe_clear_mm) and toe_clear_mm >= 0.0):
        raise SetupError(
            f"a room of {toe_clear_mm:g} mm beyond the head was told", remedy="Give 0 or more millimetres."
        )
    sign = -1.0 if comes_from is From.OUTSIDE else 1.0
    ok = sign * LEAST_OK_DEG
    if path_out_deg is not None:
        if not abs(path_out_deg) <= MOST_PATH_DEG or path_out_deg * sign < 0.0:
            raise SetupError(
                f"a path {abs(path_out_deg):.0f} deg from the {_side(path_out_deg)} and a bottle for a swing"
                f" from {comes_from} contradict each other",
                remedy="Separate strike, face and path once more, or say where the swing comes from.",
            )
        ok = sign * max(OK_SHARE_FRAC * abs(path_out_deg), LEAST_OK_DEG)
    s = BEHIND_MM if comes_from is From.OUTSIDE else AHEAD_MM
    radius, tilt = SWING[kind]
    bend = s**2 * math.cos(math.radians(tilt)) / (2000.0 * radius)
    reach = 0.5 * head - sweet_toe_mm
    out = reach + s * math.tan(math.radians(abs(ok))) + toe_clear_mm - bend
    out = ROUND_MM * round(out / ROUND_MM)
    struck = math.degrees(math.atan2(out - reach + bend, s))
    return PathGate(
        comes_from=comes_from,
        ahead_mm=sign * s,
        out_mm=out,
        ok_out_deg=ok,
        struck_out_deg=sign * struck,
        head_mm=head,
        toe_clear_mm=toe_clear_mm,
        bend_mm=bend,
        rise_mm=s**2 * math.sin(math.radians(tilt)) / (2000.0 * radius),
        radius_m=radius,
        tilt_deg=tilt,
    )


def _side(path_out_deg: float) -> str:
    return "inside" if path_out_deg > 0.0 else "outside"
