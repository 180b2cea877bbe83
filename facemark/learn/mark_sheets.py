"""What would a photo of a powdered face look like if we knew every ball? Draws such faces, a batch at a time.

No real photo could be had, so breadth is the protection: every range is meant to be wider than the trade, and
nothing is tuned to any one picture. One picture is a rectified face of 72 x 128 mm at 4 px/mm, as
``facemark.see.rectify`` makes them, in grey. docs/reference/model-card-marks.md shows a sheet of them.

Order: head (outline, metal, graphics, score lines, powder), balls and wipes, light and glare, things in
front, the phone. Also draws the outline that the program would have believed, never quite the true one.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor

from facemark.learn.dice import Dice, column, map_grid, smooth_step
from facemark.learn.sheet_head import Outline, draw_metal, draw_outline, draw_powder, draw_score_lines
from facemark.learn.sheet_light import draw_daylight, draw_glare, photograph, put_in_front
from facemark.learn.sheet_prints import Prints, Touched, place_prints, press, wear


@dataclass(slots=True)
class Sheets:
    """A batch of drawn faces with their truth.

    ``grey`` (n, H, W) 0 to 255 in whole steps; ``inside`` (n, H, W) 0 or 1, the believed outline;
    ``prints`` in mm from the picture's middle; ``union``, ``rim``, ``layers`` (n, H / 4, W / 4), 1 px/mm.
    """

    grey: Tensor
    inside: Tensor
    prints: Prints
    union: Tensor
    rim: Tensor
    layers: Tensor


def draw_sheets(
    n: int, generator: torch.Generator, device: torch.device, *, without: frozenset[str] = frozenset()
) -> Sheets:
    """Draws ``n`` faces.

    Parameters
    ----------
    n : int
    generator : torch.Generator
        On ``device``; decides everything.
    device : torch.device
    without : frozenset of str
        Parts of ``dice.PARTS`` that are left out of the drawing.

    Returns
    -------
    Sheets
    """
    dice = Dice(n, generator, device, without=without)
    grid_x, grid_y = map_grid(device)
    x = grid_x.expand(n, -1, -1)
    y = grid_y.expand(n, -1, -1)
    outline = draw_outline(dice)
    depth = outline.depth_mm(x, y)
    never = dice.chance(0.03)
    prints = place_prints(dice, outline, never)
    virgin, mean = draw_powder(dice, depth, x, y, never)
    touched, lines, fill = _powder_after_play(dice, outline, virgin, mean, prints, x, y)
    light, mirrored = draw_daylight(dice, x, y), draw_glare(dice, x, y)
    metal, mirror = draw_metal(dice, x, y)
    picture = _lit(dice, touched, metal, mirror, light, mirrored, lines, fill)
    bevel = 1.0 - column(dice.uniform(0.0, 0.7) * dice.chance(0.4)) * smooth_step(
        1.0 - depth / column(dice.uniform(0.5, 3.0))
    )
    picture = picture * bevel
    around = column(dice.log_uniform(0.02, 0.7)) * torch.exp(0.5 * dice.noise(dice.noise_weights(0.5, 6.0)))
    true_inside = smooth_step(depth / 0.25 + 0.5)
    picture = picture * true_inside + around * light * (1.0 - true_inside)
    picture = put_in_front(dice, picture, depth, x, y)
    grey = photograph(dice, picture, true_inside)
    inside = _believed(dice, outline, x, y)
    labels = (_at_1_px_per_mm(t) for t in (touched.union, touched.rim, touched.layers))
    sheets = Sheets(grey, inside, prints, *labels)
    assert bool(torch.isfinite(grey).all()), "a drawn picture holds a number that is none"
    return sheets


def _powder_after_play(
    dice: Dice, outline: Outline, virgin: Tensor, mean: Tensor, prints: Prints, x: Tensor, y: Tensor
) -> tuple[Touched, Tensor, Tensor]:
    """Powder with all prints and wipes, plus the score lines and how full of powder they are."""
    lines = draw_score_lines(dice, x, y)
    # Spray bridges or misses a line: over virgin powder it shows faintly.
    virgin = virgin * (1.0 - lines * column(dice.uniform(-0.5, 0.7)))
    busy = dice.uniform(0.0, 1.6)
    virgin = wear(dice, virgin, outline, x, y, busy=0.6 * busy, kinds=("finger", "towel", "scratch"))
    touched = press(dice, virgin, mean, prints)
    touched.thick = wear(dice, touched.thick, outline, x, y, busy=busy)
    broken = torch.sigmoid(4.0 * (dice.noise(dice.noise_weights(2.0, 5.0)) + column(dice.uniform(-1.5, 3.0))))
    fill = broken * column(dice.uniform(0.3, 1.5) * dice.chance(0.75))
    # Powder below the face stays where a ball takes the rest; only where there was some to begin with.
    kept = lines * fill * torch.minimum(virgin, column(1.5 * mean))
    touched.thick = torch.maximum(touched.thick, kept)
    return touched, lines, fill


def _lit(
    dice: Dice,
    touched: Touched,
    metal: Tensor,
    mirror: Tensor,
    light: Tensor,
    mirrored: Tensor,
    lines: Tensor,
    fill: Tensor,
) -> Tensor:
    """Linear picture of powder over metal."""
    grain = dice.noise(dice.noise_weights(-0.5, 1.5))
    coarse = column(torch.where(dice.fair, dice.log_uniform(0.02, 0.4), dice.log_uniform(0.02, 0.8)))
    thick = touched.thick * torch.exp(coarse * grain - 0.5 * coarse**2)
    cover = 1.0 - torch.exp(-thick)
    # Some powders sit in clumps: covered or not, hardly anything between.
    clumps = torch.sigmoid(
        (cover - 0.5 + 0.25 * dice.noise(dice.noise_weights(-0.5, 2.0))) / column(dice.uniform(0.05, 0.3))
    )
    clumped = column(dice.uniform(0.0, 1.0) * dice.chance(0.35))
    cover = (1.0 - clumped) * cover + clumped * clumps * smooth_step(cover / 0.05)
    # White to tinted; a wet coat is darker and lets the metal through.
    albedo = torch.where(dice.chance(0.8) > 0.5, dice.uniform(0.6, 0.95), dice.uniform(0.2, 0.6))
    wet = dice.uniform(0.3, 0.9) * dice.chance(0.12)
    powder = (
        column(albedo * (1.0 - 0.4 * wet))
        * touched.pressed
        * (1.0 + 0.06 * dice.noise(dice.noise_weights(-0.5, 3.0)))
    )
    veil = column(0.03 * dice.uniform(0.0, 1.0) + 0.25 * wet)
    shaded = column(dice.uniform(0.2, 0.9)) * lines * (1.0 - fill.clamp(0.0, 1.0))
    mirrored = mirrored * column(dice.uniform(0.1, 1.0)) + mirrored * light * 0.3
    bare = (metal * light + mirror * mirrored) * (1.0 - shaded)
    return cover * (powder * light + veil * mirrored) + (1.0 - cover) * bare


def _believed(dice: Dice, outline: Outline, x: Tensor, y: Tensor) -> Tensor:
    """The outline as an outline finder might give it: shifted, scaled, wavy."""
    if "outline_error" in dice.without:
        return (outline.depth_mm(x, y) > 0.0).float()
    off = dice.log_uniform(0.1, 2.5)
    wavy = dice.noise(dice.noise_weights(5.0, 6.5)) * column(0.4 * off)
    scale_x, scale_y = 1.0 + dice.normal() * 0.012, 1.0 + dice.normal() * 0.02
    shift_x, shift_y = column(dice.normal() * off * 0.6), column(dice.normal() * off * 0.6)
    depth = outline.depth_mm((x - shift_x) * column(scale_x), (y - shift_y) * column(scale_y))
    return ((depth + wavy) > 0.0).float()


def _at_1_px_per_mm(field: Tensor) -> Tensor:
    return torch.nn.functional.avg_pool2d(field[:, None], 4)[:, 0]
