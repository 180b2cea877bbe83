"""Exports that somebody or something altered: refused in words, or taken for what they still say."""

from __future__ import annotations

import json
import shutil
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from facemark.errors import BookError
from facemark.tell.book.outgoing import Choice
from facemark.tell.book.store import Book
from facemark.tell.exports.read import import_file
from facemark.tell.exports.write import write_export
from tests.tell.book.readings import group, put, record_of
from tests.tell.book.test_cli_book import Command, facemark  # noqa: F401  # a fixture

EVERYTHING = Choice()


def _rows(table: str, **change: Any) -> Any:
    def alter(record: dict[str, Any]) -> None:
        for row in record["rows"]:
            if row["table"] == table:
                row["row"] |= change

    return alter


def _without(table: str) -> Any:
    return lambda record: record.update(rows=[row for row in record["rows"] if row["table"] != table])


def _with_ball(**change: Any) -> Any:
    def alter(record: dict[str, Any]) -> None:
        session = next(row["row"]["id"] for row in record["rows"] if row["table"] == "session")
        ball = {"id": "2" * 32, "session_id": session, "n": 1, "reading_id": None, "note": {}}
        record["rows"].append({"table": "ball", "row": ball | change})

    return alter


def _without_flag(name: str) -> Any:
    """Neither in the record nor in the table."""

    def alter(record: dict[str, Any]) -> None:
        reading = next(row["row"] for row in record["rows"] if row["table"] == "reading")
        for mark, line in zip(reading["record"]["marks"], record["strikes"], strict=True):
            del mark[name]
            line[name] = None

    return alter


ORPHAN = {
    "id": "0" * 32,
    "reading_id": "1" * 32,
    "n": 1,
    "made": "2026-01-01T00:00:00Z",
    "by": "x",
    "edits": [],
    "record": {},
}


@pytest.mark.parametrize(
    "alter",
    [
        *map(_without, ("player", "club", "session", "photo", "reading")),
        _rows("reading", record=[]),
        _rows("reading", record="AAAA"),
        _rows("reading", record={"marks": [{}]}),
        _rows("reading", record=record_of(group(5)) | {"group": {"more": 1}}),
        _without_flag("at_edge"),
        _rows("photo", sha256=5),
        _rows("player", name=5),
        _rows("player", id="../x"),
        _rows("player", hand="both"),
        _rows("player", note=5),
        _rows("photo", width_px="wide"),
        _rows("session", tee_mm="high"),
        _rows("session", tee_mm=float("inf")),
        _rows("session", effort_frac=True),
        _rows("reading", toe_mm=1.0),
        _rows("reading", n_corrections=1),
        _rows("club", data={}),
        _rows("club", data_sha="0" * 64),
        _with_ball(id="2" * 31),
        _with_ball(note=[]),
        _with_ball(n=10**30),
        _rows("club", kind="spoon"),
        _rows("session", effort_frac=5.0),
        lambda record: record["strikes"][0].update(toe_mm="abc"),
        lambda record: record["strikes"][0].pop("toe_mm"),
        lambda record: record.update(strikes=["x"]),
        lambda record: record.update(rows=["x"]),
        lambda record: record["rows"].append({"table": "correction", "row": ORPHAN}),
        lambda record: record["rows"].append({"table": "export", "row": {"path": "/etc/hosts"}}),
    ],
)
def test_an_altered_file_is_refused_in_words(empty: Path, exported: str, tmp_path: Path, alter: Any) -> None:
    record = json.loads(exported)
    alter(record)
    file, path = tmp_path / "out.json", tmp_path / "back.db"
    file.write_text(json.dumps(record), encoding="utf-8")
    shutil.copyfile(empty, path)
    with Book.open(path) as back:
        with pytest.raises(BookError) as caught:
            import_file(file, back)
        assert caught.value.remedy
        assert back.players() == []


@pytest.fixture(scope="module")
def exported(empty: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """One reading as it is exported, unaltered."""
    folder = tmp_path_factory.mktemp("exported")
    shutil.copyfile(empty, folder / "from.db")
    with Book.open(folder / "from.db") as book:
        put(book, "Ada", "a")
        (file,) = write_export(folder / "out.json", book, EVERYTHING)
    return file.read_text(encoding="utf-8")


def test_sheets_without_a_line(tmp_path: Path) -> None:
    sheets = openpyxl.Workbook()
    for name in ("strikes", "readings", "sessions", "rows"):
        sheets.create_sheet(name)
    sheets.save(tmp_path / "empty.xlsx")
    with Book.open(tmp_path / "b.db") as book, pytest.raises(BookError, match="no export"):
        import_file(tmp_path / "empty.xlsx", book)


def test_a_sheet_with_one_byte_turned(empty: Path, tmp_path: Path) -> None:
    """The packed sheet's checksum is looked at only while its lines are read."""
    shutil.copyfile(empty, tmp_path / "b.db")
    with Book.open(tmp_path / "b.db") as book:
        put(book, "Ada", "a")
        (file,) = write_export(tmp_path / "out.xlsx", book, EVERYTHING)
        with zipfile.ZipFile(file) as pack:
            parts = {name: pack.read(name) for name in pack.namelist()}
        with zipfile.ZipFile(file, "w") as pack:  # stored as it is, so that a turned byte is only a wrong one
            for name, data in parts.items():
                pack.writestr(name, data)
        content = file.read_bytes().replace(b"typical driver", b"typical drixer")
        file.write_bytes(content)
        with pytest.raises(BookError, match=r"no export"):
            import_file(file, book)
