"""Photos in: every format a phone sends, and every broken file a person has."""

from __future__ import annotations

import io
import zlib
from pathlib import Path

import numpy as np
import pi_heif
import pytest
from PIL import Image, ImageOps

from facemark.errors import BookError, PhotoError
from facemark.tell.files import grey_copy, load, taken_on, write_picture, write_text, written_whole

RNG = np.random.default_rng(5)
SCENE = np.clip(
    np.linspace(40, 210, 640)[None, :, None] + RNG.normal(0, 6, (480, 640, 3)) + [20, 0, -20], 0, 255
).astype(np.uint8)


def save(path: Path, image: Image.Image, **how: object) -> Path:
    image.save(path, **how)  # type: ignore[arg-type]
    return path


@pytest.mark.parametrize("ending", ["png", "jpg", "webp", "tiff"])
def test_formats_come_through(tmp_path: Path, ending: str) -> None:
    photo = load(save(tmp_path / f"a.{ending}", Image.fromarray(SCENE), quality=95))
    assert photo.pixels.shape == (480, 640, 3)
    assert photo.pixels.dtype == np.uint8
    assert np.abs(photo.pixels.astype(int) - SCENE).mean() < 8


def test_pixels_cannot_be_written_to(tmp_path: Path) -> None:
    photo = load(save(tmp_path / "a.png", Image.fromarray(SCENE)))
    with pytest.raises(ValueError, match="read-only"):
        photo.pixels[0, 0] = 0


@pytest.mark.parametrize("orientation", range(1, 9))
def test_exif_orientation_is_applied(tmp_path: Path, orientation: int) -> None:
    # EXIF 2.32, tag 0x0112: what to do to the stored picture so that it stands upright.
    undo = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.transpose(1, 0, 2),
        6: lambda a: np.rot90(a, 1),
        7: lambda a: a[::-1, ::-1].transpose(1, 0, 2),
        8: lambda a: np.rot90(a, -1),
    }
    stored = np.ascontiguousarray(undo[orientation](SCENE))
    exif = Image.Exif()
    exif[0x0112] = orientation
    photo = load(save(tmp_path / "a.png", Image.fromarray(stored), exif=exif))
    assert np.array_equal(photo.pixels, SCENE)


def test_focal_length_and_date_are_read(tmp_path: Path) -> None:
    exif = Image.Exif()
    details = exif.get_ifd(0x8769)
    details[0xA405] = 26
    details[0x9003] = "2026:05:02 10:11:12"
    photo = load(save(tmp_path / "a.jpg", Image.fromarray(SCENE), exif=exif))
    assert photo.focal_35mm == 26.0
    assert photo.taken is not None
    assert photo.taken.hour == 10


def test_nonsense_exif_costs_nothing(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "yesterday"
    photo = load(save(tmp_path / "a.jpg", Image.fromarray(SCENE), exif=exif))
    assert photo.taken is None
    assert photo.focal_35mm is None


@pytest.mark.parametrize("mode", ["L", "LA", "RGBA", "P", "CMYK", "1"])
def test_other_modes_become_rgb(tmp_path: Path, mode: str) -> None:
    ending = "tiff" if mode == "CMYK" else "png"
    photo = load(save(tmp_path / f"a.{ending}", Image.fromarray(SCENE).convert(mode)))
    assert photo.pixels.shape == (480, 640, 3)
    assert abs(float(photo.pixels.mean()) - float(SCENE.mean())) < 25


def test_sixteen_bit_grey_keeps_its_tones(tmp_path: Path) -> None:
    # Pillow's own convert("RGB") turns this file white.
    grey = (SCENE[:, :, 1].astype(np.uint16) * 257).astype(np.uint16)
    photo = load(save(tmp_path / "a.png", Image.fromarray(grey)))
    assert np.abs(photo.pixels[:, :, 0].astype(int) - SCENE[:, :, 1]).max() <= 1


def test_heic_is_read(tmp_path: Path, fixtures: Path) -> None:
    path = fixtures / "photos" / "small.heic"
    assert pi_heif.is_supported(path.read_bytes())
    photo = load(path)
    assert photo.pixels.shape[2] == 3
    assert photo.pixels.std() > 10


@pytest.mark.parametrize("kind", [b"\xfeexi", b"Ex\x80f", b"\xff\xff\xff\xff"])
def test_a_heic_whose_items_have_no_names_in_text_is_refused(
    tmp_path: Path, fixtures: Path, kind: bytes
) -> None:
    # Its reader (pi_heif 1.4) ends the process on such a file; ISO/IEC 14496-12 wants text there.
    data = (fixtures / "photos" / "small.heic").read_bytes()
    at = data.index(b"Exif")
    assert data[at - 12 : at - 8] == b"infe"
    path = tmp_path / "a.heic"
    path.write_bytes(data[:at] + kind + data[at + 4 :])
    with pytest.raises(PhotoError, match="damaged"):
        load(path)
    assert taken_on(path) is None
    assert grey_copy(path, long_px=100) is None


def png_header_only(width: int, height: int) -> bytes:
    """A valid PNG head that claims a size, with no picture behind it."""
    ihdr = width.to_bytes(4, "big") + height.to_bytes(4, "big") + bytes([8, 2, 0, 0, 0])
    chunk = b"IHDR" + ihdr
    return (
        b"\x89PNG\r\n\x1a\n"
        + len(ihdr).to_bytes(4, "big")
        + chunk
        + zlib.crc32(chunk).to_bytes(4, "big")
        + (0).to_bytes(4, "big")
        + b"IDAT"
        + zlib.crc32(b"IDAT").to_bytes(4, "big")
    )


def bad_files(folder: Path) -> dict[str, Path]:
    jpeg = io.BytesIO()
    Image.fromarray(SCENE).save(jpeg, "JPEG", quality=90)
    contents = {
        "empty.jpg": b"",
        "text.jpg": b"this is not a photo\n" * 40,
        "cut.jpg": jpeg.getvalue()[: len(jpeg.getvalue()) // 2],
        "bomb.png": png_header_only(40_000, 40_000),
        "tiny.png": png_header_only(1, 1),
    }
    for name, content in contents.items():
        (folder / name).write_bytes(content)
    return {name: folder / name for name in contents} | {"missing": folder / "no.jpg", "folder": folder}


@pytest.mark.parametrize("orientation", [None, *range(1, 9)])
@pytest.mark.parametrize("how", [{}, {"progressive": True}, {"subsampling": 0}])
def test_a_jpeg_is_decoded_as_pillow_decodes_it(
    tmp_path: Path, orientation: int | None, how: dict[str, object]
) -> None:
    exif = Image.Exif()
    if orientation is not None:
        exif[0x0112] = orientation
    path = save(tmp_path / "a.jpg", Image.fromarray(SCENE[:460]), exif=exif, quality=90, **how)
    with Image.open(path) as image:
        expected = np.asarray(ImageOps.exif_transpose(image), int)
    assert np.abs(load(path).pixels - expected).max() <= 1


@pytest.mark.parametrize("name", ["driver-tags", "driver-left-strip", "iron-ball"])
def test_a_photo_is_decoded_as_pillow_decodes_it(fixtures: Path, name: str) -> None:
    path = fixtures / "photos" / f"{name}.jpg"
    with Image.open(path) as image:
        expected = np.asarray(ImageOps.exif_transpose(image), np.int16)
    assert np.abs(load(path).pixels - expected).max() <= 1


def test_what_a_phone_appends_is_no_matter_but_a_broken_picture_is(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg", Image.fromarray(SCENE), quality=90)
    whole = path.read_bytes()
    path.write_bytes(whole + whole[:5000])  # a preview or a film behind the picture, itself cut short
    assert load(path).pixels.shape == SCENE.shape
    # Cut off just before its end; a marker in its middle that does not belong there.
    for broken in (whole[:-2], whole[:9000] + b"\xff\x4c" + whole[9002:]):
        path.write_bytes(broken)
        with pytest.raises(PhotoError, match="damaged"):
            load(path)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("empty.jpg", "empty"),
        ("text.jpg", "not a picture"),
        ("cut.jpg", "cut short"),
        ("bomb.png", "megapixels"),
        ("tiny.png", "1 x 1"),
        ("missing", "no file"),
        ("folder", "folder"),
    ],
)
def test_broken_files_are_refused_with_a_remedy(tmp_path: Path, name: str, says: str) -> None:
    with pytest.raises(PhotoError, match=says) as caught:
        load(bad_files(tmp_path)[name])
    assert caught.value.remedy.endswith(".")


def test_a_failed_write_leaves_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "report.txt"
    write_text(target, "old")

    def fail_half_way() -> None:
        with written_whole(target) as temporary:
            temporary.write_text("half", encoding="utf-8")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert target.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["report.txt"]


def test_writing_where_there_is_no_folder_says_so(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="could not be written"):
        write_text(tmp_path / "no" / "report.txt", "x")
    with pytest.raises(BookError, match=r"\.png"):
        write_picture(tmp_path / "a.bmp", SCENE)


def test_saved_pictures_carry_no_metadata(tmp_path: Path) -> None:
    write_picture(tmp_path / "a.jpg", SCENE)
    with Image.open(tmp_path / "a.jpg") as image:
        assert not image.getexif()


def test_a_cheap_grey_copy_is_smaller_and_none_of_what_cannot_be_read(tmp_path: Path, fixtures: Path) -> None:
    photo = fixtures / "photos" / "driver-tags.jpg"
    full, small = grey_copy(photo, long_px=0), grey_copy(photo, long_px=1000)
    assert full is not None
    assert small is not None
    assert full.shape == load(photo).pixels.shape[:2]
    assert 1000 <= max(small.shape) < max(full.shape)
    (tmp_path / "cut.jpg").write_bytes(photo.read_bytes()[:30000])
    assert grey_copy(tmp_path / "cut.jpg", long_px=0) is None
    assert taken_on(tmp_path / "missing.jpg") is None


def test_a_damaged_exif_block_is_no_matter(tmp_path: Path) -> None:
    path = tmp_path / "cut.jpg"
    cut = (
        b"Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x02\x01\x12\x00\x03"  # two entries told, half of one there
    )
    Image.new("RGB", (1200, 900), "grey").save(path, exif=cut)
    with pytest.warns(UserWarning, match="Corrupt EXIF"), Image.open(path) as image:
        image.getexif()  # so it is damaged, as Pillow says
    assert load(path).width_px == 1200  # warnings are errors here
