"""From what was typed to a Setup: options first, then the user's settings, then typical values."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from facemark.clubs import typical_club
from facemark.errors import SetupError
from facemark.inputs import Club, ClubKind, Hand, Reference, ReferenceKind, Setup
from facemark.tell.language import Language, language_named
from facemark.tell.settings import settings
from facemark.tell.units import Lengths, Units, units_of

# Exact by definition: 1 mile = 1609.344 m.
MPS_PER_UNIT = {"mps": 1.0, "mph": 1609.344 / 3600.0, "kmh": 1.0 / 3.6}


def setup_from_options(
    *,
    balls: int | None,
    scale: ReferenceKind,
    tag_mm: float | None,
    face_mm: float | None,
    line_mm: float | None,
    spacer_mm: float,
    left: bool | None,
    club: Path | None,
    kind: ClubKind | None,
    speed: float | None,
    speed_unit: str,
    effort: float | None = None,
    centre_mark: bool = False,
) -> Setup:
    """Check and join the options of ``facemark read``.

    Raises
    ------
    SetupError
        Options that contradict each other or cannot be.
    """
    chosen = settings()
    hand = None if chosen["hand"].value is None else Hand(chosen["hand"].value)
    if left is not None:
        hand = Hand.LEFT if left else Hand.RIGHT
    if club is None and kind is None and chosen["club"].value is not None:
        club = Path(chosen["club"].value)
    return Setup(
        club=club_from_options(club, kind),
        hand=hand,
        reference=reference_from_options(
            scale, tag_mm=tag_mm, face_mm=face_mm, line_mm=line_mm, spacer_mm=spacer_mm
        ),
        n_balls=balls,
        head_mps=speed_mps(speed, speed_unit),
        effort_frac=None if effort is None else effort / 100.0,
        centre_mark=centre_mark,
    )


def check_series(
    n_photos: int, *, series: bool, new: str | None, fast: bool = False
) -> list[int | None] | None:
    """What ``--series`` and ``--new`` say about the photos: new balls before each, or None if not told.

    Raises
    ------
    SetupError
        Several photos without --series, --new without it, --fast with it, or counts that are none.
    """
    if not series:
        if new is not None:
            raise SetupError("--new came without --series", remedy="Say both, or neither.")
        if n_photos > 1:
            raise SetupError(
                f"{n_photos} photos came without --series",
                remedy="Read them one by one, or say --series when they show one face after every few balls.",
            )
        return None
    if fast:
        raise SetupError(
            "--fast came with --series", remedy="A series is always read in full; leave --fast out."
        )
    if new is None:
        return None
    try:
        counts: list[int | None] = [int(part) for part in new.split(",")]
    except ValueError:
        raise SetupError(f"--new {new!r} holds no counts", remedy="Write it as 3,3,4.") from None
    if any(n is not None and n < 0 for n in counts):
        raise SetupError(f"--new {new!r} counts fewer than no balls", remedy="Write it as 3,3,4.")
    return counts


def club_from_options(club: Path | None, kind: ClubKind | None) -> Club:
    """The club file's club, or a typical one of the kind (driver if nothing is said)."""
    if club is None:
        return typical_club(kind or ClubKind.DRIVER)
    from facemark.tell.clubfile import load_club

    loaded = load_club(club)
    if kind is not None and kind is not loaded.kind:
        raise SetupError(
            f"{club.name} describes a {loaded.kind.value}, but --kind says {kind.value}",
            remedy="Leave --kind out, or name the right club file.",
        )
    return loaded


def speed_mps(speed: float | None, unit: str) -> float | None:
    """A speed in m/s; None stays None."""
    if unit not in MPS_PER_UNIT:
        raise SetupError(f"the unit {unit!r} is not known", remedy=f"Use {', '.join(MPS_PER_UNIT)}.")
    if speed is None:
        return None
    if not math.isfinite(speed):
        raise SetupError(f"the speed {speed} is no number", remedy="Give the club head's speed.")
    return speed * MPS_PER_UNIT[unit]


def units_from_options(lengths: str | None, units: str | None = None) -> Units:
    """Units as asked, else as set: ``--lengths`` before ``--units`` before the settings of these names.

    Raises
    ------
    SetupError
        A unit nobody knows.
    """
    chosen = settings()
    found = units_of(chosen["lengths"].value or "m")
    for words in (chosen["units"].value, units):
        if words:
            found = units_of(words, found)
    if lengths is None:
        return found
    if lengths not in {item.value for item in Lengths}:
        raise SetupError(f"--lengths {lengths!r} is not known", remedy="Use m or yd.")
    return replace(found, lengths=Lengths(lengths))


def language_from_options(language: str | None) -> Language:
    """The language as asked, else as set.

    Raises
    ------
    SetupError
        A language without a table.
    """
    return language_named(language or settings()["language"].value)


def reference_from_options(
    kind: ReferenceKind,
    *,
    tag_mm: float | None,
    face_mm: float | None,
    line_mm: float | None,
    spacer_mm: float,
) -> Reference:
    """The scale object, from the options that speak of it; a SetupError if they contradict each other."""
    sizes = {
        "--tag-mm": (tag_mm, ReferenceKind.TAGS),
        "--face-mm": (face_mm, ReferenceKind.FACE),
        "--line-mm": (line_mm, ReferenceKind.SHEET),
    }
    told = {name: (size, goes) for name, (size, goes) in sizes.items() if size is not None}
    for name, value in [(name, size) for name, (size, _) in told.items()] + [("--spacer-mm", spacer_mm)]:
        if not math.isfinite(value):
            raise SetupError(f"{name} {value} is no length", remedy="Measure it with a ruler, in mm.")
    if len(told) > 1:
        raise SetupError(
            f"{' and '.join(told)} were both given; only one can set the scale",
            remedy="Keep the one whose object is in the photo.",
        )
    size: float | None = None
    for name, (value, goes) in told.items():
        size = value
        if kind not in (ReferenceKind.AUTO, goes):
            raise SetupError(
                f"{name} goes with --scale {goes.value}, not {kind.value}", remedy="Leave one of them out."
            )
        kind = goes
    if kind is ReferenceKind.TAGS and size is None:
        raise SetupError("the side of the tags was not told", remedy="Say --tag-mm with what a ruler shows.")
    if kind is ReferenceKind.FACE and size is None:
        raise SetupError("the face's length was not told", remedy="Say --face-mm with what a ruler shows.")
    return Reference(kind=kind, size_mm=size, spacer_mm=spacer_mm)
