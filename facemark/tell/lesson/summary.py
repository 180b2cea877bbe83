"""What came out of a lesson: for each player and club how many photos and marks, the centre, the label.

Marks of several photos are judged together as one set. Each photo has its own error of place and scale; the
largest is taken as common to all, which errs on the side of "cannot tell". Where the marks of a photo could
not be told apart, only the centre of all groups is given.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from facemark.errors import FacemarkError
from facemark.explain.hitset import HitSet
from facemark.explain.pattern import describe_pattern
from facemark.strike import SharedError, StrikeSet, SweetSpotFrom
from facemark.tell.book.identity import name_key
from facemark.tell.lesson.run import Entry, Status
from facemark.tell.reading_file import reading_set
from facemark.tell.words import HEADLINES, place_words, plural

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
        "player": None if told is None else told.player,
        "player_from": None if told is None else told.player_from,
        "club": None if told is None else told.club.name,
        "reading_id": entry.reading_id,
        "note": entry.note,
        "error": None
        if failed is None
        else {"stage": failed.stage, "message": failed.message, "remedy": failed.remedy},
        "reading": entry.record,
    }


class Tally:
    """Counts and sets of a lesson, filled entry by entry; keeps no photo and no whole record."""

    def __init__(self) -> None:
        self.counts: Counter[Status] = Counter()
        self.sets: dict[tuple[str, str], list[HitSet]] = {}  # by player and club, as first written
        self._written: dict[tuple[str, str], tuple[str, str]] = {}
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
        if entry.told is None or entry.record is None or (entry.status is Status.KNOWN and entry.note):
            return
        if not entry.told.club_told:
            self.no_club += 1
            self.usual_club = entry.told.club_words
        one = reading_set(entry.record, name=entry.face.name)
        key = (entry.told.player, entry.told.club_words)
        first = self._written.setdefault((name_key(key[0]), key[1].casefold()), key)
        self.sets.setdefault(first, []).append(one)

    @property
    def failed(self) -> bool:
        """Whether any photo was not read."""
        return bool(self.care)


def summary_lines(tally: Tally, strays: Iterable[str]) -> list[str]:
    """The end of a lesson, for people."""
    lines = [_set_line(player, club, sets) for (player, club), sets in sorted(tally.sets.items())]
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
            end = "" if entry.failed.message.endswith("?") else "."
            lines += [f"  {entry.face.name}: {entry.failed.message}{end}", f"      {entry.failed.remedy}"]
    return lines


def together(sets: list[HitSet]) -> StrikeSet | None:
    """Several photos of one player and club as one set of balls; None where marks could not be told apart."""
    all_strikes = [one.strikes for one in sets]
    if not all(one.separable for one in all_strikes):
        return None
    shared = {
        name: max(getattr(one.shared, name) for one in all_strikes)
        for name in ("toe_mm", "high_mm", "scale_frac", "turn_deg", "sweet_toe_mm", "sweet_high_mm")
    }
    told = [one.n_balls for one in all_strikes]
    methods = {one.sweet_spot_from for one in all_strikes}
    return StrikeSet(
        strikes=tuple(strike for one in all_strikes for strike in one.strikes),
        shared=SharedError(**shared),
        n_balls=None if None in told else sum(n for n in told if n is not None),
        n_least=sum(one.n_least for one in all_strikes),
        sweet_spot_from=methods.pop() if len(methods) == 1 else SweetSpotFrom.ASSUMED,
    )


def _set_line(player: str, club: str, sets: list[HitSet]) -> str:
    n_marks = sum(len(one.strikes.strikes) for one in sets)
    head = f"{player}, {club}: {plural(len(sets), 'photo')}, "
    joined = together(sets)
    if joined is None:
        toe_mm, high_mm = _centre_of_groups(sets)
        n_least = sum(one.strikes.n_least for one in sets)
        return (
            f"{head}at least {plural(n_least, 'mark')}; centre about {place_words(toe_mm, high_mm)};"
            " no pattern: marks run into each other"
        )
    try:
        pattern = describe_pattern(joined, sets[0].kind)
    except FacemarkError as err:
        return f"{head}{plural(n_marks, 'mark')}; {err}"
    errs = (pattern.toe_err_mm, pattern.high_err_mm)
    err_words = (
        "" if None in errs else f" (±{max(1, round(1.96 * max(e for e in errs if e is not None)))} mm)"
    )
    return (
        f"{head}{plural(n_marks, 'mark')}; centre {place_words(pattern.toe_mm, pattern.high_mm)}{err_words};"
        f" {HEADLINES.get(pattern.headline, pattern.headline)}"
    )


def _centre_of_groups(sets: list[HitSet]) -> tuple[float, float]:
    """Mean of the photos' centres, each as heavy as the balls it speaks for."""
    groups = [one.strikes.group for one in sets if one.strikes.group is not None]
    weights = [max(group.n_balls, 1.0) for group in groups]
    total = sum(weights)
    toe = sum(weight * group.toe_mm for weight, group in zip(weights, groups, strict=True)) / total
    high = sum(weight * group.high_mm for weight, group in zip(weights, groups, strict=True)) / total
    return toe, high


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
