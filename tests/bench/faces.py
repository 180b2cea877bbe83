"""How well the learned face finder sees, before any walk to the edge.

    python -m tests.bench.faces PHOTO_DIR ... [--scenes 128 --seed 71001] [--pictures] [--save FILE]

PHOTO_DIR as in tests.bench.accuracy. ``--scenes`` draws as many scenes of the training generator (needs
PyTorch), one in ten without a club, one in twelve of the heads never sprayed. ``--pictures`` adds the
everyday pictures that come with scikit-image, without a club. ``--save`` keeps one line per picture as JSON;
with ``--every`` the finder's limits are off, which is how they were chosen (docs/reference/model-card-face.md
names the sets).
"""

from __future__ import annotations

import argparse
import json
import math
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from facemark.errors import FaceError
from facemark.inputs import Photo
from facemark.see import face_net
from facemark.see.face_net import guess_face
from tests.bench.accuracy import photos_in

# Of scikit-image; none shows a club.
EVERYDAY = (
    "astronaut",
    "binary_blobs",
    "brick",
    "camera",
    "cat",
    "cell",
    "chelsea",
    "clock",
    "coffee",
    "coins",
    "colorwheel",
    "grass",
    "gravel",
    "horse",
    "hubble_deep_field",
    "immunohistochemistry",
    "logo",
    "lily",
    "microaneurysms",
    "moon",
    "page",
    "retina",
    "rocket",
    "text",
)
SCENES_AT_ONCE = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One picture. ``iou_frac`` and what follows are None where there is no club or none was found."""

    name: str
    club: bool
    found: bool
    seconds_s: float
    confidence_frac: float | None = None
    toe_sure_frac: float | None = None
    iou_frac: float | None = None
    right_hand_seen: bool | None = None  # the hand is the true one
    turn_miss_deg: float | None = None


Case = tuple[str, np.ndarray, dict[str, Any] | None]  # name, pixels, truth: mask, toe, right-handed


def photo_cases(folder: Path) -> Iterator[Case]:
    """Photos with their outline as a mask on the whole photo and the toe's direction at the face's centre."""
    for photo, truth in photos_in(folder):
        mask = np.zeros(photo.pixels.shape[:2], np.uint8)
        points = np.round(np.array(truth["face_outline_px"]) * 16).astype(np.int32)
        cv2.fillPoly(mask, [points], 1, shift=4)
        camera = truth["camera"]
        ends = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]])
        cam = ends @ np.array(camera["R_face_to_cam"]).T + np.array(camera["t_face_to_cam"])
        px = cam @ np.array(camera["K"]).T
        toe = np.diff(px[:, :2] / px[:, 2:], axis=0)[0]
        told = {"mask": mask > 0, "toe": toe, "right": truth["handed"] == "R"}
        yield truth["image"], photo.pixels, told


def scene_cases(n: int, seed: int) -> Iterator[Case]:
    """Scenes of the training generator, as whole small photos."""
    import torch

    from facemark.learn.face_bank import make_bank
    from facemark.learn.face_scenes import draw_scenes
    from facemark.learn.train_face import CANVASES

    generator = torch.Generator().manual_seed(seed)
    bank = make_bank(generator, n_textures=24, size_px=512)
    for k in range(0, n, SCENES_AT_ONCE):
        scenes = draw_scenes(SCENES_AT_ONCE, CANVASES[(k // SCENES_AT_ONCE) % len(CANVASES)], bank, generator)
        for i in range(SCENES_AT_ONCE):
            pixels = (scenes.pictures[i].permute(1, 2, 0).numpy() * 255).round().astype(np.uint8)
            maps = scenes.maps[i].numpy()
            toe, up = scenes.toe_px[i].numpy(), scenes.up_px[i].numpy()
            told = {
                "mask": maps[0] > 0.5,
                "toe": toe,
                "right": toe[0] * up[1] - toe[1] * up[0] > 0,
            }
            club = np.count_nonzero(told["mask"]) > 200
            if club or not maps[1].any():
                yield f"scene {seed} {k + i}", np.ascontiguousarray(pixels), told if club else None


def everyday_cases() -> Iterator[Case]:
    """What scikit-image brings along without fetching anything."""
    from skimage import data

    for name in EVERYDAY:
        try:
            pixels = np.asarray(getattr(data, name)())
        except Exception:  # not shipped, would have to be fetched
            continue
        if pixels.dtype == bool:
            pixels = pixels.astype(np.uint8) * 255
        if pixels.ndim == 2:
            pixels = np.dstack([pixels] * 3)
        if pixels.ndim == 3 and pixels.dtype == np.uint8:
            yield name, np.ascontiguousarray(pixels[..., :3]), None


def looked_at(case: Case) -> Seen:
    """The finder's answer beside the truth."""
    name, pixels, told = case
    start = time.perf_counter()
    try:
        guess = guess_face(Photo(pixels=pixels, name=name))
    except FaceError:
        guess = None
    common = {
        "name": name,
        "club": told is not None,
        "found": guess is not None,
        "seconds_s": time.perf_counter() - start,
    }
    if guess is None:
        return Seen(**common)
    common |= {
        "confidence_frac": guess.confidence_frac,
        "toe_sure_frac": guess.toe_sure_frac,
    }
    if told is None:
        return Seen(**common)
    left, top, right, bottom = guess.box_px
    height, width = guess.face.shape
    step = np.array([(right - left) / width, (bottom - top) / height])
    to_photo = np.array([[step[0], 0, left + step[0] / 2], [0, step[1], top + step[1] / 2]])
    size = pixels.shape[1::-1]
    face = cv2.warpAffine(guess.face, to_photo, size, flags=cv2.INTER_LINEAR) > face_net.SEEN_FRAC
    turn = math.atan2(
        guess.toe_px[0] * told["toe"][1] - guess.toe_px[1] * told["toe"][0], float(guess.toe_px @ told["toe"])
    )
    return Seen(
        **common,
        iou_frac=float((face & told["mask"]).sum() / (face | told["mask"]).sum()),
        right_hand_seen=(guess.hand.value == "right") == told["right"],
        turn_miss_deg=abs(math.degrees(turn)),
    )


def table(rows: list[Seen]) -> list[str]:
    """What came out, in words and numbers."""
    clubs, others = [r for r in rows if r.club], [r for r in rows if not r.club]
    lines = []
    if clubs:
        found = [r for r in clubs if r.found]
        sure = [r for r in found if (r.toe_sure_frac or 0.0) >= face_net.TOE_SURE_FRAC]
        wrong = sum(not r.right_hand_seen for r in sure)
        iou = np.array([r.iou_frac for r in found])
        turn = np.array([r.turn_miss_deg for r in sure])
        time_s = np.array([r.seconds_s for r in rows])
        lines += [
            f"clubs: {len(clubs)}, refused {len(clubs) - len(found)}; overlap median {np.median(iou):.3f}, "
            f"worst tenth {np.quantile(iou, 0.1):.3f}, worst {iou.min():.3f}",
            f"toe side sure {len(sure)}, wrong {wrong}; direction off, median {np.median(turn):.1f}, "
            f"68 % {np.quantile(turn, 0.68):.1f}, 90 % {np.quantile(turn, 0.9):.1f}, "
            f"95 % {np.quantile(turn, 0.95):.1f}, most {turn.max():.0f} degrees",
            f"time {np.median(time_s):.2f} s, 90 % {np.quantile(time_s, 0.9):.2f} s",
        ]
    if others:
        alarms = [r for r in others if r.found]
        names = ", ".join(f"{r.name} ({r.confidence_frac:.2f}, toe {r.toe_sure_frac:.2f})" for r in alarms)
        lines.append(f"no club: {len(others)}, taken for a face {len(alarms)} {names}")
    return lines


def main() -> None:
    """Look, print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--scenes", type=int, default=0)
    parser.add_argument("--seed", type=int, default=71001)
    parser.add_argument("--pictures", action="store_true")
    parser.add_argument("--every", action="store_true", help="limits off")
    parser.add_argument("--save", type=Path)
    told = parser.parse_args()
    if told.every:
        face_net.LEAST_CONFIDENCE_FRAC = face_net.LEAST_UNSURE_CONFIDENCE_FRAC = 0.0
    sources = [(str(folder), photo_cases(folder)) for folder in told.folders]
    if told.scenes:
        sources.append((f"{told.scenes} scenes, seed {told.seed}", scene_cases(told.scenes, told.seed)))
    if told.pictures:
        sources.append(("everyday pictures", everyday_cases()))
    kept = []
    for name, cases in sources:
        rows = [looked_at(case) for case in cases]
        print(f"\n== {name}")
        print("\n".join(table(rows)))
        kept += [{"source": name} | asdict(row) for row in rows]
    if told.save:
        told.save.write_text(json.dumps(kept), encoding="utf-8")


if __name__ == "__main__":
    main()
