"""Scale objects of a drawn photo: sheets of tags, an ID-1 card, a ball; where they lie and how they look.

A flat object has its own plane with u to the picture's right and v down, so that nothing printed is mirrored.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import cv2
import numpy as np

from facemark import sheet
from facemark.inputs import Hand, ReferenceKind
from facemark.see.camera import Array
from facemark.see.draw_head import Head
from facemark.see.draw_noise import Image, layered_noise, smooth_noise
from facemark.see.draw_view import Box, View, plane_hit

CARD_MM = (85.60, 53.98)  # ISO/IEC 7810, ID-1
SHEET_PX_PER_MM = 12.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tag:
    """One tag: its number, and its corners in the sheet's plane (4, 2), clockwise from the top left."""

    number: int
    corners_mm: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flat:
    """A flat object. ``origin_mm``, axes: face frame; ``rects_mm``: left, top, right, bottom (u, v)."""

    kind: ReferenceKind
    origin_mm: Array
    u_axis: Array
    v_axis: Array
    rects_mm: tuple[tuple[float, float, float, float], ...]
    tags: tuple[Tag, ...] = ()
    side_mm: float = 0.0
    layout: str = ""
    dictionary: str = "DICT_4X4_50"
    n_cells: int = 6  # bits and border along a tag's side
    spacer_mm: float = 0.0  # what the user says of the plane's height over the face
    colour: Array = field(default_factory=lambda: np.full(3, 0.8))
    corner_mm: float = 0.0
    held: bool = False

    @property
    def normal(self) -> Array:
        n = np.cross(self.u_axis, self.v_axis)
        return n if n[2] > 0 else -n

    def place(self, uv: Array) -> Array:
        """(N, 3) face-frame points of (N, 2) plane coordinates."""
        uv = np.asarray(uv, float).reshape(-1, 2)
        return self.origin_mm + uv[:, :1] * self.u_axis + uv[:, 1:] * self.v_axis

    def bounds(self) -> Array:
        """(4, 2) corners of the box around all rectangles, clockwise."""
        r = np.array(self.rects_mm)
        a, b, c, d = r[:, 0].min(), r[:, 1].min(), r[:, 2].max(), r[:, 3].max()
        return np.array([[a, b], [c, b], [c, d], [a, d]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ball:
    """A ball; ``centre_mm`` in the face frame."""

    centre_mm: Array
    diameter_mm: float
    colour: Array
    held: bool


ScaleObject = Flat | Ball


def draw_scale_object(
    kind: ReferenceKind,
    head: Head,
    scene: str,
    floor: tuple[Array, Array],
    rng: np.random.Generator,
    *,
    side_mm: float | None = None,
    spacer_mm: float | None = None,
) -> ScaleObject:
    """Choose and place a scale object beside the head. ``floor``: a point of the ground and its normal."""
    if kind is ReferenceKind.BALL:
        return _ball(head, scene, floor, rng)
    if kind is ReferenceKind.SHEET:
        return _own_sheet(head, rng, spacer_mm)
    if kind is ReferenceKind.CARD:
        return _card(head, scene, floor, rng)
    return _sheet(head, scene, floor, rng, side_mm)


def draw_tag_side_mm(rng: np.random.Generator) -> float:
    """Side of a home-printed tag, as its owner would measure it."""
    return round(float(rng.uniform(15.0, 30.0)), 1)


def draw_spacer_mm(rng: np.random.Generator) -> float:
    """How far our sheet stands before the face."""
    return float(rng.choice([0.0, 3.0, 6.0, 10.0]))


def _site(head: Head, scene: str, size: Array, floor: tuple[Array, Array], rng: np.random.Generator) -> Array:
    """(2,) where the middle of a box of ``size`` (wide, high) mm goes: toe and high."""
    gap = rng.uniform(4.0, 22.0)
    toe = head.length_mm / 2 + gap + size[0] / 2
    if scene == "soled":
        point, up = floor
        # Stands on the ground at the toe: height where the ground meets the face's plane.
        ground = (point @ up - up[0] * toe) / up[1]
        return np.array([toe, ground + size[1] / 2 + rng.uniform(0.3, 14.0)])
    where = str(rng.choice(["toe", "below", "above"], p=[0.4, 0.4, 0.2]))
    if where == "toe":
        return np.array([toe, rng.uniform(-14.0, 14.0)])
    away = head.height_mm / 2 + gap + size[1] / 2 + (4.0 if head.is_iron else 2.0)
    if where == "below":
        return np.array([rng.uniform(-12.0, 12.0), -away])
    return np.array([rng.uniform(10.0, 35.0), away])


def _axes(head: Head, rng: np.random.Generator, *, turn_deg: float, lean_deg: float) -> tuple[Array, Array]:
    """u and v of a sheet held nearly in the face's plane."""
    right = -1.0 if head.hand is Hand.RIGHT else 1.0
    turn, lean = math.radians(rng.normal(0.0, turn_deg)), rng.normal(0.0, math.radians(lean_deg), 2)
    u = np.array([right * math.cos(turn), math.sin(turn), lean[0]])
    u /= np.linalg.norm(u)
    v = np.array([right * math.sin(turn), -math.cos(turn), lean[1]])
    v -= (v @ u) * u
    return u, v / np.linalg.norm(v)


def _card(head: Head, scene: str, floor: tuple[Array, Array], rng: np.random.Generator) -> Flat:
    wide, high = CARD_MM if rng.random() < 0.6 else CARD_MM[::-1]
    at = _site(head, scene, np.array([wide, high]), floor, rng)
    u, v = _axes(head, rng, turn_deg=3.0, lean_deg=1.2)
    grey = rng.random() < 0.35
    colour = np.full(3, rng.uniform(0.03, 0.85)) if grey else rng.uniform(0.02, 0.85, 3)
    return Flat(
        kind=ReferenceKind.CARD,
        origin_mm=np.array([at[0], at[1], rng.uniform(-2.5, 2.5)]),
        u_axis=u,
        v_axis=v,
        rects_mm=((-wide / 2, -high / 2, wide / 2, high / 2),),
        colour=colour,
        corner_mm=float(rng.uniform(2.88, 3.48)),
        held=scene == "held" or rng.random() < 0.4,
    )


def _sheet(
    head: Head, scene: str, floor: tuple[Array, Array], rng: np.random.Generator, side_mm: float | None
) -> Flat:
    side = side_mm if side_mm is not None else draw_tag_side_mm(rng)
    gap, margin = rng.uniform(0.25, 0.8) * side, rng.uniform(0.25, 0.6) * side
    layout = str(
        rng.choice(["column", "row", "block", "corner"] if scene != "soled" else ["column", "row", "block"])
    )
    n = int(rng.integers(2, 6))
    pitch = side + gap
    if layout == "column":
        cells = [(0, k) for k in range(min(n, 4))]
    elif layout == "row":
        cells = [(k, 0) for k in range(min(n, 3 if scene != "soled" else 2))]
    elif layout == "block":
        cells = [(i, j) for i in range(2) for j in range(2)]
    else:
        cells = [(0, 0), (0, 1), (1, 1), (2, 1), (3, 1), (4, 1)]
    centres = np.array(cells, float) * pitch
    box_low, box_high = centres.min(axis=0) - side / 2 - margin, centres.max(axis=0) + side / 2 + margin
    size = box_high - box_low
    u, v = _axes(head, rng, turn_deg=2.5, lean_deg=1.0)
    toe_right = head.hand is Hand.LEFT
    if layout == "corner":
        # The L goes around the toe's lower corner: upright at the toe side, foot below the face.
        if toe_right:
            centres[:, 0] *= -1.0
        lift = head.height_mm / 2 + margin + side / 2 + rng.uniform(3.0, 12.0)
        reach = head.length_mm / 2 + margin + side / 2 + rng.uniform(3.0, 10.0)
        at = np.array([reach, -lift])
        corner_cell = np.array([0.0, pitch])
        offset = -corner_cell
        centres = centres + offset
        foot = (
            centres[:, 0].min() - side / 2 - margin,
            -side / 2 - margin,
            centres[:, 0].max() + side / 2 + margin,
            side / 2 + margin,
        )
        post = (-side / 2 - margin, -pitch - side / 2 - margin, side / 2 + margin, side / 2 + margin)
        rects: tuple[tuple[float, float, float, float], ...] = (foot, post)
    else:
        at = _site(head, scene, size, floor, rng)
        centres = centres - (box_low + box_high) / 2
        rects = ((-size[0] / 2, -size[1] / 2, size[0] / 2, size[1] / 2),)
    numbers = rng.choice(50, len(centres), replace=False)
    square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * side / 2
    tags = tuple(Tag(number=int(k), corners_mm=c + square) for k, c in zip(numbers, centres, strict=True))
    return Flat(
        kind=ReferenceKind.TAGS,
        origin_mm=np.array([at[0], at[1], rng.uniform(-2.0, 2.0)]),
        u_axis=u,
        v_axis=v,
        rects_mm=tuple((float(a), float(b), float(c), float(d)) for a, b, c, d in rects),
        tags=tags,
        side_mm=side,
        layout=layout,
        colour=np.array([0.82, 0.82, 0.80]) * rng.uniform(0.85, 1.05) * (1 + rng.normal(0, 0.02, 3)),
        held=scene == "held" or rng.random() < 0.25,
    )


def _own_sheet(head: Head, rng: np.random.Generator, spacer_mm: float | None) -> Flat:
    """Our printed sheet, cut to an L that leaves the heel free, flat on the face or on a spacer before it."""
    u, v = _axes(head, rng, turn_deg=2.0, lean_deg=0.6)
    # Paper: x right, y up; the plane here: v down.
    toe_bar, free_tags = (0, (7, 8)) if head.hand is Hand.RIGHT else (2, (5, 6))
    bars = [sheet.bars_mm()[k] * [1.0, -1.0] for k in (toe_bar, 1)]
    tags = tuple(
        Tag(number=k, corners_mm=sheet.tag_corners_mm(k) * [1.0, -1.0])
        for k in sheet.TAG_CENTRES_MM
        if k not in free_tags
    )
    spacer = spacer_mm if spacer_mm is not None else draw_spacer_mm(rng)
    middle = np.append(rng.normal(0.0, 3.0, 2), spacer + rng.normal(0.0, 0.5))
    return Flat(
        kind=ReferenceKind.SHEET,
        origin_mm=middle,
        u_axis=u,
        v_axis=v,
        rects_mm=tuple((float(b[0, 0]), float(b[0, 1]), float(b[2, 0]), float(b[2, 1])) for b in bars),
        tags=tags,
        side_mm=sheet.TAG_MM,
        layout="own",
        dictionary=sheet.DICTIONARY,
        n_cells=sheet.N_CELLS,
        spacer_mm=spacer,
        colour=np.array([0.82, 0.82, 0.80]) * rng.uniform(0.85, 1.05),
    )


def _ball(head: Head, scene: str, floor: tuple[Array, Array], rng: np.random.Generator) -> Ball:
    diameter = 42.67 + rng.uniform(0.0, 0.10)
    r = diameter / 2
    if scene == "soled":
        point, up = floor
        toe = head.length_mm / 2 + rng.uniform(8.0, 35.0) + r
        behind = rng.uniform(-9.0, 9.0)
        # On the ground: (c - point) . up = r, at the chosen depth.
        high = (point @ up + r - up[0] * toe - up[2] * behind) / up[1]
        centre = np.array([toe, high, behind])
    else:
        at = _site(head, scene, np.array([diameter, diameter]), floor, rng)
        centre = np.array([at[0], at[1], rng.uniform(-9.0, 9.0)])
    colour = (
        np.array([0.85, 0.85, 0.83]) if rng.random() < 0.8 else np.array([0.8, rng.uniform(0.3, 0.8), 0.08])
    )
    return Ball(centre_mm=centre, diameter_mm=float(diameter), colour=colour, held=scene != "soled")


def flat_pixels(view: View, flat: Flat, rng: np.random.Generator) -> tuple[Box, Image, Image]:
    """Box, (h, w) coverage and (h, w, 3) own colour of a flat object."""
    bounds = flat.bounds()
    pad = 2.0
    low = bounds.min(axis=0) - pad
    size = np.ceil((bounds.max(axis=0) + pad - low) * SHEET_PX_PER_MM).astype(int) + 1
    shape = (int(size[1]), int(size[0]))
    cover = np.zeros((shape[0] * 2, shape[1] * 2), np.uint8)
    for rect in flat.rects_mm:
        edge = (_rounded(rect, flat.corner_mm) - low) * SHEET_PX_PER_MM * 2 + 0.5
        cv2.fillPoly(cover, [np.round(edge * 16).astype(np.int32)], 255, shift=4)
    alpha = cv2.resize(cover, shape[::-1], interpolation=cv2.INTER_AREA).astype(np.float32) / 255.0
    colour = (
        _card_print(shape, flat, rng)
        if flat.kind is ReferenceKind.CARD
        else _tag_print(shape, flat, low, rng)
    )
    box = view.box(flat.place(bounds))

    def plane(px: Array) -> Array:
        local = plane_hit(view, px, flat.origin_mm, flat.normal) - flat.origin_mm
        return np.column_stack([local @ flat.u_axis, local @ flat.v_axis])

    at = (view.on_grid(box, plane) - low.astype(np.float32)) * SHEET_PX_PER_MM
    shrink = float(np.linalg.norm(view.eye_mm)) / view.focal_px * SHEET_PX_PER_MM
    if shrink > 1.2:
        colour = cv2.GaussianBlur(colour, (0, 0), 0.4 * shrink)
        alpha = cv2.GaussianBlur(alpha, (0, 0), 0.4 * shrink)
    seen = cv2.remap(colour, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    edge_a = cv2.remap(
        np.asarray(alpha, np.float32), at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
    )
    return box, np.asarray(edge_a, np.float32), np.asarray(seen, np.float32)


def _rounded(rect: tuple[float, float, float, float], corner: float) -> Array:
    """Outline of a rectangle with round corners."""
    a, b, c, d = rect
    if corner == 0:
        return np.array([[a, b], [c, b], [c, d], [a, d]])
    turn = np.linspace(0, math.pi / 2, 10)
    arc = np.column_stack([np.cos(turn), np.sin(turn)]) * corner
    return np.vstack(
        [
            arc + np.array([c - corner, d - corner]),
            arc[::-1] * [-1, 1] + [a + corner, d - corner],
            [a + corner, b + corner] - arc,
            arc[::-1] * [1, -1] + [c - corner, b + corner],
        ]
    )


def _tag_print(shape: tuple[int, int], flat: Flat, low: Array, rng: np.random.Generator) -> Image:
    paper = np.ones(shape, np.float32) * (1.0 + 0.012 * layered_noise(shape, (60, 8), rng))
    ink = float(rng.uniform(0.03, 0.10))
    words = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, flat.dictionary))
    cells = flat.n_cells
    for tag in flat.tags:
        bits = cv2.aruco.generateImageMarker(words, tag.number, cells)
        a = (tag.corners_mm[0] - low) * SHEET_PX_PER_MM
        cell = flat.side_mm * SHEET_PX_PER_MM / cells
        # Cells as areas: sample s lies in cell floor((s - a) / cell); edges averaged over four sub-samples.
        black = np.zeros(shape, np.float32)
        n = 4
        for oy in range(n):
            for ox in range(n):
                j = np.floor((np.arange(shape[1]) + (ox + 0.5) / n - 0.5 - a[0]) / cell).astype(int)
                i = np.floor((np.arange(shape[0]) + (oy + 0.5) / n - 0.5 - a[1]) / cell).astype(int)
                js, is_ = np.flatnonzero((j >= 0) & (j < cells)), np.flatnonzero((i >= 0) & (i < cells))
                block = bits[np.ix_(i[is_], j[js])] == 0
                black[np.ix_(is_, js)] += block / n**2
        paper = paper * (1 - black) + ink * black
    if (
        flat.kind is ReferenceKind.TAGS and rng.random() < 0.5
    ):  # a ruler along one edge, and a line of small print
        step = SHEET_PX_PER_MM
        for k in range(int(shape[1] / step)):
            tall = int((3.0 if k % 10 == 0 else 1.5) * step)
            x = int(k * step)
            paper[-tall - int(2 * step) : -int(2 * step), x : x + 2] *= 0.35
    return np.asarray(paper[..., None] * flat.colour.astype(np.float32), np.float32)


def _card_print(shape: tuple[int, int], flat: Flat, rng: np.random.Generator) -> Image:
    """Plain, shaded, banded or patterned plastic."""
    x = np.linspace(-1, 1, shape[1], dtype=np.float32)[None]
    y = np.linspace(-1, 1, shape[0], dtype=np.float32)[:, None]
    image = np.ones((*shape, 1), np.float32) * flat.colour.astype(np.float32)
    style = str(rng.choice(["plain", "shade", "waves", "stripe", "bars"], p=[0.55, 0.25, 0.06, 0.07, 0.07]))
    if style == "shade":
        image *= np.exp(rng.normal(0, 0.3) * x + rng.normal(0, 0.3) * y)[..., None]
    elif style == "waves":
        phase = rng.uniform(2, 8) * x + rng.uniform(2, 8) * y + smooth_noise(shape, shape[1] / 3, rng)
        image *= (1.0 + 0.12 * np.sin(4 * phase))[..., None]
    elif style == "stripe":
        rows = slice(int(0.12 * shape[0]), int(0.35 * shape[0]))
        image[rows] = 0.02
    elif style == "bars":
        for _ in range(int(rng.integers(2, 6))):
            y0, x0 = int(rng.uniform(0.15, 0.8) * shape[0]), int(rng.uniform(0.1, 0.5) * shape[1])
            image[y0 : y0 + int(0.06 * shape[0]), x0 : x0 + int(rng.uniform(0.1, 0.45) * shape[1])] *= (
                rng.uniform(0.2, 1.8)
            )
    return np.asarray(
        np.clip(image * np.exp(0.01 * smooth_noise(shape, 2.0, rng))[..., None], 0.01, 0.95), np.float32
    )
