"""A reading as text for people and as JSON for machines, both from the same record. No arithmetic here."""

from __future__ import annotations

import json
from typing import Any

from facemark.tell.words import (
    Units,
    flight_lines,
    group_line,
    mark_line,
    pattern_line,
    plural,
    scale_line,
    spot_line,
)

MOST_REMEDIES = 4  # more than a person would do before the next photo; --json has them all


def json_text(record: dict[str, Any]) -> str:
    """The record as one JSON object; numbers are numbers, unknown is null, never NaN."""
    return json.dumps(record, indent=1, allow_nan=False, ensure_ascii=False)


def reading_text(record: dict[str, Any], units: Units) -> str:
    """A few plain lines: what was found, what it means, what to doubt.

    Parameters
    ----------
    record : dict
        ``Reading.to_dict()``.
    units : Units
    """
    lines = [_title(record), ""]
    if record["corrected"]:
        lines[1:1] = [f"Corrected by hand: {record['corrected']['says']}"]
    lines += [mark_line(mark) for mark in record["marks"]]
    told = record["n_balls_told"]
    if not record["separable"]:
        lines.append(
            f"     at least {plural(record['n_least'], 'mark')} for certain; the group is known better"
        )
    elif told is not None and told != len(record["marks"]):
        lines.append(f"     {len(record['marks'])} of {told} balls left a readable mark")
    lines += ["", group_line(record), pattern_line(record), *flight_lines(record, units)]
    lines += ["", scale_line(record), spot_line(record)]
    if record["caveats"]:
        lines += ["", "Doubts", *(_doubt(caveat) for caveat in record["caveats"])]
        lines += ["Better next time", *_remedies(record["caveats"])]
    lines += ["", "Practice only: wipe the face before you play."]
    return "\n".join(lines)


def _title(record: dict[str, Any]) -> str:
    hand = f"{record['hand']}-handed"
    club = record["club"]
    return f"{record['photo']['name']}: {plural(len(record['marks']), 'mark')} on a {hand} {club['kind']}"


def _doubt(caveat: dict[str, str]) -> str:
    detail = f" ({caveat['detail']})" if caveat["detail"] else ""
    return f"  - {caveat['meaning'].rstrip('.')}{detail}."


def _remedies(caveats: list[dict[str, str]]) -> list[str]:
    """The first few things to do, each once, in the order of the doubts."""
    found = list(dict.fromkeys(caveat["remedy"] for caveat in caveats))
    return [f"  - {remedy}" for remedy in found[:MOST_REMEDIES]]
