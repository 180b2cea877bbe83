"""The page's server: routes, guard and static files put together; no science, no sentences."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Iterable
from importlib import resources
from typing import Any

from fastapi import APIRouter, FastAPI
from starlette.responses import Response
from starlette.types import ASGIApp

from facemark.inputs import ClubKind, Hand, ReferenceKind
from facemark.tell.book.store import Book
from facemark.tell.page.desk import Desk
from facemark.tell.page.forms import EFFORTS
from facemark.tell.page.guard import KEY_HEADER, Guard
from facemark.tell.page.limits import MAX_UPLOAD_BYTES, N_READERS
from facemark.tell.page.problems import REFUSALS, add_handlers, problem
from facemark.tell.page.routes_next import next_routes
from facemark.tell.page.routes_photos import photo_routes
from facemark.tell.page.routes_sets import set_routes
from facemark.tell.page.views import player_view
from facemark.tell.units import Units
from facemark.version import VERSION

# The only files that are ever served, by name: no path of a client's is looked up.
STATIC = resources.files("facemark.tell.page") / "static"
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


def make_app(
    book: Book,
    *,
    key: str,
    hosts: Iterable[str],
    units: Units,
    hand: Hand | None = None,
    n_readers: int = N_READERS,
) -> ASGIApp:
    """The whole page as an ASGI application.

    Parameters
    ----------
    book : Book
        Open; stays the caller's to close.
    key : str
        What every request under /api must bring in the header ``X-Facemark-Key``.
    hosts : iterable of str
        Names and addresses the page is served under; any other Host is refused.
    units : Units
    hand : Hand or None
        Preset for new players.
    n_readers : int
        Photos read at a time.
    """
    desk = Desk(book, n_readers=n_readers)

    @contextlib.asynccontextmanager
    async def running(_: FastAPI) -> AsyncIterator[None]:
        desk.open()
        yield
        await desk.close()

    app = FastAPI(
        title="facemark page",
        version=VERSION,
        description="Photos of powdered club faces in, strikes and what they mean out.",
        lifespan=running,
        docs_url=None,  # those pages load from elsewhere
        redoc_url=None,
        openapi_url="/api/v1/openapi.json",
    )
    add_handlers(app)
    api = APIRouter(prefix="/api/v1", responses=REFUSALS)
    api.include_router(_start_routes(desk, units, hand))
    api.include_router(photo_routes(desk, units))
    api.include_router(set_routes(desk, units))
    api.include_router(next_routes(desk, units))
    app.include_router(api)
    _add_static(app)
    _describe_key(app)
    return Guard(app, key=key, hosts=hosts)


def _start_routes(desk: Desk, units: Units, hand: Hand | None) -> APIRouter:
    routes = APIRouter(tags=["start"])

    @routes.get("/start")
    def start() -> Any:
        """What the first screen needs."""
        return {
            "version": VERSION,
            "lengths": units.lengths.value,
            "hand": None if hand is None else hand.value,
            "players": [player_view(row) for row in desk.book.players()],
            "kinds": [kind.value for kind in ClubKind],
            "scales": [kind.value for kind in ReferenceKind],
            "efforts": EFFORTS,
            "max_upload_bytes": MAX_UPLOAD_BYTES,
            "n_waiting": desk.n_waiting,
        }

    return routes


def _add_static(app: FastAPI) -> None:
    files = {
        item.name: (item.read_bytes(), TYPES[suffix])
        for item in STATIC.iterdir()
        if (suffix := item.name[item.name.rfind(".") :]) in TYPES
    }

    @app.get("/", include_in_schema=False)
    def index() -> Response:
        return _file("index.html")

    @app.get("/{name}", include_in_schema=False)
    def static(name: str) -> Response:
        return _file("icon.svg" if name == "favicon.ico" else name)

    def _file(name: str) -> Response:
        if name not in files:
            return problem(404, "there is no such page", "Open the address that facemark page printed.")
        data, kind = files[name]
        return Response(data, media_type=kind)


def _describe_key(app: FastAPI) -> None:
    """Say in the OpenAPI description that every call needs the key."""
    made = app.openapi

    def described() -> dict[str, Any]:
        schema = made()
        schema.setdefault("components", {})["securitySchemes"] = {
            "key": {"type": "apiKey", "in": "header", "name": KEY_HEADER}
        }
        schema["security"] = [{"key": []}]
        return schema

    app.openapi = described  # type: ignore[method-assign]
