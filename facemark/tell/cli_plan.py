"""Commands about practice: plan, block, callit. Joined to the rest by ``register``."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from facemark.errors import SetupError
from facemark.inputs import ClubKind, Hand
from facemark.tell.options import AsJson, BookAt, ClubFile, Kind, LanguageCode, Left, Lengths, UnitWords

if TYPE_CHECKING:
    from facemark.explain.ladder import Rung
    from facemark.explain.stations import PlanSetup
    from facemark.tell.book.rows import BlockRow
    from facemark.tell.plan_words import Teller

Player = Annotated[str | None, typer.Option(help="The player's nickname: the ladder is in the book.")]
Day = Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Day of practice; otherwise today.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    for command in (plan, block, callit):
        app.command()(command)


def plan(
    strikes: Annotated[
        Path | None,
        typer.Argument(
            help="The JSON of a reading, or a table with toe_mm and high_mm; else the book's last."
        ),
    ] = None,
    causes: Annotated[
        Path | None, typer.Option(help="What facemark separate --json wrote about the same balls.")
    ] = None,
    player: Player = None,
    book: BookAt = None,
    head_mm: Annotated[
        float | None, typer.Option(help="Length of the head (not the face) from heel to toe, for the gate.")
    ] = None,
    gap_mm: Annotated[
        float | None, typer.Option(help="A gate that stands already: between the tees' inner edges.")
    ] = None,
    carry: Annotated[float | None, typer.Option(help="Your carry, in the unit of --lengths.")] = None,
    stick_distance_m: Annotated[
        float | None, typer.Option(help="From the ball to the start sticks; otherwise 3.05 (10 ft).")
    ] = None,
    stick_gap_cm: Annotated[
        float | None, typer.Option(help="Between the sticks; otherwise 50, later narrower.")
    ] = None,
    shape: Annotated[str | None, typer.Option(help="The curve you want: draw or fade.")] = None,
    comes_from: Annotated[
        str | None, typer.Option("--from", help="Where the swing comes from: outside or inside.")
    ] = None,
    effort: Annotated[
        float | None, typer.Option(help="Effort of the first block in percent; otherwise 20.")
    ] = None,
    photo_effort: Annotated[
        float | None, typer.Option(help="Effort of the photographed balls in percent.")
    ] = None,
    minutes: Annotated[int, typer.Option(help="Minutes for the station.")] = 10,
    sweet_err: Annotated[
        float,
        typer.Option(help="How well the sweet spot of typed strikes is known, one standard error in mm."),
    ] = 0.0,
    club: ClubFile = None,
    kind: Kind = None,
    left: Left = None,
    day: Day = None,
    lengths: Lengths = None,
    units: UnitWords = None,
    language: LanguageCode = None,
    pdf: Annotated[Path | None, typer.Option(help="Write one page to print.")] = None,
    paper: Annotated[str, typer.Option(help="a4 or letter, for --pdf.")] = "a4",
    picture: Annotated[Path | None, typer.Option(help="Write a picture for the phone (.png).")] = None,
    as_json: AsJson = False,
) -> None:
    """What to practise next: one block, what to set up and how wide, when to step up, back, or stop."""
    from facemark.tell.ask import language_from_options, units_from_options
    from facemark.tell.plan import practice_record, teller_of
    from facemark.tell.plan_book import effort_of
    from facemark.tell.plan_command import PlanAsked, check_endings, make_plan, write_pages
    from facemark.tell.plan_words import plan_lines
    from facemark.tell.report import json_text

    shown = units_from_options(lengths, units)
    words = language_from_options(language)
    told = _told(
        gap_mm=gap_mm,
        values={
            "head_mm": head_mm,
            "carry_m": None if carry is None else carry / shown.range_length(1.0),
            "stick_distance_m": stick_distance_m,
            "stick_gap_m": None if stick_gap_cm is None else stick_gap_cm / 100.0,
            "effort_frac": effort_of("--effort", effort),
            "photo_effort_frac": effort_of("--photo-effort", photo_effort),
            "n_minutes": minutes,
        },
        shape=shape,
        comes_from=comes_from,
        day=day,
    )
    asked = PlanAsked(
        strikes=strikes,
        causes=causes,
        player=player,
        book=book,
        sweet_err_mm=sweet_err,
        club=club,
        kind=kind,
        left=left,
        told=told,
    )
    check_endings(pdf=pdf, picture=picture)
    practice, hand = make_plan(asked)
    teller = teller_of(hand, shown, words)
    write_pages(practice, teller, asked, pdf=pdf, paper=paper, picture=picture)
    if as_json:
        typer.echo(json_text(practice_record(practice, hand, shown, words)))
    else:
        typer.echo("\n".join(plan_lines(practice, teller)))


def _told(
    *,
    gap_mm: float | None,
    values: dict[str, Any],
    shape: str | None,
    comes_from: str | None,
    day: datetime | None,
) -> PlanSetup:
    """The options as a plan's setup."""
    from facemark.explain.corridor import Shape
    from facemark.explain.gate import check_head, clear_of_gap
    from facemark.explain.path_gate import From
    from facemark.tell.plan import today
    from facemark.tell.plan_book import plan_setup_of

    if values["head_mm"] is not None:
        check_head(values["head_mm"])
    clear = None if gap_mm is None else clear_of_gap(gap_mm, values["head_mm"])
    return plan_setup_of(
        values
        | {
            "shape": _choice("--shape", shape, Shape),
            "comes_from": _choice("--from", comes_from, From),
            "clear_mm": clear,
            "day": today() if day is None else day.date(),
        }
    )


def _choice(option: str, text: str | None, kinds: Any) -> Any:
    if text is None:
        return None
    try:
        return kinds(text.lower())
    except ValueError:
        raise SetupError(
            f"{option} {text} is not known", remedy=f"Say {' or '.join(item.value for item in kinds)}."
        ) from None


def block(
    done: Annotated[str, typer.Argument(help="Good balls of balls hit, such as 8/10.")],
    player: Annotated[str, typer.Option(help="The player's nickname.")],
    book: BookAt = None,
    failed: Annotated[
        str | None,
        typer.Option(
            help="Which station failed first, for the balls that were not good: strike,start,curve."
        ),
    ] = None,
    struck: Annotated[
        str | None, typer.Option(help="Tees that were struck, one word for each: toe,toe,heel.")
    ] = None,
    marks: Annotated[
        Path | None, typer.Option(help="The marks of these balls, to hold the struck tees against.")
    ] = None,
    focus: Annotated[
        str | None, typer.Option(help="If nothing was planned: strike, start, path or 'all together'.")
    ] = None,
    effort: Annotated[float | None, typer.Option(help="Effort in percent, if not as planned.")] = None,
    pain: Annotated[bool, typer.Option("--pain", help="Wrist, elbow or back hurt.")] = False,
    day: Day = None,
    language: LanguageCode = None,
    as_json: AsJson = False,
) -> None:
    """Write a block that was hit into the book, and say what follows: step up, stay, back, or stop."""
    from facemark.explain.ladder import Focus, Stop, stop_today
    from facemark.record import plain
    from facemark.tell.ask import language_from_options
    from facemark.tell.cli_book import existing
    from facemark.tell.plan import teller_of, today
    from facemark.tell.plan_book import Done, blocks_of, effort_of, note_block, weigh_block
    from facemark.tell.plan_command import check_struck
    from facemark.tell.report import json_text

    n_good, n_balls = _counts(done)
    told = Done(
        n_good=n_good,
        n_balls=n_balls,
        day=today() if day is None else day.date(),
        failed=Counter(_words(failed)),
        tees=Counter(_words(struck)),
        pain=pain,
    )
    teller = teller_of(Hand.RIGHT, language=language_from_options(language))
    about: dict[str, Any] = {
        "focus": _choice("--focus", focus, Focus),
        "effort_frac": effort_of("--effort", effort),
    }
    with existing(book) as opened:
        found = opened.find_player(player)
        # What may fail comes before the book is written: who mends a slip must not have hit the set twice.
        plan = weigh_block(opened, found, told, **about).plan
        check, lines = (None, []) if struck is None else check_struck(plan, marks, told, teller)
        row, rung = note_block(opened, found, told, **about)
        stop: Stop | None = stop_today(blocks_of(opened.blocks(found.id)), told.day)
    if as_json:
        record = {"block": plain(row), "ladder": plain(rung), "stop": plain(stop), "tees": plain(check)}
        typer.echo(json_text(record))
        return
    over = [] if stop is None else [teller.say(f"plan.stop.{stop}")]
    typer.echo("\n".join([*block_lines(row, rung, teller), *lines, *over]))


def block_lines(row: BlockRow, rung: Rung, teller: Teller) -> list[str]:
    """What was noted and what follows."""
    say, effort = teller.say, teller.effort(rung.effort_frac)
    lines = [
        say(
            "plan.block.noted",
            focus=say(f"plan.focus.{row.focus}"),
            good=row.n_good,
            balls=row.n_balls,
            effort=teller.effort(row.effort_frac),
        )
    ]
    failed = [say(f"plan.fail.{name}", n=n) for name, n in row.plan.get("failed", {}).items()]
    if failed:
        lines.append(say("plan.block.failed", failed=", ".join(failed)))
    if rung.learned:
        lines.append(say("plan.block.learned"))
    elif rung.held and row.verdict == "move on":
        lines.append(say("plan.block.held"))
    elif row.verdict == "hit more":
        more = teller.language.say_n("more ball", rung.n_next)
        lines.append(
            say("plan.block.hit more", good=rung.n_good, balls=rung.n_balls, more=more, effort=effort)
        )
    elif row.verdict == "make it easier" and rung.effort_frac >= row.effort_frac:
        lines.append(say("plan.block.lowest", effort=effort))
    else:
        lines.append(say(f"plan.block.{row.verdict}", effort=effort))
    return lines


def _counts(text: str) -> tuple[int, int]:
    try:
        n_good, n_balls = (int(part) for part in text.split("/"))
    except ValueError:
        raise SetupError(f"expected good/balls, got {text!r}", remedy="Say for example 8/10.") from None
    return n_good, n_balls


def _words(text: str | None) -> list[str]:
    return [word.strip().lower() for word in (text or "").split(",") if word.strip()]


def callit(
    calls: Annotated[
        Path,
        typer.Argument(
            help="A table, one ball a line: called_toe_mm, called_high_mm, toe_mm, high_mm; or asked"
            " (heel, middle, toe) and toe_mm."
        ),
    ],
    kind: Kind = None,
    units: UnitWords = None,
    language: LanguageCode = None,
    as_json: AsJson = False,
) -> None:
    """How well strikes are felt: called before looking, against found. Or misses asked for, counted."""
    from facemark.tell.ask import language_from_options, units_from_options
    from facemark.tell.call_table import read_calls
    from facemark.tell.plan import teller_of
    from facemark.tell.report import json_text

    found = read_calls(calls, kind or ClubKind.DRIVER)
    teller = teller_of(Hand.RIGHT, units_from_options(None, units), language_from_options(language))
    typer.echo(json_text(found.record()) if as_json else "\n".join(found.lines(teller)))
