"""An exported file back into a book: the same rows, the same numbers, nothing twice."""

from __future__ import annotations

import csv
import datetime as dt
import json
import zlib
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

from facemark.errors import BookError, FacemarkError
from facemark.tell.book.coats import Shown, surpassed
from facemark.tell.book.evidence import summary_of
from facemark.tell.book.rows import Merged
from facemark.tell.book.store import Book
from facemark.tell.book.tables import EXPORT, EXPORT_PLAYER, METADATA, unpack
from facemark.tell.book.where import Place
from facemark.tell.exports.tables import READINGS, ROWS, SESSIONS, STRIKES, Kind, row_of
from facemark.tell.exports.write import ENDINGS, RISKY_STARTS, table_path

COLUMNS: dict[str, Mapping[str, Kind]] = {
    "strikes": STRIKES,
    "readings": READINGS,
    "sessions": SESSIONS,
    "rows": ROWS,
}
# What is held against the rows: column of the table -> where it stands in a mark or group of the record.
MARK = {
    "toe_mm": "toe_mm",
    "high_mm": "high_mm",
    "toe_err_mm": "toe_own_err_mm",
    "high_err_mm": "high_own_err_mm",
    "toe_total_err_mm": "toe_err_mm",
    "high_total_err_mm": "high_err_mm",
    **{name: name for name in ("diameter_mm", "n_balls", "sure", "touches", "at_edge")},
}
GROUP = ("n_balls", "toe_mm", "high_mm", "toe_err_mm", "high_err_mm", "toe_spread_mm", "high_spread_mm")
Lines = Mapping[str, list[dict[str, Any]]]
SAME = 1e-9  # of numbers that went through a file as text; relative

# What a file raises that was edited by hand, cut short, or is something else.
ALTERED = (
    LookupError,
    TypeError,
    ValueError,
    AttributeError,
    ArithmeticError,
    StopIteration,
    EOFError,
    SyntaxError,
    RecursionError,
    zlib.error,
    BadZipFile,
    csv.Error,
)

csv.field_size_limit(10_000_000)


def import_file(path: Path, book: Book) -> Merged:
    """Bring an exported file back in. For CSV and Parquet any of the files of one export names them all.

    Raises
    ------
    BookError
        Not an export, damaged, or a number in a table is not the one in the rows.
    """
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise BookError(
            f"{path.name} is no export of facemark", remedy=f"Name a file ending in {', '.join(ENDINGS)}."
        )
    try:
        tables = _read(path, ending)
        return book.merge_rows(_rows(tables, book.place))
    except FacemarkError:
        raise
    except ALTERED as err:
        raise BookError(
            f"{path.name} is no export of facemark, or was altered ({type(err).__name__}: {str(err)[:60]})",
            remedy="Name a file that facemark export wrote; typed strikes go to facemark pattern or compare.",
        ) from None


def _rows(tables: Lines, place: Place) -> dict[str, list[dict[str, Any]]]:
    """The book's rows by table, held against the tables for people."""
    rows: dict[str, list[dict[str, Any]]] = {name: [] for name in METADATA.tables}
    for line in tables["rows"]:
        name = str(line["table"])
        if name in (EXPORT.name, EXPORT_PLAYER.name):  # forgetting would delete the files these name
            raise BookError(
                "the file names other files to be deleted, which no export does",
                remedy="Take the export from where it was made; this one was altered.",
            )
        row = line["row"] if isinstance(line["row"], dict) else _parsed(str(line["row"]))
        rows.setdefault(name, []).append(row_of(name, row))
    _hold_against(tables, rows)
    for row in rows["photo"]:  # pictures do not travel in tables; they may lie here from before
        if row["kept_as"] is not None and not place.picture(row["sha256"], row["kept_as"]).is_file():
            row["kept_as"] = None
    return rows


def _parsed(text: str) -> Any:
    try:
        return json.loads(text)
    except json.JSONDecodeError as err:
        raise BookError(
            f"a row is damaged ({err.msg})", remedy="Export again; rows cannot be edited by hand."
        ) from None


def _read(path: Path, ending: str) -> dict[str, list[dict[str, Any]]]:
    try:
        if ending == ".json":
            return _read_json(path)
        if ending == ".xlsx":
            return _read_xlsx(path)
        base = _base(path)
        read = _read_csv if ending == ".csv" else _read_parquet
        return {name: read(table_path(base, name), columns) for name, columns in COLUMNS.items()}
    except OSError as err:
        raise BookError(
            f"{err.filename or path} could not be read ({err.strerror or err})",
            remedy="An export of .csv or .parquet is four files; keep them together.",
        ) from None


def _base(path: Path) -> Path:
    for name in COLUMNS:
        if path.stem.endswith(f"-{name}") and table_path(path, name) != path:
            return path.with_name(path.stem.removesuffix(f"-{name}") + path.suffix)
    return path


def _read_csv(path: Path, columns: Mapping[str, Kind]) -> list[dict[str, Any]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        head = file.readline().strip()
        split = next((sign for sign in (";", "\t") if sign in head), ",")
        names = next(csv.reader([head], delimiter=split))
        _check_head(names, columns)
        return [
            {name: _cell(cell, columns[name], split) for name, cell in zip(names, cells, strict=True)}
            for cells in csv.reader(file, delimiter=split)
            if cells
        ]


def _check_head(names: list[Any], columns: Mapping[str, Kind]) -> None:
    if list(names) != list(columns):
        different = set(map(str, names)) ^ set(columns)
        raise ValueError(f"columns {', '.join(sorted(different))[:60] or 'in another order'}")


def _cell(cell: str, kind: Kind, split: str) -> Any:
    if cell == "":
        return "" if kind is Kind.TEXT else None
    if kind is Kind.TEXT:
        return cell[1:] if cell[0] == "'" and cell[1:].startswith(RISKY_STARTS) else cell
    if kind is Kind.NUMBER:
        return float(cell.replace(",", ".") if split != "," else cell)
    if kind is Kind.COUNT:
        return int(cell)
    return cell == "yes" if kind is Kind.FLAG else dt.date.fromisoformat(cell)


def _read_parquet(path: Path, columns: Mapping[str, Kind]) -> list[dict[str, Any]]:
    try:
        from pyarrow import parquet
    except ImportError:
        raise BookError(
            "Parquet needs the extra 'parquet', which is not installed",
            remedy="Install it: pip install 'facemark[parquet]'.",
        ) from None
    table = parquet.read_table(path, partitioning=None)
    _check_head(table.column_names, columns)
    lines: list[dict[str, Any]] = table.to_pylist()
    return lines


def _read_xlsx(path: Path) -> dict[str, list[dict[str, Any]]]:
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    except openpyxl.utils.exceptions.InvalidFileException as err:
        raise ValueError(str(err)) from None
    try:
        return {name: list(_sheet(book[name], columns)) for name, columns in COLUMNS.items()}
    finally:
        book.close()


def _sheet(sheet: Any, columns: Mapping[str, Kind]) -> Iterator[dict[str, Any]]:
    lines = sheet.iter_rows(values_only=True)
    names = list(next(lines, ()))
    _check_head(names, columns)
    for cells in lines:
        padded = [*cells, *[None] * (len(names) - len(cells))]
        yield {name: _of_sheet(cell, columns[name]) for name, cell in zip(names, padded, strict=True)}


def _of_sheet(cell: Any, kind: Kind) -> Any:
    if cell is None:
        return "" if kind is Kind.TEXT else None
    if kind is Kind.NUMBER:
        return float(cell)
    return cell.date() if isinstance(cell, dt.datetime) else cell


def _read_json(path: Path) -> dict[str, list[dict[str, Any]]]:
    found = json.loads(path.read_text(encoding="utf-8"))
    return {name: list(found[name]) for name in COLUMNS}


# --- a number edited in a table is noticed ---
def _hold_against(
    tables: Mapping[str, list[dict[str, Any]]], rows: Mapping[str, list[dict[str, Any]]]
) -> None:
    """Strikes, readings and sessions say what the rows say; more was not edited than may be."""
    records = _records_in_use(rows)
    corrections = Counter(row["reading_id"] for row in rows["correction"])
    for row in rows["reading"]:
        beside = summary_of(records[row["id"]]) | {"n_corrections": corrections[row["id"]]}
        _compare(f"reading {row['id']}", row, beside, {name: name for name in beside})
    for line in tables["strikes"]:
        record = records.get(str(line["reading_id"]))
        mark = next((m for m in (record or {}).get("marks", ()) if m["letter"] == line["mark"]), None)
        _compare(f"strike {line['mark']} of {line['photo']}", line, mark, MARK)
    for line in tables["readings"]:
        record = records.get(str(line["reading_id"]))
        group = None if record is None else record["group"] or dict.fromkeys(GROUP)
        _compare(f"reading of {line['photo']}", line, group, {name: name for name in GROUP})
    sessions = {row["id"]: row for row in rows["session"]}
    for line in tables["sessions"]:
        session = sessions.get(line["session_id"])
        _compare(
            f"session of {line['day']}", line, session, {name: name for name in ("effort_frac", "tee_mm")}
        )
    left_out = _left_out(rows)
    n_lines = Counter(str(line["reading_id"]) for line in tables["strikes"])
    n_marks = {
        reading_id: len(record.get("marks", ()))
        for reading_id, record in records.items()
        if reading_id not in left_out or n_lines[reading_id]  # older exports have them all
    }
    n_strikes = sum(n_marks.values())
    if len(tables["strikes"]) != n_strikes or len(tables["readings"]) != len(records):
        raise BookError(
            f"the tables hold {len(tables['strikes'])} strikes and {len(tables['readings'])} readings, "
            f"the rows {n_strikes} and {len(records)}",
            remedy="Lines were added or taken out; export again, and correct readings in the program.",
        )


def _records_in_use(rows: Lines) -> dict[str, dict[str, Any]]:
    """Of each reading, the newest correction's record or its own."""
    newest = {row["id"]: (0, row["record"]) for row in rows["reading"]}
    for row in rows["correction"]:
        if row["n"] > newest[row["reading_id"]][0]:
            newest[row["reading_id"]] = (row["n"], row["record"])
    return {
        reading_id: unpack(record) if isinstance(record, bytes) else record
        for reading_id, (_, record) in newest.items()
    }


def _left_out(rows: Lines) -> set[str]:
    """Readings whose strikes the table leaves out: another reading of the session counts those balls."""
    contents = {row["id"]: row["sha256"] for row in rows["photo"]}
    by_session: dict[str, list[Shown]] = {}
    for row in rows["reading"]:
        packed = row["record"]
        record = unpack(packed) if isinstance(packed, bytes) else packed
        shown = Shown(row["id"], contents[row["photo_id"]], row["made"], record)
        by_session.setdefault(row["session_id"], []).append(shown)
    return {
        reading_id
        for row in rows["session"]
        for reading_id in surpassed(by_session.get(row["id"], ()), row["name"])
    }


def _compare(
    what: str, line: Mapping[str, Any], truth: Mapping[str, Any] | None, names: Mapping[str, str]
) -> None:
    for column, name in names.items():
        here, there = line[column], None if truth is None else truth[name]
        alike = here == there or (
            here is not None and there is not None and abs(here - there) <= SAME * max(abs(there), 1.0)
        )
        if truth is None or not alike:
            came = "is missing" if truth is None else f"says {there}"
            raise BookError(
                f"{what}: the table says {column} {here}, the row behind it {came}",
                remedy="Numbers are corrected in the program, not in the table; export again.",
            )
