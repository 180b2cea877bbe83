"""The face finder's network: a small residual U-Net, and the loss that teaches it.

Full resolution in and out, strides 1 to 32, nearest-neighbour upsampling, batch norm (folded away on export).
Only plain convolutions, additions and one global mean, so that cv2.dnn runs it as it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor, nn

from facemark.learn.face_scenes import MAPS

N_PROBABILITIES = 5  # face, head, shaft, edge, scale; four maps of directions follow
N_WAYS = 4
# How much the parts of the loss count.
MAP_WEIGHTS = (1.0, 0.5, 0.5, 0.7, 0.3)
OVERLAP_WEIGHT, WAY_WEIGHT = 0.5, 0.6
WIDTHS = (12, 20, 32, 44, 64, 80)  # channels at strides 1, 2, 4, 8, 16, 32
BLOCKS = (0, 1, 2, 2, 2, 1)


class Block(nn.Module):
    """Two 3 x 3 convolutions beside a straight path."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.body = nn.Sequential(
            nn.Conv2d(width, width, 3, padding=1, bias=False),
            nn.BatchNorm2d(width),
            nn.ReLU(inplace=True),
            nn.Conv2d(width, width, 3, padding=1, bias=False),
            nn.BatchNorm2d(width),
        )

    def forward(self, x: Tensor) -> Tensor:
        return F.relu(x + self.body(x))


def _step(wide_in: int, wide_out: int, kernel: int, stride: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(wide_in, wide_out, kernel, stride=stride, padding=kernel // 2, bias=False),
        nn.BatchNorm2d(wide_out),
        nn.ReLU(inplace=True),
    )


class FaceNet(nn.Module):
    """(n, 3, H, W) RGB in 0..1, H and W multiples of 32, to (n, 9, H, W) logits and directions."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = _step(3, WIDTHS[0], 3)
        self.down, self.fuse, self.up = nn.ModuleList(), nn.ModuleList(), nn.ModuleList()
        for k in range(1, len(WIDTHS)):
            blocks = [Block(WIDTHS[k]) for _ in range(BLOCKS[k])]
            self.down.append(nn.Sequential(_step(WIDTHS[k - 1], WIDTHS[k], 3, 2), *blocks))
        self.context = nn.Conv2d(WIDTHS[-1], WIDTHS[-1], 1)
        self.deepest = Block(WIDTHS[-1])
        for k in range(len(WIDTHS) - 2, -1, -1):
            self.fuse.append(_step(WIDTHS[k + 1] + WIDTHS[k], WIDTHS[k], 1))
            self.up.append(Block(WIDTHS[k]))
        self.head = nn.Conv2d(WIDTHS[0], len(MAPS), 1)

    def forward(self, picture: Tensor) -> Tensor:
        x, skips = self.down_to_deepest(picture)
        for skip, fuse, up in zip(reversed(skips), self.fuse, self.up, strict=True):
            x = F.interpolate(x, scale_factor=2.0, mode="nearest")
            x = up(fuse(torch.cat([x, skip], 1)))
        return self.head(x)

    def down_to_deepest(self, picture: Tensor) -> tuple[Tensor, list[Tensor]]:
        """Features at stride 32, and those at strides 1 to 16 that the way up joins in."""
        x = self.stem((picture - 0.5) * 4.0)
        skips = [x]
        for down in self.down:
            x = down(x)
            skips.append(x)
        # What the whole picture looks like decides how much each channel counts.
        x = self.deepest(x * torch.sigmoid(self.context(F.adaptive_avg_pool2d(x, 1))))
        return x, skips[:-1]


class Deployed(nn.Module):
    """The network as it is shipped: probabilities instead of logits, the same numbers in 0.85 of the time.

    A 1 x 1 convolution may come before the upsampling instead of behind it, on a quarter of the pixels; so
    each fusing convolution is split into its two inputs' parts, its batch norm folded in.
    """

    def __init__(self, net: FaceNet) -> None:
        super().__init__()
        self.net = net.eval()
        self.deep, self.side = nn.ModuleList(), nn.ModuleList()
        for fuse in net.fuse:
            whole = nn.utils.fusion.fuse_conv_bn_eval(fuse[0], fuse[1])
            wide = whole.out_channels
            deep = nn.Conv2d(whole.in_channels - wide, wide, 1, bias=False)
            side = nn.Conv2d(wide, wide, 1)
            with torch.no_grad():
                deep.weight.copy_(whole.weight[:, :-wide])
                side.weight.copy_(whole.weight[:, -wide:])
                side.bias.copy_(whole.bias)
            self.deep.append(deep)
            self.side.append(side)

    def forward(self, picture: Tensor) -> Tensor:
        x, skips = self.net.down_to_deepest(picture)
        for skip, deep, side, up in zip(reversed(skips), self.deep, self.side, self.net.up, strict=True):
            x = up(F.relu(F.interpolate(deep(x), scale_factor=2.0, mode="nearest") + side(skip)))
        raw = self.net.head(x)
        return torch.cat([torch.sigmoid(raw[:, :N_PROBABILITIES]), raw[:, N_PROBABILITIES:]], 1)


@dataclass(frozen=True, slots=True)
class Losses:
    """What a batch cost, in parts."""

    total: Tensor
    maps: Tensor
    overlap: Tensor
    way: Tensor


def face_loss(raw: Tensor, maps: Tensor) -> Losses:
    """Cross-entropy on the five maps, overlap of the face, squared error of directions within it.

    Squared error on a unit vector makes the network answer with the mean when it is unsure: the length of the
    answer then tells how sure it is of the toe's side.
    """
    raw, weights = raw.float(), raw.new_tensor(MAP_WEIGHTS, dtype=torch.float32).view(1, -1, 1, 1)
    truth = maps[:, :N_PROBABILITIES]
    entropy = F.binary_cross_entropy_with_logits(raw[:, :N_PROBABILITIES], truth, reduction="none") * weights
    face, edge = truth[:, 0], truth[:, 3]
    # Half of the outline's accuracy is decided in the few pixels at the edge.
    entropy = torch.cat([(entropy[:, :1] * (1 + 4 * edge.unsqueeze(1))), entropy[:, 1:]], 1)
    guess = torch.sigmoid(raw[:, 0])
    both, either = (guess * face).sum((1, 2)), (guess + face).sum((1, 2))
    overlap = 1 - (2 * both + 20) / (either + 20)
    miss = (raw[:, N_PROBABILITIES:] - maps[:, N_PROBABILITIES:]) ** 2
    inside = face.unsqueeze(1)
    miss = (miss * inside).sum((2, 3)) / (inside.sum((2, 3)) + 20)
    parts = entropy.mean() * len(weights[0]), overlap.mean(), miss.sum(1).mean()
    total = parts[0] + OVERLAP_WEIGHT * parts[1] + WAY_WEIGHT * parts[2]
    return Losses(total, *parts)
