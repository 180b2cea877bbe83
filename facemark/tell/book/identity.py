"""When are two things the same? Photos by content, settings and clubs by numbers, players by nickname."""

from __future__ import annotations

import hashlib
import json
import math
import os
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from facemark.clubs import MAY_BE_FLAT
from facemark.errors import BookError, SetupError
from facemark.inputs import Club, ClubKind, Photo, Setup
from facemark.tell.book.rows import PhotoFacts

if TYPE_CHECKING:
    from collections.abc import Iterable

MAX_NAME = 80  # characters of a nickname; with room for any file system's limit of 255 bytes


def photo_facts(source: str | os.PathLike[str] | bytes, photo: Photo) -> PhotoFacts:
    """What the book remembers of a photo.

    Parameters
    ----------
    source : the photo's file, or its bytes as they came.
    photo : the same photo, loaded.

    Raises
    ------
    BookError
        The file cannot be read.
    """
    if not isinstance(source, bytes):
        source = _content(Path(source))
    return PhotoFacts(
        sha256=hashlib.sha256(source).hexdigest(),
        name=photo.name,
        taken=photo.taken,
        width_px=photo.width_px,
        height_px=photo.height_px,
    )


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as err:
        raise BookError(
            f"{path} could not be read ({err.strerror})", remedy="Check the name and its permissions."
        ) from None


def settings_sha(setup: Setup) -> str:
    """One name for everything told about a set of balls: the same setup, the same 64 hexadecimal digits."""
    from facemark.record import plain

    return content_sha(plain(setup))


def content_sha(data: Any) -> str:
    """Name of plain data by its content; order of keys does not matter."""
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def club_of(data: Mapping[str, Any]) -> Club:
    """A club from its plain data (``record.plain``), where a flat face's radius stands as null."""
    told = dict(data)
    for name in MAY_BE_FLAT:
        told[name] = math.inf if told[name] is None else float(told[name])
    return Club(
        **told
        | {
            "kind": ClubKind(told["kind"]),
            "assumed": frozenset(told["assumed"]),
            "errs": MappingProxyType(dict(told["errs"])),
        }
    )


def clean_name(name: str) -> str:
    """A nickname as it is stored: composed letters, single blanks, no control characters.

    Raises
    ------
    SetupError
        Empty, longer than 80 characters, or not writable.
    """
    clean = " ".join(unicodedata.normalize("NFC", name).split())
    if not clean:
        raise SetupError("a nickname was expected, an empty name came", remedy="Give the player a nickname.")
    if len(clean) > MAX_NAME:
        raise SetupError(
            f"a nickname has at most {MAX_NAME} characters, {len(clean)} came ({clean[:20]}...)",
            remedy="Use a shorter nickname.",
        )
    if any(unicodedata.category(sign) in ("Cc", "Cs") for sign in clean):
        raise SetupError(
            f"the nickname {clean!r} holds control characters", remedy="Use letters, digits and signs."
        )
    return clean


def name_key(name: str) -> str:
    """What makes two nicknames one player: the name without upper and lower case."""
    return unicodedata.normalize("NFKC", clean_name(name)).casefold()


def near_names(name: str, known: Iterable[str]) -> list[str]:
    """Up to three known names that look like ``name``."""
    from difflib import get_close_matches

    by_key = {name_key(item): item for item in known}
    return [by_key[key] for key in get_close_matches(name_key(name), by_key, n=3, cutoff=0.5)]
