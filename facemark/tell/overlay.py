"""The photo with the reading drawn on it, for a phone in sunlight.

Cropped to the face, at phone width. Every sign differs by shape and letter as well as colour, and every line
has a dark and a light edge, so that it reads on white powder, on bare metal and in black and white. Colours
are of the Okabe-Ito set, made to be told apart by colour-blind people.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from facemark.inputs import Photo
from facemark.tell.clean import clean_pixels, shown_box
from facemark.tell.fonts import picture_font
from facemark.tell.language import ENGLISH, Language
from facemark.tell.units import MM_PER_INCH, FaceLengths, Units
from facemark.tell.words import PLAIN_UNITS, group_line, pattern_line

PICTURE_WIDTH_PX = 1080  # width of a phone's screen held upright, in its own pixels
WHOLE_WIDTH_PX = 1600  # the whole photo: the face is then about as large as above
SUPERSAMPLE = 2  # drawn at twice the size, then reduced: smooth lines from Pillow's plain ones

FACE_UNITS = 410.0  # the face's length in units of drawing

LONGEST_REGION_MM = 40.0  # a wider region of the centre says nothing and would hide the marks

ORANGE, SKY, BLUE = (230, 159, 0), (86, 180, 233), (0, 114, 178)
BLACK, WHITE = (0, 0, 0), (255, 255, 255)

Point = tuple[float, float]


def draw_overlay(
    photo: Photo,
    record: dict[str, Any],
    *,
    units: Units = PLAIN_UNITS,
    language: Language = ENGLISH,
    whole: bool = False,
    caption: bool = True,
) -> NDArray[np.uint8]:
    """Draw the reading over the photo, a card's interior painted over.

    Parameters
    ----------
    photo : Photo
        The photo the record was made from.
    record : dict
        ``Reading.to_dict()``.
    units, language : of scale bar and words.
    whole : bool
        Show the whole photo instead of the face alone.
    caption : bool
        Legend and two lines of text below; reports have their own words.

    Returns
    -------
    (H, W, 3) uint8
        ``PICTURE_WIDTH_PX`` wide (whole: ``WHOLE_WIDTH_PX``).
    """
    canvas = _Canvas(photo, record, units=units, language=language, whole=whole)
    canvas.outline()
    canvas.group()
    canvas.marks()
    canvas.sweet_spot()
    canvas.directions()
    canvas.ruler()
    face = canvas.finished()
    if not caption:
        return np.array(face)
    below = _caption(record, face.width, units, language)
    joined = Image.new("RGB", (face.width, face.height + below.height), WHITE)
    joined.paste(face, (0, 0))
    joined.paste(below, (0, face.height))
    return np.array(joined)


class _Canvas:
    """The cropped, enlarged photo, and drawing on it in photo pixels."""

    def __init__(
        self, photo: Photo, record: dict[str, Any], *, units: Units, language: Language, whole: bool
    ) -> None:
        self.record, self.units, self.language = record, units, language
        x0, y0, x1, y1 = shown_box(record, whole=whole)
        width = SUPERSAMPLE * (WHOLE_WIDTH_PX if whole else PICTURE_WIDTH_PX)
        self.zoom = width / (x1 - x0)
        self.corner = np.array([x0, y0], float)
        crop = Image.fromarray(clean_pixels(photo.pixels, record, whole=whole))
        self.image = crop.resize((width, round((y1 - y0) * self.zoom)), Image.Resampling.BICUBIC)
        self.pen = ImageDraw.Draw(self.image)
        # A line of one unit is thin but visible; signs keep their size against the face.
        face_px = float(np.ptp(np.array(record["face"]["outline_px"], float)[:, 0])) * self.zoom
        self.unit = min(max(face_px / FACE_UNITS, SUPERSAMPLE * 1.0), SUPERSAMPLE * 2.4)
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
        for side, reach in (("toe", along.max()), ("heel", along.min())):
            word = self.language.say(f"picture.{side}")
            place = self.centre + toe_way * (reach + math.copysign(gap, reach))
            room = np.array([_half_length(word, 13.0 * self.unit) + 4 * self.unit, 20 * self.unit])
            place = np.clip(place, room, [self.image.width, self.image.height] - room)
            self.text(place, word, 13.0, WHITE, halo=True)

    def ruler(self) -> None:
        """20 mm or 1 inch, with ticks, lower left."""
        inches = self.units.face is FaceLengths.INCHES
        step, n_steps, words = (MM_PER_INCH / 4, 4, "1") if inches else (5.0, 4, "20")
        length = step * n_steps * self.px_per_mm
        start = np.array([12 * self.unit, self.image.height - 14 * self.unit])
        self.line([start, start + np.array([length, 0.0])], WHITE, 2.2)
        for number in range(n_steps + 1):
            tick = start + np.array([number * step * self.px_per_mm, 0.0])
            self.line([tick, tick - np.array([0.0, (4 if number % 2 else 7) * self.unit])], WHITE, 1.4)
        words += f" {self.language.say(f'unit.{self.units.face}')}"
        middle = start + np.array([length / 2, -15 * self.unit])
        middle[0] = max(middle[0], _half_length(words, 12.0 * self.unit) + 4 * self.unit)
        self.text(middle, words, 12.0, WHITE, halo=True)

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
            font=picture_font(round(size * self.unit)),
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


CAPTION_PX, KEY_PX, CAPTION_EDGE_PX = 34, 24, 20


def _caption(record: dict[str, Any], width: int, units: Units, language: Language) -> Image.Image:
    """Two sentences and the key to the signs, black on white."""
    lines = [group_line(record, units, language), pattern_line(record, language)]
    font, small = picture_font(CAPTION_PX), picture_font(KEY_PX)
    wrapped = [part for line in lines for part in wrap(line, font, width - 2 * CAPTION_EDGE_PX)]
    keys: list[tuple[str, str, int, float]] = []  # sign, words, row, x
    row, x = 0, float(CAPTION_EDGE_PX)
    for sign in ("mark", "likely", "group", "sweet spot"):
        words = language.say(f"picture.{sign}")
        long = 36 + small.getlength(words)
        if x + long > width - CAPTION_EDGE_PX:
            row, x = row + 1, float(CAPTION_EDGE_PX)
        keys.append((sign, words, row, x))
        x += long + 24
    leading, key_leading = CAPTION_PX * 1.25, KEY_PX * 1.6
    height = round(12 + len(wrapped) * leading + 18 + (row + 1) * key_leading + 8)
    image = Image.new("RGB", (width, height), WHITE)
    pen = ImageDraw.Draw(image)
    for number, words in enumerate(wrapped):
        pen.text((CAPTION_EDGE_PX, 12 + number * leading), words, fill=BLACK, font=font)
    for sign, words, row, x in keys:
        y = 12 + len(wrapped) * leading + 18 + (row + 0.5) * key_leading
        draw_sign(pen, sign, x + 14, y)
        pen.text((x + 36, y), words, fill=BLACK, font=small, anchor="lm")
    return image


def draw_sign(pen: ImageDraw.ImageDraw, sign: str, x: float, y: float) -> None:
    """One sign of the key, about its middle."""
    r = 12.0
    box = (x - r, y - r, x + r, y + r)
    if sign == "mark":
        pen.ellipse(box, outline=BLACK, width=6)
        pen.ellipse((x - r + 1, y - r + 1, x + r - 1, y + r - 1), outline=ORANGE, width=4)
    elif sign == "likely":
        for start in range(0, 360, 60):
            pen.arc(box, start, start + 36, fill=BLACK, width=6)
            pen.arc((x - r + 1, y - r + 1, x + r - 1, y + r - 1), start, start + 36, fill=ORANGE, width=4)
    elif sign == "region":
        for start in range(0, 360, 60):
            pen.arc(box, start, start + 36, fill=BLUE, width=4)
    elif sign == "group":
        pen.polygon([(x, y - r), (x + r, y), (x, y + r), (x - r, y)], fill=SKY, outline=BLACK, width=3)
    else:
        pen.line((x - r, y, x + r, y), fill=BLACK, width=3)
        pen.line((x, y - r, x, y + r), fill=BLACK, width=3)
        pen.ellipse((x - 7, y - 7, x + 7, y + 7), outline=BLACK, width=3)


def wrap(words: str, font: Any, width: float) -> list[str]:
    """Lines no longer than ``width`` pixels."""
    return wrap_words(words, font.getlength, width)


def wrap_words(words: str, length: Callable[[str], float], width: float) -> list[str]:
    """Lines no longer than ``width``; broken at plain spaces, never at those that hold number and unit."""
    lines, current = [], ""
    for word in words.split(" "):
        trial = f"{current} {word}".strip(" ")
        if length(trial) > width and current:
            lines.append(current)
            current = word
        else:
            current = trial
    return [*lines, current]


def _half_length(words: str, size: float) -> float:
    return float(picture_font(round(size)).getlength(words)) / 2
