"""What the phone shows: records and rows as plain data, with every sentence already made.

The text summary and the picture come from the same record, so they cannot disagree.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from facemark.tell.book.rows import BallRow, ClubRow, PlayerRow, ReadingRow, SessionRow
from facemark.tell.page.desk import Desk
from facemark.tell.page.phone_words import ELSEWHERE, for_phone
from facemark.tell.page.uploads import Upload
from facemark.tell.report import count_line, doubt_sentences
from facemark.tell.units import Units
from facemark.tell.words import (
    flight_lines,
    group_line,
    headline_words,
    mark_line,
    pattern_line,
    place_words,
    plural,
    scale_line,
    spot_line,
)

MOST_DOUBTS = 12


def player_view(row: PlayerRow) -> dict[str, Any]:
    return {"id": row.id, "name": row.name, "hand": None if row.hand is None else row.hand.value}


def club_view(row: ClubRow) -> dict[str, Any]:
    return {"id": row.id, "name": row.name, "kind": row.kind.value}


def set_view(
    row: SessionRow, club: ClubRow | None, readings: Sequence[ReadingRow], n_balls_noted: int
) -> dict[str, Any]:
    """A set in a list: when, with what, and a small picture of its last reading."""
    last = readings[-1] if readings else None
    return {
        "id": row.id,
        "player_id": row.player_id,
        "day": row.day.isoformat(),
        "name": row.name,
        "club": None if club is None else club_view(club),
        "effort_frac": row.effort_frac,
        "n_balls_noted": n_balls_noted,
        "readings": [reading.id for reading in readings],
        "small": None if last is None else small_view(last.current),
    }


def small_view(record: dict[str, Any]) -> dict[str, Any]:
    """Enough to draw a reading small, without its photo: toe to the right for both hands."""
    spot = record["sweet_spot"]
    return {
        "headline": headline_words(record["pattern"]["headline"]),
        "place": place_words(record["group"]["toe_mm"], record["group"]["high_mm"]),
        "n_marks": len(record["marks"]),
        "width_mm": record["face"]["width_mm"],
        "height_mm": record["face"]["height_mm"],
        "spot_mm": [spot["toe_mm"], spot["high_mm"]],
        "marks_mm": [
            [mark["toe_mm"] + spot["toe_mm"], mark["high_mm"] + spot["high_mm"]] for mark in record["marks"]
        ],
        "group_mm": [
            record["group"]["toe_mm"] + spot["toe_mm"],
            record["group"]["high_mm"] + spot["high_mm"],
        ],
        "hand": record["hand"],
        "corrected": record["corrected"] is not None,
    }


def upload_view(upload: Upload, desk: Desk, units: Units) -> dict[str, Any]:
    """How far a photo has got."""
    return {
        "id": upload.id,
        "set_id": upload.set_id,
        "state": upload.state,
        "version": upload.version,
        "place_in_line": desk.place_in_line(upload),
        "size_px": upload.size_px,
        "findings": [finding_view(one) for one in upload.findings],
        "error": None if upload.error is None else error_view(upload.error),
        "reading_id": upload.reading_id,
        "in_other_set": upload.in_other_set,
        "n_photo": len(upload.earlier) + 1,
        "reading": None if upload.record is None else record_view(upload.record, units),
    }


def error_view(error: dict[str, str]) -> dict[str, str]:
    """Why a photo could not be read."""
    return {
        **error,
        "message": for_phone(error["message"]) or "This photo could not be read",
        "remedy": for_phone(error["remedy"]) or ELSEWHERE,
    }


def finding_view(finding: dict[str, Any]) -> dict[str, Any]:
    """One thing that was looked at in a photo."""
    return {**finding, "says": for_phone(finding["says"]), "remedy": for_phone(finding["remedy"])}


def record_view(record: dict[str, Any], units: Units) -> dict[str, Any]:
    """A record with its sentences."""
    return {"record": record, "words": words_of(record, units)}


def words_of(record: dict[str, Any], units: Units) -> dict[str, Any]:
    """Everything the picture shows, in sentences."""
    corrected, doubts = record["corrected"], record["caveats"][:MOST_DOUBTS]
    return {
        "count": "; ".join(filter(None, (plural(len(record["marks"]), "mark"), count_line(record)))),
        "marks": [mark_line(mark).strip() for mark in record["marks"]],
        "group": group_line(record),
        "pattern": pattern_line(record),
        "headline": headline_words(record["pattern"]["headline"]),
        "place": place_words(record["group"]["toe_mm"], record["group"]["high_mm"]),
        "flight": [] if record["flight"] is None else flight_lines(record, units),
        "scale": scale_line(record),
        "spot": spot_line(record),
        "corrected": None if corrected is None else f"Corrected by hand: {corrected['says']}",
        "doubts": [
            {"says": says, "remedy": for_phone(doubt["remedy"])}
            for says, doubt in zip(doubt_sentences(doubts, units), doubts, strict=True)
        ],
    }


def ball_view(row: BallRow) -> dict[str, Any]:
    return {"n": row.n, **row.note}
