"""How well the mark splitter reads when nothing but the splitter can fail.

    python -m tests.bench.splitter PHOTO_DIR ... --drawn 14 --seed 9001

Photos as in tests.bench.accuracy, but rectified with the true camera, pose, curvature and outline of the
truth file, so that no error of the scale or the face is in the numbers. Every face is read twice, with the
number of balls told and not told. Seeds 1-999 have been developed on; from 9000 on they only give numbers.
``--speed`` adds the time of one reading against cv2.imdecode of a 12-megapixel photo.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from facemark.inputs import Photo
from facemark.learn.true_map import true_map
from facemark.see.mark import Marks
from facemark.see.rectify import FaceMap
from facemark.see.splitter import split_marks
from tests.bench.accuracy import (
    TOLD,
    drawn_photos,
    marks_table,
    photos_in,
    ranges_table,
    reliability_table,
)
from tests.bench.drawn import TEST_SEED
from tests.bench.score import Score, matched, score_reading
from tests.bench.speed import best_s

BALL_STEPS = ((1, 2), (3, 5), (6, 8), (9, 30))
Photos = Iterator[tuple[Photo, dict[str, Any]]]


def as_reading(marks: Marks, truth: dict[str, Any]) -> dict[str, Any]:
    """Marks in the shape that the scorer reads; geometry from the truth, sweet spot at the face centre."""
    return {
        "marks": [
            {
                "toe_mm": m.toe_mm,
                "high_mm": m.high_mm,
                "toe_err_mm": m.toe_err_mm,
                "high_err_mm": m.high_err_mm,
                "score_frac": m.score_frac,
                "sure": m.sure,
            }
            for m in marks.marks
        ],
        "n_least": marks.n_least,
        "group": {name: getattr(marks.group, name) for name in marks.group.__dataclass_fields__},
        "sweet_spot": {"toe_mm": 0.0, "high_mm": 0.0},
        "face": {
            "mm_per_px": math.sqrt(math.prod(truth["mm_per_px_at_face_centre"])),
            "outline_px": truth["face_outline_px"],
        },
        "hand_seen": None,
        "caveats": [{"key": c.key} for c in marks.caveats],
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """One face read once."""

    score: Score
    found: tuple[tuple[float, bool], ...]  # share of a mark's area that no other touches; was it found


def read_both(face_map: FaceMap, truth: dict[str, Any]) -> dict[str, Read]:
    """The face read with the number of balls told and not told."""
    true = np.array([[m["x_mm"], m["y_mm"]] for m in truth["marks"]], float).reshape(-1, 2)
    free = [float(m["fraction_touched_by_no_other_mark"]) for m in truth["marks"]]
    reads = {}
    for told in TOLD:
        marks = split_marks(face_map, n_balls=len(true) or None if told == "told" else None)
        if marks is None:
            raise SystemExit("the splitter's weights are missing")
        reading = as_reading(marks, truth) if marks.marks else None
        shown = np.array([[m.toe_mm, m.high_mm] for m in marks.marks], float).reshape(-1, 2)
        hit = {i for i, _ in matched(true, shown)}
        reads[told] = Read(
            score=score_reading(truth, reading, refused="" if reading else "no mark"),
            found=tuple((share, i in hit) for i, share in enumerate(free)),
        )
    return reads


def balls_table(scores: dict[str, list[Score]]) -> list[str]:
    """What is lost with every further ball on the face."""
    lines = [
        f"{'balls':7} {'count':9} {'photos':>6} {'F1':>6} {'sure':>6} {'group median':>13} {'spread':>7}"
    ]
    for low, high in BALL_STEPS:
        for told in TOLD:
            rows = [s for s in scores[told] if low <= s.n_true <= high]
            if not rows:
                continue
            right, said = sum(s.n_right for s in rows), sum(s.n_shown + s.n_true for s in rows)
            sure = sum(s.n_sure for s in rows) / sum(s.n_true for s in rows)
            group = [s.group_miss_mm for s in rows if s.group_miss_mm is not None] or [math.nan]
            spread = [v for s in rows for v in s.spread_miss_frac] or [math.nan]
            lines.append(
                f"{low:2d}-{high:<4d} {told:9} {len(rows):6d} {2 * right / max(said, 1):6.2f} "
                f"{100 * sure:5.0f}% {np.median(group):10.2f} mm {100 * np.median(spread):6.0f}%"
            )
    return lines


def overlap_table(found: dict[str, list[tuple[float, bool]]]) -> list[str]:
    """Marks found, by the share of their area that no other mark touches."""
    lines = [f"{'free area':10} {'count':9} {'marks':>6} {'found':>6}"]
    for low, high in ((0.0, 0.02), (0.02, 0.1), (0.1, 0.25), (0.25, 0.6), (0.6, 1.01)):
        for told in TOLD:
            some = [hit for share, hit in found[told] if low <= share < high]
            if some:
                lines.append(
                    f"{100 * low:3.0f}-{min(100 * high, 100):3.0f} %  {told:9} {len(some):6d} "
                    f"{100 * sum(some) / len(some):5.0f}%"
                )
    return lines


def speed_table(face_map: FaceMap) -> list[str]:
    """Time of one reading as a ratio to a full decode of a 12-megapixel JPEG, both on one thread."""
    cv2.setNumThreads(1)
    # Powder is grainy, so its JPEG is a large one; noise over a slow gradient, about 4 MB.
    rng = np.random.default_rng(1)
    light = np.linspace(60, 190, 4000, dtype=np.float32)[None, :, None]
    noisy = light + 9.0 * rng.standard_normal((3000, 4000, 3), np.float32)
    jpeg = cv2.imencode(".jpg", noisy.clip(0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 90])[1]
    decode = best_s(lambda: cv2.imdecode(jpeg, cv2.IMREAD_COLOR))
    lines = [f"decode of 12 MP ({len(jpeg) / 1e6:.1f} MB): {1e3 * decode:.0f} ms"]
    for fast in (False, True):
        for n_balls in (8, None):
            spent = best_s(lambda n=n_balls, f=fast: split_marks(face_map, n_balls=n, fast=f))  # type: ignore[misc]
            how = f"{'fast' if fast else 'full'}, balls {'told' if n_balls else 'not told'}"
            lines.append(f"{how:22} {1e3 * spent:6.0f} ms = {spent / decode:.2f} x the decode")
    return lines


def main() -> None:
    """Read, score, print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--drawn", type=int, default=0, help="drawn photos per tier")
    parser.add_argument("--seed", type=int, default=TEST_SEED)
    parser.add_argument("--speed", action="store_true")
    arguments = parser.parse_args()
    sources: list[tuple[str, Callable[[], Photos]]] = [
        (str(folder), lambda folder=folder: photos_in(folder)) for folder in arguments.folders
    ]
    if arguments.drawn:
        name = f"drawn, {arguments.drawn} a tier, seed {arguments.seed}"
        sources.append((name, lambda: drawn_photos(arguments.drawn, arguments.seed)))
    if not sources:
        parser.error("name a folder of photos, or --drawn N")
    face_map = None
    for name, photos in sources:
        reads: dict[str, list[Read]] = {told: [] for told in TOLD}
        for photo, truth in photos():
            face_map = true_map(photo.pixels, truth)
            for told, one in read_both(face_map, truth).items():
                reads[told].append(one)
        scores = {told: [one.score for one in reads[told]] for told in TOLD}
        print(f"\n== {name}")
        print("\n".join(marks_table(scores)))
        print("\n".join(ranges_table(scores)))
        print("\n".join(balls_table(scores)))
        print(
            "\n".join(overlap_table({told: [f for one in reads[told] for f in one.found] for told in TOLD}))
        )
        print("\n".join(reliability_table([s for told in TOLD for s in scores[told]])))
    if arguments.speed and face_map is not None:
        print("\n".join(speed_table(face_map)))


if __name__ == "__main__":
    main()
