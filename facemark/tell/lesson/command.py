"""``facemark lesson``, from what was asked to what is printed."""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from facemark.errors import BookError, SetupError
from facemark.inputs import Hand, Setup
from facemark.tell.book.identity import clean_name, name_key
from facemark.tell.book.store import Book
from facemark.tell.lesson.clubs import find_clubs
from facemark.tell.lesson.cluster import ClusterEngine
from facemark.tell.lesson.engine import Engine, LocalEngine, usual_jobs
from facemark.tell.lesson.keep import Keeper
from facemark.tell.lesson.names import compile_pattern
from facemark.tell.lesson.photos import Found, find_photos, is_address
from facemark.tell.lesson.progress import Progress
from facemark.tell.lesson.run import Entry, LessonRun
from facemark.tell.lesson.sheet import LessonSheet, find_sheet
from facemark.tell.lesson.summary import Tally, entry_record, summary_lines
from facemark.tell.lesson.who import Common, gather_faces
from facemark.tell.settings import config_folder, settings

CLUB_FOLDER = "clubs"  # in the settings' folder: club files for every lesson


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The command's options."""

    folder: str
    setup: Setup
    pattern: str | None = None
    player: str | None = None
    left: bool | None = None
    club_told: bool = False
    day: dt.date | None = None
    fast: bool = False
    n_workers: int | None = None
    dask: str | None = None
    sheet: Path | None = None
    book: str | None = None
    as_json: bool = False


def run_command(asked: Asked, echo: Callable[[str], None]) -> bool:
    """Read the lesson and print what came of it; whether any photo was not read.

    Raises
    ------
    PhotoError
        There is no photo in the folder.
    SetupError, BookError
        What was asked cannot be; the folder, the sheet or the book cannot be used.
    """
    if asked.sheet is not None:
        _check_sheet(asked.sheet)
    found = find_photos(asked.folder)
    common, sheet = _common(asked)
    faces = gather_faces(
        found.photos,
        sheet=sheet,
        pattern=None if asked.pattern is None else compile_pattern(asked.pattern),
        shelf=common.shelf,
        player_told=common.player is not None,
    )
    tally, pictured = Tally(), []
    with (
        _engine(asked, len(faces)) as engine,
        Book.open(asked.book) as book,
        Progress(len(faces)) as progress,
    ):
        run = LessonRun(
            faces,
            common=common,
            keeper=Keeper(book),
            fast=asked.fast,
            want_pictures=asked.sheet is not None,
        )
        for entry in _until_stopped(run.entries(engine)):
            progress.step(needs_care=entry.needs_care)
            tally.add(entry)
            if asked.sheet is not None:
                pictured.append(entry)
            if asked.as_json:
                echo(json.dumps(entry_record(entry), ensure_ascii=False, allow_nan=False))
    _say_end(asked, found, sheet, tally, pictured, echo)
    return tally.failed


def _until_stopped(entries: Iterator[Entry]) -> Iterator[Entry]:
    """Say on Ctrl-C what the coach wants to know; the exit code is the command line's."""
    try:
        yield from entries
    except KeyboardInterrupt:
        print(
            "facemark: stopped. What was read is in the book; the same words go on from there.",
            file=sys.stderr,
        )
        raise


def _say_end(
    asked: Asked,
    found: Found,
    sheet: LessonSheet | None,
    tally: Tally,
    pictured: list[Entry],
    echo: Callable[[str], None],
) -> None:
    lines = summary_lines(tally, found.strays)
    lines += [f"The folder {name} may not be read; its photos are missing." for name in found.unreadable]
    if sheet is not None:
        idle = sheet.idle_patterns(found.photos)
        lines += [f"{sheet.file}: {pattern} fits no photo." for pattern in idle]
    if not asked.as_json:
        echo("\n".join(lines))
    if asked.sheet is not None:  # last: an hour's result does not hang on a full disk
        pages = _write_sheet(asked.sheet, asked.book, pictured)
        if not asked.as_json:
            echo(f"Contact sheet: {', '.join(map(str, pages))}")


def _write_sheet(sheet: Path, where: str | None, pictured: list[Entry]) -> list[Path]:
    """Pages that show a player are found again when the player is forgotten, so each is noted at once."""
    from facemark.tell.lesson.contact import write_contact_sheet

    pages = []
    shown = {name_key(entry.player) for entry in pictured if entry.player is not None}
    with Book.open(where) as book:
        ids = [player.id for player in book.players() if name_key(player.name) in shown]
        for page in write_contact_sheet(sheet, pictured):
            book.note_export(page, ids)
            pages.append(page)
    return pages


def _common(asked: Asked) -> tuple[Common, LessonSheet | None]:
    folders, sheet = [config_folder() / CLUB_FOLDER], None
    if not is_address(asked.folder):
        folders.insert(0, Path(asked.folder))
        sheet = find_sheet(Path(asked.folder))
    hand = None if asked.left is None else Hand.LEFT if asked.left else Hand.RIGHT
    common = Common(
        setup=asked.setup,
        shelf=find_clubs(*folders),
        player=None if asked.player is None else clean_name(asked.player),
        hand=hand,
        club_told=asked.club_told or settings()["club"].value is not None,
        day=asked.day,
    )
    return common, sheet


def _engine(asked: Asked, n_faces: int) -> Engine:
    if asked.dask is not None:
        if asked.n_workers is not None:
            raise SetupError(
                "--jobs and --dask were both given",
                remedy="The engine knows its own workers; leave --jobs out.",
            )
        return ClusterEngine(asked.dask)
    return LocalEngine(min(n_faces, asked.n_workers or usual_jobs()))


def _check_sheet(path: Path) -> None:
    """Found out now, not after an hour of reading."""
    if path.suffix.lower() not in (".png", ".jpg", ".jpeg", ".webp"):
        raise BookError(
            f"{path.name}: a contact sheet is written as .png, .jpg or .webp", remedy="Choose one of these."
        )
    if path.is_dir():
        raise BookError(f"{path} is a folder", remedy="Name a file for the sheet.")
    if not path.parent.is_dir() or not os.access(path.parent, os.W_OK):
        raise BookError(f"{path.parent} cannot be written to", remedy="Name another place for the sheet.")
