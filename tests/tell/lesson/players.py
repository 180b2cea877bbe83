"""Stand-ins for the engine and its workers, for the lesson's tests."""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable
from pathlib import Path

from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Setup
from facemark.tell.lesson.clubs import ClubShelf
from facemark.tell.lesson.jobs import Done, Draw, Failed, Job, Look, Looked, Outcome
from facemark.tell.lesson.photos import find_photos
from facemark.tell.lesson.sheet import LessonSheet
from facemark.tell.lesson.who import Common, Face, gather_faces
from tests.tell.book.readings import record_of

SETUP = Setup(club=typical_club(ClubKind.DRIVER))


def pretend(job: Job) -> Outcome:
    """A worker that reads text files: "bad" cannot be read, "label mia/driver" has a card."""
    if isinstance(job, Draw):
        return Done(record=job.record, picture=b"")
    words = [Path(source.path).read_text(encoding="utf-8") for source in job.sources]
    if isinstance(job, Look):
        return Looked(
            sha256=tuple(hashlib.sha256(word.encode()).hexdigest() for word in words), taken=None, label=None
        )
    if words[0].startswith("bad"):
        return Failed(stage="face", message="no face could be outlined", remedy="Photograph it again")
    n_marks = job.setup.n_balls or 4
    return Done(record=record_of([(2.0 * i, -1.0) for i in range(n_marks)]), picture=b"")


class Inline:
    """An engine without processes; gives outcomes back in an order of the test's choosing."""

    def __init__(
        self, work: Callable[[Job], Outcome] = pretend, *, room: int = 4, newest_first: bool = False
    ):
        self._work = work
        self.room = room
        self._newest_first = newest_first
        self._jobs: deque[tuple[int, Job]] = deque()
        self.done: list[Job] = []

    def put(self, ticket: int, job: Job) -> None:
        self._jobs.append((ticket, job))
        assert len(self._jobs) <= self.room

    def take(self) -> tuple[int, Outcome]:
        ticket, job = self._jobs.pop() if self._newest_first else self._jobs.popleft()
        self.done.append(job)
        return ticket, self._work(job)


def write_photos(folder: Path, words: dict[str, str]) -> None:
    for name, word in words.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(word, encoding="utf-8")


def faces_of(folder: Path, sheet: LessonSheet | None = None) -> tuple[Face, ...]:
    return gather_faces(
        find_photos(str(folder)).photos, sheet=sheet, pattern=None, shelf=ClubShelf(), player_told=False
    )


def common(setup: Setup = SETUP) -> Common:
    return Common(setup=setup, shelf=ClubShelf())
