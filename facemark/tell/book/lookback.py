"""What did a player hit, session by session? From the few columns beside the records, so it stays quick."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from facemark.tell.book.base import Base
from facemark.tell.book.coats import surpassed_in
from facemark.tell.book.identity import content_sha
from facemark.tell.book.people import clubs_named, session_row
from facemark.tell.book.rows import SessionRow
from facemark.tell.book.tables import CLUB, READING, SESSION
from facemark.version import VERSION


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionSummary:
    """One session in numbers; from the sweet spot, over all its photos. None: no balls, or only one."""

    session: SessionRow
    club: str  # its name
    n_photos: int
    n_balls: float
    toe_mm: float | None
    high_mm: float | None
    toe_spread_mm: float | None
    high_spread_mm: float | None
    label: str | None  # None: several photos, and not yet worked out from all balls together
    readings_sha: str  # names the readings in use; a label belongs to them


class Lookback(Base):
    """Summaries over many readings."""

    def summaries(self, player_id: str, club: str | None = None) -> list[SessionSummary]:
        """A player's sessions, oldest first; only those with a club of this name, if one is named."""
        columns = (
            READING.c.id.label("reading_id"),
            READING.c.n_corrections,
            READING.c.made,
            READING.c.label.label("pattern_label"),
            READING.c.n_balls,
            READING.c.toe_mm,
            READING.c.high_mm,
            READING.c.toe_spread_mm,
            READING.c.high_spread_mm,
        )
        wanted = (
            sa.select(SESSION, CLUB.c.name.label("club_name"), *columns)
            .select_from(SESSION.join(CLUB).outerjoin(READING))
            .where(SESSION.c.player_id == player_id)
            .order_by(SESSION.c.day, SESSION.c.name, SESSION.c.created, SESSION.c.id, READING.c.made)
        )
        with self._reading() as connection:
            if club is not None:
                wanted = wanted.where(SESSION.c.club_id.in_(clubs_named(connection, club)))
            rows = connection.execute(wanted).all()
            left_out = surpassed_in(connection, SESSION.c.player_id == player_id)
        by_session: dict[str, list[sa.Row[Any]]] = {}
        for row in rows:
            by_session.setdefault(row.id, []).append(row)
        return [_summary(group, left_out) for group in by_session.values()]

    def note_labels(self, found: Iterable[SessionSummary]) -> None:
        """Remember labels that were worked out; they hold until the readings change."""
        with self._writing() as connection:
            for one in found:
                connection.execute(
                    SESSION.update()
                    .where(SESSION.c.id == one.session.id)
                    .values(label=one.label, label_of=one.readings_sha)
                )


def _summary(rows: list[sa.Row[Any]], left_out: set[str]) -> SessionSummary:
    """``left_out``: ids of readings that do not count."""
    counted = [row for row in rows if row.reading_id is not None and row.reading_id not in left_out]
    found = [row for row in counted if row.n_balls > 0 and row.toe_mm is not None]
    n = sum(row.n_balls for row in found)
    toe, toe_spread = _pooled([(row.n_balls, row.toe_mm, row.toe_spread_mm) for row in found])
    high, high_spread = _pooled([(row.n_balls, row.high_mm, row.high_spread_mm) for row in found])
    in_use = [f"{row.reading_id} {row.n_corrections}" for row in counted]
    readings_sha = content_sha([VERSION, *sorted(in_use)])  # another program may find other words
    label = rows[0].label if rows[0].label_of == readings_sha else None
    if len(counted) == 1:
        label = counted[0].pattern_label
    return SessionSummary(
        session=session_row(rows[0]),
        club=rows[0].club_name,
        n_photos=len(counted),
        n_balls=n,
        toe_mm=toe,
        high_mm=high,
        toe_spread_mm=toe_spread,
        high_spread_mm=high_spread,
        label=label,
        readings_sha=readings_sha,
    )


def _pooled(parts: Iterable[tuple[float, float, float | None]]) -> tuple[float | None, float | None]:
    """Mean and standard deviation of all balls from those of each photo: sums of squares add up."""
    parts = list(parts)
    n = sum(part[0] for part in parts)
    if n <= 0:
        return None, None
    mean = sum(k * middle for k, middle, _ in parts) / n
    if n < 2:
        return mean, None
    squares = sum((k - 1) * (spread or 0.0) ** 2 + k * (middle - mean) ** 2 for k, middle, spread in parts)
    return mean, math.sqrt(squares / (n - 1))
