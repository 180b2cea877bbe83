"""What ``facemark plan`` and ``facemark block`` do between their options and the core."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from facemark.errors import BookError, SetupError
from facemark.explain.gate import gate_of
from facemark.explain.hitset import HitSet
from facemark.explain.practice import Practice
from facemark.explain.stations import PlanSetup
from facemark.explain.tee_check import Story, TeeCheck, check_tees
from facemark.inputs import Club, ClubKind, Hand
from facemark.tell.plan import (
    blame_of_record,
    check_ending,
    practice_for,
    practice_pdf,
    practice_png,
    write_bytes,
)
from facemark.tell.plan_book import Done, blocks_of, last_set, note_plan, remembered
from facemark.tell.plan_words import Teller

if TYPE_CHECKING:
    from facemark.tell.book.rows import BlockRow, PlayerRow
    from facemark.tell.book.store import Book

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

    @property
    def hand(self) -> Hand | None:
        """As told; None: not told."""
        return None if self.left is None else Hand.LEFT if self.left else Hand.RIGHT


@dataclass(frozen=True, slots=True, kw_only=True)
class _Balls:
    """A set with its club and hand, from wherever it came."""

    hit_set: HitSet | None
    club: Club
    hand: Hand
    hand_read: Hand | None = None  # as the file's reading says, if it is one
    head_mps: float | None = None


def make_plan(asked: PlanAsked) -> tuple[Practice, Hand]:
    """Plan the next block; with a player, from the book, and remembered in it.

    Raises
    ------
    SetupError, BookError
    """
    blame = None if asked.causes is None else blame_of_record(_json(asked.causes))
    balls = _balls_of_file(asked)
    if asked.player is None:
        made = practice_for(balls.hit_set, balls.club, told=asked.told, blame=blame, head_mps=balls.head_mps)
        return made, balls.hand
    from facemark.tell.book.store import Book
    from facemark.tell.cli_book import existing

    with Book.open(asked.book) if asked.strikes is not None else existing(asked.book) as book:
        player = _known_player(book, asked.player, may_be_new=asked.strikes is not None)
        rows = [] if player is None else book.blocks(player.id)
        if player is not None:
            balls = _of_player(book, player, rows, asked, balls)
        told = remembered(rows, asked.told, balls.club)
        made = practice_for(
            balls.hit_set,
            balls.club,
            told=told,
            blame=blame,
            blocks=blocks_of(rows),
            head_mps=balls.head_mps,
        )
        # Only a plan that could be made makes a player: a slip in the command leaves no name behind.
        note_plan(book, book.player(asked.player, asked.hand or balls.hand_read), made, told)
    return made, balls.hand


def _known_player(book: Book, name: str, *, may_be_new: bool) -> PlayerRow | None:
    try:
        return book.find_player(name)
    except BookError:
        if may_be_new:
            return None
        raise


def _of_player(
    book: Book, player: PlayerRow, rows: Sequence[BlockRow], asked: PlanAsked, balls: _Balls
) -> _Balls:
    """The file's balls, else those of the player's newest session; his hand as told, as noted, or as read."""
    found = None
    if asked.strikes is None:
        said = None if asked.club is None else balls.club
        found = last_set(book, player, rows, day=asked.told.day, club=said, kind=asked.kind)
    if found is None:
        return replace(balls, hand=asked.hand or player.hand or balls.hand)
    hit_set, club, hand = found
    return replace(
        balls,
        hit_set=hit_set,
        club=balls.club if asked.club is not None else club,
        hand=asked.hand or player.hand or hand,
    )


def _balls_of_file(asked: PlanAsked) -> _Balls:
    """The file's balls and club; without a file no balls, and the club of options or settings."""
    from facemark.tell.explain_inputs import setup_of_file, told_of

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
        left=asked.left,
    )
    hit_set = None
    if asked.strikes is not None:
        from facemark.tell.strike_files import read_set

        hit_set = read_set(asked.strikes, kind=told.setup.club.kind, sweet_err_mm=asked.sweet_err_mm)
    read = setup_of_file(asked.strikes)
    return _Balls(
        hit_set=hit_set,
        club=told.setup.club,
        hand=told.hand,
        hand_read=None if read is None else read.hand,
        head_mps=told.setup.head_mps,
    )


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
    """Write page and picture where asked for; the book remembers each, so that it can be forgotten.

    Raises
    ------
    SetupError
        A paper that is not known.
    BookError
        A file cannot be written.
    """
    who = asked.player or ""
    if pdf is not None:
        data = practice_pdf(practice, teller.hand, teller.units, teller.language, paper=paper, who=who)
        write_bytes(pdf, data, ".pdf")
        _note_page(pdf, asked)
    if picture is not None:
        data = practice_png(practice, teller.hand, teller.units, teller.language, who=who)
        write_bytes(picture, data, ".png")
        _note_page(picture, asked)


def check_endings(*, pdf: Path | None, picture: Path | None) -> None:
    """Refuse a wrong ending before anything is planned or written.

    Raises
    ------
    SetupError
    """
    for path, suffix in ((pdf, ".pdf"), (picture, ".png")):
        if path is not None:
            check_ending(path, suffix)


def _note_page(path: Path, asked: PlanAsked) -> None:
    if asked.player is None:
        return
    from facemark.tell.cli_book import existing

    with existing(asked.book) as book:
        book.note_export(path, [book.find_player(asked.player).id])


def check_struck(
    plan: Mapping[str, Any], marks: Path | None, done: Done, teller: Teller
) -> tuple[TeeCheck | None, list[str]]:
    """Hold struck tees against the marks; without marks, or a gate, nothing is said.

    Raises
    ------
    SetupError, BookError
    """
    station = plan.get("station") or {}
    gate = station.get("gate_after") or station.get("gate")  # the balls are hit once the change was made
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
