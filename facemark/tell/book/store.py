"""The book: who hit what, when, and what the photos showed. On a file, or on a server that bays share.

with Book.open() as book:
    player = book.player("Ada")
"""

from __future__ import annotations

import os
from typing import Self

from facemark.tell.book.engine import in_words, make_engine
from facemark.tell.book.evidence import Evidence, make_private_folder
from facemark.tell.book.forget import Forgetting
from facemark.tell.book.lookback import Lookback
from facemark.tell.book.migrate import bring_up_to_date
from facemark.tell.book.outgoing import Sending
from facemark.tell.book.people import People
from facemark.tell.book.practice import Practice
from facemark.tell.book.where import find_place
from facemark.tell.settings import data_folder


class Book(People, Evidence, Practice, Forgetting, Sending, Lookback):
    """An open book; every method is one transaction."""

    @classmethod
    def open(cls, where: str | os.PathLike[str] | None = None) -> Self:
        """Open the book, make it if there is none, bring its layout up to date.

        Parameters
        ----------
        where : a path, a PostgreSQL address, or None: as set, else in the data folder.

        Raises
        ------
        BookError
            It cannot be opened, is damaged, or was written by a newer program.
        """
        place = find_place(where)
        if place.path is not None and place.path.absolute().parent == data_folder().absolute():
            make_private_folder(place.path.absolute().parent)
        with in_words(place):
            engine = make_engine(place)
        try:
            with in_words(place):
                bring_up_to_date(engine, place)
        except BaseException:
            engine.dispose()
            raise
        return cls(place, engine)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
