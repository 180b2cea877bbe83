"""What came out of a lesson: for each player and club how many photos and marks, the centre, the pattern.

Marks of several photos are judged together as one set, as the book's history judges them; the words about the
centre are those of a reading and of a report, so the same ± stands everywhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

from facemark.errors import FacemarkError
from facemark.explain.hitset import HitSet
from facemark.explain.pattern import describe_pattern
from facemark.tell.book.identity import name_key
from facemark.tell.lesson.run import Entry, Status
from facemark.tell.reading_file import reading_set
from facemark.tell.session_join import join_strikes
from facemark.tell.session_report import group_record
from facemark.tell.words import group_line, headline_words, plural

SCHEMA = 1
MOST_LISTED = 12  # strays and same pictures named in the text; all failures are


def entry_record(entry: Entry) -> dict[str, Any]:
    """One face as plain data: a line of ``facemark lesson --json`` (docs/reference/results.md)."""
    told, failed = entry.told, entry.failed
    return {
        "schema": SCHEMA,
        "name": entry.face.name,
        "files": [source.name for source in entry.face.sources],
        "sha256": entry.sha256,
        "status": entry.status.value,
        "player": entry.player,
        "player_from": None if told is None else told.player_from,
        "club": entry.club_name,
        "reading_id": entry.reading_id,
        "note": entry.note,
        "error": None
        if failed is None
        else {"stage": failed.stage, "message": failed.message, "remedy": failed.remedy},
        "reading": entry.record,
    }


class SetKey(NamedTuple):
    """What photos must share to be judged as one set: what ``session_join`` asks, and the session."""

    player: str
    club: str
    day: str
    session: str  # its conditions, such as "effort 70 %"
    hand: str
    sweet_spot: str
    club_id: str  # two clubs of one name may differ in their numbers


class Tally:
    """Counts and sets of a lesson, filled entry by entry; keeps no photo and no whole record."""

    def __init__(self) -> None:
        self.counts: Counter[Status] = Counter()
        self.sets: dict[SetKey, list[HitSet]] = {}
        self.last: dict[SetKey, dict[str, Any]] = {}  # group and sweet spot of each set's last reading
        self._written: dict[tuple[str, str], tuple[str, str]] = {}  # player and club, as first written
        self.care: list[Entry] = []  # failed, or nobody's
        self.notes: list[Entry] = []
        self.no_club = 0  # read as the usual club because nobody named one
        self.usual_club = ""

    def add(self, entry: Entry) -> None:
        """Count an entry in."""
        self.counts[entry.status] += 1
        slim = replace(entry, record=None, picture=None)
        if entry.needs_care:
            self.care.append(slim)
        elif entry.note is not None:
            self.notes.append(slim)
        if entry.told is None or entry.record is None or entry.session is None or entry.is_anothers:
            return
        if not entry.told.club_told:
            self.no_club += 1
            self.usual_club = entry.told.club_words
        one = reading_set(entry.record, name=entry.face.name)
        name = (entry.told.player, entry.told.club_words)
        player, club = self._written.setdefault((name_key(name[0]), name[1].casefold()), name)
        key = SetKey(
            player=player,
            club=club,
            day=entry.session.day.isoformat(),
            session=entry.session.name,
            hand=f"{entry.record['hand']}-handed",
            sweet_spot=f"sweet spot {entry.record['sweet_spot']['from']}",
            club_id=entry.session.club_id,
        )
        self.sets.setdefault(key, []).append(one)
        self.last[key] = {name: entry.record[name] for name in ("group", "sweet_spot")}

    @property
    def failed(self) -> bool:
        """Whether any photo was not read."""
        return bool(self.care)


def summary_lines(tally: Tally, strays: Iterable[str]) -> list[str]:
    """The end of a lesson, for people."""
    lines = [
        _set_line(_set_name(key, tally.sets), sets, tally.last[key])
        for key, sets in sorted(tally.sets.items())
    ]
    if tally.no_club:
        lines.append(
            f"Nobody named a club for {plural(tally.no_club, 'photo')}: a {tally.usual_club} was taken."
            " Say --kind or --club, or name it in folders or lesson.toml."
        )
    lines += ["", _count_line(tally, list(strays))]
    if tally.notes:
        notes = sorted(tally.notes, key=lambda entry: entry.face.name)
        lines += [f"  {entry.face.name} {entry.note}" for entry in notes[:MOST_LISTED]]
        lines += [f"  and {len(notes) - MOST_LISTED} more"] if len(notes) > MOST_LISTED else []
    if tally.care:
        lines += ["", "Not read:"]
        for entry in sorted(tally.care, key=lambda entry: entry.face.name):
            assert entry.failed is not None
            end = "" if entry.failed.message.endswith(("?", ".")) else "."
            lines += [f"  {entry.face.name}: {entry.failed.message}{end}", f"      {entry.failed.remedy}"]
    return lines


def _set_name(key: SetKey, keys: Iterable[SetKey]) -> str:
    """Player and club, the session's conditions, and of the rest what tells it from its neighbours."""
    near = [other for other in keys if (other.player, other.club) == (key.player, key.club)]
    words = [key.player, key.club]
    for name in ("day", "session", "hand", "sweet_spot"):
        word = getattr(key, name)
        if word and (name == "session" or len({getattr(other, name) for other in near}) > 1):
            words.append(word)
    return ", ".join(words)


def _set_line(name: str, sets: list[HitSet], last: dict[str, Any]) -> str:
    strikes = join_strikes([one.strikes for one in sets])
    marks = plural(len(strikes.strikes), "mark")
    if not strikes.separable:
        marks = f"at least {plural(strikes.n_least, 'mark')}"
    head = f"{name}: {plural(len(sets), 'photo')}, {marks}; "
    try:
        pattern = describe_pattern(strikes, sets[0].kind)
    except FacemarkError as err:
        return f"{head}{err}"
    group = last["group"] if len(sets) == 1 else group_record(strikes, last["sweet_spot"], pattern)
    centre = group_line({**last, "group": group})
    return f"{head}{centre[:1].lower()}{centre[1:]}; {headline_words(pattern.headline)}"


def _count_line(tally: Tally, strays: list[str]) -> str:
    words: Mapping[Status, str] = {
        Status.READ: "read",
        Status.KNOWN: "in the book already",
        Status.SAME: "the same picture as another",
        Status.WHOSE: "nobody's (whose?)",
        Status.FAILED: "not readable",
    }
    parts = [f"{tally.counts[status]} {text}" for status, text in words.items() if tally.counts[status]]
    line = f"{plural(tally.counts.total(), 'photo')}: {', '.join(parts)}"
    if strays:
        named = ", ".join(strays[:3]) + (", ..." if len(strays) > 3 else "")
        line += f". {plural(len(strays), 'other file')} skipped ({named})"
    return line + "."
