"""What a worker finds out and gives back, on shipped photos."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

import facemark
from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind, Setup
from facemark.tell.label import CardLabel, label_modules
from facemark.tell.lesson.jobs import SMALL_WIDTH_PX, Done, Draw, Failed, Look, Looked, Read, do_job
from facemark.tell.lesson.photos import Source

LABEL = CardLabel(player="mia", club="driver")
TAKEN = "2026:05:04 10:30:00"


def source(path: Path) -> Source:
    return Source(name=path.name, path=str(path))


@pytest.fixture
def photo(tmp_path: Path, fixtures: Path) -> Path:
    """A shipped photo made small, with a label in its corner and a date in its header."""
    with Image.open(fixtures / "photos" / "driver-tags.jpg") as original:
        pixels = np.array(original.resize((1600, 1600 * original.height // original.width)))
    modules = np.kron(np.array(label_modules(LABEL)), np.ones((5, 5), bool))
    code = cv2.copyMakeBorder(
        np.where(modules, 30, 230).astype(np.uint8), 20, 20, 20, 20, cv2.BORDER_CONSTANT, value=230
    )
    pixels[-code.shape[0] :, -code.shape[1] :] = code[:, :, None]
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = TAKEN
    Image.fromarray(pixels).save(tmp_path / "face.jpg", quality=90, exif=exif)
    return tmp_path / "face.jpg"


def setup() -> Setup:
    club = replace(typical_club(ClubKind.DRIVER), errs={})
    reference = Reference(kind=ReferenceKind.TAGS, size_mm=23.9)
    return Setup(club=club, hand=Hand.RIGHT, reference=reference, n_balls=3)


def test_a_look_tells_content_date_and_label(photo: Path) -> None:
    looked = do_job(Look(sources=(source(photo),), want_label=True, thorough=False))
    assert isinstance(looked, Looked)
    assert looked.label == LABEL
    assert looked.taken is not None
    assert looked.taken.strftime("%Y:%m:%d %H:%M:%S") == TAKEN
    unasked = do_job(Look(sources=(source(photo),), want_label=False, thorough=False))
    assert unasked == replace(looked, label=None)


def test_a_reading_equals_the_one_photo_command_and_is_drawn_small(photo: Path) -> None:
    looked = do_job(Look(sources=(source(photo),), want_label=False, thorough=False))
    assert isinstance(looked, Looked)
    job = Read(
        sources=(source(photo),),
        sha256=looked.sha256,
        setup=setup(),
        fast=True,
        series=False,
        new=None,
        want_picture=True,
    )
    done = do_job(job)
    assert isinstance(done, Done), done
    assert done.record == facemark.read(facemark.load(photo), setup(), fast=True).to_dict()
    assert done.picture is not None
    with Image.open(io.BytesIO(done.picture)) as small:
        assert small.width == SMALL_WIDTH_PX
    drawn = do_job(Draw(source=source(photo), record=done.record))
    assert drawn == done
    changed = do_job(replace(job, sha256=("0" * 64,)))
    assert isinstance(changed, Failed)
    assert "was changed" in changed.message


def test_a_broken_photo_is_looked_at_and_fails_when_read(photo: Path) -> None:
    photo.write_bytes(photo.read_bytes()[:9000])
    looked = do_job(Look(sources=(source(photo),), want_label=True, thorough=True))
    assert isinstance(looked, Looked)
    assert looked.label is None
    failed = do_job(
        Read(
            sources=(source(photo),),
            sha256=looked.sha256,
            setup=setup(),
            fast=True,
            series=False,
            new=None,
            want_picture=False,
        )
    )
    assert isinstance(failed, Failed)
    assert (failed.stage, "cut short" in failed.message) == ("photo", True)
