"""A set's report for sharing: the same one as ``facemark report`` writes, with the photo if it is at hand."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from PIL import Image

from facemark.explain.hitset import Conditions
from facemark.inputs import Photo
from facemark.tell.book.rows import ReadingRow, SessionRow
from facemark.tell.page.desk import Desk
from facemark.tell.page.forms import Paper
from facemark.tell.units import Units


def report_bytes(desk: Desk, session: SessionRow, reading: ReadingRow, form: Paper, units: Units) -> bytes:
    """One page of PDF, or one picture."""
    from facemark.tell.report_chat import chat_report
    from facemark.tell.report_pdf import pdf_report
    from facemark.tell.session_report import Session, session_report

    record = reading.current
    report = session_report(
        Session(
            records=(record,),
            player=desk.book.player_by_id(session.player_id).name,
            day=session.day,
            name=session.name,
            conditions=Conditions(
                club=record["club"]["name"], effort_frac=session.effort_frac, tee_mm=session.tee_mm
            ),
            place=session.place,
            ground=session.ground,
            note=session.note,
        )
    )
    photo = _photo(desk, reading, record)
    make = pdf_report if form is Paper.PDF else chat_report
    return make(report, photo, units=units)


def _photo(desk: Desk, reading: ReadingRow, record: dict[str, Any]) -> tuple[Photo, dict[str, Any]] | None:
    """The upright copy, brought back to the size the record's pixels speak of; None if it was not kept."""
    upload = desk.uploads.of_reading(reading.id)
    data = upload.picture_path.read_bytes() if upload else desk.book.photo_bytes(reading.photo_id)
    if data is None:
        return None
    size = (record["photo"]["width_px"], record["photo"]["height_px"])
    with Image.open(io.BytesIO(data), formats=("JPEG",)) as image:
        pixels = np.array(image.convert("RGB").resize(size, Image.Resampling.BILINEAR))
    return Photo(pixels=pixels, name=record["photo"]["name"]), record
