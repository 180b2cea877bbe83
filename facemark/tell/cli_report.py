"""The command for reports from the book. Joined to the rest by ``register``."""

from __future__ import annotations

from pathlib import Path
from shlex import quote
from typing import Annotated

import typer

from facemark.errors import FacemarkError
from facemark.tell.cli_book import PlayerName, day_of, existing
from facemark.tell.options import AsJson, BookAt, LanguageCode, Paper, UnitWords, Whole

Html = Annotated[Path | None, typer.Option("--html", help="Write a page that opens offline and prints.")]
Pdf = Annotated[Path | None, typer.Option("--pdf", help="Write one page for pupil and parent.")]
Chat = Annotated[Path | None, typer.Option("--chat", help="Write a picture for a chat (.png).")]
Homework = Annotated[
    list[str] | None, typer.Option("--homework", help="A sentence for the pupil; may be given several times.")
]
Plan = Annotated[
    Path | None,
    typer.Option("--plan", help="The next block, from facemark plan --json; otherwise planned anew."),
]
Next = Annotated[bool, typer.Option("--next/--no-next", help="Say the next block, after the last session.")]


def register(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(report)


def report(
    player: PlayerName,
    day: Annotated[
        str | None, typer.Option(help="The session's day, as 2026-11-25; otherwise the last.")
    ] = None,
    club: Annotated[str | None, typer.Option(help="Only this club, by its name.")] = None,
    session: Annotated[
        str | None, typer.Option(help='Of several on a day, this one by its name ("effort 70 %") or number.')
    ] = None,
    book: BookAt = None,
    html: Html = None,
    pdf: Pdf = None,
    chat: Chat = None,
    paper: Paper = "a4",
    homework: Homework = None,
    plan: Plan = None,
    with_next: Next = True,
    units: UnitWords = None,
    language: LanguageCode = None,
    whole: Whole = False,
    as_json: AsJson = False,
) -> None:
    """Report one session of a player: text here, and a page, a PDF or a picture where asked for."""
    from facemark.tell.ask import language_from_options, units_from_options
    from facemark.tell.report import json_text
    from facemark.tell.report_content import report_content, report_text
    from facemark.tell.report_files import (
        Wanted,
        next_block,
        read_plan,
        session_from_book,
        write_reports,
    )
    from facemark.tell.session_report import session_report

    shown, tongue = units_from_options(None, units), language_from_options(language)
    wanted = Wanted(html=html, pdf=pdf, chat=chat, paper=paper, whole=whole)
    with existing(book) as opened:
        row = opened.find_player(player)
        found = session_from_book(
            opened, row, day=None if day is None else day_of(day, "--day"), club=club, name=session
        )
        block = None
        if plan is not None:
            block = read_plan(plan)
        elif with_next and found.newest:
            try:
                block = next_block(opened, row, found)
            except FacemarkError as err:  # the report is whole without it
                more = f" Say it once with facemark plan --player {quote(row.name)}."
                remedy = err.remedy + (more if "--" in err.remedy else "")  # its options are not the report's
                typer.echo(f"facemark: no next block: {err}.\n  {remedy}", err=True)
        told = session_report(found.session, before=found.before, plan=block, homework=homework or ())
        write_reports(
            *(told, found.photos, wanted),
            units=shown,
            language=tongue,
            wrote=lambda path: opened.note_export(path, [row.id]),
        )
    typer.echo(json_text(told) if as_json else report_text(report_content(told, shown, tongue)))
