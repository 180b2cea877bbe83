"""The command for many photos. Joined to the rest by ``register``."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from facemark.inputs import ReferenceKind
from facemark.tell.options import (
    Balls,
    BookAt,
    CentreMark,
    ClubFile,
    EffortPercent,
    FaceMm,
    Fast,
    Kind,
    Left,
    LineMm,
    Scale,
    SpacerMm,
    Speed,
    SpeedUnit,
    TagMm,
)


def register(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(lesson)


def lesson(
    folder: Annotated[str, typer.Argument(help="Folder of photos, or an address (s3://..., needs fsspec).")],
    pattern: Annotated[
        str | None,
        typer.Option(help='What names say, as "{player}/{club}/*"; otherwise folders and prefixes.'),
    ] = None,
    player: Annotated[str | None, typer.Option(help="Every photo is of this player (nickname).")] = None,
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
    day: Annotated[
        datetime | None,
        typer.Option(formats=["%Y-%m-%d"], help="Day of the lesson; otherwise the photos' own."),
    ] = None,
    fast: Fast = False,
    jobs: Annotated[
        int | None, typer.Option(help="Photos read side by side; otherwise one a core.", min=1)
    ] = None,
    dask: Annotated[
        str | None, typer.Option(help="Read on a running dask.distributed engine, as tcp://HOST:8786.")
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Write a contact sheet of all faces (.png, .jpg, .webp).")
    ] = None,
    book: BookAt = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one line of JSON for each photo.")] = False,
) -> None:
    """Read every photo of a folder into the book; exit code 3 if any could not be read."""
    from facemark.tell.ask import setup_from_options
    from facemark.tell.lesson.command import Asked, run_command

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
    asked = Asked(
        folder=folder,
        setup=setup,
        pattern=pattern,
        player=player,
        left=left,
        club_told=club is not None or kind is not None,
        day=None if day is None else day.date(),
        fast=fast,
        n_workers=jobs,
        dask=dask,
        sheet=sheet,
        book=book,
        as_json=as_json,
    )
    if run_command(asked, typer.echo):
        raise typer.Exit(3)
