"""Which club is meant by a name? A club file beside the photos or in the settings' folder, else a kind.

"driver", "fairway", "hybrid", "iron", "wedge", and with a number "7 iron", "iron7", "3 wood", "5-hybrid":
these need no file and get the typical numbers of their kind. Anything else needs NAME.toml.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from pathlib import Path

from facemark.clubs import typical_club
from facemark.errors import SetupError
from facemark.inputs import Club, ClubKind
from facemark.tell.clubfile import load_club
from facemark.tell.lesson.photos import SHEET_NAMES

_KINDS = {**{kind.value: kind for kind in ClubKind}, "wood": ClubKind.FAIRWAY}
# The number stands before the word, or is written onto it: "iron_2" is the second photo of an iron.
_NUMBERED = re.compile(
    r"(?:(\d{1,2})[ _-]?)?(fairway|wood|hybrid|iron|wedge)|(?:fairway|wood|hybrid|iron|wedge)\d{1,2}"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubShelf:
    """Club files by name. ``files``: the file's name without its ending, and the name written in it."""

    files: dict[str, Path] = field(default_factory=dict)

    def knows(self, name: str) -> bool:
        return _folded(name) in self.files or _kind_of(name) is not None

    def club(self, name: str) -> Club:
        """The club of this name.

        Raises
        ------
        SetupError
            No club file and no kind is called so, or the file describes no possible club.
        BookError
            The club file cannot be read.
        """
        path = self.files.get(_folded(name))
        if path is not None:
            return load_club(path)
        kind = _kind_of(name)
        if kind is None:
            raise SetupError(
                f"there is no club called {name[:60]!r}",
                remedy=f"Put a club file {name[:30]}.toml beside the photos (facemark club new makes one), or"
                f" name a kind: {', '.join(ClubKind)}, or one with its number, as in 7 iron.",
            )
        typical = typical_club(kind)
        bare = _folded(name) == kind.value
        return typical if bare else replace(typical, name=name)


def find_clubs(*folders: Path) -> ClubShelf:
    """Club files of some folders; an earlier folder goes before a later one."""
    files: dict[str, Path] = {}
    for folder in folders:
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
            if path.name in SHEET_NAMES or path.name == "config.toml" or path.name.startswith("."):
                continue
            for name in (path.stem, _name_in(path)):
                if name:
                    files.setdefault(_folded(name), path)
    return ClubShelf(files=files)


def _name_in(path: Path) -> str | None:
    """The name a club file gives, or None; what is wrong with the file is told when the club is used."""
    import tomllib

    try:
        name = tomllib.loads(path.read_text(encoding="utf-8-sig")).get("name")
    except (OSError, ValueError):
        return None
    return name if isinstance(name, str) else None


def _kind_of(name: str) -> ClubKind | None:
    folded = _folded(name)
    if folded in _KINDS:
        return _KINDS[folded]
    if not _NUMBERED.fullmatch(folded):
        return None
    return _KINDS[re.sub(r"[\d _-]", "", folded)]


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())
