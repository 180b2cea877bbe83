"""A good photo passes, each hardship is named with what to do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Hand, Photo, Reference, ReferenceKind, Setup
from facemark.see.draw import DrawnPhoto, DrawRecipe, draw_photo
from facemark.see.quality import Finding, Grade
from facemark.tell.check import check_lines, look_over, usable
from facemark.tell.cli import app

TAG_MM = 22.0
SETUP = Setup(
    club=typical_club(ClubKind.DRIVER),
    hand=Hand.RIGHT,
    reference=Reference(kind=ReferenceKind.TAGS, size_mm=TAG_MM),
)


def drawn(reference: ReferenceKind = ReferenceKind.TAGS, *hardships: str, seed: int = 2) -> DrawnPhoto:
    recipe = DrawRecipe(
        tier="easy",
        kind=ClubKind.DRIVER,
        hand=Hand.RIGHT,
        reference=reference,
        tag_side_mm=TAG_MM,
        n_marks=2,
        size_px=(1600, 1200),
        hardships=hardships,
    )
    return draw_photo(recipe, np.random.default_rng(seed))


@pytest.fixture(scope="module")
def good() -> DrawnPhoto:
    return drawn()


def changed(photo: Photo, change: Callable[[np.ndarray], np.ndarray]) -> Photo:
    return replace(photo, pixels=np.ascontiguousarray(change(photo.pixels.copy())))


def graded(findings: tuple[Finding, ...]) -> dict[str, Grade]:
    return {one.what: one.grade for one in findings}


def test_a_good_photo(good: DrawnPhoto) -> None:
    found = look_over(good.photo, SETUP)
    assert set(graded(found).values()) == {Grade.GOOD}
    assert set(graded(found)) == {"face", "light", "scale", "tilt", "size", "sharpness", "glare"}
    assert check_lines("a.jpg", found)[-1] == "Good: it can be read."


def test_blur_is_named(good: DrawnPhoto) -> None:
    found = look_over(changed(good.photo, lambda p: cv2.GaussianBlur(p, (0, 0), 3.0)), SETUP)
    assert graded(found)["sharpness"] is not Grade.GOOD
    assert graded(found)["light"] is Grade.GOOD
    assert any("lens" in line for line in check_lines("a.jpg", found))


def test_darkness_is_named(good: DrawnPhoto) -> None:
    found = look_over(changed(good.photo, lambda p: (0.35 * p).astype(np.uint8)), SETUP)
    assert graded(found)["light"] is not Grade.GOOD


def test_tilt_is_named_and_close_to_the_truth() -> None:
    photo = drawn(ReferenceKind.TAGS, "tilt", seed=41)
    tilt = next(one for one in look_over(photo.photo, SETUP) if one.what == "tilt")
    assert tilt.grade is Grade.FAIR
    said = float(tilt.says.split("camera is ")[1].split(" degrees")[0])
    assert said == pytest.approx(photo.truth["camera"]["tilt_deg"], abs=4.0)


def test_no_scale_object_is_bad_and_says_what_helps() -> None:
    auto = replace(SETUP, reference=Reference())
    found = look_over(drawn(ReferenceKind.FACE).photo, auto)
    assert graded(found)["scale"] is Grade.BAD
    assert graded(found)["face"] is Grade.GOOD
    assert not usable(found)
    assert any("facemark card" in one.remedy for one in found)


def test_untold_tags_are_a_line_not_a_stop(good: DrawnPhoto) -> None:
    found = look_over(good.photo, replace(SETUP, reference=Reference()))
    assert graded(found)["scale"] is Grade.BAD
    assert any("--tag-mm" in one.remedy for one in found)
    assert "light" in graded(found)


def test_a_cut_face_is_bad(good: DrawnPhoto) -> None:
    outline = np.array(good.truth["face_outline_px"])
    middle = int(outline[:, 0].mean())
    found = look_over(changed(good.photo, lambda p: p[:, :middle]), SETUP)
    assert graded(found)["face"] is Grade.BAD


def test_black_is_one_line() -> None:
    found = look_over(Photo(pixels=np.zeros((600, 800, 3), np.uint8), name="black"), SETUP)
    assert [one.grade for one in found] == [Grade.BAD]
    assert check_lines("a.jpg", found)[-1] == "This photo cannot be measured."


def test_command_and_exit_codes(good: DrawnPhoto, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FACEMARK_HOME", str(tmp_path / "home"))
    (tmp_path / "good.jpg").write_bytes(good.jpeg)
    Image.fromarray(np.full((900, 1200, 3), 2, np.uint8)).save(tmp_path / "black.png")
    fine = CliRunner().invoke(app, ["check", str(tmp_path / "good.jpg"), "--tag-mm", "22", "--right"])
    assert fine.exit_code == 0, fine.output
    assert "Good" in fine.output or "It can be read" in fine.output
    black = CliRunner().invoke(app, ["check", str(tmp_path / "black.png"), "--tag-mm", "22"])
    assert black.exit_code == 3
    assert "light" in black.output
