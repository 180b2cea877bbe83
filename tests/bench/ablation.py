"""What is each part good for? The splitter without it, and what other finders reach, on the same photos.

    python -m facemark.learn.ablate_marks --out TRAINED --seconds 515 --group inputs --seed 21
    python -m facemark.learn.ablate_marks --out TRAINED --seconds 500 --group drawing --seed 22
    python -m facemark.learn.ablate_marks --out VARIANTS --export TRAINED
    python -m tests.bench.drawn PHOTOS --n 20 --seed 41
    python -m tests.bench.ablation PHOTOS --variants VARIANTS

The first three lines need a GPU, 17 minutes of it, and PyTorch; without ``--variants`` only what ships is
looked at. Every photo is rectified with its true camera and outline. Short trainings: only numbers of one
group may be compared, and what two trainings of the whole differ by is noise.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from facemark.errors import FacemarkError
from facemark.learn.true_map import true_map
from facemark.see.marks import find_marks
from facemark.see.powder import map_powder
from facemark.see.rectify import FaceMap
from facemark.see.splitter_net import ask, face_planes, network
from facemark.see.splitter_points import share_out
from facemark.see.splitter_read import cells_to_map, on_face, seen_balls
from facemark.see.voting import vote_circles
from tests.bench.accuracy import photos_in
from tests.bench.score import matched

BLANK = {"contrast": 1, "outline": 2}  # planes of face_planes, by the names of ablate_marks
Case = tuple[FaceMap, np.ndarray]  # and the true centres (m, 2) [mm]
Finder = Callable[[FaceMap, int | None], np.ndarray]  # (n, 2) points [mm]


def cases_in(folder: Path) -> list[Case]:
    """Every photo's true map and marks."""
    return [
        (true_map(photo.pixels, truth), np.array([[m["x_mm"], m["y_mm"]] for m in truth["marks"]], float))
        for photo, truth in photos_in(folder)
    ]


def by_net(net: Any, mirrors: int, without: str = "") -> Finder:
    """All points that a network's density carries, whatever their score: no calibration is in the numbers.

    A network that was taught without a plane gets none here either.
    """

    def found(face_map: FaceMap, n_balls: int | None) -> np.ndarray:
        planes = face_planes(face_map)
        if without in BLANK:
            planes[BLANK[without]] = 0.0
        maps = ask(planes, None if without == "count" else n_balls, mirrors=mirrors, net=net)
        rate = on_face(maps, face_map)
        n_points = n_balls or round(seen_balls(maps, rate))
        if n_points == 0 or not rate.any():
            return np.zeros((0, 2))
        return np.asarray(face_map.mm_from_map(cells_to_map(share_out(rate, n_points).xy)))

    return found


def by_discs(face_map: FaceMap, n_balls: int | None) -> np.ndarray:
    """The fall-back without weights."""
    try:
        marks = find_marks(face_map, n_balls=n_balls, learned=False).marks
    except FacemarkError:
        marks = ()
    return np.array([[m.toe_mm, m.high_mm] for m in marks], float).reshape(-1, 2)


def by_votes(face_map: FaceMap, n_balls: int | None) -> np.ndarray:
    """Discs that show their own rim; a told count changes nothing."""
    circles = vote_circles(map_powder(face_map))
    return np.array([[c.toe_mm, c.high_mm] for c in circles], float).reshape(-1, 2)


def line(words: str, finder: Finder, cases: Iterable[Case]) -> str:
    """F1 within 4 mm with the count told and not told; median error of the mean of all points."""
    cells = []
    for told in (True, False):
        right = said = 0
        middle = []
        for face_map, true in cases:
            points = finder(face_map, len(true) if told else None)
            right += len(matched(true, points))
            said += len(true) + len(points)
            if len(points):
                middle.append(np.hypot(*(points.mean(axis=0) - true.mean(axis=0))))
        cells.append(f"{2 * right / max(said, 1):6.3f} {np.median(middle or [np.nan]):7.2f} mm")
    return f"{words:34} " + "   ".join(cells)


def main() -> None:
    """Read, score, print a line at a time."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("photos", type=Path)
    parser.add_argument("--variants", type=Path, nargs="*", default=[], help="folders of GROUP-VARIANT.onnx")
    parser.add_argument("--mirrors", type=int, default=1, help="looks of each variant")
    parser.add_argument("--no-shipped", action="store_true", help="variants only")
    told = parser.parse_args()
    cv2.setNumThreads(1)
    cases = cases_in(told.photos)
    print(f"{len(cases)} photos" + f"{'count told: F1, middle':>44}{'not told: F1, middle':>24}", flush=True)
    if not told.no_shipped:
        for mirrors in (1, 2, 4):
            words = f"as shipped, {mirrors} look{'s' if mirrors > 1 else ''}"
            print(line(words, by_net(None, mirrors), cases), flush=True)
        print(line("discs (fall-back without weights)", by_discs, cases), flush=True)
        print(line("votes (the independent check)", by_votes, cases), flush=True)
    for folder in told.variants:
        for path in sorted(folder.glob("*.onnx"), key=lambda one: ("whole" not in one.name, one.name)):
            group, _, name = path.stem.partition("-")
            words = f"{group}: {'whole' if name == 'whole' else 'without ' + name}"
            print(line(words, by_net(network(str(path)), told.mirrors, name), cases), flush=True)


if __name__ == "__main__":
    main()
