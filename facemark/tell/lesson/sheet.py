"""The coach's sheet beside the photos: lesson.toml or lesson.csv.

::

    schema = 1

    [[photos]]
    file = "*"                     # every photo: five balls each, scale from tags of 24 mm
    balls = 5
    tag_mm = 24.0

    [[photos]]
    file = "IMG_20*.jpg"
    player = "mia"
    club = "driver"
    effort = 70                    # percent, or 0.7
    tee_mm = 45

    [[photos]]
    file = "mia/evening/*"         # one face, photographed after 3, 3 and 4 more balls
    series = true
    new = [3, 3, 4]

``file`` is a name or a pattern (* and ?); with a stroke it is held against the path below the folder, without
one against the file's name. Every line that fits a photo adds what it says; a later line overrules an earlier
one. lesson.csv has the same names as its heading, one line a row, comma or semicolon; decimal comma where
semicolons split the columns. All mistakes of a sheet are told at once.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from facemark.errors import BookError, SetupError
from facemark.inputs import MAX_BALLS, Hand, ReferenceKind
from facemark.tell.lesson.photos import SHEET_NAMES, Source

MAX_FILE_KB = 1024  # ten thousand lines
MOST_MISTAKES = 12  # told at once; more only scroll away
SCALE_FIELDS = ("scale", "tag_mm", "face_mm", "line_mm", "spacer_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """What one line of the sheet, or all lines together, say about a photo. None: nothing."""

    player: str | None = None
    club: str | None = None
    hand: Hand | None = None
    n_balls: int | None = None
    effort_frac: float | None = None
    tee_mm: float | None = None
    day: dt.date | None = None
    series: bool | None = None
    new: tuple[int, ...] | None = None  # balls before each photo of a series
    scale: ReferenceKind | None = None
    tag_mm: float | None = None
    face_mm: float | None = None
    line_mm: float | None = None
    spacer_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonSheet:
    """All lines, in their order, each with the pattern it is for."""

    file: str  # the sheet's own name, for messages
    lines: tuple[tuple[str, SheetLine], ...]

    def about(self, source: Source) -> SheetLine:
        """What the sheet says about a photo."""
        said: dict[str, Any] = {}
        for pattern, line in self.lines:
            if fits(source, pattern):
                told = {item.name: getattr(line, item.name) for item in fields(SheetLine)}
                told = {name: value for name, value in told.items() if value is not None}
                if any(name in told for name in SCALE_FIELDS):  # one scale object, not a mix of two
                    said = {name: value for name, value in said.items() if name not in SCALE_FIELDS}
                said |= told
        return SheetLine(**said)

    def idle_patterns(self, photos: tuple[Source, ...]) -> list[str]:
        """Patterns that fit no photo: probably typing mistakes."""
        return [p for p, _ in self.lines if not any(fits(photo, p) for photo in photos)]


def fits(source: Source, pattern: str) -> bool:
    """A pattern with a stroke speaks of the path below the folder, without one of the file's name."""
    name = source.name if "/" in pattern else source.file
    return fnmatchcase(name.casefold(), pattern.strip("/").casefold())


def find_sheet(folder: Path) -> LessonSheet | None:
    """The sheet in a folder, if there is one.

    Raises
    ------
    BookError
        It cannot be read.
    SetupError
        There are two, or one holds mistakes; the message lists them with line and column.
    """
    present = [folder / name for name in SHEET_NAMES if (folder / name).is_file()]
    if len(present) > 1:
        raise SetupError(f"{' and '.join(SHEET_NAMES)} are both there", remedy="Keep one of them.")
    return load_sheet(present[0]) if present else None


def load_sheet(path: Path) -> LessonSheet:
    """A sheet from its file; errors as in ``find_sheet``."""
    text = _text(path)
    rows = _toml_rows(text, path.name) if path.suffix.lower() == ".toml" else _csv_rows(text, path.name)
    lines, mistakes = [], []
    for where, row in rows:
        try:
            form = _Form.model_validate(row)
        except ValidationError as err:
            mistakes += [f"{where}, {_where(item)}: {_why(item)}" for item in err.errors()]
            continue
        lines.append((form.file, form.line()))
    if mistakes:
        more = f"; and {len(mistakes) - MOST_MISTAKES} more" if len(mistakes) > MOST_MISTAKES else ""
        raise SetupError(
            f"{path.name} cannot be used. {'; '.join(mistakes[:MOST_MISTAKES])}{more}",
            remedy="Correct these places; what you do not know is best left out.",
        )
    if not lines:
        raise SetupError(f"{path.name} holds no line about a photo", remedy="Fill it in, or remove it.")
    return LessonSheet(file=path.name, lines=tuple(lines))


def line_from_words(words: Mapping[str, str]) -> SheetLine:
    """What names say, checked like a line of a sheet: {"player": "mia", "effort": "70"}.

    Raises
    ------
    SetupError
        A word that cannot be what it stands for.
    """
    try:
        return _Form.model_validate({"file": "*", **words}).line()
    except ValidationError as err:
        raise SetupError(
            "; ".join(f"{_where(item)}: {_why(item)}" for item in err.errors()),
            remedy="Rename the folder or file, or say it in lesson.toml.",
        ) from None


class _Form(BaseModel):
    """One line as written. Text is taken for numbers too, because a CSV holds nothing else."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, str_strip_whitespace=True)

    file: str = Field(min_length=1)
    player: str | None = Field(None, min_length=1)
    club: str | None = Field(None, min_length=1)
    hand: Hand | None = None
    balls: int | None = Field(None, ge=1, le=MAX_BALLS)
    effort: float | None = Field(None, gt=0, le=100)
    tee_mm: float | None = Field(None, ge=0, le=150)
    day: dt.date | None = None
    series: bool | None = None
    new: tuple[int, ...] | None = None
    scale: ReferenceKind | None = None
    tag_mm: float | None = None
    face_mm: float | None = None
    line_mm: float | None = None
    spacer_mm: float | None = None

    @field_validator("effort", mode="before")
    @classmethod
    def _without_percent(cls, value: object) -> object:
        return value.replace("%", "").strip() if isinstance(value, str) else value

    @field_validator("new", mode="before")
    @classmethod
    def _from_text(cls, value: object) -> object:
        """A cell of a table: 3 3 4, or 3+3+4, because commas may split the columns."""
        return value.replace(",", " ").replace("+", " ").split() if isinstance(value, str) else value

    @field_validator("new")
    @classmethod
    def _counts(cls, value: tuple[int, ...] | None) -> tuple[int, ...] | None:
        if value is not None and any(n < 0 for n in value):
            message = "fewer than no balls"
            raise ValueError(message)
        return value

    def line(self) -> SheetLine:
        told = self.model_dump(exclude={"file", "balls", "effort"})
        effort = self.effort
        # 0.7 and 70 both mean seventy percent; 1 is full effort.
        effort_frac = None if effort is None else effort / 100.0 if effort > 1.0 else effort
        return SheetLine(n_balls=self.balls, effort_frac=effort_frac, **told)


COLUMNS = tuple(_Form.model_fields)


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MAX_FILE_KB * 1024:
            raise BookError(f"{path} is too large for a lesson's sheet", remedy="Keep one line a photo.")
        content = path.read_bytes()
    except OSError as err:
        raise BookError(f"{path} cannot be read ({err.strerror or err})", remedy="Check the file.") from None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        if path.suffix.lower() == ".toml":
            raise SetupError(f"{path.name} is not text in UTF-8", remedy="Save it as UTF-8.") from None
        return content.decode("cp1252", errors="replace")  # spreadsheets of western Europe


def _toml_rows(text: str, name: str) -> list[tuple[str, Any]]:
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        raise SetupError(
            f"{name} is not TOML ({err})", remedy='Write one thing a line, as balls = 5, and text in "".'
        ) from None
    unknown = sorted(set(table) - {"schema", "photos"})
    if unknown or table.get("schema", 1) != 1 or not isinstance(table.get("photos", []), list):
        raise SetupError(
            f"{name} holds {', '.join(unknown) or 'a schema that is not 1'} outside [[photos]]",
            remedy="Write schema = 1, then [[photos]] above each group of lines.",
        )
    return [(f"photos {number}", row) for number, row in enumerate(table.get("photos", []), start=1)]


def _csv_rows(text: str, name: str) -> list[tuple[str, Any]]:
    lines = [line for line in text.splitlines() if line.strip(" \t;,")]
    if not lines:
        return []
    split = next((mark for mark in ("\t", ";") if mark in lines[0]), ",")
    reader = csv.reader(io.StringIO("\n".join(lines)), delimiter=split)
    head = [cell.strip().casefold().replace(" ", "_") for cell in next(reader)]
    if "file" not in head:
        raise SetupError(
            f"{name}: expected a column called file, found {', '.join(head)[:80]}",
            remedy=f"Write a heading line; known are {', '.join(COLUMNS)}.",
        )
    rows: list[tuple[str, Any]] = []
    for number, cells in enumerate(reader, start=2):
        row = {key: cell.strip() for key, cell in zip(head, cells, strict=False) if cell.strip()}
        if split != ",":
            numbers = {"effort", *(column for column in COLUMNS if column.endswith("_mm"))}
            row = {key: cell.replace(",", ".") if key in numbers else cell for key, cell in row.items()}
        if len(cells) > len(head):
            row["column without a heading"] = cells[len(head)]
        rows.append((f"line {number}", row))
    return rows


def _where(item: Any) -> str:
    return str(item["loc"][0]) if item["loc"] else "the line"


def _why(item: Any) -> str:
    if item["type"] == "extra_forbidden":
        from difflib import get_close_matches

        close = get_close_matches(str(item["loc"][0]), COLUMNS, n=1)
        return "not known here" + (f"; {close[0]} is" if close else f"; known are {', '.join(COLUMNS)}")
    if item["type"] == "missing":
        return "missing"
    return f"{str(item['input'])[:40]!r} came: {str(item['msg'])[:1].lower()}{str(item['msg'])[1:]}"
