"""The one typeface of our pictures: it comes with matplotlib, so it looks the same on every machine.

Pillow's own font lacks umlauts; a clean machine has no fonts at all.
"""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from facemark.errors import BookError

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}


def font_path(*, bold: bool = False) -> Path:
    """Where the typeface's file lies; matplotlib itself is not imported.

    Raises
    ------
    BookError
        matplotlib is not installed whole.
    """
    spec = importlib.util.find_spec("matplotlib")
    for folder in (spec.submodule_search_locations or ()) if spec else ():
        path = Path(folder) / "mpl-data" / "fonts" / "ttf" / _FILES[bold]
        if path.is_file():
            return path
    raise BookError(
        "the typeface of matplotlib is missing", remedy="Reinstall facemark with its dependencies."
    )


@cache
def picture_font(size_px: int, *, bold: bool = False) -> FreeTypeFont:
    """The typeface at a size, for Pillow."""
    from PIL import ImageFont

    return ImageFont.truetype(str(font_path(bold=bold)), size_px)
