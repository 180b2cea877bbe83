"""How long a reading takes, as ratios measured in one run: python -m tests.bench.speed PHOTO [PHOTO ...]

In process: against cv2.imdecode of the same file at full size. As a process: against ``python -c pass``. Each
ratio stands in wall time and, in brackets, in processor time, which other work on the machine disturbs less;
the load is printed. Child processes find their modules compiled, as in an installed package. Options for each
photo come from the truth file beside it (``truth/NAME.json``), if any.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

import facemark
from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind, Setup

ROUNDS = 5
BYTECODE = tempfile.TemporaryDirectory(prefix="facemark-bench-")  # gone at the end


class Spent(NamedTuple):
    """Shortest of several runs: the ones least disturbed by other work on the machine."""

    wall_s: float
    cpu_s: float

    def over(self, other: Spent) -> tuple[float, float]:
        """How many times ``other``: (wall, processor)."""
        return self.wall_s / other.wall_s, self.cpu_s / other.cpu_s


def best(work: Callable[[], object], rounds: int = ROUNDS) -> Spent:
    """Time a piece of work, its child processes included."""
    walls, cpus = [], []
    for _ in range(rounds):
        start, before = time.perf_counter(), _cpu_s()
        work()
        walls.append(time.perf_counter() - start)
        cpus.append(_cpu_s() - before)
    return Spent(min(walls), min(cpus))


def best_s(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Wall time alone."""
    return best(work, rounds).wall_s


def _cpu_s() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


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
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    bare = best(lambda: _start("-c", "pass"), 9)
    helped = best(lambda: _run(["--help"]))
    print(f"python -c pass   {1000 * bare.wall_s:6.1f} ms")
    print(f"facemark --help  {_words(helped, bare)}   (wanted: <= 6 x)")
    ratios: dict[str, list[tuple[float, float]]] = {"load+read": [], "fast": [], "process": []}
    for photo in arguments.photos:
        content = np.fromfile(photo, np.uint8)
        setup, options = setup_for(photo)
        decode = best(lambda content=content: cv2.imdecode(content, cv2.IMREAD_COLOR))  # type: ignore[misc]
        full = best(lambda p=photo, s=setup: facemark.read(facemark.load(p), s))  # type: ignore[misc]
        fast = best(lambda p=photo, s=setup: facemark.read(facemark.load(p), s, fast=True))  # type: ignore[misc]
        process = best(lambda p=photo, o=options: _run(["read", str(p), *o]), 3)  # type: ignore[misc]
        print(f"{photo.stem}: decode {1000 * decode.wall_s:.0f} ms; load+read {_words(full, decode)};")
        print(f"    fast {_words(fast, decode)}; process {_words(process, bare)}")
        for name, spent, unit in (
            ("load+read", full, decode),
            ("fast", fast, decode),
            ("process", process, bare),
        ):
            ratios[name].append(spent.over(unit))
    for name, wanted in (
        ("load+read", "x decode (wanted: <= 4 x, few marks; <= 6 x, flips)"),
        ("fast", "x decode (wanted: <= 3 x)"),
        ("process", "x python -c pass (wanted: <= 25 x)"),
    ):
        wall, cpu = np.median(ratios[name], axis=0)
        print(f"median {name:10s} {wall:6.1f} ({cpu:.1f}) {wanted}")
    print(f"load average {os.getloadavg()[0]:.1f}")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"largest memory    {memory:.0f} MB (wanted: <= 600 MB)")


def _words(spent: Spent, unit: Spent) -> str:
    wall, cpu = spent.over(unit)
    return f"{1000 * spent.wall_s:.0f} ms, {wall:.1f} x ({cpu:.1f} x)"


def _run(words: list[str]) -> None:
    _start("-m", "facemark", *words)


def _start(*words: str) -> None:
    """Run Python; the first run of several compiles, the shortest is kept."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = BYTECODE.name
    subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL, env=environment)


if __name__ == "__main__":
    main()
