"""What balls do to the powder: prints of 10 to 28 mm, and everything that is not a print but looks like one.

Prints are drawn in small windows around their centres, then laid on the powder one after another in the order
they were hit, because a later print may wipe, thin or overprint an earlier one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

from facemark.learn.dice import HEIGHT_PX, PX_PER_MM, WIDTH_PX, Dice, column, smooth_step
from facemark.learn.sheet_head import Outline

MOST_BALLS = 14
# Prints without a part of dice.PARTS: no dots, no ring, nothing left inside, one rule for prints on prints.
PLAIN = {
    "dimples": {"dots": 0.0},
    "ring": {"ring": 0.0},
    "residue": {"strength": 1.0, "differ": 0.0, "falloff": 0.0, "blotch": 0.0, "streak": 0.0, "dark": 1.0},
    "overprint": {"over": 0.0},
    "thinning": {"over": 1.0},
}
WINDOW_PX = 160  # 40 mm: a 28 mm print, drawn out, with its ring


@dataclass(slots=True)
class Prints:
    """True prints. ``x_mm, y_mm, radius_mm`` (n, MOST_BALLS); ``there`` 1.0 where a print exists."""

    x_mm: Tensor
    y_mm: Tensor
    radius_mm: Tensor
    there: Tensor


@dataclass(slots=True)
class Touched:
    """Powder after the balls, each (n, H, W).

    ``thick``: optical thickness; ``pressed``: factor on the powder's reflectance where it was only pressed;
    ``union``, ``rim``, ``layers``: what the network is taught beside the centres. ``then_thick``,
    ``then_pressed``: both as they were when only the earlier balls had been hit.
    """

    thick: Tensor
    pressed: Tensor
    then_thick: Tensor
    then_pressed: Tensor
    union: Tensor
    rim: Tensor
    layers: Tensor


def place_prints(dice: Dice, outline: Outline, never: Tensor) -> Prints:
    """0 to 14 prints in one group, two groups, or all over the face; centres on the face or just off it.

    None where ``never`` (n,) is 1: a face without powder shows nothing that could be taught.
    """
    n, m = dice.n, MOST_BALLS
    count = torch.floor(dice.uniform(1.0, 13.0)) + torch.floor(dice.uniform(0.0, 3.0)) * dice.chance(0.1)
    count = count * (1.0 - dice.chance(0.07)) * (1.0 - never)
    p = outline.params
    spread_x, spread_y = dice.log_uniform(3.5, 16.0), dice.log_uniform(2.5, 11.0)
    middle_x = dice.normal(2) * 9.0
    middle_y = dice.normal(2) * 5.0
    second = dice.chance(0.35, m) * dice.chance(0.3, 1)
    lean = dice.normal(1, 1) * 0.5
    # Six tries per print; the first one on the face counts.
    tries = 6
    across = dice.normal(m, tries)
    x = (
        across * spread_x.view(-1, 1, 1)
        + torch.where(second > 0.5, middle_x[:, 1:], middle_x[:, :1])[..., None]
    )
    y = (dice.normal(m, tries) + lean * across) * spread_y.view(-1, 1, 1)
    y = y + torch.where(second > 0.5, middle_y[:, 1:], middle_y[:, :1])[..., None]
    wide = dice.chance(0.22, 1, 1)
    half_a, half_b = p["a"].view(-1, 1, 1), p["b"].view(-1, 1, 1)
    x = torch.where(wide > 0.5, dice.uniform(-1.0, 1.0, m, tries) * half_a, x) + p["cx"].view(-1, 1, 1)
    y = torch.where(wide > 0.5, dice.uniform(-1.0, 1.0, m, tries) * half_b, y) + p["cy"].view(-1, 1, 1)
    depth = outline.depth_mm(x.reshape(n, -1), y.reshape(n, -1)).view(n, m, tries)
    fits = depth > dice.uniform(-1.0, 6.0, 1, 1)
    first = torch.argmax(fits.float(), dim=2, keepdim=True)
    x, y = x.gather(2, first)[..., 0], y.gather(2, first)[..., 0]
    on_map = (x.abs() < WIDTH_PX / PX_PER_MM / 2 - 1.0) & (y.abs() < HEIGHT_PX / PX_PER_MM / 2 - 1.0)
    slot = torch.arange(m, device=dice.device).view(1, -1)
    there = (fits.any(dim=2) & on_map & (slot < count.view(-1, 1))).float()
    usual = dice.uniform(8.0, 13.0, 1)
    any_size = dice.uniform(5.2, 13.8, 1)
    size = torch.where(dice.chance(0.75, 1) > 0.5, usual, any_size)
    radius = size * (1.0 + dice.normal(m) * dice.uniform(0.01, 0.10, 1))
    # An effort ladder: slow practice leaves small prints beside large ones.
    ladder = dice.uniform(0.55, 1.0, m)
    radius = torch.where(dice.chance(0.1, 1) > 0.5, radius * ladder, radius)
    return Prints(x_mm=x, y_mm=y, radius_mm=radius.clamp(5.0, 14.0), there=there)


def press(dice: Dice, virgin: Tensor, mean: Tensor, prints: Prints, first_new: Tensor) -> Touched:
    """Lays every print on the powder in the order of its slot, from ``first_new`` (n,) on the new ones."""
    device = dice.device
    style = _style(dice)
    # One window per existing print.
    owner, slot = torch.nonzero(prints.there > 0.5, as_tuple=True)
    pad = WINDOW_PX // 2
    thick = torch.nn.functional.pad(virgin, (pad, pad, pad, pad))
    start = thick.clone()
    pressed, union, rim, layers = (torch.full_like(thick, value) for value in (1.0, 0.0, 0.0, 0.0))
    if len(owner) == 0:
        fields = (thick, pressed, thick, pressed, union, rim, layers)
        return Touched(*(t[:, pad:-pad, pad:-pad] for t in fields))
    column_px = prints.x_mm * PX_PER_MM + (WIDTH_PX - 1) / 2
    row_px = (HEIGHT_PX - 1) / 2 - prints.y_mm * PX_PER_MM
    left = torch.floor(column_px).long()  # in the padded map this is the window's first column
    top = torch.floor(row_px).long()
    fine = torch.arange(WINDOW_PX, device=device)
    dx = (fine.view(1, 1, -1) - pad - (column_px - left)[owner, slot].view(-1, 1, 1)) / PX_PER_MM
    dy = ((row_px - top)[owner, slot].view(-1, 1, 1) + pad - fine.view(1, -1, 1)) / PX_PER_MM
    one = Dice(len(owner), dice.generator, device)
    shape = _window(one, dx, dy, prints.radius_mm[owner, slot], {k: v[owner] for k, v in style.items()})
    slots = slot.cpu()
    then_thick, then_pressed = thick.clone(), pressed.clone()
    for k in range(int(slots.max()) + 1):
        mine = torch.nonzero(slots == k)[:, 0].to(device)
        b = owner[mine].view(-1, 1, 1)
        rows = top[owner[mine], k].view(-1, 1, 1) + fine.view(1, -1, 1)
        columns = left[owner[mine], k].view(-1, 1, 1) + fine.view(1, 1, -1)
        at = (b, rows, columns)
        cover, taken, ring, edge, dark = (
            shape[key][mine] for key in ("cover", "taken", "ring", "edge", "dark")
        )
        over = column(style["over"][owner[mine]])
        before = thick[at]
        thinned = before * (1.0 - taken)
        own = (1.0 - cover) * thinned + cover * start[at] * (1.0 - taken)
        after = (1.0 - over) * thinned + over * own
        thick[at] = after + ring * column(mean[owner[mine]])
        was = pressed[at]
        pressed[at] = (1.0 - over) * was * dark + over * ((1.0 - cover) * was + cover * dark)
        union[at] = torch.maximum(union[at], cover)
        rim[at] = torch.maximum(rim[at] * (1.0 - over * cover), edge)
        layers[at] = layers[at] + cover
        earlier = column(first_new > k)
        then_thick = torch.where(earlier, thick, then_thick)
        then_pressed = torch.where(earlier, pressed, then_pressed)
    fields = (thick, pressed, then_thick, then_pressed, union, rim, layers)
    return Touched(*(t[:, pad:-pad, pad:-pad] for t in fields))


def _style(dice: Dice) -> dict[str, Tensor]:
    """What the prints of one picture have in common; each (n,)."""
    clean = dice.chance(0.5)
    only_pressed = dice.chance(0.08) * (~dice.fair).float()
    strength = torch.where(
        clean > 0.5,
        dice.uniform(0.85, 1.0),
        torch.where(dice.fair, dice.uniform(0.55, 0.95), dice.uniform(0.3, 0.9)),
    )
    strength = torch.where(only_pressed > 0.5, dice.uniform(0.1, 0.4), strength)
    dark = torch.where(
        only_pressed > 0.5, dice.uniform(0.35, 0.75), 1.0 - 0.35 * dice.uniform(0.0, 1.0) * dice.chance(0.3)
    )
    rule = dice.uniform(0.0, 1.0)
    style = {
        "strength": strength,
        "differ": dice.uniform(0.0, 0.15),
        "dark": dark,
        # 0: powder only gets thinner; 1: the last ball leaves its own print, whatever was there.
        "over": torch.where(
            rule < 0.5,
            torch.zeros_like(rule),
            torch.where(rule < 0.8, torch.ones_like(rule), dice.uniform(0.0, 1.0)),
        ),
        "rough": dice.log_uniform(0.004, 0.06),
        "ragged": dice.uniform(0.0, 1.5) * dice.chance(0.85),
        "edge": dice.log_uniform(0.12, 1.6),
        "falloff": dice.uniform(-0.9, 0.6) * dice.chance(0.6),
        "blotch": dice.uniform(0.0, 0.6) * dice.chance(0.7),
        "dots": dice.uniform(0.15, 1.0) * dice.chance(0.55),
        "dots_inverted": dice.chance(0.15),
        "pitch": dice.uniform(2.6, 5.2),
        "dot_level": dice.uniform(-0.6, 1.9),
        "dot_fade": dice.uniform(-1.2, 1.2),
        "dot_soft": dice.log_uniform(0.1, 0.8),
        "streak": dice.uniform(0.1, 0.8) * dice.chance(0.35),
        "streak_angle": math.pi / 2 + dice.normal() * 0.5,
        "streak_long": dice.uniform(3.0, 20.0),
        "streak_wide": dice.uniform(0.3, 1.5),
        "tail": dice.uniform(0.1, 0.9) * dice.chance(0.15),
        "tail_angle": dice.uniform(0.0, 2 * math.pi),
        "ring": dice.log_uniform(0.05, 1.2) * dice.chance(0.6),
        "ring_wide": dice.uniform(0.15, 0.9),
        "ring_out": dice.uniform(-0.5, 1.0),
        "ring_gaps": dice.uniform(-1.2, 1.2),
        "stretch": dice.normal() * 0.05,
        "stretch_angle": dice.uniform(0.0, math.pi),
    }
    for part, plain in PLAIN.items():
        if part in dice.without:
            style |= {name: torch.full_like(rule, value) for name, value in plain.items()}
    return style


def _window(one: Dice, dx: Tensor, dy: Tensor, radius: Tensor, s: dict[str, Tensor]) -> dict[str, Tensor]:
    """Every print in its own window: cover, share of powder taken, ring pushed out, rim, pressing."""
    size = (WINDOW_PX, WINDOW_PX)
    c = {k: column(v) for k, v in s.items()}
    dx, dy = dx.expand(-1, *size), dy.expand(-1, *size)
    # Common stretch (a wrong rectification, a glancing blow) and the print's own.
    x, y = _stretched(dx, dy, s["stretch_angle"], 1.0 + s["stretch"])
    x, y = _stretched(x, y, one.uniform(0.0, math.pi), 1.0 + one.normal().abs() * 0.05)
    # A tail where the ball slid: distances ahead count less.
    tail_angle = s["tail_angle"] + one.normal() * 0.4
    ahead = (x * column(torch.cos(tail_angle)) + y * column(torch.sin(tail_angle))).clamp(min=0.0)
    slid = 1.0 - 1.0 / (1.0 + c["tail"] * one.uniform(0.5, 1.0, 1, 1))
    x = x - ahead * slid * column(torch.cos(tail_angle))
    y = y - ahead * slid * column(torch.sin(tail_angle))
    r, turn = torch.hypot(x, y), torch.atan2(y, x)
    wave = torch.zeros_like(r)
    for k in range(2, 9):
        wave = wave + column(one.normal()) / k**0.7 * torch.cos(
            k * turn + column(one.uniform(0.0, 2 * math.pi))
        )
    fine = one.noise(one.noise_weights(0.0, 3.0), size)
    rim_at = column(radius) * (1.0 + c["rough"] * wave) + 0.55 * c["ragged"] * fine
    inner = (rim_at - r) / c["edge"]
    cover = torch.sigmoid(2.5 * inner) * smooth_step((19.5 - r) / 1.0)
    share = (r / column(radius)).clamp(max=1.3)
    blotch = one.noise(one.noise_weights(2.0, 5.0), size)
    strength = (s["strength"] * (1.0 - s["differ"] * one.normal().abs())).clamp(0.0, 1.0)
    kept = 1.0 - column(strength) * (1.0 + c["falloff"] * (share**2 - 0.4).clamp(-0.4, 0.6)).clamp(0.0, 1.3)
    kept = kept + c["blotch"] * 0.35 * blotch.clamp(-2.0, 2.0) * kept.clamp(0.15, 1.0)
    streaks = one.streaks(dx, dy, s["streak_angle"] + one.normal() * 0.1, s["streak_long"], s["streak_wide"])
    kept = kept + c["streak"] * 0.4 * streaks.clamp(min=0.0)
    dots = _dimples(one, x, y, c, fine) * share.clamp(0.05, 1.0) ** c["dot_fade"]
    kept = kept + c["dots"] * dots * (1.0 - kept) * one.uniform(0.6, 1.0, 1, 1)
    taken = cover * (1.0 - kept).clamp(0.0, 1.0)
    # Powder pushed out to a ring, broken here and there.
    broken = torch.sigmoid(3.0 * (one.noise(one.noise_weights(3.0, 5.5), size) + c["ring_gaps"]))
    off = (r - rim_at - c["ring_out"]) / c["ring_wide"]
    ring = (
        c["ring"]
        * one.uniform(0.3, 1.0, 1, 1)
        * torch.exp(-0.5 * off**2)
        * broken
        * (1.0 + 0.5 * fine).clamp(0.0, 2.0)
    )
    edge = torch.exp(-0.5 * ((r - rim_at) / 0.6) ** 2)
    dark = 1.0 - cover * (1.0 - c["dark"]) * (1.0 - c["dots"] * dots)
    return {"cover": cover, "taken": taken, "ring": ring, "edge": edge, "dark": dark}


def _stretched(x: Tensor, y: Tensor, angle: Tensor, factor: Tensor) -> tuple[Tensor, Tensor]:
    """Coordinates of a shape drawn out by ``factor`` (n,) along ``angle`` and squeezed across."""
    cos, sin, f = column(torch.cos(angle)), column(torch.sin(angle)), column(factor.clamp(0.75, 1.3).sqrt())
    u, v = (x * cos + y * sin) / f, (y * cos - x * sin) * f
    return u * cos - v * sin, u * sin + v * cos


def _dimples(one: Dice, x: Tensor, y: Tensor, c: dict[str, Tensor], fine: Tensor) -> Tensor:
    """Six-fold lattice of dots, some missing; 1 where a dimple spared the powder."""
    turn = column(one.uniform(0.0, math.pi))
    px, py = x + column(one.normal() * 3.0), y + column(one.normal() * 3.0)
    wave = torch.zeros_like(x)
    for k in range(3):
        angle = turn + k * math.pi / 3
        wave = wave + torch.cos(
            4 * math.pi / (math.sqrt(3) * c["pitch"]) * (px * torch.cos(angle) + py * torch.sin(angle))
        )
    missing = one.noise(one.noise_weights(3.5, 5.5), (WINDOW_PX, WINDOW_PX)) * column(one.uniform(0.0, 1.2))
    dots = torch.sigmoid((wave - c["dot_level"] + 0.4 * fine + missing - 0.5) / c["dot_soft"])
    return torch.where(c["dots_inverted"] > 0.5, 1.0 - dots, dots)


WEAR = ("tee", "finger", "touch", "towel", "scratch", "scratch")


def wear(
    dice: Dice,
    thick: Tensor,
    outline: Outline,
    x_mm: Tensor,
    y_mm: Tensor,
    *,
    busy: Tensor,
    kinds: tuple[str, ...] = WEAR,
) -> Tensor:
    """Takes powder away where no ball did: tee streaks, fingers, towels, scratches, drops of water.

    ``busy`` (n,) scales how often. Strokes have rounded ends and streaks along them, as a real wipe has.
    """
    if "wear" in dice.without:
        return thick
    p = outline.params
    for kind in kinds:
        chance = {"tee": 0.15, "finger": 0.08, "touch": 0.07, "towel": 0.07, "scratch": 0.2}[kind]
        angle = dice.uniform(0.0, math.pi)
        x0 = p["cx"] + dice.uniform(-1.0, 1.0) * p["a"]
        y0 = p["cy"] + dice.uniform(-1.0, 1.0) * p["b"]
        if kind == "tee":
            angle = math.pi / 2 + dice.normal() * 0.5
            y0 = p["cy"] - p["b"] * dice.uniform(0.5, 1.1)
            length, width = dice.uniform(3.0, 22.0), dice.uniform(1.5, 6.0)
        elif kind == "finger":
            length, width = dice.uniform(12.0, 60.0), dice.uniform(5.0, 15.0)
        elif kind == "touch":  # a thumb at the edge where the head was held
            rise = dice.uniform(0.0, 2 * math.pi)
            x0 = p["cx"] + p["a"] * torch.cos(rise) * dice.uniform(0.85, 1.1)
            y0 = p["cy"] + p["b"] * torch.sin(rise) * dice.uniform(0.85, 1.1)
            length, width = dice.uniform(0.0, 8.0), dice.uniform(5.0, 12.0)
        elif kind == "towel":
            length, width = dice.uniform(20.0, 100.0), dice.uniform(15.0, 50.0)
        else:
            length, width = dice.uniform(3.0, 50.0), dice.uniform(0.15, 0.8)
        cos, sin = column(torch.cos(angle)), column(torch.sin(angle))
        x, y = x_mm - column(x0), y_mm - column(y0)
        bend = column(dice.normal() * 0.006)
        along, across = x * cos + y * sin, y * cos - x * sin
        across = across - bend * along**2
        half = column(length) / 2
        far = torch.hypot((along.abs() - half).clamp(min=0.0), across)
        ragged = dice.streaks(x_mm, y_mm, angle, dice.uniform(10.0, 40.0), dice.uniform(0.3, 2.0))
        soft = column(dice.log_uniform(0.15, 2.5))
        inside = torch.sigmoid(2.5 * (column(width) / 2 - far + 0.25 * soft * ragged) / soft)
        fade = (0.5 + 0.5 * (along / (half + column(width) / 2)).clamp(-1.0, 1.0)) ** column(
            dice.uniform(0.0, 1.5)
        )
        force = column(dice.uniform(0.2, 1.0)) * (1.0 + column(dice.uniform(0.0, 0.5)) * ragged).clamp(
            0.0, 1.2
        )
        taken = (inside * fade * force).clamp(0.0, 1.0) * column(
            (dice.uniform(0.0, 1.0) < chance * busy).float()
        )
        thick = thick * (1.0 - taken)
    return thick
