"""How far along the splitter's training is: quick looks at held-out faces, not the scores of the docs."""

from __future__ import annotations

import torch
from torch import Tensor, nn

from facemark.learn.mark_loss import losses, to_grid
from facemark.learn.mark_net import IN_PLANES, OUT_PLANES


def both_ways(batch: dict) -> list[dict]:
    """A served batch twice: the count not told, and told."""
    true = batch["there"].sum(dim=1)
    both = []
    for count in (torch.zeros_like(true), true):
        planes = batch["planes"].clone()
        planes[:, IN_PLANES.index("count")] = (count / 10.0).view(-1, 1, 1)
        both.append(batch | {"planes": planes})
    return both


@torch.no_grad()
def checked(net: nn.Module, check: list[dict]) -> dict[str, float]:
    """Held-out faces: the density's likelihood, count and middle, and F1 of plain peaks within 4 mm.

    "free" and "told": faces without a photo before; "new": with one, the number of new balls told.
    """
    said = {}
    for name, batch, paired in (
        ("free", check[0], False),
        ("told", check[1], False),
        ("new", check[1], True),
    ):
        chosen = batch["paired"] == paired
        batch = {key: value[chosen] for key, value in batch.items()}
        out = net(batch["planes"].to(memory_format=torch.channels_last)).float()
        said[f"{name}_density"] = round(float(losses(out, batch)["density"]), 4)
        rate = torch.exp(out[:, OUT_PLANES.index("density")].clamp(-14.0, 2.0))
        true = batch["there"].sum(dim=1)
        told = rate.sum(dim=(1, 2))
        said[f"{name}_count_err"] = round(float((told - true).abs().mean()), 3)
        column, row = to_grid(batch["x_mm"], batch["y_mm"])
        said[f"{name}_middle_mm"] = round(_middle_miss_mm(rate, column, row, batch["there"]), 3)
        said[f"{name}_f1"] = round(_peak_f1(out[:, 0].sigmoid(), column, row, batch["there"]), 4)
    return said


def _middle_miss_mm(rate: Tensor, column: Tensor, row: Tensor, there: Tensor) -> float:
    """Median miss of the density's middle, of faces with a print."""
    grid_x = torch.arange(rate.shape[2], device=rate.device)
    grid_y = torch.arange(rate.shape[1], device=rate.device)
    told, true = rate.sum(dim=(1, 2)).clamp(min=0.1), there.sum(dim=1).clamp(min=1.0)
    mine = torch.stack([(rate.sum(1) * grid_x).sum(1), (rate.sum(2) * grid_y).sum(1)]) / told
    right = torch.stack([(column * there).sum(1), (row * there).sum(1)]) / true
    return float((mine - right).norm(dim=0)[there.sum(dim=1) > 0].median())


def _peak_f1(centre: Tensor, column: Tensor, row: Tensor, there: Tensor) -> float:
    """F1 within 4 mm of peaks of at least 0.25, matched greedily: a quick look, not the score of the docs."""
    top = torch.nn.functional.max_pool2d(centre[:, None], 5, stride=1, padding=2)[:, 0]
    peaks = ((centre == top) & (centre > 0.25)).cpu()
    column, row, there = column.cpu(), row.cpu(), there.cpu()
    right = found = 0
    for i in range(len(peaks)):
        at_row, at_column = torch.nonzero(peaks[i], as_tuple=True)
        real = there[i] > 0.5
        found += len(at_row)
        if not len(at_row) or not bool(real.any()):
            continue
        far = torch.hypot(at_column[:, None] - column[i][real][None], at_row[:, None] - row[i][real][None])
        while far.numel() and float(far.min()) <= 4.0:
            k = int(far.argmin())
            right += 1
            far[k // far.shape[1], :] = 1e6
            far[:, k % far.shape[1]] = 1e6
    return 2.0 * right / max(1.0, found + float(there.sum()))
