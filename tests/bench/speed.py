"""How long a reading takes, as ratios measured in one run: python -m tests.bench.speed PHOTO [PHOTO ...]

In process: against cv2.imdecode of the same file at full size. As a process: against ``python -c pass``.
Options for each photo come from the truth file beside it, where there is one (``truth/NAME.json``).
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

import facemark
from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind, Setup

ROUNDS = 5


def best_s(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Shortest of several runs: the one least disturbed by other work on the machine."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def setup_for(photo: Path) -> tuple[Setup, list[str]]:
    """Setup and command-line options as a user would give them for this photo."""
    path = photo.parent / "truth" / f"{photo.stem}.json"
    if not path.exists():
        return Setup(club=typical_club(ClubKind.DRIVER)), []
    truth = json.loads(path.read_text(encoding="utf-8"))
    n = len(truth["marks"])
    options = ["--balls", str(n), "--kind", truth["club_kind"]]
    reference = Reference()
    if truth["reference"]["kind"] == "aruco":
        side = truth["reference"]["marker_side_mm"]
        reference = Reference(kind=ReferenceKind.TAGS, size_mm=side)
        options += ["--tag-mm", str(side)]
    hand = Hand.RIGHT if truth["handed"] == "R" else Hand.LEFT
    options.append("--right" if hand is Hand.RIGHT else "--left")
    club = typical_club(ClubKind(truth["club_kind"]))
    return Setup(club=club, hand=hand, reference=reference, n_balls=n), options


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photos", nargs="+", type=Path)
    arguments = parser.parse_args()
    bare = best_s(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True), 9)
    helped = best_s(lambda: _run(["--help"]))
    print(f"python -c pass        {1000 * bare:7.1f} ms")
    print(f"facemark --help       {1000 * helped:7.1f} ms   {helped / bare:5.1f} x   (wanted: <= 6 x)")
    print("photo            decode  load+read  ratio     fast  ratio    process")
    ratios, fast_ratios, process_ratios = [], [], []
    for photo in arguments.photos:
        content = np.fromfile(photo, np.uint8)
        setup, options = setup_for(photo)
        decode = best_s(lambda content=content: cv2.imdecode(content, cv2.IMREAD_COLOR))  # type: ignore[misc]
        full = best_s(lambda p=photo, s=setup: facemark.read(facemark.load(p), s))  # type: ignore[misc]
        fast = best_s(lambda p=photo, s=setup: facemark.read(facemark.load(p), s, fast=True))  # type: ignore[misc]
        process = best_s(lambda p=photo, o=options: _run(["read", str(p), *o]), 3)  # type: ignore[misc]
        ratios.append(full / decode)
        fast_ratios.append(fast / decode)
        process_ratios.append(process / bare)
        print(
            f"{photo.stem:14s} {1000 * decode:5.0f} ms {1000 * full:7.0f} ms {full / decode:6.1f} "
            f"{1000 * fast:5.0f} ms {fast / decode:6.1f} {1000 * process:6.0f} ms {process / bare:6.1f} x"
        )
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"median: load+read {np.median(ratios):.1f} x decode (wanted: <= 4 x, few marks; <= 6 x, flips)")
    print(f"        fast      {np.median(fast_ratios):.1f} x decode (wanted: <= 3 x)")
    print(f"        process   {np.median(process_ratios):.1f} x python -c pass (wanted: <= 25 x)")
    print(f"largest memory    {memory:.0f} MB (wanted: <= 600 MB)")


def _run(words: list[str]) -> None:
    subprocess.run([sys.executable, "-m", "facemark", *words], check=True, stdout=subprocess.DEVNULL)


if __name__ == "__main__":
    main()
