"""Train the face finder on drawn scenes and write it as ONNX.

    python -m facemark.learn.train_face --out DIR --seconds 480

Draws a batch of scenes, puts it into a pool on the device, takes ``--uses`` steps on pictures from the pool
(half of them mirrored), and so on until the time is up. Writes face.pt (``--resume`` goes on
from there, ``--start face.onnx`` from shipped weights), face.onnx, face.json and face_log.txt. Runs on a CPU
too, some two hundred times slower.
"""

from __future__ import annotations

import argparse
import copy
import hashlib
import json
import math
import time
from pathlib import Path
from typing import Any

import torch
from torch import Tensor

from facemark.learn.face_bank import make_bank
from facemark.learn.face_model import N_PROBABILITIES, N_WAYS, Deployed, FaceNet, face_loss
from facemark.learn.face_scenes import MAPS, Scenes, draw_scenes
from facemark.learn.onnx_weights import Folded, folded_weights, start_from

CANVASES = ((352, 448), (352, 448), (448, 352), (384, 384), (256, 448))  # height, width; phone photos mostly
HELD_OUT_SEED = 990_001  # scenes that are never trained on
EMA_DECAY = 0.9985


class Pool:
    """Scenes of one canvas kept on the device: pictures and maps as bytes, directions as they are."""

    def __init__(self, size_px: tuple[int, int], n_most: int, device: torch.device) -> None:
        height, width = size_px
        self.pictures = torch.zeros(n_most, 3, height, width, dtype=torch.uint8, device=device)
        self.maps = torch.zeros(n_most, N_PROBABILITIES, height, width, dtype=torch.uint8, device=device)
        self.ways = torch.zeros(n_most, N_WAYS, device=device)
        self.n_most, self.n_ever = n_most, 0

    def put(self, scenes: Scenes) -> None:
        """Add scenes, the oldest leave."""
        n = len(scenes.pictures)
        where = (torch.arange(n, device=self.ways.device) + self.n_ever) % self.n_most
        self.pictures[where] = (scenes.pictures * 255).round().byte()
        self.maps[where] = (scenes.maps[:, :N_PROBABILITIES] * 255).round().byte()
        self.ways[where] = torch.cat([scenes.toe_px, scenes.up_px], 1)
        self.n_ever += n

    def take(self, n: int, generator: torch.Generator) -> tuple[Tensor, Tensor]:
        """(n, 3, H, W) pictures and (n, 9, H, W) labels, half mirrored, a little lighter or darker."""
        device = self.ways.device
        index = torch.randint(min(self.n_ever, self.n_most), (n,), generator=generator, device=device)
        pictures = self.pictures[index].float() / 255
        gain = 1 + 0.12 * torch.randn(n, 3, 1, 1, generator=generator, device=device)
        bars = (pictures - 0.5).abs() < 0.004  # the filling of the canvas stays what it is
        pictures = torch.where(bars, pictures, (pictures * gain).clamp(0, 1))
        maps = self.maps[index].float() / 255
        ways = self.ways[index].view(n, -1, 1, 1) * maps[:, :1]
        labels = torch.cat([maps, ways], 1)
        mirrored = torch.rand(n, 1, 1, 1, generator=generator, device=device) < 0.5
        sign = labels.new_tensor([1] * N_PROBABILITIES + [-1, 1, -1, 1]).view(1, -1, 1, 1)
        pictures = torch.where(mirrored, pictures.flip(3), pictures)
        return pictures, torch.where(mirrored, labels.flip(3) * sign, labels)


def train(options: argparse.Namespace) -> None:
    """The whole run, as the module says."""
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.manual_seed(options.seed)
    out = Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    log = (out / "face_log.txt").open("a", encoding="utf-8")
    generator = torch.Generator(device).manual_seed(options.seed)
    net = FaceNet().to(device, memory_format=torch.channels_last)
    slow = copy.deepcopy(net).eval()
    optimizer = torch.optim.AdamW(net.parameters(), lr=options.lr, weight_decay=0.01)
    done = {"steps": 0, "scenes": 0, "seconds": 0.0, "seeds": []}
    if options.resume:
        saved = torch.load(options.resume, map_location=device, weights_only=True)
        net.load_state_dict(saved["net"])
        slow.load_state_dict(saved["slow"])
        optimizer.load_state_dict(saved["optimizer"])
        done = {"seeds": [], **saved["done"]}
        generator.manual_seed(options.seed + done["steps"] + 1)
    done["seeds"].append(options.seed)
    say(log, f"{device} {sum(p.numel() for p in net.parameters())} parameters, from step {done['steps']}")
    began = time.monotonic()
    with torch.no_grad():
        held = held_out(options, device)
        bank = make_bank(generator, n_textures=options.textures, size_px=options.texture_px)
    pools = {size: Pool(size, options.pool, device) for size in set(CANVASES)}
    say(log, f"bank and held-out scenes after {time.monotonic() - began:.0f} s")
    if options.start:
        with torch.no_grad():
            some = draw_scenes(options.batch, CANVASES[0], bank, generator).pictures
        start_from(net, rejoined(folded_weights(Path(options.start))), some)
        slow = copy.deepcopy(net).eval()
        say(log, f"from {options.start} | {look(slow, held)}")
    turn, next_look, sums = 0, options.look_seconds, torch.zeros(4, device=device)
    n_sums = 0
    while (spent := time.monotonic() - began) < options.seconds:
        size = CANVASES[turn % len(CANVASES)]
        turn += 1
        with torch.no_grad():
            if turn % 400 == 0:
                bank = make_bank(generator, n_textures=options.textures, size_px=options.texture_px)
            pools[size].put(draw_scenes(options.batch, size, bank, generator))
        done["scenes"] += options.batch
        for _ in range(options.uses):
            rate = (
                options.lr
                * min(1.0, (turn * options.uses) / 200)
                * (0.02 + 0.98 * cosine(spent / options.seconds))
            )
            for group in optimizer.param_groups:
                group["lr"] = rate
            sums += step(net, optimizer, *pools[size].take(options.batch, generator))
            follow(slow, net, EMA_DECAY if done["steps"] > 1000 else 0.99)
            done["steps"] += 1
            n_sums += 1
        if spent > next_look:
            parts = " ".join(f"{v:.4f}" for v in (sums / n_sums).tolist())
            done_so_far = f"{spent:5.0f} s step {done['steps']} scenes {done['scenes']}"
            say(log, f"{done_so_far} loss {parts} | {look(slow, held)}")
            sums.zero_()
            n_sums = 0
            next_look = spent + options.look_seconds
            save(out, net, slow, optimizer, done)
    done["seconds"] += time.monotonic() - began
    found = look(slow, held)
    say(log, f"end: {done} | {found}")
    save(out, net, slow, optimizer, done)
    export(slow, out / "face.onnx")
    write_card(out, slow, done, found)
    log.close()


def rejoined(layers: list[Folded]) -> list[Folded]:
    """The layers of a shipped file as ``FaceNet`` runs them: ``Deployed`` splits each fusing convolution.

    Of its two halves the first has no bias. The last layer may be from when powder and tilt were asked for:
    behind the fifth map and at the end. They are left out.
    """
    whole: list[Folded] = []
    for weight, bias in layers:
        if whole and whole[-1][1] is None:
            whole[-1] = (torch.cat([whole[-1][0], weight], 1), bias)
        else:
            whole.append((weight, bias))
    weight, bias = whole[-1]
    if len(weight) == len(MAPS) + 3 and bias is not None:
        kept = [k for k in range(len(MAPS) + 1) if k != N_PROBABILITIES]
        whole[-1] = weight[kept], bias[kept]
    return whole


def step(net: FaceNet, optimizer: torch.optim.Optimizer, pictures: Tensor, labels: Tensor) -> Tensor:
    """One step of the optimizer; the three parts of its loss, their sum first."""
    net.train()
    pictures = pictures.contiguous(memory_format=torch.channels_last)
    with torch.autocast(pictures.device.type, dtype=torch.bfloat16, enabled=pictures.is_cuda):
        raw = net(pictures)
    losses = face_loss(raw, labels)
    optimizer.zero_grad(set_to_none=True)
    losses.total.backward()
    torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
    optimizer.step()
    return torch.stack([losses.total, losses.maps, losses.overlap, losses.way]).detach()


@torch.no_grad()
def follow(slow: FaceNet, net: FaceNet, decay: float) -> None:
    """Move the slow copy a little toward the trained one; it is the one that is kept."""
    torch._foreach_lerp_(list(slow.parameters()), list(net.parameters()), 1 - decay)
    for kept, new in zip(slow.buffers(), net.buffers(), strict=True):
        if kept.dtype.is_floating_point:
            kept.lerp_(new, 1 - decay)
        else:
            kept.copy_(new)


def cosine(part: float) -> float:
    """1 at the start, 0 at the end."""
    return 0.5 + 0.5 * math.cos(math.pi * min(1.0, max(0.0, part)))


def held_out(options: argparse.Namespace, device: torch.device) -> list[Scenes]:
    """Scenes from seeds and textures of their own."""
    generator = torch.Generator(device).manual_seed(HELD_OUT_SEED)
    bank = make_bank(generator, n_textures=max(8, options.textures // 2), size_px=options.texture_px)
    n_batches = max(1, options.held_out // options.batch)
    return [draw_scenes(options.batch, CANVASES[1 + k % 3], bank, generator) for k in range(n_batches)]


@torch.no_grad()
def look(net: FaceNet, held: list[Scenes]) -> str:
    """How well the held-out scenes are read: overlap, outline error, direction, side, false alarms."""
    net.eval()
    iou, off, close, angle, side, false = [], [], [], [], [], []
    for scenes in held:
        raw = net(scenes.pictures.contiguous(memory_format=torch.channels_last)).float()
        truth, guess = scenes.maps[:, 0] > 0.5, raw[:, 0] > 0
        both, either = (truth & guess).sum((1, 2)).float(), (truth | guess).sum((1, 2)).float()
        has = truth.sum((1, 2)) > 200
        rim = truth & (torch.nn.functional.avg_pool2d(truth.float().unsqueeze(1), 3, 1, 1)[:, 0] < 0.99)
        wide = truth.any(1).sum(1).float()
        iou.append((both / either.clamp_min(1))[has])
        off.append(((either - both) / rim.sum((1, 2)).clamp_min(1) / wide.clamp_min(1))[has])
        close.append(scenes.is_close.flatten()[has])
        weight = torch.sigmoid(raw[:, :1]) * (raw[:, :1] > 0)
        ways = (raw[:, N_PROBABILITIES:] * weight).sum((2, 3)) / weight.sum((2, 3)).clamp_min(1)
        toe, up = ways[:, :2], ways[:, 2:]
        cos = (toe * scenes.toe_px).sum(1) / toe.norm(dim=1).clamp_min(1e-6)
        angle.append(torch.rad2deg(cos.clamp(-1, 1).acos())[has])
        turn, told = cross(toe, up), cross(scenes.toe_px, scenes.up_px)
        side.append((turn * told > 0).float()[has])
        empty = scenes.maps[:, 1].sum((1, 2)) < 1
        false.append((guess.float().mean((1, 2)) > 0.002).float()[empty])
    all_iou, all_off, is_close = torch.cat(iou), torch.cat(off), torch.cat(close) > 0
    turned, alarms = torch.cat(angle), torch.cat(false)

    def of(values: Tensor, q: float) -> float:
        return float(values.quantile(q)) if len(values) else math.nan

    return (
        f"n {len(all_iou)}"
        f" iou far p50 {of(all_iou[~is_close], 0.5):.3f} p10 {of(all_iou[~is_close], 0.1):.3f}"
        f" close p50 {of(all_iou[is_close], 0.5):.3f} p10 {of(all_iou[is_close], 0.1):.3f}"
        f" outline off, % of length: close p50 {100 * of(all_off[is_close], 0.5):.2f}"
        f" p90 {100 * of(all_off[is_close], 0.9):.2f}"
        f" toe angle p50 {of(turned, 0.5):.1f} p90 {of(turned, 0.9):.1f} deg"
        f" hand {float(torch.cat(side).mean()):.3f} false alarms {float(alarms.sum()):.0f}/{len(alarms)}"
    )


def cross(a: Tensor, b: Tensor) -> Tensor:
    """z part of the cross product of (n, 2) vectors."""
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def save(
    out: Path, net: FaceNet, slow: FaceNet, optimizer: torch.optim.Optimizer, done: dict[str, Any]
) -> None:
    """Write the checkpoint whole or not at all."""
    state = {
        "net": net.state_dict(),
        "slow": slow.state_dict(),
        "optimizer": optimizer.state_dict(),
        "done": done,
    }
    torch.save(state, out / "face.pt.part")
    (out / "face.pt.part").replace(out / "face.pt")


def export(net: FaceNet, path: Path) -> None:
    """ONNX with any height and width that are multiples of 32."""
    deployed = Deployed(copy.deepcopy(net).cpu().float()).eval().to(memory_format=torch.contiguous_format)
    example = torch.zeros(1, 3, *CANVASES[0])
    torch.onnx.export(
        deployed,
        (example,),
        str(path),
        input_names=["photo"],
        output_names=["maps"],
        dynamic_axes={"photo": {2: "height", 3: "width"}, "maps": {2: "height", 3: "width"}},
        opset_version=17,
        dynamo=False,
    )


def write_card(out: Path, net: FaceNet, done: dict[str, Any], found: str) -> None:
    """Say beside the weights what they are and where they come from."""
    card = {
        "what": "finds the powdered club face, its outline and its toe axis in a photo",
        "input": "photo: (1, 3, H, W) RGB in 0..1, H and W multiples of 32, longer side 448, filled with 0.5",
        "output": list(MAPS),
        "trained_on": "drawn scenes only (facemark.learn.face_scenes)",
        "seeds": done["seeds"],
        "n_parameters": sum(p.numel() for p in net.parameters()),
        "n_steps": done["steps"],
        "n_scenes": done["scenes"],
        "train_seconds": round(done["seconds"]),
        "held_out": found,
        "sha256": hashlib.sha256((out / "face.onnx").read_bytes()).hexdigest(),
    }
    (out / "face.json").write_text(json.dumps(card, indent=1) + "\n", encoding="utf-8")


def say(log, text: str) -> None:
    print(text, flush=True)
    log.write(text + "\n")
    log.flush()


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--out", required=True, help="folder for the results")
    parser.add_argument("--seconds", type=float, default=480.0)
    first = parser.add_mutually_exclusive_group()
    first.add_argument("--resume", help="a face.pt to go on from")
    first.add_argument("--start", help="a face.onnx to go on from")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--lr", type=float, default=2e-3)
    parser.add_argument("--batch", type=int, default=32)
    parser.add_argument("--uses", type=int, default=3, help="steps for each drawn batch")
    parser.add_argument("--pool", type=int, default=1024, help="scenes kept for each canvas size")
    parser.add_argument("--textures", type=int, default=160)
    parser.add_argument("--texture-px", type=int, default=512)
    parser.add_argument("--held-out", type=int, default=192)
    parser.add_argument("--look-seconds", type=float, default=45.0)
    train(parser.parse_args())


if __name__ == "__main__":
    main()
