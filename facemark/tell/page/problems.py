"""Refusals as problem+json (RFC 9457): what is wrong, what to do; never a trace, a path or a name of ours."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from facemark.errors import BookError, FacemarkError
from facemark.tell.page.phone_words import ELSEWHERE, for_phone

PROBLEM = "application/problem+json"
# What people type themselves, as the page calls it; everything else comes from the page's own script.
TYPED = {
    "name": "the nickname",
    "size_mm": "the size in mm",
    "head_mm": "the head's length in mm",
    "carry_m": "the carry in metres",
    "start_deg": "degrees off the line",
    "curve_m": "metres of curve",
    "edits": "the corrections",
}
TITLES = {
    400: "Not understood",
    401: "No key",
    403: "Not from here",
    404: "Not there",
    405: "Not possible",
    408: "Too slow",
    409: "Not now",
    413: "Too large",
    422: "Cannot be",
    429: "Too fast",
    500: "A fault of ours",
    503: "Full",
}


REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {
        "description": TITLES[status],
        "content": {
            PROBLEM: {
                "schema": {
                    "type": "object",
                    "required": ["title", "status", "detail", "remedy"],
                    "properties": {
                        "title": {"type": "string"},
                        "status": {"type": "integer"},
                        "detail": {"type": "string"},
                        "remedy": {"type": "string"},
                    },
                }
            }
        },
    }
    for status in (400, 401, 403, 404, 405, 408, 409, 413, 422, 429, 503)
}


def problem(status: int, detail: str, remedy: str, **more: Any) -> Response:
    """One refusal."""
    body = {
        "type": "about:blank",
        "title": TITLES.get(status, "Refused"),
        "status": status,
        "detail": detail[:1].upper() + detail[1:].rstrip(".") + ".",
        "remedy": remedy,
        **more,
    }
    headers = {"retry-after": "30"} if status in (429, 503) else None
    return JSONResponse(body, status_code=status, media_type=PROBLEM, headers=headers)


def add_handlers(app: FastAPI) -> None:
    """Every error that can reach a client, as a refusal."""
    from facemark.tell.page.guard import BodyError
    from facemark.tell.page.uploads import DeskFullError, NoPhotoError

    @app.exception_handler(DeskFullError)
    async def _full(_: Request, err: DeskFullError) -> Response:
        return problem(503, str(err), err.remedy)

    @app.exception_handler(NoPhotoError)
    async def _no_photo(_: Request, err: NoPhotoError) -> Response:
        return problem(404, str(err), err.remedy)

    @app.exception_handler(BookError)
    async def _book(_: Request, err: BookError) -> Response:
        missing = str(err).startswith("there is no ")
        return problem(404 if missing else 409, for_phone(str(err)), for_phone(err.remedy) or ELSEWHERE)

    @app.exception_handler(FacemarkError)
    async def _ours(_: Request, err: FacemarkError) -> Response:
        return problem(422, for_phone(str(err)), for_phone(err.remedy) or ELSEWHERE)

    @app.exception_handler(BodyError)
    async def _body(_: Request, err: BodyError) -> Response:
        return problem(*err.refusal)

    @app.exception_handler(RequestValidationError)
    async def _form(_: Request, err: RequestValidationError) -> Response:
        wrong = [
            {"where": ".".join(str(part) for part in item["loc"]), "says": str(item["msg"])[:200]}
            for item in err.errors()[:10]
        ]
        name = wrong[0]["where"].split(".")[-1]
        detail = f"{TYPED.get(name, name)}: {wrong[0]['says'].replace('Input', 'it', 1)}"
        return problem(422, detail, "Change it, or leave it out.", errors=wrong)

    @app.exception_handler(HTTPException)
    async def _http(_: Request, err: HTTPException) -> Response:
        return problem(err.status_code, str(err.detail), "Look at the address again.")

    @app.exception_handler(Exception)
    async def _fault(_: Request, err: Exception) -> Response:
        return problem(500, f"a fault of ours ({type(err).__name__})", "Try again; if it stays, report it.")
