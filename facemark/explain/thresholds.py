"""How far off is worth a word? The limits, per kind of club, and what they cost in speed and bend.

A difference can be real and still not matter. ``worth`` is the smallest offset that earns a direction word;
``harmless`` the largest that still counts as centred; the spread limit is where a group is called scattered.
All are settings (``dataclasses.replace``, or the options of ``facemark pattern``).

Speed kept comes from the impact of a ball on a rigid free head struck off its centre of gravity: the head
twists away, and its effective mass falls from M to M / (1 + M d^2 / I). That is a lower bound of the loss,
because real faces also give less away from the middle. Bend of woods: gear effect minus bulge, from the
table of [tutelman-gear] (one analyst's calculation). Where a club file and the flight model are at hand their
numbers replace both (tell/).
"""

from __future__ import annotations

from dataclasses import dataclass

from facemark.clubs import typical_club
from facemark.inputs import Club, ClubKind

BALL_KG = 0.04593  # equipment-rules: not more than 45.93 g
# 3 yd at 6.35 mm and 6 yd at 12.7 mm toward the toe, 12 in bulge, 150 mph ball: 0.43 m/mm. [tutelman-gear]
WOOD_BEND_M_PER_MM = 0.43


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """The limits of one kind of club [mm], and the risk taken with words."""

    worth_toe_mm: float  # below it no direction word, even when the offset is real
    worth_high_mm: float
    harmless_toe_mm: float  # "centred" must be sure to lie inside
    harmless_high_mm: float
    spread_limit_mm: float  # one-number spread above it: scattered
    apart_mm: float  # two groups nearer than this are not called two
    zone_mm: float  # radius around the sweet spot for "inside the zone"
    false_word_frac: float = 0.05  # chance of any direction word when the group is centred


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What a strike off the sweet spot costs against a centred one."""

    speed_lost_frac: float  # of ball speed; a lower bound
    bend_draw_m: float | None  # sideways, plus draw; None where no source gives it


_WOOD = Thresholds(
    worth_toe_mm=6.0,  # 0.3 % speed, 2.6 m bend
    worth_high_mm=6.0,
    harmless_toe_mm=9.0,  # about 1 % speed or 4 m bend
    harmless_high_mm=9.0,
    spread_limit_mm=9.0,  # mean loss 1.7 % of speed when perfectly centred
    apart_mm=12.0,
    zone_mm=12.0,  # half an inch: 1 to 2 % speed, 5 m bend; assumed as the practice zone
)
_IRON = Thresholds(
    worth_toe_mm=5.0,
    worth_high_mm=4.0,
    harmless_toe_mm=8.0,
    harmless_high_mm=6.0,
    spread_limit_mm=6.0,  # mean loss 2.2 %
    apart_mm=10.0,
    zone_mm=8.0,  # 1 % toe-heel, 3 % high-low; assumed
)
_BY_KIND = {
    ClubKind.DRIVER: _WOOD,
    ClubKind.FAIRWAY: _WOOD,
    ClubKind.HYBRID: _WOOD,
    ClubKind.IRON: _IRON,
    ClubKind.WEDGE: _IRON,
}


def thresholds_for(kind: ClubKind) -> Thresholds:
    """The default limits of a kind of club."""
    return _BY_KIND[kind]


def offset_cost(club: Club, toe_mm: float, high_mm: float) -> Cost:
    """What one strike off the sweet spot costs.

    Parameters
    ----------
    club : Club
        Its head mass and two moments of inertia are used.
    toe_mm, high_mm : float
        From the sweet spot [mm].

    Returns
    -------
    Cost

    Notes
    -----
    loss = 1 - (1 + m/M) / (1 + m/M + m dx^2/Iv + m dy^2/Ih), m ball, M head, Iv about the vertical axis (a
    toe or heel miss twists about it), Ih about the heel-toe axis. Range: rigid head, square blow.
    """
    ratio = BALL_KG / club.head_kg
    twist = (
        BALL_KG * (toe_mm / 1000.0) ** 2 / club.moi_vertical_kgm2
        + BALL_KG * (high_mm / 1000.0) ** 2 / club.moi_heeltoe_kgm2
    )
    wood = club.kind in (ClubKind.DRIVER, ClubKind.FAIRWAY)
    return Cost(
        speed_lost_frac=1.0 - (1.0 + ratio) / (1.0 + ratio + twist),
        bend_draw_m=WOOD_BEND_M_PER_MM * toe_mm if wood else None,
    )


def limit_costs(kind: ClubKind, limits: Thresholds) -> dict[str, Cost]:
    """What each limit costs on a typical head of the kind, so that the numbers can be argued with."""
    club = typical_club(kind)
    return {
        "worth_toe_mm": offset_cost(club, limits.worth_toe_mm, 0.0),
        "worth_high_mm": offset_cost(club, 0.0, limits.worth_high_mm),
        "harmless_toe_mm": offset_cost(club, limits.harmless_toe_mm, 0.0),
        "harmless_high_mm": offset_cost(club, 0.0, limits.harmless_high_mm),
        "zone_mm": offset_cost(club, limits.zone_mm, 0.0),
    }
