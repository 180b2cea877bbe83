"""What comes next: the practice block, the block that was hit, the report to share."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.responses import Response

from facemark.inputs import Hand
from facemark.tell.book.rows import SessionRow
from facemark.tell.page.desk import Desk
from facemark.tell.page.forms import BlockForm, Paper, PlanQuery
from facemark.tell.page.meaning import causes_of, note_block_of, plan_of
from facemark.tell.page.report import report_bytes
from facemark.tell.page.routes_sets import need_reading
from facemark.tell.units import Units

MEDIA = {Paper.PDF: "application/pdf", Paper.PNG: "image/png"}
FILES: dict[int | str, dict[str, Any]] = {
    200: {"content": {kind: {"schema": {"type": "string", "format": "binary"}} for kind in MEDIA.values()}}
}


def next_routes(desk: Desk, units: Units) -> APIRouter:
    """Everything that follows from a set."""
    routes = APIRouter(tags=["next"])
    book = desk.book

    def planned(set_id: str, query: PlanQuery) -> tuple[SessionRow, Any, Hand]:
        session, record = book.session_by_id(set_id), need_reading(desk, set_id).current
        balls = [ball.note for ball in book.balls(set_id)]
        seen = any(ball.get("start") or ball.get("curve") for ball in balls)
        causes = causes_of(record, balls, units, calm=query.calm) if seen else None
        told = query.model_dump(exclude={"calm"}, exclude_none=True)
        return session, plan_of(book, session, record, causes, told), Hand(record["hand"])

    @routes.get("/sets/{set_id}/plan")
    def plan(set_id: str, query: Annotated[PlanQuery, Query()]) -> Any:
        """The next block, in words."""
        from facemark.tell.plan import practice_record

        _, practice, hand = planned(set_id, query)
        return practice_record(practice, hand, units)

    @routes.get("/sets/{set_id}/plan.png", response_class=Response, responses=FILES)
    def plan_picture(set_id: str, query: Annotated[PlanQuery, Query()]) -> Any:
        """The next block as one picture, with the drawing to scale."""
        from facemark.tell.plan import practice_png

        session, practice, hand = planned(set_id, query)
        who = f"{book.player_by_id(session.player_id).name}, {session.day.isoformat()}"
        return Response(practice_png(practice, hand, units, who=who), media_type=MEDIA[Paper.PNG])

    @routes.post("/sets/{set_id}/blocks", status_code=201)
    def block_done(set_id: str, form: BlockForm) -> Any:
        """A block was hit: book it, and say what follows."""
        session = book.session_by_id(set_id)
        return note_block_of(
            book, session, n_balls=form.n_balls, n_good=form.n_good, pain=form.pain, units=units
        )

    @routes.get("/sets/{set_id}/report", response_class=Response, responses=FILES)
    def report(set_id: str, form: Paper = Paper.PDF) -> Any:
        """The report, as a page of PDF or as a picture for chat."""
        session, reading = book.session_by_id(set_id), need_reading(desk, set_id)
        data = report_bytes(desk, session, reading, form, units)
        return Response(data, media_type=MEDIA[form])

    return routes
