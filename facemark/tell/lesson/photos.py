"""Which photos does this folder hold?

A folder on this machine, or an address that fsspec opens (an object store, another machine). Every folder
below it is looked at, whatever is no photo is counted and left alone, and nothing is ever written there.
"""

from __future__ import annotations

import datetime as dt
import os
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from facemark.errors import BookError, FacemarkError, PhotoError, SetupError

PHOTO_ENDINGS = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif"})
SHEET_NAMES = ("lesson.toml", "lesson.csv")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One photo's file. ``name`` is its path below the folder, with strokes; ``path`` opens it."""

    name: str
    path: str
    dated: dt.date | None = None  # the file's own date; a copy may have got a new one

    @property
    def folders(self) -> tuple[str, ...]:
        return PurePosixPath(self.name).parts[:-1]

    @property
    def file(self) -> str:
        return PurePosixPath(self.name).name


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a folder holds. ``strays``: files that are no photo, and hidden ones ("._IMG_1.jpg")."""

    photos: tuple[Source, ...]
    strays: tuple[str, ...]
    unreadable: tuple[str, ...] = ()  # folders that may not be looked into


def is_address(folder: str) -> bool:
    """An address such as s3://bucket/lesson, not a folder of this machine."""
    return re.match(r"^[a-z][a-z0-9+.-]+://", folder) is not None


def find_photos(folder: str) -> Found:
    """All photos of a folder or address, in the natural order of their names (2 before 10).

    Raises
    ------
    BookError
        The folder is missing, is a file, or may not be read; the address does not answer.
    PhotoError
        There is no photo in it.
    SetupError
        An address was given and the program for it is not installed.
    """
    found = _of_address(folder) if is_address(folder) else _of_folder(Path(folder))
    if not found.photos:
        others = f"; {len(found.strays)} other files are there" if found.strays else ""
        raise PhotoError(
            f"there is no photo in {folder} (JPEG, PNG, WebP or HEIC){others}",
            remedy="Name the folder that holds the lesson's photos.",
        )
    return found


def natural_order(name: str) -> tuple[tuple[int, int, str], ...]:
    """Sorts "IMG_2" before "IMG_10"."""
    pieces = re.split(r"(\d+)", name.casefold())
    return tuple((1, int(piece), "") if piece.isdecimal() else (0, 0, piece) for piece in pieces)


def local_copy(source: Source, folder: Path) -> Path:
    """A file on this machine that holds the photo: itself, or a copy fetched into ``folder``.

    Raises
    ------
    PhotoError
        The address cannot be read.
    """
    if not is_address(source.path):
        return Path(source.path)
    copy = folder / source.file
    try:
        with _fsspec().open(source.path, "rb") as remote, copy.open("wb") as local:
            while piece := remote.read(1 << 20):
                local.write(piece)
    except FacemarkError:
        raise
    except Exception as err:  # every store has its own errors
        raise PhotoError(
            f"{source.name} could not be fetched ({type(err).__name__}: {str(err)[:80]})",
            remedy="Check the address, and that every machine at work may read it.",
        ) from None
    return copy


def _of_folder(folder: Path) -> Found:
    if not folder.is_dir():
        what = "is a file" if folder.exists() else "does not exist"
        raise BookError(f"{folder} {what}, a folder of photos was expected", remedy="Check the name.")
    photos, strays, unreadable = [], [], []

    def refused(err: OSError) -> None:
        unreadable.append(str(err.filename))

    for where, inner, files in os.walk(folder, onerror=refused):
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        for file in files:
            path = Path(where) / file
            name = path.relative_to(folder).as_posix()
            if _is_photo(file) and path.is_file():  # no pipe and no device, which would block
                photos.append(Source(name=name, path=str(path.absolute()), dated=_dated(path)))
            elif name not in SHEET_NAMES and path.suffix != ".toml":
                strays.append(name)
    if str(folder) in unreadable:
        raise BookError(f"{folder} may not be read", remedy="Check the folder's permissions.")
    photos.sort(key=lambda photo: (natural_order(photo.name), photo.name))
    return Found(photos=tuple(photos), strays=tuple(sorted(strays)), unreadable=tuple(unreadable))


def _is_photo(file: str) -> bool:
    return not file.startswith(".") and PurePosixPath(file).suffix.lower() in PHOTO_ENDINGS


def _dated(path: Path) -> dt.date | None:
    try:
        return dt.datetime.fromtimestamp(path.stat().st_mtime).date()
    except OSError:
        return None


def _of_address(address: str) -> Found:
    fsspec = _fsspec()
    try:
        system, root = fsspec.core.url_to_fs(address)
        names = system.find(root, detail=False)
    except Exception as err:  # every store has its own errors
        raise BookError(
            f"{address} cannot be listed ({type(err).__name__}: {str(err)[:80]})",
            remedy="Check the address and the rights; some stores need a package of their own (s3fs, gcsfs).",
        ) from None
    photos, strays = [], []
    start = len(str(root).rstrip("/")) + 1
    for path in names:
        name = str(path)[start:]
        parts = PurePosixPath(name).parts
        if any(part.startswith(".") for part in parts[:-1]):
            continue
        if parts and _is_photo(parts[-1]):
            photos.append(Source(name=name, path=system.unstrip_protocol(path)))
        elif name not in SHEET_NAMES and not name.endswith(".toml"):
            strays.append(name)
    photos.sort(key=lambda photo: (natural_order(photo.name), photo.name))
    return Found(photos=tuple(photos), strays=tuple(sorted(strays)))


def _fsspec() -> Any:
    try:
        import fsspec
    except ImportError:
        raise SetupError(
            "photos at an address need the package fsspec, which is not installed",
            remedy="pip install 'facemark[cluster]', or copy the photos into a folder first.",
        ) from None
    return fsspec
