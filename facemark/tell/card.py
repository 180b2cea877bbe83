"""The printable scale sheet: a frame of tags round the face, true to size, on A4 or US Letter.

Every position comes from facemark/sheet.py, which the finder reads too. Drawn as vectors, black on white, so
that any printer will do. Each tag is one black square with whole runs of white cells on top: cells drawn one
by one leave hairlines between them at some zooms, and a tag with hairlines is not read (seen with another
writer).
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from facemark import sheet
from facemark.errors import SetupError
from facemark.tell.files import written_whole
from facemark.tell.label import CardLabel, label_modules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MM = 72.0 / 25.4  # PDF points per millimetre
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # ISO 216; 8.5 x 11 inches
MARGIN_TOP_MM = 8.0  # common printers leave 4 to 6 mm blank
TITLE_MM = 10.0
# The label's code stands below the tags of the sole bar, which nobody cuts off: 3.5 mm of white to the tags
# (one cell, as they need) and 2 mm to the cut edge.
LABEL_MM, LABEL_FOOT_MM = 12.0, 2.0
LABEL_WORDS_MM = 70.0  # room for the same in words; longer ones are set smaller
INK, SOFT = 0.0, 0.45  # grey of print; SOFT is still black enough for a poor printer

STEPS: tuple[tuple[str, str], ...] = (
    ("Print", "at 100 % (actual size, no fit to page) on matt paper. Gloss hides tags under glare."),
    ("Check", "both 100 mm lines with a ruler. If they differ, tell facemark the length you measured."),
    ("Glue", "the frame on stiff card and cut along the outline. Shaft in the way? Cut off that side bar."),
    ("Place", "it round the powdered face, level with the middle of the face and parallel to it."),
    ("Height", "If the frame lies in front of the face (+) or behind it (-), note how far as the spacer."),
    ("Photograph", "from 40 to 50 cm, phone parallel to the frame, no wide lens, every tag in the picture."),
)
LAST_LINE = "For practice. Wipe the face clean before you play; tags and powder stay off the course."


def write_card(path: str | os.PathLike[str], paper: str = "a4", *, label: CardLabel | None = None) -> None:
    """Write the sheet as a PDF of one page.

    Parameters
    ----------
    path : str or path
        Replaced if it exists, and only once the new file is complete.
    paper : str
        "a4" or "letter".
    label : CardLabel, optional
        Printed as words and as a square code that ``facemark lesson`` reads from the photo.

    Raises
    ------
    SetupError
        An unknown paper, or a label too long for its code.
    BookError
        The file cannot be written.
    """
    size_mm = PAPERS_MM.get(paper.lower())
    if size_mm is None:
        raise SetupError(
            f"Expected paper {' or '.join(PAPERS_MM)}, got {paper!r}.",
            remedy="Say --paper a4 or --paper letter.",
        )
    from reportlab.pdfgen.canvas import Canvas

    with written_whole(path) as unfinished:
        # invariant: no date and no random id inside, so the same sheet is the same bytes.
        canvas = Canvas(
            str(unfinished), pagesize=(size_mm[0] * MM, size_mm[1] * MM), invariant=1, pageCompression=1
        )
        canvas.setTitle("Scale sheet")
        canvas.setAuthor("facemark")
        canvas.setSubject(f"Version {sheet.VERSION}, {paper.lower()}; print at 100 %")
        # Only a hint that some viewers heed; the 100 mm lines are the check.
        canvas.setViewerPreference("PrintScaling", "None")
        _draw_page(_Pen(canvas), *size_mm, paper, label)
        canvas.showPage()
        canvas.save()


def window_middle_mm(paper: str) -> tuple[float, float]:
    """Where the sheet's origin lies on the page, from the page's lower left corner [mm]."""
    width, height = PAPERS_MM[paper.lower()]
    return width / 2, height - MARGIN_TOP_MM - TITLE_MM - sheet.WINDOW_HEIGHT_MM / 2


def foot_mm(paper: str) -> float:
    """Where the frame ends below, from the page's lower edge [mm]."""
    return window_middle_mm(paper)[1] - sheet.WINDOW_HEIGHT_MM / 2 - sheet.SOLE_BAR_MM


class _Pen:
    """A reportlab canvas that takes millimetres."""

    def __init__(self, canvas: Any) -> None:
        self.canvas = canvas

    def line(
        self, x0: float, y0: float, x1: float, y1: float, *, width_mm: float = 0.25, dash: bool = False
    ) -> None:
        self.canvas.setLineWidth(width_mm * MM)
        self.canvas.setDash([2.0 * MM, 1.5 * MM] if dash else [])
        self.canvas.line(x0 * MM, y0 * MM, x1 * MM, y1 * MM)

    def box(self, x: float, y: float, width: float, height: float, grey: float) -> None:
        self.canvas.setFillGray(grey)
        self.canvas.rect(x * MM, y * MM, width * MM, height * MM, stroke=0, fill=1)

    def text(
        self, x: float, y: float, words: str, *, size_pt: float = 8.5, bold: bool = False, grey: float = INK
    ) -> float:
        """Write, and return the width written [mm]."""
        font = "Helvetica-Bold" if bold else "Helvetica"
        self.canvas.setFillGray(grey)
        self.canvas.setFont(font, size_pt)
        self.canvas.drawString(x * MM, y * MM, words)
        return float(self.canvas.stringWidth(words, font, size_pt)) / MM

    def path(self, points: Sequence[tuple[float, float]], *, width_mm: float = 0.25) -> None:
        drawn = self.canvas.beginPath()
        drawn.moveTo(points[0][0] * MM, points[0][1] * MM)
        for x, y in points[1:]:
            drawn.lineTo(x * MM, y * MM)
        drawn.close()
        self.canvas.setDash([])
        self.canvas.setLineWidth(width_mm * MM)
        self.canvas.drawPath(drawn, stroke=1, fill=0)


def _draw_page(pen: _Pen, width_mm: float, height_mm: float, paper: str, label: CardLabel | None) -> None:
    pen.canvas.setStrokeGray(INK)
    x0, y0 = window_middle_mm(paper)
    left = x0 - sheet.WINDOW_WIDTH_MM / 2 - sheet.BAR_MM
    top = height_mm - MARGIN_TOP_MM
    wide = pen.text(left, top - 5.0, "Scale sheet", size_pt=13, bold=True)
    pen.text(left + wide + 3.0, top - 5.0, f"version {sheet.VERSION}", grey=SOFT)
    _draw_frame(pen, x0, y0)
    _draw_foot(pen, x0 - sheet.WINDOW_WIDTH_MM / 2 - sheet.BAR_MM + 4.0, foot_mm(paper), label)
    for tag in sheet.TAG_CENTRES_MM:
        _draw_tag(pen, tag, x0, y0)
    foot = foot_mm(paper)
    _draw_rulers(pen, left + 2.0, foot - 112.0)
    _draw_steps(pen, left + 112.0, foot - 14.0)


def _draw_frame(pen: _Pen, x0: float, y0: float) -> None:
    """Outline to cut along, and the two places to shorten it to an L."""
    inner, outer = sheet.WINDOW_WIDTH_MM / 2, sheet.WINDOW_WIDTH_MM / 2 + sheet.BAR_MM
    rim, sill = y0 + sheet.WINDOW_HEIGHT_MM / 2, y0 - sheet.WINDOW_HEIGHT_MM / 2
    foot = sill - sheet.SOLE_BAR_MM
    outline = [
        (-outer, rim),
        (-inner, rim),
        (-inner, sill),
        (inner, sill),
        (inner, rim),
        (outer, rim),
        (outer, foot),
    ]
    pen.path([*((x0 + x, y) for x, y in outline), (x0 - outer, foot)], width_mm=0.2)
    for side in (-1, 1):
        pen.line(x0 + side * inner, sill, x0 + side * outer, sill, width_mm=0.2, dash=True)
    pen.text(
        x0 - inner + 5.0,
        sill + 4.0,
        "Cut out this window. The face shows here, sole toward this edge.",
        grey=SOFT,
    )
    pen.text(x0 - inner + 5.0, rim - 6.0, "The window stays open at the top.", grey=SOFT)


def _draw_foot(pen: _Pen, x: float, foot: float, label: CardLabel | None) -> None:
    """Whose card it is, where that is told, and the line to write on; clear of the tags' white margin."""
    fields = [("club", 44.0), ("effort", 30.0), ("date", 30.0), ("spacer mm", 18.0)]
    y = foot + 5.0
    if label is not None:
        _draw_label(pen, x, foot + LABEL_FOOT_MM, label)
        x += LABEL_MM + 4.0
        y = foot + 3.5
        fields = [("club", 32.0), ("effort", 22.0), ("date", 28.0), ("spacer mm", 16.0)]
        fields = fields if label.club is None else fields[1:]
    for name, length in fields:
        x += pen.text(x, y, name, size_pt=8) + 1.5
        pen.line(x, y - 0.8, x + length, y - 0.8, width_mm=0.2)
        x += length + 4.0


def _draw_label(pen: _Pen, x: float, y: float, label: CardLabel) -> None:
    """The square code, and beside it the same in words where the font has the letters."""
    modules = label_modules(label)
    cell = LABEL_MM / len(modules)
    for row, cells in enumerate(modules):
        _draw_runs(pen, x, y + LABEL_MM - (row + 1) * cell, cell, cells, 0.0)
    words = label.player if label.club is None else f"{label.player} / {label.club}"
    if words.encode("latin-1", "ignore").decode("latin-1") == words:
        wide = pen.canvas.stringWidth(words, "Helvetica-Bold", 11) / MM
        size_pt = min(11.0, 11.0 * LABEL_WORDS_MM / wide)
        pen.text(x + LABEL_MM + 4.0, y + LABEL_MM - 3.6, words, size_pt=size_pt, bold=True)


def _draw_tag(pen: _Pen, tag: int, x0: float, y0: float) -> None:
    cell = sheet.TAG_MM / sheet.N_CELLS
    corner = sheet.tag_corners_mm(tag)[0]
    left, top = x0 + float(corner[0]), y0 + float(corner[1])
    pen.box(left, top - sheet.TAG_MM, sheet.TAG_MM, sheet.TAG_MM, 0.0)
    for row, cells in enumerate(_cells(tag)):
        _draw_runs(pen, left, top - (row + 1) * cell, cell, [bool(white) for white in cells], 1.0)


def _draw_runs(pen: _Pen, left: float, foot: float, cell: float, cells: Sequence[bool], grey: float) -> None:
    """The True cells of one row, each run of neighbours as one box: no hairlines between them."""
    start = None
    for column, filled in enumerate([*cells, False]):
        if filled and start is None:
            start = column
        elif not filled and start is not None:
            pen.box(left + start * cell, foot, (column - start) * cell, cell, grey)
            start = None


def _cells(tag: int) -> NDArray[np.bool_]:
    """(7, 7) True where a cell is white, top row first."""
    import cv2
    import numpy as np

    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, sheet.DICTIONARY))
    return np.asarray(cv2.aruco.generateImageMarker(dictionary, tag, sheet.N_CELLS)) > 127


def _draw_rulers(pen: _Pen, x: float, y: float) -> None:
    """Two lines of 100 mm from one corner, with millimetres; what a ruler is laid on."""
    length = int(sheet.CHECK_RULER_MM)
    pen.line(x, y, x + length, y)
    pen.line(x, y, x, y + length)
    for mm in range(length + 1):
        tick = 5.0 if mm % 10 == 0 else 3.5 if mm % 5 == 0 else 2.0
        pen.line(x + mm, y, x + mm, y + tick, width_mm=0.15)
        pen.line(x, y + mm, x + tick, y + mm, width_mm=0.15)
    for mm in range(10, length + 1, 10):
        wide = pen.canvas.stringWidth(str(mm), "Helvetica", 7) / MM
        pen.text(x + mm - wide / 2, y + 6.2, str(mm), size_pt=7)
        pen.text(x + 6.2, y + mm - 0.9, str(mm), size_pt=7)
    pen.text(x + 14.0, y + 20.0, "Check: each line is 100 mm long.", bold=True)
    pen.text(x + 14.0, y + 15.5, "Across: ________ mm    Up: ________ mm")
    _draw_picture(pen, x + 14.0, y + 34.0)


def _draw_picture(pen: _Pen, x: float, y: float) -> None:
    """The frame in use, a third of its size: a face in the window, one side bar cut off for the shaft."""
    scale = 0.34
    bar, sole = sheet.BAR_MM * scale, sheet.SOLE_BAR_MM * scale
    wide, high = sheet.WINDOW_WIDTH_MM * scale, sheet.WINDOW_HEIGHT_MM * scale
    outline = [
        (0, 0),
        (0, sole + high),
        (bar, sole + high),
        (bar, sole),
        (2 * bar + wide, sole),
        (2 * bar + wide, 0),
    ]
    pen.path([(x + a, y + b) for a, b in outline])
    side = sheet.TAG_MM * scale
    for tag, (cx, cy) in sheet.TAG_CENTRES_MM.items():
        if sheet.bar_of(tag) == 2:
            continue
        left = x + bar + wide / 2 + cx * scale - side / 2
        foot = y + sole + high / 2 + cy * scale - side / 2
        pen.box(left, foot, side, side, 0.0)
        pen.box(left + side * 0.35, foot + side * 0.35, side * 0.3, side * 0.3, 1.0)
    _draw_club(pen, x + bar + wide / 2 + 1.0, y + sole + high / 2 - 1.0, scale)


def _draw_club(pen: _Pen, x: float, y: float, scale: float) -> None:
    """A driver's face from the front with three marks; its shaft goes up on the right."""
    canvas = pen.canvas
    canvas.setDash([])
    canvas.setLineWidth(0.3 * MM)
    a, b = 56.0 * scale, 28.0 * scale
    # Toe on the left; four curves that meet without a corner, in halves of the face's length and height.
    shape = [
        ((-1.0, 0.55), (-0.55, 1.05), (-0.05, 1.0)),
        ((0.4, 0.95), (1.0, 0.75), (1.0, 0.1)),
        ((1.0, -0.6), (0.5, -1.0), (0.0, -1.0)),
        ((-0.6, -1.0), (-1.0, -0.6), (-1.0, 0.0)),
    ]
    face = canvas.beginPath()
    face.moveTo((x - a) * MM, y * MM)
    for curve in shape:
        face.curveTo(*(value * MM for dx, dy in curve for value in (x + dx * a, y + dy * b)))
    canvas.drawPath(face, stroke=1, fill=0)
    # The shaft leaves at the lie angle, about 58 degrees from level.
    for shift in (0.0, 2.6):
        pen.line(
            x + 0.93 * a + shift, y + 0.42 * b, x + 0.93 * a + shift + 16.0, y + 0.42 * b + 25.6, width_mm=0.3
        )
    canvas.setFillGray(0.6)
    for dx, dy in ((-0.25, 0.1), (0.08, 0.25), (0.02, -0.3)):
        canvas.circle((x + dx * a) * MM, (y + dy * b) * MM, 10.5 * scale * MM, stroke=0, fill=1)


def _draw_steps(pen: _Pen, x: float, top: float) -> None:
    y = top
    for number, (head, words) in enumerate(STEPS, start=1):
        pen.text(x, y, str(number), bold=True, size_pt=9)
        pen.text(x + 5.0, y, head, bold=True, size_pt=9)
        for line in _wrapped(pen, words, 78.0):
            y -= 4.3
            pen.text(x + 5.0, y, line)
        y -= 7.0
    for line in _wrapped(pen, LAST_LINE, 83.0):
        pen.text(x, y, line, grey=SOFT)
        y -= 4.3


def _wrapped(pen: _Pen, words: str, width_mm: float) -> list[str]:
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if pen.canvas.stringWidth(longer, "Helvetica", 8.5) / MM > width_mm:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
