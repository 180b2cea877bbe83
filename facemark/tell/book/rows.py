"""What stands in the book, row by row: plain frozen records, each like its table.

Ids are UUID strings made by us, so that two bays that never met can be joined. ``made`` and ``created`` are
aware UTC times; ``taken`` is what the camera's clock said, without a zone, because photos carry none.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from facemark.inputs import ClubKind, Hand


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerRow:
    """A player, by nickname. No date of birth, no address: the book has no place for them."""

    id: str
    name: str
    hand: Hand | None
    note: str
    keep_until: dt.date | None  # when the record is to be looked at and deleted; None: not set
    created: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubRow:
    """A club's numbers at one time; other numbers are another row."""

    id: str
    name: str
    kind: ClubKind
    data: dict[str, Any]  # facemark.record.plain(club); back with identity.club_of
    created: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionRow:
    """One player, one club, one day; ``name`` tells apart several sets of that day."""

    id: str
    player_id: str
    club_id: str
    day: dt.date
    name: str
    place: str
    ground: str  # mat, grass, ...
    ball: str
    effort_frac: float | None  # 0..1, as felt
    tee_mm: float | None
    note: str
    created: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFacts:
    """What is known of a photo without its pixels."""

    sha256: str  # of the file's bytes, hexadecimal
    name: str
    taken: dt.datetime | None
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoRow:
    """A photo, recognised by its content. ``kept``: its picture lies in the book's photo folder."""

    id: str
    sha256: str
    name: str
    taken: dt.datetime | None
    width_px: int
    height_px: int
    kept: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """One photo read once with one set of settings by one version of the program."""

    id: str
    photo_id: str
    session_id: str
    settings_sha: str
    version: str
    made: dt.datetime
    record: dict[str, Any]  # Reading.to_dict(), as it was read; never changed
    corrected: dict[str, Any] | None  # the newest correction's record
    label: str  # of the pattern in use

    @property
    def current(self) -> dict[str, Any]:
        """The record in use: corrected by hand if it was, else as read."""
        return self.record if self.corrected is None else self.corrected


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionRow:
    """A reading put right by hand; the raw reading stays beside it."""

    id: str
    reading_id: str
    made: dt.datetime
    by: str
    edits: list[dict[str, Any]]
    record: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class BallRow:
    """What was noted of one ball."""

    id: str
    session_id: str
    n: int  # order in the set, from 1
    reading_id: str | None
    note: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockRow:
    """A practice block that was done, and what followed from it."""

    id: str
    player_id: str
    session_id: str | None
    made: dt.datetime
    focus: str
    effort_frac: float
    n_balls: int
    n_good: int
    verdict: str
    plan: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Removed:
    """Proof of a deletion: how many rows of each table, and what became of the files."""

    what: str
    when: dt.datetime
    rows: dict[str, int]
    files: tuple[str, ...]  # deleted
    remains: tuple[str, ...]  # what could not be deleted, and why
    shared_files: tuple[str, ...] = ()  # of the deleted files, those that held other players too


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """What a join of two books brought: new rows of each table, and rows that were here already."""

    added: dict[str, int]
    known: dict[str, int]
