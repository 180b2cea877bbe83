"""The light in drawn scenes: a sun or lamp, the sky and the ground, and what glossy paint mirrors of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

from facemark.learn.face_shapes import SceneDice
from facemark.learn.face_view import View

Normal = tuple[Tensor, Tensor, Tensor]  # toe, up, out parts, each (n, H, W) or (n, 1, 1)


def smoothstep(x: Tensor) -> Tensor:
    """0 below 0, 1 above 1, smooth between."""
    x = x.clamp(0, 1)
    return x * x * (3 - 2 * x)


def bumps(x: Tensor, y: Tensor, pitch: Tensor, angle: Tensor) -> Tensor:
    """Hexagonal lattice of round bumps, -0.5 to 1, ``pitch`` apart."""
    wave = 4 * math.pi / (math.sqrt(3) * pitch)
    turns = [angle + k * math.pi / 3 for k in range(3)]
    return sum(torch.cos(wave * (x * t.cos() + y * t.sin())) for t in turns) / 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Directions are unit vectors of the camera frame, (n, 3); colours (n, 3, 1, 1), linear."""

    toward_sun: Tensor
    sun: Tensor
    sky: Tensor
    ground: Tensor
    toward_lamps: Tensor  # (n, 2, 3)
    lamps: Tensor  # (n, 2) strength of soft boxes, windows, the sun's mirror image
    lamp_sharp: Tensor  # (n, 2)
    horizon_sharp: Tensor

    def matt(self, view: View, normal: Normal) -> Tensor:
        """(n, 3, H, W) light falling on a matt surface."""
        x, y, z = _in_camera(view, normal)
        lit = self.sun * _dot(self.toward_sun, x, y, z).clamp_min(0).unsqueeze(1)
        return lit + torch.lerp(self.ground, self.sky, (0.5 - 0.5 * y).unsqueeze(1))

    def glossy(self, view: View, normal: Normal, colour: Tensor, gloss: Tensor) -> Tensor:
        """(n, 3, H, W) a painted surface: its own colour under the light, and a mirror image over it."""
        x, y, z = _in_camera(view, normal)
        length = torch.sqrt(view.ray_x**2 + view.ray_y**2 + 1)
        ray_x, ray_y, ray_z = view.ray_x / length, view.ray_y / length, 1 / length
        facing = (ray_x * x + ray_y * y + ray_z * z).clamp(-1, 0)
        mirror = [r - 2 * facing * part for r, part in ((ray_x, x), (ray_y, y), (ray_z, z))]
        shine = (gloss + (1 - gloss) * (1 + facing) ** 5 * (gloss > 0.03)).unsqueeze(1)
        return colour * self.matt(view, normal) * (1 - gloss).unsqueeze(1) + shine * self._mirrored(*mirror)

    def glare(self, view: View, normal: Normal) -> Tensor:
        """(n, H, W) broad shine of the sun."""
        x, y, z = _in_camera(view, normal)
        half = self.toward_sun.view(-1, 3) - torch.tensor([0.0, 0.0, 1.0], device=x.device)
        half = half / half.norm(dim=1, keepdim=True).clamp_min(1e-3)
        return _dot(half, x, y, z).clamp_min(0) ** 24

    def _mirrored(self, x: Tensor, y: Tensor, z: Tensor) -> Tensor:
        picture = torch.lerp(self.ground, self.sky, torch.sigmoid(-y * self.horizon_sharp).unsqueeze(1))
        for k in range(2):
            near = (_dot(self.toward_lamps[:, k], x, y, z) - 1).clamp_max(0)
            lobe = torch.exp(near * self.lamp_sharp[:, k].view(-1, 1, 1)) * self.lamps[:, k].view(-1, 1, 1)
            picture = picture + lobe.unsqueeze(1)
        return picture


def draw_light(dice: SceneDice) -> Light:
    """Sun to overcast, lamps indoors; from above mostly, from any side."""
    sun_share = dice.uniform(0, 1, 1, 1, 1)
    warm = torch.cat(
        [dice.uniform(0.9, 1.25, 1, 1, 1), torch.ones_like(sun_share), dice.uniform(0.6, 1.1, 1, 1, 1)], 1
    )
    sky = torch.cat(
        [dice.uniform(0.6, 1.1, 1, 1, 1), torch.ones_like(sun_share), dice.uniform(0.9, 1.4, 1, 1, 1)], 1
    )
    bounce = 0.5 * dice.colour() + dice.uniform(0.05, 0.4, 1, 1, 1)
    toward = torch.cat([dice.normal(0, 0.6, 1), dice.normal(-0.7, 0.5, 1), dice.uniform(-1.0, -0.05, 1)], 1)
    lamps = dice.normal(0, 1, 2, 3)
    lamps[..., 1] = -lamps[..., 1].abs()
    return Light(
        toward_sun=toward / toward.norm(dim=1, keepdim=True),
        sun=sun_share * warm,
        sky=(1.1 - 0.85 * sun_share) * sky,
        ground=(1.1 - 0.85 * sun_share) * bounce,
        toward_lamps=lamps / lamps.norm(dim=2, keepdim=True),
        lamps=dice.log_uniform(0.3, 8, 2) * dice.chance(0.6, 2),
        lamp_sharp=dice.log_uniform(4, 200, 2),
        horizon_sharp=dice.log_uniform(1.5, 30),
    )


def _in_camera(view: View, normal: Normal) -> Normal:
    axes = view.axes
    return tuple(  # type: ignore[return-value]
        sum(axes[:, row, k].view(-1, 1, 1) * normal[k] for k in range(3)) for row in range(3)
    )


def _dot(direction: Tensor, x: Tensor, y: Tensor, z: Tensor) -> Tensor:
    a, b, c = (direction[:, k].view(-1, 1, 1) for k in range(3))
    return a * x + b * y + c * z
