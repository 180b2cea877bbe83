"""A bay that was offline joins: everything in its book comes into this one, and nothing twice.

The same player is one by nickname, a club by its numbers, a session by player, club, day and name, a photo
by content, a reading by photo, settings and version; corrections, blocks and exports by their id. What both
books know stays as it is here; what was not noted here is filled in. Balls that were noted here, of a session
or of a reading, are not noted again. Two sessions of one day whose noted conditions differ (another effort,
another tee height) are two sessions, whatever they are called.

Joining the same book again changes nothing. But nobody remembers what was deleted: a player, a reading or a
correction that was taken out here since comes back, if the other book still has it.
"""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

import sqlalchemy as sa

from facemark.errors import BookError
from facemark.tell.book.base import Base, change, put_once
from facemark.tell.book.evidence import make_private_folder, summary_of
from facemark.tell.book.forget import drop_exports
from facemark.tell.book.identity import clean_name, name_key
from facemark.tell.book.people import CONDITIONS
from facemark.tell.book.rows import Merged
from facemark.tell.book.tables import (
    BALL,
    BLOCK,
    CLUB,
    CORRECTION,
    EXPORT,
    EXPORT_PLAYER,
    PHOTO,
    PLAYER,
    READING,
    SESSION,
    PackedJson,
)
from facemark.tell.book.where import PICTURE_ENDINGS, Place
from facemark.tell.files import written_whole

# Parents before children.
ORDER = (PLAYER, CLUB, SESSION, PHOTO, READING, CORRECTION, BALL, BLOCK, EXPORT, EXPORT_PLAYER)
Row = Mapping[str, Any]
Rows = Mapping[str, Iterable[Row]]


class Joining(Base):
    """Bring another book's rows in."""

    def merge(self, other: Joining) -> Merged:
        """Join another book into this one; the other is only read.

        Rows come all or none; kept pictures follow one by one, and those that are missing come when it is
        joined again.

        Raises
        ------
        BookError
            It is this very book, it holds what no book holds, or a kept picture cannot be read or written.
        """
        if str(other.place) == str(self.place) or (
            self.place.path and other.place.path and self.place.path.resolve() == other.place.path.resolve()
        ):
            raise BookError(f"{self.place} cannot join itself", remedy="Name the other bay's book.")
        try:
            with other._reading() as connection:
                merged = self.merge_rows({table.name: raw_rows(connection, table) for table in ORDER})
        except (LookupError, TypeError, ValueError, AttributeError, zlib.error) as err:  # changed by hand
            raise BookError(
                f"the book {other.place} holds what no book holds ({type(err).__name__}: {str(err)[:60]})",
                remedy=f"Look at it first: facemark book check --book {other.place}. Nothing was joined.",
            ) from None
        self._take_pictures(other)
        return merged

    def merge_rows(self, rows: Rows) -> Merged:
        """Join rows from anywhere (another book, an exported file): all of them or none.

        Raises
        ------
        BookError
            A row does not fit.
        LookupError, TypeError, ValueError, AttributeError, zlib.error
            Something is missing or of another kind; whoever calls says where the rows came from.
        """
        with self._writing() as connection:
            return _Join(connection, self.place).run(rows)

    def _take_pictures(self, other: Joining) -> None:
        """Kept pictures come along as files, where they are at hand."""
        wanted = sa.select(PHOTO).where(PHOTO.c.kept_as.is_not(None))
        with self._reading() as connection:
            photos = connection.execute(wanted).all()
        for photo in photos:
            theirs, ours = (book.place.picture(photo.sha256, photo.kept_as) for book in (other, self))
            try:
                if ours.exists() or not theirs.is_file():
                    continue
                data = theirs.read_bytes()
            except OSError as err:
                raise BookError(
                    f"the kept picture {theirs} could not be read ({err.strerror or err})",
                    remedy="Check its permissions and join again; the rows are here already.",
                ) from None
            make_private_folder(ours.parent)
            with written_whole(ours) as temporary:
                temporary.write_bytes(data)
            ours.chmod(0o600)


def raw_rows(
    connection: sa.Connection, table: sa.Table, which: sa.ColumnElement[bool] | None = None
) -> Iterable[dict[str, Any]]:
    """All rows of a table or some of them, packed records left packed, a few hundred at a time."""
    columns = [
        sa.type_coerce(column, sa.LargeBinary).label(column.name)
        if isinstance(column.type, PackedJson)
        else column
        for column in table.columns
    ]
    wanted = sa.select(*columns) if which is None else sa.select(*columns).where(which)
    for row in connection.execution_options(yield_per=500).execute(wanted):
        yield dict(row._mapping)


class _Join:
    """One join in progress: which id there is which id here."""

    def __init__(self, connection: sa.Connection, place: Place) -> None:
        self.connection = connection
        self.place = place
        self.ids: dict[str, dict[str, str]] = {table.name: {} for table in ORDER}
        self.added: Counter[str] = Counter()
        self.known: Counter[str] = Counter()
        self.corrected: set[str] = set()  # readings here whose corrections changed
        self.noted: dict[
            tuple[str, str | None], bool
        ] = {}  # session and reading: were balls noted here before?

    def run(self, rows: Rows) -> Merged:
        steps = {
            PLAYER: self._player,
            CLUB: self._club,
            SESSION: self._session,
            PHOTO: self._photo,
            READING: self._reading,
            CORRECTION: self._correction,
            BALL: self._ball,
            BLOCK: self._by_id(BLOCK, player_id="player", session_id="session"),
            EXPORT: self._export,
            EXPORT_PLAYER: self._export_player,
        }
        for table, step in steps.items():
            for row in rows.get(table.name, ()):
                step(dict(row))
        for reading_id in self.corrected:
            _renumber(self.connection, reading_id)
        return Merged(added=dict(self.added), known=dict(self.known))

    def _put(self, table: sa.Table, row: dict[str, Any], key: Row) -> sa.Row[Any] | None:
        """Insert, or give the row here that has the same key; remembers which id became which."""
        made = put_once(self.connection, table, row)
        if made is not None:
            self.ids[table.name][row["id"]] = made
            self.added[table.name] += 1
            return None
        # The same id is the same thing, even if it was renamed here since.
        here = self._here(table, {"id": row["id"]} if self._has(table, row["id"]) else key)
        self.ids[table.name][row["id"]] = here.id
        self.known[table.name] += 1
        return here

    def _here(self, table: sa.Table, key: Row) -> sa.Row[Any]:
        return self.connection.execute(
            sa.select(table).where(*(table.c[name] == value for name, value in key.items()))
        ).one()

    def _fill(self, table: sa.Table, here: sa.Row[Any], row: Row, names: Iterable[str]) -> None:
        missing = {
            name: row[name]
            for name in names
            if here._mapping[name] in (None, "") and row[name] not in (None, "")
        }
        if missing:
            change(self.connection, table, here.id, missing)

    def _player(self, row: dict[str, Any]) -> None:
        row |= {"name": clean_name(row["name"]), "name_key": name_key(row["name"])}
        here = self._put(PLAYER, row, {"name_key": row["name_key"]})
        if here is not None:
            self._fill(PLAYER, here, row, ("hand", "note", "keep_until"))

    def _club(self, row: dict[str, Any]) -> None:
        self._put(CLUB, row, {"data_sha": row["data_sha"]})

    def _session(self, row: dict[str, Any]) -> None:
        row["player_id"] = self.ids["player"][row["player_id"]]
        row["club_id"] = self.ids["club"][row["club_id"]]
        if self._has(SESSION, row["id"]):  # joined before, perhaps under a longer name
            self.ids["session"][row["id"]] = row["id"]
            self.known["session"] += 1
            self._fill(SESSION, self._here(SESSION, {"id": row["id"]}), row, CONDITIONS)
            return
        key = {name: row[name] for name in ("player_id", "club_id", "day", "name")}
        there = self.connection.execute(
            sa.select(SESSION).where(*(SESSION.c[name] == value for name, value in key.items()))
        ).one_or_none()
        if there is not None and _differ(dict(there._mapping), row):
            row["name"] = f"{row['name']} ({row['id'][:8]})".strip()
        here = self._put(SESSION, row, key)
        if here is not None:
            self._fill(SESSION, here, row, CONDITIONS)

    def _has(self, table: sa.Table, row_id: str) -> bool:
        return self.connection.execute(sa.select(table.c.id).where(table.c.id == row_id)).first() is not None

    def _photo(self, row: dict[str, Any]) -> None:
        # A kept picture's file is named by these two; a row from outside must not lead elsewhere.
        self.place.picture(row["sha256"], PICTURE_ENDINGS[0] if row["kept_as"] is None else row["kept_as"])
        here = self._put(PHOTO, row, {"sha256": row["sha256"]})
        if here is not None:
            self._fill(PHOTO, here, row, ("kept_as",))

    def _reading(self, row: dict[str, Any]) -> None:
        row["photo_id"] = self.ids["photo"][row["photo_id"]]
        row["session_id"] = self.ids["session"][row["session_id"]]
        self._put(READING, row, {name: row[name] for name in ("photo_id", "settings_sha", "version")})

    def _correction(self, row: dict[str, Any]) -> None:
        """Corrections of both books stand in the order they were made."""
        row["reading_id"] = self.ids["reading"][row["reading_id"]]
        if self._has(CORRECTION, row["id"]):
            self.known["correction"] += 1
            return
        top = sa.select(sa.func.coalesce(sa.func.max(CORRECTION.c.n), 0)).where(
            CORRECTION.c.reading_id == row["reading_id"]
        )
        row["n"] = self.connection.execute(top).scalar_one() + 1
        self.connection.execute(CORRECTION.insert().values(row))
        self.added["correction"] += 1
        self.corrected.add(row["reading_id"])

    def _ball(self, row: dict[str, Any]) -> None:
        row["session_id"] = self.ids["session"][row["session_id"]]
        row["reading_id"] = row["reading_id"] and self.ids["reading"][row["reading_id"]]
        of = (row["session_id"], row["reading_id"])
        if of not in self.noted:
            same = sa.select(BALL.c.id).where(
                BALL.c.session_id == of[0], BALL.c.reading_id.is_not_distinct_from(of[1])
            )
            self.noted[of] = self.connection.execute(same).first() is not None
        if self.noted[of]:
            self.known["ball"] += 1
        else:
            self._put_by_id(BALL, row)

    def _by_id(self, table: sa.Table, **references: str) -> Any:
        def step(row: dict[str, Any]) -> None:
            for column, parent in references.items():
                row[column] = row[column] and self.ids[parent][row[column]]
            self._put_by_id(table, row)

        return step

    def _put_by_id(self, table: sa.Table, row: dict[str, Any]) -> None:
        made = put_once(self.connection, table, row)
        (self.known if made is None else self.added)[table.name] += 1
        self.ids[table.name][row["id"]] = row["id"]

    def _export(self, row: dict[str, Any]) -> None:
        """A file that was written again since is only its newest content."""
        same = (
            (EXPORT.c.path == row["path"]) & (EXPORT.c.machine == row["machine"]) & (EXPORT.c.id != row["id"])
        )
        newest = self.connection.execute(sa.select(sa.func.max(EXPORT.c.made)).where(same)).scalar_one()
        if newest is not None and newest >= row["made"]:
            self.known["export"] += 1
            return
        drop_exports(self.connection, same)
        self._put_by_id(EXPORT, row)

    def _export_player(self, row: dict[str, Any]) -> None:
        if row["export_id"] not in self.ids["export"]:  # written again since
            return
        values = {
            "export_id": self.ids["export"][row["export_id"]],
            "player_id": self.ids["player"][row["player_id"]],
        }
        same = sa.select(EXPORT_PLAYER).where(*(EXPORT_PLAYER.c[n] == v for n, v in values.items()))
        if self.connection.execute(same).first() is None:
            self.connection.execute(EXPORT_PLAYER.insert().values(values))


def _differ(here: Row, row: Row) -> bool:
    """Noted in both, and not the same: then it was not one session."""
    return any(
        here[name] not in (None, "") and row[name] not in (None, "") and here[name] != row[name]
        for name in ("ground", "ball", "effort_frac", "tee_mm")
    )


def _renumber(connection: sa.Connection, reading_id: str) -> None:
    """Corrections in the order they were made, and the newest one's numbers in the reading's columns."""
    of_reading = CORRECTION.c.reading_id == reading_id
    ordered = connection.execute(
        sa.select(CORRECTION.c.id, CORRECTION.c.record)
        .where(of_reading)
        .order_by(CORRECTION.c.made, CORRECTION.c.id)
    ).all()
    # First out of the way: no number may stand twice, not even in between.
    connection.execute(CORRECTION.update().where(of_reading).values(n=-CORRECTION.c.n))
    for n, row in enumerate(ordered, start=1):
        connection.execute(CORRECTION.update().where(CORRECTION.c.id == row.id).values(n=n))
    numbers = {"n_corrections": len(ordered)} | summary_of(ordered[-1].record)
    change(connection, READING, reading_id, numbers)
