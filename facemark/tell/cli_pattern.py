"""Commands about sets of strikes: pattern, compare, trend, step. Joined to the rest by ``register``."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from facemark.errors import SetupError
from facemark.inputs import ClubKind
from facemark.tell.options import AsJson, BookAt

if TYPE_CHECKING:
    from facemark.explain.hitset import HitSet
    from facemark.explain.thresholds import Thresholds

# The bootstrap's draws are the same every time: same strikes, same numbers.
DRAW_SEED = 20260102

STRIKES_HELP = "Table of strikes (CSV with toe_mm, high_mm) or the JSON of a reading."
Kind = Annotated[ClubKind | None, typer.Option(help="Kind of club; otherwise the reading's, or driver.")]
SweetErr = Annotated[
    float, typer.Option(help="How well the sweet spot of typed strikes is known, one standard error in mm.")
]
Picture = Annotated[Path | None, typer.Option(help="Write a chart: .png, .svg or .pdf.")]
Left = Annotated[bool, typer.Option("--left/--right", help="Show the toe on the side a left-hander sees it.")]

Player = Annotated[str | None, typer.Option(help="Instead of files: this player's sessions in the book.")]


class By(StrEnum):
    """Which column splits a table."""

    CLUB = "club"
    DAY = "day"


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    for command in (pattern, compare, trend, step):
        app.command()(command)


def pattern(
    strikes: Annotated[Path, typer.Argument(help=STRIKES_HELP)],
    kind: Kind = None,
    balls: Annotated[int | None, typer.Option(help="How many balls were hit, if some left no mark.")] = None,
    sweet_err: SweetErr = 0.0,
    worth: Annotated[
        float | None, typer.Option(help="Name a side from this offset on, in mm, both ways.")
    ] = None,
    harmless: Annotated[
        float | None, typer.Option(help="Centred means surely inside this offset, in mm, both ways.")
    ] = None,
    spread_limit: Annotated[
        float | None, typer.Option(help="Scattered means a spread above this, in mm.")
    ] = None,
    zone: Annotated[float | None, typer.Option(help="Radius of the zone that is counted, in mm.")] = None,
    picture: Picture = None,
    left: Left = False,
    as_json: AsJson = False,
) -> None:
    """What is the pattern of these balls, how sure is it, and how many more would settle it?"""
    from facemark.explain.pattern import describe_pattern
    from facemark.record import caveat_record, plain
    from facemark.tell.pattern_words import pattern_lines
    from facemark.tell.report import json_text
    from facemark.tell.strike_files import read_set

    hit_set = read_set(strikes, kind=kind, sweet_err_mm=sweet_err)
    if balls is not None:
        hit_set = replace(hit_set, strikes=_with_balls(hit_set, balls))
    limits = _limits(hit_set.kind, worth, harmless, spread_limit, zone)
    found = describe_pattern(hit_set.strikes, hit_set.kind, thresholds=limits)
    if picture is not None:
        from facemark.inputs import Hand
        from facemark.tell.charts import face_map, write_figure

        hand = Hand.LEFT if left else Hand.RIGHT
        write_figure(face_map(hit_set.strikes, found, hand=hand, title=hit_set.name), picture)
    if as_json:
        record = plain(found, without=("caveats",)) | {"caveats": [caveat_record(c) for c in found.caveats]}
        typer.echo(json_text(record))
    else:
        typer.echo("\n".join(pattern_lines(found)))


def _with_balls(hit_set: HitSet, balls: int) -> Any:
    if balls < len(hit_set.strikes.strikes):
        raise SetupError(
            f"{len(hit_set.strikes.strikes)} strikes, but --balls says {balls}",
            remedy="Count the balls again, or leave --balls out.",
        )
    return replace(hit_set.strikes, n_balls=balls)


def _limits(
    kind: ClubKind,
    worth: float | None,
    harmless: float | None,
    spread_limit: float | None,
    zone: float | None,
) -> Thresholds:
    from facemark.explain.thresholds import thresholds_for

    for name, value in (
        ("--worth", worth),
        ("--harmless", harmless),
        ("--spread-limit", spread_limit),
        ("--zone", zone),
    ):
        if value is not None and not 0.0 < value < 100.0:
            raise SetupError(f"{name} must lie between 0 and 100 mm, got {value}", remedy="Give millimetres.")
    limits = thresholds_for(kind)
    if worth is not None:
        limits = replace(limits, worth_toe_mm=worth, worth_high_mm=worth, apart_mm=2.0 * worth)
    if harmless is not None:
        limits = replace(limits, harmless_toe_mm=harmless, harmless_high_mm=harmless)
    if spread_limit is not None:
        limits = replace(limits, spread_limit_mm=spread_limit)
    return limits if zone is None else replace(limits, zone_mm=zone)


def compare(
    strikes: Annotated[
        list[Path] | None,
        typer.Argument(help="One file for each club, or one table with a club column; readings too."),
    ] = None,
    kind: Kind = None,
    sweet_err: SweetErr = 0.0,
    club_file: Annotated[
        list[str] | None,
        typer.Option(help="NAME=FILE.toml of a club: adds speed kept and bend. Once for each club."),
    ] = None,
    speed: Annotated[float | None, typer.Option(help="Speed of the club head, for --club-file.")] = None,
    speed_unit: Annotated[str, typer.Option(help="Unit of --speed: mps, mph or kmh.")] = "mps",
    plan: Annotated[bool, typer.Option("--plan", help="Write a test sheet instead of comparing.")] = False,
    player: Player = None,
    club: Annotated[
        list[str] | None, typer.Option(help="With --player or --plan: a club's name, once for each.")
    ] = None,
    since: Annotated[
        str | None, typer.Option(help="With --player: all sessions from this day on, not each newest one.")
    ] = None,
    book: BookAt = None,
    balls: Annotated[int, typer.Option(help="With --plan: balls for each club.")] = 10,
    block: Annotated[int, typer.Option(help="With --plan: balls before the face is wiped.")] = 5,
    out: Annotated[
        Path, typer.Option(help="With --plan: sheet to write; the table goes beside it as .csv.")
    ] = Path("facemark-test.pdf"),
    paper: Annotated[str, typer.Option(help="With --plan: a4 or letter.")] = "a4",
    picture: Picture = None,
    left: Left = False,
    as_json: AsJson = False,
) -> None:
    """Is one club hit better than another? Or, with --plan, a fair test sheet."""
    if plan:
        _write_plan(club or [], balls, block, out, paper)
        return
    import numpy as np

    from facemark.explain.compare import compare_clubs
    from facemark.tell.compare_words import comparison_lines
    from facemark.tell.report import json_text

    if player is None:
        sets = _sets(strikes, kind, sweet_err, By.CLUB)
    else:
        sets = _from_book(strikes, book, player, club or [], since, By.CLUB)
    found = compare_clubs(sets, rng=np.random.default_rng(DRAW_SEED))
    flights = _flights(sets, club_file or [], speed, speed_unit)
    if picture is not None:
        from facemark.inputs import Hand
        from facemark.tell.charts import club_maps, write_figure

        hand = Hand.LEFT if left else Hand.RIGHT
        write_figure(club_maps([s.strikes for s in sets], found, hand=hand), picture)
    if as_json:
        typer.echo(json_text(_record(found) | {"flights": [_plain(flight) for flight in flights]}))
    else:
        typer.echo("\n".join([*comparison_lines(found), *_flight_lines(flights)]))


def _write_plan(clubs: list[str], balls: int, block: int, out: Path, paper: str) -> None:
    from facemark.tell.sheets import DRIFT, plan_test, write_plan_csv, write_plan_pdf

    if out.suffix.lower() != ".pdf":
        raise SetupError(f"the sheet is a PDF, got {out.name}", remedy="End the name in .pdf.")
    blocks = plan_test(clubs, n_balls=balls, n_block=block)
    table = out.with_suffix(".csv")
    write_plan_pdf(out, blocks, paper=paper)
    write_plan_csv(table, blocks)
    typer.echo(f"Order: {' - '.join(item.club for item in blocks)}")
    typer.echo(f"{out}: print and take along.\n{table}: type the strikes here, then facemark compare {table}")
    typer.echo(DRIFT)


def _sets(paths: list[Path] | None, kind: ClubKind | None, sweet_err: float, by: By) -> list[HitSet]:
    from facemark.tell.strike_files import read_sets

    if not paths:
        raise SetupError(
            "expected at least one file of strikes, or --player", remedy="Name the files after the command."
        )
    return [
        hit_set for path in paths for hit_set in read_sets(path, kind=kind, sweet_err_mm=sweet_err, by=by)
    ]


def _from_book(
    strikes: list[Path] | None, book: str | None, player: str, clubs: list[str], since: str | None, by: By
) -> list[HitSet]:
    """Sets of a player from the book: each club's newest session, or one club's days."""
    if strikes:
        raise SetupError("both files and --player were given", remedy="Leave one of them out.")
    from facemark.tell.book.sets import club_sets, day_sets, sittings
    from facemark.tell.cli_book import day_of, existing

    first_day = None if since is None else day_of(since, "--since")
    with existing(book) as opened:
        found = sittings(opened, opened.find_player(player).id, clubs=clubs, since=first_day)
    if by is By.CLUB:
        return club_sets(found, pool=since is not None)
    if len({one.club.name for one in found}) > 1:
        names = ", ".join(sorted({one.club.name for one in found}))
        raise SetupError(f"{player} hit several clubs: {names}", remedy="Name one with --club.")
    return day_sets(found)


def _flights(sets: list[HitSet], club_files: list[str], speed: float | None, unit: str) -> list[Any]:
    if not club_files:
        return []
    from facemark.tell.club_flights import club_flights

    return club_flights(sets, club_files, speed, unit)


def _flight_lines(flights: list[Any]) -> list[str]:
    if not flights:
        return []
    from facemark.tell.club_flights import club_flight_lines

    return club_flight_lines(flights)


def _plain(value: Any) -> Any:
    from facemark.record import plain

    return plain(value)


def _record(found: Any) -> dict[str, Any]:
    """A result with its doubts written out."""
    from facemark.record import caveat_record, plain

    record: dict[str, Any] = plain(found, without=("caveats",))
    return record | {"caveats": [caveat_record(caveat) for caveat in found.caveats]}


def trend(
    strikes: Annotated[
        list[Path] | None,
        typer.Argument(help="One file for each day, oldest first, or one table with a day column."),
    ] = None,
    kind: Kind = None,
    sweet_err: SweetErr = 0.0,
    player: Player = None,
    club: Annotated[str | None, typer.Option(help="With --player: the club's name.")] = None,
    since: Annotated[str | None, typer.Option(help="With --player: from this day on.")] = None,
    book: BookAt = None,
    started_bad: Annotated[
        bool, typer.Option("--started-bad", help="The series began because the first day was bad.")
    ] = False,
    picture: Picture = None,
    as_json: AsJson = False,
) -> None:
    """Is the player getting better from day to day? At least four days with one club."""
    from facemark.explain.trend import follow_days
    from facemark.tell.compare_words import progress_lines
    from facemark.tell.report import json_text

    if player is None:
        sets = _sets(strikes, kind, sweet_err, By.DAY)
    else:
        sets = _from_book(strikes, book, player, [club] if club else [], since, By.DAY)
    progress = follow_days(sets, started_bad=started_bad)
    if picture is not None:
        from facemark.tell.charts import trend_chart, write_figure

        write_figure(trend_chart(progress), picture)
    typer.echo(json_text(_record(progress)) if as_json else "\n".join(progress_lines(progress)))


def step(
    strikes: Annotated[
        list[Path] | None, typer.Argument(help="Files of strikes of one task, in the order they were hit.")
    ] = None,
    zone: Annotated[float | None, typer.Option(help="Tolerance: radius about the sweet spot in mm.")] = None,
    in_order: Annotated[
        bool, typer.Option("--in-order", help="The strikes are listed in the order they were hit.")
    ] = False,
    hits: Annotated[
        str | None, typer.Option(help="Instead of files: balls in order, 1 for a hit and 0 for a miss.")
    ] = None,
    block: Annotated[
        list[str] | None, typer.Option(help="Instead of files: hits/balls of a block, such as 8/10; repeat.")
    ] = None,
    kind: Kind = None,
    sweet_err: SweetErr = 0.0,
    as_json: AsJson = False,
) -> None:
    """Move on, stay, or make it easier? Hits inside the tolerance decide."""
    from facemark.explain.moveon import judge_blocks, judge_in_order, judge_strikes
    from facemark.explain.thresholds import thresholds_for
    from facemark.tell.pattern_words import step_lines
    from facemark.tell.report import json_text

    if sum(bool(given) for given in (strikes, hits, block)) != 1:
        raise SetupError(
            "expected one of: files of strikes, --hits, --block",
            remedy="Say for example facemark step --block 8/10, or facemark step BALLS.csv --zone 12.",
        )
    if hits:
        decision = judge_in_order(_hits(hits))
    elif block:
        decision = judge_blocks([_block(item) for item in block])
    else:
        sets = _sets(strikes, kind, sweet_err, By.CLUB)
        radius = thresholds_for(sets[0].kind).zone_mm if zone is None else zone
        decision = judge_strikes([s.strikes for s in sets], radius, in_order=in_order)
    typer.echo(json_text(_record(decision)) if as_json else "\n".join(step_lines(decision)))


def _hits(text: str) -> list[bool]:
    signs = [sign for sign in text if not sign.isspace() and sign != ","]
    if not signs or set(signs) - {"0", "1"}:
        raise SetupError(f"expected 1 and 0, got {text!r}", remedy="Say for example --hits 1110111.")
    return [sign == "1" for sign in signs]


def _block(text: str) -> tuple[int, int]:
    try:
        n_in, n_balls = (int(part) for part in text.split("/"))
    except ValueError:
        raise SetupError(
            f"expected hits/balls, got {text!r}", remedy="Say for example --block 8/10."
        ) from None
    return n_in, n_balls
