"""Scale from tags and from our sheet, carried to a face beside them; what is wrong gets a clear error."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from facemark.errors import ScaleError
from facemark.inputs import Reference, ReferenceKind
from facemark.see.scale import Scale, find_scale
from tests.see import scale_scenes as scenes

SIZE = (1200, 900)
SIDE = 22.0
BOX = (-80.0, 35.0, 0.0, -70.0)
L_TAGS = {3: (-60.0, -20.0, 0.0), 12: (-60.0, 15.0, 5.0), 30: (-20.0, -50.0, -7.0)}
FACE_MM = (20.0, 10.0)  # where the face's centre would be: 60 to 80 mm from the tags
TAGS = Reference(kind=ReferenceKind.TAGS, size_mm=SIDE)


def _shot(
    tilt: float,
    *,
    toward: float = 40.0,
    focal: float = 27.0,
    tags: dict = L_TAGS,
    blur: float = 1.0,
    noise: float = 2.0,
) -> tuple[np.ndarray, scenes.Camera, scenes.Pose]:
    camera = scenes.camera_of(*SIZE, focal)
    pose = scenes.pose_of(300.0 * focal / 27.0, tilt, toward, 8.0)
    page = scenes.tag_sheet(tags, SIDE, BOX)
    ground = scenes.grassy(SIZE[1], SIZE[0], 3)
    pixels = scenes.photograph(page, (BOX[0], BOX[1]), pose, camera, ground=ground, blur_px=blur, noise=noise)
    return pixels, camera, pose


def _error_frac(scale: Scale, camera: scenes.Camera, pose: scenes.Pose) -> float:
    near, true = scenes.true_scale(camera, pose, FACE_MM)
    return scale.mm_per_px(near) / true - 1.0


@pytest.mark.parametrize(
    ("tilt", "toward", "focal"), [(0, 0, 27), (12, 200, 27), (25, 100, 50), (38, 40, 27)]
)
def test_scale_at_the_face_is_right_to_a_third_of_a_percent(tilt: float, toward: float, focal: float) -> None:
    pixels, camera, pose = _shot(tilt, toward=toward, focal=focal)
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    scale = find_scale(scenes.photo_of(pixels, focal), TAGS, near_px=near)
    assert scale.kind is ReferenceKind.TAGS
    assert scale.pose_known
    assert abs(_error_frac(scale, camera, pose)) < 0.0033
    out = pose.axes[:, 2]
    assert math.degrees(math.acos(min(1.0, float(scale.plane_axes_cam[:, 2] @ out)))) < 1.0
    assert 0.003 < scale.scale_err_frac < 0.03


@pytest.mark.parametrize("noise", [0.0, 6.0])
def test_blur_and_noise_cost_little(noise: float) -> None:
    pixels, camera, pose = _shot(15.0, blur=2.5, noise=noise)
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    assert (
        abs(_error_frac(find_scale(scenes.photo_of(pixels, 27.0), TAGS, near_px=near), camera, pose)) < 0.008
    )


def test_one_tag_alone_says_how_unsure_it_is() -> None:
    pixels, camera, pose = _shot(10.0, tags={12: (-60.0, 15.0, 5.0)})
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    one = find_scale(scenes.photo_of(pixels, 27.0), TAGS, near_px=near)
    assert abs(_error_frac(one, camera, pose)) < 2.5 * one.scale_err_frac
    pixels, camera, pose = _shot(10.0)
    assert find_scale(scenes.photo_of(pixels, 27.0), TAGS, near_px=near).scale_err_frac < one.scale_err_frac


def test_an_unknown_focal_length_does_not_spoil_the_scale() -> None:
    """A wrong focal length moves the camera nearer or farther; the plane's own scale stays."""
    pixels, camera, pose = _shot(20.0, focal=35.0)
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    scale = find_scale(scenes.photo_of(pixels, None), TAGS, near_px=near)
    assert abs(_error_frac(scale, camera, pose)) < 0.01
    assert "no_focal_length" in {c.key for c in scale.caveats}


def test_a_mirrored_photo_is_seen_and_measures_the_same() -> None:
    pixels, camera, pose = _shot(20.0, toward=10.0)
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    plain = find_scale(scenes.photo_of(pixels, 27.0), TAGS, near_px=near)
    flipped = np.array([SIZE[0] - 1 - near[0], near[1]])
    mirror = find_scale(scenes.photo_of(pixels[:, ::-1], 27.0), TAGS, near_px=flipped)
    assert mirror.mirrored
    assert "photo_mirrored" in {c.key for c in mirror.caveats}
    assert not plain.mirrored
    assert mirror.mm_per_px(flipped) == pytest.approx(plain.mm_per_px(near), rel=0.002)
    assert mirror.plane_axes_cam[0, 2] == pytest.approx(-plain.plane_axes_cam[0, 2], abs=0.01)
    assert mirror.footprint_px[0][:, 0].mean() == pytest.approx(
        SIZE[0] - 1 - plain.footprint_px[0][:, 0].mean(), abs=1.0
    )


def test_a_photo_turned_by_a_quarter_measures_the_same() -> None:
    pixels, camera, pose = _shot(20.0)
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    plain = find_scale(scenes.photo_of(pixels, 27.0), TAGS, near_px=near)
    turned = find_scale(
        scenes.photo_of(np.rot90(pixels), 27.0), TAGS, near_px=np.array([near[1], SIZE[0] - 1 - near[0]])
    )
    at = np.array([near[1], SIZE[0] - 1 - near[0]])
    assert turned.mm_per_px(at) == pytest.approx(plain.mm_per_px(near), rel=0.002)


def test_twice_the_pixels_are_the_same_millimetres() -> None:
    pixels, camera, pose = _shot(20.0)
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    plain = find_scale(scenes.photo_of(pixels, 27.0), TAGS, near_px=near)
    big = cv2.resize(pixels, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    double = find_scale(scenes.photo_of(big, 27.0), TAGS, near_px=2 * near + 0.5)
    assert double.mm_per_px(2 * near + 0.5) == pytest.approx(plain.mm_per_px(near) / 2, rel=0.002)


def test_a_spacer_moves_the_plane_to_the_face() -> None:
    """Tags 10 mm in front of the face: the face is farther away, so a pixel is more millimetres."""
    pixels, camera, pose = _shot(0.0)
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    photo = scenes.photo_of(pixels, 27.0)
    at_plane = find_scale(photo, TAGS, near_px=near)
    behind = find_scale(photo, Reference(kind=ReferenceKind.TAGS, size_mm=SIDE, spacer_mm=10.0), near_px=near)
    assert behind.mm_per_px(near) / at_plane.mm_per_px(near) == pytest.approx(310.0 / 300.0, rel=0.001)
    assert behind.plane_gap_err_mm < at_plane.plane_gap_err_mm


def test_two_sizes_of_tags_are_an_error() -> None:
    camera, pose = scenes.camera_of(*SIZE, 27.0), scenes.pose_of(300.0, 10.0, 0.0)
    tags = {3: (-50.0, 0.0, 0.0, 24.0), 5: (0.0, 0.0, 0.0, 20.0), 6: (40.0, 0.0, 0.0, 20.0)}
    page = scenes.tag_sheet_sizes(tags, (-80.0, 30.0, 70.0, -30.0))
    pixels = scenes.photograph(page, (-80.0, 30.0), pose, camera)
    with pytest.raises(ScaleError, match="one size"):
        find_scale(scenes.photo_of(pixels, 27.0), Reference(kind=ReferenceKind.TAGS, size_mm=20.0))


def test_tags_without_a_told_size_are_an_error_that_says_how_to_tell() -> None:
    pixels, _, _ = _shot(10.0)
    with pytest.raises(ScaleError, match="not told") as caught:
        find_scale(scenes.photo_of(pixels, 27.0), Reference())
    assert "--tag-mm" in caught.value.remedy


def test_tags_too_small_are_an_error() -> None:
    pixels, _, _ = _shot(10.0)
    small = cv2.resize(pixels, None, fx=0.28, fy=0.28, interpolation=cv2.INTER_AREA)
    with pytest.raises(ScaleError, match=r"pixels wide|could not find"):
        find_scale(scenes.photo_of(small, 27.0), TAGS)


def test_a_cut_tag_is_left_out_and_only_cut_tags_are_an_error() -> None:
    pixels, camera, pose = _shot(0.0)
    corners = camera.project(pose.points(np.array([[-71.0, 0.0], [-49.0, 0.0], [-31.0, 0.0], [-9.0, 0.0]])))
    middle_of_left = round(float(corners[:2, 0].mean()))
    # Cut through the two left tags: the third is whole.
    cut = scenes.photo_of(pixels[:, middle_of_left:], 27.0)
    assert len(find_scale(cut, TAGS).footprint_px) == 1
    middle_of_right = round(float(corners[2:, 0].mean()))
    with pytest.raises(ScaleError, match="could not find"):
        find_scale(scenes.photo_of(pixels[:, middle_of_right:], 27.0), TAGS)


def test_a_steep_camera_is_an_error() -> None:
    pixels, camera, pose = _shot(50.0, toward=90.0)
    near, _ = scenes.true_scale(camera, pose, FACE_MM)
    with pytest.raises(ScaleError, match="tilted by"):
        find_scale(scenes.photo_of(pixels, 27.0), TAGS, near_px=near)


def test_nothing_at_all_is_an_error_that_lists_the_choices() -> None:
    ground = scenes.develop(scenes.grassy(900, 1200, 7), blur_px=1.0, noise=2.0, seed=1)
    with pytest.raises(ScaleError, match="known size") as caught:
        find_scale(scenes.photo_of(ground, 27.0), Reference())
    for choice in ("facemark card", "--tag-mm", "ball", "--face-mm"):
        assert choice in caught.value.remedy
