"""Pictures that leave the program: no card's interior, no metadata, the face alone unless asked."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

import facemark
from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Reference, ReferenceKind
from facemark.tell.clean import PAINT_GREY, clean_pixels, picture_bytes, shown_box
from facemark.tell.files import write_picture
from facemark.tell.overlay import WHOLE_WIDTH_PX, draw_overlay


@pytest.fixture(scope="module")
def photo(fixtures: Path) -> facemark.Photo:
    return facemark.load(fixtures / "photos" / "driver-card.jpg")


@pytest.fixture(scope="module")
def record(photo: facemark.Photo) -> dict[str, Any]:
    setup = facemark.Setup(
        club=typical_club(ClubKind.DRIVER),
        reference=Reference(kind=ReferenceKind.CARD),
        hand=facemark.Hand.RIGHT,
        n_balls=10,
    )
    return facemark.read(photo, setup).to_dict()


def inside(polygon: list[list[float]], shape: tuple[int, int], shrink_frac: float = 0.0) -> np.ndarray:
    from PIL import ImageDraw

    corners = np.array(polygon, float)
    corners = corners.mean(axis=0) + (corners - corners.mean(axis=0)) * (1 - shrink_frac)
    mask = Image.new("L", (shape[1], shape[0]))
    ImageDraw.Draw(mask).polygon([tuple(p) for p in corners], fill=255)
    return np.array(mask) > 0


def test_the_card_is_one_even_colour_in_the_whole_photo(
    photo: facemark.Photo, record: dict[str, Any]
) -> None:
    [card] = record["scale"]["card_px"]
    within = inside(card, photo.pixels.shape[:2])
    assert within.sum() > 10_000
    assert photo.pixels[within].std(axis=0).max() > 1.0  # it was not even before
    clean = clean_pixels(photo.pixels, record, whole=True)
    assert (clean[within] == PAINT_GREY).all()
    outside = ~inside(card, photo.pixels.shape[:2], shrink_frac=-0.06)
    assert np.array_equal(clean[outside], photo.pixels[outside])


def test_the_card_found_is_the_card_drawn(record: dict[str, Any], fixtures: Path) -> None:
    # Truth: where the path-traced scene's card projects (fixtures/README.md), if its file tells.
    [card] = record["scale"]["card_px"]
    sides = [np.linalg.norm(np.subtract(card[i], card[i - 1])) for i in range(4)]
    # ISO/IEC 7810 ID-1: 85.60 x 53.98 mm, ratio 1.586; seen within some 20 degrees of square.
    long, short = (sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2
    assert max(long, short) / min(long, short) == pytest.approx(85.60 / 53.98, rel=0.08)


def test_overlay_of_the_whole_photo_hides_the_card(photo: facemark.Photo, record: dict[str, Any]) -> None:
    picture = draw_overlay(photo, record, whole=True, caption=False)
    assert picture.shape[1] == WHOLE_WIDTH_PX
    zoom = WHOLE_WIDTH_PX / photo.width_px
    card = [[x * zoom, y * zoom] for x, y in record["scale"]["card_px"][0]]
    within = picture[inside(card, picture.shape[:2], shrink_frac=0.25)]
    assert (np.abs(within.astype(int) - PAINT_GREY).max(axis=1) <= 3).mean() > 0.97  # but for the scale bar


def test_the_face_alone_unless_asked(photo: facemark.Photo, record: dict[str, Any]) -> None:
    x0, y0, x1, y1 = shown_box(record)
    outline = np.array(record["face"]["outline_px"])
    assert (outline >= [x0, y0]).all()
    assert (outline <= [x1, y1]).all()
    assert (x1 - x0) * (y1 - y0) < 0.6 * photo.width_px * photo.height_px
    assert clean_pixels(photo.pixels, record).shape == (y1 - y0, x1 - x0, 3)
    assert clean_pixels(photo.pixels, record, whole=True).shape == photo.pixels.shape


def test_the_photo_itself_is_not_painted(photo: facemark.Photo, record: dict[str, Any]) -> None:
    before = photo.pixels.copy()
    clean_pixels(photo.pixels, record, whole=True)
    assert np.array_equal(before, photo.pixels)


# Long enough not to turn up in compressed pixels by chance.
SECRETS = (b"Exif\0", b"http://ns.adobe.com/xap", b"ICC_PROFILE", b"Made by a secret camera")


@pytest.mark.parametrize(("kind", "ending"), [("JPEG", ".jpg"), ("PNG", ".png"), ("WEBP", ".webp")])
def test_no_metadata_leaves(
    tmp_path: Path, photo: facemark.Photo, record: dict[str, Any], kind: str, ending: str
) -> None:
    exif = Image.Exif()
    exif[0x010F] = "Made by a secret camera"
    exif.get_ifd(0x8825)[2] = (52.0, 30.0, 0.0)  # GPSLatitude
    told = tmp_path / "told.jpg"
    Image.fromarray(photo.pixels).save(told, exif=exif)
    assert b"Made by a secret camera" in told.read_bytes()  # the photo really holds it
    loaded = facemark.load(told)
    out = tmp_path / f"out{ending}"
    write_picture(out, draw_overlay(loaded, record))
    for content in (
        picture_bytes(clean_pixels(loaded.pixels, record), kind, widest_px=600),
        out.read_bytes(),
    ):
        assert not [secret for secret in SECRETS if secret in content]
        picture = Image.open(io.BytesIO(content))
        assert not picture.getexif()
        assert not {"exif", "icc_profile", "xmp", "comment"} & set(picture.info)


def test_reduced_to_the_size_asked(photo: facemark.Photo, record: dict[str, Any]) -> None:
    content = picture_bytes(photo.pixels, "JPEG", widest_px=1600)
    assert max(Image.open(io.BytesIO(content)).size) == 1600
