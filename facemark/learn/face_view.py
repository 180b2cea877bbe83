"""Where the camera stands in a drawn scene, and which point of the head each of its pixels looks at."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

from facemark.learn.face_shapes import Heads, SceneDice

STEEP_FRAC = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """``n`` pinhole cameras. Camera frame: x right, y down, z away, mm; pixel (0, 0) is the top left centre.

    ``axes`` (n, 3, 3): columns toe, up, out of the face in the camera frame; ``origin_mm`` (n, 3): the face's
    centre. ``ray_x``, ``ray_y`` (n, H, W): pixel directions with z = 1. The rest is (n, 1, 1) or as said.
    """

    axes: Tensor
    origin_mm: Tensor
    ray_x: Tensor
    ray_y: Tensor
    focal_px: Tensor
    principal_px: Tensor  # (n, 2)
    mm_per_px: Tensor  # at the face's centre
    face_px: Tensor  # length of the face in pixels
    bulge_per_mm: Tensor  # curvature of the face, for its light only
    toe_px: Tensor  # (n, 2) unit vector of the toe axis in the picture
    up_px: Tensor  # (n, 2)
    is_close: Tensor

    def at_depth(self, depth_mm: float | Tensor) -> tuple[Tensor, Tensor]:
        """Toe and up [mm] where the rays pass the plane ``depth_mm`` behind the face."""
        return self.on_plane(self.axes, self.origin_mm, depth_mm)

    def on_plane(
        self, axes: Tensor, origin_mm: Tensor, depth_mm: float | Tensor = 0.0
    ) -> tuple[Tensor, Tensor]:
        """First and second coordinate [mm] where the rays meet a plane with these axes."""
        first, second, normal = (self._along(axes[:, :, k]) for k in range(3))
        middle = (origin_mm.unsqueeze(1) @ axes)[:, 0]
        a, b, c = (middle[:, k].view(-1, 1, 1) for k in range(3))
        # Rays that graze the plane or miss it land far away instead of behind the camera.
        far = (c - depth_mm) / normal.clamp_max(-0.08)
        return far * first - a, far * second - b

    def project(self, face_mm: Tensor) -> tuple[Tensor, Tensor]:
        """(n, P, 2) pixels and (n, P) camera depth [mm] of (n, P, 3) points of the face frame."""
        seen = face_mm @ self.axes.transpose(1, 2) + self.origin_mm.unsqueeze(1)
        depth = seen[..., 2].clamp_min(20.0)
        px = seen[..., :2] / depth.unsqueeze(-1) * self.focal_px + self.principal_px.unsqueeze(1)
        return px, depth

    def grid_px(self) -> tuple[Tensor, Tensor]:
        """(1, 1, W) and (1, H, 1) pixel coordinates."""
        height, width = self.ray_x.shape[1:]
        device = self.ray_x.device
        return torch.arange(width, device=device).view(1, 1, -1), torch.arange(height, device=device).view(
            1, -1, 1
        )

    def _along(self, axis: Tensor) -> Tensor:
        x, y, z = (axis[:, k].view(-1, 1, 1) for k in range(3))
        return self.ray_x * x + self.ray_y * y + z


def aim(dice: SceneDice, heads: Heads, size_px: tuple[int, int]) -> View:
    """Point ``dice.n`` cameras at the heads: whole photos and close crops, half and half."""
    height, width = size_px
    close = dice.chance(0.5)
    roll = _rolls(dice)
    mirrored = dice.chance(0.4)  # left-handed heads are the rarer ones
    axes = _turned(dice, roll, mirrored)
    # The face's box in the picture must fit: its length, rolled, and about 0.55 of that across.
    cos, sin = roll.cos().abs(), roll.sin().abs()
    room = torch.minimum(width / (cos + 0.55 * sin), height / (sin + 0.55 * cos))
    wish = torch.where(
        close > 0, dice.uniform(0.48, 0.88) * width, dice.log_uniform(0.13, 0.6) * max(size_px)
    )
    face_px = torch.minimum(wish, 0.92 * room)
    half_x, half_y = 0.5 * face_px * (cos + 0.5 * sin), 0.5 * face_px * (sin + 0.5 * cos)
    spill = 1 - 0.5 * dice.uniform(0, 1) * dice.chance(0.06)  # now and then the face is cut off
    free_x, free_y = (width / 2 - spill * half_x).clamp_min(2), (height / 2 - spill * half_y).clamp_min(2)
    place_x = torch.where(close > 0, dice.normal(0, 0.04) * width, dice.uniform(-1, 1) * free_x)
    place_y = torch.where(close > 0, dice.normal(0, 0.05) * height, dice.uniform(-1, 1) * free_y)
    place_x = torch.maximum(torch.minimum(place_x, free_x), -free_x) + width / 2
    place_y = torch.maximum(torch.minimum(place_y, free_y), -free_y) + height / 2
    # A crop is cut from a larger photo: its own middle is not where the lens points.
    focal = max(size_px) * dice.log_uniform(0.6, 1.7) * torch.where(close > 0, dice.uniform(1.0, 2.6), 1.0)
    off = dice.normal(0, 0.35, 2) * width * close.view(-1, 1)
    principal = torch.tensor([width / 2, height / 2], device=dice.device) + off
    distance = focal * heads.length_mm / face_px
    origin = torch.stack(
        [
            (place_x.flatten() - principal[:, 0]) / focal.flatten(),
            (place_y.flatten() - principal[:, 1]) / focal.flatten(),
            torch.ones(dice.n, device=dice.device),
        ],
        1,
    ) * distance.view(-1, 1)
    turn = _sight_turn(origin)
    axes = turn @ axes
    x = torch.arange(width, device=dice.device).view(1, 1, -1).expand(dice.n, height, width)
    y = torch.arange(height, device=dice.device).view(1, -1, 1).expand(dice.n, height, width)
    flat = View(
        axes=axes,
        origin_mm=origin,
        ray_x=(x - principal[:, 0].view(-1, 1, 1)) / focal,
        ray_y=(y - principal[:, 1].view(-1, 1, 1)) / focal,
        focal_px=focal,
        principal_px=principal,
        mm_per_px=distance / focal,
        face_px=face_px,
        bulge_per_mm=torch.where(heads.is_iron > 0, 0.0, 1 / dice.uniform(220, 420)),
        toe_px=principal,
        up_px=principal,
        is_close=close,
    )
    return _with_directions(flat)


def _rolls(dice: SceneDice) -> Tensor:
    """In-plane roll [rad]: mostly a level face, some leaning, few held sideways, upside down or anyhow."""
    kind = dice.pick(0.69, 0.05, 0.05, 0.06, 0.15)
    lean = (dice.normal(0, 14)).clamp(-40, 40)
    turn = torch.where(kind == 1, 90.0, torch.where(kind == 2, -90.0, torch.where(kind == 3, 180.0, 0.0)))
    turn = torch.where(kind == 4, dice.uniform(-180, 180), turn)
    return torch.deg2rad(turn + lean)


def _turned(dice: SceneDice, roll: Tensor, mirrored: Tensor) -> Tensor:
    """(n, 3, 3) face axes for a camera that looks straight ahead at the face's centre."""
    zero, one = torch.zeros_like(roll), torch.ones_like(roll)
    side = torch.where(mirrored > 0, one, -one)  # right-handed: toe on the picture's left
    base = torch.stack([side, zero, zero, zero, -one, zero, zero, zero, -one], -1).view(-1, 3, 3)
    tilt = torch.deg2rad(dice.normal(0, 14).abs().clamp_max(42))
    about = dice.uniform(0, 2 * math.pi)
    # Often from above or below: tilted about the face's own long axis, so that crown or sole comes into view.
    steep = dice.chance(STEEP_FRAC)
    tilt = torch.where(steep > 0, torch.deg2rad(dice.uniform(10, 42)), tilt)
    about = torch.where(steep > 0, roll + math.pi * dice.chance(0.5) + dice.normal(0, 0.25), about)
    axis = torch.cat([about.cos(), about.sin(), zero], -1).view(-1, 3)
    x, y = axis[:, 0].view(-1, 1, 1), axis[:, 1].view(-1, 1, 1)
    cos, sin = tilt.cos(), tilt.sin()
    lean = torch.cat(
        [
            cos + x * x * (1 - cos), x * y * (1 - cos), y * sin,
            x * y * (1 - cos), cos + y * y * (1 - cos), -x * sin,
            -y * sin, x * sin, cos,
        ],
        -1,
    ).view(-1, 3, 3)  # fmt: skip
    spin = torch.cat([roll.cos(), -roll.sin(), zero, roll.sin(), roll.cos(), zero, zero, zero, one], -1)
    return lean @ spin.view(-1, 3, 3) @ base


def _sight_turn(origin: Tensor) -> Tensor:
    """(n, 3, 3) from the optical axis to the line of sight to the face, from which the tilt counts."""
    sight = origin / origin.norm(dim=1, keepdim=True)
    x, y, z = sight[:, 0], sight[:, 1], sight[:, 2]
    zero = torch.zeros_like(x)
    cross = torch.stack([zero, zero, x, zero, zero, y, -x, -y, zero], -1).view(-1, 3, 3)
    return torch.eye(3, device=origin.device) + cross + cross @ cross / (1 + z).view(-1, 1, 1)


def _with_directions(view: View) -> View:
    """The view with toe and up as unit vectors of the picture."""
    n, device = len(view.axes), view.axes.device
    ends = torch.tensor([[0.0, 0, 0], [1.0, 0, 0], [0, 1.0, 0]], device=device).expand(n, 3, 3)
    px, _ = view.project(ends)
    toe, up = px[:, 1] - px[:, 0], px[:, 2] - px[:, 0]
    return View(
        axes=view.axes,
        origin_mm=view.origin_mm,
        ray_x=view.ray_x,
        ray_y=view.ray_y,
        focal_px=view.focal_px,
        principal_px=view.principal_px,
        mm_per_px=view.mm_per_px,
        face_px=view.face_px,
        bulge_per_mm=view.bulge_per_mm,
        toe_px=toe / toe.norm(dim=1, keepdim=True),
        up_px=up / up.norm(dim=1, keepdim=True),
        is_close=view.is_close,
    )
