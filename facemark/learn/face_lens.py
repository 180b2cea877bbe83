"""From linear light to a phone photo: shadows across, exposure, lens, noise, tone, sharpening, blocks."""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

from facemark.learn.face_bank import Bank, sample
from facemark.learn.face_light import smoothstep
from facemark.learn.face_shapes import SceneDice
from facemark.learn.face_view import View

LUMA = (0.299, 0.587, 0.114)  # Rec. 601


def photograph(dice: SceneDice, view: View, bank: Bank, picture: Tensor, club: Tensor) -> Tensor:
    """(n, 3, H, W) in 0..1, display-coded, of a linear ``picture``; ``club`` (n, H, W) is metered more."""
    picture = picture.clamp(0, 20)
    picture = picture * _shadows(dice, view, bank).unsqueeze(1)
    x, y = view.grid_px()
    x, y = x / view.ray_x.shape[-1] - 0.5, y / view.ray_x.shape[-2] - 0.5
    slope = (1 + dice.normal(0, 0.35) * x + dice.normal(0, 0.35) * y).clamp(0.25, 2)
    vignette = 1 - dice.uniform(0, 0.5) * dice.chance(0.4) * 2 * (x**2 + y**2)
    picture = picture * (slope * vignette).unsqueeze(1)
    cast = torch.exp(
        dice.normal(0, 0.06, 3, 1, 1) + dice.normal(0, 0.16, 3, 1, 1) * dice.chance(0.3, 1, 1, 1)
    )
    picture = picture * cast
    picture = _exposed(dice, picture, club)
    picture = _veiled(dice, picture, x, y)
    picture = _moved(dice, _blurred(dice, picture))
    picture = _noisy(dice, picture)
    picture = _toned(dice, picture)
    picture = _sharpened(dice, picture)
    picture = _coarsened(dice, picture)
    return _blocky(dice, picture).clamp(0, 1)


def open_area(dice: SceneDice, view: View) -> Tensor:
    """(n, H, W) 1 on the picture, 0 on the bars that fill a canvas of other proportions."""
    x, y = view.grid_px()
    height, width = view.ray_x.shape[1:]
    bar = (dice.uniform(0, 17) * dice.chance(0.4)).floor()
    upright = dice.chance(0.5)
    across = torch.where(upright > 0, torch.minimum(y, height - 1 - y), torch.minimum(x, width - 1 - x))
    return (across >= bar).float().expand_as(view.ray_x)


def _shadows(dice: SceneDice, view: View, bank: Bank) -> Tensor:
    """(n, H, W) factor: the shadow of a person, a roof or leaves over everything, hard or soft."""
    x, y = view.grid_px()
    size = max(view.ray_x.shape[1:])
    turn = dice.uniform(0, 2 * math.pi)
    across = (x - dice.uniform(0, 1) * size) * turn.cos() + (y - dice.uniform(0, 1) * size) * turn.sin()
    soft = dice.log_uniform(0.7, 80)
    edge = smoothstep(across / soft + 0.5)
    band = edge * smoothstep((dice.uniform(0.05, 0.4) * size - across) / soft + 0.5)
    shape = torch.where(dice.chance(0.5) > 0, edge, band)
    zoom = dice.uniform(0.3, 2.0) / size
    place = (x * zoom + dice.uniform(0, 1)).expand_as(view.ray_x), (y * zoom).expand_as(view.ray_x)
    leaves = sample(bank.noise[:, 2:], dice.pick(*[1.0] * len(bank.noise)), *place)[:, 0]
    dapple = smoothstep((leaves - dice.uniform(-0.5, 0.8)) * dice.log_uniform(1, 12))
    kind = dice.pick(0.55, 0.3, 0.15)
    dark = torch.where(kind == 0, torch.zeros_like(dapple), torch.where(kind == 1, shape, dapple))
    return 1 - dice.uniform(0.25, 0.85) * dark


def _exposed(dice: SceneDice, picture: Tensor, club: Tensor) -> Tensor:
    """Metered on the whole picture and on the club, then off by up to a stop and a half."""
    luma = _luma(picture)
    weight = 1 + dice.uniform(0, 8) * club
    mean = (luma.clamp_max(2) * weight).sum((2, 3) if luma.dim() == 4 else (1, 2), keepdim=True)
    mean = mean / weight.sum((1, 2), keepdim=True)
    return picture * (dice.log_uniform(0.1, 0.55) / mean.clamp_min(1e-3)).unsqueeze(1)


def _veiled(dice: SceneDice, picture: Tensor, x: Tensor, y: Tensor) -> Tensor:
    """Stray light: a flat veil, or a bright patch from a lamp or the sun in the lens."""
    veil = dice.uniform(0, 0.12, 1, 1, 1) * dice.chance(0.2, 1, 1, 1)
    away = torch.hypot(x - dice.uniform(-0.6, 0.6), y - dice.uniform(-0.6, 0.6)) / dice.log_uniform(0.06, 0.5)
    patch = torch.exp(-(away**2)) * dice.uniform(0, 0.7) * dice.chance(0.1)
    return picture * (1 - veil) + veil + patch.unsqueeze(1)


def _blurred(dice: SceneDice, picture: Tensor) -> Tensor:
    """Out of focus by its own amount in every scene (Gaussian, sd up to 2.2 px)."""
    n, channels, height, width = picture.shape
    sd = torch.where(dice.chance(0.75) > 0, dice.uniform(0.2, 0.8), dice.uniform(0.8, 2.2))
    axis = torch.arange(-5, 6, device=dice.device).view(1, 1, -1)
    kernel = torch.exp(-0.5 * (axis / sd) ** 2)
    kernel = (kernel / kernel.sum(2, keepdim=True)).repeat_interleave(channels, 0).unsqueeze(1)
    flat = F.pad(picture.reshape(1, n * channels, height, width), (5, 5, 5, 5), mode="replicate")
    flat = F.conv2d(flat, kernel, groups=n * channels)
    flat = F.conv2d(flat, kernel.transpose(2, 3), groups=n * channels)
    return flat.view(n, channels, height, width)


def _moved(dice: SceneDice, picture: Tensor) -> Tensor:
    """Shaken: in one scene of eight the picture is averaged along a short line."""
    n, _, height, width = picture.shape
    length = dice.uniform(2, 9) * dice.chance(0.12)
    if float(length.max()) == 0.0:
        return picture
    which = length.flatten().nonzero().flatten()
    turn = dice.uniform(0, math.pi)
    chosen, total = picture[which], torch.zeros_like(picture[which])
    base = F.affine_grid(
        torch.eye(2, 3, device=dice.device).expand(len(which), 2, 3), list(chosen.shape), align_corners=False
    )
    way = torch.cat([turn.cos() * 2 / width, turn.sin() * 2 / height], -1).view(n, 1, 1, 2)[which]
    for k in range(7):
        shift = way * (length[which].unsqueeze(-1) * (k - 3) / 6)
        total = total + F.grid_sample(chosen, base + shift, padding_mode="border", align_corners=False)
    return picture.index_copy(0, which, total / 7)


def _noisy(dice: SceneDice, picture: Tensor) -> Tensor:
    """Photon and read noise; colour noise in small clumps. A reduced photo has little of it."""
    strong = dice.log_uniform(0.002, 0.03, 1, 1, 1)
    shape = picture.shape[2:]
    grey, colour = dice.normal(0, 1, 1, *shape), dice.normal(0, 1, 3, *shape)
    clumps = F.avg_pool2d(F.pad(colour, (1, 1, 1, 1), mode="reflect"), 3, stride=1) * 2
    noise = torch.lerp(
        grey.expand_as(colour),
        torch.lerp(colour, clumps, dice.chance(0.5, 1, 1, 1)),
        dice.uniform(0, 1, 1, 1, 1),
    )
    return picture + strong * noise * (picture.clamp(0, 1) + 0.02).sqrt()


def _toned(dice: SceneDice, picture: Tensor) -> Tensor:
    """Display coding with a phone's own idea of contrast and saturation."""
    picture = picture.clamp_min(0)
    knee = dice.uniform(0.0, 0.5, 1, 1, 1) * dice.chance(0.6, 1, 1, 1)
    picture = picture / (1 + knee * picture)  # rolls bright parts off instead of clipping them
    coded = picture.clamp(1e-5, 1) ** (1 / dice.uniform(1.8, 2.5, 1, 1, 1))
    contrast = dice.uniform(-0.1, 0.6, 1, 1, 1)
    coded = torch.lerp(coded, smoothstep(coded), contrast)
    grey = _luma(coded).unsqueeze(1)
    return (grey + (coded - grey) * dice.uniform(0.3, 1.5, 1, 1, 1)).clamp(0, 1)


def _sharpened(dice: SceneDice, picture: Tensor) -> Tensor:
    soft = F.avg_pool2d(F.pad(picture, (1, 1, 1, 1), mode="replicate"), 3, stride=1)
    return (picture + dice.uniform(0, 1.2, 1, 1, 1) * dice.chance(0.4, 1, 1, 1) * (picture - soft)).clamp(
        0, 1
    )


def _coarsened(dice: SceneDice, picture: Tensor) -> Tensor:
    """A crop enlarged from few pixels: the second look at a small or far face."""
    factor = float(torch.rand(1, generator=dice.generator, device=dice.device)) * 1.6 + 1.2
    small = F.interpolate(picture, scale_factor=1 / factor, mode="area")
    large = F.interpolate(small, size=picture.shape[2:], mode="bilinear", align_corners=False)
    return torch.lerp(picture, large, dice.chance(0.2, 1, 1, 1))


def _blocky(dice: SceneDice, picture: Tensor) -> Tensor:
    """8 x 8 cosine blocks with their fine parts rounded away, as stored photos have them."""
    n, _, height, width = picture.shape
    axis = torch.arange(8, device=dice.device)
    basis = torch.cos(math.pi / 8 * (axis.view(1, 8) + 0.5) * axis.view(8, 1)) * 0.5
    basis[0] = basis[0] * math.sqrt(0.5)
    blocks = picture.view(n, 3, height // 8, 8, width // 8, 8).permute(0, 1, 2, 4, 3, 5)
    waves = basis @ blocks @ basis.t()
    step = dice.log_uniform(0.01, 0.12, 1, 1, 1).unsqueeze(-1).unsqueeze(-1) * (
        1 + 0.5 * (axis.view(1, 8) + axis.view(8, 1))
    )
    waves = (waves / step).round() * step
    blocks = basis.t() @ waves @ basis
    coded = blocks.permute(0, 1, 2, 4, 3, 5).reshape(n, 3, height, width)
    return torch.lerp(picture, coded, dice.chance(0.3, 1, 1, 1))


def _luma(picture: Tensor) -> Tensor:
    return sum(weight * picture[:, k] for k, weight in enumerate(LUMA))
