"""Launches put together by hand, for checks of the flight alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from facemark.explain.impact import Launch


def launch_of(
    ball_mps: ArrayLike,
    launch_deg: ArrayLike,
    rpm: ArrayLike,
    *,
    axis_draw_deg: ArrayLike = 0.0,
    start_push_deg: ArrayLike = 0.0,
) -> Launch:
    """A launch with the spin axis across the flight, tilted toward a draw."""
    speed, up, spin, tilt, start = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (ball_mps, launch_deg, rpm, axis_draw_deg, start_push_deg))
    )
    a, s, t = np.radians(up), np.radians(start), np.radians(tilt)
    way = np.stack([np.cos(a) * np.cos(s), np.sin(a), np.cos(a) * np.sin(s)], axis=-1)
    right = np.stack([-np.sin(s), np.zeros_like(s), np.cos(s)], axis=-1)
    axis = np.cos(t)[..., None] * right + np.sin(t)[..., None] * np.cross(right, way)
    return Launch(
        velocity_mps=speed[..., None] * way,
        spin_radps=(spin * np.pi / 30.0)[..., None] * axis,
        ball_mps=speed,
        launch_deg=up,
        start_push_deg=start,
        back_rpm=spin * np.cos(t),
        side_draw_rpm=spin * np.sin(t),
        axis_draw_deg=tilt,
        slid_frac=np.zeros_like(speed),
    )
