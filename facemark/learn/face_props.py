"""Everything in a drawn scene but head and scale objects: ground, scenery, shaft, limbs, grass in front."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

from facemark.learn.face_bank import Bank, sample
from facemark.learn.face_light import Light, smoothstep
from facemark.learn.face_shapes import Heads, SceneDice
from facemark.learn.face_view import View


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaft:
    """Hosel, ferrule and shaft: ``cover`` (n, H, W) where seen, ``colour`` (n, 3, H, W)."""

    cover: Tensor
    colour: Tensor


def draw_background(dice: SceneDice, view: View, bank: Bank) -> Tensor:
    """(n, 3, H, W) ground in perspective or flat behind the head, scenery beyond, things lying about."""
    n, height, width = view.ray_x.shape
    flat = dice.chance(0.4)
    tilt = torch.deg2rad(torch.where(flat > 0, dice.uniform(0, 28), dice.uniform(45, 84)))
    roll = torch.deg2rad(torch.where(flat > 0, dice.uniform(-180, 180), dice.normal(0, 5)))
    up_x, up_y = roll.sin(), -roll.cos()
    normal = view.ray_x * up_x * tilt.sin() + view.ray_y * up_y * tilt.sin() - tilt.cos()
    origin = view.origin_mm.view(-1, 3, 1, 1)
    drop = dice.uniform(15, 70)
    foot = [
        torch.where(flat > 0, origin[:, k] * dice.uniform(1.02, 1.6), origin[:, k] + (drop if k == 1 else 0))
        for k in range(3)
    ]
    gap = foot[0] * up_x * tilt.sin() + foot[1] * up_y * tilt.sin() - foot[2] * tilt.cos()
    far = (gap / normal.clamp_max(-1e-3)).clamp(1, 3e4)
    u = far * (view.ray_x * up_y - view.ray_y * up_x)
    v = far * ((view.ray_x * up_x + view.ray_y * up_y) * tilt.cos() + tilt.sin())
    turn = dice.uniform(0, 2 * math.pi)
    tile = dice.log_uniform(150, 1200)
    u, v = (u * turn.cos() - v * turn.sin()) / tile, (u * turn.sin() + v * turn.cos()) / tile
    index = dice.pick(*[1.0] * len(bank.ground))
    size = bank.ground.shape[-1]
    fewer = far / view.focal_px * size / tile / normal.abs().clamp_min(0.02)  # texture pixels in one of ours
    coarse = (torch.log2(fewer.clamp_min(1)) / 3).clamp(0, 1)
    place = u + dice.uniform(0, 1), v + dice.uniform(0, 1)
    small = F.avg_pool2d(bank.ground[index.flatten()].float(), 8)
    ground = torch.lerp(
        sample(bank.ground, index, *place),
        sample(small, torch.arange(n, device=dice.device), *place),
        coarse.unsqueeze(1),
    )
    x, y = view.grid_px()
    zoom = dice.uniform(0.4, 1.1) / max(height, width)
    x_far, y_far = x * zoom + dice.uniform(0, 1), (y * zoom + dice.uniform(0, 1)).expand(n, height, width)
    beyond = sample(bank.far, dice.pick(*[1.0] * len(bank.far)), x_far.expand(n, height, width), y_far)
    above = smoothstep((normal + dice.uniform(0.02, 0.12)) * 60) * (1 - flat)
    picture = torch.lerp(_recoloured(dice, ground), _recoloured(dice, beyond), above.unsqueeze(1))
    for _ in range(3):
        picture = _lying_about(dice, view, picture)
    soft = _softened(picture, 4)
    picture = torch.lerp(picture, soft, (dice.uniform(0, 1) * dice.chance(0.45)).unsqueeze(1))
    return torch.lerp(picture, _softened(soft, 8), (dice.uniform(0, 1) * dice.chance(0.12)).unsqueeze(1))


def draw_shadow(dice: SceneDice, view: View, picture: Tensor, shape: Tensor) -> Tensor:
    """The background darkened by the club's own shadow: shifted, sheared, more or less soft."""
    n = len(shape)
    length = 2 * view.face_px / shape.shape[-1]
    move = torch.cat([dice.normal(0, 0.25) * length, -dice.uniform(0.0, 0.5) * length], -1).view(n, 2, 1)
    shear = torch.cat(
        [1 + dice.normal(0, 0.1), dice.normal(0, 0.3), dice.normal(0, 0.1), 1 + dice.normal(0, 0.15)], -1
    )
    grid = F.affine_grid(
        torch.cat([shear.view(n, 2, 2), move], 2), [n, 1, *shape.shape[1:]], align_corners=False
    )
    shadow = F.grid_sample(shape.unsqueeze(1), grid, align_corners=False)
    shadow = torch.lerp(shadow, _softened(shadow, 8), dice.uniform(0, 1, 1, 1, 1))
    contact = _softened(shape.unsqueeze(1), 16)
    dark = dice.uniform(0.2, 0.9, 1, 1, 1) * dice.chance(0.7, 1, 1, 1)
    return picture * (1 - dark * shadow) * (1 - dice.uniform(0, 0.7, 1, 1, 1) * contact)


def draw_shaft(
    dice: SceneDice, view: View, heads: Heads, light: Light, depth_mm: Tensor, seen: Tensor
) -> Shaft:
    """Hosel, ferrule and shaft leaving at the heel, hidden where the head is in front of them."""
    wood = 1 - heads.is_iron
    lie, loft = torch.deg2rad(dice.uniform(54, 66)), torch.deg2rad(dice.uniform(6, 22) + heads.is_iron * 22)
    way = torch.cat([-lie.cos(), lie.sin() * loft.cos(), lie.sin() * loft.sin() * dice.uniform(0, 1)], -1)
    hosel = torch.where(wood > 0, dice.uniform(12, 55), dice.uniform(45, 75))
    wide = torch.where(wood > 0, dice.uniform(6, 10), dice.uniform(5.5, 7.5))
    start = torch.cat(
        [
            heads.heel_mm * torch.where(wood > 0, dice.uniform(0.74, 1.0), dice.uniform(0.93, 1.08)),
            torch.where(wood > 0, heads.top_mm * dice.uniform(-0.1, 0.6), dice.normal(-4, 5)),
            # A wood's hosel stands behind its face; an iron's is in line with it and hides some of the heel.
            -torch.where(wood > 0, wide + dice.uniform(0, 18), dice.uniform(2, 8)),
        ],
        -1,
    )
    neck, thin = wide * dice.uniform(0.65, 1.0), dice.uniform(3.9, 5.2)
    ferrule = hosel + dice.uniform(0, 28)
    away = (way * view.axes[:, 2].view(-1, 1, 3)).sum(2, keepdim=True)
    # A shaft that leans toward the camera must end before it.
    reach = torch.where(
        away < -1e-3, 0.8 * view.origin_mm[:, 2].view(-1, 1, 1) / -away, torch.full_like(away, 1e4)
    )
    end = torch.minimum(dice.uniform(500, 1100), reach)
    spot = [start + way * torch.minimum(s, end) for s in (torch.zeros_like(hosel), hosel, ferrule, end)]
    px, depth = view.project(torch.cat(spot, 1))
    colours = [
        dice.colour() * dice.chance(0.5, 1, 1, 1) + 0.02,
        dice.colour() * 0.1 + 0.005,
        dice.colour() + 0.02,
    ]
    glosses = [dice.uniform(0.02, 0.6), dice.uniform(0, 0.1), dice.uniform(0.0, 0.7)]
    radii = [(wide, neck), (neck, thin), (thin, 1.3 * thin)]
    cover, colour = (
        torch.zeros_like(seen),
        torch.zeros(*seen.shape, 3, device=seen.device).permute(0, 3, 1, 2),
    )
    for k in (2, 1, 0):
        per_px = [view.focal_px / depth[:, j].view(-1, 1, 1) for j in (k, k + 1)]
        inside, along, side = _capsule(
            view, px[:, k], px[:, k + 1], radii[k][0] * per_px[0], radii[k][1] * per_px[1]
        )
        out = torch.lerp(spot[k][..., 2:], spot[k + 1][..., 2:], along) + radii[k][0] * (1 - side**2).sqrt()
        piece = (inside + 0.5).clamp(0, 1) * torch.where(out > -depth_mm, torch.ones_like(seen), 1 - seen)
        step = 1 + 0.15 * (((along * 14) % 1) < 0.06).float() * dice.chance(0.4)
        paint = colours[k] * step.unsqueeze(1)
        lit = light.glossy(
            view, _round(view, px[:, k + 1] - px[:, k], side), paint, glosses[k].expand_as(seen)
        )
        colour = torch.lerp(colour, lit, piece.unsqueeze(1))
        cover = torch.maximum(cover, piece)
    return Shaft(cover=cover, colour=colour)


def draw_front(
    dice: SceneDice, view: View, heads: Heads, bank: Bank, picture: Tensor, club: Tensor
) -> Tensor:
    """The picture with what stands before the head: grass at the sole, fingers and arms from the border."""
    n, height, width = view.ray_x.shape
    zero = torch.zeros_like(heads.bottom_mm)
    foot, _ = view.project(torch.cat([zero, heads.bottom_mm, zero], -1))
    x, y = view.grid_px()
    tile = view.face_px * dice.log_uniform(0.7, 2.5)
    top = foot[..., 1:] - tile * dice.uniform(-0.05, 0.32)
    v = ((y - top) / (0.5 * tile)).clamp_max(0.97)  # below their own picture the blades go straight on
    blades = sample(
        bank.blades,
        dice.pick(*[1.0] * len(bank.blades)),
        (x / tile + dice.uniform(0, 1)).expand(n, height, width),
        v.expand(n, height, width),
    )
    cover = blades[:, 3] * (v > 0) * dice.chance(0.38)
    bright = dice.log_uniform(0.5, 3.0, 1, 1, 1)
    picture = torch.lerp(picture, blades[:, :3] * bright, cover.unsqueeze(1))
    return _limbs(dice, view, heads, picture)


def _limbs(dice: SceneDice, view: View, heads: Heads, picture: Tensor) -> Tensor:
    """Fingers or an arm reaching in from the border: beside the head mostly, over its edge now and then."""
    n, height, width = view.ray_x.shape
    middle, _ = view.project(torch.zeros(n, 1, 3, device=dice.device))
    around = dice.uniform(0, 2 * math.pi)
    touch = dice.chance(0.25)
    away = view.face_px * torch.where(touch > 0, dice.uniform(0.42, 0.62), dice.uniform(0.65, 1.3))
    aim_x, aim_y = middle[..., :1] + away * around.cos(), middle[..., 1:] + 0.75 * away * around.sin()
    from_way = around + dice.normal(0, 0.5)
    reach = 1.5 * max(height, width)
    tone = dice.log_uniform(0.12, 0.75, 1, 1, 1)
    skin = torch.cat(
        [tone, tone * dice.uniform(0.5, 0.75, 1, 1, 1), tone * dice.uniform(0.3, 0.6, 1, 1, 1)], 1
    )
    skin = torch.where(dice.chance(0.15, 1, 1, 1) > 0, dice.colour(), skin)  # a glove, a sleeve
    scale = 1 / view.mm_per_px
    present = dice.chance(0.38)
    n_fingers = dice.uniform(1, 5).floor()
    gap = dice.uniform(14, 20) * scale
    for k in range(4):
        across = (k - 1.5) * gap
        tip_x = aim_x - across * from_way.sin() + dice.normal(0, 5) * scale
        tip_y = aim_y + across * from_way.cos() + dice.normal(0, 5) * scale
        root_way = from_way + dice.normal(0, 0.06)
        root_x, root_y = tip_x + reach * root_way.cos(), tip_y + reach * root_way.sin()
        radius = torch.where(n_fingers > 1, dice.uniform(6.5, 10), dice.uniform(9, 30)) * scale
        start, end = torch.cat([tip_x, tip_y], -1)[:, 0], torch.cat([root_x, root_y], -1)[:, 0]
        inside, _, side = _capsule(view, start, end, radius, radius * dice.uniform(1.3, 5))
        shade = (0.35 + 0.65 * (1 - side**2).sqrt()) * (1 + 0.3 * side * dice.normal(0, 1)).clamp(0.4, 1.6)
        cover = (inside + 0.5).clamp(0, 1) * present * (n_fingers > k)
        picture = torch.lerp(picture, skin * shade.unsqueeze(1), cover.unsqueeze(1))
    return picture


def _capsule(
    view: View, start: Tensor, end: Tensor, r_start: Tensor, r_end: Tensor
) -> tuple[Tensor, Tensor, Tensor]:
    """Depth inside [px], place along (0..1) and across (-1..1) of a tapered rod between (n, 2) pixels."""
    x, y = view.grid_px()
    a_x, a_y = start[:, 0].view(-1, 1, 1), start[:, 1].view(-1, 1, 1)
    d_x, d_y = end[:, 0].view(-1, 1, 1) - a_x, end[:, 1].view(-1, 1, 1) - a_y
    square = (d_x**2 + d_y**2).clamp_min(1.0)
    along = (((x - a_x) * d_x + (y - a_y) * d_y) / square).clamp(0, 1)
    off_x, off_y = x - a_x - along * d_x, y - a_y - along * d_y
    radius = torch.lerp(r_start, r_end, along)
    across = (off_x * d_y - off_y * d_x) * square.rsqrt()
    return radius - torch.hypot(off_x, off_y), along, (across / radius.clamp_min(0.5)).clamp(-1, 1)


def _round(view: View, way_px: Tensor, side: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Normal of a rod in the face frame: ``side`` across its picture, the rest toward the camera."""
    way = way_px / way_px.norm(dim=1, keepdim=True).clamp_min(1e-3)
    x, y, z = side * way[:, 1].view(-1, 1, 1), -side * way[:, 0].view(-1, 1, 1), -(1 - side**2).sqrt()
    return tuple(  # type: ignore[return-value]
        sum(view.axes[:, row, k].view(-1, 1, 1) * part for row, part in enumerate((x, y, z)))
        for k in range(3)
    )


def _recoloured(dice: SceneDice, picture: Tensor) -> Tensor:
    """The same texture in a neighbouring colour and strength."""
    gain = dice.log_uniform(0.35, 1.8, 1, 1, 1) * (1 + dice.normal(0, 0.12, 3, 1, 1))
    grey = picture.mean(1, keepdim=True)
    return torch.lerp(
        picture, grey, dice.uniform(0, 0.9, 1, 1, 1) * dice.chance(0.35, 1, 1, 1)
    ) * gain.clamp_min(0.1)


def _lying_about(dice: SceneDice, view: View, picture: Tensor) -> Tensor:
    """One thing of any colour somewhere, often white: a towel, a leaf, a shoe, another head's crown."""
    x, y = view.grid_px()
    turn, size = dice.uniform(0, math.pi), view.ray_x.shape[-1]
    c_x, c_y = dice.uniform(0, 1) * size, dice.uniform(0, 1) * view.ray_x.shape[-2]
    u = ((x - c_x) * turn.cos() + (y - c_y) * turn.sin()) / (dice.log_uniform(0.03, 0.45) * size)
    v = ((y - c_y) * turn.cos() - (x - c_x) * turn.sin()) / (dice.log_uniform(0.03, 0.3) * size)
    power = dice.log_uniform(1.5, 10)
    gauge = (u.abs() ** power + v.abs() ** power).clamp_min(1e-9) ** (1 / power)
    cover = torch.sigmoid((1 - gauge) * dice.log_uniform(8, 120)) * dice.chance(0.2)
    white = dice.uniform(0.3, 0.95, 1, 1, 1).expand(-1, 3, -1, -1)
    colour = torch.where(dice.chance(0.45, 1, 1, 1) > 0, white, dice.colour())
    shade = (1 + dice.uniform(-0.5, 0.5) * u + dice.uniform(-0.5, 0.5) * v).clamp(0.3, 1.6)
    return torch.lerp(picture, colour * shade.unsqueeze(1), cover.unsqueeze(1))


def _softened(picture: Tensor, factor: int) -> Tensor:
    """A cheap blur: averaged over ``factor`` pixels and drawn large again."""
    small = F.avg_pool2d(picture, factor)
    small = F.avg_pool2d(F.pad(small, (1, 1, 1, 1), mode="replicate"), 3, stride=1)
    return F.interpolate(small, size=picture.shape[2:], mode="bilinear", align_corners=False)
