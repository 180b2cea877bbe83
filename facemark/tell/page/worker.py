"""The reading process: opens what strangers sent in a process of its own, memory capped where that can be.

It gets jobs and gives answers as JSON over a pipe, never as pickles: the server only ever parses plain data,
and a crash or an endless photo ends this process alone. That is all: it runs as the same user and is no
sandbox, so whoever took it over could do what that user can. Its own code writes one file, at the place the
server names.
"""

from __future__ import annotations

import contextlib
import json
import signal
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import numpy as np

from facemark.errors import FacemarkError
from facemark.inputs import Photo, Setup
from facemark.tell.page.limits import FORMATS, MAX_PHOTO_MPX, PICTURE_PX, PICTURE_QUALITY, READER_BYTES

Say = Callable[[dict[str, Any]], None]


def main(pipe: Connection) -> None:
    """Serve jobs until the pipe closes. Ctrl-C reaches every process of a terminal; the server decides."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _limit_memory()
    _warm_up()
    pipe.send_bytes(b'{"stage": "ready"}')
    while True:
        try:
            job = json.loads(pipe.recv_bytes())
        except (EOFError, OSError):
            return

        def say(answer: dict[str, Any]) -> None:
            pipe.send_bytes(json.dumps(answer, allow_nan=False).encode())

        try:
            do_job(job, say)
        except MemoryError:
            say(_failed("photo", "this photo needs more memory than is given to it", "Send a smaller copy."))
        except (
            Exception
        ) as err:  # a fault of ours must not end the desk; the answer names no path and no line
            say(
                _failed(
                    "fault", f"reading stopped with a fault ({type(err).__name__})", "Send another photo."
                )
            )


def do_job(job: dict[str, Any], say: Say) -> None:
    """Read one photo, or a series of which it is the last; say each stage as it is reached."""
    from facemark.tell.files import load
    from facemark.tell.page.told import setup_of

    try:
        setup = setup_of(job["setup"])
        *earlier, last = [
            load(path, name=name, max_mpx=MAX_PHOTO_MPX, formats=FORMATS)
            for path, name in zip(job["uploads"], job["names"], strict=True)
        ]
    except FacemarkError as err:
        say(_refused(err))
        return
    taken = None if last.taken is None else last.taken.isoformat()
    say({"stage": "decoded", "width_px": last.width_px, "height_px": last.height_px, "taken": taken})
    _read([*earlier, last], setup, job, say)


def write_picture(photo: Photo, record: dict[str, Any], path: Path) -> None:
    """Write the photo upright, cards painted over, small enough for a phone, as JPEG without any metadata."""
    import cv2

    from facemark.tell.clean import clean_pixels, picture_bytes

    pixels = clean_pixels(photo.pixels, record, whole=True)
    shrink = PICTURE_PX / max(pixels.shape[:2])
    if shrink < 1.0:  # several times as quick as Pillow's ways of shrinking, and nobody measures in it
        pixels = np.asarray(
            cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA), np.uint8
        )
    path.write_bytes(picture_bytes(pixels, "JPEG", quality=PICTURE_QUALITY))


def _read(photos: Sequence[Photo], setup: Setup, job: dict[str, Any], say: Say) -> None:
    from facemark.reading import Reading, first_record, interpret, measure, measure_series
    from facemark.record import plain
    from facemark.tell.check import look_over, look_over_measured

    try:
        if len(photos) > 1:
            measured, setup = measure_series(photos, setup, n_new=job.get("n_new"))
        else:
            measured = measure(photos[-1], setup)
    except FacemarkError as err:
        say({**_refused(err), "findings": plain(look_over(photos[-1], setup))})
        return
    # The marks first: where they are is known before what they did and how good the photo is.
    record = first_record(measured, setup)
    write_picture(photos[-1], record, Path(job["picture"]))
    say({"stage": "seen", "record": record})
    findings = plain(look_over_measured(photos[-1], measured))
    reading = Reading(setup=setup, measured=measured, interpreted=interpret(measured.strikes, setup))
    say({"stage": "done", "record": reading.to_dict(), "findings": findings})


def _refused(err: FacemarkError) -> dict[str, Any]:
    return _failed(err.stage, str(err), err.remedy)


def _failed(stage: str, message: str, remedy: str) -> dict[str, Any]:
    return {"stage": "failed", "error": {"stage": stage, "message": message, "remedy": remedy}}


def _limit_memory() -> None:
    """Cap the address space where the system can (not on Windows, not on macOS)."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (READER_BYTES, READER_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _warm_up() -> None:
    """Load networks and libraries before the first photo comes, and keep to one core each."""
    import cv2

    from facemark.clubs import typical_club
    from facemark.inputs import ClubKind
    from facemark.reading import interpret
    from facemark.see.face_net import guess_face
    from facemark.see.rectify import FaceMap
    from facemark.see.splitter import split_marks
    from facemark.strike import Strike, StrikeSet
    from facemark.tell import check  # noqa: F401

    cv2.setNumThreads(1)
    nothing = np.full((240, 320, 3), 128, np.uint8)
    with contextlib.suppress(FacemarkError):
        guess_face(Photo(pixels=nothing, name="warm-up"))
    face_map = FaceMap(
        pixels=nothing, inside=nothing[..., 0] > 0, left_toe_mm=-40.0, top_high_mm=30.0, px_per_mm=4.0
    )
    split_marks(face_map, n_balls=1, fast=True)
    interpret(
        StrikeSet(strikes=(Strike(toe_mm=1.0, high_mm=1.0),)), Setup(club=typical_club(ClubKind.DRIVER))
    )
