"""The next block as one printed page: drawing, words, and boxes to tick. A4 or letter, black on white."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any
from xml.sax.saxutils import escape

from facemark.errors import SetupError
from facemark.explain.moveon import BLOCK_LIMITS
from facemark.explain.practice import Practice
from facemark.explain.stations import Aim
from facemark.tell.plan_picture import DRAWING_INCH, drawing_png_bytes, unbroken
from facemark.tell.plan_words import Section, Teller, plan_dose, plan_sections, plan_title

PAPER_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MM = 72.0 / 25.4
MARGIN_MM = 15.0
FRAME_MM = 12.0 / MM  # what the library keeps free left and right of the text, 6 pt each
DRAWING_DPI = 300
SMALLER = (1.0, 0.94, 0.88, 0.82)  # letter sizes tried until everything fits on the one page


def practice_pdf_bytes(practice: Practice, teller: Teller, *, paper: str = "a4", who: str = "") -> bytes:
    """The page.

    Raises
    ------
    SetupError
        A paper nobody knows.
    """
    if paper not in PAPER_MM:
        raise SetupError(f"the paper {paper!r} is not known", remedy=f"Use {' or '.join(PAPER_MM)}.")
    size = PAPER_MM[paper]
    wide = size[0] - 2.0 * MARGIN_MM
    drawing = drawing_png_bytes(practice, teller, wide_inch=wide * 0.46 / 25.4, n_dpi=DRAWING_DPI)
    for scale in SMALLER:
        data, n_pages = _built(practice, teller, drawing, size, who=who, scale=scale)
        if n_pages == 1:
            return data
    return data


def _built(
    practice: Practice,
    teller: Teller,
    drawing: bytes,
    size_mm: tuple[float, float],
    *,
    who: str,
    scale: float,
) -> tuple[bytes, int]:
    from reportlab.platypus import SimpleDocTemplate

    out = io.BytesIO()
    page = SimpleDocTemplate(
        out,
        pagesize=(size_mm[0] * MM, size_mm[1] * MM),
        leftMargin=MARGIN_MM * MM,
        rightMargin=MARGIN_MM * MM,
        topMargin=12.0 * MM,
        bottomMargin=12.0 * MM,
        title=plan_title(practice, teller),
        author="facemark",
        invariant=1,
    )
    page.build(_story(practice, teller, drawing, size_mm[0] - 2.0 * MARGIN_MM, who=who, scale=scale))
    return out.getvalue(), page.page


def _story(
    practice: Practice, teller: Teller, drawing: bytes, wide_mm: float, *, who: str, scale: float
) -> list[Any]:
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Image, Paragraph, Spacer, Table, TableStyle

    plain, bold = _fonts()
    title = ParagraphStyle("title", fontName=bold, fontSize=19 * scale, leading=24 * scale)
    dose = ParagraphStyle("dose", fontName=plain, fontSize=12 * scale, leading=16 * scale, spaceAfter=2)
    sections = {section.key: section for section in plan_sections(practice, teller)}

    def block(*keys: str) -> list[Any]:
        return _paragraphs([sections[key] for key in keys if key in sections], plain, bold, scale)

    left = wide_mm * 0.46
    picture = Image(io.BytesIO(drawing), width=left * MM, height=DRAWING_INCH * 72.0)
    beside = Table([[picture, block("why", "do", "rules")]], colWidths=[left * MM, (wide_mm - left) * MM])
    beside.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, 0), 0)]))
    story: list[Any] = [
        Paragraph(escape(plan_title(practice, teller)), title),
        Paragraph(escape(" \N{MIDDLE DOT} ".join(filter(None, (plan_dose(practice, teller), who)))), dose),
        beside,
        *block("set up"),
        Spacer(1, 4),
        _boxes(teller, wide_mm, plain, bold),
        Paragraph(escape(teller.say(_sheet_key(practice))), _text(plain, 8.5 * scale)),
        *block("care", "beside", "doubts"),
    ]
    foot = ParagraphStyle(
        "foot", fontName=plain, fontSize=7.5, leading=10, textColor="#6f6f6f", spaceBefore=6
    )
    hand = teller.say("plan.draw.hand", hand=teller.say(f"hand.{teller.hand}"))
    story.append(Paragraph(escape(f"{hand} \N{MIDDLE DOT} {teller.say('plan.draw.scale')}"), foot))
    return story


def _sheet_key(practice: Practice) -> str:
    """What is written into the box of a ball that was not good."""
    station = practice.station
    if station.aim is Aim.STATIONS:
        return "plan.sheet.all"
    if station.corridor is not None:
        return "plan.sheet.stick"
    # Where the group is to move, marks decide beside the tees.
    return "plan.sheet.plain" if station.gate is None or station.gate_after else "plan.sheet.gate"


def _paragraphs(sections: Sequence[Section], plain: str, bold: str, scale: float) -> list[Any]:
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    head = ParagraphStyle(
        "head", fontName=bold, fontSize=10.5 * scale, leading=14 * scale, spaceBefore=5 * scale
    )
    found: list[Any] = []
    for section in sections:
        found.append(Paragraph(escape(section.head), head))
        found += [
            Paragraph(escape(unbroken(line)), _text(plain, 9.5 * scale), bulletText="\N{BULLET}")
            for line in section.lines
        ]
    return found


def _text(plain: str, size: float) -> Any:
    from reportlab.lib.styles import ParagraphStyle

    return ParagraphStyle(
        "text",
        fontName=plain,
        fontSize=size,
        leading=1.32 * size,
        leftIndent=size,
        bulletIndent=0,
        spaceAfter=0.12 * size,
    )


def _boxes(teller: Teller, wide_mm: float, plain: str, bold: str) -> Any:
    """Three sets of ten boxes."""
    from reportlab.lib import colors
    from reportlab.platypus import Table, TableStyle

    n_balls = min(BLOCK_LIMITS)
    n_sets = max(BLOCK_LIMITS) // n_balls
    rows = [[teller.say("plan.set", n=k + 1), *map(str, range(1, n_balls + 1)), ""] for k in range(n_sets)]
    box = 12.0
    widths = [20.0, *([box] * n_balls), wide_mm - 20.0 - box * n_balls - FRAME_MM]
    table = Table(rows, colWidths=[w * MM for w in widths], rowHeights=8.5 * MM)
    table.setStyle(
        TableStyle(
            [
                ("FONT", (0, 0), (0, -1), bold, 9),
                ("FONT", (1, 0), (-1, -1), plain, 6.5),
                ("TEXTCOLOR", (1, 0), (-2, -1), colors.Color(0.45, 0.45, 0.45)),
                ("VALIGN", (0, 0), (0, -1), "MIDDLE"),
                ("VALIGN", (1, 0), (-1, -1), "TOP"),
                ("ALIGN", (1, 0), (-2, -1), "LEFT"),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("TOPPADDING", (1, 0), (-1, -1), 1),
                ("GRID", (1, 0), (-2, -1), 0.6, colors.black),
            ]
        )
    )
    return table


def _fonts() -> tuple[str, str]:
    """Our typeface under two names of the PDF's."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    from facemark.tell.fonts import font_path

    for name, heavy in (("Plan", False), ("PlanBold", True)):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(font_path(bold=heavy))))
    return "Plan", "PlanBold"
