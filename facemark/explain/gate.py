"""How far apart do the two tees stand, so that about 8 of 10 of MY strikes pass?

The head goes between a tee outside its toe and a tee outside its heel, the ball opposite the sweet spot. A
ball struck t mm toward the toe means that the head passed t mm nearer to the player. So a strike passes when

    -toe_clear <= t <= heel_clear

and the tee on the TOE side stops HEEL strikes, the tee on the heel side toe strikes. With the head's length
the gap is length + toe_clear + heel_clear, measured between the tees' inner edges.

The pass rate of a group with centre m and spread s is Phi((heel_clear - m) / s) - Phi((-toe_clear - m) / s).
Neither m nor s is known, so the gate is the one most likely to let 7 to 9 of 10 pass, over all groups the
marks allow (players.py), their offset included. Both sides get the same room, unless the group surely lies to
one side: then the tee on the other side may stand as near as 7 of 10 of a centred group need, never nearer,
for a strike from the middle must pass with room.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from facemark.errors import SetupError
from facemark.explain.evidence import Array
from facemark.explain.players import ToeHeel
from facemark.strike import StrikeSet

PASS_LOW_FRAC, PASS_HIGH_FRAC = 0.7, 0.9  # about 80 %: a coaching convention, not a law
CENTRED_PER_SPREAD = 1.2816  # half a gate for 8 of 10 of a centred group, in spreads: normal quantile at 0.90
JOINT_WIDER = 1.405  # room for 0.8^(1/3) of a centred group against 0.8: normal quantiles 1.801 and 1.282
TIGHTER_FRAC = 0.2  # "tightening" is a spread smaller by a fifth, as weeks of practice may give; assumed
SURE_SIDE_FRAC = 0.975  # chance that the group lies on one side, from which the sides get unequal room
SHIFT_GAIN_FRAC = 0.05  # a shift that gains fewer passes than this is not worth a block; assumed

HEAD_MM = (40.0, 127.0)  # longest legal head is 127 mm (Equipment Rules, Part 2); shortest assumed
LEAST_CLEAR_MM = 3.0  # tees cannot be set better than to 1 or 2 mm; assumed
MOST_CLEAR_MM = 45.0  # a ball farther off the sweet spot misses the face; assumed
TEE_MM = 5.0  # a wooden tee's shank, for "tees of width"; from memory
TEE_PLACED_ERR_MM = 2.0  # how well a tee is pushed where it should be, one standard error; assumed

SPAN_FRAC = 0.8  # of the range that is told with a pass rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """A share of balls: the likeliest value and the range that holds it in 8 of 10 cases."""

    likely_frac: float
    low80_frac: float
    high80_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """Two tees around the head. Rates are None where no strikes are known (a gate kept from last time)."""

    head_mm: float
    toe_clear_mm: float  # from the head's toe to the toe-side tee; stops heel strikes
    heel_clear_mm: float  # from the head's heel to the heel-side tee; stops toe strikes
    passes: Rate | None
    hits_toe_tee_frac: float | None  # balls expected to strike the toe-side tee: heel strikes
    hits_heel_tee_frac: float | None
    chance_frac: float | None  # that the true pass rate is as wanted: 7 to 9 of 10, alone

    @property
    def gap_mm(self) -> float:
        """Between the tees' inner edges."""
        return self.head_mm + self.toe_clear_mm + self.heel_clear_mm

    @property
    def toe_clear_tees_ratio(self) -> float:
        """The toe-side clearance in tees laid side by side."""
        return self.toe_clear_mm / TEE_MM

    @property
    def heel_clear_tees_ratio(self) -> float:
        return self.heel_clear_mm / TEE_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """What moving the whole group to the middle would gain, against making it tighter where it is.

    All through the gate that 8 of 10 of this spread pass when centred.
    """

    toe_mm: float  # where the group lies now, plus toward the toe
    clear_mm: float  # half that gate beyond the head, either side
    now: Rate
    shifted: Rate  # moved by ``toe_mm``: what is not known of the centre stays
    tighter: Rate  # spread smaller by ``TIGHTER_FRAC``, centre as it is

    @property
    def gain_frac(self) -> float:
        return self.shifted.likely_frac - self.now.likely_frac

    @property
    def tighter_gain_frac(self) -> float:
        return self.tighter.likely_frac - self.now.likely_frac


def check_head(head_mm: float | None) -> float:
    """The head's length, if it can be one.

    Raises
    ------
    SetupError
        Not told, or impossible.
    """
    if head_mm is None:
        raise SetupError(
            "a gate needs the head's length and nobody told it",
            remedy="Measure the head's longest way from heel to toe between two books: --head-mm 120.",
        )
    if not (math.isfinite(head_mm) and HEAD_MM[0] <= head_mm <= HEAD_MM[1]):
        raise SetupError(
            f"a head {head_mm:g} mm long was told; {HEAD_MM[0]:g} to {HEAD_MM[1]:g} mm is possible",
            remedy="Measure the head, not the face, from heel to toe in millimetres.",
        )
    return head_mm


def clear_of_gap(gap_mm: float, head_mm: float | None) -> tuple[float, float]:
    """Toe and heel side of a gate that stands already, the head in its middle.

    Raises
    ------
    SetupError
        No or an impossible head length, a gap without room beside the head, or one wider than the face.
    """
    head = check_head(head_mm)
    least, most = head + 2.0 * LEAST_CLEAR_MM, head + 2.0 * MOST_CLEAR_MM
    if not (math.isfinite(gap_mm) and least <= gap_mm <= most):
        reason = "narrower than the head or leaves it too little room" if gap_mm < least else "not possible"
        raise SetupError(
            f"a gate of {gap_mm:g} mm around a head of {head:g} mm is {reason}; {least:g} to {most:g} mm can"
            " be used",
            remedy="Measure between the tees' inner edges; the head must fit with room on both sides.",
        )
    half = (gap_mm - head) / 2.0
    return half, half


def fit_gate(group: ToeHeel, head_mm: float | None, *, n_stations: int = 1) -> Gate:
    """The gate that 8 of 10 of this player's strikes pass, likeliest.

    Parameters
    ----------
    group : ToeHeel
    head_mm : the head's length.
    n_stations : of so many that a ball has to pass all at once. Three stations that 8 of 10 pass each would
        let 5 of 10 through; so each gets the root of the share: 9 of 10.

    Raises
    ------
    SetupError
        No head length, an impossible one, or strikes so scattered that no gate on this face lets 8 pass.
    """
    head = check_head(head_mm)
    spread = _median(group.spread_toe_mm, group.weights)
    toe_side = float(group.weights @ (group.centre_toe_mm > 0.0))
    side = 1.0 if toe_side >= 0.5 else -1.0
    window = pass_window(n_stations)
    tight_per_spread = float(special.ndtri(0.5 + window[0] / 2.0))  # half a gate of a centred group
    tight, widest = max(math.ceil(tight_per_spread * spread), LEAST_CLEAR_MM), MOST_CLEAR_MM
    if max(tight, abs(_median(group.centre_toe_mm, group.weights))) >= widest:
        raise SetupError(
            f"these strikes lie so far off or so widely spread (about {spread:.0f} mm one way) that a gate"
            " for 8 of 10 would be wider than the face",
            remedy="Swing slower first (20 %), look at ten marks again, then set the gate.",
        )
    surely_off = max(toe_side, 1.0 - toe_side) >= SURE_SIDE_FRAC
    # From here on "miss side" is the side of the face that is hit more.
    clears = np.arange(tight, widest + 1.0)
    off = (side * group.centre_toe_mm)[:, None]
    under = special.ndtr((clears - off) / group.spread_toe_mm[:, None])  # not beyond the miss side's tee
    over = special.ndtr((-clears - off) / group.spread_toe_mm[:, None])  # beyond the other one
    other = int(np.searchsorted(clears, 1.25 * tight_per_spread * spread)) + 1 if surely_off else 0
    chance, other_clear, miss_clear = _likeliest(under - over, window, group.weights, (clears, clears))
    for i, clear in enumerate(clears[:other]):
        found = _likeliest(
            under - over[:, i : i + 1], window, group.weights, (np.full_like(clears, clear), clears)
        )
        chance, other_clear, miss_clear = max((chance, other_clear, miss_clear), found)
    toe_clear, heel_clear = (other_clear, miss_clear) if side > 0.0 else (miss_clear, other_clear)
    return gate_of(group, head, toe_clear, heel_clear, n_stations=n_stations)


def pass_window(n_stations: int = 1) -> tuple[float, float]:
    """Least and most that should pass one of ``n_stations`` stations, for 7 to 9 of 10 to pass all."""
    return PASS_LOW_FRAC ** (1.0 / n_stations), PASS_HIGH_FRAC ** (1.0 / n_stations)


def _likeliest(
    rates: Array, window: tuple[float, float], weights: Array, clears: tuple[Array, Array]
) -> tuple[float, float, float]:
    """The pair of clearances whose rate most likely lies in the window, with that chance."""
    chances = weights @ ((rates >= window[0]) & (rates <= window[1]))
    k = int(np.argmax(chances))
    return float(chances[k]), float(clears[0][k]), float(clears[1][k])


def gate_of(
    group: ToeHeel | None,
    head_mm: float | None,
    toe_clear_mm: float,
    heel_clear_mm: float,
    *,
    n_stations: int = 1,
) -> Gate:
    """A gate that stands already: what it lets through.

    Raises
    ------
    SetupError
        No or an impossible head length, or a gate narrower than the head.
    """
    head = check_head(head_mm)
    if not (math.isfinite(toe_clear_mm + heel_clear_mm) and min(toe_clear_mm, heel_clear_mm) > 0.0):
        gap = head + toe_clear_mm + heel_clear_mm
        raise SetupError(
            f"the gate ({gap:.0f} mm) is narrower than the head ({head:.0f} mm) or leaves one side no room",
            remedy="Measure between the tees' inner edges; the head must fit with room on both sides.",
        )
    if group is None:
        return Gate(
            head_mm=head,
            toe_clear_mm=toe_clear_mm,
            heel_clear_mm=heel_clear_mm,
            passes=None,
            hits_toe_tee_frac=None,
            hits_heel_tee_frac=None,
            chance_frac=None,
        )
    low, high = _outside(group.centre_toe_mm, group.spread_toe_mm, toe_clear_mm, heel_clear_mm)
    rates = 1.0 - low - high
    least, most = pass_window(n_stations)
    inside = (rates >= least) & (rates <= most)
    return Gate(
        head_mm=head,
        toe_clear_mm=toe_clear_mm,
        heel_clear_mm=heel_clear_mm,
        passes=_rate(rates, group.weights),
        hits_toe_tee_frac=float(group.weights @ low),
        hits_heel_tee_frac=float(group.weights @ high),
        chance_frac=float(group.weights @ inside),
    )


def count_through(strikes: StrikeSet, gate: Gate) -> tuple[int, int]:
    """Balls whose marks lie between the tees, and balls seen."""
    n = [(-gate.toe_clear_mm <= mark.toe_mm <= gate.heel_clear_mm, mark.n_balls) for mark in strikes.strikes]
    return sum(balls for through, balls in n if through), sum(balls for _, balls in n)


def weigh_shift(group: ToeHeel) -> Shift:
    """What shifting would gain against tightening, in passes through the gate of a centred group."""
    w = group.weights
    centre = float(w @ group.centre_toe_mm)
    clear = float(max(round(CENTRED_PER_SPREAD * _median(group.spread_toe_mm, w)), LEAST_CLEAR_MM))

    def through(centres: Array, spreads: Array) -> Rate:
        low, high = _outside(centres, spreads, clear, clear)
        return _rate(1.0 - low - high, w)

    return Shift(
        toe_mm=centre,
        clear_mm=clear,
        now=through(group.centre_toe_mm, group.spread_toe_mm),
        shifted=through(group.centre_toe_mm - centre, group.spread_toe_mm),
        tighter=through(group.centre_toe_mm, (1.0 - TIGHTER_FRAC) * group.spread_toe_mm),
    )


def _outside(centre: Array, spread: Array, toe_clear: float, heel_clear: float) -> tuple[Array, Array]:
    """Shares that strike the toe-side tee (heel strikes) and the heel-side tee, for each possible group."""
    return (
        np.asarray(special.ndtr((-toe_clear - centre) / spread)),
        np.asarray(special.ndtr((centre - heel_clear) / spread)),
    )


def _rate(rates: Array, weights: Array) -> Rate:
    tail = (1.0 - SPAN_FRAC) / 2.0
    low, high = (_quantile(rates, weights, p) for p in (tail, 1.0 - tail))
    return Rate(likely_frac=float(weights @ rates), low80_frac=low, high80_frac=high)


def _median(values: Array, weights: Array) -> float:
    return _quantile(values, weights, 0.5)


def _quantile(values: Array, weights: Array, p: float) -> float:
    return float(np.quantile(values, p, weights=weights, method="inverted_cdf"))
