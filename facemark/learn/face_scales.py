"""The scale objects of a drawn scene: tags on a sheet, card, ruler, ball."""

from __future__ import annotations

import torch
from torch import Tensor

from facemark.learn.face_light import Light, bumps
from facemark.learn.face_shapes import Heads, SceneDice
from facemark.learn.face_view import View

BALL_MM = 42.67  # Equipment Rules: at least this
CARD_MM = (85.60, 53.98)  # ISO/IEC 7810 ID-1


def draw_scale_objects(
    dice: SceneDice, view: View, heads: Heads, light: Light, picture: Tensor
) -> tuple[Tensor, Tensor]:
    """The picture with tags, a card, a ball or a ruler in it (or none), and the cover of them all."""
    zero = torch.zeros(1, 1, 1, device=dice.device)
    lit = light.matt(view, (zero, zero, zero + 1))
    total = torch.zeros_like(view.ray_x)
    for draw, share in ((_tags, 0.42), (_card, 0.25), (_ruler, 0.1)):
        colour, cover = draw(dice, view, heads)
        cover = cover * dice.chance(share)
        picture = torch.lerp(picture, colour * lit, cover.unsqueeze(1))
        total = torch.maximum(total, cover)
    for share in (0.3, 0.08):
        colour, cover = _ball(dice, view, heads, light)
        cover = cover * dice.chance(share)
        picture = torch.lerp(picture, colour, cover.unsqueeze(1))
        total = torch.maximum(total, cover)
    return picture, total


def _beside(dice: SceneDice, view: View, heads: Heads, half: tuple[Tensor, Tensor]) -> tuple[Tensor, Tensor]:
    """Plane coordinates [mm] of a flat thing of these half sizes next to the face, a little askew."""
    gap = dice.log_uniform(2, 45)
    where = dice.pick(0.4, 0.35, 0.08, 0.17)
    toe = heads.length_mm * 0.5 + gap + half[0]
    below, above = heads.bottom_mm - gap - half[1], heads.top_mm + gap + half[1]
    slide = dice.normal(0, 15)
    at_toe = torch.where(where == 0, toe, torch.where(where == 3, dice.uniform(-180, 180), slide))
    at_up = torch.where(where == 0, slide, torch.where(where == 1, below, above))
    at_up = torch.where(where == 3, dice.uniform(-140, 140), at_up)
    place = torch.cat([at_toe, at_up, dice.normal(-8, 12)], -1)
    origin = (place @ view.axes.transpose(1, 2))[:, 0] + view.origin_mm
    lean = torch.eye(3, device=dice.device) + _small_turn(dice, 0.1)
    # One step of Gram-Schmidt keeps the small turn a rotation.
    first, second = lean[:, :, 0], lean[:, :, 1]
    first = first / first.norm(dim=1, keepdim=True)
    second = second - (second * first).sum(1, keepdim=True) * first
    second = second / second.norm(dim=1, keepdim=True)
    axes = view.axes @ torch.stack([first, second, torch.linalg.cross(first, second)], 2)
    return view.on_plane(axes, origin)


def _small_turn(dice: SceneDice, sd: float) -> Tensor:
    a, b, c = (dice.normal(0, sd) for _ in range(3))
    zero = torch.zeros_like(a)
    return torch.cat([zero, -c, b, c, zero, -a, -b, a, zero], -1).view(-1, 3, 3)


def _tags(dice: SceneDice, view: View, heads: Heads) -> tuple[Tensor, Tensor]:
    """A strip or an L of black square tags on white paper; half the time a larger sheet."""
    side, margin, gap = dice.uniform(14, 34), dice.uniform(2, 9), dice.uniform(3, 12)
    n_tags = dice.uniform(1, 6).floor()
    pitch = side + gap
    long, short = (n_tags * pitch - gap) / 2 + margin, side / 2 + margin
    stands, ell = dice.chance(0.4), dice.chance(0.25)
    half = torch.where(stands > 0, short, long), torch.where(stands > 0, long, short)
    p, q = _beside(dice, view, heads, half)
    p, q = torch.where(stands > 0, q, p), torch.where(stands > 0, p, q)
    ink = _tag_ink(dice, p + long - margin, q + side / 2, side, pitch, n_tags)
    sheet = torch.maximum(p.abs() - long, q.abs() - short)
    # The other arm of the L runs along q at the near end of the strip.
    p2, q2 = q + short - margin, p + long - margin
    arm = torch.maximum((q - long + short).abs() - long, (p + long - short).abs() - short)
    ink = torch.maximum(ink, _tag_ink(dice, p2, q2, side, pitch, n_tags) * ell)
    sheet = torch.where(ell > 0, torch.minimum(sheet, arm), sheet)
    paper = torch.maximum(p.abs() - long - dice.uniform(0, 60), q.abs() - short - dice.uniform(0, 60))
    sheet = torch.where(dice.chance(0.25) > 0, torch.minimum(sheet, paper), sheet)
    white, black = dice.uniform(0.45, 0.95, 1, 1, 1), dice.uniform(0.005, 0.08, 1, 1, 1)
    tint = white * dice.uniform(0.93, 1.03, 3, 1, 1)
    colour = torch.lerp(
        tint.expand(-1, -1, *p.shape[1:]), black.expand(-1, 3, *p.shape[1:]), ink.unsqueeze(1)
    )
    return colour, (0.5 - sheet / view.mm_per_px).clamp(0, 1)


def _tag_ink(dice: SceneDice, p: Tensor, q: Tensor, side: Tensor, pitch: Tensor, n_tags: Tensor) -> Tensor:
    """1 where a row of square tags is black; p, q [mm] from the first tag's corner."""
    number = (p / pitch).floor()
    column, row = ((p - number * pitch) / side * 6).floor(), (q / side * 6).floor()
    on = (number >= 0) & (number < n_tags) & (column >= 0) & (column < 6) & (row >= 0) & (row < 6)
    border = (column == 0) | (column == 5) | (row == 0) | (row == 5)
    code = torch.sin(number * 91.7 + column * 12.99 + row * 78.23 + dice.uniform(0, 99)) * 437.585
    return (on & (border | ((code - code.floor()) > 0.5))).float()


def _card(dice: SceneDice, view: View, heads: Heads) -> tuple[Tensor, Tensor]:
    """A bank card of any colour, lying or standing, with a stripe, a chip and print; rounded corners."""
    stands = dice.chance(0.4)
    a, b = CARD_MM[0] / 2, CARD_MM[1] / 2
    half = torch.where(stands > 0, b, a), torch.where(stands > 0, a, b)
    p, q = _beside(dice, view, heads, half)
    p, q = torch.where(stands > 0, q, p), torch.where(stands > 0, p, q)
    corner = torch.hypot((p.abs() - a + 3.18).clamp_min(0), (q.abs() - b + 3.18).clamp_min(0)) - 3.18
    edge = torch.maximum(corner, torch.maximum(p.abs() - a, q.abs() - b))
    base = dice.colour() * (1 + 0.004 * dice.normal(0, 1) * p).clamp(0.4, 1.6).unsqueeze(1)
    stripe = ((q - dice.uniform(-18, 18)).abs() < dice.uniform(1, 7)).float() * dice.chance(0.4)
    chip = torch.maximum((p + 28).abs() / 6, (q - 2).abs() / 5).lt(1).float() * dice.chance(0.4)
    print_ = (torch.sin(p * dice.uniform(1, 2.4)) * torch.sin(p * 0.7) > 0.1) & ((q + 12).abs() < 2.2)
    mark = torch.maximum(torch.maximum(stripe, chip), print_.float() * dice.chance(0.5))
    return torch.lerp(base, dice.colour(), mark.unsqueeze(1)), (0.5 - edge / view.mm_per_px).clamp(0, 1)


def _ruler(dice: SceneDice, view: View, heads: Heads) -> tuple[Tensor, Tensor]:
    """A ruler: a long pale strip with ticks."""
    long, short = dice.uniform(50, 160), dice.uniform(8, 18)
    p, q = _beside(dice, view, heads, (long, short))
    edge = torch.maximum(p.abs() - long, q.abs() - short)
    tall = torch.where((p / 10 % 1) < 0.1, 0.7, 0.35)
    tick = ((p % 1) < 0.35) & (q > short * (1 - tall)) & (view.mm_per_px < 0.8) | ((p / 10 % 1) < 0.05) & (
        q > 0.3 * short
    )
    pale = dice.colour(saturation=0.5) * 0.5 + 0.4
    return pale * (1 - 0.9 * tick.float()).unsqueeze(1), (0.5 - edge / view.mm_per_px).clamp(0, 1)


def _ball(dice: SceneDice, view: View, heads: Heads, light: Light) -> tuple[Tensor, Tensor]:
    """A ball with dimples, mostly white, shaded as a sphere; often touching the ground near the face."""
    radius = BALL_MM / 2
    side = dice.chance(0.5)
    toe = torch.where(side > 0, heads.length_mm * 0.5 + radius + dice.log_uniform(1, 60), dice.normal(0, 45))
    up = torch.where(side > 0, dice.normal(-8, 14), heads.bottom_mm - radius - dice.log_uniform(1, 60))
    centre, depth = view.project(torch.cat([toe, up, dice.normal(-5, 14)], -1))
    big = radius * view.focal_px / depth.unsqueeze(-1)
    x, y = view.grid_px()
    s_x, s_y = (x - centre[..., :1]) / big, (y - centre[..., 1:]) / big
    away = torch.hypot(s_x, s_y)
    near = (1 - away**2).clamp_min(0).sqrt()
    fine = (1.2 / view.mm_per_px).clamp_max(1)
    lattice = bumps(
        s_x.clamp(-1, 1).asin() * radius,
        s_y.clamp(-1, 1).asin() * radius,
        dice.uniform(3, 4),
        dice.uniform(0, 3),
    )
    dent = (dice.uniform(0.0, 0.35) * fine * lattice).clamp(-0.4, 0.4)
    tip = (1 + dent) / away.clamp_min(1)  # outside the disc any unit vector will do
    parts = (s_x * tip, s_y * tip, -near)
    normal = tuple(sum(view.axes[:, r, k].view(-1, 1, 1) * parts[r] for r in range(3)) for k in range(3))
    white = torch.where(dice.chance(0.85, 1, 1, 1) > 0, dice.uniform(0.6, 0.92, 1, 1, 1), dice.colour())
    band = ((s_x * dice.normal(0, 1) + s_y).abs() < 0.06).float() * dice.chance(0.35) * (near > 0.3)
    white = torch.lerp(white.expand(-1, 3, *away.shape[1:]), dice.colour(), band.unsqueeze(1))
    colour = light.glossy(view, normal, white, (0.04 * torch.ones_like(away)))
    return colour * (1 - dent).unsqueeze(1), (0.5 + (1 - away) * big).clamp(0, 1)
