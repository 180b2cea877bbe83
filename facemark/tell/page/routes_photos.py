"""Photos and readings: send one, hear how far it has got, see it, put it right."""

from __future__ import annotations

import asyncio
import threading
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from facemark.corrections import apply_corrections, correct
from facemark.edits import edit_record, history_of
from facemark.errors import PhotoError, SetupError
from facemark.reading import first_record
from facemark.remake import measured_of_record, setup_of_record
from facemark.tell.book.rows import ReadingRow
from facemark.tell.page.desk import Desk
from facemark.tell.page.forms import Corrections, PhotoQuery, ReadAgain
from facemark.tell.page.limits import MAX_SERIES
from facemark.tell.page.problems import problem
from facemark.tell.page.told import told_of
from facemark.tell.page.uploads import DONE, FAILED, NoPhotoError, Upload, Writing
from facemark.tell.page.views import record_view, upload_view
from facemark.tell.units import Units

JPEG: dict[int | str, dict[str, Any]] = {
    200: {"content": {"image/jpeg": {"schema": {"type": "string", "format": "binary"}}}}
}
BODY = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}
Id = str


def photo_routes(desk: Desk, units: Units) -> APIRouter:
    """Everything about one photo or one reading."""
    routes = APIRouter(tags=["photos"])
    putting_right = threading.Lock()  # between counting the corrections and writing the next

    @routes.post("/photos", status_code=202, openapi_extra=BODY)
    async def send_photo(request: Request, query: Annotated[PhotoQuery, Query()]) -> Any:
        """Send a photo as the request's body. It waits in line; ask for it to hear how far it has got."""
        session = await asyncio.to_thread(desk.book.session_by_id, query.set_id)
        club = await asyncio.to_thread(desk.book.club_by_id, session.club_id)
        told = told_of(
            club=club.data,
            kind=club.kind,
            hand=query.hand,
            scale=query.scale,
            size_mm=query.size_mm,
            n_balls=query.n_balls,
            effort_frac=session.effort_frac,
        )
        upload = desk.uploads.new(name=query.name or "photo", set_id=session.id)
        try:
            writing = Writing(upload)
            try:
                async for chunk in request.stream():
                    writing.write(chunk)
            finally:
                writing.close()
            if upload.n_bytes == 0:
                raise PhotoError("no photo came", remedy="Choose the photo again.")
            upload.told, upload.keep = told, query.keep
            if query.series:
                _join_series(desk, upload, query.n_balls)
            desk.put(upload)
        except BaseException:  # also a phone that went away half-way
            desk.uploads.drop(upload)
            raise
        return upload_view(upload, desk, units)

    @routes.get("/photos/{photo_id}")
    async def photo_state(photo_id: Id, since: Annotated[int, Query(ge=-1)] = -1) -> Any:
        """How far it has got; with ``since`` (a version), waits up to 20 s for something newer."""
        upload = _need(desk, photo_id)
        await desk.wait_for_change(upload, since)
        return upload_view(upload, desk, units)

    @routes.post("/photos/{photo_id}/read", status_code=202)
    async def read_again(photo_id: Id, told: ReadAgain) -> Any:
        """Read it again with other settings."""
        upload = _need(desk, photo_id)
        if upload.state not in (DONE, FAILED):
            return problem(409, "this photo is still being read", "Wait until it is done.")
        upload.told = told_of(
            club=upload.told["club"],
            kind=upload.told["club"]["kind"],
            hand=told.hand,
            scale=told.scale,
            size_mm=told.size_mm,
            n_balls=told.n_balls,
            effort_frac=upload.told["effort_frac"],
        )
        if upload.n_new:  # of a series: its own balls are the last told
            upload.n_new = [*upload.n_new[:-1], told.n_balls]
        desk.put(upload)
        return upload_view(upload, desk, units)

    @routes.get("/photos/{photo_id}/picture", response_class=Response, responses=JPEG)
    async def picture(photo_id: Id) -> Any:
        """The photo, upright, cards painted over, as JPEG without metadata."""
        upload = _need(desk, photo_id)
        if upload.record is None:
            return problem(409, "this photo has not been read", "Wait until it has been read.")
        data = await asyncio.to_thread(upload.picture_path.read_bytes)
        return Response(data, media_type="image/jpeg")

    @routes.get("/readings/{reading_id}")
    def reading(reading_id: Id) -> Any:
        """A reading from the book, as it stands, with the history of its corrections."""
        return reading_view(desk, desk.book.reading(reading_id), units)

    @routes.get("/readings/{reading_id}/picture", response_class=Response, responses=JPEG)
    def kept_picture(reading_id: Id) -> Any:
        """The reading's photo, if it is still on the desk or was kept."""
        upload = desk.uploads.of_reading(reading_id)
        if upload is not None:
            return Response(upload.picture_path.read_bytes(), media_type="image/jpeg")
        data = desk.book.photo_bytes(desk.book.reading(reading_id).photo_id)
        if data is None:
            return problem(404, "this photo was not kept", "Its numbers are; take a new photo to see one.")
        return Response(data, media_type="image/jpeg")

    @routes.put("/readings/{reading_id}/corrections")
    def put_right(reading_id: Id, corrections: Corrections) -> Any:
        """Apply edits to the raw reading; with ``preview`` only look."""
        row = desk.book.reading(reading_id)
        plain = {"edits": corrections.edits}
        if corrections.n_done is not None:
            plain["n_done"] = corrections.n_done  # type: ignore[assignment]
        history = history_of(plain)
        measured, setup = measured_of_record(row.record), setup_of_record(row.record)
        if corrections.preview:
            record = first_record(correct(measured, setup, history.current), setup)
            return record_view(record, units)
        record = (
            apply_corrections(measured, setup, history.current).to_dict() if history.current else row.record
        )
        with putting_right:
            n = len(desk.book.corrections(row.id))
            if corrections.n_corrections not in (None, n):
                return problem(
                    409,
                    "somebody else has put this reading right meanwhile",
                    "Go on from what is shown now.",
                )
            desk.book.add_correction(row.id, [edit_record(edit) for edit in history.edits], record)
        return reading_view(desk, desk.book.reading(row.id), units)

    @routes.delete("/readings/{reading_id}", status_code=204)
    def delete_reading(reading_id: Id) -> None:
        """Delete a reading and what belongs to it."""
        upload = desk.uploads.of_reading(reading_id)
        desk.book.delete_reading(reading_id)
        if upload is not None:
            desk.uploads.drop(upload)

    return routes


def reading_view(desk: Desk, row: ReadingRow, units: Units) -> dict[str, Any]:
    """A reading of the book: record, sentences, edits so far, and its picture if it is at hand."""
    upload = desk.uploads.of_reading(row.id)
    corrections = desk.book.corrections(row.id)
    corrected = row.current["corrected"]
    return {
        "id": row.id,
        "set_id": row.session_id,
        "photo_id": None if upload is None else upload.id,
        "kept": desk.book.photo(row.photo_id).kept,
        # All edits of the last correction, also those undone, so that redo still works tomorrow.
        "history": {
            "edits": corrections[-1].edits if corrections else [],
            "n_done": len(corrected["edits"]) if corrected else 0,
            "n_corrections": len(corrections),
        },
        **record_view(row.current, units),
    }


def _need(desk: Desk, photo_id: str) -> Upload:
    upload = desk.uploads.get(photo_id)
    if upload is None:
        raise NoPhotoError
    return upload


def _join_series(desk: Desk, upload: Upload, n_balls: int | None) -> None:
    """Make it the next photo of the set's series: the last one read, and those before it."""
    before = [one for one in desk.uploads.of_set(upload.set_id) if one is not upload and one.state == DONE]
    if not before:
        raise SetupError(
            "there is no earlier photo of this set to go on from", remedy="Send this photo as the first one."
        )
    last = before[-1]
    upload.earlier = (*last.earlier, last)
    if len(upload.earlier) >= MAX_SERIES:
        raise SetupError(f"a series has at most {MAX_SERIES} photos", remedy="Wipe, spray, start a new set.")
    upload.n_new = [*(last.n_new or [last.told["n_balls"]]), n_balls]
