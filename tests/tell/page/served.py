"""The page served for real on a free port of loopback, in a thread, with a book of its own."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import uvicorn

from facemark.tell.book.store import Book
from facemark.tell.page.app import make_app
from facemark.tell.page.serve import LOOPBACK, listening_socket
from facemark.tell.units import Units

KEY = "k" * 22


@contextlib.contextmanager
def served(book_path: Path, *, n_readers: int = 1) -> Iterator[str]:
    """The address of a running page, without the key."""
    with Book.open(book_path) as book, listening_socket(LOOPBACK, 0) as listening:
        app = make_app(book, key=KEY, hosts=[LOOPBACK, "localhost"], units=Units(), n_readers=n_readers)
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", access_log=False, server_header=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        try:
            yield f"http://{LOOPBACK}:{listening.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(30.0)


class Phone:
    """A client that holds the key, as the page's script does."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.client = httpx.Client(base_url=address, timeout=60.0)

    def ask(self, method: str, path: str, **more: Any) -> httpx.Response:
        headers = {"x-facemark-key": KEY, **more.pop("headers", {})}
        return self.client.request(method, f"/api/v1{path}", headers=headers, **more)

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.ask("GET", path, **more)

    def new_set(self, name: str = "Ada", hand: str = "right") -> str:
        player = self.ask("POST", "/players", json={"name": name, "hand": hand}).json()
        made = self.ask("POST", "/sets", json={"player_id": player["id"], "kind": "driver"})
        assert made.status_code == 201, made.text
        return str(made.json()["id"])

    def send(self, data: bytes, set_id: str, **told: Any) -> httpx.Response:
        return self.ask("POST", "/photos", content=data, params={"set_id": set_id, **told})

    def read(self, data: bytes, set_id: str, **told: Any) -> dict[str, Any]:
        """Send and wait, as a phone does."""
        sent = self.send(data, set_id, **told)
        assert sent.status_code == 202, sent.text
        return self.wait(sent.json())

    def wait(self, state: dict[str, Any]) -> dict[str, Any]:
        """Until the photo is read or refused."""
        until = time.monotonic() + 180.0
        while state["state"] in ("waiting", "reading"):
            assert time.monotonic() < until, "reading never ended"
            state = self.get(f"/photos/{state['id']}", params={"since": state["version"]}).json()
        return state
