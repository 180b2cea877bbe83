"""Where is the book? A file of this machine, or a PostgreSQL server that several bays share.

Order: what the command said (``--book``), FACEMARK_BOOK, ``config.toml``, then ``facemark.db`` in the
platform's data folder. Passwords never stand in an address: the server's own ways (PGPASSWORD in the
environment, the password file) are the only ones, so that no log and no history of commands holds one.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from facemark.errors import BookError
from facemark.tell.settings import data_folder, settings

if TYPE_CHECKING:
    from sqlalchemy import URL

FILE_NAME = "facemark.db"
PICTURE_ENDINGS = ("jpg", "jpeg", "png", "webp", "heic")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The book's address. ``path`` is None for a server; ``photos`` is where kept pictures lie."""

    path: Path | None
    url: URL
    photos: Path

    def picture(self, sha256: str, ending: str) -> Path:
        """Where the kept picture of this content lies.

        Raises
        ------
        BookError
            Not what a picture is named by; a row that was altered must not lead elsewhere.
        """
        if not re.fullmatch("[0-9a-f]{64}", str(sha256)) or ending not in PICTURE_ENDINGS:
            raise BookError(
                f"a photo has no proper name of its content ({str(sha256)[:40]!r}, {str(ending)[:10]!r})",
                remedy="Take the book or export from where it was made; this one was altered.",
            )
        return self.photos / f"{sha256}.{ending}"

    def __str__(self) -> str:
        if self.path is not None:
            return str(self.path)
        return self.url.set(drivername="postgresql").render_as_string(hide_password=True)  # as it was typed


def find_place(where: str | os.PathLike[str] | None = None) -> Place:
    """The book's address, checked but not visited.

    Raises
    ------
    BookError
        Not an address that can be used; the text never repeats a password.
    """
    from sqlalchemy import URL, make_url
    from sqlalchemy.exc import ArgumentError

    told = where if where is not None else settings()["book"].value
    text = os.fspath(told) if told is not None else str(data_folder() / FILE_NAME)
    if not text.strip():
        raise BookError("the book's path is empty", remedy="Name one with --book FILE, or leave --book out.")
    if "://" not in text:
        return _file(Path(text))
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        raise BookError(
            "the address of the book cannot be understood",
            remedy="Give a path, or postgresql://USER@HOST/DATABASE.",
        ) from None
    backend = url.drivername.split("+")[0]
    if backend == "sqlite" and url.database:
        return _file(Path(url.database))
    if backend not in ("postgresql", "postgres"):
        raise BookError(
            f"the book cannot be kept at {backend}://",
            remedy="Give a path, or postgresql://USER@HOST/DATABASE.",
        )
    if url.password is not None or {"password", "passfile", "sslpassword"} & set(url.query):
        raise BookError(
            "the address of the book holds a password, and addresses end up in logs",
            remedy="Take it out; put it into PGPASSWORD or the server's password file (~/.pgpass).",
        )
    url = URL.create(
        "postgresql+psycopg",
        username=url.username,
        host=url.host,
        port=url.port,
        database=url.database,
        query=url.query,
    )
    server = "-".join(str(part) for part in (url.host, url.port, url.database) if part)
    name = re.sub(r"[^\w.-]", "_", server).lstrip(".") or "server"
    return Place(path=None, url=url, photos=data_folder() / f"{name}.photos")


def _file(path: Path) -> Place:
    from sqlalchemy import URL

    path = path.expanduser()
    if path.is_dir():
        path = path / FILE_NAME
    # Two books in one folder: each has its own pictures, so that forgetting in one takes none of the other's.
    photos = path.with_name("photos" if path.name == FILE_NAME else f"{path.name}.photos")
    return Place(path=path, url=URL.create("sqlite", database=str(path)), photos=photos.absolute())
