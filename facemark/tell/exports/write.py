"""Tables to files: CSV for either decimal sign, XLSX, Parquet, JSON. Whole or not at all.

A cell of text can never become a formula: in CSV a text that starts with = + - @ (or with an apostrophe, a
tab or a line end) gets an apostrophe in front, which the way back takes off again; in XLSX texts are stored
as texts.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Any

from facemark.errors import BookError, SetupError
from facemark.tell.book.outgoing import Choice
from facemark.tell.book.store import Book
from facemark.tell.book.tables import unpack
from facemark.tell.exports.tables import ROWS, Cell, Kind, Table, plain_row, tables_of
from facemark.tell.files import written_whole
from facemark.version import SCHEMA, VERSION

ENDINGS = (".csv", ".xlsx", ".parquet", ".json")
RISKY_STARTS = ("=", "+", "-", "@", "'", "\t", "\r", "\n")
MAX_SHEET_LINES = 1_048_576  # of an XLSX sheet, by its standard (ECMA-376: rows of a worksheet)
MAX_CELL = 32_767  # characters of an XLSX cell, by the same
N_PARQUET_LINES = 5_000  # lines in memory at a time


class Locale(StrEnum):
    """How a spreadsheet of the country writes numbers and splits columns."""

    POINT = "point"  # 1.5 and ,
    COMMA = "comma"  # 1,5 and ;


def write_export(
    path: Path, book: Book, choice: Choice, *, locale: Locale = Locale.POINT, remember: bool = True
) -> list[Path]:
    """Write the choice to ``path`` by its ending, and remember the files in the book unless told not to.

    CSV and Parquet hold one table a file: strikes under the name given, the others beside it
    (``NAME-readings.csv``, ...).

    Raises
    ------
    SetupError
        An ending that is not known, or a locale where there is none.
    BookError
        Nothing is of the choice; a file could not be written, or is too small for the book (XLSX).
    """
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise SetupError(f"an export ends in {', '.join(ENDINGS)}, got {path.name}", remedy="Choose one.")
    if locale is Locale.COMMA and ending != ".csv":
        raise SetupError(f"--locale is for CSV; {ending} knows numbers", remedy="Leave --locale out.")
    written = []
    with book.snapshot() as still:
        still.check_choice(choice)
        players = [player.id for player in still.chosen_players(choice)]
        for file in _write(path, still, choice, locale):
            file.chmod(0o600)  # it holds players; whoever hands it on decides who sees it
            if remember:  # at once: the next file may fail
                book.note_export(file, players)
            written.append(file)
    return written


def _write(path: Path, book: Book, choice: Choice, locale: Locale) -> Iterator[Path]:
    """Each file as soon as it is there."""
    tables, ending = tables_of(book, choice), path.suffix.lower()
    if ending == ".xlsx":
        yield _write_xlsx(path, tables)
        return
    if ending == ".json":
        yield _write_json(path, tables, book, choice)
        return
    for table in tables:
        beside = table_path(path, table.name)
        if ending == ".csv":
            _write_csv(beside, table, locale)
        else:
            _write_parquet(beside, table)
        yield beside


def table_path(path: Path, table: str) -> Path:
    """The file of one table: the strikes' is the export's own name."""
    return path if table == "strikes" else path.with_name(f"{path.stem}-{table}{path.suffix}")


def cell_text(value: Cell, locale: Locale) -> str:
    """One cell of a CSV."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(value).replace(".", ",") if locale is Locale.COMMA else repr(value)
    if isinstance(value, str):
        return f"'{value}" if value.startswith(RISKY_STARTS) else value
    return str(value)


def _write_csv(path: Path, table: Table, locale: Locale) -> None:
    split = ";" if locale is Locale.COMMA else ","
    with written_whole(path) as temporary, temporary.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file, delimiter=split)
        writer.writerow(table.columns)
        for line in table.lines():
            writer.writerow(cell_text(line[name], locale) for name in table.columns)


def _write_xlsx(path: Path, tables: list[Table]) -> Path:
    import xlsxwriter

    options = {
        "constant_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with written_whole(path) as temporary, xlsxwriter.Workbook(temporary, options) as book:
        bold, day = book.add_format({"bold": True}), book.add_format({"num_format": "yyyy-mm-dd"})
        for table in tables:
            sheet = book.add_worksheet(table.name)
            sheet.freeze_panes(1, 0)
            sheet.set_column(0, len(table.columns) - 1, 14)
            for column, name in enumerate(table.columns):
                sheet.write_string(0, column, name, bold)
            for n_line, line in enumerate(table.lines(), start=1):
                if n_line >= MAX_SHEET_LINES:
                    raise _too_large(path, f"more than {MAX_SHEET_LINES} lines")
                for column, name in enumerate(table.columns):
                    _write_cell(sheet, (n_line, column), line[name], day, path)
    return path


def _write_cell(sheet: Any, at: tuple[int, int], value: Cell, day: Any, path: Path) -> None:
    if isinstance(value, str):
        if len(value) > MAX_CELL:
            raise _too_large(path, f"a cell of {len(value)} characters")
        sheet.write_string(*at, value)
    elif isinstance(value, bool):
        sheet.write_boolean(*at, value)
    elif isinstance(value, dt.date):
        sheet.write_datetime(*at, dt.datetime.combine(value, dt.time()), day)
    elif value is not None:
        sheet.write_number(*at, value)


def _too_large(path: Path, what: str) -> BookError:
    return BookError(
        f"{path.name} cannot hold {what}",
        remedy="Export fewer players or days, or as .csv, .parquet or .json.",
    )


def _write_parquet(path: Path, table: Table) -> None:
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ImportError:
        raise BookError(
            "Parquet needs the extra 'parquet', which is not installed",
            remedy="Install it (pip install 'facemark[parquet]'), or export as .csv, .xlsx or .json.",
        ) from None
    kinds = {
        Kind.TEXT: pa.string(),
        Kind.NUMBER: pa.float64(),
        Kind.COUNT: pa.int64(),
        Kind.FLAG: pa.bool_(),
        Kind.DAY: pa.date32(),
    }
    schema = pa.schema([(name, kinds[kind]) for name, kind in table.columns.items()])
    with written_whole(path) as temporary, parquet.ParquetWriter(temporary, schema) as writer:
        for lines in batches(table.lines(), N_PARQUET_LINES):
            writer.write_table(pa.Table.from_pylist(lines, schema=schema))


def batches(lines: Iterator[Any], n: int) -> Iterator[list[Any]]:
    """Lists of up to ``n``."""
    batch = []
    for line in lines:
        batch.append(line)
        if len(batch) == n:
            yield batch
            batch = []
    if batch:
        yield batch


def _write_json(path: Path, tables: list[Table], book: Book, choice: Choice) -> Path:
    """One object; written line by line, because a book may be larger than the memory."""
    with _json_file(path) as file:
        file.write(f'{{"schema":{SCHEMA},"version":{json.dumps(VERSION)}')
        for table in tables:
            if table.columns is ROWS:
                continue
            file.write(f',\n"{table.name}":[')
            for n, line in enumerate(table.lines()):
                file.write(("," if n else "") + "\n" + _json(line))
            file.write("]")
        file.write(',\n"rows":[')
        for n, (name, row) in enumerate(book.chosen_rows(choice)):
            open_row = {
                column: unpack(value) if isinstance(value, bytes) else value for column, value in row.items()
            }
            file.write(("," if n else "") + "\n" + _json({"table": name, "row": plain_row(name, open_row)}))
        file.write("]}\n")
    return path


@contextmanager
def _json_file(path: Path) -> Iterator[Any]:
    with written_whole(path) as temporary, temporary.open("w", encoding="utf-8") as file:
        yield file


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, default=lambda day: day.isoformat())
