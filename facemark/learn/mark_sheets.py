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

from facemark.learn.dice import HEIGHT_PX, PX_PER_MM, WIDTH_PX, Dice, column, map_grid, smooth_step
from facemark.learn.sheet_head import Outline, draw_metal, draw_outline, draw_powder, draw_score_lines
from facemark.learn.sheet_light import draw_daylight, draw_glare, photograph, put_in_front
from facemark.learn.sheet_prints import Prints, Touched, place_prints, press, wear

BEFORE_SHARE = 0.5  # of the faces come with the photo taken some balls earlier


@dataclass(slots=True)
class Sheets:
    """A batch of drawn faces with their truth.

    ``grey`` (n, H, W) 0 to 255 in whole steps; ``inside`` (n, H, W) 0 or 1, the believed outline;
    ``prints`` in mm from the picture's middle; ``union``, ``rim``, ``layers`` (n, H / 4, W / 4), 1 px/mm.
    ``before`` (m, H, W): of the first m faces the photo taken before the last balls, as well laid over this
    one as a program might; ``old`` (n, MOST_BALLS): 1.0 where a print was there already, 0 after the first m.
    """

    grey: Tensor
    inside: Tensor
    prints: Prints
    union: Tensor
    rim: Tensor
    layers: Tensor
    before: Tensor
    old: Tensor


@dataclass(slots=True)
class _Head:
    """What two photos of one face have in common, each (n, H, W) or for the whole picture.

    ``coat``: how its powder looks in light; ``fill``: powder in the score lines.
    """

    x: Tensor
    y: Tensor
    depth: Tensor
    metal: Tensor
    mirror: Tensor
    lines: Tensor
    fill: Tensor
    bevel: Tensor
    around: Tensor
    coat: dict[str, Tensor]

    def first(self, m: int) -> _Head:
        """Of the first ``m`` faces."""
        fields = {name: getattr(self, name)[:m] for name in self.__slots__ if name != "coat"}
        return _Head(**fields, coat={name: value[:m] for name, value in self.coat.items()})


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
    first_new = _first_new(dice, prints)
    virgin, mean = draw_powder(dice, depth, x, y, never)
    touched, lines, fill = _powder_after_play(dice, outline, virgin, mean, prints, first_new, x, y)
    metal, mirror = draw_metal(dice, x, y)
    bevel = 1.0 - column(dice.uniform(0.0, 0.7) * dice.chance(0.4)) * smooth_step(
        1.0 - depth / column(dice.uniform(0.5, 3.0))
    )
    around = column(dice.log_uniform(0.02, 0.7)) * torch.exp(0.5 * dice.noise(dice.noise_weights(0.5, 6.0)))
    head = _Head(x, y, depth, metal, mirror, lines, fill, bevel, around, _coat(dice))
    light = draw_daylight(dice, x, y)
    grey = _taken(dice, head, touched.thick, touched.pressed, light)
    inside = _believed(dice, outline, x, y)
    m = round(BEFORE_SHARE * n)
    before = _taken_before(dice, head.first(m), touched, light)
    slot = torch.arange(prints.there.shape[1], device=device)
    old = prints.there * (slot < first_new.view(-1, 1))
    old[m:] = 0.0
    labels = (_at_1_px_per_mm(t) for t in (touched.union, touched.rim, touched.layers))
    sheets = Sheets(grey, inside, prints, *labels, before, old)
    assert bool(torch.isfinite(grey).all()), "a drawn picture holds a number that is none"
    return sheets


def _first_new(dice: Dice, prints: Prints) -> Tensor:
    """(n,) slot of the first ball hit after the photo before: mostly one to five balls ago."""
    slot = torch.arange(prints.there.shape[1], device=dice.device)
    end = (prints.there * (slot + 1)).amax(dim=1)
    n_new = torch.floor(dice.uniform(1.0, 6.0)) * (1.0 - dice.chance(0.04))
    n_new = torch.where(dice.chance(0.1) > 0.5, torch.floor(dice.uniform(0.0, 13.0)), n_new)
    return (end - n_new).clamp(min=0.0)


def _powder_after_play(
    dice: Dice,
    outline: Outline,
    virgin: Tensor,
    mean: Tensor,
    prints: Prints,
    first_new: Tensor,
    x: Tensor,
    y: Tensor,
) -> tuple[Touched, Tensor, Tensor]:
    """Powder with all prints and wipes, plus the score lines and how full of powder they are."""
    lines = draw_score_lines(dice, x, y)
    # Spray bridges or misses a line: over virgin powder it shows faintly.
    virgin = virgin * (1.0 - lines * column(dice.uniform(-0.5, 0.7)))
    busy = dice.uniform(0.0, 1.6)
    virgin = wear(dice, virgin, outline, x, y, busy=0.6 * busy, kinds=("finger", "towel", "scratch"))
    touched = press(dice, virgin, mean, prints, first_new)
    left = wear(dice, torch.ones_like(virgin), outline, x, y, busy=busy)
    broken = torch.sigmoid(4.0 * (dice.noise(dice.noise_weights(2.0, 5.0)) + column(dice.uniform(-1.5, 3.0))))
    fill = broken * column(dice.uniform(0.3, 1.5) * dice.chance(0.75))
    # Powder below the face stays where a ball takes the rest; only where there was some to begin with.
    kept = lines * fill * torch.minimum(virgin, column(1.5 * mean))
    touched.thick = torch.maximum(touched.thick * left, kept)
    worn_then = torch.where(column(dice.chance(0.5)) > 0.5, left, torch.ones_like(left))
    touched.then_thick = torch.maximum(touched.then_thick * worn_then, kept)
    return touched, lines, fill


def _coat(dice: Dice) -> dict[str, Tensor]:
    """How the powder looks, whatever lies where: grain, clumps, tint, and what metal shows through."""
    wet = dice.uniform(0.3, 0.9) * dice.chance(0.12)
    # White to tinted; a wet coat is darker and lets the metal through.
    albedo = torch.where(dice.chance(0.8) > 0.5, dice.uniform(0.6, 0.95), dice.uniform(0.2, 0.6))
    coarse = column(torch.where(dice.fair, dice.log_uniform(0.02, 0.4), dice.log_uniform(0.02, 0.8)))
    grain = dice.noise(dice.noise_weights(-0.5, 1.5))
    return {
        "grain": torch.exp(coarse * grain - 0.5 * coarse**2),
        # Some powders sit in clumps: covered or not, hardly anything between.
        "clumps": 0.25 * dice.noise(dice.noise_weights(-0.5, 2.0)),
        "clump_edge": column(dice.uniform(0.05, 0.3)),
        "clumped": column(dice.uniform(0.0, 1.0) * dice.chance(0.35)),
        "tint": column(albedo * (1.0 - 0.4 * wet)) * (1.0 + 0.06 * dice.noise(dice.noise_weights(-0.5, 3.0))),
        "veil": column(0.03 * dice.uniform(0.0, 1.0) + 0.25 * wet),
        "line_shade": column(dice.uniform(0.2, 0.9)),
    }


def _taken(dice: Dice, head: _Head, thick: Tensor, pressed: Tensor, light: Tensor) -> Tensor:
    """(n, H, W) grey of one photo: powder over metal in this light, the surroundings, the phone."""
    mirrored = draw_glare(dice, head.x, head.y)
    mirrored = mirrored * column(dice.uniform(0.1, 1.0)) + mirrored * light * 0.3
    coat = head.coat
    cover = 1.0 - torch.exp(-thick * coat["grain"])
    clumps = torch.sigmoid((cover - 0.5 + coat["clumps"]) / coat["clump_edge"]) * smooth_step(cover / 0.05)
    cover = (1.0 - coat["clumped"]) * cover + coat["clumped"] * clumps
    shaded = coat["line_shade"] * head.lines * (1.0 - head.fill.clamp(0.0, 1.0))
    bare = (head.metal * light + head.mirror * mirrored) * (1.0 - shaded)
    powder = coat["tint"] * pressed * light + coat["veil"] * mirrored
    picture = (cover * powder + (1.0 - cover) * bare) * head.bevel
    inside = smooth_step(head.depth / 0.25 + 0.5)
    picture = picture * inside + head.around * light * (1.0 - inside)
    return photograph(dice, put_in_front(dice, picture, head.depth, head.x, head.y), inside)


def _taken_before(dice: Dice, head: _Head, touched: Touched, light: Tensor) -> Tensor:
    """(m, H, W) the photo before, in its own light, laid over the later one nearly right."""
    m = len(head.x)
    other = Dice(m, dice.generator, dice.device, without=dice.without)
    other.fair = dice.fair[:m]
    same = column(other.chance(0.4)) > 0.5
    light = torch.where(same, light[:m], draw_daylight(other, head.x, head.y))
    grey = _taken(other, head, touched.then_thick[:m], touched.then_pressed[:m], light)
    if "outline_error" in dice.without:
        return grey
    off = column(other.log_uniform(0.03, 1.2))
    toe = head.x * (1.0 + column(other.normal() * 0.003)) + head.y * column(other.normal() * 0.004)
    up = head.y * (1.0 + column(other.normal() * 0.004)) + head.x * column(other.normal() * 0.004)
    toe = toe + off * (column(other.normal()) + 0.3 * other.noise(other.noise_weights(5.0, 6.5)))
    up = up + off * (column(other.normal()) + 0.3 * other.noise(other.noise_weights(5.0, 6.5)))
    place = torch.stack([toe * (2 * PX_PER_MM / WIDTH_PX), -up * (2 * PX_PER_MM / HEIGHT_PX)], dim=3)
    return torch.nn.functional.grid_sample(grey[:, None], place, align_corners=False)[:, 0]


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
