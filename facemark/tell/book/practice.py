"""Notes of single balls, and practice blocks of the book."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from facemark.errors import BookError
from facemark.tell.book.base import Base, by_id, new_id, now
from facemark.tell.book.rows import BallRow, BlockRow
from facemark.tell.book.tables import BALL, BLOCK, SESSION


class Practice(Base):
    """What was seen of the balls, and what was practised."""

    def set_balls(
        self, session_id: str, notes: Sequence[Mapping[str, Any]], reading_id: str | None = None
    ) -> list[BallRow]:
        """Note the balls of a session, or of one reading in it, in order; earlier notes of these go."""
        same = (BALL.c.session_id == session_id) & (
            BALL.c.reading_id.is_(None) if reading_id is None else BALL.c.reading_id == reading_id
        )
        with self._writing() as connection:
            by_id(connection, SESSION, session_id, lock=True)
            connection.execute(BALL.delete().where(same))
            if notes:
                connection.execute(
                    BALL.insert(),
                    [
                        {
                            "id": new_id(),
                            "session_id": session_id,
                            "n": n,
                            "reading_id": reading_id,
                            "note": dict(note),
                        }
                        for n, note in enumerate(notes, start=1)
                    ],
                )
            rows = connection.execute(sa.select(BALL).where(same).order_by(BALL.c.n))
            return [BallRow(**row._mapping) for row in rows]

    def balls(self, session_id: str) -> list[BallRow]:
        """All balls noted in a session, in order."""
        wanted = sa.select(BALL).where(BALL.c.session_id == session_id).order_by(BALL.c.n, BALL.c.id)
        with self._reading() as connection:
            return [BallRow(**row._mapping) for row in connection.execute(wanted)]

    def add_block(
        self,
        player_id: str,
        *,
        focus: str,
        effort_frac: float,
        n_balls: int,
        n_good: int,
        verdict: str,
        plan: Mapping[str, Any],
        session_id: str | None = None,
    ) -> BlockRow:
        """Note a practice block that was done.

        Raises
        ------
        BookError
            The session is another player's, or there is none.
        """
        block = BlockRow(
            id=new_id(),
            player_id=player_id,
            session_id=session_id,
            made=now(),
            focus=focus,
            effort_frac=effort_frac,
            n_balls=n_balls,
            n_good=n_good,
            verdict=verdict,
            plan=dict(plan),
        )
        with self._writing() as connection:
            if session_id is not None and by_id(connection, SESSION, session_id).player_id != player_id:
                raise BookError(
                    "the session of a practice block is another player's",
                    remedy="Name a session of the player who practised.",
                )
            values = {name: getattr(block, name) for name in BlockRow.__dataclass_fields__}
            connection.execute(BLOCK.insert().values(**values))
        return block

    def blocks(self, player_id: str, focus: str | None = None) -> list[BlockRow]:
        """A player's practice blocks, oldest first."""
        wanted = sa.select(BLOCK).where(BLOCK.c.player_id == player_id).order_by(BLOCK.c.made, BLOCK.c.id)
        if focus is not None:
            wanted = wanted.where(BLOCK.c.focus == focus)
        with self._reading() as connection:
            return [BlockRow(**row._mapping) for row in connection.execute(wanted)]
