"""Pictures as they may be shown, saved or sent: the face alone, no card's interior, no metadata.

Pixels only ever leave through here or the overlay, which draws on what comes from here. A card used as scale
may bear a name and a number, so its whole area is painted in one grey before anything else is drawn. Only a
card that the scale stage found can be painted; another one in a whole photo (``whole=True``) is not known.
"""

from __future__ import annotations

import io
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

MARGIN_FRAC = 0.16  # room around the face for TOE and HEEL
PAINT_GREY = (118, 118, 118)  # one even colour; middle grey is quiet in colour and in black and white
PAINT_GROWTH_FRAC = 0.02  # beyond the corners found, which are good to a pixel or two; assumed

Pixels = NDArray[np.uint8]


def shown_box(record: dict[str, Any], *, whole: bool = False) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of what is shown, in photo pixels (right and bottom excluded)."""
    width_px, height_px = record["photo"]["width_px"], record["photo"]["height_px"]
    if whole:
        return 0, 0, width_px, height_px
    outline = np.array(record["face"]["outline_px"], float)
    low, high = outline.min(axis=0), outline.max(axis=0)
    margin = MARGIN_FRAC * float(high[0] - low[0])
    return (
        max(0, math.floor(low[0] - margin)),
        max(0, math.floor(low[1] - margin)),
        min(width_px, math.ceil(high[0] + margin)),
        min(height_px, math.ceil(high[1] + margin)),
    )


def clean_pixels(pixels: Pixels, record: dict[str, Any], *, whole: bool = False) -> Pixels:
    """The photo as it may be shown: cropped to the face, every card found painted over.

    Parameters
    ----------
    pixels : (H, W, 3) uint8
        The upright photo the record was made from; it is not changed.
    record : dict
        ``Reading.to_dict()``.
    whole : bool
        Keep the whole photo instead of the face alone.

    Returns
    -------
    (h, w, 3) uint8
    """
    x0, y0, x1, y1 = shown_box(record, whole=whole)
    image = Image.fromarray(pixels[y0:y1, x0:x1])
    pen = ImageDraw.Draw(image)
    for polygon in record["scale"].get("card_px", ()):  # older records have none
        corners = np.array(polygon, float)
        middle = corners.mean(axis=0)
        grown = middle + (corners - middle) * (1 + PAINT_GROWTH_FRAC)
        pen.polygon([(x - x0, y - y0) for x, y in grown], fill=PAINT_GREY)
    return np.array(image)


def picture_bytes(pixels: Pixels, kind: str, *, widest_px: int | None = None, quality: int = 85) -> bytes:
    """PNG, JPEG or WEBP without any metadata, reduced to at most ``widest_px`` along its longer side."""
    image = Image.fromarray(pixels)
    if widest_px is not None and max(image.size) > widest_px:
        image.thumbnail((widest_px, widest_px), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    # PNG: a third of the time of the default level, a tenth larger.
    options: dict[str, Any] = {"quality": quality} if kind in {"JPEG", "WEBP"} else {"compress_level": 3}
    image.save(out, format=kind, **options)
    return out.getvalue()
