"""Scale from the face's own length."""

from __future__ import annotations

import numpy as np
import pytest

from facemark.errors import ScaleError, SetupError
from facemark.inputs import Reference, ReferenceKind
from facemark.see.scale import find_scale, scale_from_face
from tests.see import scale_scenes as scenes

SIZE = (1200, 900)


def _outline(
    length_mm: float, height_mm: float, bulge_mm: float, distance_mm: float
) -> tuple[np.ndarray, scenes.Camera]:
    """Pixels of an oval on a bulged face, seen square on, its centre at ``distance_mm``."""
    camera = scenes.camera_of(*SIZE, 27.0)
    turn = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    x, y = length_mm / 2 * np.cos(turn), height_mm / 2 * np.sin(turn)
    sag = np.zeros_like(x) if np.isinf(bulge_mm) else bulge_mm - np.sqrt(bulge_mm**2 - x**2)
    return camera.project(np.column_stack([x, y, distance_mm + sag])), camera


@pytest.mark.parametrize("bulge", [np.inf, 300.0])
def test_scale_at_the_centre_of_a_curved_face(bulge: float) -> None:
    """The ends of a bulged face lie 5 mm behind its centre: uncorrected, that is 1.7 %."""
    outline, camera = _outline(112.0, 54.0, bulge, 320.0)
    scale = scale_from_face(
        scenes.photo_of(np.zeros((900, 1200, 3), np.uint8), 27.0), outline, 112.0, bulge_mm=bulge
    )
    centre = np.array([camera.centre_x_px, camera.centre_y_px])
    assert scale.mm_per_px(centre) == pytest.approx(320.0 / camera.focal_px, rel=0.001)
    assert not scale.pose_known
    assert 0.02 < scale.scale_err_frac < 0.04


def test_an_irons_length_is_taken_along_its_lines() -> None:
    """The toe of an iron stands high: its longest distance is not its length."""
    camera = scenes.camera_of(*SIZE, 27.0)
    face = np.array([[-40.0, -20.0], [40.0, -22.0], [40.0, 2.0], [-38.0, 30.0]])
    px = camera.project(np.column_stack([face * [1, -1], np.full(4, 300.0)]))
    photo = scenes.photo_of(np.zeros((900, 1200, 3), np.uint8), 27.0)
    scale = scale_from_face(photo, px, 80.0, toe_px=np.array([1.0, 0.0]))
    assert scale.mm_per_px(np.array([600.0, 450.0])) == pytest.approx(300.0 / camera.focal_px, rel=0.001)


def test_find_scale_uses_the_length_when_asked_and_says_so() -> None:
    outline, _ = _outline(112.0, 54.0, np.inf, 320.0)
    photo = scenes.photo_of(np.zeros((900, 1200, 3), np.uint8), 27.0)
    asked = Reference(kind=ReferenceKind.FACE, size_mm=112.0)
    scale = find_scale(photo, asked, outline_px=outline)
    assert scale.kind is ReferenceKind.FACE
    assert "scale_from_face_length" in {c.key for c in scale.caveats}
    with pytest.raises(ScaleError, match="known size"):
        find_scale(photo, asked)


@pytest.mark.parametrize("length", [-3.0, 0.0, 1000.0])
def test_lengths_no_face_has(length: float) -> None:
    outline, _ = _outline(112.0, 54.0, np.inf, 320.0)
    with pytest.raises(SetupError, match="face length"):
        scale_from_face(scenes.photo_of(np.zeros((900, 1200, 3), np.uint8), 27.0), outline, length)


def test_two_scales_that_disagree_are_reported() -> None:
    """Tags told 10 % too large against a face whose length is known."""
    camera, pose = scenes.camera_of(*SIZE, 27.0), scenes.pose_of(300.0, 0.0, 0.0)
    page = scenes.tag_sheet(
        {3: (-60.0, 0.0, 0.0), 12: (-60.0, -35.0, 0.0)}, 22.0, (-80.0, 30.0, -40.0, -60.0)
    )
    pixels = scenes.photograph(page, (-80.0, 30.0), pose, camera)
    turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    outline = camera.project(pose.points(np.column_stack([30.0 + 55.0 * np.cos(turn), 27.0 * np.sin(turn)])))
    for told, apart in ((22.0, False), (24.2, True)):
        reference = Reference(kind=ReferenceKind.TAGS, size_mm=told)
        scale = find_scale(scenes.photo_of(pixels, 27.0), reference, outline_px=outline, face_length_mm=110.0)
        assert scale.kind is ReferenceKind.TAGS
        assert ("scales_disagree" in {c.key for c in scale.caveats}) is apart
