"""Everything a person can get wrong: a clear sentence, a remedy, the right exit code, nothing half-written.

Photos that cannot be measured exit with 3, wrong use with 2, files and records with 4; 1 would be a fault of
ours. No message may hold a traceback.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage.data
from PIL import Image

from facemark.inputs import ClubKind, Hand, ReferenceKind
from facemark.see.draw import DrawnPhoto, DrawRecipe, draw_photo
from facemark.tell.cli import main
from tests.tell.test_files import bad_files


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str


@pytest.fixture
def facemark(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Callable[..., Ran]:
    """Runs the real entry point in this process."""
    monkeypatch.setenv("FACEMARK_HOME", str(tmp_path / "home"))

    def run(*words: object) -> Ran:
        monkeypatch.setattr("sys.argv", ["facemark", *map(str, words)])
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
        printed = capsys.readouterr()
        return Ran(code=code, out=printed.out, err=printed.err)

    return run


def refused(ran: Ran, code: int, *says: str) -> None:
    """The command refused properly: right code, all words said, a remedy, no traceback, no result."""
    assert ran.code == code, ran.err
    for words in says:
        assert words in ran.err
    assert "Traceback" not in ran.err
    assert ran.out == ""
    assert len(ran.err.strip().splitlines()) >= 2  # sentence and remedy


def drawn(**recipe: object) -> DrawnPhoto:
    how = {
        "tier": "easy",
        "hand": Hand.RIGHT,
        "kind": ClubKind.DRIVER,
        "reference": ReferenceKind.TAGS,
        "tag_side_mm": 22.0,
        "n_marks": 3,
        "size_px": (1600, 1200),
    }
    return draw_photo(DrawRecipe(**{**how, **recipe}), np.random.default_rng(77))  # type: ignore[arg-type]


def saved(folder: Path, pixels: np.ndarray, name: str = "photo.png") -> Path:
    Image.fromarray(pixels).save(folder / name, compress_level=1)
    return folder / name


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
def test_files_that_are_no_photo(facemark: Callable[..., Ran], tmp_path: Path, name: str, says: str) -> None:
    refused(facemark("read", bad_files(tmp_path)[name], "--tag-mm", 22), 3, says)


def test_all_black(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    photo = saved(tmp_path, np.full((900, 1200, 3), 3, np.uint8))
    refused(facemark("read", photo, "--tag-mm", 22), 3, "black", "light")


def test_a_photo_without_a_club(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    # A real photograph: scikit-image's bundled cup of coffee, enlarged to a phone's size.
    coffee = cv2.resize(skimage.data.coffee(), None, fx=2.5, fy=2.5)
    refused(facemark("read", saved(tmp_path, coffee), "--face-mm", 110, "--right"), 3)


def test_no_scale_object_is_never_pixels(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    photo = drawn()
    pixels = photo.photo.pixels.copy()
    for tag in photo.truth["reference"]["markers"]:
        corners = np.array(tag["corners_px"], np.float32)
        grown = corners.mean(0) + (corners - corners.mean(0)) * 2.6
        cv2.fillConvexPoly(pixels, grown.astype(np.int32), (52, 70, 45))
    ran = facemark("read", saved(tmp_path, pixels), "--right")
    refused(ran, 3, "card")


def test_tags_without_their_size(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    refused(facemark("read", saved(tmp_path, drawn().photo.pixels)), 3, "--tag-mm")


def test_two_sizes_of_tags(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    photo = drawn()
    pixels = photo.photo.pixels.copy()
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    small = cv2.copyMakeBorder(
        cv2.aruco.generateImageMarker(dictionary, 49, 90), 20, 20, 20, 20, cv2.BORDER_CONSTANT, value=255
    )
    pixels[20 : 20 + small.shape[0], 20 : 20 + small.shape[1]] = small[:, :, None]
    refused(facemark("read", saved(tmp_path, pixels), "--tag-mm", 22, "--right"), 3, "tag")


def test_tags_too_small(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    pixels = drawn().photo.pixels
    small = cv2.resize(pixels, None, fx=0.11, fy=0.11, interpolation=cv2.INTER_AREA)
    canvas = np.full((900, 1200, 3), 90, np.uint8)
    canvas[300 : 300 + small.shape[0], 400 : 400 + small.shape[1]] = small
    refused(facemark("read", saved(tmp_path, canvas), "--tag-mm", 22, "--right"), 3)


def test_face_out_of_the_frame(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    photo = drawn()
    x_px = int(photo.truth["face_centre_px"][0])
    outline = np.array(photo.truth["face_outline_px"])
    tags = np.concatenate([np.array(t["corners_px"]) for t in photo.truth["reference"]["markers"]])
    # Cut through the middle of the face, on the side away from the tags.
    toward_heel = tags[:, 0].mean() < x_px
    pixels = photo.photo.pixels[:, :x_px] if toward_heel else photo.photo.pixels[:, x_px:]
    assert outline[:, 0].min() < x_px < outline[:, 0].max()
    refused(facemark("read", saved(tmp_path, pixels), "--tag-mm", 22, "--right"), 3)


def test_fresh_spray_has_no_marks(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    photo = saved(tmp_path, drawn(n_marks=0).photo.pixels)
    refused(facemark("read", photo, "--tag-mm", 22, "--right"), 3, "mark")


def test_a_camera_tilted_too_far(facemark: Callable[..., Ran], tmp_path: Path) -> None:
    photo = saved(tmp_path, drawn(tilt_deg=(52.0, 55.0)).photo.pixels)
    refused(facemark("read", photo, "--tag-mm", 22, "--right"), 3)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--balls", "0"], "0 balls"),
        (["--balls", "1000"], "1000 balls"),
        (["--face-mm", "-3"], "-3"),
        (["--face-mm", "nan"], "no length"),
        (["--tag-mm", "0"], "tag"),
        (["--tag-mm", "22", "--face-mm", "110"], "both"),
        (["--scale", "tags"], "--tag-mm"),
        (["--scale", "card", "--tag-mm", "20"], "--scale"),
        (["--spacer-mm", "900"], "900"),
        (["--speed", "-4"], "-4"),
        (["--speed", "40", "--speed-unit", "knots"], "knots"),
        (["--lengths", "feet"], "feet"),
    ],
)
def test_options_that_cannot_be(
    facemark: Callable[..., Ran], fixtures: Path, options: list[str], says: str
) -> None:
    refused(facemark("read", fixtures / "photos" / "driver-tags.jpg", *options), 2, says)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("schema = 1\nname = 'x'\nkind = 'driver'\ncolour = 'red'\n", "colour"),
        ("schema = 1\nname = 'x'\nkind = 'spoon'\n", "spoon"),
        ("schema = 1\nname = 'x'\nkind = 'driver'\nbulge_mm = -2.0\n", "bulge_mm"),
        ("schema = 1\nname = 'x'\nkind = 'driver'\nloft_deg = 120.0\n", "loft_deg"),
        ("this is = not [ toml\n", "club.toml"),
    ],
)
def test_club_files_that_cannot_be(
    facemark: Callable[..., Ran], fixtures: Path, tmp_path: Path, text: str, says: str
) -> None:
    club = tmp_path / "club.toml"
    club.write_text(text, encoding="utf-8")
    photo = fixtures / "photos" / "driver-tags.jpg"
    refused(facemark("read", photo, "--tag-mm", 23.9, "--club", club), 2, says)


def test_a_club_file_that_is_not_there(facemark: Callable[..., Ran], fixtures: Path, tmp_path: Path) -> None:
    photo = fixtures / "photos" / "driver-tags.jpg"
    ran = facemark("read", photo, "--tag-mm", 23.9, "--club", tmp_path / "no.toml")
    assert ran.code in {2, 4}
    assert "no.toml" in ran.err


def test_a_picture_that_cannot_be_written_leaves_nothing(
    facemark: Callable[..., Ran], fixtures: Path, tmp_path: Path
) -> None:
    target = tmp_path / "no" / "out.png"
    photo = fixtures / "photos" / "driver-tags.jpg"
    ran = facemark("read", photo, "--tag-mm", 23.9, "--balls", 3, "--picture", target)
    refused(ran, 4, "could not be written")
    assert not target.parent.exists()


def test_settings_that_cannot_be(facemark: Callable[..., Ran], fixtures: Path, tmp_path: Path) -> None:
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "config.toml").write_text("hand = 'both'\n", encoding="utf-8")
    photo = fixtures / "photos" / "driver-tags.jpg"
    refused(facemark("read", photo, "--tag-mm", 23.9), 2, "both", "right or left")


def test_the_photo_is_never_changed(facemark: Callable[..., Ran], fixtures: Path, tmp_path: Path) -> None:
    photo = tmp_path / "copy.jpg"
    content = (fixtures / "photos" / "driver-tags.jpg").read_bytes()
    photo.write_bytes(content)
    facemark("read", photo, "--tag-mm", 23.9, "--picture", tmp_path / "out.png")
    assert photo.read_bytes() == content
    assert sorted(p.name for p in tmp_path.iterdir()) == ["copy.jpg", "out.png"]


def test_a_scale_that_makes_no_club_face(facemark: Callable[..., Ran], fixtures: Path) -> None:
    # The tags are 23.9 mm; told as 60 mm the face would be 270 mm long.
    photo = fixtures / "photos" / "driver-tags.jpg"
    refused(facemark("read", photo, "--tag-mm", 60, "--right"), 3, "mm long", "scale object")
