"""The command itself, on real photos made small: killed half-way, started again, looked at, refused."""

from __future__ import annotations

import hashlib
import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from PIL import Image

from facemark.tell.book.store import Book
from facemark.tell.lesson.contact import COLUMNS, ROWS, write_contact_sheet
from facemark.tell.lesson.jobs import Failed
from facemark.tell.lesson.run import Entry, Status
from facemark.tell.lesson.who import Face
from tests.tell.lesson.outcome import child_processes, gone, rows

WIDTH_PX = 1500  # two megapixels: a second a photo


def small(photo: Path, quality: int) -> bytes:
    """A copy as a chat program makes it; another quality is another file."""
    with Image.open(photo) as image:
        copy = image.resize((WIDTH_PX, round(image.height * WIDTH_PX / image.width)))
    buffer = io.BytesIO()
    copy.save(buffer, format="JPEG", quality=quality)
    return buffer.getvalue()


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory, fixtures: Path) -> Path:
    folder = tmp_path_factory.mktemp("lesson")
    tags, strip = fixtures / "photos" / "driver-tags.jpg", fixtures / "photos" / "driver-left-strip.jpg"
    first = small(tags, 90)
    files = {
        "mia/driver/IMG_2.jpg": first,
        "mia/driver/IMG_10.jpg": small(tags, 92),
        "mia/again.jpg": first,
        "mia/cut.jpg": first[: len(first) // 2],
        "zoe/driver_1.jpg": small(strip, 90),
        "zoe/driver_2.jpg": small(strip, 92),
        "mia/._IMG_2.jpg": b"\x00\x05\x16\x07",
        "lesson.toml": b'[[photos]]\nfile = "mia/*"\ntag_mm = 23.9\nballs = 3\nhand = "right"\n'
        b'[[photos]]\nfile = "zoe/*"\ntag_mm = 20.7\nballs = 8\nhand = "left"\n',
    }
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


def lesson(photos: Path, home: Path, *options: str) -> list[str]:
    return [sys.executable, "-m", "facemark", "lesson", str(photos), "--fast", "--jobs", "2", *options]


def run(photos: Path, home: Path, *options: str) -> subprocess.CompletedProcess[str]:
    environment = os.environ | {"FACEMARK_HOME": str(home)}
    return subprocess.run(
        lesson(photos, home, *options), env=environment, capture_output=True, text=True, check=False
    )


def content(folder: Path) -> dict[str, str]:
    return {
        str(path): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_killed_half_way_and_started_again_ends_as_if_nothing_had_happened(
    photos: Path, tmp_path: Path
) -> None:
    before = content(photos)
    whole = run(photos, tmp_path / "whole", "--json")
    assert whole.returncode == 3, whole.stderr
    lines = {line["name"]: line for line in map(json.loads, whole.stdout.splitlines())}
    assert {name: line["status"] for name, line in lines.items()} == {
        "mia/again.jpg": "read",
        "mia/cut.jpg": "failed",
        "mia/driver/IMG_2.jpg": "same picture",
        "mia/driver/IMG_10.jpg": "read",
        "zoe/driver_1.jpg": "read",
        "zoe/driver_2.jpg": "read",
    }
    assert lines["mia/cut.jpg"]["error"]["stage"] == "photo"
    assert lines["zoe/driver_1.jpg"]["reading"]["hand"] == "left"
    assert "Traceback" not in whole.stderr
    expected = rows(tmp_path / "whole" / "facemark.db")
    assert len(expected) == 4

    home = tmp_path / "killed"
    process = subprocess.Popen(
        lesson(photos, home, "--json"),
        env=os.environ | {"FACEMARK_HOME": str(home)},
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert process.stdout is not None
    for line in process.stdout:
        if json.loads(line)["status"] == "read":
            break
    children = child_processes(process.pid)
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    assert 1 <= len(rows(home / "facemark.db")) <= 4
    deadline_s = time.monotonic() + 20
    while not all(gone(pid) for pid in children):
        assert time.monotonic() < deadline_s, "workers outlive their parent"
        time.sleep(0.1)

    again = run(photos, home, "--sheet", str(tmp_path / "sheet.png"))
    assert again.returncode == 3
    assert rows(home / "facemark.db") == expected
    assert "mia, driver: 2 photos, 6 marks" in again.stdout
    assert "in the book already" in again.stdout
    assert "mia/cut.jpg: cut.jpg is damaged or cut short" in again.stdout
    assert "1 other file skipped (mia/._IMG_2.jpg)" in again.stdout
    with Image.open(tmp_path / "sheet.png") as sheet:
        assert sheet.width > 1000
    with Book.open(home / "facemark.db") as book:  # forgetting a player finds the pages that show him
        for player in ("mia", "zoe"):
            assert book.exports(book.find_player(player).id) == [tmp_path / "sheet.png"]
    assert content(photos) == before


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (("--pattern", "{payer}/*"), 2, "{payer}"),
        (("--sheet", "overview.pdf"), 4, ".png"),
        (("--sheet", "no/such/folder/overview.png"), 4, "another place"),
        (("--dask", "tcp://127.0.0.1:1", "--jobs", "3"), 2, "--jobs"),
        (("--club", "nowhere.toml"), 4, "cannot be read"),
        (("--player", "x" * 500), 2, "80 characters"),
        (("--day", "yesterday"), 2, "yesterday"),
    ],
)
def test_wrong_use_is_told_before_anything_is_read(
    photos: Path, tmp_path: Path, options: tuple[str, ...], code: int, words: str
) -> None:
    ran = run(photos, tmp_path / "home", *options)
    assert ran.returncode == code, ran.stderr
    assert words in ran.stderr
    assert "Traceback" not in ran.stderr
    assert ran.stdout == ""
    assert not (tmp_path / "home" / "facemark.db").exists()


def test_a_folder_is_no_contact_sheet(photos: Path, tmp_path: Path) -> None:
    (tmp_path / "all.png").mkdir()
    ran = run(photos, tmp_path / "home", "--sheet", str(tmp_path / "all.png"))
    assert ran.returncode == 4
    assert "all.png is a folder" in ran.stderr


def test_a_contact_sheet_of_several_pages(tmp_path: Path) -> None:
    failed = Failed(stage="face", message="no face could be outlined", remedy="Photograph it again")
    entries = [
        Entry(face=Face(name=f"{k}.jpg", sources=()), status=Status.FAILED, failed=failed)
        for k in range(COLUMNS * ROWS + 1)
    ]
    entries.append(Entry(face=Face(name="again.jpg", sources=()), status=Status.SAME, note="is the same"))
    pages = list(write_contact_sheet(tmp_path / "all.png", entries))
    assert [page.name for page in pages] == ["all.png", "all-2.png"]
    with Image.open(pages[0]) as first, Image.open(pages[1]) as second:
        assert first.width == second.width
        assert first.height > 4 * second.height
