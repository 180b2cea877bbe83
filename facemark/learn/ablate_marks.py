"""What is each part of the splitter's training good for? Many short trainings, each without one part.

    python -m facemark.learn.ablate_marks --out DIR --seconds 540 --group inputs
    python -m facemark.learn.ablate_marks --out DIR --seconds 540 --group drawing

All variants of a group start from the same random weights and take one step each in turn, so that after any
time all have had the same number of steps and of drawn faces. The group ``inputs`` (planes, losses)
learns from one common stream of drawn faces; in ``drawing`` every variant draws its own, without its part.
Each group has its own whole variant, and only numbers of one group may be compared. Writes the running means
in half precision (DIR/GROUP_K.pt, a few variants a file) and DIR/GROUP.json. ``--export DIR`` turns such
files into one ONNX file a variant, to be scored on photos: python -m tests.bench.ablation.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import random
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import torch

from facemark.learn.dice import PARTS
from facemark.learn.mark_loss import losses
from facemark.learn.mark_net import MarkNet
from facemark.learn.train_marks import (
    MEAN_KEEP,
    PEAK_RATE,
    WITHOUT_LOSSES,
    WITHOUT_PLANES,
    batches,
    blanked,
    check_batch,
    checked,
    downhill,
    export,
    follow,
    optimiser_of,
)

GROUPS = {"inputs": ("", *WITHOUT_PLANES, *WITHOUT_LOSSES), "drawing": ("", "mirrors", *PARTS)}
WARM_FRAC = 0.05  # of the time, until the peak rate
VARIANTS_PER_FILE = 6  # 2.3 MB each in half precision
SHORT_KEEP = 0.99  # of the running mean, per step: short trainings end after a few hundred


@dataclass(slots=True)
class _Variant:
    name: str  # what it does without; "": whole
    net: MarkNet
    mean_net: MarkNet
    optimiser: torch.optim.Optimizer
    stream: Iterator[dict] | None  # its own faces; None: the common ones

    @property
    def without(self) -> frozenset[str]:
        return frozenset([self.name] if self.name else [])


def run(told: argparse.Namespace) -> None:
    """One group, as the module says."""
    start = time.monotonic()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    variants = [_variant(name, told, device) for name in told.only or GROUPS[told.group]]
    order = random.Random(told.seed)
    common = batches(told.batch, told.turns, _generator(told.seed, device), device, order)
    steps = 0
    while (gone := time.monotonic() - start) < told.seconds:
        rate = PEAK_RATE * _rate(gone / told.seconds)
        shared = next(common) if told.group == "inputs" else None
        for one in variants:
            for group in one.optimiser.param_groups:
                group["lr"] = rate
            batch = next(one.stream) if shared is None and one.stream is not None else shared
            assert batch is not None
            if shared is not None:
                batch = shared | {"planes": blanked(shared["planes"].clone(), one.without)}
            downhill(one.net, losses, one.optimiser, batch, device, one.without)
            follow(one.mean_net, one.net, steps, keep=min(MEAN_KEEP, SHORT_KEEP))
        steps += 1
        if steps % 50 == 0:
            print(told.group, round(gone), "s", steps, "steps", flush=True)
    _write(told, variants, steps, device)


def _variant(name: str, told: argparse.Namespace, device: torch.device) -> _Variant:
    torch.manual_seed(told.seed)
    net = MarkNet().to(device, memory_format=torch.channels_last)
    without = frozenset([name] if name else [])
    stream = None
    if told.group == "drawing":
        generator, order = _generator(told.seed, device), random.Random(told.seed)
        stream = batches(told.batch, told.turns, generator, device, order, without)
    return _Variant(name, net, copy.deepcopy(net).eval(), optimiser_of(net), stream)


def _generator(seed: int, device: torch.device) -> torch.Generator:
    return torch.Generator(device=device).manual_seed(seed * 1_000_003)


def _rate(part: float) -> float:
    return min(1.0, part / WARM_FRAC) * (0.01 + 0.99 * 0.5 * (1.0 + math.cos(math.pi * min(1.0, part))))


def _write(told: argparse.Namespace, variants: list[_Variant], steps: int, device: torch.device) -> None:
    """Scores on held-out faces of the whole simulator, and the weights."""
    table = {}
    for one in variants:
        found = checked(one.mean_net, check_batch(told.check, device, one.without & set(WITHOUT_PLANES)))
        table[one.name or "whole"] = found
        print(one.name or "whole", json.dumps(found), flush=True)
    facts = {"group": told.group, "steps": steps, "batch": told.batch, "turns": told.turns, "seed": told.seed}
    text = json.dumps(facts | {"seconds": round(told.seconds), "variants": table}, indent=1)
    (told.out / f"{told.group}.json").write_text(text + "\n", encoding="utf-8")
    for k in range(0, len(variants), VARIANTS_PER_FILE):
        some = {one.name or "whole": _half(one.mean_net) for one in variants[k : k + VARIANTS_PER_FILE]}
        torch.save(some, told.out / f"{told.group}_{k // VARIANTS_PER_FILE}.pt")


def _half(net: MarkNet) -> dict[str, torch.Tensor]:
    return {k: v.half().cpu() if v.dim() > 1 else v.cpu() for k, v in net.state_dict().items()}


def export_all(folder: Path, out: Path) -> None:
    """Every variant's ONNX file, named GROUP-VARIANT.onnx."""
    for path in sorted(folder.glob("*_*.pt")):
        for name, state in torch.load(path, map_location="cpu", weights_only=True).items():
            whole = {k: v.float() if v.dtype == torch.float16 else v for k, v in state.items()}
            checkpoint = out / "variant.pt"
            torch.save({"mean": whole}, checkpoint)
            print(export(checkpoint, out / f"{path.stem.split('_')[0]}-{name}.onnx"))
            checkpoint.unlink()


def main() -> None:
    """Reads the command line; trains a group or exports."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--group", choices=tuple(GROUPS), default="inputs")
    parser.add_argument("--only", nargs="*", help="these variants of the group; '' is the whole one")
    parser.add_argument("--seconds", type=float, default=540.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--turns", type=int, default=3)
    parser.add_argument("--check", type=int, default=256)
    parser.add_argument("--export", type=Path, help="only turn the files of this folder into ONNX")
    told = parser.parse_args()
    told.out.mkdir(parents=True, exist_ok=True)
    if told.export is not None:
        export_all(told.export, told.out)
    else:
        run(told)


if __name__ == "__main__":
    main()
