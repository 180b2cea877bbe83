"""What does the ball do in the half millisecond on the face?

A free rigid head meets the ball in one blow, in three dimensions: the normal part gives back a share of the
approach, the tangential part grips (or slides, when friction cannot hold). Off-centre blows turn the head;
its face, in front of the centre of gravity, then drags the ball's surface sideways. That is gear effect, and
it comes out of the equations here, spin and sideways push alike, so momentum is kept.

Method: rigid impulse with restitution and Coulomb friction, as in adjust-2020 and winfield-1994, plus a
second step for the turning of the face during the contact (``_turned``), proven against a time-stepped
contact in tests/explain/test_impact.py.

Frame: x down the target line, y up, z to the right, for a right-handed player. Toe is +z. A left-handed
strike is the mirror image, so in the words used outside this file (toe, push, draw, open, out) it is the same
strike. Face angle means the direction of the normal at the face CENTRE; bulge turns it at the contact point.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from facemark.explain import constants as c
from facemark.explain.heads import Heads

Array = NDArray[np.float64]

_ZERO = np.float64(0.0)
_RPM = 60.0 / (2.0 * np.pi)
_BALL_INERTIA_KGM2 = c.BALL_INERTIA_FRAC.value * c.BALL_KG.value * c.BALL_RADIUS_M.value**2
# Share of the whole turn that the force-weighted mean contact sees, for a half-sine force.
_MEAN_TURN_FRAC = 1.0 / 8.0
# Slip made by the turning normal, in units of contact time x approach speed: a - b e (physics: the normal
# speed runs from -u to +e u on a cosine, the separating half dominates).
_SLIP_APPROACH_FRAC = 0.034
_SLIP_RETURN_FRAC = 0.284


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Delivery:
    """How the head arrives. Arrays broadcast against the strikes."""

    head_mps: ArrayLike  # speed of the centre of gravity
    face_open_deg: ArrayLike = field(default=0.0)  # at the face centre
    path_out_deg: ArrayLike = field(default=0.0)  # in-to-out
    attack_up_deg: ArrayLike = field(default=0.0)
    close_radps: ArrayLike = field(default=0.0)  # the face closing during contact


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Launch:
    """The ball as it leaves the face; arrays of one shape (N,)."""

    velocity_mps: Array  # (N, 3) in the frame of this file
    spin_radps: Array  # (N, 3)
    ball_mps: Array
    launch_deg: Array
    start_push_deg: Array
    back_rpm: Array
    side_draw_rpm: Array
    axis_draw_deg: Array
    slid_frac: Array  # 1 where friction could not hold the ball


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blow:
    """One solved impact, for checks of momentum and energy; shapes (N, 3)."""

    impulse_kgmps: Array  # on the ball
    ball_mps: Array
    ball_radps: Array
    head_mps: Array
    head_radps: Array
    slid: NDArray[np.bool_]  # (N,)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contact:
    """The head at first touch: vectors (N, 3), inertia as (N, 3, 3) or one for all; in this file's frame."""

    normal: Array
    arm_m: Array  # from the centre of gravity to the contact point
    inertia_kgm2: Array
    head_kg: Array  # (N,)
    head_mps: Array
    head_radps: Array
    restitution_frac: Array  # (N,)
    grip_return_frac: Array
    friction_frac: Array


def strike_ball(heads: Heads, toe_mm: ArrayLike, high_mm: ArrayLike, *, delivery: Delivery) -> Launch:
    """Strike a ball.

    Parameters
    ----------
    heads : Heads
    toe_mm, high_mm : array_like
        Strike from the head's SWEET SPOT [mm], toe and high plus. Broadcast against heads and delivery.
    delivery : Delivery

    Returns
    -------
    Launch

    Notes
    -----
    ``axis_draw_deg`` is the tilt of the spin axis from level, plus bending as a draw. Spin about the line of
    flight is not modelled.
    """
    contact = touch(heads, toe_mm, high_mm, delivery=delivery)
    blow = solve_blow(contact)
    if np.any(heads.contact_s > 0.0):
        blow = _turned(contact, blow, heads.contact_s)
    return _launch(blow)


def touch(heads: Heads, toe_mm: ArrayLike, high_mm: ArrayLike, *, delivery: Delivery) -> Contact:
    """Lay the head against the ball: normal, arm and inertia at the contact point.

    Parameters
    ----------
    heads, toe_mm, high_mm, delivery
        As for ``strike_ball``.

    Returns
    -------
    Contact
    """
    face, path, attack = (
        np.radians(np.asarray(a, dtype=np.float64))
        for a in (delivery.face_open_deg, delivery.path_out_deg, delivery.attack_up_deg)
    )
    speed, close = (np.asarray(a, dtype=np.float64) for a in (delivery.head_mps, delivery.close_radps))
    toe = np.asarray(toe_mm, dtype=np.float64) + heads.sweet_toe_mm  # from the face centre
    high = np.asarray(high_mm, dtype=np.float64) + heads.sweet_high_mm
    turn = _turn_about_up(face)
    inertia_kgm2 = turn @ heads.inertia_kgm2 @ np.swapaxes(turn, -1, -2)  # one a head, however many strikes
    toe, high, face, path, attack, speed, close, depth = np.broadcast_arrays(
        toe, high, face, path, attack, speed, close, heads.cg_depth_mm
    )
    normal, point = _face_at(heads, toe, high)
    sweet_normal, sweet_point = _face_at(heads, heads.sweet_toe_mm, heads.sweet_high_mm)
    arm_mm = point - sweet_point + depth[..., None] * sweet_normal
    # A strike off centre loses restitution; measured from the face centre, where the face is springiest.
    loss_frac = (
        heads.toe_loss_frac * (toe / c.RESTITUTION_TOE_SCALE_MM) ** 2
        + heads.high_loss_frac * (high / c.RESTITUTION_HIGH_SCALE_MM) ** 2
    )
    normal = _apply(turn, normal)
    velocity = speed[..., None] * np.stack(
        [np.cos(attack) * np.cos(path), np.sin(attack), np.cos(attack) * np.sin(path)], axis=-1
    )
    turning = np.stack([np.zeros_like(close), close, np.zeros_like(close)], axis=-1)
    arm_m = _apply(turn, arm_mm) / 1000.0
    approach_mps = _dot(normal, velocity + np.cross(turning, arm_m))
    full_frac = heads.restitution_frac - heads.restitution_drop_per_mps * (
        approach_mps - c.RESTITUTION_SPEED_MPS
    )
    shape = toe.shape
    return Contact(
        normal=normal,
        arm_m=arm_m,
        inertia_kgm2=inertia_kgm2,
        head_kg=np.broadcast_to(heads.head_kg, shape),
        head_mps=velocity,
        head_radps=turning,
        restitution_frac=np.clip(full_frac * (1.0 - loss_frac), 0.0, 1.0),
        grip_return_frac=np.broadcast_to(heads.grip_return_frac, shape),
        friction_frac=np.broadcast_to(heads.friction_frac, shape),
    )


def solve_blow(contact: Contact, *, slip_mps: Array | None = None, normal: Array | None = None) -> Blow:
    """Solve one blow: grip if friction can hold the ball, slide if not.

    Parameters
    ----------
    contact : Contact
    slip_mps : (N, 3) float64 or None
        Velocity of the ball's surface against the face before the blow [m/s]; None: from the motion.
    normal : (N, 3) float64 or None
        Another normal than the one at first touch.

    Returns
    -------
    Blow

    Notes
    -----
    With n the normal, K the inverse inertia seen at the contact and u the slip, the impulse J meets
    n.(u + K J) = -e u_n and, gripping, the tangential part of u + K J = -e_t times the tangential part
    of (u + K n J_n). Friction: |J_t| <= mu J_n.
    """
    n = contact.normal if normal is None else normal
    arm_ball = -c.BALL_RADIUS_M.value * n
    u = slip_mps
    if u is None:
        u = -(contact.head_mps + np.cross(contact.head_radps, contact.arm_m))
    inverse_inertia = _f64(np.linalg.inv(contact.inertia_kgm2))
    compliance = _compliance(contact, arm_ball, inverse_inertia)
    impulse, slid = _impulse(contact, n, u, compliance)
    minus_turn = np.cross(contact.arm_m, impulse)
    return Blow(
        impulse_kgmps=impulse,
        ball_mps=impulse / c.BALL_KG.value,
        ball_radps=np.cross(arm_ball, impulse) / _BALL_INERTIA_KGM2,
        head_mps=contact.head_mps - impulse / contact.head_kg[..., None],
        head_radps=contact.head_radps - _apply(inverse_inertia, minus_turn),
        slid=slid,
    )


def _compliance(contact: Contact, arm_ball: Array, inverse_inertia: Array) -> Array:
    """How much slip a unit impulse makes: symmetric positive (N, 3, 3) [1/kg]."""
    eye = np.eye(3)
    ball = _cross_matrix(arm_ball)
    head = _cross_matrix(contact.arm_m)
    masses = 1.0 / c.BALL_KG.value + 1.0 / contact.head_kg
    whole: Array = (
        masses[..., None, None] * eye - ball @ ball / _BALL_INERTIA_KGM2 - head @ inverse_inertia @ head
    )
    return whole


def _impulse(contact: Contact, n: Array, u: Array, compliance: Array) -> tuple[Array, NDArray[np.bool_]]:
    e, e_t, mu = contact.restitution_frac, contact.grip_return_frac, contact.friction_frac
    u_n = _dot(n, u)
    u_t = u - u_n[..., None] * n
    nn = n[..., :, None] * n[..., None, :]
    eye = np.eye(3)
    grip = nn @ compliance + (eye - nn) @ compliance @ (eye + e_t[..., None, None] * nn)
    right = -((1.0 + e) * u_n)[..., None] * n - (1.0 + e_t)[..., None] * u_t
    impulse = _f64(np.linalg.solve(grip, right[..., None])[..., 0])
    j_n = _dot(n, impulse)
    slid = np.asarray(np.linalg.norm(impulse - j_n[..., None] * n, axis=-1) > mu * j_n, dtype=np.bool_)
    if np.any(slid):
        size = np.linalg.norm(u_t, axis=-1)
        along = u_t / np.where(size > 0.0, size, 1.0)[..., None]
        way = n - mu[..., None] * along
        j_slide = -(1.0 + e) * u_n / _dot(n, _apply(compliance, way))
        impulse = _f64(np.where(slid[..., None], j_slide[..., None] * way, impulse))
    return impulse, slid


def _turned(contact: Contact, first: Blow, contact_s: Array) -> Blow:
    """Solve again with the mean normal of a face that turns while the ball is on it."""
    turn_radps = first.head_radps - contact.head_radps
    t = contact_s[..., None]
    n = _rotate(contact.normal, turn_radps * t * _MEAN_TURN_FRAC)
    u = -(contact.head_mps + np.cross(contact.head_radps, contact.arm_m))
    u_n = _dot(contact.normal, u)[..., None]
    # The slip at first touch is what it was: only the normal has turned since.
    u_t = u - u_n * contact.normal
    share = (_SLIP_APPROACH_FRAC - _SLIP_RETURN_FRAC * contact.restitution_frac)[..., None]
    slip = u_n * n + u_t - share * t * u_n * np.cross(turn_radps, n)
    return solve_blow(contact, slip_mps=slip, normal=n)


def _launch(blow: Blow) -> Launch:
    v, w = blow.ball_mps, blow.ball_radps
    speed = np.linalg.norm(v, axis=-1)
    level = np.hypot(v[..., 0], v[..., 2])
    zero = np.zeros_like(level)
    right = np.stack([-v[..., 2], zero, v[..., 0]], axis=-1) / level[..., None]
    over = np.cross(right, v) / speed[..., None]
    back = _dot(w, right)
    side_draw = _dot(w, over)  # spin about the upward axis turns the ball to the left: a draw
    return Launch(
        velocity_mps=v,
        spin_radps=w,
        ball_mps=speed,
        launch_deg=np.degrees(np.arcsin(v[..., 1] / speed)),
        start_push_deg=np.degrees(np.arctan2(v[..., 2], v[..., 0])),
        back_rpm=back * _RPM,
        side_draw_rpm=side_draw * _RPM,
        axis_draw_deg=np.degrees(np.arctan2(side_draw, back)),
        slid_frac=blow.slid.astype(np.float64),
    )


def _face_at(heads: Heads, toe: Array, high: Array) -> tuple[Array, Array]:
    """Normal and point (N, 3) [mm] of the face at (toe, high) from its centre; axes forward, up, toe."""
    loft = np.radians(heads.loft_deg)
    lean_toe, lean_high = (_lean(x, r) for x, r in ((toe, heads.bulge_mm), (high, heads.roll_mm)))
    toe, high, loft, lean_toe, lean_high = np.broadcast_arrays(toe, high, loft, lean_toe, lean_high)
    zero = np.zeros_like(loft)
    out = np.stack([np.cos(loft), np.sin(loft), zero], axis=-1)
    up = np.stack([-np.sin(loft), np.cos(loft), zero], axis=-1)
    toeward = np.stack([zero, zero, np.ones_like(loft)], axis=-1)
    normal = out + lean_toe[..., None] * toeward + lean_high[..., None] * up
    normal = normal / np.linalg.norm(normal, axis=-1, keepdims=True)
    sag = _sag(toe, heads.bulge_mm) + _sag(high, heads.roll_mm)
    point = toe[..., None] * toeward + high[..., None] * up - sag[..., None] * out
    return normal, point


def _lean(offset_mm: Array, radius_mm: Array) -> Array:
    """Tangent of the angle by which the face has turned away; 0 where flat."""
    sine = offset_mm / radius_mm
    return np.asarray(sine / np.sqrt(1.0 - sine**2), dtype=np.float64)


def _sag(offset_mm: Array, radius_mm: Array) -> Array:
    """How far the face has fallen back [mm], in a form that stays exact for flat faces."""
    sine = offset_mm / radius_mm
    return np.asarray(offset_mm * sine / (1.0 + np.sqrt(1.0 - sine**2)), dtype=np.float64)


def _turn_about_up(face: Array) -> Array:
    zero, one = np.zeros_like(face), np.ones_like(face)
    rows = [[np.cos(face), zero, -np.sin(face)], [zero, one, zero], [np.sin(face), zero, np.cos(face)]]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def _rotate(v: Array, turn: Array) -> Array:
    """Turn v by the rotation vector ``turn`` (Rodrigues)."""
    angle = np.linalg.norm(turn, axis=-1, keepdims=True)
    axis = turn / np.where(angle > 0.0, angle, 1.0)
    along = np.sum(axis * v, axis=-1, keepdims=True)
    return np.asarray(
        v * np.cos(angle) + np.cross(axis, v) * np.sin(angle) + axis * along * (1.0 - np.cos(angle)),
        dtype=np.float64,
    )


def _cross_matrix(v: Array) -> Array:
    zero = np.zeros_like(v[..., 0])
    x, y, z = v[..., 0], v[..., 1], v[..., 2]
    rows = [[zero, -z, y], [z, zero, -x], [-y, x, zero]]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def _f64(a: ArrayLike) -> Array:
    return np.asarray(a, dtype=np.float64)


def _apply(matrix: Array, v: Array) -> Array:
    return np.asarray((matrix @ v[..., None])[..., 0], dtype=np.float64)


def _dot(a: Array, b: Array) -> Array:
    return np.asarray(np.sum(a * b, axis=-1), dtype=np.float64)
