"""The command that serves the page for the phone. Joined to the rest by ``register``."""

from __future__ import annotations

from typing import Annotated

import typer

from facemark.tell.options import BookAt, Lengths


def register(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(page)


def page(
    lan: Annotated[
        bool, typer.Option("--lan", help="Also for phones in the same network; shows a QR code to scan.")
    ] = False,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes any free one.")] = 8077,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in this computer's browser.")
    ] = True,
    book: BookAt = None,
    lengths: Lengths = None,
) -> None:
    """Serve the page for the range: take the photo, correct a mark by touch, note each ball."""
    from facemark.tell.page.serve import serve

    serve(lan=lan, port=port, open_browser=browser and not lan, where=book, lengths=lengths, say=typer.echo)
