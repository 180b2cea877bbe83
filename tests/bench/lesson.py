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
import contextlib
import itertools
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from facemark.inputs import ClubKind, Hand, ReferenceKind
from facemark.see.draw import DrawRecipe, draw_photo
from tests.tell.lesson.outcome import child_processes, gone, rows

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


# --- one run, watched ---
@dataclass
class Watched:
    """What a run cost. CPU and memory are sampled: each process's last third of a second may be missing."""

    wall_s: float = 0.0
    cpu_s: dict[int, float] = field(default_factory=dict)  # by process
    largest_mb: dict[int, float] = field(default_factory=dict)  # resident, shared pages included
    own_mb: dict[int, float] = field(default_factory=dict)  # shared pages divided among those who share them
    names: dict[int, str] = field(default_factory=dict)
    after_photo_s: list[float] = field(default_factory=list)  # CPU of the whole run after each photo
    yardsticks: list[tuple[int, float]] = field(default_factory=list)  # photos done, CPU s of one yardstick
    code: int = 0

    def sample(self, main: int) -> None:
        for pid in [main, *child_processes(main)]:
            with contextlib.suppress(OSError, IndexError, ValueError):
                fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
                self.cpu_s[pid] = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
                status = Path(f"/proc/{pid}/status").read_text()
                self.largest_mb[pid] = int(status.split("VmHWM:")[1].split()[0]) / 1024
                shared = Path(f"/proc/{pid}/smaps_rollup").read_text()
                own = int(shared.split("\nPss:")[1].split()[0]) / 1024
                self.own_mb[pid] = max(own, self.own_mb.get(pid, 0.0))

    def workers(self, main: int) -> list[int]:
        """Processes that read photos: all but the first and the one they are forked from."""
        return [pid for pid in self.cpu_s if pid != main and self.cpu_s[pid] > 2.0]


def yardstick_s() -> float:
    """CPU seconds of a fixed piece of image work: grows as other programs crowd caches and cores."""
    picture = np.full((1500, 1500), 0.5, np.float32)
    start_s = time.thread_time()
    cv2.GaussianBlur(picture, (0, 0), 4.0)
    return time.thread_time() - start_s


def lesson(photos: Path, home: Path, *options: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "facemark", "lesson", str(photos), *OPTIONS, "--json", *options],
        env=os.environ | {"FACEMARK_HOME": str(home), "OMP_NUM_THREADS": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )


def watch(process: subprocess.Popen[str]) -> Watched:
    """Let a run go to its end."""
    watched, start_s = Watched(), time.perf_counter()
    done = threading.Event()

    def often() -> None:
        for number in itertools.count():
            if done.wait(0.3):
                return
            watched.sample(process.pid)
            if number % 10 == 0:
                watched.yardsticks.append((len(watched.after_photo_s), yardstick_s()))

    sampler = threading.Thread(target=often)
    sampler.start()
    assert process.stdout is not None
    for _ in process.stdout:
        watched.sample(process.pid)
        watched.after_photo_s.append(sum(watched.cpu_s.values()))
    watched.code = process.wait()
    watched.wall_s = time.perf_counter() - start_s
    done.set()
    sampler.join()
    return watched


def some_photos(cache: Path, n: int, folder: Path) -> Path:
    """Links to n of the photos, spread over all scenes and players."""
    for k in sorted({i * N_PHOTOS // n for i in range(n)}):
        original = photo_path(cache, k)
        link = folder / original.relative_to(cache / "photos")
        link.parent.mkdir(parents=True, exist_ok=True)
        link.symlink_to(original.absolute())
    return folder


def load_average() -> str:
    return f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"


# --- the parts ---
def rate(cache: Path, n: int, work: Path) -> None:
    """Photos a second with one and two workers, in turns, so that other work on the machine hits both."""
    photos = some_photos(cache, n, work / "photos")
    best: dict[int, float] = {}
    for turn, jobs in enumerate((1, 2, 1, 2)):
        watched = watch(lesson(photos, work / f"home-{turn}", "--jobs", str(jobs)))
        assert watched.code == 0, "a photo was not read"
        cpu_s = sum(watched.cpu_s.values())
        best[jobs] = min(best.get(jobs, 1e9), watched.wall_s)
        print(
            f"{jobs} worker(s): {n} photos in {watched.wall_s:6.1f} s, {n / watched.wall_s:.2f} photos/s,"
            f" CPU {cpu_s / n:.2f} s a photo, {cpu_s / watched.wall_s:.2f} cores used ({load_average()})",
            flush=True,
        )
    print(f"two against one: {best[1] / best[2]:.2f} x (wanted: >= 1.7 x, on two free cores)")


def memory(cache: Path, n: int, work: Path) -> None:
    """Largest memory of any worker over a run."""
    process = lesson(some_photos(cache, n, work / "photos"), work / "home", "--jobs", "2")
    watched = watch(process)
    workers = watched.workers(process.pid)
    largest = max(watched.largest_mb[pid] for pid in workers)
    own = max(watched.own_mb[pid] for pid in workers)
    print(f"{n} photos of 12 MP: largest worker {largest:.0f} MB resident (wanted: <= 700 MB),")
    print(f"  {own:.0f} MB when pages shared with the other workers are divided among them;")
    print(f"  first process {watched.largest_mb[process.pid]:.0f} MB")


def cost(cache: Path, n: int, work: Path) -> None:
    """CPU seconds a photo along one long run. Photos come sorted by player; each player has all scenes.

    The same piece of work is timed all along: on a crowded machine everything takes more CPU seconds.
    """
    cv2.setNumThreads(1)
    process = lesson(some_photos(cache, n, work / "photos"), work / "home", "--jobs", "2")
    watched = watch(process)
    after = watched.after_photo_s
    block = n // len(PLAYERS)
    costs = [
        (after[end - 1] - after[end - block]) / (block - 1) for end in range(block, len(after) + 1, block)
    ]
    sticks = [
        float(
            np.median([s for done, s in watched.yardsticks if number * block <= done < (number + 1) * block])
        )
        for number in range(len(costs))
    ]
    for number, (value, stick) in enumerate(zip(costs, sticks, strict=True)):
        print(
            f"photos {number * block + 1:3d} to {(number + 1) * block:3d}: {value:.2f} CPU s a photo,"
            f" {value / stick:.0f} yardsticks of {1000 * stick:.1f} ms"
        )
    steady = costs[-1] / sticks[-1] / (costs[0] / sticks[0])
    print(
        f"{n} photos in {watched.wall_s:.0f} s ({load_average()}); last block against first:"
        f" {costs[-1] / costs[0]:.2f} x in CPU s, {steady:.2f} x in yardsticks (wanted: constant)\n"
        f"largest worker {max(watched.largest_mb.values()):.0f} MB; first process"
        f" {watched.largest_mb[process.pid]:.0f} MB, {watched.cpu_s[process.pid] / n:.3f} CPU s a photo"
    )


def kill(cache: Path, n: int, work: Path) -> None:
    """kill -9 of the first process at five random moments; started again, the end must be the same."""
    photos = some_photos(cache, n, work / "photos")
    whole = watch(lesson(photos, work / "whole", "--jobs", "2"))
    expected = rows(work / "whole" / "facemark.db")
    print(
        f"uninterrupted: {len(expected)} of {n} photos in the book, {whole.wall_s:.0f} s ({load_average()})"
    )
    rng = random.Random(SEED)
    for number in range(5):
        home, moment_s = work / f"home-{number}", rng.uniform(0.05, 0.95) * whole.wall_s
        process = lesson(photos, home, "--jobs", "2")
        time.sleep(moment_s)
        children = child_processes(process.pid)
        process.send_signal(signal.SIGKILL)
        process.communicate()
        while not all(gone(pid) for pid in children):
            time.sleep(0.1)
        held = len(rows(home / "facemark.db")) if (home / "facemark.db").exists() else 0
        again = watch(lesson(photos, home, "--jobs", "2"))
        verdict = "same book, integrity ok" if rows(home / "facemark.db") == expected else "NOT THE SAME"
        print(
            f"killed after {moment_s:5.1f} s with {held:2d} in the book; again: exit {again.code}, {verdict}",
            flush=True,
        )


def dask(cache: Path, n: int, work: Path) -> None:
    """kill -9 of a worker of a cluster, twice on the way; every photo once in the book."""
    photos = some_photos(cache, n, work / "photos")
    watch(lesson(photos, work / "whole", "--jobs", "2"))
    expected = rows(work / "whole" / "facemark.db")
    with cluster(work) as (address, workers):
        process = lesson(photos, work / "home", "--dask", address)
        assert process.stdout is not None
        for number, _ in enumerate(process.stdout, start=1):
            if number in (n // 4, n // 2):
                victim = child_processes(workers[number % len(workers)].pid)[-1]
                os.kill(victim, signal.SIGKILL)
                print(f"after {number} photos: worker process {victim} killed", flush=True)
        code = process.wait()
    same = rows(work / "home" / "facemark.db") == expected
    print(
        f"exit {code}; {len(expected)} photos wanted; {'same book, integrity ok' if same else 'NOT THE SAME'}"
    )


@contextlib.contextmanager
def cluster(work: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """A scheduler and two workers, each with the keeper that starts it anew."""

    def start(role: str, *options: str) -> subprocess.Popen[bytes]:
        words = [sys.executable, "-m", f"distributed.cli.dask_{role}", *options, "--no-dashboard"]
        return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    file = work / "scheduler.json"
    scheduler = start("scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(file))
    while not file.exists() or '"address"' not in file.read_text(encoding="utf-8"):
        time.sleep(0.2)
    address = json.loads(file.read_text(encoding="utf-8"))["address"]
    options = ("--nthreads", "1", "--memory-limit", "0", "--local-directory", str(work))
    workers = [start("worker", address, *options) for _ in range(2)]
    time.sleep(10)  # until both have registered
    try:
        yield address, workers
    finally:
        for process in (*workers, scheduler):
            process.terminate()
            process.wait()


PARTS = {"rate": rate, "memory": memory, "cost": cost, "kill": kill, "dask": dask}


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("part", choices=("draw", *PARTS))
    parser.add_argument("--cache", type=Path, required=True, help="folder for the drawn photos")
    parser.add_argument("--n", type=int, default=20, help="how many of the 200 photos")
    arguments = parser.parse_args()
    draw_photos(arguments.cache)
    if arguments.part != "draw":
        with tempfile.TemporaryDirectory(prefix="lesson-") as folder:
            PARTS[arguments.part](arguments.cache, arguments.n, Path(folder))


if __name__ == "__main__":
    main()
