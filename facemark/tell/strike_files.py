"""Strikes from files: a table typed by hand, a filled test sheet, or the JSON of a reading.

A table has one ball a line and a heading: ``toe_mm`` and ``high_mm``, plus toward toe and up, from the sweet
spot; optional ``toe_err_mm``, ``high_err_mm`` (one standard error), ``club``, ``day``, ``ball`` (its number),
``result`` (empty, "no mark", "out"), ``sweet_spot`` (how it was found), ``effort``, ``tee_mm``. Comma,
semicolon or tab between columns; decimal comma where the columns are not split by commas. Lines starting
with # are skipped; so are lines of a test sheet that nobody filled in.
"""

from __future__ import annotations

import csv
import json
import math
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from facemark import caveats as doubts
from facemark.caveats import Caveat
from facemark.errors import BookError, MarkError, SetupError
from facemark.explain.hitset import Conditions, HitSet
from facemark.inputs import ClubKind
from facemark.strike import SharedError, Strike, StrikeSet, SweetSpotFrom

MAX_FILE_MB = 16.0  # a hundred thousand typed balls have 3 MB
_T = TypeVar("_T")
NO_MARK = {"no mark", "none", "miss", "missed"}
THROWN_OUT = {"out", "thrown out"}
COLUMNS = (
    "toe_mm",
    "high_mm",
    "toe_err_mm",
    "high_err_mm",
    "club",
    "day",
    "ball",
    "result",
    "sweet_spot",
    "effort",
    "tee_mm",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One ball of a table."""

    number: int  # line in the file, from 1
    strike: Strike | None  # None: hit, no mark on the face
    thrown_out: bool
    club: str
    day: str
    ball: int | None
    sweet_spot: SweetSpotFrom | None
    effort_frac: float | None
    tee_mm: float | None


def read_sets(
    path: str | os.PathLike[str],
    *,
    kind: ClubKind | None = None,
    sweet_err_mm: float = 0.0,
    by: str = "club",
) -> tuple[HitSet, ...]:
    """All sets of balls in a file, in the order they first appear.

    Parameters
    ----------
    path : a table (.csv, .tsv, .txt) or a reading (.json, from ``facemark read --json``).
    kind : kind of club; None: the reading's own, or a driver.
    sweet_err_mm : how well the sweet spot of typed strikes is known, one standard error [mm].
    by : "club" or "day", the column that splits a table into sets.

    Raises
    ------
    BookError
        The file cannot be read, or is neither a table of strikes nor a reading.
    SetupError
        A line says something impossible; the message names the line.
    """
    path = Path(path)
    text = _text(path)
    if not (math.isfinite(sweet_err_mm) and sweet_err_mm >= 0.0):
        raise SetupError(
            f"the sweet spot's error must be a number of mm from 0 up, got {sweet_err_mm}",
            remedy="Say for example --sweet-err 1.5.",
        )
    if text.lstrip().startswith("{"):
        return (_set_of_reading(text, path, kind),)
    lines = _with_errs(_lines(text, path))
    if not lines:
        raise MarkError(
            f"{path.name}: expected at least one strike below the heading, none came",
            remedy="Type one ball a line.",
        )
    shared = SharedError(sweet_toe_mm=sweet_err_mm, sweet_high_mm=sweet_err_mm)
    names = list(dict.fromkeys(getattr(line, by) for line in lines))
    return tuple(
        _set_of_lines(name or path.stem, [line for line in lines if getattr(line, by) == name], kind, shared)
        for name in names
    )


def read_set(
    path: str | os.PathLike[str], *, kind: ClubKind | None = None, sweet_err_mm: float = 0.0
) -> HitSet:
    """The one set of balls in a file. Errors as in ``read_sets``; several clubs in it are a SetupError."""
    sets = read_sets(path, kind=kind, sweet_err_mm=sweet_err_mm)
    if len(sets) > 1:
        raise SetupError(
            f"{Path(path).name} holds {len(sets)} clubs: {', '.join(s.name for s in sets)}",
            remedy="Use facemark compare, or keep one club in the file.",
        )
    return sets[0]


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MAX_FILE_MB * 1e6:
            raise BookError(
                f"{path.name} is larger than {MAX_FILE_MB:.0f} MB; a table of strikes was expected",
                remedy="Name the table, or the reading's JSON.",
            )
        data = path.read_bytes()
    except OSError as err:
        raise BookError(
            f"{path} could not be read ({err.strerror or err})", remedy="Check the name and the folder."
        ) from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):  # "Unicode text" of spreadsheets
            return data.decode("utf-16", errors="replace")
        return data.decode("cp1252", errors="replace")  # spreadsheets of western Europe


def read_rows(path: str | os.PathLike[str]) -> tuple[str, list[tuple[int, dict[str, str]]]]:
    """Any table typed by hand: what splits its columns, and its lines by number, cells by heading.

    Raises
    ------
    BookError
        The file cannot be read, is empty, or has no heading.
    SetupError
        A line has more columns than the heading.
    """
    path = Path(path)
    split, parsed = _cells(_text(path), path)
    head = [cell.lower().replace(" ", "_") for cell in parsed[0][1]]
    if any(number_of(cell, split) is not None for cell in head):
        raise BookError(f"{path.name} has no heading", remedy="Write the columns' names in the first line.")
    rows = [
        (number, dict(zip(head, cells, strict=False)))
        for number, cells in parsed[1:]
        if len(cells) <= len(head) or _refuse_width(number, cells, head)
    ]
    return split, rows


def _cells(text: str, path: Path) -> tuple[str, list[tuple[int, list[str]]]]:
    """What splits the columns, and the cells of each line that holds something."""
    rows = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" \t;,") and not line.lstrip().startswith("#")
    ]
    if not rows:
        raise BookError(f"{path.name} is empty", remedy="Type one ball a line under toe_mm and high_mm.")
    split = _delimiter(rows[0][1])
    return split, [
        (number, [cell.strip() for cell in next(csv.reader([line], delimiter=split))])
        for number, line in rows
    ]


def _lines(text: str, path: Path) -> list[_Line]:
    split, parsed = _cells(text, path)
    head, body = _heading(parsed, split, path)
    found = [
        _line(number, dict(zip(head, cells, strict=False)), split)
        for number, cells in body
        if len(cells) <= len(head) or _refuse_width(number, cells, head)
    ]
    return [line for line in found if line is not None]


def _with_errs(lines: list[_Line]) -> list[_Line]:
    """An error left blank beside errors that were told is not zero: it counts as the largest told."""
    strikes = [line.strike for line in lines if line.strike is not None]
    toe = max((strike.toe_err_mm for strike in strikes), default=0.0)
    high = max((strike.high_err_mm for strike in strikes), default=0.0)

    def filled(strike: Strike) -> Strike:
        return replace(
            strike, toe_err_mm=strike.toe_err_mm or toe or high, high_err_mm=strike.high_err_mm or high or toe
        )

    return [replace(line, strike=line.strike and filled(line.strike)) for line in lines]


def _delimiter(line: str) -> str:
    return next((mark for mark in ("\t", ";") if mark in line), ",")


def _heading(
    parsed: list[tuple[int, list[str]]], split: str, path: Path
) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Column names and the lines below them. Two bare columns of numbers are toe and high."""
    first = [cell.lower().replace(" ", "_") for cell in parsed[0][1]]
    if "toe_mm" in first and "high_mm" in first:
        return first, parsed[1:]
    if len(first) == 2 and all(number_of(cell, split) is not None for cell in first):
        return ["toe_mm", "high_mm"], parsed
    raise BookError(
        f"{path.name}: expected columns toe_mm and high_mm, found {', '.join(first)[:80]}",
        remedy=f"Write a heading line; known columns: {', '.join(COLUMNS)}.",
    )


def _refuse_width(number: int, cells: list[str], head: list[str]) -> bool:
    raise SetupError(
        f"line {number} has {len(cells)} columns, the heading has {len(head)}",
        remedy="With decimal commas, put semicolons between the columns.",
    )


def number_of(cell: str, split: str) -> float | None:
    """A finite number, or None; decimal comma where commas do not split columns."""
    try:
        value = float(cell.replace(",", ".") if split != "," else cell)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _line(number: int, cells: Mapping[str, str], split: str) -> _Line | None:
    """One ball; None for a line nobody filled in."""

    def value(name: str) -> float | None:
        cell = cells.get(name, "")
        if not cell:
            return None
        found = number_of(cell, split)
        if found is None:
            raise SetupError(
                f"line {number}: expected a number for {name}, got {cell!r}",
                remedy="Leave the line out if the ball could not be measured.",
            )
        return found

    result = cells.get("result", "").lower()
    toe, high = value("toe_mm"), value("high_mm")
    ball = value("ball")
    strike = None
    if toe is not None and high is not None:
        strike = Strike(
            toe_mm=toe,
            high_mm=high,
            toe_err_mm=value("toe_err_mm") or 0.0,
            high_err_mm=value("high_err_mm") or 0.0,
        )
    elif (toe is None) != (high is None):
        raise SetupError(
            f"line {number}: one of toe_mm and high_mm is missing",
            remedy='Measure both, or write "no mark" under result.',
        )
    elif result not in NO_MARK | THROWN_OUT:
        return None
    if result and result not in NO_MARK | THROWN_OUT | {"mark"}:
        raise SetupError(
            f"line {number}: result {result!r} is not known",
            remedy='Leave it empty, or write "no mark" or "out".',
        )
    effort = value("effort")
    return _Line(
        number=number,
        strike=None if result in NO_MARK else strike,
        thrown_out=result in THROWN_OUT,
        club=cells.get("club", ""),
        day=cells.get("day", ""),
        ball=None if ball is None else round(ball),
        sweet_spot=_sweet_spot(number, cells.get("sweet_spot", "")),
        effort_frac=None if effort is None else effort / 100.0 if effort > 1.0 else effort,
        tee_mm=value("tee_mm"),
    )


def _sweet_spot(number: int, cell: str) -> SweetSpotFrom | None:
    if not cell:
        return None
    try:
        return SweetSpotFrom(cell.lower())
    except ValueError:
        raise SetupError(
            f"line {number}: sweet_spot {cell!r} is not known",
            remedy=f"Write {', '.join(item.value for item in SweetSpotFrom)}, or leave it empty.",
        ) from None


def _set_of_lines(name: str, lines: list[_Line], kind: ClubKind | None, shared: SharedError) -> HitSet:
    kept = [line for line in lines if not line.thrown_out]
    marks = [line for line in kept if line.strike is not None]
    balls = [line.ball for line in marks]
    methods = {line.sweet_spot for line in kept} - {None}
    if len(methods) > 1:
        raise SetupError(
            f"{name}: several ways of finding the sweet spot in one set",
            remedy="Use one way for a set, or split the file.",
        )
    method = next(iter(methods), None)
    untold = shared.sweet_toe_mm == 0.0
    strikes = StrikeSet(
        strikes=tuple(line.strike for line in marks if line.strike is not None),
        shared=shared,
        n_balls=len(kept) if len(marks) < len(kept) else None,
        n_least=len(marks),
        sweet_spot_from=method or SweetSpotFrom.ASSUMED,
        caveats=(Caveat(key=doubts.SWEET_SPOT_UNTOLD),) if untold else (),
    )
    return HitSet(
        name=name,
        strikes=strikes,
        kind=kind or ClubKind.DRIVER,
        conditions=Conditions(
            club=_only(line.club or None for line in kept),
            effort_frac=_only(line.effort_frac for line in kept),
            tee_mm=_only(line.tee_mm for line in kept),
        ),
        ball_numbers=tuple(ball for ball in balls if ball is not None),
        n_thrown_out=len(lines) - len(kept),
    )


def _only(values: Iterable[_T | None]) -> _T | None:
    """The one value of a set, or None where it was not noted or changed."""
    found = set(values)
    return found.pop() if len(found) == 1 else None


def _set_of_reading(text: str, path: Path, kind: ClubKind | None) -> HitSet:
    try:
        record = json.loads(text)
        from facemark.tell.reading_file import reading_set

        return reading_set(record, name=path.stem, kind=kind)
    except (json.JSONDecodeError, KeyError, TypeError, ValueError) as err:
        raise BookError(
            f"{path.name} is not the JSON of a reading ({type(err).__name__}: {str(err)[:60]})",
            remedy="Make it with facemark read PHOTO --json > FILE.json.",
        ) from None
