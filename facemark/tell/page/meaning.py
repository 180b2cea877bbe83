"""What the balls of a set mean: causes, the next block, a comparison; from the book's rows to sentences.

The same doors as the commands use; only where the rows come from is different.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from facemark.errors import SetupError
from facemark.explain.causes import separate_causes
from facemark.explain.compare import compare_clubs
from facemark.explain.notes import Note
from facemark.explain.shot import Conditions
from facemark.inputs import Hand
from facemark.record import plain
from facemark.remake import setup_of_record
from facemark.tell.book.rows import BallRow, SessionRow
from facemark.tell.book.store import Book
from facemark.tell.cli_explain import DRAW_SEED
from facemark.tell.explain_inputs import Told
from facemark.tell.explain_record import causes_record, doubt_lines
from facemark.tell.flight_words import causes_lines
from facemark.tell.note_text import NoteStyle, note_of
from facemark.tell.page.phone_words import for_phone
from facemark.tell.reading_file import reading_set
from facemark.tell.units import Units
from facemark.tell.words import place_words

if TYPE_CHECKING:
    from facemark.explain.practice import Practice
    from facemark.explain.stations import PlanSetup

FEWEST_CALLS = 2


def notes_of_balls(balls: Sequence[Mapping[str, Any]], hand: Hand, units: Units) -> list[Note]:
    """The balls' notes, left and right turned into draw and push by the hand; unseen balls are left out."""
    style = NoteStyle(hand=hand, units=units)
    found = []
    for ball in balls:
        start, curve = ball.get("start"), ball.get("curve")
        if start is None and curve is None:
            continue
        found.append(
            note_of(
                _words(start, ball.get("start_deg"), middle="on"),
                _words(curve, ball.get("curve_m"), middle="none", unit="m"),
                style,
            )
        )
    return found


def causes_of(
    record: Mapping[str, Any], balls: Sequence[Mapping[str, Any]], units: Units, *, calm: bool
) -> dict[str, Any]:
    """Strike, face or path? The record of ``facemark separate``, with its sentences under ``lines``."""
    setup, hand = setup_of_record(record), Hand(record["hand"])
    told = Told(strikes=reading_set(record, name="set").strikes, setup=setup, hand=hand)
    where = Conditions(head_mps=setup.head_mps)
    causes = separate_causes(
        told.strikes,
        notes_of_balls(balls, hand, units),
        setup,
        rng=np.random.default_rng(DRAW_SEED),
        conditions=where,
        wind_noted=calm,
    )
    return {
        **causes_record(causes, told, where),
        "lines": causes_lines(causes, hand=hand, units=units),
        "doubts": [for_phone(line.strip(" -")) for line in doubt_lines(causes.caveats, told)[1:]],
    }


def plan_of(
    book: Book,
    session: SessionRow,
    record: Mapping[str, Any] | None,
    causes: Mapping[str, Any] | None,
    told: Mapping[str, Any],
) -> tuple[Practice, PlanSetup]:
    """The next block after this set, and what was told for it, now or earlier; nothing is written.

    Raises
    ------
    SetupError
        Too little to plan from.
    """
    from facemark.tell.book.identity import club_of
    from facemark.tell.plan import practice_from_record, today
    from facemark.tell.plan_book import blocks_of, plan_setup_of, remembered

    if record is None:
        raise SetupError("this set has no reading yet", remedy="Photograph the face first.")
    rows = book.blocks(session.player_id)
    setup = plan_setup_of({**told, "photo_effort_frac": session.effort_frac, "day": today()})
    setup = remembered(rows, setup, club_of(record["club"]))
    return practice_from_record(record, told=setup, causes=causes, blocks=blocks_of(rows)), setup


def note_block_of(
    book: Book,
    session: SessionRow,
    planned: tuple[Practice, PlanSetup],
    *,
    n_balls: int,
    n_good: int,
    pain: bool,
    hand: Hand,
    units: Units,
) -> dict[str, Any]:
    """Write a block that was hit into the book, and its plan; what follows from it, in sentences.

    Raises
    ------
    SetupError
        Counts that cannot be.
    """
    from facemark.explain.ladder import stop_today
    from facemark.tell.cli_plan import block_lines
    from facemark.tell.plan import teller_of, today
    from facemark.tell.plan_book import Done, blocks_of, check_done, note_block, note_plan

    player = book.player_by_id(session.player_id)
    done = Done(n_good=n_good, n_balls=n_balls, day=today(), failed={}, tees={}, pain=pain)
    check_done(done)
    note_plan(book, player, *planned)
    row, rung = note_block(book, player, done, session_id=session.id)
    stop = stop_today(blocks_of(book.blocks(player.id)), done.day)
    teller = teller_of(hand, units)
    over = [] if stop is None else [teller.say(f"plan.stop.{stop}")]
    return {"lines": [*block_lines(row, rung, teller), *over], "ladder": plain(rung)}


def compare_records(records: Sequence[tuple[str, Mapping[str, Any]]]) -> dict[str, Any]:
    """Sets held against each other: what is different beyond doubt, in sentences.

    Raises
    ------
    SetupError
        Fewer than two sets, or the same name twice.
    """
    if len(records) < 2:
        raise SetupError("one set cannot be compared", remedy="Choose two sets.")
    from facemark.tell.compare_words import comparison_lines

    sets = [reading_set(record, name=name) for name, record in records]
    found = compare_clubs(sets, rng=np.random.default_rng(DRAW_SEED))
    return {"lines": comparison_lines(found), "record": plain(found)}


def calls_of(record: Mapping[str, Any] | None, balls: Sequence[BallRow]) -> dict[str, Any] | None:
    """Where the player thought he hit them, against where the marks are; None if nothing was called."""
    called = [
        (ball.note["called_toe_mm"], ball.note["called_high_mm"])
        for ball in balls
        if ball.note.get("called_toe_mm") is not None and ball.note.get("called_high_mm") is not None
    ]
    if not called:
        return None
    toe, high = (float(value) for value in np.mean(called, axis=0))
    lines = [f"You called {len(called)}: their middle is {place_words(toe, high)}."]
    if record is not None and len(called) >= FEWEST_CALLS:
        group = record["group"]
        apart = float(np.hypot(toe - group["toe_mm"], high - group["high_mm"]))
        lines.append(
            f"The marks' middle is {place_words(group['toe_mm'], group['high_mm'])}: {apart:.0f} mm away."
        )
    return {"n_called": len(called), "toe_mm": round(toe, 1), "high_mm": round(high, 1), "lines": lines}


def _words(side: str | None, amount: float | None, *, middle: str, unit: str = "") -> str | None:
    """'left', '2 left', 'straight': what note_text reads."""
    if side is None:
        return None
    if side == middle:
        return "straight"
    return side if not amount else f"{amount:g}{unit} {side}"
