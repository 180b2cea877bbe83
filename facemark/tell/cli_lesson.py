"""The command for many photos. Joined to the rest by ``register``."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from facemark.inputs import ClubKind, ReferenceKind


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
    balls: Annotated[
        int | None, typer.Option(help="How many balls were hit for each photo, where nothing else says.")
    ] = None,
    scale: Annotated[
        ReferenceKind,
        typer.Option(help="The thing of known size in the photos; auto looks for each in turn."),
    ] = ReferenceKind.AUTO,
    tag_mm: Annotated[float | None, typer.Option(help="Side of the tags (DICT_4X4_50), by ruler.")] = None,
    face_mm: Annotated[
        float | None, typer.Option(help="Length of the face from heel to toe, by ruler.")
    ] = None,
    line_mm: Annotated[float | None, typer.Option(help="Length of the printed card's 100 mm line.")] = None,
    spacer_mm: Annotated[
        float, typer.Option(help="How far the scale object lies in front of the face (behind: minus).")
    ] = 0.0,
    left: Annotated[
        bool | None, typer.Option("--left/--right", help="The players' hand, if all share it.")
    ] = None,
    club: Annotated[Path | None, typer.Option(help="Club file for photos whose club nothing names.")] = None,
    kind: Annotated[
        ClubKind | None, typer.Option(help="Kind of club for photos whose club nothing names.")
    ] = None,
    speed: Annotated[float | None, typer.Option(help="Speed of the club head.")] = None,
    speed_unit: Annotated[str, typer.Option(help="Unit of --speed: mps, mph or kmh.")] = "mps",
    centre_mark: Annotated[
        bool,
        typer.Option("--centre-mark", help="Take the printed mark near the face's middle as sweet spot."),
    ] = False,
    day: Annotated[
        datetime | None,
        typer.Option(formats=["%Y-%m-%d"], help="Day of the lesson; otherwise the photos' own."),
    ] = None,
    fast: Annotated[bool, typer.Option(help="One pass instead of several; a little less exact.")] = False,
    jobs: Annotated[
        int | None, typer.Option(help="Photos read side by side; otherwise one a core.", min=1)
    ] = None,
    dask: Annotated[
        str | None, typer.Option(help="Read on a running dask.distributed engine, as tcp://HOST:8786.")
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Write a contact sheet of all faces (.png, .jpg, .webp).")
    ] = None,
    book: Annotated[str | None, typer.Option(help="Path or database address of the book.")] = None,
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
