"""A player's sessions, and whether the last was better than the first: better, worse, or cannot tell.

First and last are compared only under the same noted conditions (club, effort, tee height, ball, way of
finding the sweet spot): the first session that matches the last one stands for "first". The words are earned
by the same tests that compare clubs (explain/compare.py). Two days are no trend: days differ by themselves by
about 15 % in spread, and first against last then finds progress in 12 of 100 series without any
(explain/trend.py); so the sentence speaks of those two days, and a trend takes four.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np

from facemark.caveats import Caveat
from facemark.errors import BookError
from facemark.explain.compare import Comparison, Verdict, compare_clubs
from facemark.explain.hitset import condition_caveats, differing_conditions, same_sweet_spot_method
from facemark.explain.pattern import describe_pattern
from facemark.explain.trend import FEWEST_DAYS
from facemark.record import caveat_record, plain
from facemark.tell.book.lookback import SessionSummary
from facemark.tell.book.rows import PlayerRow
from facemark.tell.book.sets import Sitting, alike, sittings
from facemark.tell.book.store import Book
from facemark.tell.compare_words import comparison_title
from facemark.tell.pattern_words import between, doubt_lines, sided
from facemark.tell.words import place_words, plural
from facemark.version import SCHEMA

DRAW_SEED = 20260103  # two sets need no draws; named because the comparison asks for a generator


class ChangeWord(StrEnum):
    """What may be said of the last session against the first."""

    BETTER = "better"
    WORSE = "worse"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Last against first with one club. ``comparison``: None where nothing could be compared."""

    club: str
    first: str  # day, and the session's name
    last: str
    word: ChangeWord
    why: str
    comparison: Comparison | None
    n_days: int  # under the last session's conditions
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What ``facemark history`` shows."""

    player: PlayerRow
    sessions: tuple[SessionSummary, ...]
    changes: tuple[Change, ...]  # one for each club with at least one ball


def look_back(book: Book, player: PlayerRow, *, club: str | None = None) -> History:
    """Gather a player's history.

    Raises
    ------
    BookError
        The player never hit a club of that name.
    """
    found = book.summaries(player.id, club)
    if club is not None and not found:
        sittings(book, player.id, clubs=[club])  # says which clubs there are
    labelled = _with_labels(book, player, found)
    by_club: dict[str, list[SessionSummary]] = {}
    for one in labelled:
        if one.toe_mm is not None:  # photos may show no ball, or all marks were taken away by hand
            by_club.setdefault(one.session.club_id, []).append(one)
    changes = tuple(_change(book, player, group) for group in by_club.values())
    return History(player=player, sessions=tuple(labelled), changes=changes)


def _with_labels(book: Book, player: PlayerRow, found: list[SessionSummary]) -> list[SessionSummary]:
    """Patterns of sessions with several photos: from the balls of all of them, worked out once and noted."""
    several = [one.session.id for one in found if one.label is None and one.toe_mm is not None]
    if not several:
        return found
    sets = {one.session.id: one.hit_set for one in sittings(book, player.id, only=several)}
    labels = {
        session_id: str(describe_pattern(hit_set.strikes, hit_set.kind).label)
        for session_id, hit_set in sets.items()
    }
    labelled = [replace(one, label=labels.get(one.session.id, one.label)) for one in found]
    with contextlib.suppress(BookError):  # it only saves time; the book may be one to be read only, or busy
        book.note_labels([one for one in labelled if one.session.id in labels])
    return labelled


def _change(book: Book, player: PlayerRow, group: Sequence[SessionSummary]) -> Change:
    """The last day's first session of one club against the first under the same noted conditions."""
    last = next(one for one in group if one.session.day == group[-1].session.day)
    earlier = [one for one in group if one.session.day < last.session.day]
    matching = [one for one in earlier if alike(one.session, last.session)]
    if not matching:
        return Change(
            club=last.club,
            first="",
            last=_name(last),
            word=ChangeWord.CANNOT_TELL,
            why="no earlier day under the same conditions" if earlier else "there is only one day",
            comparison=None,
            n_days=1,
            caveats=(),
        )
    days = {one.session.day for one in matching} | {last.session.day}
    first, newest = sittings(book, player.id, only=[matching[0].session.id, last.session.id])
    return compare_two(first, newest, n_days=len(days))


def compare_two(first: Sitting, last: Sitting, *, n_days: int) -> Change:
    """The verdict on two sessions with one club."""
    sets = [first.hit_set, last.hit_set]
    found = None
    differing = list(differing_conditions(sets, same_club=True))
    if not same_sweet_spot_method(sets):
        differing.append("way of finding the sweet spot")
    if differing:
        word, why = ChangeWord.CANNOT_TELL, f"different {' and '.join(differing)}"
    else:
        found = compare_clubs(sets, rng=np.random.default_rng(DRAW_SEED))
        word, why = _judge(found, sets[1].name)
    return Change(
        club=last.club.name,
        first=sets[0].name,
        last=sets[1].name,
        word=word,
        why=why,
        comparison=found,
        n_days=n_days,
        caveats=condition_caveats(sets, same_club=True),
    )


def _judge(found: Comparison, last: str) -> tuple[ChangeWord, str]:
    if found.verdict is Verdict.NOT_COMPARED:
        return ChangeWord.CANNOT_TELL, found.why_not
    pair = found.pairs[0]
    words = {"a tighter group": pair.tighter, "strikes nearer the sweet spot": pair.nearer}
    gained = [what for what, name in words.items() if name == last]
    lost = [what for what, name in words.items() if name not in (None, last)]
    if gained and not lost:
        return ChangeWord.BETTER, " and ".join(gained)
    if lost and not gained:
        return ChangeWord.WORSE, f"the first day had {' and '.join(lost)}"
    if gained and lost:
        return ChangeWord.CANNOT_TELL, f"{gained[0]}, but the first day had {lost[0]}"
    if pair.centres_differ:
        return ChangeWord.CANNOT_TELL, "struck in another place, neither tighter nor nearer the sweet spot"
    title = comparison_title(found)
    return ChangeWord.CANNOT_TELL, title[:1].lower() + title[1:]


# --- in words ---
def history_lines(history: History) -> list[str]:
    """Everything a history says: a line a session, a sentence a club."""
    player = history.player
    n = len(history.sessions)
    lines = [f"{player.name}: {plural(n, 'session')}" + ("." if n else " in the book.")]
    lines += [_session_line(one) for one in history.sessions]
    for change in history.changes:
        lines += change_lines(change)
    if player.keep_until is not None:
        lines.append(f"To be kept until {player.keep_until}.")
    return lines


def _session_line(one: SessionSummary) -> str:
    head = f"{_name(one)}  {one.club}"
    noted = _conditions(one)
    if noted:
        head += f" ({noted})"
    if one.toe_mm is None or one.high_mm is None:
        return f"{head}: no balls"
    line = f"{head}: {plural(round(one.n_balls), 'ball')}"
    if one.n_photos > 1:
        line += f" on {one.n_photos} photos"
    line += f"; centre {place_words(one.toe_mm, one.high_mm)}"
    if one.toe_spread_mm is not None and one.high_spread_mm is not None:
        line += f"; spread {one.toe_spread_mm:.0f} mm toe-heel, {one.high_spread_mm:.0f} mm high-low"
    return f"{line}; {one.label}."


def _conditions(one: SessionSummary) -> str:
    session = one.session
    noted = []
    if session.effort_frac is not None:
        noted.append(f"effort {100 * session.effort_frac:.0f} %")
    if session.tee_mm is not None:
        noted.append(f"tee {session.tee_mm:g} mm")
    return ", ".join([*noted, *(text for text in (session.ball, session.ground) if text)])


def change_lines(change: Change) -> list[str]:
    """The one honest sentence, what it rests on, and its doubts."""
    lines = [f"{change.club}: {change_sentence(change)}"]
    pair = change.comparison.pairs[0] if change.comparison and change.comparison.pairs else None
    if pair and pair.toe_mm is not None and pair.toe_span and pair.high_mm is not None and pair.high_span:
        lines.append(
            f"  Since then the centre moved {sided(-pair.toe_mm, 'toward the toe', 'toward the heel')} "
            f"({between(_turned(pair.toe_span), 'toe', 'heel')}) and {sided(-pair.high_mm, 'up', 'down')} "
            f"({between(_turned(pair.high_span), 'up', 'down')})."
        )
    if pair and pair.spread_ratio is not None and pair.spread_span is not None:
        lines.append(
            f"  The first day's spread was {pair.spread_ratio:.2f} times the last day's "
            f"({pair.spread_span.least_ratio:.2f} to {pair.spread_span.most_ratio:.2f})."
        )
    if change.comparison is not None and change.n_days >= FEWEST_DAYS:
        lines.append(f"  {change.n_days} days under these conditions: facemark trend follows them all.")
    return lines + [f"  {line}" for line in doubt_lines(change.caveats)]


def change_sentence(change: Change) -> str:
    """Better, worse or cannot tell, of two days."""
    if change.word is ChangeWord.CANNOT_TELL:
        asked = f" whether {change.last} was better than {change.first}" if change.first else " yet"
        return f"Cannot tell{asked}: {change.why}."
    head = f"{change.word} on {change.last} than on {change.first}: {change.why}."
    return head[:1].upper() + head[1:] + " Two days are no trend; days differ by themselves."


def _turned(span: Any) -> Any:
    """Last less first, where the comparison says first less last."""
    return replace(span, least_mm=-span.most_mm, most_mm=-span.least_mm)


def _name(one: SessionSummary) -> str:
    return f"{one.session.day} {one.session.name}".strip()


def history_record(history: History) -> dict[str, Any]:
    """The history as plain data."""
    changes = [
        plain(change, without=("caveats",)) | {"caveats": [caveat_record(c) for c in change.caveats]}
        for change in history.changes
    ]
    return {
        "schema": SCHEMA,
        "player": plain(history.player),
        "sessions": plain(history.sessions, without=("readings_sha",)),
        "changes": changes,
    }
