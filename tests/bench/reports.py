"""How long a report of one session takes, and how large it is: python -m tests.bench.reports

One session of ten readings of five balls, compared with another such session; and one reading with its photo.
Fresh: a process that starts, imports and makes the dictionary and one report, as a command does. Running: the
same again inside a process that has made one already, as the page does. Each is the best of three, because
other work on the machine only adds.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from facemark.inputs import Photo

GOAL_S = 1.0
ROUNDS = 3
KINDS = ("text", "html", "pdf", "chat")

Shown = list[tuple[Photo, dict[str, Any]]]


def make(kind: str, records: list[dict[str, Any]], photos: Shown) -> int:
    """Dictionary and one report; its size in bytes."""
    from facemark.tell.session_report import Session, session_report

    half = len(records) // 2
    before = Session(records=tuple(records[:half])) if half else None
    told = session_report(Session(records=tuple(records[half:])), before=before)
    if kind == "html":
        from facemark.tell.report_html import html_report

        return len(html_report(told, photos).encode())
    if kind == "pdf":
        from facemark.tell.report_pdf import pdf_report

        return len(pdf_report(told, photos[0] if photos else None))
    if kind == "chat":
        from facemark.tell.report_chat import chat_report

        return len(chat_report(told, photos[0] if photos else None))
    from facemark.tell.language import ENGLISH
    from facemark.tell.report_content import report_content, report_text
    from facemark.tell.units import Units

    return len(report_text(report_content(told, Units(), ENGLISH)).encode())


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Best wall and CPU time of several runs [s]."""
    walls, cpus = [], []
    for _ in range(ROUNDS):
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    return min(walls), min(cpus)


def child(kind: str, path: str, photo: str) -> None:
    """A fresh process: imports, the photo's decoding and all."""
    records = json.loads(Path(path).read_text(encoding="utf-8"))
    photos: Shown = []
    if len(records) == 1:
        import facemark

        photos = [(facemark.load(photo), records[0])]
    make(kind, records, photos)


def fresh(kind: str, path: Path, photo: Path) -> tuple[float, float]:
    """Best wall and CPU time of a process of its own [s]."""
    import resource

    words = [sys.executable, "-m", "tests.bench.reports", kind, str(path), str(photo)]
    walls, cpus = [], []
    for _ in range(ROUNDS):
        was = resource.getrusage(resource.RUSAGE_CHILDREN)
        wall = time.perf_counter()
        subprocess.run(words, check=True)
        walls.append(time.perf_counter() - wall)
        now = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpus.append(now.ru_utime + now.ru_stime - was.ru_utime - was.ru_stime)
    return min(walls), min(cpus)


def main() -> None:
    import facemark
    from tests.tell.report_sets import PHOTO, moved, reading

    sets = {
        "session of 10 readings, 50 marks, against another": [moved((9, -3), 5, seed) for seed in range(20)],
        "one reading with its photo": [reading()],
    }
    print("                 size    running: wall    CPU    fresh: wall    CPU")
    worst = [0.0, 0.0]
    with tempfile.TemporaryDirectory() as folder:
        for name, records in sets.items():
            path = Path(folder) / "records.json"
            path.write_text(json.dumps(records), encoding="utf-8")
            photos: Shown = [(facemark.load(PHOTO), records[0])] if len(records) == 1 else []
            print(name)
            for kind in KINDS:
                size = make(kind, records, photos)
                warm = timed(lambda kind=kind, records=records, photos=photos: make(kind, records, photos))  # type: ignore[misc]
                cold = fresh(kind, path, PHOTO)
                print(
                    f"  {kind:8s} {size / 1000:8.0f} kB {warm[0]:12.2f} s {warm[1]:5.2f} s "
                    f"{cold[0]:9.2f} s {cold[1]:5.2f} s"
                )
                if len(records) > 1:
                    worst = [max(worst[0], *warm), max(worst[1], *cold)]
    print(
        f"one session, slowest report: running {worst[0]:.2f} s, fresh {worst[1]:.2f} s "
        f"(wanted: <= {GOAL_S:.0f} s)"
    )


if __name__ == "__main__":
    if len(sys.argv) == 4:
        child(*sys.argv[1:])
    else:
        main()
