"""One session as one dictionary: the only source of a report's text, page, PDF and picture.

It is shaped like a reading's record (``marks``, ``group``, ``pattern``, ``flight``, ``caveats`` ...), so the
same sentences speak of a photo and of a session, with what a session has besides: player, day, conditions,
the comparison with the last session that may be compared, and what comes next.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from facemark.caveats import Caveat
from facemark.explain.compare import Comparison, Pair, Verdict, compare_clubs
from facemark.explain.flight import predict_flight
from facemark.explain.hitset import (
    Conditions,
    HitSet,
    condition_caveats,
    differing_conditions,
    same_sweet_spot_method,
)
from facemark.explain.pattern import Label, Pattern, describe_pattern
from facemark.inputs import ClubKind
from facemark.reading import DRAW_SEED, N_DRAWS
from facemark.record import caveat_record, plain, rounded
from facemark.remake import setup_of_record
from facemark.see.place import placed_group
from facemark.strike import GroupEstimate, StrikeSet
from facemark.tell.session_join import joined_strikes
from facemark.version import VERSION

SCHEMA = 1

# Verdicts of a comparison, as ``comparison.verdict`` holds them.
BETTER, WORSE, CANNOT_TELL, NOT_COMPARED = "better", "worse", "cannot tell", "not compared"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Session:
    """One player, one club, one day: its readings (``Reading.to_dict``) and what was noted beside them."""

    records: tuple[dict[str, Any], ...]
    player: str = ""
    day: dt.date | None = None
    name: str = ""
    conditions: Conditions = field(default_factory=Conditions)
    place: str = ""
    ground: str = ""
    note: str = ""


def session_report(
    session: Session,
    *,
    before: Session | None = None,
    plan: Mapping[str, Any] | None = None,
    homework: Sequence[str] = (),
) -> dict[str, Any]:
    """Everything a report says, as plain data that ``json.dumps`` takes as it is.

    Parameters
    ----------
    session : Session
        At least one reading; all of one club and hand.
    before : Session, optional
        The last session with the same club; compared if it may be.
    plan : mapping, optional
        The next block, as ``facemark plan --json`` prints it.
    homework : the coach's own sentences.

    Returns
    -------
    dict
        docs/reference/results.md, "A session's report".

    Raises
    ------
    SetupError
        No reading, or readings that do not belong together.
    """
    records = session.records
    strikes = joined_strikes(records)
    last = records[-1]
    return {
        "schema": SCHEMA,
        "version": VERSION,
        "player": session.player,
        "day": None if session.day is None else session.day.isoformat(),
        "session": session.name,
        "conditions": {
            **plain(session.conditions),
            "place": session.place,
            "ground": session.ground,
            "note": session.note,
        },
        "photos": [_photo(record) for record in records],
        "hand": last["hand"],
        "club": last["club"],
        "head_mps": last["head_mps"],
        "n_balls_told": strikes.n_balls,
        "scale": last["scale"],
        "face": last["face"],
        "sweet_spot": last["sweet_spot"],
        "n_least": strikes.n_least,
        "separable": strikes.separable,
        **_meaning(records, strikes),
        "comparison": None if before is None else _comparison(session, before),
        "plan": None if plan is None else dict(plan),
        "homework": list(homework),
    }


def _photo(record: Mapping[str, Any]) -> dict[str, Any]:
    return {
        **record["photo"],
        "n_marks": len(record["marks"]),
        "scale": record["scale"]["kind"],
        "corrected": record.get("corrected"),
    }


def _meaning(records: Sequence[dict[str, Any]], strikes: StrikeSet) -> dict[str, Any]:
    """Marks, group, pattern, flight, doubts: one reading's own, or worked out anew from all strikes."""
    if len(records) == 1:
        record = records[0]
        names = ("marks", "group", "pattern", "flight", "caveats")
        return {name: record[name] for name in names} | {"corrected": record.get("corrected")}
    setup = setup_of_record(records[-1])
    pattern = describe_pattern(strikes, setup.club.kind)
    rng = np.random.default_rng(DRAW_SEED)
    flight = predict_flight(strikes, setup, n_draws=N_DRAWS, rng=rng, each_mark=False)
    details: dict[str, set[str]] = {}
    for caveat in (*pattern.caveats, *flight.caveats):
        details.setdefault(caveat.key, set()).add(caveat.detail)
    return {
        "marks": [
            {**mark, "letter": f"{number}{mark['letter']}", "photo_index": number - 1}
            for number, record in enumerate(records, start=1)
            for mark in record["marks"]
        ],
        "group": group_record(strikes, records[-1]["sweet_spot"], pattern),
        "pattern": plain(pattern, without=("caveats",)),
        "flight": plain(flight, without=("caveats",)),
        "caveats": [
            caveat_record(Caveat(key=key, detail=_same(said))) | {"photos": _photos_with(key, records)}
            for key, said in details.items()
        ],
        "corrected": None,
    }


def _same(details: set[str]) -> str:
    """A doubt's own numbers, where all photos say the same."""
    said = details - {""}
    return said.pop() if len(said) == 1 else ""


def _photos_with(key: str, records: Sequence[Mapping[str, Any]]) -> list[int]:
    """Numbers (from 1) of the photos whose reading has this doubt; empty: it is about all of them."""
    numbers = [
        number
        for number, record in enumerate(records, start=1)
        if any(item["key"] == key for item in record["caveats"])
    ]
    return [] if len(numbers) == len(records) else numbers


def group_record(strikes: StrikeSet, spot: Mapping[str, Any], pattern: Pattern) -> dict[str, Any]:
    """The group of several photos in the shape of a reading's: how well the centre of THESE balls is known.

    ``spot``: a reading's ``sweet_spot``.
    """
    group = strikes.group
    if group is None:  # the marks themselves speak
        n = len(strikes.strikes)
        group = GroupEstimate(
            toe_mm=pattern.toe_mm,
            high_mm=pattern.high_mm,
            toe_err_mm=math.hypot(*(strike.toe_err_mm for strike in strikes.strikes)) / n,
            high_err_mm=math.hypot(*(strike.high_err_mm for strike in strikes.strikes)) / n,
            toe_spread_mm=pattern.toe_spread_mm or 0.0,
            high_spread_mm=pattern.high_spread_mm or 0.0,
            toe_spread_err_mm=math.inf,  # the pattern tells its interval
            high_spread_err_mm=math.inf,
            n_balls=pattern.n_balls,
            n_balls_err=0.0,
        )
    places = [(strike.toe_mm, strike.high_mm) for strike in strikes.strikes]
    group = placed_group(group, places, (spot["toe_mm"], spot["high_mm"]), strikes.shared)
    return {item.name: rounded(float(getattr(group, item.name)), 3) for item in fields(group)}


# --- against the last session ---
def _comparison(now: Session, before: Session) -> dict[str, Any]:
    """Today's strikes against the last session's, with the same club: better, worse, or cannot tell."""
    sets = [_hit_set("before", before), _hit_set("now", now)]
    caveats = condition_caveats(sets, same_club=True)
    differing = list(differing_conditions(sets, same_club=True))
    if not same_sweet_spot_method(sets):
        differing.append("sweet spot")
    result: dict[str, Any] = {
        "before": {
            "day": None if before.day is None else before.day.isoformat(),
            "session": before.name,
            "n_balls": sum(strike.n_balls for strike in sets[0].strikes.strikes),
        },
        "n_balls": sum(strike.n_balls for strike in sets[1].strikes.strikes),
        "verdict": NOT_COMPARED,
        "differing": differing,
        "left_out": [],
        "caveats": [caveat_record(caveat) for caveat in caveats],
        "clubs": [],
        "pair": None,
        "n_more_each": None,
    }
    if differing:
        return result
    found = compare_clubs(sets, rng=np.random.default_rng(DRAW_SEED))
    result["left_out"] = [
        {"session": club.name, "too_few": club.pattern.label is Label.TOO_FEW}
        for club in found.clubs
        if club.left_out
    ]
    result["clubs"] = [
        {
            "session": club.name,
            "miss_mm": plain(club.miss_mm),
            "spread_mm": None if club.pattern.spread is None else plain(club.pattern.spread.one_mm),
        }
        for club in found.clubs
    ]
    if found.verdict is not Verdict.NOT_COMPARED and found.pairs:
        result |= {
            "verdict": _verdict(found),
            "pair": plain(found.pairs[0]) | _centre_move(sets),
            "n_more_each": found.n_more_each,
        }
    return result


def _hit_set(name: str, session: Session) -> HitSet:
    last = session.records[-1]
    return HitSet(
        name=name,
        strikes=joined_strikes(session.records),
        kind=ClubKind(last["club"]["kind"]),
        conditions=replace(session.conditions, club=session.conditions.club or last["club"]["name"]),
    )


def _centre_move(sets: Sequence[HitSet]) -> dict[str, Any]:
    """How far the centre moved. The sweet spot's doubt is the same on both days of one club and cancels here
    (as in ``trend``); it does not cancel in the distance from the sweet spot, which keeps it."""
    exact = []
    for one in sets:
        shared = replace(one.strikes.shared, sweet_toe_mm=0.0, sweet_high_mm=0.0)
        exact.append(replace(one, strikes=replace(one.strikes, shared=shared)))
    pair = compare_clubs(exact, rng=np.random.default_rng(DRAW_SEED)).pairs[0]
    names = ("toe_mm", "toe_span", "high_mm", "high_span", "centres_differ", "centre_chance_frac")
    return {name: plain(getattr(pair, name)) for name in names}


def _verdict(found: Comparison) -> str:
    """Nearer the sweet spot or a tighter group, and not the one at the cost of the other."""
    pair: Pair = found.pairs[0]
    winners = {winner for winner in (pair.nearer, pair.tighter) if winner is not None}
    if winners == {"now"}:
        return BETTER
    return WORSE if winners == {"before"} else CANNOT_TELL
