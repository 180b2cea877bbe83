"""Start the page: an address, a key, a QR code, and what that means in plain words."""

from __future__ import annotations

import contextlib
import io
import secrets
import signal
import socket
import threading
import webbrowser
from collections.abc import Callable
from typing import TYPE_CHECKING

from facemark.errors import BookError

if TYPE_CHECKING:
    import uvicorn

KEY_BYTES = 16  # 128 bits
LOOPBACK = "127.0.0.1"
LAN_WORDS = (
    "Scan this with the phone's camera; phone and computer must be in the same network.",
    "Whoever has this address can use the page until you stop it: show it only to your own people.",
    "The connection is not encrypted (plain http). In a network you do not trust others could read along;",
    "use your own router or the phone's hotspot there. The key is new each time.",
)


def new_key() -> str:
    """128 random bits, safe in an address."""
    return secrets.token_urlsafe(KEY_BYTES)


def lan_address() -> str:
    """This computer's own address in the local network.

    Raises
    ------
    BookError
        It is in no network.
    """
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Nothing is sent: connecting a datagram socket only asks the system which way it would go.
        probe.connect(("192.0.2.1", 9))  # TEST-NET-1, RFC 5737
        found = probe.getsockname()[0]
        if found not in ("0.0.0.0", LOOPBACK):
            return str(found)
    raise BookError("this computer is in no network", remedy="Connect it, or leave --lan out.")


def page_address(host: str, port: int, key: str) -> str:
    """The address with the key behind #, where it stays out of requests, logs and referrers."""
    return f"http://{host}:{port}/#k={key}"


def qr_text(address: str) -> str:
    """The address as a QR code for a terminal."""
    import segno

    out = io.StringIO()
    segno.make(address, error="m", micro=False).terminal(out=out, compact=True, border=2)
    return out.getvalue()


def listening_socket(host: str, port: int) -> socket.socket:
    """A socket that listens; port 0 takes any free one.

    Raises
    ------
    BookError
        The port is taken, or may not be used.
    """
    try:
        return socket.create_server((host, port), backlog=128)
    except (OSError, OverflowError) as err:
        raise BookError(
            f"port {port} cannot be used ({err.strerror if isinstance(err, OSError) else err})",
            remedy="Stop the other page, or say --port with another number.",
        ) from None


def serve(
    *,
    lan: bool,
    port: int,
    open_browser: bool,
    where: str | None,
    lengths: str | None,
    say: Callable[[str], None],
) -> None:
    """Serve the page until Ctrl-C.

    Raises
    ------
    BookError, SetupError
        The book cannot be opened, the port is taken, there is no network.
    """
    import uvicorn

    from facemark.inputs import Hand
    from facemark.tell.ask import units_from_options
    from facemark.tell.book.store import Book
    from facemark.tell.page.app import make_app
    from facemark.tell.settings import settings

    key = new_key()
    host = lan_address() if lan else LOOPBACK
    hand = settings()["hand"].value
    with Book.open(where) as book, listening_socket(host, port) as listening:
        address = page_address(host, listening.getsockname()[1], key)
        app = make_app(
            book,
            key=key,
            hosts=[host, "localhost"] if not lan else [host],
            units=units_from_options(lengths),
            hand=None if hand is None else Hand(hand),
        )
        say(f"The page: {address}")
        if lan:
            say(qr_text(address))
        for line in LAN_WORDS if lan else ("Only this computer can open it. For a phone, say --lan.",):
            say(line)
        say("Stop with Ctrl-C; photos that were not kept are then gone.")
        if open_browser:
            threading.Timer(0.5, webbrowser.open, (address,)).start()
        # The access log would hold players' ids; errors still show.
        config = uvicorn.Config(
            app, log_level="warning", access_log=False, server_header=False, limit_concurrency=400
        )
        server = uvicorn.Server(config)
        _end_with_terminal(server)
        server.run(sockets=[listening])


def _end_with_terminal(server: uvicorn.Server) -> None:
    """A closed terminal ends the page like Ctrl-C, photos deleted; under nohup it stays up."""

    def end(*_: object) -> None:
        server.should_exit = True

    if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        signal.signal(signal.SIGHUP, end)
