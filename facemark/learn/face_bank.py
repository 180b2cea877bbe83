"""The pictures that drawn scenes are papered with: grounds, cloths, scenery, and grass standing in front.

All are made from filtered noise and sparse strokes; none is a photograph. A bank is made once per training
run (seeded) and every scene samples it at its own place, scale, colour and perspective.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

from facemark.learn.face_shapes import SceneDice


@dataclass(frozen=True, slots=True, kw_only=True)
class Bank:
    """Textures in linear light, tileable.

    ``ground``, ``far`` (K, 3, S, S): seen below and above a horizon; ``blades`` (K, 4, S / 2, S): colour and
    cover of grass growing up from the lower edge; ``noise`` (K, 3, S, S): rough, middle and smooth noise with
    mean 0 and sd 1.
    """

    ground: Tensor
    far: Tensor
    blades: Tensor
    noise: Tensor


def make_bank(generator: torch.Generator, *, n_textures: int, size_px: int) -> Bank:
    """Make a bank with ``n_textures`` grounds and a quarter as many of each other kind."""
    few = max(2, n_textures // 4)
    kinds = (_grass, _grass, _mat, _cloth, _concrete, _wood, _clutter, _cloth)
    each = max(1, n_textures // len(kinds))
    ground = torch.cat([make(SceneDice(each, generator), size_px) for make in kinds])
    far = torch.cat(
        [_scenery(SceneDice(few, generator), size_px), _clutter(SceneDice(few, generator), size_px)]
    )
    noise = torch.stack([fractal(SceneDice(few, generator), size_px, beta) for beta in (0.4, 1.4, 2.6)], 1)
    return Bank(
        ground=ground.clamp(0, 1.2).half(),
        far=far.clamp(0, 2).half(),
        blades=_blades(SceneDice(few, generator), size_px).half(),
        noise=noise.clamp(-4, 4).half(),
    )


def fractal(dice: SceneDice, size_px: int, beta: float, *, stretch: float = 1.0) -> Tensor:
    """(n, S, S) noise with power falling as frequency ** -beta, mean 0, sd 1; ``stretch`` > 1: long rows."""
    white = torch.randn(dice.n, size_px, size_px, generator=dice.generator, device=dice.device)
    rows = torch.fft.fftfreq(size_px, device=dice.device).view(-1, 1)
    columns = torch.fft.rfftfreq(size_px, device=dice.device).view(1, -1) * stretch
    frequency = torch.hypot(rows, columns).clamp_min(1 / size_px)
    shaped = torch.fft.irfft2(torch.fft.rfft2(white) * frequency**-beta, s=(size_px, size_px))
    shaped = shaped - shaped.mean((1, 2), keepdim=True)
    return shaped / shaped.std((1, 2), keepdim=True)


def _strokes(
    dice: SceneDice, size_px: int, length: Tensor, width: Tensor, angle: Tensor
) -> tuple[Tensor, Tensor]:
    """Cover and brightness (n, S, S) of one layer of strokes: sparse dots smeared along ``angle``."""
    half = size_px // 2
    axis = torch.arange(size_px, device=dice.device) - half
    x, y = axis.view(1, 1, -1), axis.view(1, -1, 1)
    along, across = x * angle.cos() + y * angle.sin(), y * angle.cos() - x * angle.sin()
    taper = width * (1 - (along / length).clamp(-1, 1) ** 2).clamp_min(0)
    kernel = torch.sigmoid((taper - across.abs()) * 3) * (along.abs() < length)
    area = (2 * length * width).clamp_min(1)
    dots = (dice.uniform(0, 1, size_px, size_px) < 0.35 / area).float()
    bright = dots * dice.uniform(0.15, 1, size_px, size_px)
    smear = torch.fft.rfft2(torch.fft.ifftshift(kernel, dim=(1, 2)))
    cover = torch.fft.irfft2(torch.fft.rfft2(dots) * smear, s=(size_px, size_px)).clamp_min(0)
    value = torch.fft.irfft2(torch.fft.rfft2(bright) * smear, s=(size_px, size_px)) / (cover + 1e-3)
    return cover.clamp(0, 1), value.clamp(0, 1)


def _layered(
    dice: SceneDice, size_px: int, ground: Tensor, leaf: Tensor, lengths: tuple[float, float]
) -> Tensor:
    """(n, 3, S, S) many layers of strokes over a dark ground, brighter toward the top."""
    picture = (ground * (1 + 0.3 * fractal(dice, size_px, 1.5).unsqueeze(1))).clamp_min(0.002)
    spread = dice.uniform(0.15, 1.2)
    main = dice.uniform(0, math.pi)
    size = dice.log_uniform(*lengths) * size_px / 512
    n_layers = 12
    for layer in range(n_layers):
        angle = main + spread * dice.normal(0, 1)
        width = (size * dice.log_uniform(0.03, 0.1)).clamp_min(0.8)
        cover, value = _strokes(dice, size_px, size * dice.uniform(0.5, 1.2), width, angle)
        hue = leaf * (1 + dice.normal(0, 0.22, 3, 1, 1))
        shade = 0.3 + 0.9 * layer / n_layers
        colour = hue.clamp_min(0) * shade * (0.35 + value.unsqueeze(1))
        picture = torch.lerp(picture, colour, cover.unsqueeze(1))
    return picture


def _grass(dice: SceneDice, size_px: int) -> Tensor:
    tint = torch.stack(
        [dice.uniform(0.05, 0.35), dice.uniform(0.2, 0.5), dice.uniform(0.01, 0.12)], 1
    ) * dice.log_uniform(0.4, 1.6, 1, 1, 1)
    return _layered(dice, size_px, 0.2 * tint, tint, (14, 70))


def _mat(dice: SceneDice, size_px: int) -> Tensor:
    """Artificial turf: short dense fibres, mostly green."""
    green = torch.tensor([0.06, 0.3, 0.12], device=dice.device).view(1, 3, 1, 1)
    any_colour = dice.colour() * 0.5
    tint = torch.where(dice.chance(0.65, 1, 1, 1) > 0, green * dice.uniform(0.2, 1.3, 3, 1, 1), any_colour)
    return _layered(dice, size_px, 0.35 * tint, tint + 0.005, (3, 12))


def _concrete(dice: SceneDice, size_px: int) -> Tensor:
    """Concrete, asphalt, sand, gravel: grain on blotches."""
    grain = fractal(dice, size_px, 0.5)
    grain = torch.where(dice.chance(0.4) > 0, (grain - 1.2).clamp_min(0) * 2 - 0.3, grain)
    blotch = fractal(dice, size_px, 1.8)
    base = dice.uniform(0.04, 0.75, 1, 1, 1) * dice.uniform(0.82, 1.1, 3, 1, 1)
    wave = dice.uniform(0.03, 0.3) * grain + dice.uniform(0.02, 0.25) * blotch
    return (base * (1 + wave.unsqueeze(1))).clamp_min(0.003)


def _wood(dice: SceneDice, size_px: int) -> Tensor:
    """Planks: grain stretched along the rows, a dark joint now and then."""
    grain = fractal(dice, size_px, 1.3, stretch=24.0)
    base = torch.stack([dice.uniform(0.12, 0.6), dice.uniform(0.06, 0.4), dice.uniform(0.02, 0.25)], 1)
    axis = torch.arange(size_px, device=dice.device).view(1, -1, 1) / size_px
    n_planks = dice.uniform(2, 8).round()
    place = (axis * n_planks) % 1
    tone = 1 + 0.2 * torch.sin((axis * n_planks).floor() * 12.9898 + dice.uniform(0, 6))
    joint = ((place < 0.03) & (dice.chance(0.7) > 0)).float()
    return (base * (tone * (1 + dice.uniform(0.05, 0.3) * grain) * (1 - 0.8 * joint)).unsqueeze(1)).clamp_min(
        0
    )


def _cloth(dice: SceneDice, size_px: int) -> Tensor:
    """Towel, sheet, felt, glove leather: a weave or nap, and soft folds that take the light."""
    axis = torch.arange(size_px, device=dice.device) / size_px * 2 * math.pi
    pitch = dice.uniform(20, 90).round()
    weave = torch.sin(axis.view(1, 1, -1) * pitch) * torch.sin(axis.view(1, -1, 1) * pitch)
    nap = fractal(dice, size_px, 0.7)
    folds = fractal(dice, size_px, 2.4).tanh() + 0.5 * torch.sin(4 * fractal(dice, size_px, 2.8))
    dark = torch.where(dice.chance(0.45, 1, 1, 1) > 0, torch.tensor(0.12, device=dice.device), 1.0)
    base = dice.colour() * dark + 0.004
    stripe = (torch.sin(axis.view(1, -1, 1) * dice.uniform(1, 6).round()) > 0.8).float() * dice.chance(0.25)
    base = torch.lerp(base.expand(-1, -1, size_px, size_px), dice.colour(), stripe.unsqueeze(1))
    light = 1 + dice.uniform(0, 0.25) * weave + dice.uniform(0.02, 0.2) * nap + dice.uniform(0, 0.35) * folds
    return base * light.clamp_min(0.05).unsqueeze(1)


def _clutter(dice: SceneDice, size_px: int) -> Tensor:
    """Things lying about: boxes and discs of any colour, edges hard or soft, from dark to white."""
    axis = torch.linspace(-1, 1, size_px, device=dice.device)
    x, y = axis.view(1, 1, -1), axis.view(1, -1, 1)
    picture = dice.colour().expand(-1, -1, size_px, size_px)
    for _ in range(18):
        turn = dice.uniform(0, math.pi)
        cx, cy = dice.uniform(-1, 1), dice.uniform(-1, 1)
        u = (x - cx) * turn.cos() + (y - cy) * turn.sin()
        v = (y - cy) * turn.cos() - (x - cx) * turn.sin()
        u, v = u / dice.log_uniform(0.05, 0.6), v / dice.log_uniform(0.05, 0.6)
        power = dice.log_uniform(2, 12)
        gauge = (u.abs() ** power + v.abs() ** power).clamp_min(1e-9) ** (1 / power)
        cover = torch.sigmoid((1 - gauge) * dice.log_uniform(6, 80))
        light = 1 + dice.uniform(-0.5, 0.5) * (u + v).clamp(-1.5, 1.5)
        picture = torch.lerp(picture, dice.colour() * light.unsqueeze(1), cover.unsqueeze(1))
    grain = 1 + 0.08 * fractal(dice, size_px, 0.6)
    return picture * grain.unsqueeze(1).clamp_min(0)


def _scenery(dice: SceneDice, size_px: int) -> Tensor:
    """Trees, fairway, buildings and sky, out of focus."""
    height = torch.linspace(1, 0, size_px, device=dice.device).view(1, -1, 1)
    sky = torch.tensor([0.5, 0.7, 1.0], device=dice.device).view(1, 3, 1, 1) * dice.uniform(0.3, 1.2, 1, 1, 1)
    sky = torch.lerp(sky, sky.mean(1, keepdim=True), dice.uniform(0, 1, 1, 1, 1))
    sky = sky * (1 + 0.5 * (0.5 - height)).unsqueeze(1)
    leaf = torch.stack([dice.uniform(0.01, 0.2), dice.uniform(0.04, 0.3), dice.uniform(0.005, 0.1)], 1)
    trees = leaf * (1 + 0.5 * fractal(dice, size_px, 1.5).unsqueeze(1)).clamp_min(0.1)
    line = dice.uniform(0.1, 0.7) + 0.12 * fractal(dice, size_px, 1.9)
    cover = torch.sigmoid((line - height) * 40)
    wall = dice.colour(saturation=0.4) * (1 + 0.15 * fractal(dice, size_px, 2.5).unsqueeze(1))
    picture = torch.lerp(sky.expand(-1, -1, -1, size_px), trees, cover.unsqueeze(1))
    return torch.where(dice.chance(0.35, 1, 1, 1) > 0, wall, picture).clamp_min(0)


def _blades(dice: SceneDice, size_px: int) -> Tensor:
    """(n, 4, S / 2, S) colour and cover of grass blades rising from the lower edge."""
    rows = size_px // 2
    x = torch.arange(size_px, device=dice.device).view(1, 1, -1) / size_px
    up = torch.linspace(1, 0, rows, device=dice.device).view(1, -1, 1)
    colour = torch.zeros(dice.n, 3, rows, size_px, device=dice.device)
    cover = torch.zeros(dice.n, rows, size_px, device=dice.device)
    tint = torch.stack([dice.uniform(0.04, 0.4), dice.uniform(0.15, 0.5), dice.uniform(0.01, 0.12)], 1)
    thick = dice.log_uniform(0.002, 0.007)
    for _ in range(44):
        height = dice.uniform(0.15, 1.0) ** 1.5
        part = (up / height).clamp(0, 1)
        middle = dice.uniform(-0.05, 1.05) + dice.normal(0, 0.06) * part + dice.normal(0, 0.08) * part**2
        half = thick * dice.uniform(0.6, 1.6) * (1 - part)
        blade = torch.sigmoid((half - (x - middle).abs()) * size_px) * (up < height)
        hue = tint * dice.uniform(0.3, 1.4, 1, 1, 1) * (1 + dice.normal(0, 0.15, 3, 1, 1))
        shade = (0.35 + 0.8 * part + 0.3 * (x - middle) / thick).clamp(0.1, 1.6)
        colour = torch.lerp(colour, hue.clamp_min(0) * shade.unsqueeze(1), blade.unsqueeze(1))
        cover = torch.maximum(cover, blade)
    return torch.cat([colour, cover.unsqueeze(1)], 1)


def sample(tiles: Tensor, index: Tensor, x: Tensor, y: Tensor) -> Tensor:
    """(n, C, H, W) of texture ``index`` at (n, H, W) places, one tile per unit, mirrored at its borders."""
    place = torch.stack([x, y], -1) * 2 - 1
    chosen = tiles[index.flatten()].to(place.dtype)
    return F.grid_sample(chosen, place, mode="bilinear", padding_mode="reflection", align_corners=False)
