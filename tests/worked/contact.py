"""A time-stepped contact of ball and head, to check the two-step impact against. Independent of facemark.

A spring and a damper along the normal of the face where it now touches the ball, friction along it, a free
head that moves and turns, a face that is curved. No impulse theory is used: forces are integrated in time.

Sideways the ball grips through a stiff damper (friction is whatever stops the slip, up to mu N), which leaves
the ball rolling: tangential restitution 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BALL_KG = 0.04593
BALL_R_M = 0.021335
BALL_I_KGM2 = 0.4 * BALL_KG * BALL_R_M**2


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """Face and head in metres; axes forward, up, toe; loft already in the shape."""

    loft_rad: float
    bulge_m: float  # inf: flat
    roll_m: float
    mass_kg: float
    depth_m: float
    inertia_kgm2: tuple[float, float, float]  # forward, up, toe
    restitution: float
    friction: float
    contact_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Result:
    """Ball after the contact, and how long it lasted."""

    velocity_mps: Array
    spin_radps: Array
    contact_s: float
    drift_toe_mm: float  # from the first touch to the force-weighted middle of the contact
    drift_up_mm: float


def simulate(head: Head, toe_m: float, high_m: float, speed_mps: float, *, steps: int = 4000) -> Result:
    """Strike at (toe, high) from the face centre (= sweet spot), moving level and straight."""
    cos, sin = np.cos(head.loft_rad), np.sin(head.loft_rad)
    axes = np.array([[cos, sin, 0.0], [-sin, cos, 0.0], [0.0, 0.0, 1.0]])  # rows: out, up the face, toe
    ball = np.zeros(3)
    contact = _surface(head, axes, toe_m, high_m)
    normal = _normal(head, axes, toe_m, high_m)
    cg = ball - BALL_R_M * normal - contact  # place the head so that the ball just touches
    turn = np.eye(3)
    v_ball, w_ball = np.zeros(3), np.zeros(3)
    v_head, w_head = np.array([speed_mps, 0.0, 0.0]), np.zeros(3)
    inertia = np.diag(head.inertia_kgm2)
    arm = contact - 0.0
    k_nn = 1.0 / BALL_KG + 1.0 / head.mass_kg + _turn_part(arm, normal, inertia)
    mass = 1.0 / k_nn
    spring, damper = _spring_and_damper(mass, head.restitution, head.contact_s)
    grip = 0.2 * mass / (head.contact_s / steps)  # stiff, yet stable
    dt = head.contact_s / steps
    at = np.array([toe_m, high_m])
    total, t, drift = 0.0, 0.0, np.zeros(2)
    for _ in range(3 * steps):
        # Nearest point of the curved face to the ball's middle, in the head's axes.
        local = turn.T @ (ball - cg)
        at, n_local, gap = _nearest(head, axes, local, at)
        n = turn @ n_local
        squeeze = BALL_R_M - gap
        point = ball - (BALL_R_M - 0.5 * max(squeeze, 0.0)) * n
        arm = point - cg
        slip = v_ball + np.cross(w_ball, point - ball) - v_head - np.cross(w_head, arm)
        closing = -float(n @ slip)
        force = spring * squeeze + damper * closing
        if t > 0.3 * head.contact_s and (force <= 0.0 or squeeze <= 0.0):
            break
        force = max(force, 0.0)
        along = slip - (n @ slip) * n
        drag = -grip * along
        size = float(np.linalg.norm(drag))
        if size > head.friction * force:
            drag *= head.friction * force / max(size, 1e-30)
        push = force * n + drag
        v_ball = v_ball + push / BALL_KG * dt
        w_ball = w_ball + np.cross(-BALL_R_M * n, push) / BALL_I_KGM2 * dt
        v_head = v_head - push / head.mass_kg * dt
        now = turn @ inertia @ turn.T
        w_head = w_head + np.linalg.solve(now, np.cross(arm, -push) - np.cross(w_head, now @ w_head)) * dt
        ball, cg = ball + v_ball * dt, cg + v_head * dt
        turn = _turned(turn, w_head * dt)
        t += dt
        total += force
        drift += force * (at - (toe_m, high_m))
    drift_mm = 1000.0 * drift / total
    return Result(
        velocity_mps=v_ball,
        spin_radps=w_ball,
        contact_s=t,
        drift_toe_mm=float(drift_mm[0]),
        drift_up_mm=float(drift_mm[1]),
    )


def _spring_and_damper(mass: float, restitution: float, contact_s: float) -> tuple[float, float]:
    """Damped spring that ends when its force does, not its squeeze (Schwager and Poeschel 2007)."""
    low, high = 0.0, 1.0  # damping rate over frequency
    for _ in range(60):
        ratio = 0.5 * (low + high)
        low, high = (
            (ratio, high) if np.exp(-ratio * (np.pi - 2.0 * np.arctan(ratio))) > restitution else (low, ratio)
        )
    omega = (np.pi - 2.0 * np.arctan(ratio)) / contact_s
    return float(mass * omega**2 * (1.0 + ratio**2)), float(2.0 * mass * ratio * omega)


def _surface(head: Head, axes: Array, toe: float, high: float) -> Array:
    """Point of the face from the centre of gravity, which lies ``depth`` behind the face centre."""
    fall = _fall(toe, head.bulge_m) + _fall(high, head.roll_m)
    return axes.T @ np.array([head.depth_m - fall, high, toe])


def _normal(head: Head, axes: Array, toe: float, high: float) -> Array:
    lean = np.array([1.0, _slope(high, head.roll_m), _slope(toe, head.bulge_m)])
    return axes.T @ (lean / np.linalg.norm(lean))


def _nearest(head: Head, axes: Array, ball: Array, at: Array) -> tuple[Array, Array, float]:
    for _ in range(3):
        n = _normal(head, axes, at[0], at[1])
        off = ball - _surface(head, axes, at[0], at[1])
        beside = axes @ (off - (n @ off) * n)
        # Far from the curved face the foot moves less than the ball: divide by 1 + R/radius.
        at = at + np.array(
            [beside[2] / (1.0 + BALL_R_M / head.bulge_m), beside[1] / (1.0 + BALL_R_M / head.roll_m)]
        )
    n = _normal(head, axes, at[0], at[1])
    return at, n, float(n @ (ball - _surface(head, axes, at[0], at[1])))


def _fall(x: float, radius: float) -> float:
    return 0.0 if np.isinf(radius) else float(radius - np.sqrt(radius**2 - x**2))


def _slope(x: float, radius: float) -> float:
    return 0.0 if np.isinf(radius) else float(x / np.sqrt(radius**2 - x**2))


def _turn_part(arm: Array, n: Array, inertia: Array) -> float:
    lever = np.cross(arm, n)
    return float(lever @ np.linalg.solve(inertia, lever))


def _turned(turn: Array, small: Array) -> Array:
    angle = float(np.linalg.norm(small))
    if angle == 0.0:
        return turn
    x, y, z = small / angle
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray((np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross) @ turn)
