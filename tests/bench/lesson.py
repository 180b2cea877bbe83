"""What a lesson of many photos costs, and that none is lost or doubled when things die.

    python -m tests.bench.lesson draw   --cache DIR              200 photos of 12 MP, once (minutes)
    python -m tests.bench.lesson rate   --cache DIR --n 40       two workers against one
    python -m tests.bench.lesson memory --cache DIR              largest memory of a worker
    python -m tests.bench.lesson cost   --cache DIR --n 200      cost of a photo over a long run
    python -m tests.bench.lesson kill   --cache DIR --n 12       kill -9 at five random moments
    python -m tests.bench.lesson dask   --cache DIR --n 12       kill -9 of a cluster's worker

The 200 photos are 12 drawn scenes; each photo has its own noise, brightness and JPEG quality, so that no two
files are alike. Drawing 200 scenes would take half an hour and show nothing more about cost. The machine's
load average is printed beside every time: on a busy machine wall-clock ratios mean little, CPU seconds more.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import cv2
import numpy as np

from facemark.inputs import ClubKind, Hand, ReferenceKind
from facemark.see.draw import DrawRecipe, draw_photo

N_PHOTOS, N_SCENES = 200, 12
SIZE_PX = (4000, 3000)
TAG_MM = 24.0
SEED = 7001
PLAYERS = ("ada", "ben", "cleo", "dov", "emi")
KINDS = (ClubKind.DRIVER, ClubKind.FAIRWAY, ClubKind.IRON)
OPTIONS = ("--tag-mm", str(TAG_MM), "--right")


# --- the photos ---
def draw_photos(cache: Path) -> None:
    """Draw what is missing."""
    for scene in range(N_SCENES):
        mine = [k for k in range(N_PHOTOS) if k % N_SCENES == scene]
        missing = [k for k in mine if not photo_path(cache, k).exists()]
        if not missing:
            continue
        rng = np.random.default_rng([SEED, scene])
        recipe = DrawRecipe(
            tier=("easy", "normal")[scene % 2],
            kind=KINDS[scene % len(KINDS)],
            hand=Hand.RIGHT,
            reference=ReferenceKind.TAGS,
            tag_side_mm=TAG_MM,
            n_marks=3 + scene % 3,
            size_px=SIZE_PX,
        )
        pixels = draw_photo(recipe, rng).photo.pixels
        for k in missing:
            path = photo_path(cache, k)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(another_shot(pixels, k))
        print(f"scene {scene + 1} of {N_SCENES}: {len(missing)} photos", flush=True)


def photo_path(cache: Path, k: int) -> Path:
    """PLAYER/CLUB/photo: who and what are told by the folders."""
    kind = KINDS[k % N_SCENES % len(KINDS)].value
    return cache / "photos" / PLAYERS[k // N_SCENES % len(PLAYERS)] / kind / f"IMG_{k:04d}.jpg"


def another_shot(pixels: np.ndarray, k: int) -> bytes:
    """The same scene with other noise, brightness and JPEG quality."""
    rng = np.random.default_rng([SEED, 99, k])
    noise = rng.normal(0.0, 1.5, pixels.shape[:2]).astype(np.float32)[:, :, None]
    shot = np.clip(pixels * np.float32(rng.uniform(0.97, 1.03)) + noise, 0, 255).astype(np.uint8)
    done, jpeg = cv2.imencode(".jpg", shot[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(88, 95))])
    assert done
    return bytes(jpeg)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("part", choices=("draw", "rate", "memory", "cost", "kill", "dask"))
    parser.add_argument("--cache", type=Path, required=True, help="folder for the drawn photos")
    parser.add_argument("--n", type=int, default=20, help="how many of the 200 photos")
    arguments = parser.parse_args()
    draw_photos(arguments.cache)


if __name__ == "__main__":
    main()
