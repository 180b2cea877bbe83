"""The commands. Each gathers its inputs, calls one function of the core, and hands the result to tell/.

Nothing heavy is imported before a command runs, so that ``--help`` is quick. Results go to standard output,
notes to standard error. Exit codes: 0 done; 1 a fault of ours; 2 wrong use; 3 the photo cannot be measured;
4 a file could not be read or written; 130 stopped.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from copy import copy
from pathlib import Path
from typing import Annotated

import typer
from typer.models import CommandInfo

from facemark.errors import FacemarkError
from facemark.inputs import ReferenceKind
from facemark.tell.cli_report import Chat, Homework, Html, Pdf
from facemark.tell.options import (
    AsJson,
    Balls,
    CentreMark,
    ClubFile,
    EffortPercent,
    FaceMm,
    Fast,
    Kind,
    LanguageCode,
    Left,
    Lengths,
    LineMm,
    Paper,
    Scale,
    SpacerMm,
    Speed,
    SpeedUnit,
    TagMm,
    UnitWords,
    Whole,
)
from facemark.version import VERSION

app = typer.Typer(
    name="facemark",
    help="Reads a photo of a powdered club face: where the balls were struck, and what that did to them.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,  # plain help: loading the coloured one would double the time of --help
)


def _version_asked(asked: bool) -> None:
    if asked:
        import platform

        import cv2
        import numpy

        typer.echo(
            f"facemark {VERSION} (Python {platform.python_version()}, OpenCV {cv2.__version__}, "
            f"numpy {numpy.__version__})"
        )
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version_asked, is_eager=True, help="Print versions and stop."),
    ] = False,
) -> None:
    pass


@app.command()
def read(
    photos: Annotated[
        list[Path], typer.Argument(help="A photo of the face (JPEG, PNG, WebP, HEIC); several with --series.")
    ],
    balls: Balls = None,
    scale: Scale = ReferenceKind.AUTO,
    tag_mm: TagMm = None,
    face_mm: FaceMm = None,
    line_mm: LineMm = None,
    spacer_mm: SpacerMm = 0.0,
    left: Left = None,
    club: ClubFile = None,
    kind: Kind = None,
    speed: Speed = None,
    speed_unit: SpeedUnit = "mps",
    effort: EffortPercent = None,
    centre_mark: CentreMark = False,
    picture: Annotated[Path | None, typer.Option(help="Write the photo with the marks drawn on it.")] = None,
    html: Html = None,
    pdf: Pdf = None,
    chat: Chat = None,
    paper: Paper = "a4",
    homework: Homework = None,
    as_json: AsJson = False,
    whole: Whole = False,
    lengths: Lengths = None,
    units: UnitWords = None,
    language: LanguageCode = None,
    series: Annotated[
        bool, typer.Option("--series", help="The photos show one face after every few balls, in this order.")
    ] = False,
    new: Annotated[
        str | None, typer.Option(help="With --series: new balls before each photo, as in 3,3,4.")
    ] = None,
    fast: Fast = False,
    corrections: Annotated[
        Path | None, typer.Option(help="What to put right by hand (JSON); see docs/reference/results.md.")
    ] = None,
) -> None:
    """Read one photo: each mark in millimetres, the pattern, and what the strike alone did."""
    from facemark.reading import read as read_photo
    from facemark.reading import read_series
    from facemark.tell.ask import (
        check_series,
        language_from_options,
        setup_from_options,
        units_from_options,
    )
    from facemark.tell.files import load, write_picture
    from facemark.tell.report import json_text, reading_text

    shown, tongue = units_from_options(lengths, units), language_from_options(language)
    setup = setup_from_options(
        balls=balls,
        scale=scale,
        tag_mm=tag_mm,
        face_mm=face_mm,
        line_mm=line_mm,
        spacer_mm=spacer_mm,
        left=left,
        club=club,
        kind=kind,
        speed=speed,
        speed_unit=speed_unit,
        effort=effort,
        centre_mark=centre_mark,
    )
    n_new = check_series(len(photos), series=series, new=new, fast=fast)
    loaded = [load(photo) for photo in photos]
    reading = read_series(loaded, setup, n_new=n_new) if series else read_photo(loaded[0], setup, fast=fast)
    if corrections is not None:
        from facemark.corrections import apply_corrections
        from facemark.tell.corrections_file import load_corrections

        reading = apply_corrections(reading.measured, setup, load_corrections(corrections).current)
    record = reading.to_dict()
    if picture is not None:
        from facemark.tell.overlay import draw_overlay

        write_picture(picture, draw_overlay(loaded[-1], record, units=shown, language=tongue, whole=whole))
    if html or pdf or chat:
        from facemark.tell.report_files import Wanted, write_reports
        from facemark.tell.session_report import Session, session_report

        taken = loaded[-1].taken
        session = Session(records=(record,), day=None if taken is None else taken.date())
        told = session_report(session, homework=homework or ())
        wanted = Wanted(html=html, pdf=pdf, chat=chat, paper=paper, whole=whole)
        write_reports(told, [(loaded[-1], record)], wanted, units=shown, language=tongue)
    typer.echo(json_text(record) if as_json else reading_text(record, shown, tongue))


@app.command()
def card(
    out: Annotated[Path, typer.Argument(help="PDF to write.")] = Path("facemark-card.pdf"),
    paper: Paper = "a4",
    label: Annotated[
        str | None, typer.Option(help='Print whose it is, as "mia / driver"; facemark lesson reads it.')
    ] = None,
) -> None:
    """Write the printable scale card, true to size."""
    from facemark.tell.card import write_card
    from facemark.tell.label import label_from_text

    write_card(out, paper, label=None if label is None else label_from_text(label))
    typer.echo(f"{out}: print at 100 % (no 'fit to page'), then check the 100 mm lines with a ruler.")


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="Where photo, picture and text go; made if missing.")],
) -> None:
    """Draw a photo whose truth is known, read it, and print both side by side."""
    from facemark.tell.demo import run_demo

    typer.echo(run_demo(folder))


@app.command()
def check(
    photo: Annotated[Path, typer.Argument(help="A photo of the face (JPEG, PNG, WebP, HEIC).")],
    scale: Scale = ReferenceKind.AUTO,
    tag_mm: TagMm = None,
    face_mm: FaceMm = None,
    kind: Kind = None,
    left: Left = None,
) -> None:
    """Say whether a photo is good enough, and what to do if not; exit code 3 if it cannot be measured."""
    from facemark.tell.ask import setup_from_options
    from facemark.tell.check import check_lines, look_over, usable
    from facemark.tell.files import load

    setup = setup_from_options(
        balls=None,
        scale=scale,
        tag_mm=tag_mm,
        face_mm=face_mm,
        line_mm=None,
        spacer_mm=0.0,
        left=left,
        club=None,
        kind=kind,
        speed=None,
        speed_unit="mps",
    )
    found = look_over(load(photo), setup)
    typer.echo("\n".join(check_lines(photo.name, found)))
    if not usable(found):
        raise typer.Exit(3)


@app.command()
def doctor() -> None:
    """Show versions, settings and where files go."""
    from facemark.tell.doctor import doctor_lines

    typer.echo("\n".join(doctor_lines()))


def _register() -> None:
    """Commands of the other rooms; their modules hold no heavy imports either."""
    from facemark.tell import (
        cli_book,
        cli_explain,
        cli_lesson,
        cli_page,
        cli_pattern,
        cli_plan,
        cli_report,
    )

    if len(app.registered_commands) + len(app.registered_groups) < N_OWN_COMMANDS + 1:
        cli_book.register(app)
        cli_explain.register(app)
        cli_pattern.register(app)
        cli_plan.register(app)
        cli_page.register(app)
        cli_lesson.register(app)
        cli_report.register(app)


N_OWN_COMMANDS = len(app.registered_commands)


def all_commands() -> list[tuple[str, Callable[..., object]]]:
    """Name and function of every command, for the reference page; groups as 'group command'."""
    _register()
    found = [(_name(item), item.callback) for item in app.registered_commands if item.callback]
    for group in app.registered_groups:
        for item in group.typer_instance.registered_commands if group.typer_instance else []:
            if item.callback:
                found += [(f"{group.name} {_name(item)}", item.callback)]
    return found


def _name(item: CommandInfo) -> str:
    return item.name or (item.callback.__name__.replace("_", "-") if item.callback else "")


def _only(words: Sequence[str]) -> typer.Typer:
    """The app, with the options of the command that is asked for: laying out those of all takes 50 ms."""
    lean = copy(app)
    lean.registered_commands = [
        item if _name(item) in words else _without_options(item) for item in app.registered_commands
    ]
    return lean


def _without_options(item: CommandInfo) -> CommandInfo:
    """Name and first sentence, which is what the list of commands shows."""

    def listed() -> None:
        pass

    bare = copy(item)
    bare.name, listed.__doc__ = _name(item), item.callback.__doc__ if item.callback else None
    bare.callback = listed
    return bare


def main() -> None:
    """Entry point: every error of ours becomes a sentence, a remedy and an exit code."""
    try:
        _register()
        _only(sys.argv[1:])()
    except FacemarkError as err:
        typer.echo(f"facemark: {str(err).rstrip('.')}.\n  {err.remedy}", err=True)
        sys.exit(err.exit_code)
    except KeyboardInterrupt:
        typer.echo("facemark: stopped.", err=True)
        sys.exit(130)
    except BrokenPipeError:  # | head
        sys.stderr.close()
        sys.exit(0)
    except MemoryError:
        typer.echo("facemark: not enough memory for this photo.\n  Send a smaller copy.", err=True)
        sys.exit(3)
