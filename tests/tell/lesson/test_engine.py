"""Worker processes that die: nothing is lost, and the one that kills is found."""

from __future__ import annotations

from pathlib import Path

from facemark.tell.lesson.engine import LocalEngine, usual_jobs
from facemark.tell.lesson.jobs import Failed, Look, Looked, do_job
from facemark.tell.lesson.photos import Source
from tests.tell.lesson.deadly import deadly


def look(path: Path) -> Look:
    return Look(sources=(Source(name=path.name, path=str(path)),), want_label=False, thorough=False)


def test_killers_are_found_and_all_others_done(tmp_path: Path) -> None:
    words = ["a", "b", "kill", "c", "once", "d"]
    paths = [tmp_path / f"{i}.txt" for i in range(len(words))]
    for path, word in zip(paths, words, strict=True):
        path.write_text(word, encoding="utf-8")
    outcomes = {}
    with LocalEngine(2, deadly) as engine:
        assert engine.room == 4
        for ticket, path in enumerate(paths):
            engine.put(ticket, look(path))
        for _ in paths:
            ticket, outcome = engine.take()
            assert ticket not in outcomes
            outcomes[ticket] = outcome
    for ticket, word in enumerate(words):
        assert isinstance(outcomes[ticket], Failed if word == "kill" else Looked), word
    killer = outcomes[2]
    assert isinstance(killer, Failed)
    assert "died twice" in killer.message
    # Once or twice in company (others died), twice alone: a killer does not go on for ever.
    assert 2 <= len(list(tmp_path.glob("2.tried-*"))) <= 4


def test_what_raises_all_the_same_is_told_and_the_rest_is_done(tmp_path: Path) -> None:
    words = ["a", "raise", "lambda", "b"]
    with LocalEngine(1, deadly) as engine:
        for ticket, word in enumerate(words):
            path = tmp_path / f"{ticket}.txt"
            path.write_text(word, encoding="utf-8")
            engine.put(ticket, look(path))
        outcomes = dict(engine.take() for _ in words)
    assert isinstance(outcomes[0], Looked)
    assert isinstance(outcomes[3], Looked)
    raised, lost = outcomes[1], outcomes[2]
    assert isinstance(raised, Failed)
    assert isinstance(lost, Failed)
    assert "RuntimeError: nobody foresaw this" in raised.message
    assert raised.stage == lost.stage == "program"


def test_a_job_never_raises(tmp_path: Path) -> None:
    failed = do_job(look(tmp_path / "gone.jpg"))
    assert isinstance(failed, Failed)
    assert "cannot be read" in failed.message
    wrong = do_job("no job at all")  # type: ignore[arg-type]
    assert isinstance(wrong, Failed)
    assert wrong.stage == "program"
    assert "report" in wrong.remedy


def test_at_least_one_worker() -> None:
    assert usual_jobs() >= 1
