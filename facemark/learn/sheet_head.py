"""What a drawn head looks like before a ball meets it: outline, bare metal, graphics, score lines, powder."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

from facemark.learn.dice import Dice, column, smooth_step


@dataclass(slots=True)
class Outline:
    """Parameters of a batch of outlines; ``depth_mm`` tells how far inside a point lies."""

    params: dict[str, Tensor]

    def depth_mm(self, x_mm: Tensor, y_mm: Tensor) -> Tensor:
        """Distance to the edge (inside plus), nearly exact near the edge. x, y: (n, ...)."""
        p = {k: v.view(-1, *[1] * (x_mm.dim() - 1)) for k, v in self.params.items()}
        x, y = x_mm - p["cx"], y_mm - p["cy"]
        x, y = x * p["cos"] + y * p["sin"], y * p["cos"] - x * p["sin"]
        # Woods: a superellipse, deeper toward one end, with a few slow waves.
        turn = torch.atan2(y / p["b"], x / p["a"])
        lean = 1.0 + p["taper"] * x / p["a"]
        u, v = (
            x.abs() / p["a"],
            (y - p["bend"] * (x / p["a"]) ** 2 * p["b"]).abs() / (p["b"] * lean.clamp(0.5, 1.6)),
        )
        radius = (u ** p["power"] + v ** p["power"] + 1e-6) ** (1.0 / p["power"])
        wave = sum(p[f"wave{k}"] * torch.cos(k * turn + p[f"phase{k}"]) for k in (2, 3, 4, 5))
        reach = 1.0 / (torch.hypot(torch.cos(turn) / p["a"], torch.sin(turn) / p["b"]) + 1e-6)
        wood = (1.0 + wave - radius) * (0.5 * reach + 0.5 * p["b"])
        # Irons: flat sole, sloping top line, round toe; a smooth least of four half-planes.
        sole = y + p["b"]
        top = (p["b"] * p["top"] - y + p["slope"] * x) / torch.sqrt(1.0 + p["slope"] ** 2)
        toe = p["a"] - x - (y - 0.2 * p["b"]) ** 2 / (2.0 * p["round"])
        heel = x + p["a"] + 0.15 * y
        soft = p["soft"]
        stack = torch.stack([sole, top, toe, heel])
        iron = -soft * torch.logsumexp(-stack / soft, dim=0)
        return torch.where(p["iron"] > 0.5, iron, wood)


def draw_outline(dice: Dice) -> Outline:
    """Faces 66-122 mm long and 30-66 mm high, woods and irons."""
    iron = dice.chance(0.28)
    a = torch.where(iron > 0.5, dice.uniform(32.0, 46.0), dice.uniform(36.0, 61.0))
    b_wood = (a * dice.uniform(0.40, 0.62)).clamp(15.0, 34.0)
    b = torch.where(iron > 0.5, dice.uniform(17.0, 27.0), b_wood)
    turn = dice.normal() * math.radians(2.5)
    params = {
        "iron": iron,
        "a": a,
        "b": b,
        "cx": dice.uniform(-1.0, 1.0) * (62.0 - a).clamp(min=0.0),
        "cy": dice.uniform(-1.0, 1.0) * (35.0 - b).clamp(min=0.0) * torch.where(iron > 0.5, 0.3, 1.0),
        "cos": torch.cos(turn),
        "sin": torch.sin(turn),
        "taper": dice.uniform(-0.25, 0.25),
        "bend": dice.uniform(-0.12, 0.12),
        "power": dice.uniform(1.9, 3.2),
        "slope": dice.uniform(0.1, 0.5),
        "top": dice.uniform(0.5, 0.9),
        "round": dice.uniform(18.0, 90.0),
        "soft": dice.uniform(1.5, 6.0),
    }
    for k in (2, 3, 4, 5):
        params[f"wave{k}"] = dice.normal() * 0.035 / k
        params[f"phase{k}"] = dice.uniform(0.0, 2 * math.pi)
    return Outline(params)


def draw_metal(dice: Dice, x_mm: Tensor, y_mm: Tensor) -> tuple[Tensor, Tensor]:
    """Bare face: (diffuse reflectance, mirror share), each (n, H, W).

    Black paint to bright steel; brushed, milled or smooth; worn patches; bars, dots, rings and lettering.
    """
    base = torch.where(
        dice.fair | (dice.chance(0.5) > 0.5), dice.log_uniform(0.012, 0.18), dice.log_uniform(0.1, 0.65)
    )
    metal = column(base) * torch.ones_like(x_mm)
    angle = torch.where(dice.chance(0.6) > 0.5, dice.chance(0.5) * math.pi / 2, dice.uniform(0.0, math.pi))
    brushed = dice.streaks(x_mm, y_mm, angle, dice.log_uniform(3.0, 40.0), dice.log_uniform(0.15, 0.8))
    metal = metal * (1.0 + column(dice.uniform(0.0, 0.45) * dice.chance(0.6)) * brushed)
    # Milling: fine arcs or straight cuts.
    far = column(dice.uniform(30.0, 400.0))
    cut = torch.hypot(x_mm - far * column(torch.cos(angle)), y_mm - far * column(torch.sin(angle)))
    milled = torch.cos(2 * math.pi * cut / column(dice.uniform(0.7, 2.5)))
    metal = metal * (1.0 + column(dice.uniform(0.0, 0.5) * dice.chance(0.15)) * milled)
    worn = dice.noise(dice.noise_weights(2.0, 6.0))
    metal = metal * (1.0 + column(dice.uniform(0.0, 0.35)) * worn)
    metal = metal.clamp(0.004, 0.9)
    ink = column(dice.log_uniform(0.02, 0.9))
    drawn = _graphics(dice, x_mm, y_mm) * column(dice.chance(0.45))
    metal = metal * (1.0 - drawn) + ink * drawn
    mirror = column(torch.where(dice.fair, dice.log_uniform(0.01, 0.2), dice.log_uniform(0.02, 0.8))) * (
        1.0 + 0.3 * brushed * column(dice.uniform(0.0, 1.0))
    )
    return metal, mirror.clamp(0.0, 1.0)


def _graphics(dice: Dice, x_mm: Tensor, y_mm: Tensor) -> Tensor:
    """Printed or engraved shapes on the face, 0 to 1."""
    drawn = torch.zeros_like(x_mm)
    for _ in range(3):
        x = x_mm - column(dice.normal() * 22.0)
        y = y_mm - column(dice.normal() * 10.0)
        turn = column(dice.uniform(0.0, math.pi) * dice.chance(0.5))
        x, y = x * torch.cos(turn) + y * torch.sin(turn), y * torch.cos(turn) - x * torch.sin(turn)
        r = torch.hypot(x, y)
        size = column(dice.log_uniform(1.0, 13.0))
        line = column(dice.uniform(0.3, 1.5))
        disc = size - r
        ring = line - (r - size).abs()
        bar = torch.minimum(size - x.abs(), line - y.abs())
        # Lettering: a row of bars of uneven spacing within a strip.
        letters = torch.minimum(
            torch.minimum(2.0 * size - x.abs(), 1.5 * line + 0.5 - y.abs()),
            (torch.cos(x * 2.3 / line) + torch.cos(x * 1.31 / line + 1.0) * torch.sin(y * 1.9 / line)) * line,
        )
        kind = column(dice.uniform(0.0, 4.0))
        shape = torch.where(
            kind < 1, disc.clamp(max=0.6), torch.where(kind < 2, ring, torch.where(kind < 3, bar, letters))
        )
        shape = torch.where((kind < 1) & (size > 5.0), ring, shape)
        drawn = torch.maximum(drawn, smooth_step(shape / 0.35 + 0.5) * column(dice.chance(0.55)))
    return drawn


def draw_score_lines(dice: Dice, x_mm: Tensor, y_mm: Tensor) -> Tensor:
    """Score lines or punched dots, 0 to 1: full width, both sides only, middle only, or none."""
    turn = column(dice.normal() * math.radians(2.0) + dice.chance(0.04) * math.pi / 2)
    x, y = x_mm * torch.cos(turn) + y_mm * torch.sin(turn), y_mm * torch.cos(turn) - x_mm * torch.sin(turn)
    y = y - column(dice.normal() * 6e-4 * dice.chance(0.3)) * x**2
    pitch = column(dice.uniform(2.2, 7.0))
    width = column(dice.uniform(0.3, 1.2))
    phase = column(dice.uniform(0.0, 1.0))
    row = torch.round(y / pitch + phase)
    off = (y - (row - phase) * pitch).abs()
    lines = smooth_step((width / 2 - off) / 0.25 + 0.5)
    # Where a row starts and ends: a common reach plus a slow change from row to row.
    reach = column(dice.uniform(10.0, 50.0)) + column(dice.normal() * 1.5) * row
    gap = column(dice.uniform(6.0, 26.0)) + column(dice.normal() * 1.0) * row
    kind = column(dice.uniform(0.0, 1.0))
    middle = column(dice.normal() * 4.0)
    away = (x - middle).abs()
    full = (away < reach).float()
    sides = full * (away > gap).float()
    short = (away < gap).float()
    where = torch.where(kind < 0.45, full, torch.where(kind < 0.8, sides, short))
    height = column(dice.uniform(10.0, 30.0))
    lines = lines * where * (y.abs() < height).float()
    # Punched dots on a square grid.
    pitch_x = pitch * column(dice.uniform(0.8, 1.3))
    off_x = (x / pitch_x - torch.round(x / pitch_x)) * pitch_x
    dots = smooth_step((0.8 * width - torch.hypot(off_x, off)) / 0.25 + 0.5) * where
    pattern = torch.where(column(dice.chance(0.12)) > 0.5, dots, lines)
    return pattern * column(dice.chance(0.78))


def draw_powder(
    dice: Dice, depth_mm: Tensor, x_mm: Tensor, y_mm: Tensor, never: Tensor
) -> tuple[Tensor, Tensor]:
    """Virgin powder: optical thickness (n, H, W), and its mean (n,).

    Thin to thick, even to patchy, with holes, drops, runs and thin edges. ``never`` (n,): 1 for a face that
    was not sprayed.
    """
    mean = torch.where(
        dice.fair | (dice.chance(0.6) > 0.5), dice.log_uniform(1.3, 5.0), dice.log_uniform(0.3, 1.2)
    )
    mean = mean * (1.0 - 0.995 * never)
    slow = dice.noise(dice.noise_weights(3.0, 6.5))
    fast = dice.noise(dice.noise_weights(0.0, 3.0))
    thick = torch.exp(column(dice.uniform(0.0, 0.45)) * slow + column(dice.uniform(0.0, 0.5)) * fast)
    slope_x, slope_y = column(dice.normal() * 0.006), column(dice.normal() * 0.012)
    thick = thick * torch.exp((slope_x * x_mm + slope_y * y_mm).clamp(-1.5, 1.5))
    # A patch that the can hardly reached.
    patchy = dice.noise(dice.noise_weights(4.0, 6.5))
    bare = torch.sigmoid((patchy - column(dice.uniform(0.6, 2.2))) / column(dice.uniform(0.05, 0.6)))
    thick = thick * (1.0 - bare * column(dice.uniform(0.3, 1.0) * dice.chance(0.3)))
    # Holes and drops.
    speckle = dice.noise(dice.noise_weights(0.5, 3.0))
    level = column(dice.uniform(1.6, 3.2))
    holes = torch.sigmoid((speckle - level) / 0.15) * column(dice.uniform(0.2, 1.0) * dice.chance(0.4))
    drops = torch.sigmoid((-speckle - level) / 0.15) * column(dice.uniform(0.5, 3.0) * dice.chance(0.3))
    thick = thick * (1.0 - holes) + drops
    # Runs of wet spray: down, whichever way the club was held.
    down = torch.where(
        dice.chance(0.75) > 0.5, torch.full_like(mean, math.pi / 2), dice.uniform(0.0, math.pi)
    )
    runs = dice.streaks(x_mm, y_mm, down, dice.uniform(15.0, 60.0), dice.uniform(1.0, 4.0))
    thick = thick * torch.exp(column(dice.uniform(0.15, 0.8) * dice.chance(0.18)) * runs)
    edge = column(dice.uniform(0.2, 5.0) * dice.chance(0.65)) + 0.05
    ragged = depth_mm + 0.6 * edge * fast * column(dice.uniform(0.0, 1.0))
    thick = thick * smooth_step(ragged / edge) ** column(dice.uniform(0.3, 1.5))
    return column(mean) * thick, mean
