"""What the network is taught: the true maps of drawn faces, and how far its answer is from them."""

from __future__ import annotations

import torch
import torch.nn.functional as nnf
from torch import Tensor

from facemark.learn.dice import HEIGHT_PX, PX_PER_MM, WIDTH_PX
from facemark.learn.mark_net import OUT_PLANES

CENTRE_SD_MM = 1.3
DENSITY_SD_MM = 1.2
NEAR_MM = 5.0  # offsets, their sd and radii are taught this near a centre

# Weights of the parts; the first two read marks, the rest help them. Set by hand, not searched.
WEIGHTS = {
    "centre": 0.5,
    "density": 1.0,
    "count": 0.6,
    "middle": 0.5,
    "spread": 0.3,
    "rim": 1.0,
    "union": 1.0,
    "layers": 0.3,
    "offset": 0.5,
    "radius": 0.2,
}


def losses(out: Tensor, truth: dict[str, Tensor]) -> dict[str, Tensor]:
    """Every part of the loss, unweighted.

    Parameters
    ----------
    out : (n, 10, h, w)
        Network's answer at 1 px/mm.
    truth : dict
        ``x_mm, y_mm, radius_mm, there`` (n, m) in mm from the picture's middle, y up; ``union, rim, layers``
        (n, h, w).
    """
    answer = {name: out[:, k].float() for k, name in enumerate(OUT_PLANES)}
    there = truth["there"]
    n_marks = there.sum().clamp(min=1.0)
    column, row = to_grid(truth["x_mm"], truth["y_mm"])
    h, w = out.shape[2:]
    grid_x = torch.arange(w, device=out.device, dtype=torch.float32)
    grid_y = torch.arange(h, device=out.device, dtype=torch.float32)
    dx = column[:, :, None] - grid_x  # (n, m, w): from pixel to centre
    dy = row[:, :, None] - grid_y
    peak = (
        torch.exp(-0.5 * dx**2 / CENTRE_SD_MM**2)[:, :, None, :]
        * torch.exp(-0.5 * dy**2 / CENTRE_SD_MM**2)[:, :, :, None]
    )
    centre = (peak * there[:, :, None, None]).amax(dim=1)
    kernel_x = torch.exp(-0.5 * dx**2 / DENSITY_SD_MM**2)
    kernel_y = torch.exp(-0.5 * dy**2 / DENSITY_SD_MM**2)
    kernel_x = kernel_x / kernel_x.sum(dim=2, keepdim=True).clamp(min=1e-6)
    kernel_y = kernel_y / kernel_y.sum(dim=2, keepdim=True).clamp(min=1e-6)
    density = torch.einsum("nmy,nmx->nyx", kernel_y * there[:, :, None], kernel_x)
    parts = {
        "centre": nnf.binary_cross_entropy_with_logits(answer["centre"], centre, reduction="sum") / n_marks,
        "rim": nnf.binary_cross_entropy_with_logits(answer["rim"], truth["rim"].clamp(0.0, 1.0)),
        "union": nnf.binary_cross_entropy_with_logits(answer["union"], truth["union"].clamp(0.0, 1.0)),
        "layers": nnf.smooth_l1_loss(nnf.softplus(answer["layers"]), truth["layers"]),
    }
    parts |= _density_parts(answer["density"], density, grid_x, grid_y, n_marks, there)
    parts |= _near_parts(answer, truth, dx, dy)
    return parts


def to_grid(x_mm: Tensor, y_mm: Tensor) -> tuple[Tensor, Tensor]:
    """Column and row on the 1 px/mm grid (pixel c over input pixels 4c..4c+3) of mm from the middle, y up."""
    column = (x_mm * PX_PER_MM + (WIDTH_PX - 1) / 2 - 1.5) / 4
    row = ((HEIGHT_PX - 1) / 2 - y_mm * PX_PER_MM - 1.5) / 4
    return column, row


def _density_parts(
    log_rate: Tensor, density: Tensor, grid_x: Tensor, grid_y: Tensor, n_marks: Tensor, there: Tensor
) -> dict[str, Tensor]:
    """Likelihood of the centres under a Poisson field, and its count, middle and spread."""
    rate = torch.exp(log_rate.clamp(-14.0, 2.0))
    parts = {"density": (rate - density * log_rate.clamp(-14.0, 2.0)).sum() / n_marks}
    told, true = rate.sum(dim=(1, 2)), there.sum(dim=1)
    parts["count"] = nnf.smooth_l1_loss(told, true)
    some = (true > 0).float()
    middle, spread = [], []
    for axis, grid in ((1, grid_x), (2, grid_y)):
        mine, right = rate.sum(dim=axis), density.sum(dim=axis)
        mine_mean = (mine * grid).sum(dim=1) / told.clamp(min=0.1)
        right_mean = (right * grid).sum(dim=1) / true.clamp(min=0.1)
        mine_var = (mine * (grid - mine_mean[:, None]) ** 2).sum(dim=1) / told.clamp(min=0.1)
        right_var = (right * (grid - right_mean[:, None]) ** 2).sum(dim=1) / true.clamp(min=0.1)
        middle.append(nnf.smooth_l1_loss(mine_mean, right_mean, reduction="none") * some)
        spread.append(
            nnf.smooth_l1_loss((mine_var + 0.5).sqrt(), (right_var + 0.5).sqrt(), reduction="none") * some
        )
    parts["middle"] = torch.stack(middle).mean()
    parts["spread"] = torch.stack(spread).mean()
    return parts


def _near_parts(
    answer: dict[str, Tensor], truth: dict[str, Tensor], dx: Tensor, dy: Tensor
) -> dict[str, Tensor]:
    """Offset to the nearest centre with its own doubt (Gaussian likelihood), and that print's radius."""
    far = dx[:, :, None, :] ** 2 + dy[:, :, :, None] ** 2
    far = far + (1.0 - truth["there"][:, :, None, None]) * 1e6
    least, which = far.min(dim=1)
    near = (least < NEAR_MM**2).float()
    area = near.sum().clamp(min=1.0)
    n, h, w = which.shape
    flat = which.view(n, -1)
    to_x = torch.gather(dx, 1, which).view(n, h, w)  # dx has no rows: which picks (n, h, w) along marks
    to_y = torch.gather(dy.transpose(1, 2), 2, which.flatten(2)).view(n, h, w)
    radius = torch.gather(truth["radius_mm"], 1, flat).view(n, h, w)
    log_x, log_y = answer["log_sd_x"].clamp(-2.5, 2.5), answer["log_sd_y"].clamp(-2.5, 2.5)
    miss_x = (answer["offset_x"] - to_x).clamp(-20.0, 20.0)
    miss_y = (answer["offset_y"] - to_y).clamp(-20.0, 20.0)
    likelihood = 0.5 * (miss_x**2 * torch.exp(-2 * log_x) + miss_y**2 * torch.exp(-2 * log_y)) + log_x + log_y
    return {
        "offset": (likelihood * near).sum() / area,
        "radius": (nnf.smooth_l1_loss(answer["radius"], (radius - 10.0) / 3.0, reduction="none") * near).sum()
        / area,
    }
