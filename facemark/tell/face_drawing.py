"""The face drawn from its numbers: outline, marks, centre, sweet spot. One drawing, three inks.

A drawing is a short list of shapes in millimetres (x right, y up, as the photo shows the face; (0, 0) is the
sweet spot). ``svg`` writes it for a page, ``draw_on_canvas`` for a PDF, ``draw_picture`` for a PNG. Signs
differ by shape and letter, so that it reads in black and white; colours are of the Okabe-Ito set [okabe-ito].
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

from facemark.tell.language import Language
from facemark.tell.units import MM_PER_INCH, FaceLengths, Units

if TYPE_CHECKING:
    from PIL.Image import Image

INK, QUIET, METAL, RIM = "#1a1a1a", "#5f5f5f", "#f3f1ec", "#8a867d"
MARK, CENTRE = "#e69f00", "#0072b2"

Point = tuple[float, float]

# On a phone 390 px wide the face is about 3 px a millimetre: 4 mm are the smallest text to read there.
TEXT_MM = 4.0
LETTER_FRAC = 0.82  # a bold capital's width against its height, roughly
RIM_MM = 2.5  # around the face
FOOT_MM = 8.0  # below it
DOT_MM = 2.0
MARK_MM = 3.6  # radius of a mark's sign; a real mark is about 24 mm wide and would hide the others


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line or, ``closed``, a shape. ``dash_mm`` 0: unbroken."""

    points: tuple[Point, ...]
    colour: str
    width_mm: float
    fill: str = ""
    closed: bool = False
    dash_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A circle."""

    x_mm: float
    y_mm: float
    radius_mm: float
    colour: str
    width_mm: float
    fill: str = ""
    dash_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Text about its middle."""

    x_mm: float
    y_mm: float
    text: str
    size_mm: float
    colour: str = INK
    bold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Shapes from back to front, and what they cover."""

    shapes: tuple[Line | Ring | Words, ...]
    left_mm: float
    bottom_mm: float
    width_mm: float
    height_mm: float


def draw_face(record: dict[str, Any], units: Units, language: Language) -> Drawing:
    """The face map of a reading or a session.

    Parameters
    ----------
    record : dict
        ``Reading.to_dict()`` or ``session_report``.
    units, language : of ruler and words.
    """
    side = -1.0 if record["hand"] == "right" else 1.0  # where the toe lies, as a camera sees the face
    outline = outline_mm(record, side)
    marks = [(side * mark["toe_mm"], mark["high_mm"], mark) for mark in record["marks"]]
    reach = [*outline, *((x, y) for x, y, _ in marks)]
    left, right = min(x for x, _ in reach) - RIM_MM, max(x for x, _ in reach) + RIM_MM
    low, top = min(y for _, y in reach) - RIM_MM, max(y for _, y in reach) + RIM_MM
    foot = low - FOOT_MM / 2  # middle of the row that holds TOE, ruler and HEEL
    shapes: list[Line | Ring | Words] = [
        Line(points=tuple(outline), colour=RIM, width_mm=0.5, fill=METAL, closed=True)
    ]
    shapes += _region(record, side) + _marks(marks) + _centre(record, side) + _spot()
    for where, key in ((side, "picture.toe"), (-side, "picture.heel")):
        words = language.say(key)
        half = len(words) * TEXT_MM * LETTER_FRAC / 2 + 1.0
        x = left + half if where < 0 else right - half
        shapes.append(Words(x_mm=x, y_mm=foot, text=words, size_mm=TEXT_MM, colour=QUIET, bold=True))
    shapes += _ruler((left + right) / 2, foot, units, language)
    bottom = low - FOOT_MM
    return Drawing(
        shapes=tuple(shapes),
        left_mm=left,
        bottom_mm=bottom,
        width_mm=right - left,
        height_mm=top - bottom,
    )


def outline_mm(record: dict[str, Any], side: float) -> list[Point]:
    """The face's outline from the sweet spot, flat: good to a millimetre, which a drawing needs no better."""
    face, spot = record["face"], record["sweet_spot"]
    toe, high = face["toe_px_per_mm"], face["high_px_per_mm"]
    det = toe[0] * high[1] - toe[1] * high[0]
    points = []
    for x_px, y_px in face["outline_px"]:
        dx, dy = x_px - spot["x_px"], y_px - spot["y_px"]
        points.append((side * (dx * high[1] - dy * high[0]) / det, (dy * toe[0] - dx * toe[1]) / det))
    return points


def _marks(marks: Sequence[tuple[float, float, dict[str, Any]]]) -> list[Line | Ring | Words]:
    """A ring with its letter where each ball struck; where marks crowd, small rings without letters."""
    lettered = all(math.dist(one[:2], other[:2]) > 2 * MARK_MM for one, other in combinations(marks, 2))
    radius = MARK_MM if lettered else DOT_MM
    shapes: list[Line | Ring | Words] = []
    for x, y, mark in marks:
        shapes += mark_sign(x, y, radius, sure=mark["sure"])
        if lettered:
            size = 4.2 if len(mark["letter"]) == 1 else 3.0
            shapes.append(Words(x_mm=x, y_mm=y, text=mark["letter"], size_mm=size, bold=True))
    return shapes


def mark_sign(x: float, y: float, radius: float, *, sure: bool) -> list[Line | Ring | Words]:
    """An orange ring with dark edges, broken where the mark is only likely."""
    dash = 0.0 if sure else 1.2
    rings = ((INK, 1.3, "#ffffff"), (MARK, 0.75, ""))
    return [
        Ring(x_mm=x, y_mm=y, radius_mm=radius, colour=colour, width_mm=width, fill=fill, dash_mm=dash)
        for colour, width, fill in rings
    ]


def _spot() -> list[Line | Ring | Words]:
    arm = 3.4
    shapes: list[Line | Ring | Words] = [
        Line(points=points, colour=INK, width_mm=0.45)
        for points in (((-arm, 0.0), (arm, 0.0)), ((0.0, -arm), (0.0, arm)))
    ]
    return [*shapes, Ring(x_mm=0.0, y_mm=0.0, radius_mm=1.8, colour=INK, width_mm=0.45)]


def _region(record: dict[str, Any], side: float) -> list[Line | Ring | Words]:
    """The region that holds the group's true centre, dashed."""
    pattern = record["pattern"]
    region = pattern["region"]
    if not region:
        return []
    tilt = math.radians(region["tilt_deg"])
    ring = []
    for step in range(72):
        turn = 2 * math.pi * step / 72
        along, across = region["long_mm"] * math.cos(turn), region["short_mm"] * math.sin(turn)
        toe = pattern["toe_mm"] + along * math.cos(tilt) - across * math.sin(tilt)
        high = pattern["high_mm"] + along * math.sin(tilt) + across * math.cos(tilt)
        ring.append((side * toe, high))
    return [Line(points=tuple(ring), colour=CENTRE, width_mm=0.6, closed=True, dash_mm=1.6)]


def _centre(record: dict[str, Any], side: float) -> list[Line | Ring | Words]:
    """The group's middle, a diamond on a white rim."""
    group = record["group"]
    if not group:
        return []
    x, y, r = side * group["toe_mm"], group["high_mm"], 2.3
    corners = ((x, y - r), (x + r, y), (x, y + r), (x - r, y))
    return [
        Line(points=corners, colour="#ffffff", width_mm=1.2, closed=True),
        Line(points=corners, colour=INK, width_mm=0.35, fill=CENTRE, closed=True),
    ]


def _ruler(middle: float, y: float, units: Units, language: Language) -> list[Line | Ring | Words]:
    """20 mm or 1 inch about ``middle``, and its words beside it."""
    inches = units.face is FaceLengths.INCHES
    length, words = (MM_PER_INCH, "1") if inches else (20.0, "20")
    words += f" {language.say(f'unit.{units.face}')}"
    long = len(words) * TEXT_MM * 0.55 + 2.0
    x, base = middle - (length + long) / 2, y - 1.0
    shapes: list[Line | Ring | Words] = [
        Line(points=((x, base), (x + length, base)), colour=INK, width_mm=0.5)
    ]
    for step in range(5):
        at, tall = x + length * step / 4, 1.4 if step % 2 else 2.4
        shapes.append(Line(points=((at, base), (at, base + tall)), colour=INK, width_mm=0.4))
    shapes.append(Words(x_mm=x + length + long / 2 + 1.2, y_mm=y, text=words, size_mm=TEXT_MM))
    return shapes


# --- three inks ---
def svg(drawing: Drawing, alt: str) -> str:
    """The drawing for a page; ``alt`` says the same in words."""

    def x(mm: float) -> str:
        return f"{mm - drawing.left_mm:.2f}"

    def y(mm: float) -> str:
        return f"{drawing.bottom_mm + drawing.height_mm - mm:.2f}"

    parts = [
        f'<svg class="face" role="img" viewBox="0 0 {drawing.width_mm:.2f} {drawing.height_mm:.2f}" '
        f'xmlns="http://www.w3.org/2000/svg" aria-label="{escape(alt)}"><title>{escape(alt)}</title>'
    ]
    for shape in drawing.shapes:
        if isinstance(shape, Words):
            weight = ' font-weight="700"' if shape.bold else ""
            parts.append(
                f'<text x="{x(shape.x_mm)}" y="{y(shape.y_mm - 0.36 * shape.size_mm)}" '
                f'font-size="{shape.size_mm:g}" fill="{shape.colour}" text-anchor="middle"{weight} '
                f'aria-hidden="true">{escape(shape.text)}</text>'
            )
            continue
        style = f'fill="{shape.fill or "none"}" stroke="{shape.colour}" stroke-width="{shape.width_mm:g}"'
        if shape.dash_mm:
            style += f' stroke-dasharray="{shape.dash_mm:g} {shape.dash_mm:g}"'
        if isinstance(shape, Ring):
            parts.append(
                f'<circle cx="{x(shape.x_mm)}" cy="{y(shape.y_mm)}" r="{shape.radius_mm:g}" {style}/>'
            )
        else:
            path = " ".join(f"{x(px)},{y(py)}" for px, py in shape.points)
            parts.append(f'<{"polygon" if shape.closed else "polyline"} points="{path}" {style}/>')
    return "".join(parts) + "</svg>"


def draw_on_canvas(canvas: Any, drawing: Drawing, x_pt: float, y_pt: float, width_pt: float) -> None:
    """The drawing on a reportlab canvas, its lower left corner at ``x_pt, y_pt``."""
    scale = width_pt / drawing.width_mm

    def at(px: float, py: float) -> Point:
        return x_pt + (px - drawing.left_mm) * scale, y_pt + (py - drawing.bottom_mm) * scale

    canvas.saveState()
    canvas.setLineJoin(1)
    for shape in drawing.shapes:
        if isinstance(shape, Words):
            canvas.setFillColor(shape.colour)
            canvas.setFont("Helvetica-Bold" if shape.bold else "Helvetica", shape.size_mm * scale)
            px, py = at(shape.x_mm, shape.y_mm - 0.36 * shape.size_mm)
            canvas.drawCentredString(px, py, shape.text)
            continue
        canvas.setStrokeColor(shape.colour)
        canvas.setLineWidth(shape.width_mm * scale)
        canvas.setDash([shape.dash_mm * scale] * 2 if shape.dash_mm else [])
        if shape.fill:
            canvas.setFillColor(shape.fill)
        if isinstance(shape, Ring):
            px, py = at(shape.x_mm, shape.y_mm)
            canvas.circle(px, py, shape.radius_mm * scale, stroke=1, fill=int(bool(shape.fill)))
        else:
            path = canvas.beginPath()
            path.moveTo(*at(*shape.points[0]))
            for point in shape.points[1:]:
                path.lineTo(*at(*point))
            if shape.closed:
                path.close()
            canvas.drawPath(path, stroke=1, fill=int(bool(shape.fill)))
    canvas.restoreState()


def draw_picture(drawing: Drawing, width_px: int) -> Image:
    """The drawing as a picture on white."""
    from PIL import Image, ImageDraw

    from facemark.tell.fonts import picture_font

    finer = 2  # drawn at twice the size, then reduced: smooth lines from Pillow's plain ones
    scale = finer * width_px / drawing.width_mm
    size = (finer * width_px, round(drawing.height_mm * scale))
    image = Image.new("RGB", size, "#ffffff")
    pen = ImageDraw.Draw(image)

    def at(px: float, py: float) -> Point:
        return (px - drawing.left_mm) * scale, (drawing.bottom_mm + drawing.height_mm - py) * scale

    for shape in drawing.shapes:
        if isinstance(shape, Words):
            font = picture_font(round(shape.size_mm * scale), bold=shape.bold)
            pen.text(at(shape.x_mm, shape.y_mm), shape.text, fill=shape.colour, font=font, anchor="mm")
            continue
        width = max(1, round(shape.width_mm * scale))
        if isinstance(shape, Ring) and not shape.dash_mm:
            (px, py), r = at(shape.x_mm, shape.y_mm), (shape.radius_mm + shape.width_mm / 2) * scale
            box = (px - r, py - r, px + r, py + r)
            pen.ellipse(box, fill=shape.fill or None, outline=shape.colour, width=width)
            continue
        points = _round(shape) if isinstance(shape, Ring) else shape.points
        path = [at(*point) for point in points]
        if shape.fill:
            pen.polygon(path, fill=shape.fill)
        if isinstance(shape, Ring) or shape.closed:
            path.append(path[0])
        for piece in _dashed(path, shape.dash_mm * scale):
            pen.line(piece, fill=shape.colour, width=width, joint="curve")
    return image.resize((width_px, size[1] // finer), Image.Resampling.LANCZOS)


def _round(ring: Ring) -> tuple[Point, ...]:
    n = 48
    return tuple(
        (
            ring.x_mm + ring.radius_mm * math.cos(2 * math.pi * i / n),
            ring.y_mm + ring.radius_mm * math.sin(2 * math.pi * i / n),
        )
        for i in range(n)
    )


def _dashed(path: list[Point], dash: float) -> list[list[Point]]:
    """The path in pieces of length ``dash`` with gaps as long; whole where ``dash`` is 0."""
    if not dash:
        return [path]
    pieces: list[list[Point]] = []
    drawn, left, piece = True, dash, [path[0]]
    for start, end in pairwise(path):
        length, done = math.dist(start, end), 0.0
        while length - done > left:
            done += left
            share = done / length
            point = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
            if drawn:
                pieces.append([*piece, point])
            drawn, left, piece = not drawn, dash, [point]
        left -= length - done
        piece.append(end)
    if drawn and len(piece) > 1:
        pieces.append(piece)
    return pieces
