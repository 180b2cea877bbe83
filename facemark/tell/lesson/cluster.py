"""The same jobs on machines that are already there: a dask.distributed scheduler and its workers.

Every worker has facemark installed (same version) and opens the photos itself, from a path that all share or
from an address. It may do a photo twice, when a worker dies after its work and before its answer; the book
takes it once.
"""

from __future__ import annotations

from collections import Counter
from types import TracebackType
from typing import Any, Self

from facemark.errors import SetupError
from facemark.tell.lesson.engine import KILLER
from facemark.tell.lesson.jobs import Job, Outcome, do_job, own_fault
from facemark.version import VERSION

CONNECT_S = 15
# The scheduler itself tries a job on several workers (three deaths are allowed) before it calls it a killer.
# A job that only stood beside a killer may be among them, so each gets a second round.
MOST_ROUNDS = 2


class ClusterEngine:
    """Workers of a dask.distributed cluster. Use as a context manager."""

    def __init__(self, address: str) -> None:
        self._address = address
        self._jobs: dict[str, tuple[int, Job]] = {}
        self._rounds: Counter[int] = Counter()
        self._client: Any = None
        self._done: Any = None

    def __enter__(self) -> Self:
        try:
            import distributed
        except ImportError:
            raise SetupError(
                "--dask needs the package distributed, which is not installed",
                remedy="pip install 'facemark[cluster]', or leave --dask out to read on this machine.",
            ) from None
        try:
            library: Any = distributed
            self._client = library.Client(self._address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError) as err:
            raise SetupError(
                f"no scheduler answers at {self._address} ({type(err).__name__})",
                remedy="Check the address, as in tcp://HOST:8786, and that the scheduler runs.",
            ) from None
        try:
            self._check_workers()
        except BaseException:
            self._client.close()
            raise
        self._done = library.as_completed(loop=self._client.loop)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, err: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._client.close()  # jobs still in hand are forgotten by the scheduler

    @property
    def room(self) -> int:
        return max(2, 2 * len(self._client.nthreads()))  # workers come and go

    def put(self, ticket: int, job: Job) -> None:
        # Not pure: the same job handed in again is to be done again, not answered from memory.
        future = self._client.submit(do_job, job, pure=False)
        self._jobs[future.key] = (ticket, job)
        self._done.add(future)

    def take(self) -> tuple[int, Outcome]:
        from distributed import KilledWorker

        while True:
            future = next(self._done)
            ticket, job = self._jobs.pop(future.key)
            try:
                outcome: Outcome = future.result()
            except KilledWorker:
                self._rounds[ticket] += 1
                if self._rounds[ticket] >= MOST_ROUNDS:
                    return ticket, KILLER
                self.put(ticket, job)
                continue
            except Exception as err:
                if (
                    future.status == "error"
                ):  # do_job never raises: the job or its outcome did not get through
                    return ticket, own_fault(err)
                raise SetupError(
                    f"the engine at {self._address} went away ({type(err).__name__})",
                    remedy="Start it, then start the lesson again: what was read is in the book.",
                ) from None
            return ticket, outcome

    def _check_workers(self) -> None:
        versions = self._client.run(_worker_version, on_error="return")
        if not versions:
            raise SetupError(
                f"the scheduler at {self._address} has no workers",
                remedy=f"Start some where facemark is installed: dask worker {self._address} --nthreads 1.",
            )
        for worker, version in versions.items():
            if version != VERSION:
                has = f"facemark {version}" if isinstance(version, str) else "no facemark"
                raise SetupError(
                    f"worker {worker} has {has}, facemark {VERSION} is here",
                    remedy="Install the same version on every machine.",
                )


def _worker_version() -> str:
    from facemark.version import VERSION as INSTALLED

    return INSTALLED
