"""Into the book, once: the only part of a lesson that writes, and only in the first process.

A face is known by what its files hold, not by their names: a photo under two names is one photo. A reading
made earlier under other settings (the coach has corrected the number of balls) makes room for the new one,
but never one that was put right by hand, that the page made, or that stands under another player.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass
from typing import Any

from facemark.inputs import Hand
from facemark.tell.book.coats import PAGE_SET, of_series
from facemark.tell.book.identity import name_key, settings_sha
from facemark.tell.book.rows import PhotoFacts, ReadingRow, SessionRow
from facemark.tell.book.store import Book
from facemark.tell.lesson.jobs import Looked
from facemark.tell.lesson.who import Face, Told
from facemark.version import VERSION


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A reading that makes another one needless. ``note``: what the coach should know about it."""

    row: ReadingRow
    note: str | None


class Keeper:
    """The book, as the lesson needs it."""

    def __init__(self, book: Book) -> None:
        self._book = book
        players = book.players()
        self._names = {player.id: player.name for player in players}
        self._sessions: dict[tuple[object, ...], str] = {}
        self.hands: dict[str, Hand | None] = {name_key(player.name): player.hand for player in players}

    def find(self, sha256: str, key: str, told: Told) -> Known | None:
        """The reading of this face that is to stand, if the book has one."""
        for row in self._book.readings_of_photo(sha256):
            session, player = self.place_of(row)
            if name_key(player) != name_key(told.player):
                return Known(row=row, note=f"is in the book as {player}'s, and was left there")
            if row.settings_sha == key and row.version == VERSION:
                return Known(row=row, note=None)
            if PAGE_SET.fullmatch(session.name):  # balls may be noted beside it
                return Known(
                    row=row, note=f"is in the book in {session.name} of the page, and was left there"
                )
            if row.corrected is not None:
                return Known(row=row, note="was put right by hand, and was left as it is")
        return None

    def place_of(self, row: ReadingRow) -> tuple[SessionRow, str]:
        """The session a reading stands in, and its player's name."""
        session = self._book.session_by_id(row.session_id)
        return session, self._names.get(session.player_id, "?")

    def put(self, face: Face, looked: Looked, told: Told, *, key: str, record: dict[str, Any]) -> ReadingRow:
        """Put a reading in; an older one of the same face makes room."""
        day = day_of(face, looked, told)
        sha256 = face_sha(looked)
        photo = PhotoFacts(
            sha256=sha256,
            name=face.sources[-1].file,
            taken=looked.taken,
            width_px=record["photo"]["width_px"],
            height_px=record["photo"]["height_px"],
        )
        if face.is_series:
            record = of_series(record, looked.sha256)
        row, _ = self._book.add_reading(self._session(told, day), photo, record, key)
        player_id = self._book.session_by_id(row.session_id).player_id
        for older in self._book.readings_of_photo(sha256):
            theirs = self._book.session_by_id(older.session_id).player_id != player_id
            if older.id != row.id and older.corrected is None and not theirs:
                self._book.delete_reading(older.id)
        return row

    def _session(self, told: Told, day: dt.date) -> str:
        """The session's id; asked of the book once for each player, club, day and conditions."""
        # The club by its numbers: two of one name may differ. Its errs make it unhashable, so by its words.
        key = (told.player, told.setup.hand, repr(told.club), day, told.session_name)
        if key not in self._sessions:
            player = self._book.player(told.player, told.setup.hand)
            self._names[player.id] = player.name
            club = self._book.club(told.club)
            conditions = {"effort_frac": told.effort_frac, "tee_mm": told.tee_mm}
            noted = {name: value for name, value in conditions.items() if value is not None}
            session = self._book.session(player.id, club.id, day, name=told.session_name, **noted)
            self._sessions[key] = session.id
        return self._sessions[key]


def face_sha(looked: Looked) -> str:
    """What a face is known by: its photo's content; of a series, the contents in their order."""
    if len(looked.sha256) == 1:
        return looked.sha256[0]
    return hashlib.sha256("".join(looked.sha256).encode()).hexdigest()


def settings_key(told: Told, *, fast: bool, series: bool) -> str:
    """Everything told that decides a reading's numbers, and the session it belongs to.

    A day or tee height corrected in the sheet makes another key, so the photo is read into the right session.
    """
    key = settings_sha(told.setup)
    if fast or series:
        key = hashlib.sha256(f"{key} fast={fast} series={series} new={told.new}".encode()).hexdigest()
    if told.day is not None or told.tee_mm is not None:
        key = hashlib.sha256(f"{key} day={told.day} tee_mm={told.tee_mm}".encode()).hexdigest()
    return key


def day_of(face: Face, looked: Looked, told: Told) -> dt.date:
    """The day the balls were hit: as told, as the camera wrote, as the file is dated, else today."""
    taken = looked.taken.date() if looked.taken is not None else None
    return told.day or taken or face.sources[0].dated or dt.date.today()
