"""The network that splits marks: a small residual U-Net from six planes at 4 px/mm to ten maps at 1 px/mm.

In: grey against the powder's level, local contrast, believed outline, declared count / 10 (0 if untold); then
the first two of the photo before, laid over this one. Zero there is what even powder gives: with no photo
before, every ball is new. Centres, density, offsets and radius are of the new balls, the rest is of all.
Out: in the order of OUT_PLANES. Output pixel (r, c) lies over input pixels 4r..4r+3, 4c..4c+3, so that a
mirrored picture gives the mirrored answer.
"""

from __future__ import annotations

import torch
import torch.nn.functional as nnf
from torch import Tensor, nn

IN_PLANES = ("grey", "contrast", "inside", "count", "before", "before_contrast")
OUT_PLANES = (
    "centre",  # logit: a centre lies here
    "density",  # log of balls per mm2
    "rim",  # logit
    "union",  # logit
    "layers",  # softplus: prints on top of one another
    "offset_x",  # mm to the nearest centre, x plus
    "offset_y",  # mm to the nearest centre, rows downward plus
    "log_sd_x",  # log mm, of the offset
    "log_sd_y",
    "radius",  # (mm - 10) / 3
)
WIDTHS = (16, 40, 64, 80, 96)
CONTRAST_BOX_PX = 33  # 8 mm: narrower than a print, wider than a dimple
POWDER_PERCENTILE = 0.85


class _Block(nn.Module):
    """Two convolutions beside a straight wire."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.first = nn.Conv2d(width, width, 3, padding=1, bias=False)
        self.first_norm = nn.BatchNorm2d(width)
        self.second = nn.Conv2d(width, width, 3, padding=1, bias=False)
        self.second_norm = nn.BatchNorm2d(width)

    def forward(self, x: Tensor) -> Tensor:
        inner = nnf.relu(self.first_norm(self.first(x)))
        return nnf.relu(x + self.second_norm(self.second(inner)))


def _joined(came: int, goes: int, *, stride: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(came, goes, 3, stride=stride, padding=1, bias=False), nn.BatchNorm2d(goes), nn.ReLU()
    )


class MarkNet(nn.Module):
    """(n, 6, H, W) planes to (n, 10, H / 4, W / 4) maps; H and W multiples of 32."""

    def __init__(self) -> None:
        super().__init__()
        w2, w4, w8, w16, w32 = WIDTHS
        self.to2 = nn.Sequential(
            nn.Conv2d(len(IN_PLANES), w2, 5, stride=2, padding=2, bias=False),
            nn.BatchNorm2d(w2),
            nn.ReLU(),
            _Block(w2),
        )
        self.to4 = nn.Sequential(_joined(w2, w4, stride=2), _Block(w4))
        self.to8 = nn.Sequential(_joined(w4, w8, stride=2), _Block(w8), _Block(w8))
        self.to16 = nn.Sequential(_joined(w8, w16, stride=2), _Block(w16))
        self.to32 = nn.Sequential(_joined(w16, w32, stride=2), _Block(w32), _Block(w32))
        self.back16 = _joined(w32 + w16, w16)
        self.back8 = nn.Sequential(_joined(w16 + w8, w8), _Block(w8))
        self.back4 = nn.Sequential(_joined(w8 + w4, w4), _Block(w4), _Block(w4))
        self.out = nn.Conv2d(w4, len(OUT_PLANES), 1)
        with torch.no_grad():
            self.out.bias.zero_()
            for name, start in (("centre", -4.0), ("density", -7.0), ("rim", -2.0), ("union", -2.0)):
                self.out.bias[OUT_PLANES.index(name)] = start

    def forward(self, planes: Tensor) -> Tensor:
        at2 = self.to2(planes)
        at4 = self.to4(at2)
        at8 = self.to8(at4)
        at16 = self.to16(at8)
        at32 = self.to32(at16)
        up = self.back16(torch.cat([nnf.interpolate(at32, scale_factor=2.0, mode="nearest"), at16], dim=1))
        up = self.back8(torch.cat([nnf.interpolate(up, scale_factor=2.0, mode="nearest"), at8], dim=1))
        up = self.back4(torch.cat([nnf.interpolate(up, scale_factor=2.0, mode="nearest"), at4], dim=1))
        return self.out(up)


def picture_planes(grey: Tensor, inside: Tensor) -> Tensor:
    """The first three planes (n, 3, H, W) of grey (n, H, W) 0 to 255 and outline (n, H, W) 0 or 1.

    facemark.see.splitter computes the same with OpenCV; a test holds both together.
    """
    grey, inside = grey.float(), inside.float()
    n = grey.shape[0]
    thin_grey, thin_in = grey[:, ::4, ::4].reshape(n, -1), inside[:, ::4, ::4].reshape(n, -1)
    ordered = torch.where(thin_in > 0.5, thin_grey, torch.full_like(thin_grey, 1e4)).sort(dim=1).values
    count = thin_in.sum(dim=1)
    rank = (POWDER_PERCENTILE * (count - 1)).clamp(min=0).long().view(-1, 1)
    level = ordered.gather(1, rank).clamp(min=8.0, max=255.0).view(-1, 1, 1)
    relative = grey / level
    share = _box_mean(inside)
    mean = _box_mean(relative * inside) / share.clamp(min=1e-3)
    square = _box_mean(relative * relative * inside) / share.clamp(min=1e-3)
    sd = (square - mean * mean).clamp(min=0.0).sqrt()
    contrast = ((relative - mean) / (sd + 0.02)).clamp(-4.0, 4.0) / 2.0
    return torch.stack([(relative - 1.0).clamp(-1.0, 1.5) * inside, contrast * inside, inside], dim=1)


def _box_mean(field: Tensor) -> Tensor:
    half = CONTRAST_BOX_PX // 2
    field = nnf.avg_pool2d(field[:, None], (1, CONTRAST_BOX_PX), stride=1, padding=(0, half))
    return nnf.avg_pool2d(field, (CONTRAST_BOX_PX, 1), stride=1, padding=(half, 0))[:, 0]
