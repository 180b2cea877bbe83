"""The desk's promises: photos go when they should, stay while needed, and no fault stops the line."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest

from facemark.tell.book.store import Book
from facemark.tell.page import desk as desk_module
from facemark.tell.page import uploads as uploads_module
from facemark.tell.page.desk import Desk
from facemark.tell.page.reader import Reader
from facemark.tell.page.uploads import DONE, FAILED, FOLDER, OWNER, Upload, Uploads


def _ended_pid() -> int:
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    return process.pid


def test_folders_of_dead_pages_go_and_others_stay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    owners = {"dead": str(_ended_pid()), "alive": str(os.getpid()), "odd": "x"}
    for name, owner in owners.items():
        folder = tmp_path / f"{FOLDER}{name}"
        folder.mkdir()
        (folder / OWNER).write_text(owner)
        (folder / "1.photo").write_bytes(b"x")
    (tmp_path / f"{FOLDER}none").mkdir()
    uploads = Uploads()
    left = {path.name.removeprefix(FOLDER) for path in tmp_path.iterdir()}
    assert left >= {"alive", "odd", "none"}
    assert "dead" not in left
    uploads.close()


def test_photos_a_waiting_series_needs_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(uploads_module, "MAX_KEPT_UPLOADS", 3)
    uploads = Uploads()
    first, other, second = (uploads.new(name="", set_id="s") for _ in range(3))
    first.state = other.state = DONE
    second.earlier = (first,)
    uploads.new(name="", set_id="s")
    assert uploads.get(first.id) is first
    assert uploads.get(other.id) is None
    uploads.close()


class _Reader:
    """Stands for a reading process that writes its picture late, or has a fault."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def start(self) -> None:
        raise TimeoutError

    def stop(self) -> None:
        pass

    def do(self, job: dict[str, Any], on_answer: Any) -> None:
        if job["names"] == ["forgotten"]:
            self.desk.uploads.drop_set("gone")
            Path(job["picture"]).write_bytes(b"late")
        on_answer({"stage": "done"})  # without a record: a fault of ours


def test_no_fault_stops_the_line_and_a_forgotten_photo_leaves_nothing(tmp_path: Path) -> None:
    async def work(book: Book) -> tuple[Upload, Upload]:
        desk = Desk(book, n_readers=1)
        desk._readers = [_Reader(desk)]  # type: ignore[list-item]
        desk.open()
        sent = []
        for name, set_id in (("forgotten", "gone"), ("next", "here")):
            upload = desk.uploads.new(name=name, set_id=set_id)
            upload.path.write_bytes(b"photo")
            desk.put(upload)
            sent.append(upload)
        while sent[1].state != FAILED:
            await asyncio.sleep(0.01)
        assert not sent[0].path.exists()
        assert not sent[0].picture_path.exists()
        dropped = desk.uploads.new(name="", set_id="x")
        desk.put(dropped)
        desk.uploads.drop(dropped)
        assert desk.n_waiting == 0
        await desk.close()
        return sent[0], sent[1]

    with Book.open(tmp_path / "b.db") as book:
        forgotten, after = asyncio.run(work(book))
    assert forgotten.dropped
    assert after.error is not None
    assert after.error["stage"] == "fault"
    assert desk_module.READING not in (forgotten.state, after.state)


class _Stopped:
    """Stands for a reading process and its pipe: while one thread ends it, the other comes to end it too."""

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self.calls: list[str] = []

    def kill(self) -> None:
        self.calls.append("kill")

    def join(self, timeout_s: float) -> None:
        self.calls.append("join")
        if self.calls.count("join") == 1:
            self.reader.stop()

    def close(self) -> None:
        self.calls.append("close")


def test_a_page_stopped_while_it_reads_ends_its_process_once() -> None:
    reader = Reader()
    stopped = _Stopped(reader)
    reader._process = reader._pipe = stopped
    reader.stop()
    assert stopped.calls == ["kill", "join", "close"]
    assert reader.pid is None


@pytest.mark.skipif(sys.platform == "win32", reason="there this signal ends any process")
def test_ctrl_c_at_the_terminal_is_left_to_the_server() -> None:
    reader = Reader()
    reader.start()
    assert reader.pid is not None
    os.kill(reader.pid, signal.SIGINT)
    reader._process.join(1.0)
    assert reader._process.is_alive()
    reader.stop()
    assert reader.pid is None
