"""The processes that read photos side by side on this machine.

An engine takes jobs and gives outcomes back, in whatever order they are done. It loses none: when a worker
dies (out of memory, killed by hand), every job that was in hand is done again, each alone; one whose worker
dies twice with nothing else at work is reported, and its neighbours are read.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing.connection import wait as wait_for
from types import TracebackType
from typing import Protocol, Self

from facemark.tell.lesson.jobs import Failed, Job, Outcome, do_job, own_fault

# Memory one worker may need: 415 MB for 12 MP (python -m tests.bench.lesson memory), 1020 MB for 48 MP.
WORKER_MB = 700

MOST_DEATHS = 2
KILLER = Failed(
    stage="photo",
    message="its worker died twice while reading it, with nothing else at work",
    remedy="Probably too little memory: send a smaller copy, or close other programs.",
)


class Engine(Protocol):
    """Something that does jobs. ``room``: how many it is worth having in hand at a time."""

    @property
    def room(self) -> int: ...

    def put(self, ticket: int, job: Job) -> None:
        """Hand a job in; its outcome comes back under ``ticket``."""

    def take(self) -> tuple[int, Outcome]:
        """Wait for the next outcome. Only while jobs are in hand."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None
    ) -> None: ...


def usual_jobs() -> int:
    """A worker for every core this program may use, but no more than fit into the memory that is free."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    with contextlib.suppress(OSError, ValueError):
        free_mb = os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") / 1e6
        cores = min(cores, int(free_mb // WORKER_MB))
    return max(1, cores)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    ticket: int
    job: Job
    n_deaths: int = 0  # of workers that had nothing else to do


class LocalEngine:
    """Worker processes of this machine, forked from one that has everything imported.

    For a program that has no other child processes of its own: a stop ends them all.
    """

    def __init__(self, n_workers: int, work: Callable[[Job], Outcome] = do_job) -> None:
        self._n_workers = n_workers
        self._work = work
        self._pool: ProcessPoolExecutor | None = None
        self._waiting: deque[_Item] = deque()
        self._suspects: deque[_Item] = deque()  # were under way when a worker died
        self._at_work: dict[Future[Outcome], _Item] = {}
        self._ready: deque[tuple[int, Outcome]] = deque()
        self._alone = False  # one suspect is at work, and nothing else

    @property
    def room(self) -> int:
        # One at work and one ready for each: nobody waits, and little is lost when a worker dies.
        return 2 * self._n_workers

    def put(self, ticket: int, job: Job) -> None:
        self._waiting.append(_Item(ticket=ticket, job=job))

    def take(self) -> tuple[int, Outcome]:
        while not self._ready:
            self._hand_out()
            done, _ = wait(self._at_work, return_when=FIRST_COMPLETED)
            if any(isinstance(future.exception(), BrokenProcessPool) for future in done):
                self._after_a_death()
                continue
            for future in done:
                self._ready.append((self._at_work.pop(future).ticket, _outcome(future)))
            self._alone = False
        return self._ready.popleft()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is None:
            return
        if kind is not None:  # stopped: nobody waits for what is under way
            for worker in multiprocessing.active_children():
                worker.terminate()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _hand_out(self) -> None:
        if self._suspects:
            if not self._at_work:
                self._alone = True
                self._submit(self._suspects.popleft())
            return
        while self._waiting and not self._suspects:
            self._submit(self._waiting.popleft())

    def _submit(self, item: _Item) -> None:
        if self._pool is None:
            self._pool = new_pool(self._n_workers)
        try:
            self._at_work[self._pool.submit(self._work, item.job)] = item
        except BrokenProcessPool:  # a worker died between two jobs: nobody's fault
            self._alone = False
            self._suspects.append(item)
            self._after_a_death()

    def _after_a_death(self) -> None:
        """Keep what is done, put the rest aside to be done one by one, and start anew."""
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None
        for future, item in self._at_work.items():
            if not future.cancelled() and not isinstance(future.exception(), BrokenProcessPool):
                self._ready.append((item.ticket, _outcome(future)))
            elif self._alone and item.n_deaths + 1 >= MOST_DEATHS:
                self._ready.append((item.ticket, KILLER))
            else:
                self._suspects.append(replace(item, n_deaths=item.n_deaths + self._alone))
        self._at_work.clear()
        self._alone = False


def _outcome(future: Future[Outcome]) -> Outcome:
    """A job never raises, but it or its outcome may not get through between the processes."""
    err = future.exception()
    return future.result() if err is None else own_fault(err)


def new_pool(n_workers: int) -> ProcessPoolExecutor:
    """Worker processes; forked from a warm one where the system can (2.9 s against 7.4 s for four)."""
    ways = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("forkserver" if "forkserver" in ways else "spawn")
    if "forkserver" in ways:
        context.set_forkserver_preload(["facemark.tell.lesson.warm"])
    return ProcessPoolExecutor(n_workers, mp_context=context, initializer=start_worker)


def start_worker() -> None:
    """Make a worker modest: one thread, deaf to Ctrl-C (the parent decides), gone when its parent is gone."""
    import cv2
    from threadpoolctl import threadpool_limits

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threadpool_limits(limits=1)
    cv2.setNumThreads(1)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_follow, args=(parent.sentinel,), daemon=True).start()


def _follow(sentinel: int) -> None:
    """A worker whose parent was killed would wait for work for ever."""
    wait_for([sentinel])
    os._exit(1)
