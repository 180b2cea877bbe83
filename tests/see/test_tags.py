"""Tags: read, exact, and never read in the mirror by mistake."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from facemark import sheet
from facemark.see.tags import PLAIN_MIRROR_IDS, find_tags
from tests.see import scale_scenes as scenes

SIZE = (1200, 900)


def _mirror_readable(dictionary_name: str) -> set[int]:
    """Tags of a dictionary that OpenCV also reads from their mirror image."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary_name))
    detector = cv2.aruco.ArucoDetector(dictionary)
    found = set()
    for ident in range(50):
        tag = cv2.aruco.generateImageMarker(dictionary, ident, 140)
        page = cv2.copyMakeBorder(tag, 40, 40, 40, 40, cv2.BORDER_CONSTANT, value=255)
        if detector.detectMarkers(np.ascontiguousarray(page[:, ::-1]))[1] is not None:
            found.add(ident)
    return found


def test_no_tag_of_the_sheets_dictionary_reads_in_a_mirror() -> None:
    assert _mirror_readable(sheet.DICTIONARY) == set()


def test_the_plain_tags_that_read_in_a_mirror_are_the_ones_we_distrust() -> None:
    assert _mirror_readable("DICT_4X4_50") == PLAIN_MIRROR_IDS


@pytest.mark.parametrize(("tilt", "blur"), [(0.0, 0.7), (20.0, 1.0), (35.0, 2.0)])
def test_corners_are_exact_to_a_fifth_of_a_pixel(tilt: float, blur: float) -> None:
    camera = scenes.camera_of(*SIZE, 27.0)
    pose = scenes.pose_of(280.0, tilt, 60.0, 11.0)
    tags = {3: (-30.0, 20.0, 0.0), 12: (25.0, 18.0, 30.0), 33: (0.0, -30.0, -12.0)}
    page = scenes.tag_sheet(tags, 24.0, (-60.0, 50.0, 60.0, -60.0))
    pixels = scenes.photograph(page, (-60.0, 50.0), pose, camera, blur_px=blur, noise=3.0)
    found = find_tags(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))
    assert [tag.ident for tag in found.plain] == [3, 12, 33]
    assert not found.mirrored
    for tag in found.plain:
        x, y, turn = tags[tag.ident]
        t = np.radians(turn)
        square = 12.0 * np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]])
        mm = square @ np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]]) + [x, y]
        true = camera.project(pose.points(mm))
        assert np.sqrt(np.mean((tag.corners_px - true) ** 2)) < 0.2


def test_self_mirrored_tags_alone_say_nothing_about_the_mirror() -> None:
    camera = scenes.camera_of(*SIZE, 27.0)
    page = scenes.tag_sheet({8: (-20.0, 0.0, 0.0), 17: (20.0, 0.0, 0.0)}, 24.0, (-50.0, 30.0, 50.0, -30.0))
    pixels = scenes.photograph(page, (-50.0, 30.0), scenes.pose_of(300.0, 10.0, 0.0), camera)
    found = find_tags(np.ascontiguousarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)[:, ::-1]))
    assert len(found.plain) == 2
    assert not found.mirrored


def test_grass_holds_no_tags() -> None:
    ground = scenes.grassy(900, 1200, 5, colour=(0.2, 0.35, 0.1))
    pixels = scenes.develop(ground, blur_px=0.7, noise=3.0, seed=2)
    assert find_tags(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)).n == 0
