"""The ladder's memory: plans and blocks of a player in the book, picked up the next time.

A plan that was printed is a row without balls (verdict "planned"): it remembers gate, sticks and head until
the block is hit. A block that was hit carries what was planned, which station failed, and what followed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

from facemark.errors import SetupError
from facemark.explain.corridor import Shape
from facemark.explain.hitset import HitSet
from facemark.explain.ladder import Block, Focus, Rung, check_effort, check_step, climb, club_key, of_club
from facemark.explain.moveon import MOST_BALLS
from facemark.explain.path_gate import From
from facemark.explain.practice import Practice
from facemark.explain.stations import PlanSetup
from facemark.inputs import Club, ClubKind, Hand
from facemark.record import plain
from facemark.tell.plan import today

if TYPE_CHECKING:
    from facemark.tell.book.rows import BlockRow, PlayerRow
    from facemark.tell.book.store import Book

PLANNED = "planned"
STATIONS = ("strike", "start", "curve")  # which may fail
REMEMBERED = ("head_mm", "carry_m", "stick_distance_m", "stick_gap_m", "shape", "comes_from")


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A block that was hit, as it is told."""

    n_good: int
    n_balls: int
    day: dt.date
    failed: Mapping[str, int]  # station -> balls that failed there first
    tees: Mapping[str, int]  # "toe", "heel" -> tees struck on that side
    pain: bool = False


def blocks_of(rows: Sequence[BlockRow]) -> list[Block]:
    """The blocks that were hit, oldest first; plans are left out, and focuses nobody here knows."""
    known = {focus.value for focus in Focus}
    return [block_of(row) for row in rows if row.n_balls > 0 and row.focus in known]


def block_of(row: BlockRow) -> Block:
    """A row of the book as the ladder takes it."""
    day = row.plan.get("day")
    return Block(
        focus=Focus(row.focus),
        effort_frac=row.effort_frac,
        n_good=row.n_good,
        n_balls=row.n_balls,
        day=dt.date.fromisoformat(day) if day else row.made.astimezone().date(),
        tolerance_mm=row.plan.get("tolerance_mm"),
        pain=bool(row.plan.get("pain")),
        club=_club_of(row.plan),
    )


def _club_of(plan: Mapping[str, Any]) -> str | None:
    """The club a plan was for; None: from before clubs were noted, or said without a plan."""
    return (plan.get("told") or {}).get("club")


def remembered(rows: Sequence[BlockRow], told: PlanSetup, club: Club) -> PlanSetup:
    """What was told now, and for the rest what was told or set up last time with this club."""
    rows = [row for row in rows if _club_of(row.plan) in (None, club_key(club))]
    plain_told = PlanSetup()
    found: dict[str, Any] = {}
    for row in rows:
        found |= {k: v for k, v in (row.plan.get("told") or {}).items() if v is not None}
    kinds: dict[str, Any] = {"shape": Shape, "comes_from": From}
    values: dict[str, Any] = {
        name: kinds.get(name, float)(found[name])
        for name in REMEMBERED
        if getattr(told, name) == getattr(plain_told, name) and found.get(name) is not None
    }
    told = replace(told, **values)
    if told.last_clear_mm is None:
        for row in rows[::-1]:
            station = row.plan.get("station") or {}
            gate = station.get("gate_after") or station.get("gate")
            if gate and gate["head_mm"] == told.head_mm:
                clear = (gate["toe_clear_mm"], gate["heel_clear_mm"])
                return replace(told, last_clear_mm=clear, last_clear_of=Focus(row.focus))
    return told


def last_set(
    book: Book,
    player: PlayerRow,
    rows: Sequence[BlockRow],
    *,
    day: dt.date | None = None,
    club: Club | None = None,
    kind: ClubKind | None = None,
) -> tuple[HitSet | None, Club, Hand] | None:
    """The balls, club and hand of the player's newest session; None: there is none.

    Marks from before a strike block are left out: they speak of the swing before it, and a shift planned from
    them once must not be planned again.

    Parameters
    ----------
    day : today; marks that wandered on another day say nothing about being tired now.
    club, kind : only sessions with this club, or a club of this kind; None: any.
    """
    from facemark.tell.book.identity import club_of
    from facemark.tell.book.sets import sittings

    wanted = [
        row.id
        for row in book.clubs(player.id)
        if (club is None or club_key(club_of(row.data)) == club_key(club)) and kind in (None, row.kind)
    ]
    newest = [
        reading
        for club_id in wanted
        for reading in book.readings(player_id=player.id, club_id=club_id, newest_first=True, limit=1)
    ]
    if not newest:
        return None
    dated = {session.id: session.day for session in book.sessions(player.id)}
    last = max(newest, key=lambda reading: (dated[reading.session_id], reading.made))
    [found] = sittings(book, player.id, only=[last.session_id])
    hit_set, used = found.hit_set, club_of(found.club.data)
    if day is not None and found.session.day != day:
        hit_set = replace(hit_set, ball_numbers=())
    struck = [
        row.made
        for row in rows
        if row.n_balls > 0
        and row.focus == Focus.STRIKE.value
        and _club_of(row.plan) in (None, club_key(used))
    ]
    stale = bool(struck) and last.made < max(struck)
    return None if stale else hit_set, used, Hand(last.current["hand"])


def tolerance_mm(practice: Practice) -> float | None:
    """The room the block's task leaves: beyond the head, or between the sticks."""
    gate, corridor = practice.station.gate_after or practice.station.gate, practice.station.corridor
    if gate is not None:
        return gate.gap_mm - gate.head_mm
    return None if corridor is None else 1000.0 * corridor.gap_m


def note_plan(book: Book, player: PlayerRow, practice: Practice, told: PlanSetup) -> None:
    """Remember a plan until its block is hit; the same plan twice is remembered once."""
    plan = {
        "day": None if told.day is None else told.day.isoformat(),
        "told": {name: plain(getattr(told, name)) for name in REMEMBERED} | {"club": practice.club},
        "station": plain(practice.station),
        "why": practice.why.value,
        "tolerance_mm": tolerance_mm(practice),
    }
    rows = book.blocks(player.id)
    same = rows and (rows[-1].verdict, rows[-1].focus, rows[-1].effort_frac, rows[-1].plan) == (
        PLANNED,
        practice.focus.value,
        practice.effort_frac,
        plan,
    )
    if not same:
        book.add_block(
            player.id,
            focus=practice.focus.value,
            effort_frac=practice.effort_frac,
            n_balls=0,
            n_good=0,
            verdict=PLANNED,
            plan=plan,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """A block that was hit, checked and not yet in the book."""

    block: Block
    plan: dict[str, Any]  # what was planned for it, and what was told of it
    rung: Rung


def weigh_block(
    book: Book,
    player: PlayerRow,
    done: Done,
    *,
    focus: Focus | None = None,
    effort_frac: float | None = None,
) -> Weighed:
    """What follows from a block that was hit; nothing is written.

    Parameters
    ----------
    focus, effort_frac : as told; None: of the player's newest plan.

    Raises
    ------
    SetupError
        Impossible counts, a station nobody knows, a day that lies ahead or before a block that was noted, or
        neither a plan nor a focus and an effort.
    """
    check_done(done)
    if effort_frac is not None:
        check_step("--effort", effort_frac)
    rows = book.blocks(player.id)
    planned = next((row for row in rows[::-1] if focus is None or row.focus == focus.value), None)
    used, effort = _about(player, rows, planned, focus, effort_frac)
    before = of_club(blocks_of(rows), _club_of(planned.plan) if planned is not None else None)
    _check_day(done.day, [block.day for block in before if block.focus is used])
    # Gate and sticks stand as planned, however hard the balls were hit.
    plan = (planned.plan if planned is not None else {}) | {
        "day": done.day.isoformat(),
        "failed": dict(done.failed),
        "tees": dict(done.tees),
        "pain": done.pain,
    }
    block = Block(
        focus=used,
        effort_frac=effort,
        n_good=done.n_good,
        n_balls=done.n_balls,
        day=done.day,
        tolerance_mm=plan.get("tolerance_mm"),
        pain=done.pain,
        club=_club_of(plan),
    )
    return Weighed(block=block, plan=plan, rung=climb([*before, block], used))


def note_block(
    book: Book,
    player: PlayerRow,
    done: Done,
    *,
    focus: Focus | None = None,
    effort_frac: float | None = None,
    session_id: str | None = None,
) -> tuple[BlockRow, Rung]:
    """Write a block that was hit into the book; what follows from it. Otherwise as ``weigh_block``."""
    weighed = weigh_block(book, player, done, focus=focus, effort_frac=effort_frac)
    block = weighed.block
    row = book.add_block(
        player.id,
        focus=block.focus.value,
        effort_frac=block.effort_frac,
        n_balls=block.n_balls,
        n_good=block.n_good,
        verdict=str(weighed.rung.last_step),
        plan=weighed.plan,
        session_id=session_id,
    )
    return row, weighed.rung


def _about(
    player: PlayerRow,
    rows: Sequence[BlockRow],
    planned: BlockRow | None,
    focus: Focus | None,
    effort_frac: float | None,
) -> tuple[Focus, float]:
    """What the balls were about, and how hard they were hit: as told, else as planned."""
    if planned is not None:
        used = focus or Focus(planned.focus)
        if effort_frac is not None:
            return used, effort_frac
        # Another set without a new plan goes where the ladder led.
        again = planned.n_balls > 0
        if not again:
            return used, planned.effort_frac
        return used, climb(of_club(blocks_of(rows), _club_of(planned.plan)), used).effort_frac
    if focus is None or effort_frac is None:
        raise SetupError(
            f"no block was planned for {player.name}, so it is not known what these balls were about",
            remedy=f"Plan it first (facemark plan --player {player.name}), or say --focus and --effort.",
        )
    return focus, effort_frac


def _check_day(day: dt.date, before: Sequence[dt.date]) -> None:
    """Refuse a day that lies ahead, and one before the last block's: the ladder is climbed in order."""
    now = today()
    if day > now:
        raise SetupError(f"{day} lies ahead; today is {now}", remedy="Say the day the balls were hit.")
    last = max(before, default=day)
    if day < min(last, now):  # what is hit today is noted whatever an odd clock wrote
        raise SetupError(
            f"a block of {last} was noted already, and one of {day} came after it",
            remedy="Note blocks in the order they were hit; leave this one out.",
        )


def check_done(done: Done) -> None:
    """Refuse counts that cannot be.

    Raises
    ------
    SetupError
    """
    if done.n_balls < 1 or not 0 <= done.n_good <= done.n_balls:
        raise SetupError(
            f"{done.n_good} good balls of {done.n_balls} cannot be", remedy="Say for example 8/10."
        )
    if done.n_balls > MOST_BALLS:
        raise SetupError(
            f"a block of {done.n_balls} balls was told; up to {MOST_BALLS} are counted together",
            remedy="Note each set of ten by itself: who practises changes within a hundred balls.",
        )
    strange = sorted(set(done.failed) - set(STATIONS)) + sorted(set(done.tees) - {"toe", "heel"})
    if strange:
        raise SetupError(
            f"{', '.join(strange)} is not known",
            remedy=f"Stations are {', '.join(STATIONS)}; tees stand on the toe and the heel side.",
        )
    n_bad = done.n_balls - done.n_good
    if sum(done.failed.values()) > n_bad:
        raise SetupError(
            f"{sum(done.failed.values())} balls failed at a station, but only {n_bad} were not good",
            remedy="Name for each ball that was not good the station that failed first.",
        )
    if sum(done.tees.values()) > n_bad:
        raise SetupError(
            f"{sum(done.tees.values())} tees were struck, but only {n_bad} of {done.n_balls} balls were not"
            " good",
            remedy="A ball that strikes a tee is not good; count for each ball at most one tee.",
        )


def effort_of(option: str, percent: float | None) -> float | None:
    """An effort told in percent, as a share.

    Raises
    ------
    SetupError
        Less than 1 or more than 100.
    """
    return None if percent is None else check_effort(option, percent / 100.0)


def plan_setup_of(values: Mapping[str, Any]) -> PlanSetup:
    """A plan's setup from named values; None is "not told" and leaves the default."""
    names = {item.name for item in fields(PlanSetup)}
    return PlanSetup(**{k: v for k, v in values.items() if k in names and v is not None})
