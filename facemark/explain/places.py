"""Where were these balls really struck?

Marks come with three doubts: their own, the photo's (origin, scale, turn) and the sweet spot's. Here they
become positions from the TRUE sweet spot of each drawn head. A sweet spot that lies farther toward the toe
than thought brings every strike nearer the heel by as much, but leaves it at the same place of the curved
face: both facts matter, and both are kept.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from facemark.clubs import TYPICAL, err_of
from facemark.errors import SetupError
from facemark.explain.heads import Heads, luck, normal_from
from facemark.inputs import Club
from facemark.strike import SharedError, StrikeSet, SweetSpotFrom

Array = NDArray[np.float64]

_EDGE_MM = 10.0  # a ball whose middle is farther outside the face than this does not leave a mark; assumed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Centre:
    """The mean strike of the set and how the balls scatter around it.

    ``toe_err_mm`` and ``high_err_mm`` hold the own part only. ``scatter_mm2`` is (2, 2), toe then high, with
    the marks' own errors taken off; None for fewer than two balls.
    """

    n_balls: float
    toe_mm: float
    high_mm: float
    toe_err_mm: float
    high_err_mm: float
    scatter_mm2: Array | None


def centre_of(strikes: StrikeSet) -> Centre:
    """Find the mean strike of a set.

    Parameters
    ----------
    strikes : StrikeSet

    Returns
    -------
    Centre

    Raises
    ------
    SetupError
        No strikes.
    """
    group = strikes.group
    if group is not None and not strikes.separable:
        return Centre(
            n_balls=group.n_balls,
            toe_mm=group.toe_mm,
            high_mm=group.high_mm,
            toe_err_mm=group.toe_err_mm,
            high_err_mm=group.high_err_mm,
            scatter_mm2=np.diag([group.toe_spread_mm**2, group.high_spread_mm**2]),
        )
    if not strikes.strikes:
        raise SetupError(
            "there are no strikes", remedy="Give at least one, as --toe and --high, or a reading."
        )
    n = np.array([s.n_balls for s in strikes.strikes], dtype=np.float64)
    at = np.array([(s.toe_mm, s.high_mm) for s in strikes.strikes])
    own = np.array([(s.toe_err_mm, s.high_err_mm) for s in strikes.strikes])
    total = float(n.sum())
    mean = n @ at / total
    err_sq = (n**2) @ own**2 / total**2
    scatter = None
    if len(at) > 1:
        off = at - mean
        scatter = (off * n[:, None]).T @ off / (total - total / len(at))
        scatter = _without_own_error(scatter, n @ own**2 / total)
        hidden = 1.0 / total - 1.0 / strikes.n_balls if strikes.n_balls and strikes.n_balls > total else 0.0
        err_sq = err_sq + hidden * np.diag(scatter)  # balls that left no mark of their own
    return Centre(
        n_balls=total,
        toe_mm=float(mean[0]),
        high_mm=float(mean[1]),
        toe_err_mm=math.sqrt(err_sq[0]),
        high_err_mm=math.sqrt(err_sq[1]),
        scatter_mm2=scatter,
    )


def kept_on_face(toe_mm: Array, high_mm: Array, club: Club) -> tuple[Array, Array]:
    """Places moved to the face's edge where they lie beyond it: a ball that misses the face is not flown.

    A wide group's scatter, drawn symmetrically, would otherwise ask what a strike below the sole does.

    Parameters
    ----------
    toe_mm, high_mm : float64 arrays
        From the sweet spot.
    club : Club

    Returns
    -------
    toe_mm, high_mm : float64 arrays
    """
    edges = []
    for field, axis in (("face_length_mm", "toe"), ("face_height_mm", "high")):
        length = TYPICAL[club.kind][field].high if field in club.assumed else getattr(club, field)
        middle = getattr(club, f"sweet_{axis}_mm")
        edges.append((-0.5 * length - middle, 0.5 * length - middle))
    return np.clip(toe_mm, *edges[0]), np.clip(high_mm, *edges[1])


def check_places(strikes: StrikeSet, club: Club) -> None:
    """Refuse strikes that lie off the face or are no numbers.

    Parameters
    ----------
    strikes : StrikeSet
    club : Club

    Raises
    ------
    SetupError
    """
    for field, axis, words in (
        ("face_length_mm", "toe", ("toe", "heel")),
        ("face_height_mm", "high", ("high", "low")),
    ):
        length = TYPICAL[club.kind][field].high if field in club.assumed else getattr(club, field)
        most = 0.5 * length + _EDGE_MM
        middle = getattr(club, f"sweet_{axis}_mm")
        for strike in strikes.strikes:
            value, err = getattr(strike, f"{axis}_mm"), getattr(strike, f"{axis}_err_mm")
            if not abs(value + middle) <= most:
                raise SetupError(
                    f"a strike at {abs(value):g} mm {words[0] if value > 0 else words[1]} is off the face; "
                    f"{most + middle:.0f} mm {words[1]} to {most - middle:.0f} mm {words[0]} is possible",
                    remedy="Measure from the sweet spot, in millimetres.",
                )
            if not 0.0 <= err < math.inf:
                raise SetupError(
                    f"an error of {err:g} mm was given for a strike; 0 or more is possible",
                    remedy="Give one standard error in millimetres, or leave it out.",
                )


def club_in_doubt(club: Club, strikes: StrikeSet) -> Club:
    """Give the club the sweet-spot doubt the strikes come with, where they know better or doubt more.

    Parameters
    ----------
    club : Club
    strikes : StrikeSet

    Returns
    -------
    Club
    """
    told = {"sweet_toe_mm": strikes.shared.sweet_toe_mm, "sweet_high_mm": strikes.shared.sweet_high_mm}
    errs, assumed = dict(club.errs), set(club.assumed)
    for field, err in told.items():
        typical = TYPICAL[club.kind][field]
        in_file = (typical.high - typical.low) / math.sqrt(12.0) if field in assumed else err_of(club, field)
        better = strikes.sweet_spot_from is not SweetSpotFrom.ASSUMED and err > 0.0
        # A rounded copy of the file's own doubt is the file's own doubt.
        if (better and field in assumed) or err > 1.001 * in_file:
            errs[field] = err
            assumed.discard(field)
    return replace(club, errs=errs, assumed=frozenset(assumed))


def true_places(
    toe_high_mm: Array,
    own_err_mm: Array,
    shared: SharedError,
    *,
    club: Club,
    heads: Heads,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Draw where strikes lie from each drawn head's own sweet spot.

    Parameters
    ----------
    toe_high_mm : (M, 2) float64
        From the sweet spot in use.
    own_err_mm : (M, 2) float64
    shared : SharedError
    club : Club
        Its plain sweet spot is the one in use.
    heads : Heads
        N drawn heads.
    rng : numpy.random.Generator

    Returns
    -------
    toe_mm, high_mm : (M, N) float64
    """
    n, m = heads.head_kg.shape[0], len(toe_high_mm)
    own = np.array([[normal_from(luck(n, rng)) for _ in range(2)] for _ in range(m)]).reshape(m, 2, n)
    origin_toe, origin_high, scale, turn = (normal_from(luck(n, rng)) for _ in range(4))
    # From the face centre, as drawn; then from the true sweet spot.
    toe = toe_high_mm[:, :1] + club.sweet_toe_mm
    high = toe_high_mm[:, 1:] + club.sweet_high_mm
    scale = 1.0 + shared.scale_frac * scale
    turn = math.radians(shared.turn_deg) * turn
    true_toe = toe * scale - high * turn + shared.toe_mm * origin_toe + own_err_mm[:, :1] * own[:, 0]
    true_high = high * scale + toe * turn + shared.high_mm * origin_high + own_err_mm[:, 1:] * own[:, 1]
    return true_toe - heads.sweet_toe_mm, true_high - heads.sweet_high_mm


def sigma_points(scatter_mm2: Array | None) -> tuple[Array, Array]:
    """Five offsets that carry a scatter's covariance (unscented transform, Julier and Uhlmann 1997).

    Parameters
    ----------
    scatter_mm2 : (2, 2) float64 or None
        None: one offset, nothing to carry.

    Returns
    -------
    offsets_mm : (5, 2) or (1, 2) float64
        The first is (0, 0).
    weights : (5,) or (1,) float64
        Sum 1.
    """
    if scatter_mm2 is None:
        return np.zeros((1, 2)), np.ones(1)
    values, vectors = np.linalg.eigh(scatter_mm2)
    arms = (vectors * np.sqrt(3.0 * np.maximum(values, 0.0))).T
    return np.vstack([np.zeros((1, 2)), arms, -arms]), np.array([1.0 / 3.0, *([1.0 / 6.0] * 4)])


def _without_own_error(scatter_mm2: Array, own_mm2: Array) -> Array:
    keep = np.sqrt(np.clip(1.0 - own_mm2 / np.maximum(np.diag(scatter_mm2), 1e-12), 0.0, 1.0))
    return np.asarray(scatter_mm2 * keep[:, None] * keep[None, :], dtype=np.float64)
