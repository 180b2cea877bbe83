"""What comes next: the practice block, the block that was hit, the report to share."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query
from starlette.responses import Response

from facemark.explain.moveon import MOST_BALLS
from facemark.inputs import Hand
from facemark.tell.book.rows import SessionRow
from facemark.tell.page.desk import Desk
from facemark.tell.page.forms import BlockForm, Paper, PlanQuery
from facemark.tell.page.meaning import causes_of, note_block_of, plan_of
from facemark.tell.page.phone_words import for_phone
from facemark.tell.page.problems import problem
from facemark.tell.page.report import report_bytes
from facemark.tell.page.routes_sets import need_reading
from facemark.tell.units import Units

if TYPE_CHECKING:
    from facemark.explain.practice import Practice
    from facemark.explain.stations import PlanSetup

MEDIA = {Paper.PDF: "application/pdf", Paper.PNG: "image/png"}
FILES: dict[int | str, dict[str, Any]] = {
    200: {"content": {kind: {"schema": {"type": "string", "format": "binary"}} for kind in MEDIA.values()}}
}


def next_routes(desk: Desk, units: Units) -> APIRouter:
    """Everything that follows from a set."""
    routes = APIRouter(tags=["next"])
    book = desk.book
    booking = threading.Lock()  # between counting the blocks and writing the next

    def planned(set_id: str, query: PlanQuery) -> tuple[SessionRow, tuple[Practice, PlanSetup], Hand]:
        session, record = book.session_by_id(set_id), need_reading(desk, set_id).current
        balls = [ball.note for ball in book.balls(set_id)]
        seen = any(ball.get("start") or ball.get("curve") for ball in balls)
        causes = causes_of(record, balls, units, calm=query.calm) if seen else None
        told = query.model_dump(include={"head_mm", "carry_m"}, exclude_none=True)
        return session, plan_of(book, session, record, causes, told), Hand(record["hand"])

    def n_blocks(session: SessionRow) -> int:
        return sum(row.n_balls > 0 for row in book.blocks(session.player_id))

    @routes.get("/sets/{set_id}/plan")
    def plan(set_id: str, query: Annotated[PlanQuery, Query()]) -> Any:
        """The next block, in words."""
        from facemark.tell.plan import practice_record

        session, (practice, _), hand = planned(set_id, query)
        found = practice_record(practice, hand, units)
        for section in found["sections"]:
            section["lines"] = [said for line in section["lines"] if (said := for_phone(line))]
        return {**found, "n_blocks": n_blocks(session), "most_balls": MOST_BALLS}

    @routes.get("/sets/{set_id}/plan.png", response_class=Response, responses=FILES)
    def plan_picture(set_id: str, query: Annotated[PlanQuery, Query()]) -> Any:
        """The next block as one picture, with the drawing to scale."""
        from facemark.tell.plan import practice_png

        session, (practice, _), hand = planned(set_id, query)
        who = f"{book.player_by_id(session.player_id).name}, {session.day.isoformat()}"
        return Response(practice_png(practice, hand, units, who=who), media_type=MEDIA[Paper.PNG])

    @routes.post("/sets/{set_id}/blocks", status_code=201)
    def block_done(set_id: str, form: BlockForm) -> Any:
        """A block was hit: book it with its plan, and say what follows."""
        session, plan, hand = planned(set_id, form)
        told = {"n_balls": form.n_balls, "n_good": form.n_good}
        with booking:
            if form.n_blocks not in (None, n_blocks(session)):
                return problem(
                    409,
                    "a block has been booked since this plan was made",
                    "Open Next again: it goes on from there.",
                )
            return note_block_of(book, session, plan, **told, pain=form.pain, hand=hand, units=units)

    @routes.get("/sets/{set_id}/report", response_class=Response, responses=FILES)
    def report(set_id: str, form: Paper = Paper.PDF) -> Any:
        """The report, as a page of PDF or as a picture for chat."""
        session, reading = book.session_by_id(set_id), need_reading(desk, set_id)
        data = report_bytes(desk, session, reading, form, units)
        return Response(data, media_type=MEDIA[form])

    return routes
