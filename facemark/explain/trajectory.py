"""Where does the ball go once it is in the air?

Drag against the motion through the air, lift across it (spin axis fixed), spin that fades, gravity, wind;
thousands of balls at once by fourth-order Runge-Kutta. Carry, curve and offline are kept apart: carry is the
distance from tee to landing, curve is measured from the START line, offline from the target line.

Sources: drag and lift fitted to published flights (constants.py; tests/published/physics.toml names the rows
tuned on), spin decay as smits-smith-1994 and penner-2001 have it. Bounce and run are not modelled.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facemark.explain import constants as c
from facemark.explain.air import STANDARD_AIR, Air
from facemark.explain.impact import Launch

Array = NDArray[np.float64]

STEP_S = 0.2  # carry within 2e-6 of a tight adaptive integration (tests/explain/test_flight.py)
DRAWN_STEP_S = 0.5  # carry still within 5 mm (tested): nothing against the ranges many drawn balls make
_LONGEST_S = 20.0  # no golf ball stays up longer; a ball that does has met an absurd wind
_CHUNK = 4096  # balls per block: the working arrays stay in the cache
_AREA_M2 = np.pi * c.BALL_RADIUS_M.value**2
_SLOWEST_MPS = 1e-6  # keeps the divisions finite


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Balls:
    """How N balls meet the air: factors on the plain coefficients, (N,) or ()."""

    drag_add_frac: Array = field(default_factory=lambda: np.array(0.0))  # added to C_D
    lift_scale_frac: Array = field(default_factory=lambda: np.array(1.0))
    decay_scale_frac: Array = field(default_factory=lambda: np.array(1.0))
    wind_help_add_mps: Array = field(default_factory=lambda: np.array(0.0))  # on top of the air's wind
    wind_push_add_mps: Array = field(default_factory=lambda: np.array(0.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Landing:
    """Where N balls came down, (N,) each; NaN where the landing height is never reached."""

    carry_m: Array  # level distance from tee to landing
    curve_draw_m: Array  # sideways from the start line
    offline_push_m: Array  # sideways from the target line
    apex_m: Array
    landing_deg: Array  # below level
    time_s: Array
    spin_left_frac: Array


def fly(
    launch: Launch,
    *,
    air: Air = STANDARD_AIR,
    balls: Balls | None = None,
    landing_up_m: float = 0.0,
    step_s: float = STEP_S,
) -> Landing:
    """Fly balls until they land.

    Parameters
    ----------
    launch : Launch
    air : Air
    balls : Balls or None
        None: the plain ball.
    landing_up_m : float
        Height of the landing place above the tee [m].
    step_s : float

    Returns
    -------
    Landing
        Arrays of the launch's shape.

    Notes
    -----
    u is the velocity through the air, S = R |w x u| / |u|^2, Re = 2 R |u| / nu:
    m dv/dt = -1/2 rho A C_D |u| u + 1/2 rho A C_L |u|^2 (w x u)/|w x u| - m g,
    d|w|/dt = -2.0e-5 (rho/1.225) |w| |u| / R.
    """
    shape = launch.ball_mps.shape
    balls = balls or Balls()
    # With steps as long as that, single precision is the smaller error, and twice as quick.
    kind: Any = np.float32 if step_s >= DRAWN_STEP_S else np.float64
    v = launch.velocity_mps.reshape(-1, 3).T
    w = launch.spin_radps.reshape(-1, 3).T
    add = [
        np.broadcast_to(a, shape).ravel().astype(kind)
        for a in (
            balls.drag_add_frac,
            balls.lift_scale_frac,
            balls.decay_scale_frac,
            balls.wind_help_add_mps + air.wind_help_mps,
            balls.wind_push_add_mps + air.wind_push_mps,
        )
    ]
    whole = np.empty((6, v.shape[1]))
    for first in range(0, v.shape[1], _CHUNK):
        part = slice(first, first + _CHUNK)
        start_mps, spin_radps = v[:, part].astype(kind), w[:, part].astype(kind)
        whole[:, part] = _fly_block(start_mps, spin_radps, [a[part] for a in add], air, landing_up_m, step_s)
    x, z, apex, fall, time, left = whole
    level = np.hypot(v[0], v[2])
    fields = {
        "carry_m": np.hypot(x, z),
        # Signed distance right of the vertical plane through the start, turned over: draw is to the left.
        "curve_draw_m": -(v[0] * z - v[2] * x) / level,
        "offline_push_m": z,
        "apex_m": apex,
        "landing_deg": fall,
        "time_s": time,
        "spin_left_frac": left,
    }
    return Landing(**{name: np.asarray(a).reshape(shape) for name, a in fields.items()})


class _Pull:
    """The pull on a block of balls; state rows: vx, vy, vz, spin."""

    def __init__(self, axis: Array, add: list[Array], air: Air) -> None:
        self.axis = axis
        drag_add, lift_scale, decay, self.wind_x, self.wind_z = add
        rho = air.density_kgm3
        self.drag_zero = c.DRAG_ZERO_FRAC.value + drag_add
        self.drag_pull = -0.5 * rho * _AREA_M2 / c.BALL_KG.value  # per metre
        self.lift_pull = -self.drag_pull * c.LIFT_TOP_FRAC.value * c.BALL_RADIUS_M.value * lift_scale
        self.re_per_mps = 2.0 * c.BALL_RADIUS_M.value / air.viscosity_m2_per_s
        decay_frac = c.SPIN_DECAY_FRAC.value * (rho / c.AIR_DENSITY_KGM3) / c.BALL_RADIUS_M.value
        self.decay_pull = -decay_frac * decay

    def rate(self, state: Array) -> Array:
        ux, uy, uz = state[0] - self.wind_x, state[1], state[2] - self.wind_z
        spin = state[3]
        ax, ay, az = self.axis
        # axis x u: the way the lift points, as long as the part of u across the axis
        lx, ly, lz = ay * uz - az * uy, az * ux - ax * uz, ax * uy - ay * ux
        speed_sq = ux * ux + uy * uy + uz * uz + _SLOWEST_MPS**2
        speed = np.sqrt(speed_sq)
        ratio = c.BALL_RADIUS_M.value * spin * np.sqrt(lx * lx + ly * ly + lz * lz) / speed_sq
        slow = 1.0 / (1.0 + np.exp((speed * self.re_per_mps - c.DRAG_SLOW_MIDDLE) / c.DRAG_SLOW_WIDTH))
        drag = self.drag_zero + c.DRAG_SPIN_FRAC.value * ratio + c.DRAG_SLOW_FRAC.value * slow
        back = self.drag_pull * drag * speed
        # The lift's |u|^2 and the length of axis x u cancel against those in the spin ratio.
        side = self.lift_pull * spin / (c.LIFT_HALF_FRAC.value + ratio)
        rate = np.empty_like(state)
        rate[0] = back * ux + side * lx
        rate[1] = back * uy + side * ly - c.GRAVITY_MPS2.value
        rate[2] = back * uz + side * lz
        rate[3] = self.decay_pull * spin * speed
        return rate


def _fly_block(v: Array, w: Array, add: list[Array], air: Air, up_m: float, h: float) -> Array:
    """Rows: x, z, apex, angle of fall, time, share of spin left; NaN where the ball never comes down."""
    spin = np.sqrt(np.sum(w * w, axis=0))
    pull = _Pull(w / np.where(spin > 0.0, spin, 1.0), add, air)
    state = np.vstack([v, spin])
    place = np.zeros_like(v)
    apex = np.full(v.shape[1], np.nan)
    apex[v[1] <= 0.0] = 0.0
    flying = np.ones(v.shape[1], dtype=bool)
    n_steps = np.zeros(v.shape[1])
    ends = [
        np.zeros_like(a) for a in (place, state, place, state)
    ]  # of the step within which each comes down
    for n in range(int(_LONGEST_S / h)):
        new_place, new_state = _step(pull, place, state, h)
        top = flying & (state[1] > 0.0) & (new_state[1] <= 0.0)
        if top.any():
            now, then = state[1, top], new_state[1, top]
            apex[top] = _between(place[1, top], new_place[1, top], now, then, now / (now - then), h)
        down = flying & (place[1] >= up_m) & (new_place[1] <= up_m) & (new_state[1] < 0.0)
        if down.any():
            for end, now in zip(ends, (place, state, new_place, new_state), strict=True):
                end[:, down] = now[:, down]
            n_steps[down] = n
            flying &= ~down
            if not flying.any():
                break
        place, state = new_place, new_state
    out = np.full((6, v.shape[1]), np.nan)
    out[2] = apex
    down = ~flying
    p0, s0, p1, s1 = (end[:, down] for end in ends)
    out[:, down] = _land((p0, s0), (p1, s1), apex[down], spin[down], up_m, n_steps[down], h)
    return out


def _step(pull: _Pull, place: Array, state: Array, h: float) -> tuple[Array, Array]:
    """One Runge-Kutta step; the position's own stages are the velocities of the state's stages."""
    k1 = pull.rate(state)
    s2 = state + 0.5 * h * k1
    k2 = pull.rate(s2)
    s3 = state + 0.5 * h * k2
    k3 = pull.rate(s3)
    s4 = state + h * k3
    k4 = pull.rate(s4)
    new_state = state + h / 6.0 * (k1 + 2.0 * (k2 + k3) + k4)
    new_place = place + h / 6.0 * (state[:3] + 2.0 * (s2[:3] + s3[:3]) + s4[:3])
    return new_place, new_state


def _land(
    before: tuple[Array, Array],
    after: tuple[Array, Array],
    apex: Array,
    spin: Array,
    up_m: float,
    n: Array,
    h: float,
) -> Array:
    """Find the moment within the step at which the ball is ``up_m`` high, and all values there."""
    (p0, s0), (p1, s1) = before, after
    # Newton from the far end: the path is hollow downward there, so it closes in from one side.
    s = np.ones(p0.shape[1])
    for _ in range(6):
        high = _between(p0[1], p1[1], s0[1], s1[1], s, h)
        s = s - (high - up_m) / (h * (s0[1] + s * (s1[1] - s0[1])))
    s = np.clip(s, 0.0, 1.0)
    x, z = (_between(p0[k], p1[k], s0[k], s1[k], s, h) for k in (0, 2))
    vx, vy, vz = (_speed_between(p0[k], p1[k], s0[k], s1[k], s, h) for k in range(3))
    left = s0[3] + s * (s1[3] - s0[3])
    fall = np.degrees(np.arctan2(-vy, np.hypot(vx, vz)))
    return np.stack([x, z, apex, fall, (n + s) * h, left / np.where(spin > 0.0, spin, 1.0)])


def _between(p0: Array, p1: Array, v0: Array, v1: Array, s: Array, h: float) -> Array:
    """Cubic through two places with two speeds, at share ``s`` of the step (Hermite)."""
    back = 1.0 - s
    return np.asarray(
        (1.0 + 2.0 * s) * back**2 * p0
        + s * back**2 * h * v0
        + s**2 * (3.0 - 2.0 * s) * p1
        - s**2 * back * h * v1,
        dtype=np.float64,
    )


def _speed_between(p0: Array, p1: Array, v0: Array, v1: Array, s: Array, h: float) -> Array:
    """Rate of change of ``_between``."""
    return np.asarray(
        6.0 * s * (1.0 - s) * (p1 - p0) / h + (1.0 - 4.0 * s + 3.0 * s**2) * v0 + (3.0 * s**2 - 2.0 * s) * v1,
        dtype=np.float64,
    )
