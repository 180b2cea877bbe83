"""Scale from an ID-1 card, and what must not be taken for one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from facemark.errors import ScaleError
from facemark.inputs import Reference, ReferenceKind
from facemark.see import card as card_
from facemark.see.edges import colour_side_line
from facemark.see.scale import find_scale
from tests.see import scale_scenes as scenes

SIZE = (1200, 900)
CARD = Reference(kind=ReferenceKind.CARD)
FACE_MM = (50.0, 10.0)
COLOURS = {
    "red": (0.6, 0.04, 0.08),
    "white": (0.8, 0.8, 0.8),
    "black": (0.008, 0.008, 0.010),
    "mat green": (0.03, 0.22, 0.10),
}


def _scene(
    colour: str, tilt: float, *, focal: float = 27.0, blur: float = 1.0, noise: float = 2.0
) -> tuple[np.ndarray, scenes.Camera, scenes.Pose]:
    camera, pose = scenes.camera_of(*SIZE, focal), scenes.pose_of(300.0 * focal / 27.0, tilt, 40.0, 8.0)
    texture, alpha = scenes.card_texture(COLOURS[colour])
    pixels = scenes.photograph(
        texture,
        (-85.0, 27.0),
        pose,
        camera,
        ground=scenes.grassy(SIZE[1], SIZE[0], 3),
        alpha=alpha,
        px_per_mm=16.0,
        blur_px=blur,
        noise=noise,
    )
    return pixels, camera, pose


def _error_frac(
    pixels: np.ndarray, camera: scenes.Camera, pose: scenes.Pose, focal: float | None = 27.0
) -> float:
    near, true = scenes.true_scale(camera, pose, FACE_MM)
    scale = find_scale(scenes.photo_of(pixels, focal), CARD, near_px=near)
    assert scale.kind is ReferenceKind.CARD
    return scale.mm_per_px(near) / true - 1.0


def test_the_card_is_the_standards() -> None:
    """ISO/IEC 7810:2019, ID-1: nominal 85.60 x 53.98 mm, corner radius 3.18 mm (2.88 to 3.48)."""
    assert (card_.CARD_LENGTH_MM, card_.CARD_HEIGHT_MM) == (85.60, 53.98)
    assert 2.88 <= card_.CORNER_RADIUS_MM <= 3.48


@pytest.mark.parametrize("colour", COLOURS)
@pytest.mark.parametrize("tilt", [0.0, 20.0, 35.0])
def test_any_colour_at_any_usual_tilt(colour: str, tilt: float) -> None:
    assert abs(_error_frac(*_scene(colour, tilt))) < 0.006


def test_small_blurred_and_noisy() -> None:
    pixels, camera, pose = _scene("red", 15.0, blur=3.0, noise=6.0)
    assert abs(_error_frac(pixels, camera, pose)) < 0.006


def test_fingers_over_an_edge_and_a_corner() -> None:
    pixels, camera, pose = _scene("red", 12.0)
    held = pixels.copy()
    for x_mm, y_mm, r_mm in ((-85.0, -20.0, 9.0), (-40.0, -27.0, 9.0)):
        at = camera.project(pose.points(np.array([[x_mm, y_mm]])))[0]
        radius = round(r_mm * camera.focal_px / 300.0)
        cv2.circle(held, (round(at[0]), round(at[1])), radius, (196, 150, 120), -1, cv2.LINE_AA)
    assert abs(_error_frac(held, camera, pose)) < 0.01


def test_a_patch_that_lost_a_corner_is_mended(monkeypatch: pytest.MonkeyPatch) -> None:
    """All that is seen is a plain patch; ground as plain as the card has pulled one corner out by 9 mm."""
    pixels, camera, pose = _scene("red", 12.0)
    corners = camera.project(
        pose.points(np.array([[-85.0, 27.0], [0.6, 27.0], [0.6, -27.0], [-85.0, -27.0]]))
    )
    shrunk = card_.WORK_SIDE_PX / SIZE[0]
    patch = (corners + 0.5) * shrunk - 0.5
    patch[2] += (14.0, 10.0)
    monkeypatch.setattr(card_, "figures", lambda lab, segments, looks: ([] if looks else [patch], segments))
    assert abs(_error_frac(pixels, camera, pose)) < 0.006
    monkeypatch.setattr(card_, "mended", lambda quad: [])
    _not_a_card(pixels)


def test_a_hard_shadow_across_the_card() -> None:
    pixels, camera, pose = _scene("white", 12.0)
    light = (pixels / 255.0) ** 2.2
    x = np.arange(SIZE[0])[None, :] + 0.6 * np.arange(SIZE[1])[:, None]
    at = camera.project(pose.points(np.array([[-42.0, 0.0]])))[0]
    shade = np.where(x < at[0] + 0.6 * at[1], 0.25, 1.0)
    shadowed = scenes.develop((light * shade[:, :, None]).astype(np.float32), blur_px=0.5, noise=1.0, seed=3)
    assert abs(_error_frac(shadowed, camera, pose)) < 0.01


def _not_a_card(pixels: np.ndarray) -> None:
    with pytest.raises(ScaleError, match=r"85\.60"):
        find_scale(scenes.photo_of(pixels, 27.0), CARD)


def test_a_sheet_of_paper_is_not_a_card() -> None:
    """ISO 216 paper is 1.414 to 1 with sharp corners; here A7, 105 x 74 mm."""
    camera, pose = scenes.camera_of(*SIZE, 27.0), scenes.pose_of(300.0, 5.0, 40.0, 8.0)
    paper = np.full((74 * 8, 105 * 8, 3), 0.8, np.float32)
    ground = scenes.grassy(SIZE[1], SIZE[0], 3)
    _not_a_card(scenes.photograph(paper, (-52.0, 37.0), pose, camera, ground=ground))


def test_a_sharp_cornered_rectangle_of_a_cards_proportion_is_not_a_card() -> None:
    camera, pose = scenes.camera_of(2000, 1500, 27.0), scenes.pose_of(300.0, 5.0, 40.0, 8.0)
    paper = np.full((round(53.98 * 8), round(85.6 * 8), 3), 0.7, np.float32)
    ground = scenes.grassy(1500, 2000, 3)
    _not_a_card(scenes.photograph(paper, (-42.8, 27.0), pose, camera, ground=ground))


def test_a_white_face_and_a_sheet_of_tags_are_not_cards() -> None:
    camera, pose = scenes.camera_of(*SIZE, 27.0), scenes.pose_of(300.0, 5.0, 40.0, 8.0)
    page = scenes.tag_sheet({3: (-60.0, 0.0, 0.0), 5: (-20.0, 0.0, 0.0)}, 24.0, (-82.8, 27.0, 2.8, -26.98))
    ground = scenes.grassy(SIZE[1], SIZE[0], 3)
    pixels = scenes.photograph(page, (-82.8, 27.0), pose, camera, ground=ground)
    at = camera.project(pose.points(np.array([[45.0, 20.0]])))[0]
    cv2.ellipse(pixels, (round(at[0]), round(at[1])), (160, 80), 10, 0, 360, (225, 225, 228), -1, cv2.LINE_AA)
    _not_a_card(pixels)


def test_an_edge_with_a_darker_and_a_brighter_background_is_one_edge() -> None:
    picture = np.full((120, 200, 3), 60.0, np.float32)
    picture[:60, :100], picture[:60, 100:] = 15.0, 190.0  # behind the side: a dark thing, then a bright one
    picture += np.random.default_rng(3).normal(0.0, 6.0, picture.shape).astype(np.float32)
    picture = cv2.GaussianBlur(picture, (0, 0), 1.0)
    found = colour_side_line(picture, np.array([20.0, 59.5]), np.array([180.0, 59.5]), reach_px=8.0)
    assert found is not None
    line = found[0]
    assert line.seen_frac > 0.8
    assert line.point_px[1] == pytest.approx(59.5, abs=0.2)


def test_black_within_three_sides_and_white_within_the_fourth_is_not_a_card() -> None:
    """A black square on white above another: too small for its corners to be seen."""
    camera, pose = scenes.camera_of(*SIZE, 27.0), scenes.pose_of(420.0, 5.0, 40.0, 8.0)
    sheet = np.full((480, 343, 3), 0.8, np.float32)  # 4 px a mm
    sheet[:180], sheet[216:] = 0.01, 0.01
    ground = np.full((SIZE[1], SIZE[0], 3), 0.8, np.float32)
    pixels = scenes.photograph(sheet, (-43.0, 27.0), pose, camera, ground=ground, px_per_mm=4.0)
    with pytest.raises(ScaleError):
        find_scale(scenes.photo_of(pixels, 27.0), CARD, near_px=None)
