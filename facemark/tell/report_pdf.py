"""A report as one page of PDF for pupil and parent: picture, three lines, homework, safety.

A4 or US Letter; reads in black and white, because signs differ by shape; tagged for screen readers. If there
is much to say the picture gives way first, then the type; the page stays one.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from facemark.errors import SetupError
from facemark.inputs import Photo
from facemark.tell.clean import picture_bytes
from facemark.tell.face_drawing import CENTRE, INK, MARK, QUIET, Drawing, draw_face, draw_on_canvas
from facemark.tell.language import ENGLISH, Language
from facemark.tell.overlay import draw_overlay, wrap_words
from facemark.tell.pdf_tags import Tags, tie_page
from facemark.tell.report_content import Content, picture_alt, report_content
from facemark.tell.units import Units
from facemark.tell.words import PLAIN_UNITS

POINTS_PER_MM = 72.0 / 25.4
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1 A
EDGE_MM = 19.0
RULE = "#c9c6bf"
TALLEST_PHOTO_PT, TALLEST_DRAWING_PT, LEAST_PICTURE_PT = 312.0, 225.0, 120.0
SMALLEST = 0.72  # of the type; below, it cannot be read on paper
LABEL_PT = 92.0
GAP_PT = 16.0  # between the homework and the foot of the page


def pdf_report(
    report: dict[str, Any],
    photo: tuple[Photo, dict[str, Any]] | None = None,
    *,
    units: Units = PLAIN_UNITS,
    language: Language = ENGLISH,
    paper: str = "a4",
    whole: bool = False,
) -> bytes:
    """The page as PDF.

    Parameters
    ----------
    report : dict
        From ``session_report``.
    photo : a photo and its reading (``Reading.to_dict``); None: the face is drawn from its numbers. Of
        several photos' marks only the drawing shows all.
    units, language : of every number and sentence.
    paper : "a4" or "letter".
    whole : bool
        Show the whole photo instead of the face alone.

    Raises
    ------
    SetupError
        Another paper.
    """
    if paper.lower() not in PAPERS_MM:
        raise SetupError(f"the paper {paper!r} is not known", remedy="Use a4 or letter.")
    from reportlab.pdfgen.canvas import Canvas

    content = report_content(report, units, language)
    width, height = (side * POINTS_PER_MM for side in PAPERS_MM[paper.lower()])
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(width, height), pageCompression=1, invariant=1)
    canvas.setTitle(f"{content.title}: {content.headline}")
    canvas.setAuthor("")
    canvas.setSubject(", ".join(content.meta))
    picture = _picture(report, photo, content, units=units, language=language, whole=whole)
    tags = Tags(canvas, language.code)
    _Page(canvas, tags, width, height).draw(content, picture)
    tags.close()
    canvas.showPage()
    tie_page(canvas)
    canvas.save()
    return out.getvalue()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Picture:
    """A JPEG or a drawing, its shape and its content in words."""

    jpeg: bytes
    drawing: Drawing | None
    tall_ratio: float  # height over width
    alt: str


def _picture(
    report: dict[str, Any],
    photo: tuple[Photo, dict[str, Any]] | None,
    content: Content,
    *,
    units: Units,
    language: Language,
    whole: bool,
) -> _Picture:
    if photo is None or len(report["photos"]) > 1:
        drawing = draw_face(report, units, language)
        ratio = drawing.height_mm / drawing.width_mm
        return _Picture(jpeg=b"", drawing=drawing, tall_ratio=ratio, alt=content.alt_drawing)
    pixels = draw_overlay(*photo, units=units, language=language, whole=whole, caption=False)
    return _Picture(
        jpeg=picture_bytes(pixels, "JPEG", widest_px=1600, quality=82),
        drawing=None,
        tall_ratio=pixels.shape[0] / pixels.shape[1],
        alt=picture_alt(photo[1], units, language),
    )


class _Page:
    """One page written from top to bottom. All lengths in points."""

    def __init__(self, canvas: Any, tags: Tags, width: float, height: float) -> None:
        self.canvas, self.tags = canvas, tags
        self.left = EDGE_MM * POINTS_PER_MM
        self.width = width - 2 * self.left
        self.top, self.foot = height - 0.85 * self.left, 0.75 * self.left
        self.y = self.top
        self.size = 1.0  # of the type
        self.dry = False  # only measuring

    def draw(self, content: Content, picture: _Picture) -> None:
        """Choose the largest picture and type that fit, then draw."""
        floor = self.foot + self._footer_height(content)
        tallest = TALLEST_PHOTO_PT if picture.drawing is None else TALLEST_DRAWING_PT
        natural = min(tallest, self.width * picture.tall_ratio)
        tall, n_lines = natural, len(content.next_block.lines)
        while self._end(content, picture, tall, n_lines) < floor:
            if tall > LEAST_PICTURE_PT:
                tall = max(LEAST_PICTURE_PT, tall - 12.0)
            elif self.size > SMALLEST:
                self.size -= 0.04
                floor = self.foot + self._footer_height(content)
            elif n_lines > 1:
                n_lines -= 1  # what does not fit stands on the page and in the text
            else:
                break
        self._column(content, picture, tall, n_lines)
        self._footer(content)

    def _end(self, content: Content, picture: _Picture, tall: float, n_lines: int) -> float:
        self.dry = True
        self._column(content, picture, tall, n_lines)
        self.dry = False
        return self.y

    def _column(self, content: Content, picture: _Picture, tall: float, n_lines: int) -> None:
        self.y = self.top
        self._text("H1", content.title, 15, bold=True, leading=1.2)
        self._text("P", " · ".join(content.meta), 9.5, colour=QUIET, after=18)
        self._text("P", content.kicker, 9.5, colour=QUIET, leading=1.15)
        self._text("H2", content.headline, 27, bold=True, leading=1.15, after=10)
        self._figure(picture, tall)
        self._keys(content)
        for label, line in content.lines:
            self._labelled(label, line)
        self._rule()
        self.y -= 12 * self.size
        if content.comparison.title:
            title = f"{content.comparison.title}: {content.comparison.verdict}"
            self._text("H3", title, 11, bold=True, after=2)
            self._text("P", " ".join(content.comparison.lines), 11, after=12)
        self._homework(content.next_block.title, content.next_block.lines[:n_lines])

    def _figure(self, picture: _Picture, tall: float) -> None:
        width = min(self.width, tall / picture.tall_ratio)
        left = self.left if picture.drawing is None else self.left + (self.width - width) / 2
        self.y -= tall
        if self.dry:
            return
        with self.tags.piece("Figure", alt=picture.alt):
            if picture.drawing is not None:
                draw_on_canvas(self.canvas, picture.drawing, left, self.y, width)
            else:
                from reportlab.lib.utils import ImageReader

                image = ImageReader(io.BytesIO(picture.jpeg))
                self.canvas.drawImage(image, left, self.y, width, tall)

    def _keys(self, content: Content) -> None:
        """The signs and their words, in one or two rows."""
        size = 9 * self.size
        self.y -= 1.9 * size
        x = self.left
        for sign, words in content.keys:
            long = 14 + self.canvas.stringWidth(words, "Helvetica", size)
            if x + long > self.left + self.width:
                x, self.y = self.left, self.y - 1.5 * size
            if not self.dry:
                with self.tags.ornament():
                    _draw_sign(self.canvas, sign, x + 4.5, self.y + 0.32 * size)
                with self.tags.piece("P"):
                    self._string(x + 14, self.y, words, size, colour=QUIET)
            x += long + 16
        self.y -= 1.5 * size

    def _labelled(self, label: str, line: str) -> None:
        self._rule()
        size = 11 * self.size
        top = self.y - 6 * self.size
        self.y = top
        self._text("P", label, 11, colour=QUIET, width=LABEL_PT - 6)
        low, self.y = self.y, top
        self._text("P", line, 11, left=self.left + LABEL_PT, width=self.width - LABEL_PT)
        self.y = min(self.y, low) - 0.45 * size

    def _homework(self, title: str, lines: Sequence[str]) -> None:
        """A box with something to tick; drawn after it was measured."""
        top, pad = self.y, 11 * self.size
        was_dry = self.dry
        for dry in (True, was_dry):
            self.dry, self.y = dry, top - pad
            self._text("H3", title, 12, bold=True, left=self.left + pad, after=4)
            for line in lines:
                box_y = self.y - 13.2 * self.size
                if not self.dry:
                    with self.tags.ornament():
                        self.canvas.setStrokeColor(INK)
                        self.canvas.setLineWidth(1)
                        self.canvas.rect(self.left + pad, box_y, 10 * self.size, 10 * self.size)
                indent = pad + 18 * self.size
                self._text(
                    "LI", line, 12.5, left=self.left + indent, width=self.width - indent - pad, after=4
                )
            self.y -= 0.5 * pad
        if not self.dry:
            with self.tags.ornament():
                self.canvas.setStrokeColor(INK)
                self.canvas.setLineWidth(1.2)
                self.canvas.roundRect(self.left, self.y, self.width, top - self.y, 4, stroke=1, fill=0)

    def _footer_height(self, content: Content) -> float:
        self.dry, self.y = True, 0.0
        self._footer_text(content)
        self.dry = False
        return -self.y + 14 + GAP_PT

    def _footer(self, content: Content) -> None:
        self.y = self.foot + self._footer_height(content) - GAP_PT
        with self.tags.ornament():
            self.canvas.setStrokeColor(INK)
            self.canvas.setLineWidth(1.2)
            self.canvas.line(self.left, self.y, self.left + self.width, self.y)
        self.y -= 6
        self._footer_text(content)

    def _footer_text(self, content: Content) -> None:
        self._text("P", content.care, 10.5, bold=True, after=2)
        self._text("P", content.safety, 9.5, after=2)
        self._text("P", f"{content.units} {content.made}", 8, colour=QUIET)

    def _rule(self) -> None:
        if not self.dry:
            with self.tags.ornament():
                self.canvas.setStrokeColor(RULE)
                self.canvas.setLineWidth(0.6)
                self.canvas.line(self.left, self.y, self.left + self.width, self.y)

    def _text(
        self,
        tag: str,
        words: str,
        size: float,
        *,
        bold: bool = False,
        colour: str = INK,
        left: float | None = None,
        width: float | None = None,
        leading: float = 1.32,
        after: float = 0.0,
    ) -> None:
        """A paragraph, wrapped; ``y`` moves below it."""
        size *= self.size
        font = _font_for(words, bold=bold)
        room = self.width if width is None else width
        rows = wrap_words(words, lambda part: self.canvas.stringWidth(part, font, size), room)
        x = self.left if left is None else left
        if self.dry:
            self.y -= leading * size * len(rows) + after * self.size
            return
        with self.tags.piece(tag):
            for row in rows:
                self.y -= leading * size
                self._string(x, self.y + 0.26 * size, row, size, bold=bold, colour=colour)
        self.y -= after * self.size

    def _string(
        self, x: float, y: float, words: str, size: float, *, bold: bool = False, colour: str = INK
    ) -> None:
        self.canvas.setFillColor(colour)
        self.canvas.setFont(_font_for(words, bold=bold), size)
        self.canvas.drawString(x, y, words)


def _font_for(words: str, *, bold: bool = False) -> str:
    """Helvetica, which every reader has; DejaVu, embedded, for words beyond Western Europe's letters."""
    try:
        words.encode("cp1252")
    except UnicodeEncodeError:
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont

        from facemark.tell.fonts import font_path

        name = "DejaVu-Bold" if bold else "DejaVu"
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(font_path(bold=bold))))
        return name
    return "Helvetica-Bold" if bold else "Helvetica"


def _draw_sign(canvas: Any, sign: str, x: float, y: float) -> None:
    """One sign of the key about its middle."""
    r = 4.0
    canvas.saveState()
    if sign in ("mark", "likely"):
        canvas.setDash([2.5, 1.7] if sign == "likely" else [])
        for colour, line in ((INK, 2.8), (MARK, 1.6)):
            canvas.setStrokeColor(colour)
            canvas.setLineWidth(line)
            canvas.circle(x, y, r - 0.9, stroke=1, fill=0)
    elif sign == "group":
        path = canvas.beginPath()
        path.moveTo(x, y + r)
        for corner in ((x + r, y), (x, y - r), (x - r, y)):
            path.lineTo(*corner)
        path.close()
        canvas.setFillColor(CENTRE)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.6)
        canvas.drawPath(path, stroke=1, fill=1)
    elif sign == "region":
        canvas.setStrokeColor(CENTRE)
        canvas.setLineWidth(1.2)
        canvas.setDash([2, 1.4])
        canvas.circle(x, y, r, stroke=1, fill=0)
    else:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.9)
        canvas.line(x - r, y, x + r, y)
        canvas.line(x, y - r, x, y + r)
        canvas.circle(x, y, 0.55 * r, stroke=1, fill=0)
    canvas.restoreState()
