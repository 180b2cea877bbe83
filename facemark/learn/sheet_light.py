"""Light on the drawn face, the things in front of it, and what a phone makes of both."""

from __future__ import annotations

import math

import torch
import torch.nn.functional as nnf
from torch import Tensor

from facemark.learn.dice import HEIGHT_PX, WIDTH_PX, Dice, column, smooth_step

KERNEL_PX = 15


def draw_daylight(dice: Dice, x_mm: Tensor, y_mm: Tensor) -> Tensor:
    """Light falling on the face (n, H, W), about 1: slopes, shadow edges hard and soft, bands, leaves."""
    if "light" in dice.without:
        return torch.ones_like(x_mm)
    slope_x, slope_y = column(dice.normal() * 0.006), column(dice.normal() * 0.008)
    light = torch.exp((slope_x * x_mm + slope_y * y_mm).clamp(-1.5, 1.5))
    for share in (0.35, 0.15):
        turn = dice.uniform(0.0, math.pi)
        x, y = x_mm - column(dice.normal() * 25.0), y_mm - column(dice.normal() * 12.0)
        across = x * column(torch.cos(turn)) + y * column(torch.sin(turn))
        along = y * column(torch.cos(turn)) - x * column(torch.sin(turn))
        across = across + column(dice.normal() * 0.008 * dice.chance(0.4)) * along**2
        band = column(dice.uniform(3.0, 20.0))
        across = torch.where(column(dice.chance(0.4)) > 0.5, across.abs() - band, across)
        soft = column(dice.log_uniform(0.2, 14.0))
        shade = smooth_step(0.5 + across / soft)
        light = light * (1.0 - column(dice.uniform(0.15, 0.88) * dice.chance(share)) * shade)
    leaves = dice.noise(dice.noise_weights(4.0, 6.0))
    dapple = torch.sigmoid((leaves - column(dice.uniform(-1.0, 1.2))) / column(dice.log_uniform(0.04, 0.8)))
    light = light * (1.0 - column(dice.uniform(0.15, 0.8) * dice.chance(0.12)) * dapple)
    fall = torch.exp(-((x_mm - column(dice.normal() * 40.0)) ** 2 + y_mm**2) / (2 * 60.0**2))
    return light * (1.0 + column(dice.uniform(0.0, 0.8) * dice.chance(0.3)) * fall)


def draw_glare(dice: Dice, x_mm: Tensor, y_mm: Tensor) -> Tensor:
    """What bare metal mirrors (n, H, W): sky and ground, lamps, streaks of sun."""
    if "light" in dice.without:
        return torch.full_like(x_mm, 0.2)
    sky = column(dice.log_uniform(0.03, 1.2))
    ground = column(dice.log_uniform(0.02, 0.5))
    edge = smooth_step(
        0.5
        + (y_mm - column(dice.normal() * 20.0) + column(dice.normal() * 0.15) * x_mm)
        / column(dice.uniform(2.0, 60.0))
    )
    mirrored = ground + (sky - ground) * edge
    shapes = dice.noise(dice.noise_weights(4.5, 6.5))
    mirrored = mirrored * torch.exp(column(dice.uniform(0.0, 0.6)) * shapes)
    for share in (0.35, 0.15):
        turn = dice.uniform(0.0, math.pi)
        x, y = x_mm - column(dice.normal() * 25.0), y_mm - column(dice.normal() * 12.0)
        u = (x * column(torch.cos(turn)) + y * column(torch.sin(turn))) / column(dice.log_uniform(2.0, 30.0))
        v = (y * column(torch.cos(turn)) - x * column(torch.sin(turn))) / column(dice.log_uniform(6.0, 80.0))
        spot = torch.exp(-0.5 * (u**2 + v**2) ** column(dice.uniform(0.6, 3.0)))
        mirrored = mirrored + column(dice.log_uniform(0.2, 6.0) * dice.chance(share)) * spot
    return mirrored


def put_in_front(dice: Dice, picture: Tensor, depth_mm: Tensor, x_mm: Tensor, y_mm: Tensor) -> Tensor:
    """Blades, fingers and cloth that reach over the edge, and small labels stuck on the face."""
    texture = 1.0 + 0.2 * dice.noise(dice.noise_weights(1.0, 5.0))
    for share in (0.16, 0.12, 0.08, 0.06):
        turn = dice.uniform(0.0, 2 * math.pi)
        # A stick from outside whose tip lies a little inside the edge.
        tip_x, tip_y = column(dice.normal() * 30.0), column(dice.normal() * 15.0)
        x, y = x_mm - tip_x, y_mm - tip_y
        along = x * column(torch.cos(turn)) + y * column(torch.sin(turn))
        across = y * column(torch.cos(turn)) - x * column(torch.sin(turn))
        across = across - column(dice.normal() * 0.01) * along**2
        width = column(dice.log_uniform(0.6, 14.0))
        far = torch.hypot(along.clamp(max=0.0), across) - width / 2
        here = smooth_step(0.5 - far / 0.4) * smooth_step((column(dice.uniform(2.0, 12.0)) - depth_mm) / 0.6)
        here = here * column(dice.chance(share))
        tone = column(dice.log_uniform(0.03, 0.8))
        picture = picture * (1.0 - here) + tone * texture * here
    x, y = x_mm - column(dice.normal() * 28.0), y_mm - column(dice.normal() * 12.0)
    turn = column(dice.uniform(0.0, math.pi))
    u, v = x * torch.cos(turn) + y * torch.sin(turn), y * torch.cos(turn) - x * torch.sin(turn)
    box = torch.minimum(
        column(dice.log_uniform(0.8, 8.0)) - u.abs(), column(dice.log_uniform(0.5, 4.0)) - v.abs()
    )
    label = smooth_step(0.5 + box / 0.3) * column(dice.chance(0.12))
    return picture * (1.0 - label) + column(dice.log_uniform(0.03, 1.0)) * label


def photograph(dice: Dice, picture: Tensor, inside: Tensor) -> Tensor:
    """Linear light (n, H, W) to 8-bit grey, 0 to 255: exposure, blur, noise, tone, sharpening, JPEG."""
    lit = (picture * inside).sum(dim=(1, 2)) / inside.sum(dim=(1, 2)).clamp(min=1.0)
    bright = dice.log_uniform(0.12, 0.85)
    picture = picture * column(bright / lit.clamp(min=1e-3))
    if "camera" in dice.without:
        return torch.round(picture.clamp(0.0, 1.0) ** (1.0 / 2.2) * 255.0)
    picture = _blurred(dice, picture)
    grain = dice.normal(HEIGHT_PX, WIDTH_PX)
    coarse = nnf.avg_pool2d(grain[:, None], 3, stride=1, padding=1)[:, 0] * 3.0
    grain = torch.where(column(dice.chance(0.5)) > 0.5, coarse, grain)
    shot = column(dice.log_uniform(0.002, 0.04))
    read = column(dice.log_uniform(0.0005, 0.009))
    picture = (picture + grain * torch.sqrt(shot**2 * picture.clamp(min=0.0) + read**2)).clamp(0.0, 8.0)
    # Tone curve: a plain gamma, or a shoulder that saves the lights, or hard clipping.
    shoulder = column(dice.uniform(0.0, 0.9))
    picture = picture * (1.0 + shoulder * picture * 0.2) / (1.0 + shoulder * picture)
    picture = picture.clamp(1e-5, 1.0) ** (1.0 / column(dice.uniform(1.7, 2.7)))
    bend = column(dice.uniform(-0.1, 0.6))
    picture = picture + bend * (smooth_step(picture) - picture)
    lift = column(dice.uniform(0.0, 0.12) * dice.chance(0.3))
    picture = lift + (1.0 - lift) * picture
    soft = nnf.avg_pool2d(picture[:, None], 5, stride=1, padding=2, count_include_pad=False)[:, 0]
    picture = picture + column(dice.uniform(0.0, 1.3) * dice.chance(0.6)) * (picture - soft)
    picture = _blocky(dice, picture.clamp(0.0, 1.0))
    return torch.round(picture.clamp(0.0, 1.0) * 255.0)


def _blurred(dice: Dice, picture: Tensor) -> Tensor:
    """Lens blur and hand shake, one kernel per picture; a few pictures also lose resolution."""
    axis = torch.arange(KERNEL_PX, device=dice.device) - KERNEL_PX // 2
    y, x = axis.view(1, -1, 1), axis.view(1, 1, -1)
    sigma = column(dice.log_uniform(0.25, 2.4))
    turn = column(dice.uniform(0.0, math.pi))
    shake = column(dice.log_uniform(0.3, 4.5) * dice.chance(0.25))
    along, across = x * torch.cos(turn) + y * torch.sin(turn), y * torch.cos(turn) - x * torch.sin(turn)
    kernel = torch.exp(-0.5 * (along**2 / (sigma**2 + shake**2) + across**2 / sigma**2))
    kernel = kernel / kernel.sum(dim=(1, 2), keepdim=True)
    half = KERNEL_PX // 2
    padded = nnf.pad(picture[None], (half, half, half, half), mode="replicate")
    return nnf.conv2d(padded, kernel[:, None], groups=dice.n)[0]


def _blocky(dice: Dice, picture: Tensor) -> Tensor:
    """JPEG's loss: 8 x 8 cosine transform, coarser steps for finer waves, its own strength per picture."""
    n = dice.n
    k = torch.arange(8, device=dice.device, dtype=torch.float32)
    basis = torch.cos((2 * k.view(1, -1) + 1) * k.view(-1, 1) * math.pi / 16) * 0.5
    basis[0] = basis[0] / math.sqrt(2.0)
    up, left = (
        int(v) for v in torch.randint(0, 8, (2,), generator=dice.generator, device=dice.device).tolist()
    )
    rolled = torch.roll(picture, (up, left), dims=(1, 2)) * 255.0
    blocks = rolled.view(n, HEIGHT_PX // 8, 8, WIDTH_PX // 8, 8).permute(0, 1, 3, 2, 4)
    waves = basis @ blocks @ basis.T
    # Close to the standard's luminance table: 16 for the mean, about 10 per step of frequency.
    step = (12.0 + 9.0 * (k.view(-1, 1) + k.view(1, -1))) * (
        dice.log_uniform(0.02, 1.1) * dice.chance(0.75)
    ).view(-1, 1, 1, 1, 1)
    step = step + 0.01
    waves = torch.round(waves / step) * step
    blocks = basis.T @ waves @ basis
    rolled = blocks.permute(0, 1, 3, 2, 4).reshape(n, HEIGHT_PX, WIDTH_PX) / 255.0
    return torch.roll(rolled, (-up, -left), dims=(1, 2))
