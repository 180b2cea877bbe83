"""Who may come in: host, origin, key, size and rate, before anything else looks at a request.

Plain ASGI, so that nothing runs in front of it. The page itself (markup, style, script, icon) holds nothing
of anybody's and is served without the key, because the key travels behind ``#`` in the address, which
browsers never send; everything under /api needs it.
"""

from __future__ import annotations

import asyncio
import hmac
import time
from collections import deque
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from facemark.tell.page.limits import BODY_S, MAX_JSON_BYTES, MAX_UPLOAD_BYTES, UPLOADS_PER_MINUTE
from facemark.tell.page.problems import problem

KEY_HEADER = "x-facemark-key"
UPLOAD_PATH = "/api/v1/photos"
SAFE_METHODS = ("GET", "HEAD")
SECURITY_HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' blob:; "
        "form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cache-control": "no-store",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=()",
}


class Guard:
    """Refuses strangers, and puts the security headers on every answer."""

    def __init__(self, app: ASGIApp, *, key: str, hosts: Iterable[str]) -> None:
        self._app = app
        self._key = key.encode()
        self._hosts = frozenset(hosts)
        self._uploads: deque[float] = deque()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # no web sockets here
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(SECURITY_HEADERS)
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await problem(*refusal)(scope, receive, send_safely)
            return
        await self._app(scope, _limited(receive, _most_bytes(scope)), send_safely)

    def _refusal(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = Headers(scope=scope)
        if _host(headers.get("host", "")) not in self._hosts:
            return (
                400,
                "this page is not served under that name",
                "Use the address that facemark page printed.",
            )
        if not self._same_origin(scope, headers):
            return 403, "the request comes from another page", "Open the page itself and try there."
        if not scope["path"].startswith("/api/"):
            if scope["method"] not in SAFE_METHODS:
                return 405, "only looking is possible here", "Use the page."
            return None
        if not hmac.compare_digest(headers.get(KEY_HEADER, "").encode(), self._key):
            return 401, "the key is missing or wrong", "Open the page with the whole address or the QR code."
        length = headers.get("content-length", "0")
        most = _most_bytes(scope)
        if not length.isdecimal() or int(length) > most:
            return TooLargeError(most).refusal
        if scope["path"] == UPLOAD_PATH and scope["method"] == "POST" and self._too_fast():
            return 429, "photos come in faster than they are taken", "Wait a minute and send it again."
        return None

    def _same_origin(self, scope: Scope, headers: Headers) -> bool:
        """A browser tells where a request comes from; another page may not even look."""
        if headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return False
        origin = headers.get("origin")
        if origin is None:
            return True
        try:
            return urlsplit(origin).netloc == headers.get("host")
        except ValueError:  # "http://["
            return False

    def _too_fast(self) -> bool:
        now = time.monotonic()
        while self._uploads and now - self._uploads[0] > 60.0:
            self._uploads.popleft()
        if len(self._uploads) >= UPLOADS_PER_MINUTE:
            return True
        self._uploads.append(now)
        return False


def _most_bytes(scope: Scope) -> int:
    return MAX_UPLOAD_BYTES if scope["path"] == UPLOAD_PATH else MAX_JSON_BYTES


def _host(header: str) -> str | None:
    try:
        return urlsplit(f"//{header}").hostname
    except ValueError:  # "["
        return None


def _limited(receive: Receive, most: int) -> Receive:
    """Count what comes in: a body without a length is cut off where one with a length is refused.

    A body that stops coming is given up. After its end one only waits for the client to go away, for as long
    as it likes.
    """
    n_bytes, complete = 0, False

    async def counted() -> Message:
        nonlocal n_bytes, complete
        try:
            message = await asyncio.wait_for(receive(), None if complete else BODY_S)
        except TimeoutError:
            raise TooSlowError from None
        if message["type"] == "http.request":
            complete = not message.get("more_body", False)
            n_bytes += len(message.get("body", b""))
            if n_bytes > most:
                raise TooLargeError(most)
        return message

    return counted


class BodyError(HTTPException):
    """A body that is not taken. An HTTPException: FastAPI turns every other fault of a body into 400."""

    def __init__(self, status: int, detail: str, remedy: str) -> None:
        super().__init__(status, detail)
        self.refusal = (status, detail, remedy)


class TooLargeError(BodyError):
    """More bytes came than are taken."""

    def __init__(self, most: int) -> None:
        photo = most == MAX_UPLOAD_BYTES
        remedy = (
            "Send a smaller photo." if photo else "Send less at a time: fewer corrections, shorter notes."
        )
        super().__init__(413, f"at most {most / 1e6:g} MB are taken", remedy)


class TooSlowError(BodyError):
    """The rest of a body did not come."""

    def __init__(self) -> None:
        super().__init__(408, f"nothing came for {BODY_S:g} s", "Send it again where the network is better.")
