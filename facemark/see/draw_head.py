"""The club head of a drawn photo: outline, curvature, finish, score lines and decals, before any powder.

Broad ranges (faces 78-122 mm long; the Equipment Rules bound a head at 127 mm): breadth, not any one head, is
wanted. All of it assumed unless a line says otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from facemark.inputs import ClubKind, Hand
from facemark.see.camera import Array
from facemark.see.draw_noise import Image, layered_noise, specks, stretched_noise

N_OUTLINE = 360  # points of the outline given in the truth
PLATE_PAD_MM = 3.0

# Control polygons, x from heel -0.5 to toe +0.5, y from sole to crown; rounded by corner cutting.
_WOOD = (
    (-0.50, -0.04),
    (-0.46, 0.20),
    (-0.20, 0.42),
    (0.12, 0.50),
    (0.38, 0.42),
    (0.50, 0.14),
    (0.49, -0.20),
    (0.30, -0.46),
    (-0.05, -0.50),
    (-0.34, -0.40),
    (-0.49, -0.22),
)
_BOXY = (
    (-0.50, -0.05),
    (-0.48, 0.30),
    (-0.30, 0.47),
    (0.10, 0.50),
    (0.42, 0.45),
    (0.50, 0.22),
    (0.50, -0.25),
    (0.38, -0.46),
    (-0.05, -0.50),
    (-0.40, -0.45),
    (-0.50, -0.28),
)
_PEAR = (
    (-0.50, -0.12),
    (-0.42, 0.05),
    (-0.20, 0.28),
    (0.08, 0.47),
    (0.30, 0.50),
    (0.47, 0.34),
    (0.50, 0.02),
    (0.46, -0.30),
    (0.25, -0.48),
    (-0.05, -0.50),
    (-0.33, -0.42),
    (-0.48, -0.28),
)
_IRON = (
    (-0.50, -0.30),
    (-0.50, -0.06),
    (-0.45, 0.02),
    (-0.20, 0.14),
    (0.10, 0.31),
    (0.33, 0.49),
    (0.42, 0.50),
    (0.49, 0.40),
    (0.50, 0.10),
    (0.45, -0.25),
    (0.34, -0.46),
    (0.05, -0.50),
    (-0.30, -0.46),
    (-0.47, -0.42),
)

# kind: face length, face height, bulge radius, loft, lie (low, high)
_RANGES: dict[ClubKind, tuple[tuple[float, float], ...]] = {
    ClubKind.DRIVER: ((98.0, 122.0), (47.0, 62.0), (254.0, 406.0), (7.0, 14.0), (55.0, 61.0)),
    ClubKind.FAIRWAY: ((80.0, 100.0), (32.0, 45.0), (240.0, 360.0), (13.0, 20.0), (55.0, 60.0)),
    ClubKind.HYBRID: ((78.0, 92.0), (32.0, 42.0), (260.0, 700.0), (17.0, 26.0), (56.0, 61.0)),
    ClubKind.IRON: ((78.0, 92.0), (46.0, 58.0), (math.inf, math.inf), (20.0, 44.0), (59.0, 63.0)),
    ClubKind.WEDGE: ((78.0, 90.0), (48.0, 60.0), (math.inf, math.inf), (44.0, 58.0), (62.0, 63.5)),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Head:
    """One club head. ``outline_mm`` (N, 2): face frame, closed without repeating the first point."""

    kind: ClubKind
    hand: Hand
    outline_mm: Array
    bulge_mm: float
    roll_mm: float
    loft_deg: float
    lie_deg: float
    depth_mm: float  # how far the body reaches behind the face
    body_rgb: Array  # linear
    metal_rgb: Array  # bare face, linear
    gloss_frac: float  # share of mirror-like reflection of the bare face
    shine_ratio: float  # sharpness of that reflection (von Mises-Fisher concentration)
    sweet_mm: Array  # (2,)

    @property
    def length_mm(self) -> float:
        return float(np.ptp(self.outline_mm[:, 0]))

    @property
    def height_mm(self) -> float:
        return float(np.ptp(self.outline_mm[:, 1]))

    @property
    def is_iron(self) -> bool:
        return self.kind in (ClubKind.IRON, ClubKind.WEDGE)

    @property
    def up(self) -> Array:
        """The vertical of a soled club, in the face frame (toe, up, out): the face leans back by its loft."""
        loft = math.radians(self.loft_deg)
        return np.array([0.0, math.cos(loft), math.sin(loft)])

    @property
    def shaft(self) -> Array:
        """Unit vector up the shaft: leaves at the heel, at the lie angle from the ground."""
        lie = math.radians(self.lie_deg)
        return np.array([-math.cos(lie), 0.0, 0.0]) + math.sin(lie) * self.up


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plate:
    """The bare face as flat pictures. Pixel (0, 0) at (``left_mm``, ``top_mm``); rows toward the sole.

    ``inside``, ``groove`` in 0..1; ``paint`` (H, W, 3) colour of the bare face relative to the metal's;
    ``matt`` in 0..1: painted or worn places that do not mirror.
    """

    px_per_mm: float
    left_mm: float
    top_mm: float
    inside: Image
    groove: Image
    paint: Image
    matt: Image

    @property
    def shape(self) -> tuple[int, int]:
        return (int(self.inside.shape[0]), int(self.inside.shape[1]))

    def grid_mm(self) -> tuple[Image, Image]:
        """Toe and high [mm] of every pixel."""
        h, w = self.shape
        toe = self.left_mm + np.arange(w, dtype=np.float32) / self.px_per_mm
        high = self.top_mm - np.arange(h, dtype=np.float32) / self.px_per_mm
        return np.tile(toe, (h, 1)), np.tile(high[:, None], (1, w))

    def px(self, mm: Array) -> Array:
        """(N, 2) picture pixels of (N, 2) face mm."""
        mm = np.asarray(mm, float).reshape(-1, 2)
        return np.column_stack([mm[:, 0] - self.left_mm, self.top_mm - mm[:, 1]]) * self.px_per_mm


def make_head(kind: ClubKind, hand: Hand, rng: np.random.Generator) -> Head:
    """Draw one head of the kind."""
    length, height, bulge, loft, lie = (
        rng.uniform(*r) if math.isfinite(r[0]) else math.inf for r in _RANGES[kind]
    )
    iron = kind in (ClubKind.IRON, ClubKind.WEDGE)
    polygon = _IRON if iron else (_WOOD, _BOXY, _PEAR)[int(rng.choice(3, p=[0.5, 0.3, 0.2]))]
    outline = _outline(polygon, length, height, 0.012 if iron else 0.018, rng)
    base = rng.choice(5 if not iron else 3)
    if iron:  # bright, dull or dark steel
        metal, gloss, shine = [(0.20, 0.24, 90.0), (0.15, 0.20, 25.0), (0.06, 0.13, 30.0)][base]
    else:  # grey satin, dark satin, black gloss, brushed steel, black matt
        metal, gloss, shine = [
            (0.13, 0.18, 25.0),
            (0.08, 0.15, 30.0),
            (0.025, 0.12, 250.0),
            (0.15, 0.22, 60.0),
            (0.03, 0.06, 15.0),
        ][base]
    tint = 1.0 + rng.normal(0.0, 0.04, 3)
    hue = rng.uniform(0.02, 0.25, 3) if rng.random() < 0.35 else np.full(3, rng.uniform(0.01, 0.25))
    depth = {ClubKind.DRIVER: 100.0, ClubKind.FAIRWAY: 74.0, ClubKind.HYBRID: 52.0}.get(kind, 18.0)
    return Head(
        kind=kind,
        hand=hand,
        outline_mm=outline,
        bulge_mm=float(bulge),
        roll_mm=float(bulge * rng.uniform(0.92, 1.08)),
        loft_deg=float(loft),
        lie_deg=float(lie),
        depth_mm=float(depth * rng.uniform(0.88, 1.1)),
        body_rgb=np.full(3, 0.25) * tint if iron else hue,
        metal_rgb=metal * rng.uniform(0.8, 1.25) * tint,
        gloss_frac=float(gloss * rng.uniform(0.7, 1.3)),
        shine_ratio=float(shine * rng.uniform(0.7, 1.4)),
        sweet_mm=np.array([-length * 0.06, -height * 0.1]) + rng.normal(0.0, 1.5, 2)
        if iron
        else rng.normal([0.0, 1.0], [1.5, 1.5]),
    )


def _outline(
    polygon: tuple[tuple[float, float], ...],
    length_mm: float,
    height_mm: float,
    jitter: float,
    rng: np.random.Generator,
) -> Array:
    """Round the jittered polygon (Chaikin's corner cutting), scale it, centre its area centroid."""
    pts = np.array(polygon) + rng.normal(0.0, jitter, (len(polygon), 2))
    # Woods differ in how much higher the toe is than the heel; irons keep their slope.
    pts[:, 1] += rng.uniform(-0.12, 0.06) * pts[:, 0] * (pts[:, 1] > 0)
    for _ in range(6):
        nxt = np.roll(pts, -1, axis=0)
        pts = np.stack([0.75 * pts + 0.25 * nxt, 0.25 * pts + 0.75 * nxt], axis=1).reshape(-1, 2)
    pts = (pts - pts.min(axis=0)) / np.ptp(pts, axis=0) * [length_mm, height_mm]
    pts = _even(pts, N_OUTLINE)
    return pts - polygon_centroid(pts)


def _even(pts: Array, n: int) -> Array:
    """The closed curve at ``n`` points of equal arc distance."""
    closed = np.vstack([pts, pts[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.arange(n) * along[-1] / n
    return np.column_stack([np.interp(at, along, closed[:, 0]), np.interp(at, along, closed[:, 1])])


def polygon_centroid(pts: Array) -> Array:
    """(2,) area centroid of a closed polygon (shoelace formula)."""
    nxt = np.roll(pts, -1, axis=0)
    cross = pts[:, 0] * nxt[:, 1] - nxt[:, 0] * pts[:, 1]
    return np.asarray(((pts + nxt) * cross[:, None]).sum(axis=0) / (3.0 * cross.sum()))


def make_plate(head: Head, px_per_mm: float, rng: np.random.Generator) -> Plate:
    """Draw the bare face: brushing, score lines, decals, scratches."""
    low, high = head.outline_mm.min(axis=0) - PLATE_PAD_MM, head.outline_mm.max(axis=0) + PLATE_PAD_MM
    shape = (int((high[1] - low[1]) * px_per_mm) + 1, int((high[0] - low[0]) * px_per_mm) + 1)
    empty = np.zeros(shape, np.float32)
    plate = Plate(
        px_per_mm=px_per_mm,
        left_mm=float(low[0]),
        top_mm=float(high[1]),
        inside=empty,
        groove=empty,
        paint=np.zeros((*shape, 3), np.float32),
        matt=empty,
    )
    inside = fill(plate, head.outline_mm)
    groove = _grooves(head, plate, rng) * inside
    # Brushing runs along or across the lines; its depth is small on polished faces.
    wide = bool(rng.random() < 0.6)
    brush = stretched_noise(
        shape, (1.5, 60.0 * px_per_mm / 10) if wide else (60.0 * px_per_mm / 10, 1.5), rng
    )
    blot = layered_noise(shape, (12 * px_per_mm, 4 * px_per_mm), rng)
    tone = np.exp(rng.uniform(0.02, 0.14) * brush + rng.uniform(0.02, 0.10) * blot)
    paint = np.repeat(tone[..., None], 3, axis=2)
    matt = np.clip(0.25 + 0.1 * blot, 0.0, 1.0)
    paint, matt = _decals(head, plate, paint, matt, rng)
    for _ in range(rng.integers(0, 14)):  # scratches, bright or dark
        a = rng.uniform(low, high)
        b = a + rng.normal(0.0, 8.0, 2)
        mark = stroke(plate, np.array([a, b]), rng.uniform(0.06, 0.2))
        paint = paint * (1.0 + mark[..., None] * rng.uniform(-0.6, 1.2))
    paint = paint * (1.0 - 0.55 * groove[..., None])
    return Plate(
        px_per_mm=px_per_mm,
        left_mm=plate.left_mm,
        top_mm=plate.top_mm,
        inside=inside,
        groove=groove,
        paint=np.asarray(paint, np.float32),
        matt=np.asarray(matt, np.float32),
    )


def fill(plate: Plate, mm: Array) -> Image:
    """(H, W) coverage 0..1 of a polygon in face mm, unbiased (four times oversampled)."""
    h, w = plate.shape
    big = np.zeros((h * 4, w * 4), np.uint8)
    # Pixel i covers samples 4i .. 4i+3, so its centre is 4i + 1.5.
    px = plate.px(mm) * 4 + 1.5
    cv2.fillPoly(big, [np.round(px * 16).astype(np.int32)], 255, shift=4)
    # fillPoly also paints the boundary's own samples: a bias of an eighth of a pixel, 0.01 mm.
    small = cv2.resize(big, (w, h), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32) / 255.0


def stroke(plate: Plate, mm: Array, width_mm: float) -> Image:
    """(H, W) coverage 0..1 of a polyline of the given width."""
    mask = np.zeros(plate.shape, np.uint8)
    pts = np.round(plate.px(mm) * 16).astype(np.int32)
    width_px = width_mm * plate.px_per_mm
    cv2.polylines(mask, [pts], False, 255, max(1, round(width_px)), cv2.LINE_AA, 4)
    return np.asarray(mask, np.float32) / 255.0 * min(1.0, max(width_px, 0.15))


def _grooves(head: Head, plate: Plate, rng: np.random.Generator) -> Image:
    """Score lines: the whole face, both sides of a clear middle, or none (woods).

    Equipment Rules, Part 2: at most 0.889 mm wide, at least 1.905 mm apart.
    """
    style = "full" if head.is_iron else str(rng.choice(["sides", "full", "none"], p=[0.6, 0.25, 0.15]))
    total = np.zeros(plate.shape, np.float32)
    if style == "none":
        return total
    pitch = rng.uniform(3.2, 4.2) if head.is_iron else rng.uniform(4.0, 6.5)
    width = rng.uniform(0.55, 0.88)
    low, high = head.outline_mm.min(axis=0), head.outline_mm.max(axis=0)
    margin = rng.uniform(4.0, 8.0)
    for high_mm in np.arange(low[1] + margin, high[1] - margin, pitch):
        span = _inside_span(head.outline_mm, float(high_mm))
        if span is None:
            continue
        left, right = span[0] + margin * 1.2, span[1] - margin * 1.2
        if head.is_iron:
            right = min(right, span[1] - 0.16 * head.length_mm)
        gap = 0.0 if style == "full" else rng.uniform(19.0, 21.0)
        pieces = [(left, right)] if gap == 0 else [(left, -gap), (gap, right)]
        for a, b in pieces:
            if b - a > 4.0:
                total = np.maximum(total, stroke(plate, np.array([[a, high_mm], [b, high_mm]]), width))
    return total


def _inside_span(outline: Array, high_mm: float) -> tuple[float, float] | None:
    """Where the horizontal line at ``high_mm`` enters and leaves the outline."""
    nxt = np.roll(outline, -1, axis=0)
    cross = (outline[:, 1] - high_mm) * (nxt[:, 1] - high_mm) < 0
    if cross.sum() < 2:
        return None
    a, b = outline[cross], nxt[cross]
    toe = a[:, 0] + (high_mm - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return float(toe.min()), float(toe.max())


def _decals(
    head: Head, plate: Plate, paint: Image, matt: Image, rng: np.random.Generator
) -> tuple[Image, Image]:
    """Graphics on the face: a dot, a ring, bars, chevrons or corner patches, in any colour."""
    kind = str(rng.choice(["none", "dot", "ring", "bars", "chevron", "patches", "specks"]))
    colour = rng.uniform(0.3, 4.0) * (1.0 + rng.uniform(-0.6, 0.6, 3))
    mask = np.zeros(plate.shape, np.float32)
    half = head.length_mm / 2
    at = (
        np.array([0.0, 0.0])
        if rng.random() < 0.6
        else np.array([rng.uniform(-0.5, 0.5) * half, rng.uniform(-5, 5)])
    )
    turn = np.linspace(0.0, 2 * math.pi, 48)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    if kind == "dot":
        mask = fill(plate, at + circle * rng.uniform(1.0, 3.0))
    elif kind == "ring":
        mask = stroke(plate, at + circle * rng.uniform(3.0, 11.0), rng.uniform(0.4, 1.2))
    elif kind == "bars":
        for side in (-1.0, 1.0):
            bar = np.array([[side * 0.36 * half, 8.0], [side * 0.42 * half, -8.0]])
            mask = np.maximum(mask, stroke(plate, bar, rng.uniform(0.6, 2.0)))
    elif kind == "chevron":
        for k in range(int(rng.integers(1, 4))):
            tip = at + np.array([0.0, -6.0 + 4.0 * k])
            mask = np.maximum(mask, stroke(plate, tip + np.array([[-5, 4], [0, 0], [5, 4]]), 0.9))
    elif kind == "patches":
        for side in (-1.0, 1.0):
            corner = np.array([side * 0.75 * half, rng.uniform(-8.0, 8.0)])
            mask = np.maximum(mask, fill(plate, corner + circle * [rng.uniform(4, 12), rng.uniform(3, 7)]))
    elif kind == "specks":
        mask = specks(plate.shape, 60, (0.3 * plate.px_per_mm, 1.0 * plate.px_per_mm), rng)
    keep = mask[..., None]
    return paint * (1 - keep) + keep * colour.astype(np.float32), np.maximum(matt, 0.8 * mask)
