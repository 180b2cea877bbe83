"""What club heads look like to the drawing of training scenes: outlines, bodies, and the dice they come from.

Ranges are broad guesses about real clubs (assumed), never fitted to a sample photo: a network that has seen
everything from a square hybrid to a pear-shaped driver has no favourite left.

An outline is stored in polar form about its area centroid, ``radius_mm`` over ``N_ANGLES`` equal angles from
the toe toward the crown; every face we draw is star-shaped, so one table look-up tells inside from outside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

N_ANGLES = 360


class SceneDice:
    """Random numbers for ``n`` scenes at once, all from one generator. Default shape (n, 1, 1)."""

    def __init__(self, n: int, generator: torch.Generator) -> None:
        self.n = n
        self.generator = generator
        self.device = generator.device

    def uniform(self, low: float, high: float, *shape: int) -> Tensor:
        rolled = torch.rand(self.n, *(shape or (1, 1)), generator=self.generator, device=self.device)
        return low + (high - low) * rolled

    def log_uniform(self, low: float, high: float, *shape: int) -> Tensor:
        return torch.exp(self.uniform(math.log(low), math.log(high), *shape))

    def normal(self, mean: float, sd: float, *shape: int) -> Tensor:
        rolled = torch.randn(self.n, *(shape or (1, 1)), generator=self.generator, device=self.device)
        return mean + sd * rolled

    def chance(self, p: float, *shape: int) -> Tensor:
        """1.0 with probability p, else 0.0."""
        return (self.uniform(0.0, 1.0, *shape) < p).float()

    def pick(self, *weights: float) -> Tensor:
        """(n, 1, 1) index, drawn with these weights."""
        table = torch.tensor(weights, device=self.device)
        drawn = torch.multinomial(table, self.n, replacement=True, generator=self.generator)
        return drawn.view(-1, 1, 1)

    def colour(self, *, saturation: float = 1.0) -> Tensor:
        """(n, 3, 1, 1) any linear-light colour, from black to white; most are not vivid."""
        value = self.uniform(0.0, 1.0, 1, 1, 1) ** 1.5
        hue = self.uniform(0.0, 1.0, 1, 1, 1)
        phase = torch.tensor([0.0, 1 / 3, 2 / 3], device=self.device).view(1, 3, 1, 1)
        wheel = (0.5 + 0.5 * torch.cos(2 * math.pi * (hue + phase))).clamp(0, 1) ** 1.5
        vivid = self.uniform(0.0, saturation, 1, 1, 1) ** 1.5
        return value * (1 - vivid + vivid * wheel)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heads:
    """``n`` heads. Face frame: toe plus, up plus, out (toward the camera) plus, mm, origin: face centroid.

    ``radius_mm``, ``tight`` (n, N_ANGLES): polar outline, and the cosine that turns a radial difference into
    a distance. The other fields are (n, 1, 1). A body is the outline swept backward: at depth fraction u it
    is scaled, shifted and grown as ``body_slice`` says.
    """

    radius_mm: Tensor
    tight: Tensor
    is_iron: Tensor
    length_mm: Tensor
    top_mm: Tensor
    bottom_mm: Tensor
    heel_mm: Tensor
    depth_mm: Tensor
    rim_mm: Tensor  # radius of the rounding between face and body
    swell_frac: Tensor  # how much wider the body gets behind the face
    rise_frac: Tensor  # how far the body's middle climbs (plus) or drops toward the back, of the face height
    close_power: Tensor  # how late the body closes toward its back end


def draw_heads(dice: SceneDice) -> Heads:
    """Roll ``dice.n`` heads: about two woods for one iron or wedge."""
    is_iron = dice.chance(0.34)
    points = torch.where(is_iron.unsqueeze(-1) > 0, _iron_points(dice), _wood_points(dice))
    radius = _polar(points[:, 0])
    step = 2 * math.pi / N_ANGLES
    slope = (radius.roll(-1, 1) - radius.roll(1, 1)) / (2 * step)
    angle = torch.arange(N_ANGLES, device=dice.device) * step
    x, y = radius * angle.cos(), radius * angle.sin()
    length = (x.amax(1) - x.amin(1)).view(-1, 1, 1)
    wood_depth = length * dice.uniform(0.3, 1.05)
    return Heads(
        radius_mm=radius,
        tight=torch.rsqrt(1 + (slope / radius) ** 2),
        is_iron=is_iron,
        length_mm=length,
        top_mm=y.amax(1).view(-1, 1, 1),
        bottom_mm=y.amin(1).view(-1, 1, 1),
        heel_mm=x.amin(1).view(-1, 1, 1),
        depth_mm=torch.where(is_iron > 0, dice.uniform(5, 24), wood_depth),
        rim_mm=torch.where(is_iron > 0, dice.log_uniform(0.2, 2.5), dice.log_uniform(0.4, 7.0)),
        swell_frac=torch.where(is_iron > 0, dice.uniform(-0.02, 0.02), dice.uniform(-0.02, 0.22)),
        rise_frac=torch.where(is_iron > 0, dice.uniform(-0.2, 0.0), dice.uniform(-0.3, 0.25)),
        close_power=torch.where(is_iron > 0, dice.uniform(2.0, 8.0), dice.uniform(1.6, 4.5)),
    )


def signed_mm(heads: Heads, x: Tensor, y: Tensor) -> Tensor:
    """Distance to the outline [mm], minus inside, of (n, H, W) positions; exact at the outline itself."""
    turn = torch.atan2(y, x) * (N_ANGLES / (2 * math.pi)) % N_ANGLES
    low = turn.floor()
    part = turn - low
    index = low.long().clamp_(0, N_ANGLES - 1).flatten(1)
    after = (index + 1) % N_ANGLES
    radius = torch.lerp(
        heads.radius_mm.gather(1, index), heads.radius_mm.gather(1, after), part.flatten(1)
    ).view_as(x)
    tight = heads.tight.gather(1, index).view_as(x)
    # Beside a sharp corner the cosine of its own direction is far too small; 0.6 keeps growth even there.
    beyond = torch.hypot(x, y) - radius
    return beyond * torch.where(beyond > 0, tight.clamp_min(0.6), tight)


def body_slice(heads: Heads, u: float) -> tuple[Tensor, Tensor, Tensor, Tensor]:
    """Scale along toe, scale along up, shift up [mm] and growth [mm] of the body at depth fraction ``u``."""
    closing = (1 - u**heads.close_power).clamp_min(0) ** 0.5
    swell = 1 + heads.swell_frac * 4 * u * (1 - u)
    # An iron is thick at the sole and thin at the topline: its back part is only the lower part of its face.
    thin = torch.where(heads.is_iron > 0, 1 - 0.75 * u, torch.ones_like(heads.depth_mm))
    height = heads.top_mm - heads.bottom_mm
    shift = heads.rise_frac * height * u + torch.where(
        heads.is_iron > 0, heads.bottom_mm * (1 - thin), torch.zeros_like(height)
    )
    along = (u * heads.depth_mm / heads.rim_mm).clamp_max(1)
    grow = heads.rim_mm * (1 - (1 - along) ** 2).clamp_min(0) ** 0.5
    return closing * swell + 1e-3, closing * swell * thin + 1e-3, shift, grow


def _wood_points(dice: SceneDice) -> Tensor:
    """(n, 1, N_ANGLES, 2) outline of a wood or hybrid: four superellipse quarters, then bent."""
    angle = torch.arange(N_ANGLES, device=dice.device) * (2 * math.pi / N_ANGLES)
    cos, sin = angle.cos().view(1, 1, -1), angle.sin().view(1, 1, -1)
    length = dice.log_uniform(56, 128)
    height = length / dice.uniform(1.28, 2.35)
    toe, up = dice.uniform(0.44, 0.56), dice.uniform(0.42, 0.58)
    half_x = torch.where(cos > 0, toe, 1 - toe) * length
    half_y = torch.where(sin > 0, up, 1 - up) * height
    power = torch.where(
        cos > 0,
        torch.where(sin > 0, dice.uniform(1.75, 3.2), dice.uniform(1.75, 3.0)),
        torch.where(sin > 0, dice.uniform(1.6, 2.6), dice.uniform(1.6, 2.6)),
    )
    radius = ((cos / half_x).abs() ** power + (sin / half_y).abs() ** power) ** (-1 / power)
    x, y = radius * cos, radius * sin
    y = y * (1 + dice.uniform(-0.1, 0.5) * x / length)  # taller toward the toe, as nearly all heads are
    y = y + dice.uniform(-0.12, 0.12) * x + dice.uniform(-0.12, 0.12) * x**2 / length
    x = x + dice.uniform(-0.15, 0.15) * y
    return _wobbled(dice, x, y, 0.010)


def _iron_points(dice: SceneDice) -> Tensor:
    """(n, 1, N_ANGLES, 2) outline of an iron or wedge: a polygon with round corners, high at the toe.

    The p-norm of the scaled distances to the sides is a convex gauge; its unit ball is the rounded polygon.
    """
    angle = torch.arange(N_ANGLES, device=dice.device) * (2 * math.pi / N_ANGLES)
    cos, sin = angle.cos().view(1, 1, -1), angle.sin().view(1, 1, -1)
    sides = [  # direction of the outward normal [deg], distance from the origin [mm]
        (dice.uniform(-95, -84), dice.uniform(20, 28)),  # leading edge
        (dice.uniform(-14, 14), dice.uniform(29, 42)),  # toe
        (dice.uniform(100, 122), dice.uniform(13, 22)),  # topline, falling toward the heel
        (dice.uniform(160, 205), dice.uniform(30, 44)),  # heel
        (dice.uniform(32, 68), dice.uniform(31, 44)),  # corner between toe and topline
        (dice.uniform(-62, -28), dice.uniform(28, 42)),  # corner between toe and sole
        (dice.uniform(-150, -115), dice.uniform(27, 42)),  # corner between heel and sole
    ]
    power = dice.log_uniform(5, 30)
    gauge = torch.zeros(dice.n, 1, N_ANGLES, device=dice.device)
    for normal_deg, distance in sides:
        normal = torch.deg2rad(normal_deg)
        reach = (normal.cos() * cos + normal.sin() * sin).clamp_min(0) / distance
        gauge = gauge + (reach * 20) ** power
    radius = 20 * gauge ** (-1 / power)
    x, y = radius * cos, radius * sin
    y = y + dice.uniform(-0.10, 0.16) * x**2 / 75  # a hollow or round topline, a cambered sole
    return _wobbled(dice, x * dice.uniform(0.9, 1.1), y, 0.006)


def _wobbled(dice: SceneDice, x: Tensor, y: Tensor, size_frac: float) -> Tensor:
    """The same outline with slow waves, and its points joined: (n, 1, N_ANGLES, 2)."""
    angle = torch.atan2(y, x)
    wave = torch.ones_like(angle)
    for order in (2, 3, 4, 5):
        phase = dice.uniform(0, 2 * math.pi)
        wave = wave + dice.normal(0, size_frac * 2 / order) * torch.cos(order * angle + phase)
    return torch.stack([x * wave, y * wave], -1)


def _polar(points: Tensor) -> Tensor:
    """(n, N_ANGLES) radius about the area centroid of (n, P, 2) closed polygons."""
    x, y = points[..., 0], points[..., 1]
    x_next, y_next = x.roll(-1, 1), y.roll(-1, 1)
    cross = x * y_next - x_next * y
    area = cross.sum(1, keepdim=True)
    x = x - ((x + x_next) * cross).sum(1, keepdim=True) / (3 * area)
    y = y - ((y + y_next) * cross).sum(1, keepdim=True) / (3 * area)
    angle, order = (torch.atan2(y, x) % (2 * math.pi)).sort(1)
    radius = torch.hypot(x, y).gather(1, order)
    angle = torch.cat([angle[:, -1:] - 2 * math.pi, angle, angle[:, :1] + 2 * math.pi], 1)
    radius = torch.cat([radius[:, -1:], radius, radius[:, :1]], 1)
    grid = torch.arange(N_ANGLES, device=points.device) * (2 * math.pi / N_ANGLES)
    grid = grid.expand(len(points), -1).contiguous()
    after = torch.searchsorted(angle.contiguous(), grid).clamp(1, angle.shape[1] - 1)
    left, right = angle.gather(1, after - 1), angle.gather(1, after)
    part = ((grid - left) / (right - left).clamp_min(1e-6)).clamp(0, 1)
    return torch.lerp(radius.gather(1, after - 1), radius.gather(1, after), part)
