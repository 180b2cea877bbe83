"""The flight law once more, written anew with its numbers, under scipy's adaptive integrator."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from facemark.explain.air import Air
from facemark.explain.impact import Launch

Array = NDArray[np.float64]


def tight(launch: Launch, air: Air, up_m: float, *, rtol: float = 1e-10) -> tuple[float, float, float, float]:
    """Carry, offline, apex and angle of fall by an adaptive integration of the same law, written anew."""
    w0 = float(np.linalg.norm(launch.spin_radps))
    axis = launch.spin_radps / w0
    rho, nu, r, m = air.density_kgm3, air.viscosity_m2_per_s, 0.5 * 0.04267, 0.04593
    wind = np.array([air.wind_help_mps, 0.0, air.wind_push_mps])

    def rate(_: float, s: Array) -> Array:
        u = s[3:6] - wind
        speed = math.sqrt(u @ u)
        cross = np.cross(s[6] * axis, u)
        size = math.sqrt(cross @ cross)
        ratio = r * size / speed**2
        c_d = 0.225 + 0.15 * ratio + 0.30 / (1.0 + math.exp((2.0 * r * speed / nu - 7e4) / 8e3))
        c_l = 0.41 * ratio / (0.135 + ratio)
        force = 0.5 * rho * math.pi * r**2 * (-c_d * speed * u + c_l * speed**2 * cross / size)
        return np.concatenate(
            [s[3:6], force / m - [0.0, 9.80665, 0.0], [-2.0e-5 * rho / 1.225 * s[6] * speed / r]]
        )

    def lands(_: float, s: Array) -> float:
        return float(s[1] - up_m)

    def tops(_: float, s: Array) -> float:
        return float(s[4])

    lands.terminal, lands.direction = True, -1.0  # type: ignore[attr-defined]
    start = np.concatenate([np.zeros(3), launch.velocity_mps, [w0]])
    out = solve_ivp(rate, (0.0, 20.0), start, events=[lands, tops], rtol=rtol, atol=rtol, method="DOP853")
    end, top = out.y_events[0][-1], out.y_events[1][0]
    fall = math.degrees(math.atan2(-end[4], math.hypot(end[3], end[5])))
    return math.hypot(end[0], end[2]), end[2], top[1], fall
