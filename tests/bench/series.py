"""How well photos in sequence are read: every ball's mark, and the photo that first showed it.

    python -m tests.bench.series --drawn 22 --seed 9701
    python -m tests.bench.series FOLDER

FOLDER holds series_K folders as ``python -m tests.bench.drawn FOLDER --series K`` writes them. Through the
whole pipeline, the number of new balls before each photo told and not told; each set's last photo is also
read alone. A set that is refused counts with all its marks missed. "Order right": of the marks in a right
place, those in a right place among the balls of their own photo.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

import facemark
from facemark.errors import FacemarkError
from facemark.inputs import Photo
from facemark.reading import read_series
from tests.bench.accuracy import TOLD, setup_of
from tests.bench.drawn import TEST_SEED, bench_series
from tests.bench.score import SIGMAS_95, Score, matched, score_reading

Shot = tuple[Photo, dict[str, Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """One set read in one way."""

    name: str
    n_true: int
    n_shown: int
    n_right: int
    n_in_order: int  # right among the balls of their own photo
    score: Score | None = None  # of a series
    refused: str = ""


def sets_in(folder: Path) -> Iterator[tuple[str, list[Shot]]]:
    """Every series_K folder, in order."""
    for one in sorted(folder.glob("series_*"), key=lambda path: int(path.name.split("_")[1])):
        truths = [json.loads(path.read_text(encoding="utf-8")) for path in (one / "truth").glob("*.json")]
        truths.sort(key=lambda truth: truth["series"]["index"])
        if truths and len(truths) == truths[0]["series"]["n_photos"]:
            yield one.name, [(facemark.load(one / truth["image"]), truth) for truth in truths]


def drawn_sets(n: int, seed: int) -> Iterator[tuple[str, list[Shot]]]:
    for k, photos in enumerate(bench_series(n, seed)):
        yield f"series_{k + 1}", [(drawn.photo, drawn.truth) for drawn in photos]


def follow(name: str, shots: Sequence[Shot], told: str) -> Followed:
    """All photos of a set, read as a series."""
    truths = [truth for _, truth in shots]
    balls = [(k, mark) for k, truth in enumerate(truths) for mark in truth["marks"] if mark["new"]]
    true = _places([mark for _, mark in balls])
    n_new = [truth["series"]["n_new"] for truth in truths] if told == "told" else None
    try:
        reading = read_series(
            [photo for photo, _ in shots], setup_of(truths[-1], None), n_new=n_new
        ).to_dict()
    except FacemarkError as error:
        return _refused(name, len(true), error)
    pairs = matched(true, _from_centre(reading))
    born = np.array([k for k, _ in balls])
    said = np.array([m["photo_index"] for m in reading["marks"]])
    shown = _from_centre(reading)
    in_order = sum(len(matched(true[born == k], shown[said == k])) for k in range(len(shots)))
    last = {key: value for key, value in truths[-1].items() if key != "series"}
    return Followed(
        name=name,
        n_true=len(true),
        n_shown=len(shown),
        n_right=len(pairs),
        n_in_order=in_order,
        score=score_reading(last | {"marks": [mark for _, mark in balls]}, reading),
    )


def alone(name: str, shots: Sequence[Shot], told: str) -> Followed:
    """The last photo alone, against the balls that are on it."""
    photo, truth = shots[-1]
    true = _places(truth["marks"])
    try:
        reading = facemark.read(photo, setup_of(truth, len(true) if told == "told" else None)).to_dict()
    except FacemarkError as error:
        return _refused(name, len(true), error)
    pairs = matched(true, _from_centre(reading))
    return Followed(
        name=name, n_true=len(true), n_shown=len(reading["marks"]), n_right=len(pairs), n_in_order=0
    )


def _refused(name: str, n_true: int, error: FacemarkError) -> Followed:
    said = f"{type(error).__name__}: {error}"
    return Followed(name=name, n_true=n_true, n_shown=0, n_right=0, n_in_order=0, refused=said)


def _places(marks: Sequence[dict[str, Any]]) -> np.ndarray:
    return np.array([[m["x_mm"], m["y_mm"]] for m in marks], float).reshape(-1, 2)


def _from_centre(reading: dict[str, Any]) -> np.ndarray:
    """(n, 2) shown marks from the face's centre [mm]."""
    spot = np.array([reading["sweet_spot"]["toe_mm"], reading["sweet_spot"]["high_mm"]])
    return np.array([[m["toe_mm"], m["high_mm"]] for m in reading["marks"]], float).reshape(-1, 2) + spot


def line(words: str, rows: Sequence[Followed]) -> str:
    """F1 within 4 mm and the share in order."""
    right, order = sum(r.n_right for r in rows), sum(r.n_in_order for r in rows)
    f1 = 2 * right / max(1, sum(r.n_true + r.n_shown for r in rows))
    ordered = f", order right {order / max(1, right):.1%}" if order else ""
    refused = sum(bool(r.refused) for r in rows)
    return f"{words}: {len(rows)} sets, {refused} refused, F1 {f1:.3f}{ordered}"


def ranges(rows: Sequence[Followed]) -> str:
    """Shares inside the stated 68 and 95 % ranges, and certain marks that were wrong."""
    scores = [row.score for row in rows if row.score is not None]
    words = []
    for what, name in (("marks", "ratio"), ("group", "group_ratio"), ("spread", "spread_ratio")):
        ratio = np.array([value for score in scores for value in getattr(score, name)])
        words.append(f"{what} {(ratio <= 1).mean():.0%} {(ratio <= SIGMAS_95).mean():.0%}")
    n_sure, n_wrong = sum(s.n_sure for s in scores), sum(s.n_sure_wrong for s in scores)
    return f"  in 68, 95 % ranges: {', '.join(words)}; wrong sure {n_wrong} of {n_sure}"


def main() -> None:
    """Read, score, print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--drawn", type=int, default=0, help="drawn sets")
    parser.add_argument("--seed", type=int, default=TEST_SEED)
    arguments = parser.parse_args()
    if arguments.folder is None and not arguments.drawn:
        parser.error("name a folder of sets, or --drawn N")
    sets = sets_in(arguments.folder) if arguments.folder else drawn_sets(arguments.drawn, arguments.seed)
    rows: dict[str, list[Followed]] = {}
    for name, shots in sets:
        for told in TOLD:
            rows.setdefault(f"series, balls {told}", []).append(follow(name, shots, told))
            rows.setdefault(f"last photo alone, balls {told}", []).append(alone(name, shots, told))
    for words, some in rows.items():
        print(line(words, some))
        if any(row.score for row in some):
            print(ranges(some))
    for one in rows["series, balls told"]:
        if one.refused or one.n_right < one.n_true or one.n_in_order < one.n_right:
            print(f"  {one.name}: {one.n_right} of {one.n_true}, {one.n_in_order} in order {one.refused}")


if __name__ == "__main__":
    main()
