"""Shows on a drawn photo what facemark does, beside the truth that only a drawing has.

The photo is made by see/draw.py, written as a file, and read from that file like any other: nothing of the
truth reaches the reading but what a player would tell (tags' side, hand, number of balls).
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from facemark.clubs import typical_club
from facemark.errors import BookError
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind, Setup
from facemark.reading import read
from facemark.see.draw import DrawRecipe, draw_photo
from facemark.tell.files import load, write_picture, write_text, written_whole
from facemark.tell.overlay import draw_overlay
from facemark.tell.report import reading_text
from facemark.tell.words import Units, place_words

SEED = 4  # the same photo every time
TAG_MM = 24.0
HITS_MM = ((14.0, 6.0), (-11.0, 9.0), (2.0, -12.0), (-19.0, -9.0))  # toe and up plus, from the face's middle
SIZE_PX = (2000, 1500)
MATCH_MM = 8.0  # a mark read farther away than this is another one

PHOTO_NAME, PICTURE_NAME, TEXT_NAME = "demo.jpg", "demo-read.png", "demo.txt"


def run_demo(folder: Path) -> str:
    """Draw one photo, read it, write photo, picture and text into ``folder``; the text to print.

    Raises
    ------
    BookError
        The folder cannot be made or written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise BookError(
            f"the folder {folder} could not be made ({err.strerror or err})",
            remedy="Name a folder that can be written to.",
        ) from None
    recipe = DrawRecipe(
        tier="easy",
        kind=ClubKind.DRIVER,
        hand=Hand.RIGHT,
        reference=ReferenceKind.TAGS,
        tag_side_mm=TAG_MM,
        hits_mm=HITS_MM,
        size_px=SIZE_PX,
    )
    drawn = draw_photo(recipe, np.random.default_rng(SEED), name=PHOTO_NAME)
    with written_whole(folder / PHOTO_NAME) as temporary:
        temporary.write_bytes(drawn.jpeg)
    setup = Setup(
        club=typical_club(ClubKind.DRIVER),
        hand=Hand.RIGHT,
        reference=Reference(kind=ReferenceKind.TAGS, size_mm=drawn.truth["reference"]["marker_side_mm"]),
        n_balls=len(HITS_MM),
    )
    photo = load(folder / PHOTO_NAME)
    record = read(photo, setup).to_dict()
    text = "\n".join([*beside_truth(record, drawn.truth), "", reading_text(record, Units())])
    write_picture(folder / PICTURE_NAME, draw_overlay(photo, record))
    write_text(folder / TEXT_NAME, text + "\n")
    files = ", ".join(str(folder / name) for name in (PHOTO_NAME, PICTURE_NAME, TEXT_NAME))
    return f"{text}\n\nWritten: {files}"


def beside_truth(record: dict[str, Any], truth: dict[str, Any]) -> list[str]:
    """One line for every ball drawn: where it is, where it was read; then what was read too much.

    Both are measured from the middle of the face's outline.
    """
    spot = record["sweet_spot"]
    read_mm = {
        m["letter"]: (m["toe_mm"] + spot["toe_mm"], m["high_mm"] + spot["high_mm"]) for m in record["marks"]
    }
    err_mm = {m["letter"]: 1.96 * max(m["toe_err_mm"], m["high_err_mm"]) for m in record["marks"]}
    lines = ["A drawn photo, so the truth is known (from the middle of the face):"]
    left = dict(read_mm)
    for mark in truth["marks"]:
        at = (mark["x_mm"], mark["y_mm"])
        nearest = min(left, key=lambda letter: math.dist(left[letter], at), default=None)
        drawn_at = f"drawn at {place_words(*at):<24s}"
        if nearest is None or math.dist(left[nearest], at) > MATCH_MM:
            lines.append(f"  -  {drawn_at} not read")
            continue
        place = left.pop(nearest)
        off = f"{math.dist(place, at):.1f} mm away (±{err_mm[nearest]:.1f} mm)"
        lines.append(f"  {nearest}  {drawn_at} read at {place_words(*place):<24s} {off}")
    lines += [
        f"  {letter}  nothing drawn at  read at {place_words(*place)}" for letter, place in left.items()
    ]
    toe_mm, high_mm = truth["sweet_spot_mm"]
    lines.append(f"  Its sweet spot lies {place_words(toe_mm, high_mm)}; the reading assumed the middle.")
    return lines
