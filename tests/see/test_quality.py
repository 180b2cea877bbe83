"""Each check sees its own fault and nothing else."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from facemark.inputs import Photo
from facemark.see.quality import Grade, check_glare, check_light, check_sharpness, check_size, edge_width_px
from facemark.see.rectify import FaceMap

SQUARE = np.array([[200.0, 200.0], [600.0, 200.0], [600.0, 600.0], [200.0, 600.0]])
PX_PER_MM = 6.0


def squares(blur_px: float, *, shake_px: int = 0, noise: float = 1.0) -> Photo:
    """A chequered square on grey, blurred by a known Gaussian, then by a straight movement to the right."""
    grey = np.full((800, 800), 90.0)
    cells = np.add.outer(np.arange(400) // 50, np.arange(400) // 50) % 2
    grey[200:600, 200:600] = np.where(cells, 220.0, 30.0)
    grey = cv2.GaussianBlur(grey, (0, 0), blur_px)
    if shake_px:
        grey = cv2.blur(grey, (shake_px, 1))
    grey += noise * np.random.default_rng(1).normal(size=grey.shape)
    return Photo(
        pixels=np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2), name="squares"
    )


@pytest.mark.parametrize("blur_px", [1.0, 2.0, 3.5])
def test_edge_width_is_that_of_the_blur(blur_px: float) -> None:
    # From 10 to 90 % of a Gaussian step: 2 x 1.2816 sigma (the normal distribution's 90 % point).
    width = edge_width_px(squares(blur_px), [SQUARE], PX_PER_MM)
    assert width == pytest.approx(2 * 1.2816 * blur_px, rel=0.15, abs=0.7)  # pixels have a width too


def test_shake_in_one_direction_counts() -> None:
    width = edge_width_px(squares(0.8, shake_px=15), [SQUARE], PX_PER_MM)
    assert width == pytest.approx(0.8 * 15, rel=0.2)  # 10 to 90 % of a ramp


def test_sharp_and_blurred_are_told_apart() -> None:
    assert check_sharpness(squares(0.8), [SQUARE], PX_PER_MM).grade is Grade.GOOD
    fair = check_sharpness(squares(3.5), [SQUARE], PX_PER_MM)
    assert fair.grade is Grade.FAIR
    assert "blurred" in fair.says
    assert fair.remedy


def test_nothing_to_judge_by_is_said() -> None:
    flat = Photo(pixels=np.full((800, 800, 3), 128, np.uint8), name="flat")
    assert math.isnan(edge_width_px(flat, [SQUARE], PX_PER_MM))
    assert check_sharpness(flat, [SQUARE], PX_PER_MM).grade is Grade.FAIR


@pytest.mark.parametrize(
    ("tone", "grade", "word"),
    [(20, Grade.BAD, "dark"), (80, Grade.FAIR, "dark"), (200, Grade.GOOD, ""), (255, Grade.BAD, "bright")],
)
def test_light_on_the_face_not_around_it(tone: int, grade: Grade, word: str) -> None:
    pixels = np.full((800, 800, 3), 128, np.uint8)
    pixels[195:605, 195:605] = tone
    found = check_light(Photo(pixels=pixels, name="face"), SQUARE)
    assert found.grade is grade
    assert word in found.says


@pytest.mark.parametrize(("px_per_mm", "grade"), [(8.0, Grade.GOOD), (2.0, Grade.FAIR), (1.0, Grade.BAD)])
def test_size(px_per_mm: float, grade: Grade) -> None:
    assert check_size(px_per_mm).grade is grade


@pytest.mark.parametrize(("glare_mm", "grade"), [(0, Grade.GOOD), (16, Grade.FAIR), (40, Grade.FAIR)])
def test_shine(glare_mm: int, grade: Grade) -> None:
    rng = np.random.default_rng(2)
    pixels = np.clip(150 + 4 * rng.normal(size=(200, 400)), 0, 255)  # 50 x 100 mm of powder
    pixels[:, 20 : 20 + 4 * glare_mm] = 254
    face = FaceMap(
        pixels=np.repeat(pixels.astype(np.uint8)[..., None], 3, axis=2),
        inside=np.ones((200, 400), bool),
        left_toe_mm=-50.0,
        top_high_mm=25.0,
        px_per_mm=4.0,
    )
    assert check_glare(face).grade is grade
