"""Which heads could this club be?

A club file states some numbers and leaves others out. Here one club becomes its plain head, or thousands of
heads it could be: a measured number over its standard error, an assumed one over the range of its kind, and
what no file states (spring of the face, grip, friction) over ours (constants.py).

All draws map one uniform number per parameter through a rising curve. Two calls with equally seeded
generators therefore meet the same "luck", and a wider doubt widens every draw.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from facemark.clubs import POSSIBLE, TYPICAL, err_of
from facemark.explain import constants as c
from facemark.inputs import Club

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heads:
    """N heads; every array is (N,), or () for one head. Lengths as in a club file."""

    loft_deg: Array
    sweet_toe_mm: Array
    sweet_high_mm: Array
    bulge_mm: Array  # radius; inf: flat
    roll_mm: Array
    head_kg: Array
    cg_depth_mm: Array
    inertia_kgm2: Array  # (N, 3, 3) about the centre of gravity; axes forward, up, toe
    restitution_frac: Array
    restitution_drop_per_mps: Array
    toe_loss_frac: Array
    high_loss_frac: Array
    grip_return_frac: Array
    friction_frac: Array
    contact_s: Array  # 0: one instantaneous blow


def plain_head(club: Club) -> Heads:
    """Return the one head whose numbers are the club's plain values.

    Parameters
    ----------
    club : Club

    Returns
    -------
    Heads
        Arrays of shape ().
    """
    spring = c.FACE_SPRINGS[club.kind]
    return _heads(
        {name: np.float64(getattr(club, name)) for name in TYPICAL[club.kind]},
        restitution_frac=spring.restitution_frac.value,
        restitution_drop_per_mps=c.RESTITUTION_DROP_PER_MPS.value,
        toe_loss_frac=spring.toe_loss_frac,
        high_loss_frac=spring.high_loss_frac,
        grip_return_frac=spring.grip_return_frac.value,
        friction_frac=c.FRICTION_FRAC.value,
        contact_s=c.CONTACT_S.value,
    )


def draw_heads(club: Club, n: int, *, rng: np.random.Generator) -> Heads:
    """Draw ``n`` heads this club could be.

    Parameters
    ----------
    club : Club
    n : int
    rng : numpy.random.Generator

    Returns
    -------
    Heads
        Arrays of shape (n,). The sweet spot is drawn too.
    """
    spring = c.FACE_SPRINGS[club.kind]
    drawn = {name: _draw_field(club, name, luck(n, rng)) for name in TYPICAL[club.kind]}
    # The rigid-head model's own error acts where the gear effect is made: on the depth.
    drawn["cg_depth_mm"] = drawn["cg_depth_mm"] * gauss(c.GEAR_MODEL_FRAC, luck(n, rng))
    # No body has a moment of inertia larger than the sum of its other two. The fore-aft one hardly
    # matters and is the least known, so it gives way.
    drawn["moi_foreaft_kgm2"] = np.maximum(
        drawn["moi_foreaft_kgm2"], drawn["moi_vertical_kgm2"] - drawn["moi_heeltoe_kgm2"]
    )
    loss = np.exp(gauss(c.OFF_CENTRE_LOSS_LOG, luck(n, rng)))
    return _heads(
        drawn,
        restitution_frac=gauss(spring.restitution_frac, luck(n, rng)),
        restitution_drop_per_mps=gauss(c.RESTITUTION_DROP_PER_MPS, luck(n, rng)),
        toe_loss_frac=spring.toe_loss_frac * loss,
        high_loss_frac=spring.high_loss_frac * loss,
        grip_return_frac=spread(spring.grip_return_frac, luck(n, rng)),
        friction_frac=spread(c.FRICTION_FRAC, luck(n, rng)),
        contact_s=gauss(c.CONTACT_S, luck(n, rng)),
    )


def luck(n: int, rng: np.random.Generator) -> Array:
    """Draw n uniform numbers, one in each nth of (0, 1), in random order: steadier than plain draws.

    Parameters
    ----------
    n : int
    rng : numpy.random.Generator

    Returns
    -------
    (n,) float64
    """
    return (rng.permutation(n) + rng.random(n)) / n


def normal_from(luck: Array) -> Array:
    """Map uniform numbers in (0, 1) onto a standard normal.

    Parameters
    ----------
    luck : (N,) float64

    Returns
    -------
    (N,) float64
    """
    from scipy.special import ndtri

    return np.asarray(ndtri(luck), dtype=np.float64)


def gauss(constant: c.Constant, luck: Array) -> Array:
    """Map uniform numbers in (0, 1) onto a constant's value and standard error.

    Parameters
    ----------
    constant : Constant
    luck : (N,) float64

    Returns
    -------
    (N,) float64
    """
    return constant.value + constant.err * normal_from(luck)


def spread(assumed: c.Assumed, luck: Array) -> Array:
    """Map uniform numbers in (0, 1) onto an assumed range: half of them on either side of the plain value.

    Parameters
    ----------
    assumed : Assumed
    luck : (N,) float64

    Returns
    -------
    (N,) float64
    """
    return _two_sided(assumed.value, assumed.low, assumed.high, luck)


def _draw_field(club: Club, name: str, luck: Array) -> Array:
    plain = float(getattr(club, name))
    if name in club.assumed:
        typical = TYPICAL[club.kind][name]
        # An assumed field normally holds the typical value; if somebody moved it, the range moves along.
        shift = plain - typical.value if np.isfinite(plain) and np.isfinite(typical.value) else 0.0
        return _two_sided(plain, typical.low + shift, typical.high + shift, luck)
    if not np.isfinite(plain):
        return np.full(luck.shape, plain)
    drawn = plain + err_of(club, name) * normal_from(luck)
    return np.maximum(drawn, POSSIBLE[name][0])


def _two_sided(plain: float, low: float, high: float, luck: Array) -> Array:
    if not np.isfinite(plain):
        return np.full(luck.shape, plain)
    half = 2.0 * luck - 1.0
    return plain + np.where(half < 0.0, half * (plain - low), half * (high - plain))


def _heads(fields: dict[str, Array] | dict[str, np.float64], **spring: Array | float) -> Heads:
    f = {name: np.asarray(value, dtype=np.float64) for name, value in fields.items()}
    shape = f["head_kg"].shape
    inertia = np.zeros((*shape, 3, 3))
    for axis, name in enumerate(("moi_foreaft_kgm2", "moi_vertical_kgm2", "moi_heeltoe_kgm2")):
        inertia[..., axis, axis] = f[name]
    rest = {
        name: np.broadcast_to(np.asarray(value, dtype=np.float64), shape) for name, value in spring.items()
    }
    return Heads(
        loft_deg=f["loft_deg"],
        sweet_toe_mm=f["sweet_toe_mm"],
        sweet_high_mm=f["sweet_high_mm"],
        bulge_mm=f["bulge_mm"],
        roll_mm=f["roll_mm"],
        head_kg=f["head_kg"],
        cg_depth_mm=f["cg_depth_mm"],
        inertia_kgm2=inertia,
        **rest,
    )
