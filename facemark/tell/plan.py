"""The next practice block for commands, page and reports: from records in, words, record and pictures out.

Nothing here decides anything: explain/practice.py does. The same input gives the same plan.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from facemark.errors import BookError, SetupError
from facemark.explain.hitset import HitSet, find_drift
from facemark.explain.ladder import Block
from facemark.inputs import Club, Hand, Setup
from facemark.record import plain
from facemark.tell.language import ENGLISH, Language
from facemark.tell.units import Units
from facemark.tell.words import PLAIN_UNITS
from facemark.version import VERSION

if TYPE_CHECKING:
    from facemark.explain.focus import Blame
    from facemark.explain.practice import Practice
    from facemark.explain.stations import PlanSetup
    from facemark.tell.plan_words import Teller

DRAW_SEED = 20261125
SCHEMA = 1
WIDTH_PX = 1080


def practice_for(
    hit_set: HitSet | None,
    club: Club,
    *,
    told: PlanSetup | None = None,
    blame: Blame | None = None,
    blocks: Sequence[Block] = (),
    head_mps: float | None = None,
) -> Practice:
    """Plan the next block from a set of balls (None: from the blocks alone).

    Raises
    ------
    SetupError
        Too little to plan from, notes that contradict each other, or numbers that cannot be.
    """
    import numpy as np

    from facemark.explain.practice import plan_practice
    from facemark.explain.stations import PlanSetup

    told = told or PlanSetup()
    drift = None
    if hit_set is not None:
        drift = find_drift(hit_set)
        if told.photo_effort_frac is None:
            told = replace(told, photo_effort_frac=hit_set.conditions.effort_frac)
    return plan_practice(
        None if hit_set is None else hit_set.strikes,
        Setup(club=club, head_mps=head_mps),
        told=told,
        blame=blame,
        blocks=blocks,
        drift=drift,
        rng=np.random.default_rng(DRAW_SEED),
    )


def practice_from_record(
    record: Mapping[str, Any],
    *,
    told: PlanSetup | None = None,
    causes: Mapping[str, Any] | None = None,
    blocks: Sequence[Block] = (),
) -> Practice:
    """Plan the next block from a reading's record and, if there is one, the record of ``separate``.

    Raises
    ------
    SetupError
        As ``practice_for``.
    BookError
        A record that is none.
    """
    from facemark.tell.book.identity import club_of
    from facemark.tell.reading_file import reading_set

    try:
        hit_set, club = reading_set(record, name="set"), club_of(record["club"])
        head_mps = record.get("head_mps")
    except (KeyError, TypeError, ValueError) as err:
        raise BookError(
            f"this is not the record of a reading ({type(err).__name__}: {str(err)[:60]})",
            remedy="Make it with facemark read PHOTO --json > FILE.json.",
        ) from None
    blame = None if causes is None else blame_of_record(causes)
    return practice_for(hit_set, club, told=told, blame=blame, blocks=blocks, head_mps=head_mps)


def blame_of_record(record: Mapping[str, Any]) -> Blame:
    """What ``facemark separate --json`` found, as far as a plan needs it.

    Raises
    ------
    BookError
        The record is not one of ``separate``.
    """
    from facemark.explain.causes import Reason, Verdict
    from facemark.explain.focus import Blame

    try:
        return Blame(
            verdict=Verdict(record["verdict"]),
            reason=Reason(record["reason"]),
            path_out_deg=float(record["path_out_deg"]["median"]),
        )
    except (KeyError, TypeError, ValueError) as err:
        raise BookError(
            f"this is not what facemark separate --json writes ({type(err).__name__}: {str(err)[:60]})",
            remedy="Make it with facemark separate ... --json > FILE.json.",
        ) from None


def teller_of(hand: Hand = Hand.RIGHT, units: Units = PLAIN_UNITS, language: Language = ENGLISH) -> Teller:
    """Whom the words are for."""
    from facemark.tell.plan_words import Teller

    return Teller(hand=hand, units=units, language=language)


def practice_lines(
    practice: Practice, hand: Hand, units: Units = PLAIN_UNITS, language: Language = ENGLISH
) -> list[str]:
    """The plan as lines of text."""
    from facemark.tell.plan_words import plan_lines

    return plan_lines(practice, teller_of(hand, units, language))


def practice_record(
    practice: Practice, hand: Hand, units: Units = PLAIN_UNITS, language: Language = ENGLISH
) -> dict[str, Any]:
    """The plan as a dictionary that ``json.dumps`` takes as it is; its words under ``sections``."""
    from facemark.record import caveat_record
    from facemark.tell.plan_words import plan_dose, plan_sections, plan_title

    teller = teller_of(hand, units, language)
    return {
        "schema": SCHEMA,
        "version": VERSION,
        "command": "plan",
        "hand": hand.value,
        **plain(practice, without=("pattern", "caveats")),
        "caveats": [caveat_record(caveat) for caveat in practice.caveats],
        "title": plan_title(practice, teller),
        "dose": plan_dose(practice, teller),
        "sections": plain(plan_sections(practice, teller)),
    }


def practice_png(
    practice: Practice,
    hand: Hand,
    units: Units = PLAIN_UNITS,
    language: Language = ENGLISH,
    *,
    width_px: int = WIDTH_PX,
    who: str = "",
) -> bytes:
    """The plan as one picture for a phone, with the drawing to scale."""
    from facemark.tell.plan_picture import practice_png_bytes

    return practice_png_bytes(practice, teller_of(hand, units, language), width_px=width_px, who=who)


def practice_pdf(
    practice: Practice,
    hand: Hand,
    units: Units = PLAIN_UNITS,
    language: Language = ENGLISH,
    *,
    paper: str = "a4",
    who: str = "",
) -> bytes:
    """The plan as one printed page."""
    from facemark.tell.plan_page import practice_pdf_bytes

    return practice_pdf_bytes(practice, teller_of(hand, units, language), paper=paper, who=who)


def write_bytes(path: str | os.PathLike[str], data: bytes, suffix: str) -> None:
    """Write a page or picture whole or not at all.

    Raises
    ------
    SetupError
        The name ends in something else.
    BookError
        The folder is missing, read-only or full.
    """
    from facemark.tell.files import written_whole

    path = Path(path)
    check_ending(path, suffix)
    with written_whole(path) as temporary:
        temporary.write_bytes(data)


def check_ending(path: Path, suffix: str) -> None:
    """Refuse a file that is called after another kind: a SetupError."""
    if path.suffix.lower() != suffix:
        raise SetupError(
            f"{path.name}: the name must end in {suffix}", remedy=f"Call it {path.stem}{suffix}."
        )


def today() -> dt.date:
    """The day on this machine's clock."""
    return dt.datetime.now().astimezone().date()
