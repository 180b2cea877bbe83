"""Which readings of a session count, so that every ball counts once.

Photos of one session are taken as fresh coats of powder, and their marks are added up. Not so where one coat
was photographed again after more balls: the reading of that series holds the marks of its earlier photos too,
and those photos were mostly read by themselves before. Such a reading names all its photos in ``SERIES``; a
reading whose photos another one holds does not count, and of several readings of the same photos the newest
does.
"""

from __future__ import annotations

import datetime as dt
import re
import zlib
from collections.abc import Iterable
from typing import Any, NamedTuple

import sqlalchemy as sa

from facemark.tell.book.tables import PHOTO, READING, SESSION

SERIES = "series_sha256"  # in a record: contents of all photos of its series, in order, hexadecimal
HEAD_BYTES = 512  # of a packed record: the codes and the first of its text
PAGE_SET = re.compile(r"set (\d{1,6})")  # name of a session that the page made: balls on one coat of powder


class Shown(NamedTuple):
    """A reading, as far as it matters which photos it speaks of. ``record``: as read, not corrected."""

    reading_id: str
    sha256: str
    made: dt.datetime
    record: dict[str, Any]


def surpassed(readings: Iterable[Shown], session_name: str) -> set[str]:
    """Ids of those readings of one session whose balls another of its readings counts."""
    ordered = sorted(readings, key=lambda one: (one.made, one.reading_id))
    photos: list[frozenset[str]] = []
    for one in ordered:
        photos.append(_photos(one, photos, session_name))
    return {
        one.reading_id
        for n, one in enumerate(ordered)
        if any(photos[n] < others for others in photos) or photos[n] in photos[n + 1 :]
    }


def surpassed_in(connection: sa.Connection, sessions: sa.ColumnElement[bool]) -> set[str]:
    """As ``surpassed``, of all sessions that fulfil a condition on their table.

    Whole records are unpacked only where they may be of a series: a player has hundreds.
    """
    other = READING.alias()
    beside = sa.exists().where(other.c.session_id == READING.c.session_id, other.c.id != READING.c.id)
    head = sa.func.substr(READING.c.record, 1, HEAD_BYTES, type_=sa.LargeBinary)
    wanted = (
        sa.select(SESSION.c.id, SESSION.c.name, READING.c.id, PHOTO.c.sha256, READING.c.made, head)
        .select_from(READING.join(SESSION).join(PHOTO))
        .where(sessions, beside)
    )
    rows = connection.execute(wanted).all()
    whole = [row[2] for row in rows if PAGE_SET.fullmatch(row[1]) or _is_series(row[5])]
    read = sa.select(READING.c.id, READING.c.record).where(READING.c.id.in_(whole))
    records = {row.id: row.record for row in connection.execute(read)} if whole else {}
    found: dict[tuple[str, str], list[Shown]] = {}
    for session_id, name, reading_id, sha256, made, _ in rows:
        shown = Shown(reading_id, sha256, made, records.get(reading_id, {}))
        found.setdefault((session_id, name), []).append(shown)
    return {reading_id for (_, name), shown in found.items() for reading_id in surpassed(shown, name)}


def of_series(record: dict[str, Any], sha256: Iterable[str]) -> dict[str, Any]:
    """The record of a series with the contents of its photos; first, to be seen without unpacking all."""
    return {SERIES: list(sha256), **record}


def _is_series(head: bytes) -> bool:
    """Whether a packed record that begins like this is one of ``of_series``."""
    return zlib.decompressobj().decompress(bytes(head)).startswith(f'{{"{SERIES}":'.encode())


def _photos(one: Shown, before: Iterable[frozenset[str]], session_name: str) -> frozenset[str]:
    """What a reading speaks of: its photo, or all of its series."""
    if SERIES in one.record:
        return frozenset(one.record[SERIES])
    found = frozenset({one.sha256})
    # Series of the page were once stored without their photos' names: all that the set held before, then.
    in_series = any(mark.get("photo_index") is not None for mark in one.record.get("marks", ()))
    if in_series and PAGE_SET.fullmatch(session_name):
        return found.union(*before)
    return found
