"""White, speckled, rounded things with dark spots that are no club face: for the scenes without a club."""

from __future__ import annotations

import math

import torch
from torch import Tensor

from facemark.learn.face_bank import Bank, sample
from facemark.learn.face_light import smoothstep
from facemark.learn.face_shapes import SceneDice
from facemark.learn.face_view import View

DECOY_FRAC = 0.6  # of the scenes without a club
MOST_SPOTS = 8


def draw_decoy(dice: SceneDice, view: View, bank: Bank, picture: Tensor) -> Tensor:
    """The picture with one such thing about where a face would be: a plate, a stone, a shoe, a lamp."""
    n, height, width = view.ray_x.shape
    x, y = view.grid_px()
    middle, _ = view.project(torch.zeros(n, 1, 3, device=dice.device))
    turn = dice.uniform(-math.pi, math.pi)
    x, y = (x - middle[..., :1]).expand(n, height, width), (y - middle[..., 1:]).expand(n, height, width)
    u, v = x * turn.cos() + y * turn.sin(), y * turn.cos() - x * turn.sin()
    half_u = 0.5 * view.face_px * dice.uniform(0.6, 1.1)
    half_v = half_u / dice.uniform(1.0, 3.0)
    power = dice.log_uniform(1.6, 9)
    gauge = ((u / half_u).abs() ** power + (v / half_v).abs() ** power).clamp_min(1e-9) ** (1 / power)
    cover = torch.sigmoid((1 - gauge) * half_v * dice.log_uniform(0.4, 3)) * dice.chance(DECOY_FRAC)
    grain = view.face_px * dice.log_uniform(0.5, 3.0)
    noise = sample(bank.noise, dice.pick(*[1.0] * len(bank.noise)), u / grain, v / grain)
    specks = smoothstep(dice.uniform(-0.5, 2.5) + noise[:, 0] * dice.uniform(0, 1.2) + 0.4 * noise[:, 2])
    spots = torch.zeros_like(u)
    size = half_v * dice.uniform(0.15, 0.5)
    n_spots = dice.uniform(0, MOST_SPOTS).floor() * dice.chance(0.6)
    for k in range(MOST_SPOTS):
        away = torch.hypot(u - dice.normal(0, 0.35) * half_u, v - dice.normal(0, 0.3) * half_v)
        spots = torch.maximum(spots, smoothstep((size - away) / 2 + 0.5) * (n_spots > k))
    white = torch.where(dice.chance(0.75, 1, 1, 1) > 0, dice.uniform(0.4, 0.95, 1, 1, 1), dice.colour())
    shade = (1 + dice.uniform(-0.4, 0.4) * u / half_u + dice.uniform(-0.4, 0.4) * v / half_v).clamp(0.3, 1.5)
    dark = 1 - spots * dice.uniform(0.3, 0.95)
    colour = white * (shade * dark * (0.25 + 0.75 * specks)).unsqueeze(1)
    return torch.lerp(picture, colour, cover.unsqueeze(1))
