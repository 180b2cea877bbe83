"""All faces of a lesson at a glance: small pictures with their marks, name, count and label, on a few pages.

What could not be read has its place too, with the reason: an empty field is seen sooner than a missing one.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from facemark.tell.files import write_picture
from facemark.tell.fonts import picture_font
from facemark.tell.lesson.jobs import SMALL_WIDTH_PX
from facemark.tell.lesson.run import Entry, Status
from facemark.tell.words import headline_words, plural

COLUMNS, ROWS = 3, 5
PICTURE_HEIGHT_PX = 400  # a face of a driver is half as high as it is long
WORDS_HEIGHT_PX = 92  # three lines
GAP_PX = 14
INK, PAPER, EMPTY = (0, 0, 0), (255, 255, 255), (226, 226, 226)


def write_contact_sheet(path: Path, entries: list[Entry]) -> Iterator[Path]:
    """Write the pages: PATH, then PATH-2, PATH-3, ... beside it; each is given as soon as it is there.

    Parameters
    ----------
    path : Path
        Ends in .png, .jpg or .webp.
    entries : list of Entry
        In any order; shown by player, club and name.

    Raises
    ------
    BookError
        A file cannot be written.
    """
    ordered = sorted((entry for entry in entries if entry.status is not Status.SAME), key=_order)
    on_page = COLUMNS * ROWS
    pages = [ordered[i : i + on_page] for i in range(0, len(ordered), on_page)]
    for number, page in enumerate(pages, start=1):
        name = path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")
        write_picture(name, np.array(_page(page)))
        yield name


def _order(entry: Entry) -> tuple[bool, str, str, str]:
    player, club = entry.player or "", entry.club_words or ""
    return (entry.needs_care, player.casefold(), club.casefold(), entry.face.name)


def _page(entries: list[Entry]) -> Image.Image:
    cell = (SMALL_WIDTH_PX + GAP_PX, PICTURE_HEIGHT_PX + WORDS_HEIGHT_PX + GAP_PX)
    n_rows = -(-len(entries) // COLUMNS)
    page = Image.new("RGB", (COLUMNS * cell[0] + GAP_PX, n_rows * cell[1] + GAP_PX), PAPER)
    for i, entry in enumerate(entries):
        left, top = GAP_PX + (i % COLUMNS) * cell[0], GAP_PX + (i // COLUMNS) * cell[1]
        _draw_entry(page, entry, left, top)
    return page


def _draw_entry(page: Image.Image, entry: Entry, left: int, top: int) -> None:
    pen = ImageDraw.Draw(page)
    lines = _lines(entry)
    if entry.picture is not None:
        with Image.open(io.BytesIO(entry.picture)) as small:
            small.thumbnail((SMALL_WIDTH_PX, PICTURE_HEIGHT_PX))
            page.paste(
                small,
                (left + (SMALL_WIDTH_PX - small.width) // 2, top + (PICTURE_HEIGHT_PX - small.height) // 2),
            )
    else:
        pen.rectangle((left, top, left + SMALL_WIDTH_PX - 1, top + PICTURE_HEIGHT_PX - 1), fill=EMPTY)
        reason = entry.failed.message if entry.failed else (entry.note or "no picture")
        for row, words in enumerate(_wrapped(f"Not read: {reason}" if entry.failed else reason, 22.0)[:9]):
            pen.text((left + 24, top + 60 + row * 32), words, fill=INK, font=_font(22.0))
    for row, (words, size) in enumerate(lines):
        pen.text((left + 4, top + PICTURE_HEIGHT_PX + 4 + row * 29), words, fill=INK, font=_font(size))


def _lines(entry: Entry) -> list[tuple[str, float]]:
    """Whose; how many marks and which pattern; the file."""
    whose = "whose?" if entry.told is None else f"{entry.player}, {entry.club_words}"
    if entry.session is not None and entry.session.name:
        whose += f", {entry.session.name}"
    found = ""
    if entry.record is not None:
        headline = headline_words(entry.record["pattern"]["headline"])
        marks = plural(len(entry.record["marks"]), "mark")
        if not entry.record["separable"]:
            marks = f"at least {plural(entry.record['n_least'], 'mark')}"
        found = f"{marks}; {headline}"
    return [(_cut(whose, 25.0), 25.0), (_cut(found, 22.0), 22.0), (_cut(entry.face.name, 19.0), 19.0)]


def _cut(words: str, size: float) -> str:
    """Words that fit the cell; what is too long loses its beginning, because endings tell files apart."""
    font, room = _font(size), SMALL_WIDTH_PX - 8
    if font.getlength(words) <= room:
        return words
    while words and font.getlength("..." + words) > room:
        words = words[1:]
    return "..." + words


def _wrapped(words: str, size: float) -> list[str]:
    font, lines = _font(size), [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if font.getlength(longer) > SMALL_WIDTH_PX - 48 and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _font(size: float) -> Any:
    return picture_font(round(size))
