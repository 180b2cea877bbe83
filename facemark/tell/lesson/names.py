"""What do folder and file names say? Who, and which club.

Without a pattern: of the folders above a photo, one that is the name of a club is the club, and one other is
the player; a file's name may begin with the club (``driver_12.jpg``). What is left over is not guessed at.
With a pattern such as ``{player}/{club}/*`` the names must fit it, and nothing else counts.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from facemark.errors import SetupError
from facemark.tell.lesson.photos import Source

FIELDS = ("player", "club", "hand", "balls", "effort", "tee_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What a photo's names say; ``doubt`` tells why they say nothing."""

    said: tuple[tuple[str, str], ...] = ()
    doubt: str | None = None


def compile_pattern(pattern: str) -> re.Pattern[str]:
    """A pattern as typed: fields of FIELDS in braces, and * for anything between strokes.

    Raises
    ------
    SetupError
        An unknown field, one used twice, or none at all.
    """
    expression, fields = "", []
    for piece in re.split(r"(\{[^{}]*\}|\*)", pattern.strip("/")):
        if piece == "*":
            expression += "[^/]*"
        elif piece.startswith("{"):
            name = piece[1:-1].strip()
            if name not in FIELDS or name in fields:
                raise SetupError(
                    f"the pattern {pattern!r} holds {piece}"
                    + (" twice" if name in fields else ", which is not known"),
                    remedy=f"Use each of {', '.join('{' + item + '}' for item in FIELDS)} at most once.",
                )
            fields.append(name)
            # As little as possible, so that {player}_{club}_* takes the first two pieces.
            expression += f"(?P<{name}>[^/]+?)"
        else:
            expression += re.escape(piece)
    if not fields:
        raise SetupError(
            f"the pattern {pattern!r} names nothing", remedy='Write it as --pattern "{player}/{club}/*".'
        )
    return re.compile(expression, re.IGNORECASE)


def names_by_pattern(source: Source, pattern: re.Pattern[str]) -> Named:
    """What a photo's path says under a pattern."""
    fits = pattern.fullmatch(source.name)
    if fits is None:
        return Named(doubt="its name does not fit the pattern")
    return Named(said=tuple((name, value.strip()) for name, value in fits.groupdict().items()))


def names_by_custom(source: Source, is_club: Callable[[str], bool], *, player_told: bool) -> Named:
    """What a photo's path says without a pattern.

    ``player_told``: the player is known from elsewhere, so a folder that is no club says nothing.
    """
    clubs = [folder for folder in source.folders if is_club(folder)]
    others = [folder for folder in source.folders if not is_club(folder)]
    prefix = _club_prefix(source.file, is_club)
    if prefix is not None and prefix.casefold() not in {club.casefold() for club in clubs}:
        clubs.append(prefix)
    said = []
    if len(clubs) > 1:
        return Named(doubt=f"its names speak of {len(clubs)} clubs ({', '.join(clubs)})")
    if clubs:
        said.append(("club", clubs[0]))
    if not player_told:
        if len(others) > 1:
            return Named(
                doubt=f"which of {', '.join(others)} is the player, or is one a club without a file?"
            )
        if not others:
            return Named(said=tuple(said), doubt="it lies in no player's folder")
        if not any(letter.isalpha() for letter in others[0]):
            return Named(said=tuple(said), doubt=f"the folder {others[0]} is no player's name")
        said.append(("player", others[0]))
    return Named(said=tuple(said))


def _club_prefix(file: str, is_club: Callable[[str], bool]) -> str | None:
    """The longest beginning of a file's name, up to a separator, that is a club."""
    stem = file.rsplit(".", 1)[0]
    ends = [len(stem), *(found.start() for found in re.finditer(r"[ _-]", stem))]
    return next((stem[:end] for end in sorted(ends, reverse=True) if is_club(stem[:end])), None)
