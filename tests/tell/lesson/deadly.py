"""A worker that dies of some photos, or raises. Apart from the rest, because every new worker imports it."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from facemark.tell.lesson.jobs import Job, Look, Looked, Outcome


def deadly(job: Job) -> Outcome:
    """Dies of "kill", and of "once" only the first time; files beside the photo tell how often it tried.

    Raises at "raise", and hands something back that no other process can be given at "lambda".
    """
    assert isinstance(job, Look)
    path = Path(job.sources[0].path)
    word = path.read_text(encoding="utf-8")
    path.with_suffix(f".tried-{time.monotonic_ns()}-{os.getpid()}").touch()
    n_tried = len(list(path.parent.glob(f"{path.stem}.tried-*")))
    if word == "kill" or (word == "once" and n_tried == 1):
        os.kill(os.getpid(), signal.SIGKILL)
    if word == "raise":
        message = "nobody foresaw this"
        raise RuntimeError(message)
    if word == "lambda":
        return lambda: None  # type: ignore[return-value]
    return Looked(sha256=(word,), taken=None, label=None)
