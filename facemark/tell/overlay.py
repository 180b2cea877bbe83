"""The photo with the reading drawn on it, for a phone in sunlight.

Cropped to the face, at phone width. Every sign differs by shape and letter as well as colour, and every line
has a dark and a light edge, so that it reads on white powder, on bare metal and in black and white. Colours
are of the Okabe-Ito set, made to be told apart by colour-blind people.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from facemark.inputs import Photo
from facemark.tell.words import PICTURE_WORDS, group_line, pattern_line

PICTURE_WIDTH_PX = 1080  # width of a phone's screen held upright, in its own pixels
MARGIN_FRAC = 0.16  # room around the face for TOE and HEEL
SUPERSAMPLE = 2  # drawn at twice the size, then reduced: smooth lines from Pillow's plain ones

LONGEST_REGION_MM = 40.0  # a wider region of the centre says nothing and would hide the marks

ORANGE, SKY = (230, 159, 0), (86, 180, 233)
BLACK, WHITE = (0, 0, 0), (255, 255, 255)

Point = tuple[float, float]


def draw_overlay(photo: Photo, record: dict[str, Any]) -> NDArray[np.uint8]:
    """Draw the reading over the photo.

    Parameters
    ----------
    photo : Photo
        The photo the record was made from.
    record : dict
        ``Reading.to_dict()``.

    Returns
    -------
    (H, W, 3) uint8
        ``PICTURE_WIDTH_PX`` wide; the face above, a legend and two lines of text below.
    """
    canvas = _Canvas(photo, record)
    canvas.outline()
    canvas.group()
    canvas.marks()
    canvas.sweet_spot()
    canvas.directions()
    canvas.ruler()
    face = canvas.finished()
    caption = _caption(record, face.width)
    whole = Image.new("RGB", (face.width, face.height + caption.height), WHITE)
    whole.paste(face, (0, 0))
    whole.paste(caption, (0, face.height))
    return np.array(whole)


class _Canvas:
    """The cropped, enlarged photo, and drawing on it in photo pixels."""

    def __init__(self, photo: Photo, record: dict[str, Any]) -> None:
        self.record = record
        outline = np.array(record["face"]["outline_px"], float)
        low, high = outline.min(axis=0), outline.max(axis=0)
        margin = MARGIN_FRAC * float(high[0] - low[0])
        x0 = max(0, math.floor(low[0] - margin))
        y0 = max(0, math.floor(low[1] - margin))
        x1 = min(photo.width_px, math.ceil(high[0] + margin))
        y1 = min(photo.height_px, math.ceil(high[1] + margin))
        self.zoom = SUPERSAMPLE * PICTURE_WIDTH_PX / (x1 - x0)
        self.corner = np.array([x0, y0], float)
        size = (SUPERSAMPLE * PICTURE_WIDTH_PX, round((y1 - y0) * self.zoom))
        crop = Image.fromarray(photo.pixels[y0:y1, x0:x1])
        self.image = crop.resize(size, Image.Resampling.BICUBIC)
        self.pen = ImageDraw.Draw(self.image)
        self.unit = SUPERSAMPLE * PICTURE_WIDTH_PX / 540.0  # a line of one unit is thin but visible
        self.px_per_mm = self.zoom / record["face"]["mm_per_px"]
        # Directions of toe and up in the picture, for letters and ellipse.
        spot, centre = record["sweet_spot"], np.array(record["face"]["centre_px"], float)
        self.centre = self.at(centre)
        self.spot = self.at([spot["x_px"], spot["y_px"]])
        self.toe_step = np.array(record["face"]["toe_px_per_mm"], float) * self.zoom
        self.high_step = np.array(record["face"]["high_px_per_mm"], float) * self.zoom

    def at(self, px: Sequence[float]) -> NDArray[np.float64]:
        """Where a photo pixel lies on the canvas."""
        return np.asarray((np.asarray(px, float) - self.corner + 0.5) * self.zoom)

    def line(self, points: Sequence[Any], colour: tuple[int, int, int], width: float) -> None:
        """A line with a dark edge, readable on light and dark."""
        path = [tuple(float(v) for v in point) for point in points]
        edge, core = round((width + 1.4) * self.unit), round(width * self.unit)
        self.pen.line(path, fill=BLACK, width=edge, joint="curve")
        self.pen.line(path, fill=colour, width=core, joint="curve")

    def outline(self) -> None:
        points = [self.at(p) for p in self.record["face"]["outline_px"]]
        self.line([*points, points[0]], WHITE, 1.2)

    def group(self) -> None:
        """The region that holds the group's centre (dashed), and its middle (diamond)."""
        group = self.record["group"]
        if not group:
            return
        middle = self.group_middle()
        pattern = self.record["pattern"]
        region = pattern["region"]
        turn = np.linspace(0.0, 2 * math.pi, 145)
        if region and region["long_mm"] < LONGEST_REGION_MM:
            tilt = math.radians(region["tilt_deg"])
            across = np.column_stack([region["long_mm"] * np.cos(turn), region["short_mm"] * np.sin(turn)])
            toe = across[:, 0] * math.cos(tilt) - across[:, 1] * math.sin(tilt)
            high = across[:, 0] * math.sin(tilt) + across[:, 1] * math.cos(tilt)
            ring = [
                self.on_face(pattern["toe_mm"] + t, pattern["high_mm"] + h)
                for t, h in zip(toe, high, strict=True)
            ]
            for start in range(0, 144, 6):
                self.line(ring[start : start + 4], SKY, 1.6)
        size = 5.5 * self.unit
        diamond = [middle + size * np.array(d) for d in ((0, -1), (1, 0), (0, 1), (-1, 0))]
        self.pen.polygon([tuple(p) for p in diamond], fill=SKY, outline=BLACK, width=round(1.4 * self.unit))

    def group_middle(self) -> NDArray[np.float64]:
        group = self.record["group"]
        return self.on_face(group["toe_mm"], group["high_mm"])

    def marks(self) -> None:
        """A ring for each mark, broken where it is only likely; its letter beside the centre."""
        records = self.record["marks"]
        centres = [self.at([mark["x_px"], mark["y_px"]]) for mark in records]
        for mark, centre in zip(records, centres, strict=True):
            radius = mark["diameter_mm"] / 2 * self.px_per_mm
            turn = np.linspace(0.0, 2 * math.pi, 97)
            ring = np.column_stack([np.cos(turn), np.sin(turn)]) * radius + centre
            if mark["sure"]:
                self.line(list(ring), ORANGE, 1.5)
            else:
                for start in range(0, 96, 8):
                    self.line(list(ring[start : start + 5]), ORANGE, 1.2)
        tag_px = 9.5 * self.unit
        signs = [self.spot] + ([self.group_middle()] if self.record["group"] else [])
        for mark, centre, place in zip(records, centres, _apart(centres, 2.1 * tag_px, signs), strict=True):
            if float(np.linalg.norm(place - centre)) > 0.3 * tag_px:
                self.line([centre, place], WHITE, 0.8)
            dot = 2.2 * self.unit
            self.pen.ellipse((*(centre - dot), *(centre + dot)), fill=ORANGE, outline=BLACK)
            self.pen.ellipse((*(place - tag_px), *(place + tag_px)), fill=WHITE, outline=BLACK, width=3)
            self.text(place, mark["letter"], 13.0, BLACK, halo=False)

    def sweet_spot(self) -> None:
        """A cross in a ring: the point everything is measured from."""
        ring, arm = 5.0 * self.unit, 9.0 * self.unit
        for start, end in (((-arm, 0), (arm, 0)), ((0, -arm), (0, arm))):
            self.line([self.spot + start, self.spot + end], WHITE, 1.4)
        box = (*(self.spot - ring), *(self.spot + ring))
        self.pen.ellipse(box, outline=BLACK, width=round(3.2 * self.unit))
        self.pen.ellipse(box, outline=WHITE, width=round(1.8 * self.unit))

    def directions(self) -> None:
        """TOE and HEEL beside the face, so that nobody has to know which way the photo was taken."""
        outline = np.array([self.at(p) for p in self.record["face"]["outline_px"]])
        toe_way = self.toe_step / np.linalg.norm(self.toe_step)
        along = (outline - self.centre) @ toe_way
        gap = 17 * self.unit
        for word, reach in ((PICTURE_WORDS["toe"], along.max()), (PICTURE_WORDS["heel"], along.min())):
            place = self.centre + toe_way * (reach + math.copysign(gap, reach))
            room = 20 * self.unit
            place = np.clip(place, [room, room], [self.image.width - room, self.image.height - room])
            self.text(place, word, 13.0, WHITE, halo=True)

    def ruler(self) -> None:
        """20 mm, with ticks, lower left."""
        length = 20.0 * self.px_per_mm
        start = np.array([12 * self.unit, self.image.height - 14 * self.unit])
        self.line([start, start + np.array([length, 0.0])], WHITE, 2.2)
        for step in range(0, 21, 5):
            tick = start + np.array([step * self.px_per_mm, 0.0])
            self.line([tick, tick - np.array([0.0, (7 if step % 10 == 0 else 4) * self.unit])], WHITE, 1.4)
        middle = start + np.array([length / 2, -15 * self.unit])
        self.text(middle, PICTURE_WORDS["ruler"], 12.0, WHITE, halo=True)

    def on_face(self, toe_mm: float, high_mm: float) -> NDArray[np.float64]:
        """A point measured from the sweet spot, on the canvas (flat: good to a pixel near the group)."""
        return np.asarray(self.spot + self.toe_step * toe_mm + self.high_step * high_mm)

    def text(
        self, place: NDArray[np.float64], words: str, size: float, colour: tuple[int, int, int], *, halo: bool
    ) -> None:
        self.pen.text(
            tuple(place),
            words,
            fill=colour,
            font=_font(size * self.unit),
            anchor="mm",
            stroke_width=round(1.6 * self.unit) if halo else 0,
            stroke_fill=BLACK,
        )

    def finished(self) -> Image.Image:
        size = (self.image.width // SUPERSAMPLE, self.image.height // SUPERSAMPLE)
        return self.image.resize(size, Image.Resampling.LANCZOS)


def _apart(
    centres: list[NDArray[np.float64]], distance: float, signs: list[NDArray[np.float64]]
) -> list[NDArray[np.float64]]:
    """Places for the letters, pushed apart until none covers another or a sign (or 200 rounds are over)."""
    places = [centre.copy() for centre in centres]
    for _ in range(200):
        moved = False
        for i in range(len(places)):
            for sign in signs:
                gap = places[i] - sign
                length = float(np.linalg.norm(gap))
                if length < 0.8 * distance:
                    way = gap / length if length > 1e-6 else np.array([0.0, -1.0])
                    places[i] = sign + way * 0.8 * distance
                    moved = True
            for j in range(i):
                gap = places[i] - places[j]
                length = float(np.linalg.norm(gap))
                if length < distance:
                    way = gap / length if length > 1e-6 else np.array([math.cos(i), math.sin(i)])
                    places[i] += way * (distance - length) * 0.55
                    places[j] -= way * (distance - length) * 0.55
                    moved = True
        if not moved:
            break
    return places


def _caption(record: dict[str, Any], width: int) -> Image.Image:
    """Two lines of text and the key to the signs, black on white."""
    lines = [group_line(record), pattern_line(record)]
    size = 34.0
    font = _font(size)
    wrapped = [part for line in lines for part in _wrap(line, font, width - 40)]
    height = round(len(wrapped) * size * 1.25 + 70)
    image = Image.new("RGB", (width, height), WHITE)
    pen = ImageDraw.Draw(image)
    for row, words in enumerate(wrapped):
        pen.text((20, 12 + row * size * 1.25), words, fill=BLACK, font=font)
    base = height - 30.0
    x = 20.0
    small = _font(24.0)
    for sign, words in (
        ("ring", PICTURE_WORDS["mark"]),
        ("broken", PICTURE_WORDS["likely"]),
        ("diamond", PICTURE_WORDS["group"]),
        ("cross", PICTURE_WORDS["sweet_spot"]),
    ):
        _sign(pen, sign, x + 14, base)
        pen.text((x + 36, base), words, fill=BLACK, font=small, anchor="lm")
        x += 36 + small.getlength(words) + 28
    return image


def _sign(pen: ImageDraw.ImageDraw, sign: str, x: float, y: float) -> None:
    r = 12.0
    box = (x - r, y - r, x + r, y + r)
    if sign == "ring":
        pen.ellipse(box, outline=BLACK, width=6)
        pen.ellipse((x - r + 1, y - r + 1, x + r - 1, y + r - 1), outline=ORANGE, width=4)
    elif sign == "broken":
        for start in range(0, 360, 60):
            pen.arc(box, start, start + 36, fill=BLACK, width=6)
            pen.arc((x - r + 1, y - r + 1, x + r - 1, y + r - 1), start, start + 36, fill=ORANGE, width=4)
    elif sign == "diamond":
        pen.polygon([(x, y - r), (x + r, y), (x, y + r), (x - r, y)], fill=SKY, outline=BLACK, width=3)
    else:
        pen.line((x - r, y, x + r, y), fill=BLACK, width=3)
        pen.line((x, y - r, x, y + r), fill=BLACK, width=3)
        pen.ellipse((x - 7, y - 7, x + 7, y + 7), outline=BLACK, width=3)


def _wrap(words: str, font: Any, width: float) -> list[str]:
    lines, current = [], ""
    for word in words.split():
        trial = f"{current} {word}".strip()
        if font.getlength(trial) > width and current:
            lines.append(current)
            current = word
        else:
            current = trial
    return [*lines, current]


def _font(size: float) -> Any:
    """Pillow's own scalable font: nothing to install, the same everywhere."""
    return ImageFont.load_default(size=round(size))
