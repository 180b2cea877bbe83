"""Damaged photos are refused in words or read; nothing else ever comes out of opening one.

A few hundred here, opened in this process; 10 000 through the whole server by ``python -m tests.bench.page``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from facemark.tell.page import worker
from facemark.tell.page.told import told_of
from tests.tell.page.mutants import mutants, seeds

N_FILES = 300


def test_damaged_photos_are_refused_or_opened(
    tmp_path: Path, fixtures: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker, "_read", lambda *_: None)  # what follows opening is not at stake here
    told = told_of(club=None, kind="driver", hand="right", scale="auto", size_mm=None, n_balls=None)
    originals = [*seeds(), (fixtures / "photos" / "small.heic").read_bytes()]
    upload = tmp_path / "1.photo"
    stages: list[str] = []

    def say(answer: dict[str, Any]) -> None:
        stages.append(answer["stage"])
        if answer["stage"] == "failed":
            assert answer["error"]["remedy"]
            assert str(tmp_path) not in str(answer)

    for data in mutants(originals, N_FILES, seed=1):
        upload.write_bytes(data)
        job = {
            "uploads": [str(upload)],
            "names": ["face.jpg"],
            "picture": str(tmp_path / "1.jpg"),
            "setup": told,
        }
        worker.do_job(job, say)  # any other exception fails the test
    assert len(stages) == N_FILES
    # Both happen, or the damage is too small or too great to mean anything.
    assert stages.count("failed") > N_FILES / 10
    assert stages.count("decoded") > N_FILES / 10
