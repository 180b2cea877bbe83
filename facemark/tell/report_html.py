"""A report as one HTML page: opens offline, prints well, holds no script and no address.

Photos go in as JPEG, at most 1600 px, cropped to the face, a card painted over; every picture has its content
in words beside it. Everything printed comes from ``report_content``.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from facemark.inputs import Photo
from facemark.tell.clean import picture_bytes
from facemark.tell.face_drawing import CENTRE, INK, MARK, draw_face, svg
from facemark.tell.language import ENGLISH, Language
from facemark.tell.overlay import draw_overlay
from facemark.tell.report_content import capital, picture_alt, report_content
from facemark.tell.units import Units
from facemark.tell.words import PLAIN_UNITS

if TYPE_CHECKING:
    from jinja2 import Template

WIDEST_PX = 1600
JPEG_QUALITY = 82

_SIGN = '<svg viewBox="0 0 16 16" aria-hidden="true">{}</svg>'
SIGNS = {
    "mark": (
        f'<circle cx="8" cy="8" r="5.5" fill="#fff" stroke="{INK}" stroke-width="5"/>'
        f'<circle cx="8" cy="8" r="5.5" fill="none" stroke="{MARK}" stroke-width="3"/>'
    ),
    "likely": (
        f'<circle cx="8" cy="8" r="5.5" fill="#fff" stroke="{INK}" stroke-width="5" stroke-dasharray="4 3"/>'
        f'<circle cx="8" cy="8" r="5.5" fill="none" stroke="{MARK}" stroke-width="3" stroke-dasharray="4 3"/>'
    ),
    "group": f'<path d="M8 1 15 8 8 15 1 8Z" fill="{CENTRE}" stroke="{INK}"/>',
    "region": (
        f'<circle cx="8" cy="8" r="6.5" fill="none" stroke="{CENTRE}" stroke-width="2" '
        'stroke-dasharray="3 2"/>'
    ),
    "sweet spot": f'<path d="M8 0V16M0 8H16M4 8a4 4 0 1 0 8 0a4 4 0 1 0-8 0" fill="none" stroke="{INK}"/>',
}


def html_report(
    report: dict[str, Any],
    photos: Sequence[tuple[Photo, dict[str, Any]]] = (),
    *,
    units: Units = PLAIN_UNITS,
    language: Language = ENGLISH,
    whole: bool = False,
) -> str:
    """The page.

    Parameters
    ----------
    report : dict
        From ``session_report``.
    photos : pairs of a photo and its reading (``Reading.to_dict``). None: the face is drawn from its numbers.
        Several: the drawing shows all marks, the photos follow.
    units, language : of every number and sentence.
    whole : bool
        Show whole photos instead of the faces alone.
    """
    from markupsafe import Markup

    content = report_content(report, units, language)
    shown, left = [], [taken["name"] for taken in report["photos"]]
    for photo, record in photos:
        number = left.index(record["photo"]["name"]) + 1
        left[number - 1] = ""  # two photos of one name are two
        picture = draw_overlay(photo, record, units=units, language=language, whole=whole, caption=False)
        data = picture_bytes(picture, "JPEG", widest_px=WIDEST_PX, quality=JPEG_QUALITY)
        alt = picture_alt(record, units, language)
        shown.append(
            {
                "data": base64.b64encode(data).decode("ascii"),
                "width": picture.shape[1],
                "height": picture.shape[0],
                "alt": alt,
                "number": capital(language.say("mark.photo", n=number)),
            }
        )
    drawing = svg(draw_face(report, units, language), content.alt_drawing)
    return _template().render(
        content=content,
        photos=shown,
        many=len(report["photos"]) > 1,
        drawing=Markup(drawing),  # our own shapes; its words are escaped where they are written
        signs={name: Markup(_SIGN.format(path)) for name, path in SIGNS.items()},
    )


@cache
def _template() -> Template:
    from jinja2 import Environment, FileSystemLoader

    folder = Path(__file__).parent / "templates"
    environment = Environment(
        loader=FileSystemLoader(folder), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    return environment.get_template("report.html")
