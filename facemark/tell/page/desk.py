"""The desk: photos wait in a line, two are read at a time, and everybody hears how far his has got."""

from __future__ import annotations

import asyncio
import contextlib
import datetime as dt
import hashlib
from typing import Any

from facemark.errors import FacemarkError
from facemark.tell.book.coats import of_series
from facemark.tell.book.identity import settings_sha
from facemark.tell.book.rows import PhotoFacts
from facemark.tell.book.store import Book
from facemark.tell.page.limits import LONG_POLL_S, MAX_WAITING, N_READERS
from facemark.tell.page.reader import Answer, Reader
from facemark.tell.page.told import setup_of
from facemark.tell.page.uploads import (
    DONE,
    FAILED,
    READING,
    WAITING,
    DeskFullError,
    NoPhotoError,
    Upload,
    Uploads,
)


class Desk:
    """Queue, reading processes and the book they write to."""

    def __init__(self, book: Book, *, n_readers: int = N_READERS) -> None:
        self.book = book
        self.uploads = Uploads()
        self._readers = [Reader() for _ in range(n_readers)]
        self._line: list[Upload] = []
        self._came = asyncio.Semaphore(0)
        self._tasks: list[asyncio.Task[None]] = []

    def open(self) -> None:
        """Start reading. In the server's event loop."""
        self._tasks = [asyncio.create_task(self._serve(reader)) for reader in self._readers]

    async def close(self) -> None:
        """End everything, and delete the photos."""
        for task in self._tasks:
            task.cancel()
        for reader in self._readers:
            await asyncio.to_thread(reader.stop)
        for task in self._tasks:
            with contextlib.suppress(asyncio.CancelledError):
                await task
        self.uploads.close()

    def put(self, upload: Upload) -> None:
        """Into the line.

        Raises
        ------
        DeskFullError
        """
        if self.n_waiting >= MAX_WAITING:
            raise DeskFullError
        upload.state, upload.error, upload.record, upload.reading_id = WAITING, None, None, None
        upload.findings = []
        self._line.append(upload)
        upload.has_changed()
        self._came.release()

    def place_in_line(self, upload: Upload) -> int:
        """1 for the next; 0 if it does not wait."""
        line = self._waiting()
        return line.index(upload) + 1 if upload in line else 0

    @property
    def n_waiting(self) -> int:
        return len(self._waiting())

    def _waiting(self) -> list[Upload]:
        """The line, without photos that were dropped (their player was forgotten, their set deleted)."""
        return [upload for upload in self._line if not upload.dropped]

    async def wait_for_change(self, upload: Upload, since: int) -> None:
        """Until the photo has changed after version ``since``, or a while has passed."""
        if upload.version > since:
            return
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(upload.changed.wait(), LONG_POLL_S)

    async def _serve(self, reader: Reader) -> None:
        with contextlib.suppress(Exception):  # it is started again for the first photo, which then says why
            await asyncio.to_thread(reader.start)  # warm before the first photo comes
        while True:
            await self._came.acquire()
            self._line = self._waiting()
            if not self._line:
                continue
            upload = self._line.pop(0)
            for waiting in self._line:
                waiting.has_changed()  # one place nearer
            upload.state = READING
            upload.has_changed()
            try:
                await self._read(reader, upload)
            except Exception as err:  # a fault of ours must not stop the line behind it
                _fault(upload, err)
                upload.has_changed()
            if upload.dropped:  # the reading process may have written its picture since
                self.uploads.drop(upload)

    async def _read(self, reader: Reader, upload: Upload) -> None:
        loop = asyncio.get_running_loop()
        photos = [*upload.earlier, upload]
        job = {
            "uploads": [str(one.path) for one in photos],
            "names": [one.name for one in photos],
            "picture": str(upload.picture_path),
            "setup": upload.told,
            "n_new": upload.n_new,
        }
        answers: asyncio.Queue[Answer] = asyncio.Queue()

        def hear(answer: Answer) -> None:
            loop.call_soon_threadsafe(answers.put_nowait, answer)

        work = asyncio.create_task(asyncio.to_thread(reader.do, job, hear))
        while upload.state is READING:
            answer = await answers.get()
            try:
                await self._heard(upload, answer)
            except FacemarkError as err:  # the book is full, locked or gone, or the set was deleted meanwhile
                upload.error = {"stage": err.stage, "message": str(err), "remedy": err.remedy}
                upload.state = FAILED
            except Exception as err:  # a fault of ours must not stop the line behind it
                _fault(upload, err)
            upload.has_changed()
        await work

    async def _heard(self, upload: Upload, answer: Answer) -> None:
        stage = answer["stage"]
        if stage == "decoded":
            upload.size_px = (answer["width_px"], answer["height_px"])
            upload.taken = answer["taken"]
        elif stage == "seen":
            upload.record = answer["record"]
            upload.n_picture_bytes = upload.picture_path.stat().st_size
        elif stage == "failed":
            upload.error, upload.findings = answer["error"], answer.get("findings", [])
            upload.record = None
            upload.state = FAILED
        elif stage == "done":
            upload.record, upload.findings = answer["record"], answer["findings"]
            if upload.dropped:
                raise NoPhotoError
            await asyncio.to_thread(self._store, upload, answer["record"])
            upload.state = DONE

    def _store(self, upload: Upload, record: dict[str, Any]) -> None:
        taken = None if upload.taken is None else dt.datetime.fromisoformat(upload.taken)
        width_px, height_px = upload.size_px or (0, 0)
        facts = PhotoFacts(
            sha256=upload.sha256, name=upload.name, taken=taken, width_px=width_px, height_px=height_px
        )
        if upload.earlier:
            record = of_series(record, _contents(upload))
        row, was_new = self.book.add_reading(upload.set_id, facts, record, settings_key(upload))
        upload.reading_id = row.id
        if upload.keep:
            # The upright copy: no place, no time, no serial number of the phone's, no writing on a card.
            self.book.keep_photo(row.photo_id, upload.picture_path.read_bytes(), "jpg")
        if not was_new:
            upload.record = row.current
            if row.session_id != upload.set_id:
                upload.in_other_set = row.session_id


def settings_key(upload: Upload) -> str:
    """Everything told that decides a reading's numbers; of a series also its photos and their new balls."""
    key = settings_sha(setup_of(upload.told))
    if upload.earlier:
        told = f"{key} series={_contents(upload)} new={upload.n_new}"
        key = hashlib.sha256(told.encode()).hexdigest()
    return key


def _contents(upload: Upload) -> list[str]:
    """Of all photos of a series, in order: what they are known by."""
    return [one.sha256 for one in (*upload.earlier, upload)]


def _fault(upload: Upload, err: Exception) -> None:
    message = f"a fault of ours ({type(err).__name__})"
    upload.error = {"stage": "fault", "message": message, "remedy": "Send the photo again."}
    upload.state = FAILED
