"""How quick and how tough the page is, on this machine.

    python -m tests.bench.page                    all: quick, 50 phones, 10 000 damaged files (an hour)
    python -m tests.bench.page --only quick       photo chosen to marks shown; a drag answered
    python -m tests.bench.page --only phones
    python -m tests.bench.page --only fuzz --files 2000

The server runs in its own process, as ``facemark page`` starts it; the browser is Chromium as a phone.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx

from facemark.tell.page.limits import N_READERS
from facemark.tell.page.reader import Reader
from facemark.tell.page.told import told_of
from tests.tell.page.mutants import mutants, seeds

PHOTOS = Path(__file__).parents[2] / "fixtures" / "photos"
TAGS = {"scale": "tags", "size_mm": 23.9, "n_balls": 3, "hand": "right"}
GOAL_SHOWN_S, GOAL_DRAG_S = 2.0, 0.1


@contextlib.contextmanager
def page_process() -> Iterator[tuple[str, str, int]]:
    """Address, key and process id of a page of its own."""
    with tempfile.TemporaryDirectory() as home:
        command = [
            sys.executable,
            "-m",
            "facemark",
            "page",
            "--no-browser",
            "--port",
            "0",
            "--book",
            f"{home}/b.db",
        ]
        server = subprocess.Popen(
            command, stdout=subprocess.PIPE, text=True, env={**os.environ, "FACEMARK_HOME": home}
        )
        assert server.stdout is not None
        found = re.search(r"(http://\S+)/#k=(\S+)", server.stdout.readline())
        assert found is not None
        try:
            yield found[1], found[2], server.pid
        finally:
            server.terminate()
            server.wait(30)


class Client:
    """One phone."""

    def __init__(self, address: str, key: str) -> None:
        self.http = httpx.Client(base_url=f"{address}/api/v1", headers={"x-facemark-key": key}, timeout=300.0)

    def new_set(self, player: str) -> str:
        made = self.http.post("/players", json={"name": player, "hand": "right"}).raise_for_status().json()
        answer = self.http.post("/sets", json={"player_id": made["id"]})
        return str(answer.raise_for_status().json()["id"])

    def read(self, data: bytes, set_id: str) -> dict[str, Any]:
        state: dict[str, Any] = (
            self.http.post("/photos", content=data, params={"set_id": set_id, **TAGS})
            .raise_for_status()
            .json()
        )
        while state["state"] in ("waiting", "reading"):
            state = self.http.get(f"/photos/{state['id']}", params={"since": state["version"]}).json()
        return state


def resident_mb(pid: int) -> float:
    """Memory of a process and its children, now [MB]."""
    total = 0
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError, IndexError):
            stat = (folder / "stat").read_text().rsplit(")", 1)[1].split()
            if int(folder.name) == pid or int(stat[1]) == pid:
                total += int((folder / "statm").read_text().split()[1])
    return total * os.sysconf("SC_PAGE_SIZE") / 1e6


def quick() -> None:
    """Photo chosen to marks shown, in the browser; a drag answered, in the browser and at the server."""
    from tests.tell.page.browser import begin, choose, chromium

    photo = PHOTOS / "driver-tags.jpg"
    shown, drags = [], []
    with page_process() as (address, key, _), chromium() as browser:
        client = Client(address, key)
        state = client.read(photo.read_bytes(), client.new_set("warm"))  # processes are up and warm
        record = state["reading"]["record"]
        mark = record["marks"][0]
        answers = []
        for i in range(60):
            edit = {"edit": "move_mark", "letter": "A", "x_px": mark["x_px"] + i % 7, "y_px": mark["y_px"]}
            start = time.perf_counter()
            path = f"/readings/{state['reading_id']}/corrections"
            client.http.put(path, json={"edits": [edit] * (1 + i % 5), "preview": True}).raise_for_status()
            answers.append(time.perf_counter() - start)
        for i in range(5):
            page = browser.new_context(
                viewport={"width": 390, "height": 844}, device_scale_factor=2, has_touch=True, is_mobile=True
            ).new_page()
            page.set_default_timeout(60_000)
            page.goto(f"{address}/#k={key}")
            if i:  # players are known by now
                page.get_by_label("Nickname").wait_for()
            begin(page, player=f"p{i}", balls=5 - i)  # other settings: a reading of its own
            copy = Path(tempfile.mkstemp(suffix=".jpg")[1])
            copy.write_bytes(photo.read_bytes() + bytes([i]))
            start = time.perf_counter()
            choose(page, str(copy))
            page.locator("svg.view [data-letter]").first.wait_for()
            shown.append(time.perf_counter() - start)
            page.get_by_text("strike alone").wait_for()
            page.get_by_role("button", name="Put it right").click()
            drags += [_drag(page) for _ in range(6)]
            page.context.close()
            copy.unlink()
    _print("photo chosen (12 MP) to marks shown", shown, GOAL_SHOWN_S)
    _print("drag dropped to new numbers, in the browser", drags, GOAL_DRAG_S)
    _print("the same at the server (1 to 5 edits)", answers, GOAL_DRAG_S)


def _drag(page: Any) -> float:
    box = page.locator("svg.view [data-letter] .touch").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    before = page.locator("ul.marks").inner_text()
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 9, y + 5, steps=3)
    start = time.perf_counter()
    page.mouse.up()
    while page.locator("ul.marks").inner_text() == before and time.perf_counter() - start < 10.0:
        pass
    took = time.perf_counter() - start
    page.wait_for_timeout(1500)  # the finger rests; what is kept is written
    return took


def phones(n_phones: int) -> None:
    """Many phones send a 12 MP photo at once; none is lost, and memory stays where it was."""
    data = (PHOTOS / "driver-tags.jpg").read_bytes()
    with page_process() as (address, key, pid):
        first = Client(address, key)
        first.read(data, first.new_set("warm"))
        before = resident_mb(pid)
        peaks = []

        def one(number: int) -> str:
            client = Client(address, key)
            state = client.read(data + number.to_bytes(2, "big"), client.new_set(f"phone {number}"))
            peaks.append(resident_mb(pid))
            return str(state["state"])

        start = time.perf_counter()
        with ThreadPoolExecutor(n_phones) as pool:
            states = Counter(pool.map(one, range(n_phones)))
        took = time.perf_counter() - start
        print(f"{n_phones} phones at once: {dict(states)}, {took:.0f} s, {took / n_phones:.2f} s a photo")
        print(f"  server and {N_READERS} readers: {before:.0f} MB before, {max(peaks):.0f} MB at most")


def fuzz(n_files: int) -> None:
    """Damaged files through a reading process: no crash, no hang, no leak."""
    told = told_of(club=None, kind="driver", hand="right", scale="auto", size_mm=None, n_balls=None)
    originals = [*seeds(), (PHOTOS / "small.heic").read_bytes()]
    reader, ended, slowest, memory = Reader(), Counter[str](), 0.0, []
    with tempfile.TemporaryDirectory() as folder:
        upload, picture = Path(folder, "1.photo"), Path(folder, "1.jpg")
        job = {"uploads": [str(upload)], "names": ["face.jpg"], "picture": str(picture), "setup": told}
        reader.start()
        first = reader.pid
        for number, data in enumerate(mutants(originals, n_files, seed=2)):
            upload.write_bytes(data)
            answers: list[dict[str, Any]] = []
            start = time.perf_counter()
            reader.do(job, answers.append)
            slowest = max(slowest, time.perf_counter() - start)
            error = answers[-1].get("error") or {}
            ended[error.get("stage", answers[-1]["stage"])] += 1
            if number % max(1, n_files // 20) == 0:
                memory.append(resident_mb(reader.pid or 0))
                print(f"  {number} files: slowest {slowest:.2f} s, {memory[-1]:.0f} MB", flush=True)
        same = reader.pid == first
        reader.stop()
    print(f"{n_files} damaged files: {dict(ended)}; the process {'lived through all' if same else 'DIED'}")
    print(
        f"  slowest {slowest:.2f} s; memory {memory[1]:.0f} MB after a twentieth, {memory[-1]:.0f} at the end"
    )


def _print(what: str, times: list[float], goal_s: float) -> None:
    worst = sorted(times)[int(0.95 * (len(times) - 1))]
    middle, n = statistics.median(times), len(times)
    print(f"{what}: median {middle:.3f} s, 95 % within {worst:.3f} s (goal {goal_s:g} s, n {n})", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", choices=("quick", "phones", "fuzz"))
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--phones", type=int, default=50)
    told = parser.parse_args()
    print(f"load of the machine before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores", flush=True)
    if told.only in (None, "quick"):
        quick()
    if told.only in (None, "phones"):
        phones(told.phones)
    if told.only in (None, "fuzz"):
        fuzz(told.files)


if __name__ == "__main__":
    main()
