"""A lesson: photos in, the book filled, every photo accounted for.

look (content, date, label) -> whose? which club? -> in the book already? -> read -> into the book

Looks are decided in the order of the photos' names, whatever order the workers finish in: of two equal
pictures it is always the first that is read, and a run that was cut short and started again ends as one that
was not.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from facemark.errors import FacemarkError
from facemark.inputs import Setup
from facemark.tell.book.identity import name_key
from facemark.tell.book.rows import ReadingRow, SessionRow
from facemark.tell.lesson.engine import Engine
from facemark.tell.lesson.jobs import Done, Draw, Failed, Job, Look, Looked, Outcome, Read
from facemark.tell.lesson.keep import Keeper, face_sha, settings_key
from facemark.tell.lesson.who import Common, Face, Told, hands_told, settle, wants_label


class Status(StrEnum):
    """What became of a face."""

    READ = "read"
    KNOWN = "in the book"  # from an earlier run
    SAME = "same picture"  # as another photo of this lesson
    WHOSE = "whose?"  # nobody said; not read
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Entry:
    """One face of the lesson, accounted for. What is not known of it is None."""

    face: Face
    status: Status
    sha256: str | None = None
    told: Told | None = None
    reading_id: str | None = None
    holder: str | None = None  # the player whose reading it is in the book
    session: SessionRow | None = None  # of the book
    record: dict[str, Any] | None = None  # the reading as it stands in the book, corrections included
    failed: Failed | None = None
    note: str | None = None
    picture: bytes | None = None  # small JPEG for the contact sheet

    @property
    def needs_care(self) -> bool:
        """Somebody has to do something about it."""
        return self.status in (Status.WHOSE, Status.FAILED)

    @property
    def player(self) -> str | None:
        """Whose face it is: as the book has it, else as told."""
        return self.holder or (None if self.told is None else self.told.player)

    @property
    def is_anothers(self) -> bool:
        """The book has it as another player's than the one told; nothing else that was told holds either."""
        return (
            self.holder is not None
            and self.told is not None
            and name_key(self.holder) != name_key(self.told.player)
        )

    @property
    def club_name(self) -> str | None:
        """The club: as told, or as the book has it where the photo is another player's."""
        if self.is_anothers and self.record is not None:
            return str(self.record["club"]["name"])
        return None if self.told is None else self.told.club.name

    @property
    def club_words(self) -> str:
        """The club as people call it: a typical driver is "driver"."""
        return (self.club_name or "").removeprefix("typical ")


class LessonRun:
    """One run over the faces of a folder."""

    def __init__(
        self, faces: Sequence[Face], *, common: Common, keeper: Keeper, fast: bool, want_pictures: bool
    ) -> None:
        self._faces = faces
        self._common = common
        self._keeper = keeper
        # What the lesson says goes before the book, which learns it in this run: a second run finds the same.
        self._hands = {**keeper.hands, **hands_told(faces, common)}
        self._fast = fast
        self._want_pictures = want_pictures
        self._n_looked_at = 0  # looks handed out
        self._n_decided = 0
        self._looks: dict[int, Looked | Failed] = {}  # come back, not decided yet
        self._jobs: deque[tuple[int, Job]] = deque()  # decided, not handed out yet
        self._at_work: set[int] = set()
        self._begun: dict[int, Entry] = {}  # decided, job not done yet
        self._keys: dict[int, str] = {}  # settings key of each face being read
        self._kept_looks: dict[int, Looked] = {}
        self._first: dict[str, str] = {}  # content -> name of the face that has it, and is someone's

    def entries(self, engine: Engine) -> Iterator[Entry]:
        """Do it all; each face's entry as soon as it is known.

        Raises
        ------
        BookError
            The book cannot be written any more; what was written stays.
        SetupError
            The engine went away.
        """
        while self._n_decided < len(self._faces) or self._begun:
            self._hand_out(engine)
            index, outcome = engine.take()
            self._at_work.discard(index)
            if index in self._begun:
                yield self._finish(index, outcome)
            else:
                assert not isinstance(outcome, Done)
                self._looks[index] = outcome
            while self._n_decided in self._looks:
                entry = self._decide(self._n_decided)
                self._n_decided += 1
                if entry is not None:
                    yield entry

    def _hand_out(self, engine: Engine) -> None:
        """Keep the engine busy: decided faces first, then looks a little ahead of the decisions."""
        room = engine.room
        while len(self._at_work) < room:
            if self._jobs:
                index, job = self._jobs.popleft()
            elif self._n_looked_at < min(len(self._faces), self._n_decided + room):
                index, job = self._n_looked_at, self._look(self._faces[self._n_looked_at])
                self._n_looked_at += 1
            else:
                return
            self._at_work.add(index)
            engine.put(index, job)

    def _look(self, face: Face) -> Look:
        return Look(
            sources=face.sources,
            want_label=wants_label(face, self._common),
            thorough=face.names.player is None,
        )

    def _decide(self, index: int) -> Entry | None:
        """What is to be done with a face that was looked at; its entry if that is nothing."""
        face, looked = self._faces[index], self._looks.pop(index)
        if isinstance(looked, Failed):
            return Entry(face=face, status=Status.FAILED, failed=looked)
        sha256 = face_sha(looked)
        first = self._first.get(sha256)
        if first is not None:
            return Entry(face=face, status=Status.SAME, sha256=sha256, note=f"is the same picture as {first}")
        try:
            told = settle(face, looked.label, self._common, hands=self._hands)
        except FacemarkError as err:
            failed = Failed(stage=err.stage, message=str(err), remedy=err.remedy)
            status = Status.WHOSE if err.stage == "whose" else Status.FAILED
            return Entry(face=face, status=status, sha256=sha256, failed=failed)
        key = settings_key(told, fast=self._fast, series=face.is_series)
        known = self._keeper.find(sha256, key, told)
        if known is not None:
            entry = self._with_row(
                Entry(face=face, status=Status.KNOWN, sha256=sha256, told=told, note=known.note), known.row
            )
            if not entry.is_anothers:  # a misfiled copy does not hide the photo that lies where it belongs
                self._first[sha256] = face.name
            if not self._want_pictures:
                return entry
            self._begin(index, entry, Draw(source=face.sources[-1], record=known.row.current))
            return None
        self._first[sha256] = face.name
        self._keys[index], self._kept_looks[index] = key, looked
        job = Read(
            sources=face.sources,
            sha256=looked.sha256,
            setup=_portable(told.setup),
            fast=self._fast,
            series=face.is_series,
            new=told.new,
            want_picture=self._want_pictures,
        )
        self._begin(index, Entry(face=face, status=Status.READ, sha256=sha256, told=told), job)
        return None

    def _begin(self, index: int, entry: Entry, job: Job) -> None:
        self._begun[index] = entry
        self._jobs.append((index, job))

    def _finish(self, index: int, outcome: Outcome) -> Entry:
        """A reading or a picture came back."""
        entry = self._begun.pop(index)
        if entry.status is Status.KNOWN:  # a reading stands, whatever became of its picture
            return replace(entry, picture=outcome.picture if isinstance(outcome, Done) else None)
        if not isinstance(outcome, Done):
            assert isinstance(outcome, Failed)
            return replace(entry, status=Status.FAILED, failed=outcome)
        assert entry.told is not None
        key, looked = self._keys.pop(index), self._kept_looks.pop(index)
        row = self._keeper.put(entry.face, looked, entry.told, key=key, record=outcome.record)
        return replace(self._with_row(entry, row), picture=outcome.picture)

    def _with_row(self, entry: Entry, row: ReadingRow) -> Entry:
        session, holder = self._keeper.place_of(row)
        return replace(entry, reading_id=row.id, record=row.current, session=session, holder=holder)


def _portable(setup: Setup) -> Setup:
    """The same setup as another process can receive it: a read-only view cannot be pickled, a copy can."""
    return replace(setup, club=replace(setup.club, errs=dict(setup.club.errs)))
