"""The book's tables, the same on SQLite and PostgreSQL.

The whole record of a reading is kept, packed; beside it stand the few columns one searches and lists by.
Constraints are named by rule, because a migration must be able to name what it changes.
"""

from __future__ import annotations

import datetime as dt
import json
import zlib
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcTime(sa.TypeDecorator[dt.datetime]):
    """An aware time, stored as UTC. SQLite forgets the zone, PostgreSQL keeps it; here both give UTC back."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            message = "a time without a zone was about to be stored"
            raise ValueError(message)
        return value.astimezone(dt.UTC)

    def process_result_value(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if value.tzinfo is None else value.astimezone(dt.UTC)


class PackedJson(sa.TypeDecorator[dict[str, Any]]):
    """A record as compact JSON, deflated: a reading of 19 kB becomes 7 kB, which is most of a book's size.

    Bytes are taken as packed already: that is how records travel from one book to another.
    """

    impl = sa.LargeBinary
    cache_ok = True

    def process_bind_param(self, value: dict[str, Any] | bytes | None, dialect: Dialect) -> bytes | None:
        return pack(value) if isinstance(value, dict) else value

    def process_result_value(self, value: bytes | None, dialect: Dialect) -> dict[str, Any] | None:
        return None if value is None else unpack(value)


def pack(record: dict[str, Any]) -> bytes:
    """Deflated compact JSON; infinity and NaN are refused."""
    text = json.dumps(record, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return zlib.compress(text.encode(), 6)


def unpack(content: bytes) -> dict[str, Any]:
    record: dict[str, Any] = json.loads(zlib.decompress(content))
    return record


METADATA = sa.MetaData(naming_convention=NAMING)


def _id() -> sa.Column[str]:
    return sa.Column("id", sa.Uuid(as_uuid=False), primary_key=True)


def _of(table: str, *, name: str | None = None, nullable: bool = False, index: bool = True) -> sa.Column[str]:
    """A reference to a row of ``table``, which cannot go before the rows that name it."""
    return sa.Column(
        name or f"{table}_id",
        sa.Uuid(as_uuid=False),
        sa.ForeignKey(f"{table}.id"),
        nullable=nullable,
        index=index,
    )


PLAYER = sa.Table(
    "player",
    METADATA,
    _id(),
    sa.Column("name", sa.String, nullable=False),
    sa.Column("name_key", sa.String, nullable=False),  # without case: "Ada" and "ada" are one player
    sa.Column("hand", sa.String(5)),
    sa.Column("note", sa.String, nullable=False),
    sa.Column("keep_until", sa.Date),
    sa.Column("created", UtcTime, nullable=False),
    sa.UniqueConstraint("name_key"),
    sa.CheckConstraint("hand in ('right', 'left')", name="hand"),
)

CLUB = sa.Table(
    "club",
    METADATA,
    _id(),
    sa.Column("name", sa.String, nullable=False),
    sa.Column("kind", sa.String(10), nullable=False),
    sa.Column("data", sa.JSON, nullable=False),
    sa.Column("data_sha", sa.String(64), nullable=False),
    sa.Column("created", UtcTime, nullable=False),
    sa.UniqueConstraint("data_sha"),
)

SESSION = sa.Table(
    "session",
    METADATA,
    _id(),
    _of("player", index=False),  # the unique key begins with it
    _of("club"),
    sa.Column("day", sa.Date, nullable=False),
    sa.Column("name", sa.String, nullable=False),
    sa.Column("place", sa.String, nullable=False),
    sa.Column("ground", sa.String, nullable=False),
    sa.Column("ball", sa.String, nullable=False),
    sa.Column("effort_frac", sa.Float),
    sa.Column("tee_mm", sa.Float),
    sa.Column("note", sa.String, nullable=False),
    sa.Column("created", UtcTime, nullable=False),
    # The pattern of all its photos together, worked out once, and which readings it was worked out from.
    sa.Column("label", sa.String(40)),
    sa.Column("label_of", sa.String(64)),
    sa.UniqueConstraint("player_id", "club_id", "day", "name"),
    sa.CheckConstraint("effort_frac > 0 and effort_frac <= 1", name="effort"),
)

PHOTO = sa.Table(
    "photo",
    METADATA,
    _id(),
    sa.Column("sha256", sa.String(64), nullable=False),
    sa.Column("name", sa.String, nullable=False),
    sa.Column("taken", sa.DateTime),  # the camera's clock; no zone known
    sa.Column("width_px", sa.Integer, nullable=False),
    sa.Column("height_px", sa.Integer, nullable=False),
    sa.Column("kept_as", sa.String(8)),  # ending of the kept picture; null: not kept
    sa.UniqueConstraint("sha256"),
)

READING = sa.Table(
    "reading",
    METADATA,
    _id(),
    _of("photo", index=False),  # the unique key begins with it
    _of("session"),
    sa.Column("settings_sha", sa.String(64), nullable=False),
    sa.Column("version", sa.String(20), nullable=False),
    sa.Column("made", UtcTime, nullable=False),
    sa.Column("record", PackedJson, nullable=False),
    sa.Column("n_corrections", sa.Integer, nullable=False),
    # Of the record in use, so that a history needs no record unpacked.
    sa.Column("label", sa.String(40), nullable=False),
    sa.Column("n_balls", sa.Float, nullable=False),
    sa.Column("toe_mm", sa.Float),
    sa.Column("high_mm", sa.Float),
    sa.Column("toe_spread_mm", sa.Float),
    sa.Column("high_spread_mm", sa.Float),
    sa.UniqueConstraint("photo_id", "settings_sha", "version"),
)

CORRECTION = sa.Table(
    "correction",
    METADATA,
    _id(),
    _of("reading", index=False),
    sa.Column("n", sa.Integer, nullable=False),  # from 1; the reading's n_corrections names the newest
    sa.Column("made", UtcTime, nullable=False),
    sa.Column("by", sa.String, nullable=False),
    sa.Column("edits", sa.JSON, nullable=False),
    sa.Column("record", PackedJson, nullable=False),
    sa.UniqueConstraint("reading_id", "n"),
)

BALL = sa.Table(
    "ball",
    METADATA,
    _id(),
    _of("session"),
    sa.Column("n", sa.Integer, nullable=False),
    _of("reading", nullable=True),
    sa.Column("note", sa.JSON, nullable=False),
)

BLOCK = sa.Table(
    "block",
    METADATA,
    _id(),
    _of("player"),
    _of("session", nullable=True),
    sa.Column("made", UtcTime, nullable=False),
    sa.Column("focus", sa.String, nullable=False),
    sa.Column("effort_frac", sa.Float, nullable=False),
    sa.Column("n_balls", sa.Integer, nullable=False),
    sa.Column("n_good", sa.Integer, nullable=False),
    sa.Column("verdict", sa.String, nullable=False),
    sa.Column("plan", sa.JSON, nullable=False),
)

# Files that hold players' data and were written for somebody: to be found again when a player is forgotten.
EXPORT = sa.Table(
    "export",
    METADATA,
    _id(),
    sa.Column("path", sa.String, nullable=False),
    sa.Column("machine", sa.String, nullable=False),
    sa.Column("sha256", sa.String(64), nullable=False),
    sa.Column("made", UtcTime, nullable=False),
)

EXPORT_PLAYER = sa.Table(
    "export_player",
    METADATA,
    sa.Column("export_id", sa.Uuid(as_uuid=False), sa.ForeignKey("export.id"), primary_key=True),
    sa.Column("player_id", sa.Uuid(as_uuid=False), sa.ForeignKey("player.id"), primary_key=True, index=True),
)
