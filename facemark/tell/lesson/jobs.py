"""What a worker does for one face: look at it, read it, draw it. Plain data in, plain data out.

A worker never sees the book and never raises: whatever goes wrong comes back as a ``Failed`` with reason and
remedy, because an exception that cannot be unpickled would break the whole pool. One photo at a time in each
process: the networks are not made to be used by two threads at once, and the memory of one is what was
planned for.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import tempfile
import threading
import traceback
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from facemark.errors import FacemarkError
from facemark.inputs import Photo, Setup
from facemark.tell.label import CardLabel
from facemark.tell.lesson.photos import Source, local_copy

_ONE_AT_A_TIME = threading.Lock()
SMALL_WIDTH_PX = 560  # of the picture for the contact sheet: three in a row are readable on a screen


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Find out what a face's files are: content, date, label on the card."""

    sources: tuple[Source, ...]
    want_label: bool
    thorough: bool  # look for a small label too; costs as much as a tenth of a reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """``sha256``: of each file's bytes. ``taken``: of the first photo that tells."""

    sha256: tuple[str, ...]
    taken: dt.datetime | None
    label: CardLabel | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """Read a face. ``sha256``: what its files held when they were looked at."""

    sources: tuple[Source, ...]
    sha256: tuple[str, ...]
    setup: Setup
    fast: bool
    series: bool
    new: tuple[int, ...] | None
    want_picture: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """Draw a reading that the book already holds."""

    source: Source
    record: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A record, and the small picture (JPEG) if one was wanted."""

    record: dict[str, Any]
    picture: bytes | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """Why a job could not be done, and what to do about it."""

    stage: str
    message: str
    remedy: str


Job = Look | Read | Draw
Outcome = Looked | Done | Failed


def do_job(job: Job) -> Outcome:
    """Do one job. Never raises, but for the stop of the whole process."""
    with _ONE_AT_A_TIME, tempfile.TemporaryDirectory(prefix="facemark-") as folder:
        try:
            import cv2

            cv2.setNumThreads(1)  # there is a process for every core already
            return _do(job, Path(folder))
        except FacemarkError as err:
            return Failed(stage=err.stage, message=str(err), remedy=err.remedy)
        except MemoryError:
            return Failed(
                stage="photo",
                message="not enough memory for this photo",
                remedy="Use fewer --jobs, or a smaller copy of the photo.",
            )
        except Exception as err:
            return own_fault(err)


def own_fault(err: BaseException) -> Failed:
    """What nobody foresaw, with the place where it happened."""
    places = traceback.extract_tb(err.__traceback__)
    where = f"; {Path(places[-1].filename).name}, line {places[-1].lineno}" if places else ""
    return Failed(
        stage="program",
        message=f"a fault of facemark's own ({type(err).__name__}: {str(err)[:120]}{where})",
        remedy="Please report it, with this line and what facemark doctor prints.",
    )


def _do(job: Job, folder: Path) -> Outcome:
    if isinstance(job, Look):
        return _look(job, folder)
    if isinstance(job, Draw):
        from facemark.tell.files import load

        photo = load(local_copy(job.source, folder))
        return Done(record=job.record, picture=small_picture(photo, job.record))
    return _read(job, folder)


def _look(job: Look, folder: Path) -> Looked:
    from facemark.errors import PhotoError
    from facemark.tell.files import grey_copy, taken_on
    from facemark.tell.label import SHRUNK_PX, find_label

    digests, taken, label = [], None, None
    for source in job.sources:
        path = local_copy(source, folder)
        try:
            digests.append(hashlib.sha256(path.read_bytes()).hexdigest())
        except OSError as err:
            raise PhotoError(
                f"{source.name} cannot be read ({err.strerror or err})",
                remedy="Check the file's permissions.",
            ) from None
        taken = taken or taken_on(path)
        if job.want_label and label is None:
            # What is wrong with the photo is for the reading to say.
            grey = grey_copy(path, long_px=0 if job.thorough else SHRUNK_PX)
            label = None if grey is None else find_label(grey, thorough=job.thorough)
    return Looked(sha256=tuple(digests), taken=taken, label=label)


def _read(job: Read, folder: Path) -> Outcome:
    from facemark.reading import read, read_series

    photos = list(_loaded(job, folder))
    if job.series:
        record = read_series(photos, job.setup, n_new=job.new).to_dict()
    else:
        record = read(photos[0], job.setup, fast=job.fast).to_dict()
    return Done(record=record, picture=small_picture(photos[-1], record) if job.want_picture else None)


def _loaded(job: Read, folder: Path) -> Iterator[Photo]:
    """The photos, if they still are what was looked at."""
    from facemark.errors import PhotoError
    from facemark.tell.files import load

    for source, sha256 in zip(job.sources, job.sha256, strict=True):
        path = local_copy(source, folder)
        photo = load(path)
        if hashlib.sha256(path.read_bytes()).hexdigest() != sha256:
            raise PhotoError(
                f"{source.name} was changed while it was read",
                remedy="Let the copying end, then start again.",
            )
        yield photo


def small_picture(photo: Photo, record: dict[str, Any]) -> bytes:
    """The face with its marks, ``SMALL_WIDTH_PX`` wide, as JPEG."""
    from PIL import Image

    from facemark.tell.overlay import draw_overlay

    face = Image.fromarray(draw_overlay(photo, record, caption=False))
    small = face.resize(
        (SMALL_WIDTH_PX, round(face.height * SMALL_WIDTH_PX / face.width)), Image.Resampling.LANCZOS
    )
    buffer = io.BytesIO()
    small.save(buffer, format="JPEG", quality=88)
    return buffer.getvalue()
