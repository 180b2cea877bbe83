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
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from facemark.inputs import Photo
from facemark.learn.true_map import true_map
from facemark.see.mark import Marks
from facemark.see.rectify import FaceMap
from facemark.see.splitter import split_marks
from tests.bench.accuracy import TIER_ORDER, TOLD, drawn_photos, marks_table, photos_in, reliability_table
from tests.bench.drawn import TEST_SEED
from tests.bench.score import SIGMAS_95, Score, score_reading
from tests.bench.speed import best_s

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


def read_both(face_map: FaceMap, truth: dict[str, Any]) -> tuple[dict[str, Score], dict[str, list[float]]]:
    """Scores by told / not told, and the spread's misses over their stated errors."""
    scores, ratios = {}, {}
    true = np.array([[m["x_mm"], m["y_mm"]] for m in truth["marks"]], float).reshape(-1, 2)
    for told in TOLD:
        marks = split_marks(face_map, n_balls=len(true) or None if told == "told" else None)
        if marks is None:
            raise SystemExit("the splitter's weights are missing")
        found = as_reading(marks, truth) if marks.marks else None
        scores[told] = score_reading(truth, found, refused="" if found else "no mark")
        ratios[told] = []
        if found and len(true) >= 3:
            sd, group = true.std(axis=0, ddof=1), marks.group
            ratios[told] = [
                abs(group.toe_spread_mm - sd[0]) / group.toe_spread_err_mm,
                abs(group.high_spread_mm - sd[1]) / group.high_spread_err_mm,
            ]
    return scores, ratios


def ranges_table(scores: dict[str, list[Score]], ratios: dict[str, list[tuple[str, float]]]) -> list[str]:
    """How often the stated 68 and 95 % ranges hold: marks, group centre, spread."""
    lines = [f"{'tier':7} {'balls':9} {'marks 68/95':>13} {'group 68/95':>13} {'spread 68/95':>13}"]
    for tier in TIER_ORDER:
        for told in TOLD:
            rows = [s for s in scores[told] if s.tier == tier]
            if not rows:
                continue
            kinds = (
                [v for s in rows for v in s.ratio],
                [v for s in rows for v in s.group_ratio],
                [v for where, v in ratios[told] if where == tier],
            )
            cells = (
                f"{100 * np.mean(np.array(v) <= 1):6.0f} /{100 * np.mean(np.array(v) <= SIGMAS_95):4.0f} %"
                if v
                else f"{'-':>13}"
                for v in kinds
            )
            lines.append(f"{tier:7} {told:9} " + " ".join(cells))
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
        scores: dict[str, list[Score]] = {told: [] for told in TOLD}
        ratios: dict[str, list[tuple[str, float]]] = {told: [] for told in TOLD}
        for photo, truth in photos():
            face_map = true_map(photo.pixels, truth)
            for told, score in (both := read_both(face_map, truth))[0].items():
                scores[told].append(score)
                ratios[told] += [(score.tier, v) for v in both[1][told]]
        print(f"\n== {name}")
        print("\n".join(marks_table(scores)))
        print("\n".join(ranges_table(scores, ratios)))
        print("\n".join(reliability_table([s for told in TOLD for s in scores[told]])))
    if arguments.speed and face_map is not None:
        print("\n".join(speed_table(face_map)))


if __name__ == "__main__":
    main()
