"""Players, sets, balls; what they mean; sets of earlier days."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

from fastapi import APIRouter, Query

from facemark.clubs import typical_club
from facemark.errors import SetupError
from facemark.record import plain
from facemark.tell.book.coats import PAGE_SET
from facemark.tell.book.rows import ReadingRow, SessionRow
from facemark.tell.page.desk import Desk
from facemark.tell.page.forms import Balls, PlayerForm, SetForm
from facemark.tell.page.meaning import calls_of, causes_of, compare_records
from facemark.tell.page.problems import problem
from facemark.tell.page.views import ball_view, player_view, record_view, set_view
from facemark.tell.units import Units


def set_routes(desk: Desk, units: Units) -> APIRouter:
    """Everything about players and sets."""
    routes = APIRouter(tags=["sets"])
    book = desk.book

    @routes.post("/players", status_code=201)
    def new_player(form: PlayerForm) -> Any:
        """The player of this nickname, made if new."""
        row = book.player(form.name, form.hand)
        if form.hand is not None and row.hand is not form.hand:
            return problem(
                409,
                f"{row.name} is in the book already, and plays {row.hand}-handed",
                "If that is you, choose the name from the list; else take another nickname.",
            )
        return player_view(row)

    @routes.get("/players/{player_id}/sets")
    def sets_of(player_id: str, limit: Annotated[int, Query(ge=1, le=200)] = 50) -> Any:
        """A player's sets, newest first, each with a small picture."""
        player = book.player_by_id(player_id)
        clubs = {club.id: club for club in book.clubs(player_id)}
        readings: dict[str, list[ReadingRow]] = {}
        for reading in book.readings(player_id=player_id):
            readings.setdefault(reading.session_id, []).append(reading)
        rows = sorted(book.sessions(player_id), key=lambda row: row.created, reverse=True)[:limit]
        sets = [
            set_view(row, clubs.get(row.club_id), readings.get(row.id, []), len(book.balls(row.id)))
            for row in rows
        ]
        return {"player": player_view(player), "sets": sets}

    @routes.delete("/players/{player_id}")
    def forget(player_id: str) -> Any:
        """Forget a player: rows, photos, everything; the proof of it comes back."""
        sessions = book.sessions(player_id)
        removed = book.forget_player(player_id)
        for session in sessions:
            desk.uploads.drop_set(session.id)
        return plain(removed)

    @routes.post("/sets", status_code=201)
    def new_set(form: SetForm) -> Any:
        """A new set of balls, today."""
        book.player_by_id(form.player_id)
        club = book.club_by_id(form.club_id) if form.club_id else book.club(typical_club(form.kind))
        today = dt.date.today()
        named = [PAGE_SET.fullmatch(row.name) for row in book.sessions(form.player_id) if row.day == today]
        n = 1 + max((int(found[1]) for found in named if found), default=0)
        row = book.session(form.player_id, club.id, today, name=f"set {n}", effort_frac=form.effort_frac)
        return set_view(row, club, [], 0)

    @routes.get("/sets/{set_id}")
    def one_set(set_id: str) -> Any:
        """A set with its balls and its newest reading."""
        row = book.session_by_id(set_id)
        readings, balls = book.readings(session_id=set_id), book.balls(set_id)
        record = readings[-1].current if readings else None
        return {
            **set_view(row, book.club_by_id(row.club_id), readings, len(balls)),
            "balls": [ball_view(ball) for ball in balls],
            "called": calls_of(record, balls),
            "reading": None if record is None else record_view(record, units),
        }

    @routes.delete("/sets/{set_id}", status_code=204)
    def delete_set(set_id: str) -> None:
        """Delete a set with its readings, balls and photos."""
        book.delete_session(set_id)
        desk.uploads.drop_set(set_id)

    @routes.put("/sets/{set_id}/balls")
    def note_balls(set_id: str, form: Balls) -> Any:
        """Note the balls of a set, all of them, in order."""
        notes = [ball.model_dump(mode="json", exclude_none=True) for ball in form.balls]
        return {"balls": [ball_view(row) for row in book.set_balls(set_id, notes)]}

    @routes.get("/sets/{set_id}/causes")
    def causes(set_id: str, calm: bool = False) -> Any:
        """Strike, face or path?"""
        reading = need_reading(desk, set_id)
        return causes_of(reading.current, [ball.note for ball in book.balls(set_id)], units, calm=calm)

    @routes.get("/compare")
    def compare(sets: Annotated[list[str], Query(min_length=2, max_length=6)]) -> Any:
        """Sets held against each other."""
        rows = [book.session_by_id(set_id) for set_id in dict.fromkeys(sets)]
        named = [(_set_name(row), need_reading(desk, row.id).current) for row in rows]
        return compare_records(named)

    return routes


def need_reading(desk: Desk, set_id: str) -> ReadingRow:
    """The newest reading of a set.

    Raises
    ------
    SetupError
        It has none yet.
    """
    desk.book.session_by_id(set_id)
    readings = desk.book.readings(session_id=set_id)
    if not readings:
        raise SetupError("this set has no reading yet", remedy="Photograph the face first.")
    return readings[-1]


def _set_name(row: SessionRow) -> str:
    return f"{row.day.isoformat()} {row.name}".strip()
