"""A report as one picture for a chat: what matters, large enough for a phone held upright."""

from __future__ import annotations

from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from facemark.inputs import Photo
from facemark.tell.clean import picture_bytes
from facemark.tell.face_drawing import INK, QUIET, draw_face, draw_picture
from facemark.tell.fonts import picture_font
from facemark.tell.language import ENGLISH, Language
from facemark.tell.overlay import draw_overlay, draw_sign, wrap
from facemark.tell.report_content import Content, report_content
from facemark.tell.units import Units
from facemark.tell.words import PLAIN_UNITS

WIDTH_PX = 1080  # a phone's screen held upright, in its own pixels
EDGE_PX = 56
# On a phone 390 px wide, 1080 px are shrunk by 2.8: 44 px here are the 16 px of ordinary page text there.
TITLE_PX, META_PX, HEADLINE_PX, LINE_PX, KEY_PX, CARE_PX = 50, 36, 84, 44, 34, 38
WASH, BAR = "#f6f5f2", "#0072b2"
BAR_PX = 12


def chat_report(
    report: dict[str, Any],
    photo: tuple[Photo, dict[str, Any]] | None = None,
    *,
    units: Units = PLAIN_UNITS,
    language: Language = ENGLISH,
    whole: bool = False,
) -> bytes:
    """The picture as PNG without metadata.

    Parameters
    ----------
    report : dict
        From ``session_report``.
    photo : a photo and its reading (``Reading.to_dict``); None: the face is drawn from its numbers. Of
        several photos' marks only the drawing shows all.
    units, language : of every number and sentence.
    whole : bool
        Show the whole photo instead of the face alone.
    """
    content = report_content(report, units, language)
    if photo is None or len(report["photos"]) > 1:
        face = draw_picture(draw_face(report, units, language), WIDTH_PX - 2 * EDGE_PX)
    else:
        pixels = draw_overlay(*photo, units=units, language=language, whole=whole, caption=False)
        face = Image.fromarray(pixels)
        face = face.resize((WIDTH_PX, round(face.height * WIDTH_PX / face.width)), Image.Resampling.LANCZOS)
    strip = _Strip()
    strip.text(content.title, TITLE_PX, bold=True)
    strip.text(" · ".join(content.meta), META_PX, colour=QUIET, after=30)
    strip.text(content.headline, HEADLINE_PX, bold=True, leading=1.12, after=22)
    strip.picture(face)
    strip.keys(content)
    for _, line in content.lines:
        strip.text(line, LINE_PX, after=24)
    if content.comparison.title:
        strip.text(f"{content.comparison.title}: {content.comparison.verdict}", LINE_PX, bold=True, after=6)
        strip.text(" ".join(content.comparison.lines), LINE_PX, after=28)
    strip.box(content.next_block.title, content.next_block.lines)
    strip.text(content.care, CARE_PX, bold=True)
    strip.text(content.safety, META_PX, colour=QUIET)
    return picture_bytes(strip.finished(), "PNG")


class _Strip:
    """A white strip that grows downward."""

    def __init__(self) -> None:
        self.image = Image.new("RGB", (WIDTH_PX, 6000), "#ffffff")
        self.pen = ImageDraw.Draw(self.image)
        self.y = 48.0

    def text(
        self,
        words: str,
        size: int,
        *,
        bold: bool = False,
        colour: str = INK,
        left: float = EDGE_PX,
        right: float = WIDTH_PX - EDGE_PX,
        leading: float = 1.3,
        after: float = 8.0,
    ) -> None:
        font = picture_font(size, bold=bold)
        for row in wrap(words, font, right - left):
            self._grow(2 * leading * size)
            self.pen.text((left, self.y), row, fill=colour, font=font)
            self.y += leading * size
        self.y += after

    def picture(self, face: Image.Image) -> None:
        self._grow(face.height + 100)
        self.image.paste(face, ((WIDTH_PX - face.width) // 2, round(self.y)))
        self.y += face.height + 22

    def keys(self, content: Content) -> None:
        font = picture_font(KEY_PX)
        x = float(EDGE_PX)
        for sign, words in content.keys:
            long = 42 + font.getlength(words)
            if x + long > WIDTH_PX - EDGE_PX:
                x, self.y = float(EDGE_PX), self.y + 1.45 * KEY_PX
            draw_sign(self.pen, sign, x + 14, self.y + 0.6 * KEY_PX)
            self.pen.text((x + 42, self.y), words, fill=QUIET, font=font)
            x += long + 34
        self.y += 1.45 * KEY_PX + 26

    def box(self, title: str, lines: tuple[str, ...]) -> None:
        """What to do next, on a tinted ground with a bar and boxes to tick."""
        top = self.y
        start = self.image.copy()  # measured first, drawn second
        for tinted in (False, True):
            if tinted:
                bottom, self.image, self.y = self.y, start, top
                self.pen = ImageDraw.Draw(self.image)
                self.pen.rectangle((EDGE_PX, top, WIDTH_PX - EDGE_PX, bottom), fill=WASH)
                self.pen.rectangle((EDGE_PX, top, EDGE_PX + BAR_PX, bottom), fill=BAR)
            self.y += 30
            self.text(title, LINE_PX, bold=True, left=EDGE_PX + 48)
            for line in lines:
                y = self.y + 0.22 * LINE_PX
                self.pen.rectangle((EDGE_PX + 48, y, EDGE_PX + 84, y + 36), outline=INK, width=4)
                self.text(line, LINE_PX, left=EDGE_PX + 108, right=WIDTH_PX - EDGE_PX - 24, after=12)
            self.y += 22
        self.y += 40

    def finished(self) -> np.ndarray:
        return np.array(self.image.crop((0, 0, WIDTH_PX, round(self.y + 40))))

    def _grow(self, needed: float) -> None:
        """More strip where the page is long."""
        if self.y + needed < self.image.height:
            return
        taller = Image.new("RGB", (WIDTH_PX, self.image.height * 2), "#ffffff")
        taller.paste(self.image, (0, 0))
        self.image, self.pen = taller, ImageDraw.Draw(taller)
