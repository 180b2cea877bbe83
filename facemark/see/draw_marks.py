"""Powder on a drawn face, and what balls do to it: a model of contact, not of pictures.

Powder is a deposit density (optical depth) with grain, patches, runs and thin edges. A ball presses with
Hertz's pressure over a disc, less inside its dimples; powder leaves where the pressure beats its local
adhesion. What leaves piles up at the rim, is smeared up the face, or is printed on bare metal by a later
ball. Marks of 10 to 28 mm (a 42.7 mm ball flattened by 0.6 to 5 mm); the rest is assumed, in broad ranges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import cv2
import numpy as np

from facemark.see.camera import Array
from facemark.see.draw_head import Head, Plate, fill, stroke
from facemark.see.draw_noise import Image, layered_noise, smooth_noise, specks, step, stretched_noise

N_RIM = 48  # points of a mark's outline in the truth


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hit:
    """One ball's print. ``rim`` (4, 2): cosine and sine parts of its raggedness, orders 2 to 5."""

    toe_mm: float
    high_mm: float
    diameter_mm: float
    rim: Array = field(default_factory=lambda: np.zeros((4, 2)))

    def radius_mm(self, angle: Array) -> Array:
        """Radius of the rim at an angle [rad]."""
        return np.asarray(self.radius_toward(np.cos(angle), np.sin(angle)), float)

    def radius_toward(self, dx: Array | Image, dy: Array | Image) -> Image:
        """Radius of the rim in a direction (powers of a unit complex number: multiples of its angle)."""
        turn = (dx + 1j * dy).astype(np.complex64)
        turn /= np.maximum(np.abs(turn), 1e-6)
        power, wave = turn.copy(), np.ones(turn.shape, np.float32)
        for cosine, sine in self.rim.astype(np.float32):
            power *= turn
            wave += cosine * power.real + sine * power.imag
        return np.asarray(np.float32(self.diameter_mm / 2) * wave, np.float32)

    def outline_mm(self) -> Array:
        """(N_RIM, 2) rim in the face frame, not cut by the face's edge."""
        angle = np.arange(N_RIM) * 2 * math.pi / N_RIM
        radius = self.radius_mm(angle)
        return np.column_stack([self.toe_mm + radius * np.cos(angle), self.high_mm + radius * np.sin(angle)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """How balls and powder of one set behave."""

    adhesion_frac: float  # powder leaves where pressure / peak pressure exceeds about this
    adhesion_spread_frac: float  # log sd of the adhesion from place to place
    most_frac: float  # of the powder under full pressure, the part that leaves
    dimple_frac: float  # pressure lost inside a dimple, at the rim
    pitch_mm: float  # of the dimple lattice
    ring_frac: float  # of the fresh powder, piled up at the rim
    smear_mm: float  # up the face
    carry_frac: float  # powder a ball prints on bare metal: 0 = marks multiply, more = later print wins
    inverted: bool = False  # dimples take powder away instead of leaving it


@dataclass(frozen=True, slots=True, kw_only=True)
class Spray:
    """How the face was sprayed."""

    depth_ratio: float  # mean optical depth; 1 is thin, 3 hides the metal
    patch_frac: float  # log sd of the cloudy unevenness
    grain_frac: float  # log sd from grain to grain
    grain_mm: float
    edge_frac: float  # how much thinner at the edge
    n_drops: int
    n_runs: int
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
    wet_frac: float = 0.0  # darkens the powder and lets it shine


def draw_spray(rng: np.random.Generator, *, poor: bool) -> Spray:
    """A can and a hand; ``poor``: thin and patchy."""
    tint = 1.0 + (
        rng.uniform(-0.10, 0.0, 3) if rng.random() < 0.7 else rng.uniform(-0.35, 0.0, 3) * rng.random()
    )
    return Spray(
        depth_ratio=float(
            rng.uniform(0.45, 1.1) if poor else np.exp(rng.uniform(math.log(1.4), math.log(4.0)))
        ),
        patch_frac=float(rng.uniform(0.35, 0.7) if poor else rng.uniform(0.06, 0.30)),
        grain_frac=float(rng.uniform(0.2, 1.0 if poor else 0.6)),
        grain_mm=float(np.exp(rng.uniform(math.log(0.10), math.log(0.45)))),
        edge_frac=float(rng.uniform(0.0, 0.7 if poor else 0.4)),
        n_drops=int(rng.integers(0, 200)),
        n_runs=int(rng.integers(1, 5)) if rng.random() < 0.2 else 0,
        tint=(float(tint[0]), float(tint[1]), float(tint[2])),
        wet_frac=float(rng.uniform(0.2, 0.8)) if rng.random() < 0.2 else 0.0,
    )


def draw_contact(spray: Spray, rng: np.random.Generator, *, faint: bool = False) -> Contact:
    """Balls and powder of one set; ``faint``: slow swings or sticky powder, much stays."""
    left = min(float(rng.uniform(0.02, 0.40)), 0.30 * spray.depth_ratio)
    if faint:
        left = float(rng.uniform(0.3, 0.55)) * min(spray.depth_ratio, 2.2)
    return Contact(
        adhesion_frac=float(rng.uniform(0.15, 0.5)),
        adhesion_spread_frac=float(rng.uniform(0.1, 0.5)),
        most_frac=1.0 - left / spray.depth_ratio,
        dimple_frac=float(rng.uniform(0.0, 0.95) if rng.random() < 0.7 else rng.uniform(0.0, 0.25)),
        pitch_mm=float(rng.uniform(3.5, 4.7)),
        ring_frac=float(rng.uniform(0.1, 0.7)) if rng.random() < 0.55 else 0.0,
        smear_mm=float(rng.uniform(0.5, 3.0)) if rng.random() < 0.4 else 0.0,
        carry_frac=float(rng.uniform(0.05, 0.35)) if rng.random() < 0.5 else 0.0,
        inverted=bool(rng.random() < 0.12),
    )


def draw_hit(at_mm: Array, diameter_mm: float, rng: np.random.Generator) -> Hit:
    """A ball at a place, with its own ragged rim."""
    ragged = rng.uniform(0.004, 0.022)
    fall = np.array([1.6, 1.0, 0.7, 0.5])[:, None]
    return Hit(
        toe_mm=float(at_mm[0]),
        high_mm=float(at_mm[1]),
        diameter_mm=diameter_mm,
        rim=rng.normal(0.0, ragged, (4, 2)) * fall,
    )


def spray_face(plate: Plate, spray: Spray, rng: np.random.Generator) -> Image:
    """(H, W) optical depth of a freshly sprayed face."""
    scale = plate.px_per_mm
    cloud = layered_noise(plate.shape, (30 * scale, 12 * scale, 4 * scale), rng, fall=0.7)
    depth = spray.depth_ratio * np.exp(spray.patch_frac * cloud)
    # The spray comes in passes: a slow gradient over the face.
    toe, high = plate.grid_mm()
    lean = rng.normal(0.0, 0.12, 2)
    depth *= np.exp(lean[0] * toe / 50.0 + lean[1] * high / 25.0)
    grain = smooth_noise(plate.shape, max(spray.grain_mm * scale, 1.0), rng)
    coarse = smooth_noise(plate.shape, max(3.2 * spray.grain_mm * scale, 1.0), rng)
    depth *= np.exp(spray.grain_frac * (0.8 * grain + 0.45 * coarse) - 0.4 * spray.grain_frac**2)
    depth *= 1.0 - spray.edge_frac * (1.0 - _from_edge(plate, 5.0)) * np.clip(1.0 + 0.5 * cloud, 0.0, 1.6)
    depth += 2.5 * specks(plate.shape, spray.n_drops, (0.12 * scale, 0.7 * scale), rng)
    if spray.patch_frac > 0.3:  # pinholes and missed spots
        missed = step(layered_noise(plate.shape, (9 * scale, 3 * scale), rng), 1.1, 2.0)
        depth *= 1.0 - 0.85 * missed
    for _ in range(spray.n_runs):
        depth *= _run(plate, rng)
    # Score lines fill up.
    depth += plate.groove * (0.4 + 0.3 * spray.depth_ratio)
    return np.asarray(np.maximum(depth, 0.0), np.float32)


def _from_edge(plate: Plate, reach_mm: float) -> Image:
    """0 at the face's edge, 1 from ``reach_mm`` inward."""
    inner = cv2.distanceTransform((plate.inside > 0.5).astype(np.uint8), cv2.DIST_L2, 3)
    return np.asarray(np.clip(inner / (reach_mm * plate.px_per_mm), 0.0, 1.0), np.float32)


def _run(plate: Plate, rng: np.random.Generator) -> Image:
    """A run of wet powder: a clear channel with a thick lip and drop at its foot."""
    start = rng.uniform([-40, -5], [40, 20])
    steps = np.arange(0.0, rng.uniform(8, 30), 1.0)
    path = np.column_stack([start[0] + np.cumsum(rng.normal(0, 0.12, len(steps))), start[1] - steps])
    width = rng.uniform(0.8, 2.0)
    lip = stroke(plate, path, width * 1.6)
    return np.asarray(1.0 - 0.7 * stroke(plate, path, width) + 0.5 * lip, np.float32)


def strike(
    plate: Plate, powder: Image, fresh: Image, hit: Hit, contact: Contact, rng: np.random.Generator
) -> Image:
    """(H, W) powder left after one more ball."""
    box, toe, high = _window(plate, hit, 1.45)
    if toe.size == 0:
        return powder
    left, before = powder.copy(), powder[box]
    shape = (before.shape[0], before.shape[1])
    dx, dy = toe - hit.toe_mm, high - hit.high_mm
    # The rim in the truth is where mean adhesion is just beaten, slightly inside the contact's edge.
    rho = np.hypot(dx, dy) / hit.radius_toward(dx, dy)
    rho = rho * math.sqrt(1.0 - contact.adhesion_frac**2)
    hertz = np.sqrt(np.clip(1.0 - rho**2, 0.0, None))
    dimple = _dimples(dx, dy, contact.pitch_mm, rng)
    lost = contact.dimple_frac * dimple * (1.0 - 0.55 * hertz**2)
    pressure = hertz * (0.75 + 0.5 * dimple) if contact.inverted else hertz * (1.0 - lost)
    scale = plate.px_per_mm
    uneven = 0.75 * layered_noise(shape, (2.5 * scale, 0.7 * scale), rng) + 0.65 * smooth_noise(
        shape, 1.6, rng
    )
    adhesion = contact.adhesion_frac * np.exp(contact.adhesion_spread_frac * uneven)
    adhesion = adhesion * (1.0 + 5.0 * plate.groove[box])
    gone = contact.most_frac * step(pressure / adhesion, 0.55, 1.45)
    if contact.inverted:
        gone = gone * (0.55 + 0.45 * dimple)
    gone = np.maximum(gone, _smear(dx, dy, hit, contact, rng))
    carried = contact.carry_frac * fresh[box] * gone * (0.4 + dimple) * rng.uniform(0.4, 1.3)
    ring = _ring(rho, dx, dy, contact, rng) * fresh[box]
    left[box] = np.maximum(before * (1.0 - gone), carried) + ring * np.exp(-0.35 * before)
    return left


def _window(plate: Plate, hit: Hit, reach: float) -> tuple[tuple[slice, slice], Image, Image]:
    """Part of the plate within ``reach`` radii of the hit, and its millimetres."""
    half = hit.diameter_mm / 2 * reach + 4.0
    a = plate.px(np.array([[hit.toe_mm - half, hit.high_mm + half]]))[0]
    b = plate.px(np.array([[hit.toe_mm + half, hit.high_mm - half]]))[0]
    x0, y0 = (max(int(v), 0) for v in a)
    x1, y1 = min(int(b[0]) + 1, plate.shape[1]), min(int(b[1]) + 1, plate.shape[0])
    box = (slice(y0, max(y1, y0)), slice(x0, max(x1, x0)))
    toe = plate.left_mm + np.arange(x0, max(x1, x0), dtype=np.float32) / plate.px_per_mm
    high = plate.top_mm - np.arange(y0, max(y1, y0), dtype=np.float32) / plate.px_per_mm
    return box, np.tile(toe, (len(high), 1)), np.tile(high[:, None], (1, len(toe)))


def _dimples(dx: Image, dy: Image, pitch_mm: float, rng: np.random.Generator) -> Image:
    """1 in the middle of a dimple, 0 between them: a hexagonal lattice, randomly turned and shifted."""
    turn = rng.uniform(0.0, math.pi)
    # The ball's sphere makes rows bend: stretch the lattice a little with the distance.
    bend = 1.0 + 0.15 * (dx**2 + dy**2) / 21.3**2
    u = (dx * math.cos(turn) + dy * math.sin(turn)) * bend + rng.uniform(0, pitch_mm)
    v = (-dx * math.sin(turn) + dy * math.cos(turn)) * bend + rng.uniform(0, pitch_mm)
    row = pitch_mm * math.sqrt(3.0) / 2
    best = np.full(dx.shape, 1e9, np.float32)
    base = np.round(v / row)
    for k in (-1.0, 0.0, 1.0):
        r = base + k
        shift = 0.5 * pitch_mm * np.mod(r, 2.0)
        near = np.round((u - shift) / pitch_mm) * pitch_mm + shift
        best = np.minimum(best, (u - near) ** 2 + (v - r * row) ** 2)
    radius = pitch_mm * rng.uniform(0.36, 0.46)
    return 1.0 - step(np.sqrt(best) / radius, 0.7, 1.1)


def _smear(dx: Image, dy: Image, hit: Hit, contact: Contact, rng: np.random.Generator) -> Image:
    """Fraction removed above the mark, where the ball slid up the face, in streaks."""
    if contact.smear_mm == 0.0:
        return np.zeros(dx.shape, np.float32)
    reach = contact.smear_mm * rng.uniform(0.5, 1.4)
    rho = np.hypot(dx, np.maximum(dy - reach, np.minimum(dy, 0.0))) / (hit.diameter_mm / 2)
    streak = stretched_noise((dx.shape[0], dx.shape[1]), (40.0, 2.5), rng)
    amount = 0.45 * contact.most_frac * np.clip(0.7 + 0.5 * streak, 0.0, 1.3)
    return np.asarray(np.where(dy > 0, amount * (1.0 - step(rho, 0.92, 1.0)), 0.0), np.float32)


def _ring(rho: Image, dx: Image, dy: Image, contact: Contact, rng: np.random.Generator) -> Image:
    """Powder piled up outside the rim, relative to fresh powder; strong on some sides, absent on others."""
    if contact.ring_frac == 0.0:
        return np.zeros(dx.shape, np.float32)
    angle = np.arctan2(dy, dx)
    side = 0.55 + 0.45 * np.cos(angle - rng.uniform(0, 2 * math.pi))
    side = side * (0.7 + 0.5 * np.cos(3 * angle + rng.uniform(0, 6.3)))
    width = rng.uniform(0.025, 0.06)
    hill = np.exp(-(((rho - 1.0 - width) / width) ** 2))
    rough = np.clip(1.0 + 0.6 * smooth_noise((dx.shape[0], dx.shape[1]), 3.0, rng), 0.0, 2.5)
    return np.asarray(contact.ring_frac * hill * np.clip(side, 0.0, None) * rough, np.float32)


def tee_streak(plate: Plate, head: Head, powder: Image, rng: np.random.Generator) -> Image:
    """Powder after a tee scraped up from the sole."""
    toe = rng.normal(0.0, 12.0)
    low = float(head.outline_mm[:, 1].min())
    top = low + rng.uniform(7.0, 18.0)
    path = np.array([[toe, low - 1.0], [toe + rng.normal(0.0, 1.5), top]])
    mask = stroke(plate, path, rng.uniform(2.0, 5.0))
    streak = stretched_noise(plate.shape, (60.0, 3.0), rng)
    return np.asarray(powder * (1.0 - mask * np.clip(0.55 + 0.35 * streak, 0.0, 0.95)), np.float32)


def scuffs(plate: Plate, head: Head, powder: Image, rng: np.random.Generator) -> Image:
    """Powder after grass, bag and fingers: thin lines, and now and then a smudge."""
    low, high = head.outline_mm.min(axis=0), head.outline_mm.max(axis=0)
    for _ in range(int(rng.integers(2, 12))):
        a = rng.uniform(low, high)
        b = a + rng.normal(0.0, 9.0, 2)
        powder = powder * (
            1.0 - rng.uniform(0.2, 0.8) * stroke(plate, np.array([a, b]), rng.uniform(0.15, 0.6))
        )
    if rng.random() < 0.5:
        at = rng.uniform(low, high)
        turn = np.linspace(0, 2 * math.pi, 32)
        smudge = fill(plate, at + np.column_stack([np.cos(turn), np.sin(turn)]) * rng.uniform(3.0, 6.0, 2))
        ridge = stretched_noise(plate.shape, (3.0, 25.0), rng)
        powder = powder * (1.0 - smudge * np.clip(0.25 + 0.15 * ridge, 0.0, 0.6))
    return np.asarray(powder, np.float32)


def shares(plate: Plate, hits: tuple[Hit, ...]) -> tuple[Array, Array]:
    """For each hit: part of its area on the face touched by no other, and part of its disc on the face."""
    discs = []
    for hit in hits:
        mask = np.zeros(plate.shape, np.uint8)
        cv2.fillPoly(mask, [np.round(plate.px(hit.outline_mm()) * 16).astype(np.int32)], 1, shift=4)
        discs.append((mask > 0) & (plate.inside > 0.5))
    depth = np.zeros(plate.shape, np.int32)
    for disc in discs:
        depth += disc
    alone = np.array([float((d & (depth == 1)).sum()) / max(float(d.sum()), 1.0) for d in discs])
    whole = np.array([_area_mm2(h.outline_mm()) * plate.px_per_mm**2 for h in hits])
    on_face = np.array([float(d.sum()) for d in discs]) / np.maximum(whole, 1.0)
    return alone, np.minimum(on_face, 1.0)


def _area_mm2(pts: Array) -> float:
    nxt = np.roll(pts, -1, axis=0)
    return abs(float((pts[:, 0] * nxt[:, 1] - nxt[:, 0] * pts[:, 1]).sum())) / 2
