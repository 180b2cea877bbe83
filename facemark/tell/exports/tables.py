"""The exported tables: strikes, readings and sessions for people, and the book's own rows for the way back.

``strikes`` has the columns that ``facemark pattern`` and ``compare`` read, and holds every ball once (see
``book/coats.py``). ``rows`` holds every row of the book's tables as JSON; only from it can a book be made
again, and on import the other tables are held against it, so that a number edited in a spreadsheet is noticed
rather than lost.
"""

from __future__ import annotations

import base64
import datetime as dt
import json
import math
import uuid
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import sqlalchemy as sa

from facemark.errors import BookError
from facemark.inputs import ClubKind, Hand
from facemark.tell.book.identity import club_of, content_sha
from facemark.tell.book.outgoing import Choice, Outgoing
from facemark.tell.book.rows import ClubRow, PlayerRow, SessionRow
from facemark.tell.book.store import Book
from facemark.tell.book.tables import METADATA, PackedJson, UtcTime, unpack
from facemark.tell.reading_file import reading_set

Cell = str | float | int | bool | dt.date | None
Line = dict[str, Cell]


class Kind(StrEnum):
    """What stands in a column."""

    TEXT = "text"
    NUMBER = "number"
    COUNT = "count"
    FLAG = "flag"
    DAY = "day"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: its columns, and its lines one after the other."""

    name: str
    columns: Mapping[str, Kind]
    lines: Callable[[], Iterator[Line]]


_T, _N, _C, _F, _D = Kind.TEXT, Kind.NUMBER, Kind.COUNT, Kind.FLAG, Kind.DAY

STRIKES = {
    "player": _T,
    "hand": _T,
    "day": _D,
    "session": _T,
    "club": _T,
    "kind": _T,
    "photo": _T,
    "mark": _T,
    "toe_mm": _N,
    "high_mm": _N,
    "toe_err_mm": _N,
    "high_err_mm": _N,
    "toe_total_err_mm": _N,
    "high_total_err_mm": _N,
    "diameter_mm": _N,
    "n_balls": _C,
    "sure": _F,
    "touches": _F,
    "at_edge": _F,
    "sweet_spot": _T,
    "effort": _N,
    "tee_mm": _N,
    "reading_id": _T,
}
READINGS = {
    "player": _T,
    "day": _D,
    "session": _T,
    "club": _T,
    "kind": _T,
    "photo": _T,
    "label": _T,
    "n_balls": _N,
    "toe_mm": _N,
    "high_mm": _N,
    "toe_err_mm": _N,
    "high_err_mm": _N,
    "toe_spread_mm": _N,
    "high_spread_mm": _N,
    "separable": _F,
    "sweet_spot": _T,
    "sweet_toe_err_mm": _N,
    "sweet_high_err_mm": _N,
    "scale": _T,
    "scale_err_frac": _N,
    "tilt_deg": _N,
    "corrected": _F,
    "doubts": _T,
    "made": _T,
    "version": _T,
    "photo_sha256": _T,
    "reading_id": _T,
}
SESSIONS = {
    "player": _T,
    "hand": _T,
    "day": _D,
    "session": _T,
    "club": _T,
    "kind": _T,
    "place": _T,
    "ground": _T,
    "ball": _T,
    "effort_frac": _N,
    "tee_mm": _N,
    "note": _T,
    "session_id": _T,
}
ROWS = {"table": _T, "row": _T}
GROUP = ("toe_mm", "high_mm", "toe_err_mm", "high_err_mm", "toe_spread_mm", "high_spread_mm")
NOTED = ("place", "ground", "ball", "effort_frac", "tee_mm", "note")


def tables_of(book: Book, choice: Choice) -> list[Table]:
    """The four tables of a choice; nothing is read before a table's lines are asked for."""
    return [
        Table(
            name="strikes",
            columns=STRIKES,
            lines=lambda: (
                line for one in book.chosen_readings(choice, counted=True) for line in strike_lines(one)
            ),
        ),
        Table(
            name="readings",
            columns=READINGS,
            lines=lambda: (reading_line(one) for one in book.chosen_readings(choice)),
        ),
        Table(
            name="sessions",
            columns=SESSIONS,
            lines=lambda: (session_line(*one) for one in book.chosen_sessions(choice)),
        ),
        Table(
            name="rows",
            columns=ROWS,
            lines=lambda: (
                {"table": name, "row": row_text(name, row)} for name, row in book.chosen_rows(choice)
            ),
        ),
    ]


def strike_lines(one: Outgoing) -> Iterator[Line]:
    """A line a strike of the record in use; ``toe_err_mm`` is the mark's own part, ``total`` the whole."""
    record, session = one.reading.current, one.session
    for mark in record.get("marks", ()):
        yield {
            "player": one.player.name,
            "hand": record.get("hand"),
            "day": session.day,
            "session": session.name,
            "club": one.club.name,
            "kind": one.club.kind.value,
            "photo": one.photo.name,
            "mark": mark["letter"],
            "toe_mm": mark["toe_mm"],
            "high_mm": mark["high_mm"],
            "toe_err_mm": mark["toe_own_err_mm"],
            "high_err_mm": mark["high_own_err_mm"],
            "toe_total_err_mm": mark["toe_err_mm"],
            "high_total_err_mm": mark["high_err_mm"],
            **{name: mark[name] for name in ("diameter_mm", "n_balls", "sure", "touches", "at_edge")},
            "sweet_spot": record["sweet_spot"]["from"],
            "effort": None if session.effort_frac is None else 100.0 * session.effort_frac,
            "tee_mm": session.tee_mm,
            "reading_id": one.reading.id,
        }


def reading_line(one: Outgoing) -> Line:
    """A reading in one line: the record in use."""
    record, reading = one.reading.current, one.reading
    group, spot, scale = (record.get(name) or {} for name in ("group", "sweet_spot", "scale"))
    return {
        "player": one.player.name,
        "day": one.session.day,
        "session": one.session.name,
        "club": one.club.name,
        "kind": one.club.kind.value,
        "photo": one.photo.name,
        "label": reading.label,
        "n_balls": group.get("n_balls"),
        **{name: group.get(name) for name in GROUP},
        "separable": record.get("separable"),
        "sweet_spot": spot.get("from"),
        "sweet_toe_err_mm": spot.get("toe_err_mm"),
        "sweet_high_err_mm": spot.get("high_err_mm"),
        "scale": scale.get("kind"),
        "scale_err_frac": scale.get("err_frac"),
        "tilt_deg": scale.get("tilt_deg"),
        "corrected": reading.corrected is not None,
        "doubts": " ".join(caveat["key"] for caveat in record.get("caveats", ())),
        "made": reading.made.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "version": reading.version,
        "photo_sha256": one.photo.sha256,
        "reading_id": reading.id,
    }


def session_line(player: PlayerRow, club: ClubRow, session: SessionRow) -> Line:
    """A session in one line."""
    return {
        "player": player.name,
        "hand": None if player.hand is None else player.hand.value,
        "day": session.day,
        "session": session.name,
        "club": club.name,
        "kind": club.kind.value,
        **{name: getattr(session, name) for name in NOTED},
        "session_id": session.id,
    }


# --- the book's own rows as JSON ---
def row_text(table: str, row: Mapping[str, Any]) -> str:
    """One row of the book as compact JSON: times ISO 8601 in UTC, packed records as base64."""
    return json.dumps(plain_row(table, row), separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def plain_row(table: str, row: Mapping[str, Any]) -> dict[str, Any]:
    plain = {}
    for name, value in row.items():
        if isinstance(value, bytes):
            plain[name] = base64.b64encode(value).decode()
        elif isinstance(value, dt.datetime):
            aware = isinstance(METADATA.tables[table].c[name].type, UtcTime)
            plain[name] = (
                value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z") if aware else value.isoformat()
            )
        else:
            plain[name] = value.isoformat() if isinstance(value, dt.date) else value
    return plain


def row_of(table: str, plain: Any) -> dict[str, Any]:
    """The way back; a record may also come as the JSON object it is.

    Raises
    ------
    BookError
        Not a row of this book.
    """
    try:
        columns = METADATA.tables[table].columns
        # A column that came with a later layout may be missing; it may also be empty then.
        missing = [name for name, column in columns.items() if not column.nullable and name not in plain]
        unknown = sorted(set(plain) - set(columns.keys()))
        if missing or unknown:
            raise ValueError(", ".join([*missing, *unknown]))
        row = {name: _value(column.type, plain.get(name)) for name, column in columns.items()}
        _check(table, row)
        return row
    except (KeyError, TypeError, ValueError, AttributeError, zlib.error) as err:
        raise BookError(
            f"a row of {table[:40]!r} is not one of the book's ({str(err)[:80]})",
            remedy="Export again with the program's own version; rows cannot be edited by hand.",
        ) from None


def _check(table: str, row: Mapping[str, Any]) -> None:
    """What one of the databases would take and the program could not read back."""
    if row.get("kind") is not None:
        ClubKind(row["kind"])
    if row.get("hand") is not None:
        Hand(row["hand"])
    effort_frac = row.get("effort_frac")
    if effort_frac is not None and not 0 < effort_frac <= 1:
        raise ValueError(f"effort_frac {effort_frac}")
    for name in ("note", "plan"):
        if isinstance(row.get(name), list):
            raise ValueError(f"{name} is a list")
    if table == "club" and (content_sha(row["data"]) != row["data_sha"] or not club_of(row["data"]).name):
        raise ValueError("a club's numbers were changed")


def _value(kind: sa.types.TypeEngine[Any], value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, PackedJson):
        packed = base64.b64decode(value, validate=True) if isinstance(value, str) else value
        reading_set(
            unpack(packed) if isinstance(packed, bytes) else packed, name=""
        )  # or it says what is wrong
        return packed
    if isinstance(kind, UtcTime | sa.DateTime):
        return dt.datetime.fromisoformat(value)
    if isinstance(kind, sa.Uuid):
        return str(uuid.UUID(value))
    if isinstance(kind, sa.Date):
        return dt.date.fromisoformat(value)
    expected = next(python for type_, python in _PYTHON if isinstance(kind, type_))
    if not isinstance(value, expected) or isinstance(value, bool):
        raise ValueError(f"{str(value)[:20]!r}")
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(str(value))
    return value


# SQLite would store any of them anywhere.
_PYTHON = ((sa.String, str), (sa.Integer, int), (sa.Float, int | float), (sa.JSON, dict | list))
