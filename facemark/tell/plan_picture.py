"""The next block as one picture for a phone held upright: what, why, the drawing, set up, hit, then, care.

Black on white with one grey: readable in sunlight, on a black-and-white printer and to the colour-blind.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from facemark.explain.practice import Practice
from facemark.tell.plan_drawing import INK, QUIET, station_drawings
from facemark.tell.plan_words import Teller, plan_dose, plan_title, short_lines, why_lines

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDE_INCH = 4.2  # width at which the text is read on a phone held upright
MARGIN_INCH = 0.18
DRAWING_INCH = 3.3  # height of the drawing
TITLE_PT, DOSE_PT, BODY_PT, SMALL_PT = 17.0, 11.5, 10.0, 8.0
_UNIT = re.compile(r"(\d) (mm|cm|m|in|ft|yd|%)(?!\w)")
LEADING = 1.32  # line height over letter height
MEASURE_PX = 100  # letters are measured at this size


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One printed line."""

    text: str
    size_ratio: float  # letter height in points
    bold: bool = False
    indent_ratio: float = 0.0  # in letter heights
    color: str = INK
    above_ratio: float = 0.0  # extra room above, in letter heights

    @property
    def n_inch(self) -> float:
        return self.size_ratio * (LEADING + self.above_ratio) / 72.0


def practice_figure(practice: Practice, teller: Teller, *, who: str = "") -> Figure:
    """The picture; ``who`` is printed small below (a nickname and a day, say)."""
    from matplotlib.figure import Figure

    top = [
        _Line(text=plan_title(practice, teller), size_ratio=TITLE_PT, bold=True),
        _Line(text=plan_dose(practice, teller), size_ratio=DOSE_PT),
        *_paragraphs(why_lines(practice, teller), indent_ratio=0.0, above_ratio=0.35),
    ]
    top = [part for line in top for part in _wrapped(line)]
    below: list[_Line] = []
    for head, lines in short_lines(practice, teller):
        below.append(_Line(text=head, size_ratio=BODY_PT + 1.0, bold=True, above_ratio=0.55))
        below += _paragraphs(lines, indent_ratio=1.0, above_ratio=0.12)
    foot = " \N{MIDDLE DOT} ".join(
        words
        for words in (
            who,
            teller.say("plan.draw.hand", hand=teller.say(f"hand.{teller.hand}")),
            teller.say("plan.draw.scale"),
        )
        if words
    )
    below.append(_Line(text=foot, size_ratio=SMALL_PT, color=QUIET, above_ratio=0.8))
    below = [part for line in below for part in _wrapped(line)]
    heights = (sum(line.n_inch for line in top), sum(line.n_inch for line in below))
    tall = sum(heights) + DRAWING_INCH + 2.0 * MARGIN_INCH
    figure = Figure(figsize=(WIDE_INCH, tall), facecolor="white")
    _print(figure, top, from_top=MARGIN_INCH)
    drawings = station_drawings(practice, teller)
    bottom = MARGIN_INCH + heights[1]
    for k, draw in enumerate(drawings):
        share = 1.0 / len(drawings)
        draw(figure.add_axes((k * share, bottom / tall, share, DRAWING_INCH / tall)))
    _print(figure, below, from_top=MARGIN_INCH + heights[0] + DRAWING_INCH)
    return figure


def practice_png_bytes(practice: Practice, teller: Teller, *, width_px: int, who: str = "") -> bytes:
    """The picture as PNG, ``width_px`` wide."""
    figure = practice_figure(practice, teller, who=who)
    out = io.BytesIO()
    figure.savefig(out, format="png", dpi=width_px / WIDE_INCH, metadata={"Software": None})
    return out.getvalue()


def drawing_png_bytes(practice: Practice, teller: Teller, *, wide_inch: float, n_dpi: int) -> bytes:
    """The drawing alone, ``DRAWING_INCH`` high, for a page."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(wide_inch, DRAWING_INCH), facecolor="white")
    drawings = station_drawings(practice, teller)
    for k, draw in enumerate(drawings):
        share = 1.0 / len(drawings)
        draw(figure.add_axes((k * share, 0.0, share, 1.0)))
    out = io.BytesIO()
    figure.savefig(out, format="png", dpi=n_dpi, metadata={"Software": None})
    return out.getvalue()


def unbroken(text: str) -> str:
    """The text with number and unit (or sign) kept on one line."""
    return _UNIT.sub("\\1\N{NO-BREAK SPACE}\\2", text)


def _paragraphs(lines: Sequence[str], *, indent_ratio: float, above_ratio: float) -> list[_Line]:
    mark = "\N{BULLET} " if indent_ratio else ""
    return [
        _Line(
            text=mark + unbroken(line), size_ratio=BODY_PT, indent_ratio=indent_ratio, above_ratio=above_ratio
        )
        for line in lines
    ]


def _wrapped(line: _Line) -> list[_Line]:
    """The line in pieces that fit between the margins; later pieces are indented."""
    from facemark.tell.fonts import picture_font

    font = picture_font(MEASURE_PX, bold=line.bold)
    room = (WIDE_INCH - 2.0 * MARGIN_INCH) * 72.0 / line.size_ratio * MEASURE_PX
    pieces: list[str] = []
    text = ""
    for word in line.text.split(" "):
        longer = f"{text} {word}" if text else word
        if text and font.getlength(longer) > room - (line.indent_ratio * MEASURE_PX if pieces else 0.0):
            pieces.append(text)
            longer = word
        text = longer
    pieces.append(text)
    first = _Line(
        text=pieces[0],
        size_ratio=line.size_ratio,
        bold=line.bold,
        color=line.color,
        above_ratio=line.above_ratio,
    )
    rest = [
        _Line(
            text=piece,
            size_ratio=line.size_ratio,
            bold=line.bold,
            color=line.color,
            indent_ratio=line.indent_ratio,
        )
        for piece in pieces[1:]
    ]
    return [first, *rest]


def _print(figure: Figure, lines: Sequence[_Line], *, from_top: float) -> None:
    wide, tall = figure.get_size_inches()
    at = from_top
    for line in lines:
        at += line.n_inch
        figure.text(
            (MARGIN_INCH + line.indent_ratio * line.size_ratio / 72.0) / wide,
            1.0 - (at - 0.3 * line.size_ratio / 72.0) / tall,
            line.text,
            fontsize=line.size_ratio,
            fontweight="bold" if line.bold else "normal",
            color=line.color,
            va="baseline",
        )
