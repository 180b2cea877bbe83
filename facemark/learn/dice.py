"""Random numbers and random textures for drawn faces, many pictures at once.

A batch is drawn together, so every helper returns one value (or one field) per picture. All of it comes from
one ``torch.Generator``: the same seed draws the same pictures on the same kind of machine.
"""

from __future__ import annotations

import math

import torch
import torch.nn.functional as nnf
from torch import Tensor

PX_PER_MM = 4.0  # as facemark.see.rectify draws faces
HEIGHT_PX, WIDTH_PX = 288, 512  # 72 x 128 mm: the largest legal face with its margin; multiples of 32
FAIR_SHARE = 0.6
OCTAVES = 7  # noise scales: 0.25, 0.5, 1, 2, 4, 8, 16 mm


# What can be left out of the drawing, to see what it is good for.
PARTS = ("light", "dimples", "ring", "residue", "overprint", "thinning", "wear", "camera", "outline_error")


class Dice:
    """Draws for a batch of ``n`` pictures, without the named parts of PARTS."""

    def __init__(
        self,
        n: int,
        generator: torch.Generator,
        device: torch.device,
        *,
        without: frozenset[str] = frozenset(),
    ) -> None:
        self.n = n
        self.generator = generator
        self.device = device
        self.without = without
        # Most pictures are as a careful player makes them: covering powder, dark paint, clear prints.
        self.fair = self.chance(FAIR_SHARE) > 0.5

    def uniform(self, low: float, high: float, *shape: int) -> Tensor:
        """(n, *shape) even between ``low`` and ``high``."""
        draw = torch.rand((self.n, *shape), generator=self.generator, device=self.device)
        return low + (high - low) * draw

    def log_uniform(self, low: float, high: float, *shape: int) -> Tensor:
        """(n, *shape) even in the logarithm."""
        return torch.exp(self.uniform(math.log(low), math.log(high), *shape))

    def normal(self, *shape: int) -> Tensor:
        """(n, *shape) standard normal."""
        return torch.randn((self.n, *shape), generator=self.generator, device=self.device)

    def chance(self, share: float, *shape: int) -> Tensor:
        """(n, *shape) 1.0 in ``share`` of the cases, else 0.0."""
        return (self.uniform(0.0, 1.0, *shape) < share).float()

    def noise(self, weights: Tensor, size: tuple[int, int] = (HEIGHT_PX, WIDTH_PX)) -> Tensor:
        """(n, *size) noise of mean 0 and sd 1, mixed from scales.

        ``weights`` (n, OCTAVES): how much of each scale, finest (0.25 mm) first. Built from coarse to fine,
        doubling each time, so that all scales together cost little more than the finest.
        """
        steps = [(math.ceil(size[0] / 2**k) + 1, math.ceil(size[1] / 2**k) + 1) for k in range(OCTAVES)]
        field = None
        for k in range(OCTAVES - 1, -1, -1):
            fresh = self.normal(1, *steps[k]) * weights[:, k].view(-1, 1, 1, 1)
            if field is None:
                field = fresh
            else:
                field = nnf.interpolate(field, scale_factor=2, mode="bilinear", align_corners=False)
                field = field[:, :, : steps[k][0], : steps[k][1]] + fresh
        assert field is not None
        field = field[:, 0, : size[0], : size[1]]
        mean = field.mean(dim=(1, 2), keepdim=True)
        sd = field.std(dim=(1, 2), keepdim=True)
        return (field - mean) / (sd + 1e-6)

    def noise_weights(self, finest: float, coarsest: float) -> Tensor:
        """(n, OCTAVES) a random bump of scales whose middle lies between the two octave numbers."""
        middle = self.uniform(finest, coarsest, 1)
        width = self.uniform(0.5, 1.8, 1)
        octave = torch.arange(OCTAVES, device=self.device).view(1, -1)
        return torch.exp(-0.5 * ((octave - middle) / width) ** 2)

    def streaks(
        self, x_mm: Tensor, y_mm: Tensor, angle: Tensor, length_mm: Tensor, width_mm: Tensor
    ) -> Tensor:
        """(n, H, W) noise drawn out along ``angle`` (n,): brushed metal, wiped powder."""
        n = x_mm.shape[0]
        size = 192
        texture = torch.randn((n, 1, size, size), generator=self.generator, device=self.device)
        cos, sin = torch.cos(angle).view(-1, 1, 1), torch.sin(angle).view(-1, 1, 1)
        along = (x_mm * cos + y_mm * sin) / length_mm.view(-1, 1, 1)
        across = (y_mm * cos - x_mm * sin) / width_mm.view(-1, 1, 1)
        grid = torch.stack([along, across], dim=-1) * (2.0 / size)
        # Reflection keeps any coordinate valid; a repeat after 192 widths is not seen.
        return nnf.grid_sample(texture, grid, padding_mode="reflection", align_corners=False)[:, 0]


def column(value: Tensor) -> Tensor:
    """(n,) as (n, 1, 1), to meet a batch of pictures."""
    return value.view(-1, 1, 1)


def smooth_step(value: Tensor) -> Tensor:
    """0 below 0, 1 above 1, smooth between."""
    value = value.clamp(0.0, 1.0)
    return value * value * (3.0 - 2.0 * value)


def map_grid(device: torch.device) -> tuple[Tensor, Tensor]:
    """(H, W) x and y of the pixel centres [mm], the origin in the picture's middle, y up."""
    x = (torch.arange(WIDTH_PX, device=device) - (WIDTH_PX - 1) / 2) / PX_PER_MM
    y = ((HEIGHT_PX - 1) / 2 - torch.arange(HEIGHT_PX, device=device)) / PX_PER_MM
    return x.view(1, -1).expand(HEIGHT_PX, WIDTH_PX), y.view(-1, 1).expand(HEIGHT_PX, WIDTH_PX)
