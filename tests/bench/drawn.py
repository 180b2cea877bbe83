"""Frozen sets of drawn photos with exact truth.

    python -m tests.bench.drawn OUT_DIR --n 4 --seed 1

writes n photos per tier to OUT_DIR (photos, truth/*.json and sheet.png, laid out like a folder of sample
photos). Seeds 1-999 are for developing: their photos may be looked at and tuned on. Seeds from 9000 on are
only for reporting numbers.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from facemark.see.draw import TIERS, DrawnPhoto, DrawRecipe, draw_photo, draw_series

DEV_SEED = 1
TEST_SEED = 9001
LARGE_EVERY = 6  # every sixth photo of a tier has 12 megapixels


def bench_set(n_per_tier: int, seed: int, *, tiers: tuple[str, ...] = TIERS) -> Iterator[DrawnPhoto]:
    """Photos of all tiers, each from its own seed (seed, tier, number): any one can be drawn again alone."""
    for tier in tiers:
        for k in range(n_per_tier):
            yield bench_photo(tier, k, seed)


def bench_photo(tier: str, number: int, seed: int) -> DrawnPhoto:
    """One photo of a set."""
    rng = np.random.default_rng([seed, TIERS.index(tier), number])
    large = number % LARGE_EVERY == LARGE_EVERY - 1
    size = (4000, 3000) if large else (3000, 2250) if number % 3 == 1 else (2400, 1800)
    k1_ratio = float(rng.normal(0.0, 0.01)) if number % 2 else 0.0
    recipe = DrawRecipe(tier=tier, size_px=size, k1_ratio=k1_ratio)
    return draw_photo(recipe, rng, name=f"{tier}_{seed}_{number:03d}.jpg")


def bench_series(n: int, seed: int) -> Iterator[tuple[DrawnPhoto, ...]]:
    """Sets of three or four photos of one face, one to four new balls before each."""
    for k in range(n):
        rng = np.random.default_rng([seed, 9, k])
        balls = [int(b) for b in rng.integers(1, 5, int(rng.integers(3, 5)))]
        resprayed = [len(balls) - 1] if rng.random() < 0.2 else []
        yield draw_series(DrawRecipe(), rng, balls=balls, resprayed=resprayed)


def jpeg_with_exif(drawn: DrawnPhoto) -> bytes:
    """The photo's JPEG with the focal length in EXIF, as phones write it, where it is told."""
    if drawn.photo.focal_35mm is None:
        return drawn.jpeg
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = round(drawn.photo.focal_35mm)
    block = exif.tobytes()
    head = b"\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block
    return drawn.jpeg[:2] + head + drawn.jpeg[2:]


def write_set(folder: Path, photos: Iterator[DrawnPhoto]) -> list[DrawnPhoto]:
    """Write photos and truth; small copies come back for the contact sheet."""
    (folder / "truth").mkdir(parents=True, exist_ok=True)
    kept = []
    for drawn in photos:
        name = Path(drawn.truth["image"])
        (folder / name).write_bytes(jpeg_with_exif(drawn))
        (folder / "truth" / name.with_suffix(".json")).write_text(json.dumps(drawn.truth, indent=1))
        kept.append(drawn)
        print(name, len(drawn.truth["marks"]), "marks,", drawn.truth["reference"]["kind"])
    return kept


def contact_sheet(photos: list[DrawnPhoto], *, width_px: int = 480, columns: int = 4) -> np.ndarray:
    """(H, W, 3) RGB overview with a cross on every mark and the true outline."""
    cells = []
    for drawn in photos:
        scale = width_px / drawn.photo.width_px
        cell = cv2.resize(drawn.photo.pixels, (width_px, width_px * 3 // 4), interpolation=cv2.INTER_AREA)
        outline = np.round(np.array(drawn.truth["face_outline_px"]) * scale).astype(np.int32)
        cv2.polylines(cell, [outline], True, (255, 210, 0), 1, cv2.LINE_AA)
        for mark in drawn.truth["marks"]:
            at = (round(mark["x_px"] * scale), round(mark["y_px"] * scale))
            cv2.drawMarker(cell, at, (255, 80, 0), cv2.MARKER_CROSS, 8, 1)
        cells.append(cell)
    while len(cells) % columns:
        cells.append(np.zeros_like(cells[0]))
    return np.vstack([np.hstack(cells[i : i + columns]) for i in range(0, len(cells), columns)])


def main() -> None:
    """Write a set."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--n", type=int, default=4, help="photos per tier")
    parser.add_argument("--seed", type=int, default=DEV_SEED)
    parser.add_argument("--series", type=int, default=0, help="progressive sets, each into its own folder")
    args = parser.parse_args()
    kept = write_set(args.folder, bench_set(args.n, args.seed))
    for k, photos in enumerate(bench_series(args.series, args.seed)):
        write_set(args.folder / f"series_{k + 1}", iter(photos))
    cv2.imwrite(str(args.folder / "sheet.png"), contact_sheet(kept)[..., ::-1])


if __name__ == "__main__":
    main()
