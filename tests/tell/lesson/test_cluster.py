"""An engine of other processes: a real scheduler and real workers, one of which is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from facemark.errors import SetupError
from facemark.tell.lesson import cluster
from facemark.tell.lesson.cluster import ClusterEngine
from facemark.tell.lesson.jobs import Failed, Looked
from tests.tell.lesson.test_engine import look

N_WORKERS = 2


def start(role: str, *options: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", f"distributed.cli.dask_{role}", *options, "--no-dashboard"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    file = tmp_path_factory.mktemp("scheduler") / "scheduler.json"
    process = start("scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(file))
    deadline_s = time.monotonic() + 60
    while not file.exists() or '"address"' not in file.read_text(encoding="utf-8"):
        assert time.monotonic() < deadline_s
        time.sleep(0.1)
    yield file.read_text(encoding="utf-8").split('"address": "')[1].split('"')[0]
    process.send_signal(signal.SIGTERM)
    process.wait()


@pytest.fixture
def workers(scheduler: str, tmp_path: Path) -> Iterator[list[subprocess.Popen[bytes]]]:
    options = ("--nthreads", "1", "--no-nanny", "--memory-limit", "0", "--local-directory", str(tmp_path))
    started = [start("worker", scheduler, *options) for _ in range(N_WORKERS)]
    yield started
    for process in started:
        process.kill()
        process.wait()


def test_an_engine_without_workers_and_one_that_is_not_there(
    scheduler: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "CONNECT_S", 3)
    with pytest.raises(SetupError, match="has no workers"), ClusterEngine(scheduler):
        pass
    with pytest.raises(SetupError, match="no scheduler answers"), ClusterEngine("tcp://127.0.0.1:1"):
        pass
    with pytest.raises(SetupError, match="no scheduler answers"), ClusterEngine("nonsense://x"):
        pass


def test_the_missing_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(SetupError, match="distributed") as caught, ClusterEngine("tcp://127.0.0.1:1"):
        pass
    assert "facemark[cluster]" in caught.value.remedy


def test_every_job_comes_back_once_though_a_worker_is_killed(
    scheduler: str,
    workers: list[subprocess.Popen[bytes]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    paths = [tmp_path / f"{k}.txt" for k in range(24)]
    for path in paths:
        path.write_text(path.name, encoding="utf-8")
    deadline_s = time.monotonic() + 60
    while True:  # until both have registered
        try:
            with ClusterEngine(scheduler) as engine:
                if engine.room == 2 * N_WORKERS:
                    break
        except SetupError:
            pass
        assert time.monotonic() < deadline_s
        time.sleep(0.2)
    outcomes = {}
    with ClusterEngine(scheduler) as engine:
        for ticket, path in enumerate(paths):
            engine.put(ticket, look(path))
        for k in range(len(paths)):
            ticket, outcome = engine.take()
            assert ticket not in outcomes
            outcomes[ticket] = outcome
            if k == 1:
                os.kill(workers[0].pid, signal.SIGKILL)
        monkeypatch.setattr(cluster, "do_job", len)  # raises, as a job does that does not get through
        engine.put(len(paths), look(paths[0]))
        last, failed = engine.take()
    assert last == len(paths)
    assert isinstance(failed, Failed)
    assert "TypeError" in failed.message
    assert all(isinstance(outcome, Looked) for outcome in outcomes.values())
    assert sorted(outcomes) == list(range(len(paths)))
