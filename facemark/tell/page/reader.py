"""A reading process seen from the server: started, given one job at a time, ended when it hangs."""

from __future__ import annotations

import json
import multiprocessing
import threading
from collections.abc import Callable
from typing import Any

from facemark.tell.page import worker
from facemark.tell.page.limits import READ_S, SERIES_PHOTO_S, START_S

Answer = dict[str, Any]
LAST = ("done", "failed")  # stages after which the process waits for the next job


class Reader:
    """One reading process. ``do`` may be called from any thread, one call at a time."""

    def __init__(self) -> None:
        # A fresh interpreter: no open files, no book, no key of the server's are inherited.
        self._context = multiprocessing.get_context("spawn")
        self._lock = threading.Lock()
        self._process: Any = None
        self._pipe: Any = None

    @property
    def pid(self) -> int | None:
        """The process, if it is up."""
        return None if self._process is None else self._process.pid

    def start(self) -> None:
        """Bring the process up and wait until it is warm; nothing to do if it is."""
        with self._lock:
            self._start()

    def do(self, job: dict[str, Any], on_answer: Callable[[Answer], None]) -> None:
        """Do one job; every answer goes to ``on_answer``, the last of which is "done" or "failed"."""
        with self._lock:
            limit_s = READ_S + SERIES_PHOTO_S * (len(job["uploads"]) - 1)
            try:
                self._start()
                self._pipe.send_bytes(json.dumps(job).encode())
                while True:
                    answer = self._wait(limit_s)
                    on_answer(answer)
                    if answer["stage"] in LAST:
                        return
            except TimeoutError:
                self._end()
                on_answer(_failed(f"reading took longer than {limit_s:.0f} s and was stopped"))
            except (EOFError, OSError, ValueError, KeyError):
                self._end()
                on_answer(_failed("reading this photo ended its process"))
            except Exception as err:  # whoever waits for the last answer must get one
                self._end()
                on_answer(_failed(f"reading this photo ended with a fault of ours ({type(err).__name__})"))

    def stop(self) -> None:
        """End the process."""
        self._end()

    def _start(self) -> None:
        if self._process is not None and self._process.is_alive():
            return
        self._end()
        ours, theirs = self._context.Pipe()
        self._process = self._context.Process(target=worker.main, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()
        self._pipe = ours
        self._wait(START_S)

    def _wait(self, limit_s: float) -> Answer:
        pipe = self._pipe
        if pipe is None:
            raise EOFError  # stopped meanwhile
        if not pipe.poll(limit_s):
            raise TimeoutError
        answer = json.loads(pipe.recv_bytes())
        if not isinstance(answer, dict) or not isinstance(answer.get("stage"), str):
            raise ValueError
        return answer

    def _end(self) -> None:
        # Taken out first: whoever stops the page and whoever waits for an answer may both come here.
        process, self._process = self._process, None
        pipe, self._pipe = self._pipe, None
        if process is not None:
            process.kill()
            process.join(5.0)
        if pipe is not None:
            pipe.close()


def _failed(message: str) -> Answer:
    remedy = "Take the photo again, or send a smaller copy."
    return {"stage": "failed", "error": {"stage": "photo", "message": message, "remedy": remedy}}
