"""How far a lesson is, on standard error: a bar with the time left, or plain lines where nobody watches."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import Any, Self

LINE_EVERY_S = 10.0  # plain lines: often enough to see that it lives, few enough for a log


class Progress:
    """Counts faces. On a terminal a bar; else a line now and then, and one at the end."""

    def __init__(self, n_faces: int) -> None:
        self._n_faces = n_faces
        self._n_done = self._n_care = 0
        self._bar: Any = None
        self._start_s = self._said_s = time.monotonic()

    def __enter__(self) -> Self:
        if sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
            from rich.progress import Progress as Bar

            self._bar = Bar(
                TextColumn("reading"),
                BarColumn(),
                MofNCompleteColumn(),
                TextColumn("{task.fields[care]}"),
                TimeRemainingColumn(),
                TextColumn("left"),
                console=Console(stderr=True),
            )
            self._bar.start()
            self._task = self._bar.add_task("reading", total=self._n_faces, care="")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.stop()
        else:
            self._say()

    def step(self, *, needs_care: bool) -> None:
        """One face more is accounted for."""
        self._n_done += 1
        self._n_care += needs_care
        if self._bar is not None:
            care = f"{self._n_care} not read" if self._n_care else ""
            self._bar.update(self._task, advance=1, care=care)
        elif time.monotonic() - self._said_s >= LINE_EVERY_S:
            self._say()

    def _say(self) -> None:
        self._said_s = time.monotonic()
        line = f"facemark: {self._n_done} of {self._n_faces} photos"
        line += f", {self._n_care} not read" if self._n_care else ""
        left = self._n_faces - self._n_done
        if left and self._n_done:
            line += f", about {left * (self._said_s - self._start_s) / self._n_done:.0f} s left"
        print(line, file=sys.stderr, flush=True)
