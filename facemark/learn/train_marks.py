"""Trains the network that splits marks, on drawn faces alone.

    python -m facemark.learn.train_marks --out DIR --seconds 500 --plan-seconds 1000
    python -m facemark.learn.train_marks --out DIR --seconds 500 --plan-seconds 1000 --done-seconds 500 \\
        --resume DIR/marks.pt

``--start marks.onnx --peak-rate 1e-3`` goes on from shipped weights instead of from nothing. ``--without
NAME`` leaves a plane, a part of the loss or a part of the drawing out (ablate_marks.py compares them all).

One GPU, about 2 x 500 s. The learning rate follows the planned time, not a number of steps, so a slower card
trains less but still ends at rest. Writes DIR/marks.pt (network, its running mean, the optimiser's state) and
a log; ``--export DIR/marks.pt`` turns the running mean into DIR/marks.onnx. Not needed to read photos.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import random
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TextIO

import torch
import torch.nn.functional as nnf
from torch import Tensor

from facemark.learn.check_marks import both_ways, checked
from facemark.learn.dice import PARTS
from facemark.learn.mark_loss import WEIGHTS, losses
from facemark.learn.mark_net import IN_PLANES, OUT_PLANES, MarkNet, picture_planes
from facemark.learn.mark_sheets import Sheets, draw_sheets
from facemark.learn.onnx_weights import folded_weights, start_from

TOLD_SHARE = 0.5  # of the pictures carry a declared count
TOLD_WRONG_SHARE = 0.2  # of those, off by one or two
UNPAIRED_SHARE = 0.25  # of the faces with a photo before are shown without it
PEAK_RATE = 2.0e-3
WARM_SECONDS = 15.0
KEEP_BATCHES = 80  # drawn batches kept for another turn
MEAN_KEEP = 0.9985  # of the running mean, per step
# What --without may name, beside dice.PARTS: planes held at zero, and losses left out.
WITHOUT_PLANES = {"contrast": (1, 5), "outline": (2,), "count": (3,), "before": (4, 5)}
WITHOUT_LOSSES = {
    "density_loss": ("density", "count", "middle", "spread"),
    "group_loss": ("count", "middle", "spread"),
    "offset_loss": ("offset",),
    "helper_losses": ("rim", "union", "layers", "radius"),
}
WITHOUT = (*WITHOUT_PLANES, *WITHOUT_LOSSES, "mirrors", *PARTS)
CHECK_SEED = 990_017
LOG_SECONDS = 20.0


def main() -> None:
    """Reads the command line; trains or exports."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=500.0, help="how long this call may take")
    parser.add_argument("--plan-seconds", type=float, default=1000.0, help="all calls together")
    parser.add_argument("--done-seconds", type=float, default=0.0, help="of earlier calls")
    first = parser.add_mutually_exclusive_group()
    first.add_argument("--resume", type=Path, help="marks.pt of an earlier call")
    first.add_argument("--start", type=Path, help="marks.onnx to go on from")
    parser.add_argument("--peak-rate", type=float, default=PEAK_RATE)
    parser.add_argument(
        "--without", nargs="*", default=[], choices=WITHOUT, metavar="NAME", help=str(WITHOUT)
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--turns", type=int, default=3, help="steps per drawn batch")
    parser.add_argument("--check", type=int, default=256, help="held-out faces")
    parser.add_argument("--compile", action="store_true", help="compile the network first (Triton, 1 minute)")
    parser.add_argument("--export", type=Path, help="only write this checkpoint as ONNX")
    told = parser.parse_args()
    told.out.mkdir(parents=True, exist_ok=True)
    if told.export is not None:
        print(export(told.export, told.out / "marks.onnx"))
    else:
        train(told)


def train(told: argparse.Namespace) -> None:
    """One call's worth of training."""
    start = time.monotonic()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    seed = told.seed * 1_000_003 + int(told.done_seconds)
    torch.manual_seed(seed)
    order = random.Random(seed)
    generator = torch.Generator(device=device).manual_seed(seed)
    without = frozenset(told.without)
    net = MarkNet().to(device, memory_format=torch.channels_last)
    if told.start is not None:
        faces = packed(draw_sheets(told.check // 2, generator, device))
        start_from(net, folded_weights(told.start), served(faces, generator, order, without)["planes"])
    optimiser = optimiser_of(net)
    mean_net = copy.deepcopy(net).eval()
    walked, loss_of = (torch.compile(net), torch.compile(losses)) if told.compile else (net, losses)
    step = 0
    if told.resume is not None:
        step = _load(told.resume, net, mean_net, optimiser)
    check = check_batch(told.check, device, without)
    log = (told.out / "train_marks.log").open("a", encoding="utf-8")
    _say(log, {"before": step} | checked(mean_net, check))
    drawn, shown_at, sums, n_sums = 0, start, {}, 0
    net.train()
    for batch in batches(told.batch, told.turns, generator, device, order, without):
        gone = time.monotonic() - start
        if gone > told.seconds:
            break
        for group in optimiser.param_groups:
            group["lr"] = told.peak_rate * _rate((told.done_seconds + gone), told.plan_seconds)
        parts = downhill(walked, loss_of, optimiser, batch, device, without)
        step += 1
        follow(mean_net, net, step)
        drawn += batch["fresh"] * told.batch
        n_sums += 1
        for name, value in parts.items():
            sums[name] = sums.get(name, 0.0) + value
        if time.monotonic() - shown_at > LOG_SECONDS:
            line = {
                "seconds": round(gone),
                "step": step,
                "drawn": drawn,
                "rate": optimiser.param_groups[0]["lr"],
            }
            line |= {name: round(float(value) / n_sums, 4) for name, value in sums.items()}
            line |= checked(mean_net, check)
            _say(log, line)
            assert math.isfinite(line["density"]), "the loss is not a number"
            shown_at, sums, n_sums = time.monotonic(), {}, 0
            _save(told.out / "marks.pt", net, mean_net, optimiser, step)
    _save(told.out / "marks.pt", net, mean_net, optimiser, step)
    line = {"end": round(time.monotonic() - start), "step": step, "drawn": drawn} | checked(mean_net, check)
    _say(log, line)
    print(export(told.out / "marks.pt", told.out / "marks.onnx"))


def check_batch(n: int, device: torch.device, without: frozenset[str] = frozenset()) -> list[dict]:
    """Held-out faces, the same at every look: once told, once not."""
    generator = torch.Generator(device=device).manual_seed(CHECK_SEED)
    fixed = random.Random(1)
    fixed.random = lambda: 1.0  # never mirrored
    batch = served(packed(draw_sheets(n, generator, device)), generator, fixed, without)
    return [one | {"planes": blanked(one["planes"], without)} for one in both_ways(batch)]


def _say(log: TextIO, line: dict) -> None:
    print(json.dumps(line), file=log, flush=True)
    print(json.dumps(line), flush=True)


def _rate(done: float, plan: float) -> float:
    """Share of the peak rate: short warm-up, then a cosine to 1 %."""
    warm = min(1.0, (done + 0.5) / WARM_SECONDS)
    return warm * (0.01 + 0.99 * 0.5 * (1.0 + math.cos(math.pi * min(1.0, done / plan))))


def optimiser_of(net: MarkNet) -> torch.optim.AdamW:
    """Only weights of convolutions decay."""
    decayed = [p for p in net.parameters() if p.dim() > 1]
    plain = [p for p in net.parameters() if p.dim() <= 1]
    return torch.optim.AdamW(
        [{"params": decayed, "weight_decay": 0.02}, {"params": plain, "weight_decay": 0.0}], lr=PEAK_RATE
    )


def weights_of(optimiser: torch.optim.Optimizer) -> list[Tensor]:
    """All that it moves."""
    return [weight for group in optimiser.param_groups for weight in group["params"]]


def batches(
    n: int,
    turns: int,
    generator: torch.Generator,
    device: torch.device,
    order: random.Random,
    without: frozenset[str] = frozenset(),
) -> Iterator[dict]:
    """Draws a batch, gives it out, then ``turns`` - 1 older ones; each time mirrored and told anew."""
    kept: list[dict[str, Tensor]] = []
    while True:
        # Two batches are drawn at once: drawing is many small kernels, and half as many cost half as much.
        both = packed(draw_sheets(2 * n, generator, device, without=without & set(PARTS)))
        for part in range(2):
            fresh = {name: value[part::2].contiguous() for name, value in both.items()}
            for turn in range(turns):
                batch = fresh if turn == 0 or not kept else order.choice(kept)
                yield served(batch, generator, order, without) | {"fresh": float(turn == 0)}
            if len(kept) < KEEP_BATCHES:
                kept.append(fresh)
            else:
                kept[order.randrange(KEEP_BATCHES)] = fresh


def packed(sheets: Sheets) -> dict[str, Tensor]:
    """A batch as small as it can be kept."""
    p = sheets.prints
    n_without = len(sheets.grey) - len(sheets.before)
    return {
        "grey": sheets.grey.to(torch.uint8),
        "inside": sheets.inside.to(torch.uint8),
        "marks": torch.stack([p.x_mm, p.y_mm, p.radius_mm, p.there, sheets.old], dim=1),
        "maps": torch.stack([sheets.union, sheets.rim, sheets.layers], dim=1).to(torch.float16),
        "before": nnf.pad(sheets.before, (0, 0, 0, 0, 0, n_without)).to(torch.uint8),
        "paired": torch.arange(len(sheets.grey), device=p.x_mm.device) < len(sheets.before),
    }


def served(
    batch: dict[str, Tensor],
    generator: torch.Generator,
    order: random.Random,
    without: frozenset[str] = frozenset(),
) -> dict[str, Tensor]:
    """Mirrored at random, with planes and a declared count, as the loss wants it."""
    grey, inside, maps, before = batch["grey"], batch["inside"], batch["maps"], batch["before"]
    marks = batch["marks"].clone()
    draw = torch.rand(len(grey), generator=generator, device=grey.device)
    paired = batch["paired"] & (draw >= UNPAIRED_SHARE)
    marks[:, 3] = marks[:, 3] * torch.where(paired[:, None], 1.0 - marks[:, 4], 1.0)  # only the new balls
    mirrored = 0.0 if "mirrors" in without else 0.5
    if order.random() < mirrored:
        grey, inside, maps, before = grey.flip(2), inside.flip(2), maps.flip(3), before.flip(2)
        marks[:, 0] = -marks[:, 0]
    if order.random() < mirrored:
        grey, inside, maps, before = grey.flip(1), inside.flip(1), maps.flip(2), before.flip(1)
        marks[:, 1] = -marks[:, 1]
    planes = picture_planes(grey, inside)
    count = _declared(marks[:, 3].sum(dim=1), generator)
    count_plane = (count / 10.0).view(-1, 1, 1, 1).expand(-1, 1, *planes.shape[2:])
    earlier = picture_planes(before, inside)[:, :2] * paired.view(-1, 1, 1, 1)
    planes = torch.cat([planes, count_plane, earlier], dim=1)
    return {
        "planes": blanked(planes, without),
        "x_mm": marks[:, 0],
        "y_mm": marks[:, 1],
        "radius_mm": marks[:, 2],
        "there": marks[:, 3],
        "union": maps[:, 0].float(),
        "rim": maps[:, 1].float(),
        "layers": maps[:, 2].float(),
        "paired": paired,
    }


def blanked(planes: Tensor, without: frozenset[str]) -> Tensor:
    """Planes (n, 6, H, W) with those that are left out at zero."""
    for name, which in WITHOUT_PLANES.items():
        if name in without:
            planes[:, list(which)] = 0.0
    return planes


def _declared(true: Tensor, generator: torch.Generator) -> Tensor:
    """What a player might tell: nothing, the count, a little off, any count of a face without marks."""

    def draw() -> Tensor:
        return torch.rand(true.shape, generator=generator, device=true.device)

    off = torch.floor(draw() * 2.0) + 1.0
    off = torch.where(draw() < 0.5, off, -off)
    wrong = (draw() < TOLD_WRONG_SHARE).float()
    count = (true + wrong * off).clamp(min=1.0)
    count = torch.where(true > 0, count, torch.floor(draw() * 12.0) + 1.0)
    return count * (draw() < TOLD_SHARE).float()


def downhill(
    net: Callable[[Tensor], Tensor],
    loss_of: Callable[[Tensor, dict], dict[str, Tensor]],
    optimiser: torch.optim.Optimizer,
    batch: dict,
    device: torch.device,
    without: frozenset[str] = frozenset(),
) -> dict[str, Tensor]:
    """One step downhill; ``net`` and ``loss_of`` as they are or compiled."""
    planes = batch["planes"].to(memory_format=torch.channels_last)
    with torch.autocast(device.type, dtype=torch.bfloat16):
        out = net(planes)
    parts = loss_of(out, batch)
    unwanted = {part for name, them in WITHOUT_LOSSES.items() if name in without for part in them}
    total = sum(WEIGHTS[name] * value for name, value in parts.items() if name not in unwanted)
    optimiser.zero_grad(set_to_none=True)
    total.backward()
    torch.nn.utils.clip_grad_norm_(weights_of(optimiser), 5.0)
    optimiser.step()
    return {name: value.detach() for name, value in parts.items()}


@torch.no_grad()
def follow(mean_net: MarkNet, net: MarkNet, step: int, *, keep: float = MEAN_KEEP) -> None:
    """Moves the running mean toward the network; norms' statistics too."""
    keep = min(keep, (1.0 + step) / (10.0 + step))
    mine, theirs = mean_net.state_dict(), net.state_dict()
    floats = [k for k, v in mine.items() if v.dtype.is_floating_point]
    torch._foreach_lerp_([mine[k] for k in floats], [theirs[k] for k in floats], 1.0 - keep)


def _save(path: Path, net: MarkNet, mean_net: MarkNet, optimiser: torch.optim.Optimizer, step: int) -> None:
    """Everything needed to go on, under 16 MiB: the optimiser's moments in bfloat16."""
    state = optimiser.state_dict()
    small = {
        k: moments | {key: moments[key].to(torch.bfloat16).cpu() for key in ("exp_avg", "exp_avg_sq")}
        for k, moments in state["state"].items()
    }
    torch.save(
        {
            "net": {k: v.cpu() for k, v in net.state_dict().items()},
            "mean": {k: v.cpu() for k, v in mean_net.state_dict().items()},
            "optimiser": state | {"state": small},
            "step": step,
            "in": IN_PLANES,
            "out": OUT_PLANES,
        },
        path.with_suffix(".part"),
    )
    path.with_suffix(".part").replace(path)


def _load(path: Path, net: MarkNet, mean_net: MarkNet, optimiser: torch.optim.Optimizer) -> int:
    kept = torch.load(path, map_location="cpu", weights_only=True)
    net.load_state_dict(kept["net"])
    mean_net.load_state_dict(kept["mean"])
    optimiser.load_state_dict(kept["optimiser"])  # casts the moments back to the parameters' type
    return int(kept["step"])


def export(checkpoint: Path, onnx_path: Path) -> str:
    """Writes the running mean of a checkpoint as ONNX that OpenCV reads; names ``planes`` and ``maps``."""
    net = MarkNet()
    net.load_state_dict(torch.load(checkpoint, map_location="cpu", weights_only=True)["mean"])
    net.eval()
    example = torch.zeros(1, len(IN_PLANES), 288, 512)
    free = {2: "height", 3: "width"}
    torch.onnx.export(
        net,
        (example,),
        str(onnx_path),
        input_names=["planes"],
        output_names=["maps"],
        dynamic_axes={"planes": free, "maps": free},
        opset_version=13,
        dynamo=False,
    )
    return f"{onnx_path}: {onnx_path.stat().st_size} bytes"


if __name__ == "__main__":
    main()
