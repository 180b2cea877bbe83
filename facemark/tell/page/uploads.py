"""The photos on the desk: in a temporary folder, under names of our own, gone when the server stops.

A photo comes in as bytes, gets a number, waits, is read, and is dropped when it is old or when room is
needed. Nothing a client says ever becomes part of a path.
"""

from __future__ import annotations

import asyncio
import hashlib
import os
import secrets
import shutil
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from facemark.errors import FacemarkError, PhotoError
from facemark.tell.page.limits import KEPT_S, MAX_KEPT_BYTES, MAX_KEPT_UPLOADS

FOLDER = "facemark-page-"
OWNER = "pid"  # file in the folder: the process that made it
WAITING, READING, DONE, FAILED = "waiting", "reading", "done", "failed"


class Upload:
    """One photo that came in, and how far reading it has got. Changed only by the desk."""

    def __init__(self, folder: Path, number: int, *, name: str, set_id: str) -> None:
        self.id = secrets.token_hex(8)
        self.name = name
        self.set_id = set_id
        self.path = folder / f"{number}.photo"
        self.picture_path = folder / f"{number}.jpg"
        self.came = time.monotonic()
        self.n_bytes = 0  # of the photo
        self.n_picture_bytes = 0  # of the upright copy beside it
        self.dropped = False  # forgotten, perhaps while it is being read
        self.sha256 = ""
        self.size_px: tuple[int, int] | None = None
        self.taken: str | None = None
        self.state = WAITING
        self.version = 0  # counts changes, for those who wait for the next
        self.changed = asyncio.Event()
        self.told: dict[str, Any] = {}
        self.keep = False  # its picture goes into the book
        self.earlier: tuple[Upload, ...] = ()
        self.n_new: list[int | None] | None = None
        self.findings: list[dict[str, Any]] = []
        self.record: dict[str, Any] | None = None
        self.error: dict[str, str] | None = None
        self.reading_id: str | None = None
        self.in_other_set: str | None = None

    def has_changed(self) -> None:
        """Wake everybody who waits for this photo. In the server's own thread only."""
        self.version += 1
        waiters, self.changed = self.changed, asyncio.Event()
        waiters.set()


class Uploads:
    """All photos on the desk, newest last."""

    def __init__(self) -> None:
        remove_stale()
        self._folder = tempfile.TemporaryDirectory(prefix=FOLDER, ignore_cleanup_errors=True)
        Path(self._folder.name, OWNER).write_text(str(os.getpid()), encoding="ascii")
        self._lock = threading.Lock()
        self._all: dict[str, Upload] = {}
        self._count = 0

    def new(self, *, name: str, set_id: str) -> Upload:
        """A place for a photo; room is made by dropping the oldest that nobody waits for.

        Raises
        ------
        DeskFullError
            All places are taken by photos still to be read.
        """
        with self._lock:
            self._make_room()
            self._count += 1
            upload = Upload(Path(self._folder.name), self._count, name=name, set_id=set_id)
            self._all[upload.id] = upload
        return upload

    def get(self, upload_id: str) -> Upload | None:
        return self._all.get(upload_id)

    def of_set(self, set_id: str) -> list[Upload]:
        """Photos of a set, in the order they came."""
        return [upload for upload in self._now() if upload.set_id == set_id]

    def of_reading(self, reading_id: str) -> Upload | None:
        return next((upload for upload in self._now() if upload.reading_id == reading_id), None)

    def drop(self, upload: Upload) -> None:
        """Delete a photo's files; once more after the work, if it is being read."""
        upload.dropped = True
        self._all.pop(upload.id, None)
        upload.path.unlink(missing_ok=True)
        upload.picture_path.unlink(missing_ok=True)

    def drop_set(self, set_id: str) -> None:
        for upload in self.of_set(set_id):
            self.drop(upload)

    def _now(self) -> list[Upload]:
        """A copy: other threads may add and drop meanwhile."""
        return list(self._all.values())

    def close(self) -> None:
        self._all.clear()
        self._folder.cleanup()

    def _make_room(self) -> None:
        now = time.monotonic()
        at_work = [u for u in self._now() if u.state in (WAITING, READING)]
        needed = {earlier.id for upload in at_work for earlier in upload.earlier}
        idle = [u for u in self._now() if u.state in (DONE, FAILED) and u.id not in needed]
        for upload in idle:
            too_old = now - upload.came > KEPT_S
            too_many = len(self._all) >= MAX_KEPT_UPLOADS
            if too_old or too_many or self._too_large():
                self.drop(upload)
        if len(self._all) >= MAX_KEPT_UPLOADS or self._too_large():
            raise DeskFullError

    def _too_large(self) -> bool:
        return sum(u.n_bytes + u.n_picture_bytes for u in self._now()) > MAX_KEPT_BYTES


def remove_stale() -> None:
    """Delete the folders of this user's pages that did not end by themselves (a crash, a power cut)."""
    if not hasattr(os, "getuid"):  # Windows: no owner to compare, and no harmless way to ask for a process
        return
    for folder in Path(tempfile.gettempdir()).glob(f"{FOLDER}*"):
        try:
            mine = not folder.is_symlink() and folder.stat().st_uid == os.getuid()
            if mine and not _lives(int((folder / OWNER).read_text(encoding="ascii"))):
                shutil.rmtree(folder, ignore_errors=True)
        except (OSError, ValueError, OverflowError):  # without a readable owner it is left alone
            continue


def _lives(pid: int) -> bool:
    if pid <= 0:
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


class NoPhotoError(PhotoError):
    """The photo is not on the desk."""

    def __init__(self) -> None:
        super().__init__("this photo is no longer here", remedy="Send it again.")


class DeskFullError(FacemarkError):
    """More photos are waiting than the desk takes."""

    stage = "desk"

    def __init__(self) -> None:
        super().__init__(
            "more photos are waiting than can be taken", remedy="Wait a minute and send it again."
        )


class Writing:
    """Bytes of one upload on their way to its file, counted and hashed."""

    def __init__(self, upload: Upload) -> None:
        self._upload = upload
        self._hash = hashlib.sha256()
        self._file = upload.path.open("wb")

    def write(self, chunk: bytes) -> None:
        self._file.write(chunk)
        self._hash.update(chunk)
        self._upload.n_bytes += len(chunk)

    def close(self) -> None:
        self._file.close()
        self._upload.sha256 = self._hash.hexdigest()
