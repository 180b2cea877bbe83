"""A small painter of rectified powdered faces with exact truth, for the marks stage only.

It draws straight on the face map (no camera), so that what a test sees is the mark finder and nothing else.
Tuning of facemark/see/{powder,voting,discs,marks}.py used seeds from 10_000 on; tests report on seeds below
5_000.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.rectify import FaceMap

PX_PER_MM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnFace:
    """``truth_mm`` (N, 2) centres in order of hits; ``radius_mm`` (N,); ``free_frac`` (N,) of own area."""

    face_map: FaceMap
    truth_mm: NDArray[np.float64]
    radius_mm: NDArray[np.float64]
    free_frac: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Powder:
    """What stays the same between two photos of one sprayed face."""

    inside: NDArray[np.bool_]
    toe: NDArray[np.float64]
    up: NDArray[np.float64]
    thick: NDArray[np.float64]  # 1 is the usual coat
    groove: NDArray[np.bool_]
    bare: NDArray[np.float64]  # brightness of the head itself


def _smooth(rng: np.random.Generator, shape: tuple[int, int], size_mm: float) -> NDArray[np.float64]:
    """Noise of unit sd whose blotches are ``size_mm`` wide."""
    step = max(1, int(size_mm * PX_PER_MM / 3))
    small = rng.normal(size=(shape[0] // step + 4, shape[1] // step + 4)).astype(np.float32)
    small = cv2.GaussianBlur(small, (0, 0), 1.2)
    big = cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC).astype(float)
    return (big - big.mean()) / (big.std() + 1e-9)


def spray(rng: np.random.Generator, *, patchy: float = 0.1, iron: bool = False) -> Powder:
    """A face without marks."""
    half_w, half_h = (
        (rng.uniform(38, 44), rng.uniform(25, 32)) if iron else (rng.uniform(46, 60), rng.uniform(22, 31))
    )
    angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    power = rng.uniform(0.75, 0.95)
    x = half_w * np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** power
    y = half_h * np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** power
    if iron:
        y = np.where(y > 0, y * (0.55 + 0.45 * (x + half_w) / (2 * half_w)), y)
    else:
        y = y * (1 + 0.12 * x / half_w)
    outline = np.column_stack([x, y])
    low, high = outline.min(axis=0) - 2, outline.max(axis=0) + 2
    w, h = (np.ceil((high - low) * PX_PER_MM).astype(int) + 1).tolist()
    toe = np.tile(low[0] + np.arange(w) / PX_PER_MM, (h, 1))
    up = np.tile((high[1] - np.arange(h) / PX_PER_MM)[:, None], (1, w))
    inside = np.zeros((h, w), np.uint8)
    poly = np.column_stack([(x - low[0]) * PX_PER_MM, (high[1] - y) * PX_PER_MM])
    cv2.fillPoly(inside, [np.round(poly).astype(np.int32)], 1)
    thick = 1 + patchy * _smooth(rng, (h, w), 12) + 0.5 * patchy * _smooth(rng, (h, w), 2.5)
    thick += 0.06 * rng.normal(size=(h, w))
    groove = np.zeros((h, w), bool)
    pitch, reach = rng.uniform(3.5, 6), rng.uniform(12, 40)
    if rng.random() < 0.8:
        groove = (np.abs((up + 40) % pitch - pitch / 2) < 0.4) & (np.abs(toe) < reach)
        if not iron and rng.random() < 0.6:
            groove &= np.abs(toe) > 10
    bare = rng.uniform(25, 110) * (1 + 0.08 * _smooth(rng, (h, w), 4)) + 4 * rng.normal(size=(h, w))
    return Powder(
        inside=inside.astype(bool), toe=toe, up=up, thick=np.clip(thick, 0.05, None), groove=groove, bare=bare
    )


def strike(
    rng: np.random.Generator,
    powder: Powder,
    centre_mm: tuple[float, float],
    *,
    radius_mm: float,
    keep: float,
    dimples: float,
    overprint: bool,
) -> tuple[NDArray[np.bool_], Powder]:
    """The disc one ball touched, and the powder it leaves."""
    near = (np.abs(powder.toe[0] - centre_mm[0]) < 20, np.abs(powder.up[:, 0] - centre_mm[1]) < 20)
    box = np.s_[
        near[1].argmax() : near[1].nonzero()[0][-1] + 1, near[0].argmax() : near[0].nonzero()[0][-1] + 1
    ]
    thick = powder.thick[box]
    dx, dy = powder.toe[box] - centre_mm[0], powder.up[box] - centre_mm[1]
    lean, long = rng.uniform(0, np.pi), rng.uniform(1, 1.08)
    u = (dx * np.cos(lean) + dy * np.sin(lean)) / np.sqrt(long)
    v = (-dx * np.sin(lean) + dy * np.cos(lean)) * np.sqrt(long)
    angle, dist = np.arctan2(v, u), np.hypot(u, v)
    ragged = sum(
        rng.normal() * 0.02 / np.sqrt(k) * np.cos(k * angle + rng.uniform(0, 6.3)) for k in range(2, 14)
    )
    rim = radius_mm * (1 + ragged) + 0.25 * _smooth(rng, dist.shape, 1.2)
    touched = 1 / (1 + np.exp(-(rim - dist) / 0.25))
    left = keep * (1 + rng.uniform(0, 0.6) * (dist / radius_mm) ** 2)
    pitch, turn = rng.uniform(3.4, 4.2), rng.uniform(0, np.pi)
    a = (dx * np.cos(turn) + dy * np.sin(turn)) / pitch + rng.random()
    b = (-dx * np.sin(turn) + dy * np.cos(turn)) / pitch * 1.1547 + rng.random()
    a = a + 0.5 * (np.floor(b) % 2)
    spot = np.hypot(a % 1 - 0.5, (b % 1 - 0.5) * 0.866) < 0.28
    left = np.clip(left + dimples * spot, 0, 1)
    left = np.where(powder.groove[box], np.maximum(left, 0.8), left)
    after = thick * (1 - touched) + touched * (np.minimum(thick, left) if overprint else thick * left)
    if rng.random() < 0.5:  # powder pushed out to the rim
        arc = np.cos(angle - rng.uniform(0, 6.3)) > rng.uniform(-0.5, 0.6)
        after = after + 0.35 * np.exp(-(((dist - rim) / 0.5) ** 2)) * arc
    disc, whole = np.zeros(powder.thick.shape, bool), powder.thick.copy()
    disc[box], whole[box] = dist < radius_mm, after
    return disc, replace(powder, thick=whole)


def photograph(
    rng: np.random.Generator,
    powder: Powder,
    *,
    light: float = 0.15,
    shadow: bool = False,
    glare: bool = False,
) -> FaceMap:
    """The face map a camera would give of this powder."""
    h, w = powder.thick.shape
    opacity = rng.uniform(1.5, 3.0)
    cover = (1 - np.exp(-opacity * np.clip(powder.thick, 0, 1.6))) / (1 - np.exp(-opacity))
    grey = powder.bare + (rng.uniform(205, 235) - powder.bare) * np.clip(cover, 0, 1.08)
    way = rng.uniform(0, 2 * np.pi)
    t = (powder.toe * np.cos(way) + powder.up * np.sin(way)) / 45
    grey = grey * (1 + light * t + 0.5 * light * rng.uniform(-1, 1) * t**2)
    if shadow:
        side = powder.toe * np.cos(way + 1) + powder.up * np.sin(way + 1) - rng.uniform(-25, 25)
        grey = grey * (1 - rng.uniform(0.25, 0.5) / (1 + np.exp(-side / rng.uniform(0.3, 2))))
    if glare:
        side = powder.toe * np.cos(way + 2) + powder.up * np.sin(way + 2) - rng.uniform(-20, 20)
        grey = grey + 150 * np.exp(-((side / rng.uniform(2, 5)) ** 2)) * np.clip(1.3 - cover, 0, 1)
    grey = np.where(powder.inside, grey, rng.uniform(30, 120) + 15 * _smooth(rng, (h, w), 3))
    grey = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), rng.uniform(0.6, 1.6))
    rgb = (
        grey[..., None] * rng.uniform(0.95, 1.05, 3)
        + rng.normal(size=(h, w, 1)) * 2
        + rng.normal(size=(h, w, 3)) * 2
    )
    pixels = np.clip(rgb, 0, 255).astype(np.uint8)
    return FaceMap(
        pixels=pixels,
        inside=powder.inside,
        left_toe_mm=float(powder.toe[0, 0]),
        top_high_mm=float(powder.up[0, 0]),
        px_per_mm=PX_PER_MM,
    )


def draw_face(seed: int, *, tier: str = "normal", n_marks: int | None = None) -> DrawnFace:
    """One face: "easy" 2-5 separate marks, "normal" 6-10 over each other, "hard" the same in bad light."""
    rng = np.random.default_rng(seed)
    hard = tier == "hard"
    powder = spray(
        rng, patchy=rng.uniform(0.15, 0.3) if hard else rng.uniform(0.03, 0.12), iron=rng.random() < 0.2
    )
    n = n_marks if n_marks is not None else int(rng.integers(2, 6) if tier == "easy" else rng.integers(6, 11))
    common = rng.uniform(9, 13)
    radius = np.clip(common + rng.normal(0, 0.6, n), 8, 14)
    centres = _centres(rng, powder, n, separate=tier == "easy", radius=common)
    keep, dimples, overprint = rng.uniform(0.0, 0.35), rng.choice([0.0, 0.2, 0.6]), rng.random() < 0.5
    discs = []
    for i in range(n):
        disc, powder = strike(
            rng,
            powder,
            (float(centres[i, 0]), float(centres[i, 1])),
            radius_mm=float(radius[i]),
            keep=float(np.clip(keep * rng.uniform(0.6, 1.4), 0, 0.5)),
            dimples=float(dimples),
            overprint=bool(overprint),
        )
        discs.append(disc)
    face_map = photograph(
        rng,
        powder,
        light=rng.uniform(0.2, 0.4) if hard else rng.uniform(0, 0.2),
        shadow=hard and rng.random() < 0.5,
        glare=hard or (tier == "normal" and rng.random() < 0.15),
    )
    count = np.sum(discs, axis=0) if discs else np.zeros(powder.thick.shape)
    free = [float(((count == 1) & d).sum() / max(d.sum(), 1)) for d in discs]
    return DrawnFace(face_map=face_map, truth_mm=centres, radius_mm=radius, free_frac=np.array(free))


def _centres(
    rng: np.random.Generator, powder: Powder, n: int, *, separate: bool, radius: float
) -> NDArray[np.float64]:
    depth = cv2.distanceTransform(powder.inside.astype(np.uint8), cv2.DIST_L2, 5) / PX_PER_MM
    mean = rng.normal(0, [9, 4])
    sd = rng.uniform([6, 4], [13, 9])
    lean = rng.normal(0, 0.25)
    turn = np.array([[np.cos(lean), -np.sin(lean)], [np.sin(lean), np.cos(lean)]])
    out: list[NDArray[np.float64]] = []
    for attempt in range(4000):
        p = rng.uniform([-48, -24], [48, 24]) if separate else mean + turn @ (rng.normal(size=2) * sd)
        col = round((p[0] - powder.toe[0, 0]) * PX_PER_MM)
        row = round((powder.up[0, 0] - p[1]) * PX_PER_MM)
        if not (0 <= row < depth.shape[0] and 0 <= col < depth.shape[1]) or depth[row, col] < (
            7 if separate else 4
        ):
            continue
        gap = (1.85 if attempt < 2000 else 1.5) * radius
        if separate and any(np.linalg.norm(p - q) < gap for q in out):
            continue
        out.append(p)
        if len(out) == n:
            break
    return np.array(out).reshape(-1, 2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnSeries:
    """``maps`` of one face after every few hits; ``truth_mm`` (N, 2) in the last map's frame; ``photo_index``
    (N,) of the photo that shows it first; ``on_powder_frac`` (N,) of its area that still had powder. Marks
    from before the last new coat are left out."""

    maps: tuple[FaceMap, ...]
    truth_mm: NDArray[np.float64]
    photo_index: NDArray[np.int_]
    on_powder_frac: NDArray[np.float64]


def draw_faces_in_series(
    seed: int,
    *,
    n_each: tuple[int, ...],
    resprayed: tuple[int, ...] = (),
    frame_err_mm: float = 0.6,
) -> DrawnSeries:
    """One face photographed after every few hits, each time in other light and with another outline error."""
    rng = np.random.default_rng(seed)
    fresh = powder = spray(rng, patchy=rng.uniform(0.04, 0.1))
    common, keep = rng.uniform(9, 13), rng.uniform(0, 0.25)
    centres = _centres(rng, powder, sum(n_each), separate=False, radius=common)
    maps, index, on_powder, first = [], [], [], 0
    shift = np.zeros(2)
    for k, n in enumerate(n_each):
        if k in resprayed:
            coat = np.clip(rng.normal(1, 0.08, fresh.thick.shape), 0.5, None)
            powder, first = replace(fresh, thick=coat), len(index)
        for i in range(len(index), len(index) + n):
            at = (float(centres[i, 0]), float(centres[i, 1]))
            radius = float(np.clip(common + rng.normal(0, 0.5), 8, 14))
            before = powder.thick
            disc, powder = strike(rng, powder, at, radius_mm=radius, keep=keep, dimples=0.2, overprint=True)
            on_powder.append(float((before[disc] > 0.6).mean()))
        index += [k] * n
        shift = rng.normal(0, frame_err_mm, 2)
        face = photograph(rng, powder, light=rng.uniform(0, 0.2))
        maps.append(
            replace(face, left_toe_mm=face.left_toe_mm + shift[0], top_high_mm=face.top_high_mm + shift[1])
        )
    return DrawnSeries(
        maps=tuple(maps),
        truth_mm=centres[first:] + shift,
        photo_index=np.array(index, int)[first:],
        on_powder_frac=np.array(on_powder)[first:],
    )
