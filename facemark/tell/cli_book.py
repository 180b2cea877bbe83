"""Commands about the record: history, forget, and the book itself. Joined to the rest by ``register``."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from facemark.errors import BookError, SetupError
from facemark.tell.options import AsJson, BookAt

if TYPE_CHECKING:
    from facemark.tell.book.rows import Removed
    from facemark.tell.book.store import Book

Yes = Annotated[bool, typer.Option("--yes", help="Do not ask.")]
PlayerName = Annotated[str, typer.Argument(help="The player's nickname.")]

book_app = typer.Typer(
    name="book",
    help="The book: where it is, whether it is whole, joining and keeping.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    for command in (history, export, forget):
        app.command()(command)
    for subcommand in (where, check, merge, keep, overdue):
        book_app.command()(subcommand)
    book_app.command("import")(import_export)
    app.add_typer(book_app, name="book")


def history(
    player: PlayerName,
    club: Annotated[str | None, typer.Option(help="Only this club, by its name.")] = None,
    book: BookAt = None,
    as_json: AsJson = False,
) -> None:
    """A player's sessions, and whether the last was better than the first: better, worse, or cannot tell."""
    from facemark.tell.history import history_lines, history_record, look_back
    from facemark.tell.report import json_text

    with existing(book) as opened:
        found = look_back(opened, opened.find_player(player), club=club)
    typer.echo(json_text(history_record(found)) if as_json else "\n".join(history_lines(found)))


def export(
    out: Annotated[Path, typer.Argument(help="File to write: .csv, .xlsx, .parquet or .json; see --all.")],
    player: Annotated[list[str] | None, typer.Option(help="Only this player; may be repeated.")] = None,
    club: Annotated[str | None, typer.Option(help="Only this club, by its name.")] = None,
    since: Annotated[str | None, typer.Option(help="Only from this day on (2026-05-04).")] = None,
    until: Annotated[str | None, typer.Option(help="Only up to this day.")] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="All about one --player, as a new folder or .zip to hand over.")
    ] = False,
    locale: Annotated[
        str, typer.Option(help="CSV for spreadsheets of the country: point or comma.")
    ] = "point",
    book: BookAt = None,
) -> None:
    """Write the record for spreadsheets and programs; or all about one player, to hand over."""
    from facemark.tell.book.outgoing import Choice
    from facemark.tell.exports.everything import write_everything
    from facemark.tell.exports.write import Locale, write_export

    if locale not in set(Locale):
        raise SetupError(f"--locale {locale!r} is not known", remedy="Use point or comma.")
    if everything and (len(player or ()) != 1 or club or since or until):
        raise SetupError("--all goes with one --player and nothing else", remedy="Name the player.")
    with existing(book) as opened:
        players = [opened.find_player(name) for name in player or ()]
        if everything:
            written = write_everything(out, opened, players[0], locale=Locale(locale))
        else:
            choice = Choice(
                player_ids=tuple(row.id for row in players),
                club=club,
                since=None if since is None else day_of(since, "--since"),
                until=None if until is None else day_of(until, "--until"),
            )
            written = write_export(out, opened, choice, locale=Locale(locale))
    typer.echo("\n".join(str(path) for path in written))
    typer.echo("facemark forget finds and deletes these files, unless they are moved or changed.", err=True)


def import_export(
    file: Annotated[Path, typer.Argument(help="A file that facemark export wrote.")], book: BookAt = None
) -> None:
    """Bring an exported file back in: the same numbers, nothing twice."""
    from facemark.tell.book.store import Book
    from facemark.tell.exports.read import import_file

    with Book.open(book) as opened:
        merged = import_file(file, opened)
        name = str(opened.place)
    known = counted(merged.known) or "nothing"
    typer.echo(f"{name}: new {counted(merged.added) or 'nothing'}; known already {known}.")


def forget(
    player: PlayerName,
    proof: Annotated[Path | None, typer.Option(help="Write the proof to this file (.txt or .json).")] = None,
    book: BookAt = None,
    yes: Yes = False,
    as_json: AsJson = False,
) -> None:
    """Delete everything about a player: rows, kept pictures, exports; say what went and what may remain."""
    from facemark.record import plain
    from facemark.tell.files import write_text
    from facemark.tell.report import json_text

    if proof is not None and proof.suffix not in (".txt", ".json"):
        raise SetupError(f"the proof is written as .txt or .json, got {proof.name}", remedy="Choose one.")
    with existing(book) as opened:
        row = opened.find_player(player)
        n_sessions, n_exports = len(opened.summaries(row.id)), len(opened.exports(row.id))
        n_shared = opened.n_shared_exports(row.id)
        shared = f" ({n_shared} of them hold other players too)" if n_shared else ""
        confirm(
            f"Delete {row.name} with {n_sessions} session(s) and {n_exports} exported file(s){shared} from"
            f" {opened.place}? This cannot be undone",
            yes=yes,
        )
        removed = opened.forget_player(row.id)
    text, record = "\n".join(proof_lines(removed)), json_text(plain(removed))
    typer.echo(record if as_json else text)  # first: there is no second proof if the file cannot be written
    if proof is not None:
        write_text(proof, (record if proof.suffix == ".json" else text) + "\n")


def proof_lines(removed: Removed) -> list[str]:
    """What was deleted, and what may remain."""
    lines = [
        f"Forgotten: {removed.what}, {removed.when:%Y-%m-%d %H:%M} UTC.",
        f"Rows deleted: {counted(removed.rows)}.",
    ]
    lines += [
        f"File deleted: {path}" + (" (it held other players too)" if path in removed.shared_files else "")
        for path in removed.files
    ]
    return [*lines, "What may remain:", *(f"- {line}" for line in removed.remains)]


def counted(rows: Mapping[str, int]) -> str:
    """'1 player, 3 readings'; what is not there is not named."""
    from facemark.tell.words import plural

    return ", ".join(plural(n, name) for name, n in rows.items() if n and "_" not in name)


def confirm(question: str, *, yes: bool) -> None:
    """Ask before something is lost; without a terminal there must be a --yes.

    Raises
    ------
    SetupError
        Nobody can be asked.
    """
    if yes:
        return
    if not sys.stdin.isatty():
        raise SetupError(f"{question}: nobody can be asked here", remedy="Say --yes if it is meant.")
    if not typer.confirm(question, err=True):
        typer.echo("Nothing was deleted.", err=True)
        raise typer.Exit(130)


def where(book: BookAt = None) -> None:
    """Say where the book is; nothing is made."""
    from facemark.tell.book.where import find_place

    place = find_place(book)
    if place.path is None:
        typer.echo(f"{place} (a server)")
    elif place.path.is_file():
        typer.echo(f"{place} ({place.path.stat().st_size / 1e6:.1f} MB)")
    else:
        typer.echo(f"{place} (none yet)")


def check(book: BookAt = None) -> None:
    """Look through the whole book: database, records, kept pictures; exit code 4 if something is wrong."""
    from facemark.tell.book.check import check_book, troubles_told

    with existing(book) as opened:
        checked = check_book(opened)
        name = str(opened.place)
    typer.echo(f"{name}: {counted(checked.n_rows) or 'empty'}.")
    for note in checked.notes:
        typer.echo(f"Note: {note}.")
    if checked.troubles:
        typer.echo("\n".join(troubles_told(checked)))
        copy = " Keep this file; put the newest good copy in its place." if checked.damaged else ""
        typer.echo(f"No row was changed.{copy}", err=True)
        raise typer.Exit(4)
    typer.echo("Everything in order.")


def merge(
    other: Annotated[str, typer.Argument(help="The other bay's book: a path or a database address.")],
    book: BookAt = None,
) -> None:
    """Join another bay's book into this one; duplicates are recognised, doing it twice changes nothing."""
    from facemark.tell.book.store import Book

    with existing(other) as theirs, Book.open(book) as opened:
        merged = opened.merge(theirs)
        name = str(opened.place)
    known = counted(merged.known) or "nothing"
    typer.echo(f"{name}: new {counted(merged.added) or 'nothing'}; known already {known}.")


def keep(
    player: PlayerName,
    until: Annotated[str, typer.Option(help="Keep the record until this day (2027-09-30), or: never.")],
    book: BookAt = None,
) -> None:
    """Set the day from which a player's record is overdue for deletion."""
    day = None if until == "never" else day_of(until, "--until")
    with existing(book) as opened:
        row = opened.update_player(opened.find_player(player).id, keep_until=day)
    typer.echo(f"{row.name}: {'no date set' if day is None else f'to be kept until {day}'}.")
    if day is not None and day < dt.date.today():
        typer.echo("That day is past: the record is overdue for deletion as of now.")


def overdue(book: BookAt = None, as_json: AsJson = False) -> None:
    """List players whose record was to be kept no longer than until yesterday."""
    from facemark.record import plain
    from facemark.tell.report import json_text
    from facemark.version import SCHEMA

    today = dt.date.today()
    with existing(book) as opened:
        players = opened.players()
    late = [row for row in players if row.keep_until is not None and row.keep_until < today]
    if as_json:
        typer.echo(json_text({"schema": SCHEMA, "players": plain(late)}))
        return
    for row in late:
        typer.echo(f"{row.name}: was to be kept until {row.keep_until}. facemark forget, or a new date.")
    undated = sum(row.keep_until is None for row in players)
    typer.echo(f"{len(late)} of {len(players)} player(s) overdue; {undated} without a date.")


def day_of(text: str, option: str) -> dt.date:
    """A day as typed.

    Raises
    ------
    SetupError
        It is none.
    """
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise SetupError(f"{option} {text!r} is no day", remedy="Write it as 2027-09-30.") from None


def existing(where: str | None) -> Book:
    """Open a book that must be there already: looking at one must not make one."""
    from facemark.tell.book.store import Book
    from facemark.tell.book.where import find_place

    place = find_place(where)
    if place.path is not None and not place.path.is_file():
        raise BookError(
            f"there is no book at {place}", remedy="Check the path, or read photos into it first."
        )
    return Book.open(where)
