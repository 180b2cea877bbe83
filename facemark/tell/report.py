"""A reading as text for people and as JSON for machines, both from the same record. No arithmetic here."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from facemark.tell.details import detail_words
from facemark.tell.language import ENGLISH, Language
from facemark.tell.words import (
    Units,
    corrected_line,
    flight_lines,
    group_line,
    mark_line,
    pattern_line,
    scale_line,
    speed_line,
    spot_line,
    title_line,
)

MOST_REMEDIES = 4  # more than a person would do before the next photo; --json has them all


def json_text(record: dict[str, Any]) -> str:
    """The record as one JSON object; numbers are numbers, unknown is null, never NaN."""
    return json.dumps(record, indent=1, allow_nan=False, ensure_ascii=False)


def reading_text(record: dict[str, Any], units: Units, language: Language = ENGLISH) -> str:
    """A few plain lines: what was found, what it means, what to doubt.

    Parameters
    ----------
    record : dict
        ``Reading.to_dict()``.
    units : Units
    language : Language
    """
    lines = [title_line(record, language), ""]
    if record["corrected"]:
        lines.insert(1, corrected_line(record, language))
    lines += [mark_line(mark, units, language) for mark in record["marks"]]
    count = count_line(record, language)
    if count:
        lines.append(f"     {count}")
    lines += ["", group_line(record, units, language), pattern_line(record, language)]
    lines += flight_lines(record, units, language)
    lines += ["", scale_line(record, language), spot_line(record, units, language)]
    lines.append(speed_line(record, units, language))
    if record["caveats"]:
        lines += ["", language.say("doubts")]
        lines += [f"  - {line}" for line in doubt_sentences(record["caveats"], units, language)]
        lines.append(language.say("remedies"))
        lines += [f"  - {line}" for line in remedy_sentences(record["caveats"], language)]
    lines += ["", language.say("care")]
    return "\n".join(lines)


def count_line(record: dict[str, Any], language: Language = ENGLISH) -> str:
    """What the number of marks does not tell; empty: nothing."""
    told, n_marks = record["n_balls_told"], len(record["marks"])
    if not record["separable"]:
        return language.say("marks.at least", marks=language.say_n("mark", record["n_least"]))
    if told is None or told == n_marks:
        return ""
    if n_marks > told:
        return language.say(
            "marks.more", marks=language.say_n("mark", n_marks), balls=language.say_n("ball", told)
        )
    return language.say("marks.fewer", n=n_marks, told=told)


def doubt_sentences(
    caveats: Sequence[dict[str, str]], units: Units, language: Language = ENGLISH
) -> list[str]:
    """Each doubt with this reading's own numbers."""
    lines = []
    for caveat in caveats:
        detail = f" ({detail_words(caveat['detail'], units, language)})" if caveat["detail"] else ""
        known = language.doubts.get(caveat["key"])  # another version's doubt speaks for itself
        lines.append(f"{(known.meaning if known else caveat['meaning']).rstrip('.')}{detail}.")
    return lines


def remedy_sentences(caveats: Sequence[dict[str, str]], language: Language = ENGLISH) -> list[str]:
    """The first few things to do, each once, in the order of the doubts."""
    known = [language.doubts.get(caveat["key"]) for caveat in caveats]
    remedies = [
        text.remedy if text else caveat["remedy"] for text, caveat in zip(known, caveats, strict=True)
    ]
    return list(dict.fromkeys(remedies))[:MOST_REMEDIES]
