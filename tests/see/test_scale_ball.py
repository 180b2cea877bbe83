"""Scale from a ball: exact projection of a sphere, half-hidden balls, and round things that are no balls."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from facemark.errors import ScaleError
from facemark.inputs import Reference, ReferenceKind
from facemark.see import ball as ball_
from facemark.see.ball import find_ball
from facemark.see.scale import find_scale
from tests.see import scale_scenes as scenes

SIZE = (1000, 750)
BALL = Reference(kind=ReferenceKind.BALL)


def test_the_ball_is_the_rules() -> None:
    """Equipment Rules (2019), part 4: not less than 1.680 inches, 42.67 mm."""
    assert pytest.approx(1.680 * 25.4, abs=0.005) == ball_.BALL_DIAMETER_MM


# Near the corner the outline is an ellipse stretched by 6 %: a circle fit would be 3 % off (metrology.md 3).
@pytest.mark.parametrize("centre", [(0.0, 0.0, 300.0), (-60.0, 20.0, 330.0), (105.0, 72.0, 330.0)])
def test_distance_is_right_to_one_percent_anywhere_in_the_picture(centre: tuple[float, float, float]) -> None:
    camera = scenes.camera_of(*SIZE, 27.0)
    pixels = scenes.ball_photo(camera, np.array(centre), ground=scenes.grassy(SIZE[1], SIZE[0], 4))
    found = find_ball(pixels, camera)
    assert found is not None
    assert np.linalg.norm(found.centre_cam_mm) == pytest.approx(np.linalg.norm(centre), rel=0.01)
    np.testing.assert_allclose(found.centre_cam_mm, centre, rtol=0.01, atol=0.5)


def test_a_yellow_ball_on_grey_concrete() -> None:
    camera = scenes.camera_of(*SIZE, 27.0)
    ground = scenes.grassy(SIZE[1], SIZE[0], 6, colour=(0.3, 0.3, 0.3))
    pixels = scenes.ball_photo(
        camera, np.array([-30.0, 10.0, 320.0]), ground=ground, colour=(0.85, 0.6, 0.03)
    )
    found = find_ball(pixels, camera)
    assert found is not None
    assert found.centre_cam_mm[2] == pytest.approx(320.0, rel=0.015)


def test_a_ball_down_in_the_grass() -> None:
    """Blades over the lower third: the rest of the outline decides."""
    camera = scenes.camera_of(*SIZE, 27.0)
    centre = np.array([-30.0, 10.0, 300.0])
    pixels = scenes.ball_photo(camera, centre, ground=scenes.grassy(SIZE[1], SIZE[0], 4))
    x, y = camera.project(centre)[0]
    rng = np.random.default_rng(3)
    radius = camera.focal_px * 21.3 / 300.0
    for _ in range(90):
        foot = np.array([x + rng.uniform(-1.3, 1.3) * radius, y + 1.25 * radius])
        tip = foot + np.array([rng.normal(0, 12), -rng.uniform(0.2, 0.75) * radius])
        green = (int(rng.integers(30, 70)), int(rng.integers(80, 130)), int(rng.integers(20, 50)))
        cv2.line(
            pixels, tuple(foot.astype(int).tolist()), tuple(tip.astype(int).tolist()), green, 3, cv2.LINE_AA
        )
    found = find_ball(pixels, camera)
    assert found is not None
    assert found.centre_cam_mm[2] == pytest.approx(300.0, rel=0.02)


def test_the_scale_carries_the_doubt_of_an_unknown_tilt() -> None:
    camera = scenes.camera_of(*SIZE, 27.0)
    pixels = scenes.ball_photo(
        camera, np.array([-40.0, 0.0, 300.0]), ground=scenes.grassy(SIZE[1], SIZE[0], 4)
    )
    photo = scenes.photo_of(pixels, 27.0)
    far = find_scale(photo, BALL, near_px=camera.project(np.array([60.0, 0.0, 300.0]))[0])
    close = find_scale(photo, BALL, near_px=camera.project(np.array([5.0, 0.0, 300.0]))[0])
    assert not far.pose_known
    assert far.scale_err_frac > close.scale_err_frac > 0.015
    assert "scale_from_ball" in {c.key for c in far.caveats}
    # A face square to the optical axis, or to the line of sight to it (12 degrees apart here): the plane lies
    # between the two, so that either is within the stated error.
    seen = far.mm_per_px(camera.project(np.array([60.0, 0.0, 300.0]))[0]) * camera.focal_px / 300.0
    assert 1.0 - far.scale_err_frac < seen < 1.0


def test_a_flat_white_disc_is_no_ball() -> None:
    pixels = scenes.develop(scenes.grassy(SIZE[1], SIZE[0], 4), blur_px=1.0, noise=2.0, seed=1)
    cv2.circle(pixels, (400, 300), 70, (228, 228, 228), -1, cv2.LINE_AA)
    with pytest.raises(ScaleError, match="golf ball"):
        find_scale(scenes.photo_of(pixels, 27.0), BALL)


def test_dark_marks_on_a_white_face_are_no_balls() -> None:
    pixels = scenes.develop(scenes.grassy(SIZE[1], SIZE[0], 4), blur_px=1.0, noise=2.0, seed=1)
    cv2.ellipse(pixels, (500, 380), (230, 120), 8, 0, 360, (225, 226, 228), -1, cv2.LINE_AA)
    for x, y in ((430, 360), (560, 400), (510, 330)):
        cv2.circle(pixels, (x, y), 45, (90, 92, 95), -1, cv2.LINE_AA)
    with pytest.raises(ScaleError, match="golf ball"):
        find_scale(scenes.photo_of(pixels, 27.0), BALL)
