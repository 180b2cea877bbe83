"""How long a report of one session takes, and how large it is: python -m tests.bench.reports

One session of ten readings of five balls, compared with another such session; once with the one photo that
is shipped. Each figure is the first run in a fresh process, imports included, because a coach runs it once.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

GOAL_S = 1.0

CHILD = """
import json, sys, time
from pathlib import Path
start, cpu = time.perf_counter(), time.process_time()
from facemark.tell.session_report import Session, session_report
records = json.loads(Path(sys.argv[2]).read_text())
def done(name, size):
    print(f"{name},{size},{time.perf_counter() - start:.3f},{time.process_time() - cpu:.3f}")
kind, photos = sys.argv[1], []
if len(records) == 1:
    import facemark
    photos = [(facemark.load(sys.argv[3]), records[0])]
    start, cpu = time.perf_counter(), time.process_time()
half = len(records) // 2
now, before = (records[half:], records[:half]) if half else (records, None)
told = session_report(
    Session(records=tuple(now)), before=Session(records=tuple(before)) if before else None
)
if kind in ("html", "all"):
    from facemark.tell.report_html import html_report
    size = len(html_report(told, photos).encode())
if kind in ("pdf", "all"):
    from facemark.tell.report_pdf import pdf_report
    size = len(pdf_report(told, photos[0] if photos else None))
if kind in ("chat", "all"):
    from facemark.tell.report_chat import chat_report
    size = len(chat_report(told, photos[0] if photos else None))
if kind == "text":
    from facemark.tell.language import ENGLISH
    from facemark.tell.report_content import report_content, report_text
    from facemark.tell.units import Units
    size = len(report_text(report_content(told, Units(), ENGLISH)).encode())
done(kind, size)
"""


def main() -> None:
    from tests.tell.report_sets import PHOTO, moved, reading

    sets = {
        "session of 10 readings, 50 marks, against another": [moved((9, -3), 5, seed) for seed in range(20)],
        "one reading with its photo": [reading()],
    }
    print("                          size       wall      CPU")
    worst = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for name, records in sets.items():
            path = Path(folder) / "records.json"
            path.write_text(json.dumps(records), encoding="utf-8")
            print(name)
            for kind in ("text", "html", "pdf", "chat", "all"):
                words = [sys.executable, "-c", CHILD, kind, str(path), str(PHOTO)]
                out = subprocess.run(words, check=True, capture_output=True, text=True).stdout
                _, size, wall, cpu = out.strip().split(",")
                shown = f"{int(size) / 1000:8.0f} kB" if kind != "all" else " " * 11
                print(f"  {kind:12s}  {shown}  {float(wall):6.2f} s  {float(cpu):6.2f} s")
                if kind == "all" and len(records) > 1:
                    worst = max(float(wall), float(cpu))
    print(f"all three of one session: {worst:.2f} s (wanted: <= {GOAL_S:.0f} s, wall and CPU)")


if __name__ == "__main__":
    main()
