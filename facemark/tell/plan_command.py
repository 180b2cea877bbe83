"""What ``facemark plan`` and ``facemark block`` do between their options and the core."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from facemark.errors import BookError, SetupError
from facemark.explain.gate import gate_of
from facemark.explain.hitset import HitSet
from facemark.explain.practice import Practice
from facemark.explain.stations import PlanSetup
from facemark.explain.tee_check import Story, TeeCheck, check_tees
from facemark.inputs import Club, ClubKind, Hand
from facemark.tell.plan import blame_of_record, practice_for, practice_pdf, practice_png, write_bytes
from facemark.tell.plan_book import Done, blocks_of, last_set, note_plan, remembered
from facemark.tell.plan_words import Teller

_STORY_KEYS = {
    Story.AGREE: "plan.tees.agree",
    Story.SWAPPED: "plan.tees.swapped",
    Story.MORE_TEES: "plan.tees.more",
    Story.FEWER_TEES: "plan.tees.fewer",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanAsked:
    """What was asked for."""

    strikes: Path | None
    causes: Path | None
    player: str | None
    book: str | None
    sweet_err_mm: float
    club: Path | None
    kind: ClubKind | None
    left: bool | None
    told: PlanSetup


@dataclass(frozen=True, slots=True, kw_only=True)
class _Balls:
    """A set with its club and hand, from wherever it came."""

    hit_set: HitSet | None
    club: Club
    hand: Hand
    head_mps: float | None = None


def make_plan(asked: PlanAsked) -> tuple[Practice, Hand]:
    """Plan the next block; with a player, from the book, and remembered in it.

    Raises
    ------
    SetupError, BookError
    """
    blame = None if asked.causes is None else blame_of_record(_json(asked.causes))
    if asked.player is None:
        balls = _balls_of_file(asked, None)
        made = practice_for(balls.hit_set, balls.club, told=asked.told, blame=blame, head_mps=balls.head_mps)
        return made, balls.hand
    from facemark.tell.book.store import Book
    from facemark.tell.cli_book import existing

    with Book.open(asked.book) if asked.strikes is not None else existing(asked.book) as book:
        hand = None if asked.left is None else Hand.LEFT if asked.left else Hand.RIGHT
        player = book.player(asked.player, hand) if asked.strikes else book.find_player(asked.player)
        rows = book.blocks(player.id)
        balls = _balls_of_file(asked, player.hand)
        if asked.strikes is None:
            said = None if asked.club is None else balls.club
            found = last_set(book, player, rows, day=asked.told.day, club=said, kind=asked.kind)
            if found is not None:
                balls = replace(balls, hit_set=found[0], club=said or found[1])
        told = remembered(rows, asked.told, balls.club)
        made = practice_for(
            balls.hit_set,
            balls.club,
            told=told,
            blame=blame,
            blocks=blocks_of(rows),
            head_mps=balls.head_mps,
        )
        note_plan(book, player, made, told)
    return made, balls.hand


def _balls_of_file(asked: PlanAsked, hand: Hand | None) -> _Balls:
    """The file's balls and club; without a file no balls, and the club of options or settings."""
    from facemark.tell.explain_inputs import told_of

    told = told_of(
        toe=None,
        high=None,
        strike_err=0.0,
        reading=asked.strikes,
        balls=None,
        club=asked.club,
        kind=asked.kind,
        speed=None,
        speed_unit="mps",
        left=asked.left if asked.left is not None else None if hand is None else hand is Hand.LEFT,
    )
    hit_set = None
    if asked.strikes is not None:
        from facemark.tell.strike_files import read_set

        hit_set = read_set(asked.strikes, kind=told.setup.club.kind, sweet_err_mm=asked.sweet_err_mm)
    return _Balls(hit_set=hit_set, club=told.setup.club, hand=told.hand, head_mps=told.setup.head_mps)


def _json(path: Path) -> dict[str, Any]:
    try:
        record = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as err:
        raise BookError(
            f"{path} could not be read ({err})",
            remedy="Make it with facemark separate ... --json > FILE.json.",
        ) from None
    if not isinstance(record, dict):
        raise BookError(
            f"{path.name} holds no record", remedy="Make it with facemark separate ... --json > FILE.json."
        )
    return record


def write_pages(
    practice: Practice,
    teller: Teller,
    asked: PlanAsked,
    *,
    pdf: Path | None,
    paper: str,
    picture: Path | None,
) -> None:
    """Write page and picture where asked for; the book remembers them, so that they can be forgotten."""
    who = asked.player or ""
    written = []
    if pdf is not None:
        data = practice_pdf(practice, teller.hand, teller.units, teller.language, paper=paper, who=who)
        write_bytes(pdf, data, ".pdf")
        written.append(pdf)
    if picture is not None:
        data = practice_png(practice, teller.hand, teller.units, teller.language, who=who)
        write_bytes(picture, data, ".png")
        written.append(picture)
    if asked.player is not None and written:
        from facemark.tell.cli_book import existing

        with existing(asked.book) as book:
            player = book.find_player(asked.player)
            for path in written:
                book.note_export(path, [player.id])


def check_struck(
    plan: Mapping[str, Any], marks: Path | None, done: Done, teller: Teller
) -> tuple[TeeCheck | None, list[str]]:
    """Hold struck tees against the marks; without marks, or a gate, nothing is said.

    Raises
    ------
    SetupError, BookError
    """
    gate = (plan.get("station") or {}).get("gate")
    if marks is None:
        return None, []
    if gate is None:
        raise SetupError(
            "no gate was planned for this block, so struck tees and marks cannot be compared",
            remedy="Plan the block with facemark plan --player NAME first.",
        )
    from facemark.tell.strike_files import read_set

    stood = gate_of(None, gate["head_mm"], gate["toe_clear_mm"], gate["heel_clear_mm"])
    found = check_tees(
        read_set(marks).strikes,
        stood,
        n_toe_tee=done.tees.get("toe", 0),
        n_heel_tee=done.tees.get("heel", 0),
    )
    words: dict[str, object] = {}
    if found.story in (Story.MORE_TEES, Story.FEWER_TEES):
        words = {
            "toe": teller.number(found.n_toe_tee_expected, 1),
            "heel": teller.number(found.n_heel_tee_expected, 1),
        }
    return found, [teller.say(_STORY_KEYS[found.story], **words)]
