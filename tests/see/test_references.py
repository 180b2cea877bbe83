"""Two things of known size in one photo: both are found, and they must agree within their doubts."""

from __future__ import annotations

import functools

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from facemark import sheet
from facemark.inputs import Reference, ReferenceKind
from facemark.see.references import Sighting, find_references
from facemark.see.scale import Scale, find_scale
from tests.see import scale_scenes as scenes

SIZE = (1200, 900)
SIDE = 22.0
FACE_MM = (10.0, 10.0)
TAGS_BOX = (-80.0, 45.0, -40.0, -45.0)
CARD_LEFT_TOP = (-35.0, -20.0)
CAMERA = scenes.camera_of(*SIZE, 27.0)
POSE = scenes.pose_of(300.0, 12.0, 40.0, 4.0)
PLAIN = {"blur_px": 0.0, "noise": 0.0}


def _ground() -> NDArray[np.float32]:
    return scenes.grassy(SIZE[1], SIZE[0], 3)


def _tags_and_face(ground: NDArray[np.float32]) -> NDArray[np.float32]:
    """A column of two tags on paper, and a white oval where the face would be."""
    page = scenes.tag_sheet({3: (-60.0, 20.0, 0.0), 12: (-60.0, -20.0, 5.0)}, SIDE, TAGS_BOX)
    pixels = scenes.photograph(page, TAGS_BOX[:2], POSE, CAMERA, ground=ground, **PLAIN)
    return _with_face(pixels)


def _with_face(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    at = CAMERA.project(POSE.points(np.array([FACE_MM])))[0]
    size = (round(40 * CAMERA.focal_px / 300), round(20 * CAMERA.focal_px / 300))
    cv2.ellipse(pixels, (round(at[0]), round(at[1])), size, -4, 0, 360, (215, 215, 218), -1, cv2.LINE_AA)
    return scenes.light_of(pixels)


def _with_card(ground: NDArray[np.float32], *, pose: scenes.Pose = POSE) -> NDArray[np.uint8]:
    texture, alpha = scenes.card_texture((0.6, 0.04, 0.08))
    return scenes.photograph(texture, CARD_LEFT_TOP, pose, CAMERA, ground=ground, alpha=alpha, px_per_mm=16.0)


@functools.cache
def _tags_and_card() -> NDArray[np.uint8]:
    return _with_card(_tags_and_face(_ground()))


def _seen(pixels: NDArray[np.uint8], reference: Reference) -> tuple[tuple[Sighting, ...], Scale, float]:
    near, true = scenes.true_scale(CAMERA, POSE, FACE_MM)
    photo = scenes.photo_of(pixels, 27.0)
    seen = find_references(photo, reference, near_px=near)
    scale = find_scale(photo, reference, near_px=near, seen=seen)
    return seen, scale, scale.mm_per_px(near) / true - 1.0


def _told(scale: Scale) -> str | None:
    details = [c.detail for c in scale.caveats if c.key == "scales_disagree"]
    return details[0] if details else None


@pytest.mark.parametrize("told_mm", [21.8, 22.0, 22.2])
def test_tags_and_a_card_agree_within_what_a_ruler_may_be_off(told_mm: float) -> None:
    reference = Reference(kind=ReferenceKind.TAGS, size_mm=told_mm)
    seen, scale, err_frac = _seen(_tags_and_card(), reference)
    assert [one.kind for one in seen] == [ReferenceKind.TAGS, ReferenceKind.CARD]
    assert [one.checks for one in seen] == [False, True]
    assert scale.kind is ReferenceKind.TAGS
    assert err_frac == pytest.approx(told_mm / SIDE - 1, abs=0.004)
    assert _told(scale) is None


@pytest.mark.parametrize(("told_mm", "by_card"), [(25.0, "88"), (18.5, "119")])
def test_a_wrong_tag_size_is_seen_against_the_card(told_mm: float, by_card: str) -> None:
    """22 mm tags told as 25 mm: what they call 100 mm is 88 mm (22/25) by the card."""
    reference = Reference(kind=ReferenceKind.TAGS, size_mm=told_mm)
    _, scale, _ = _seen(_tags_and_card(), reference)
    assert scale.kind is ReferenceKind.TAGS
    detail = _told(scale)
    assert detail is not None
    assert "100 mm by the tags" in detail
    value = float(detail.rsplit(" is ", 1)[1].split(" mm")[0])
    assert value == pytest.approx(float(by_card), abs=1.0)
    assert "card" in detail


def test_the_tags_own_paper_is_no_card() -> None:
    """Paper of a card's size and proportion (ISO/IEC 7810: 85.60 x 53.98 mm) with a tag on it."""
    box = (-95.0, 27.0, -95.0 + 85.6, 27.0 - 53.98)
    page = scenes.tag_sheet({3: (-75.0, 0.0, 0.0)}, SIDE, box)
    pixels = scenes.photograph(page, box[:2], POSE, CAMERA, ground=_ground())
    seen, _, _ = _seen(pixels, Reference(kind=ReferenceKind.TAGS, size_mm=SIDE))
    assert [one.kind for one in seen] == [ReferenceKind.TAGS]


@pytest.mark.parametrize(("print_frac", "agree"), [(1.0, True), (0.9, False)])
def test_our_sheet_and_tags(print_frac: float, *, agree: bool) -> None:
    """A sheet printed at 90 % ("fit to page") beside tags whose side was measured."""
    tags = {k: (*(print_frac * np.array(sheet.TAG_CENTRES_MM[k])), 0.0) for k in sheet.TAG_CENTRES_MM}
    low = {k: v for k, v in tags.items() if v[1] < -30.0}
    bottom = min(v[1] for v in low.values())
    reach = max(abs(v[0]) for v in low.values()) + 14.0
    page = scenes.tag_sheet_sizes(
        {k: (*v, sheet.TAG_MM * print_frac) for k, v in low.items()},
        (-reach, bottom + 13.0, reach, bottom - 13.0),
        dictionary_id=getattr(cv2.aruco, sheet.DICTIONARY),
        n_cells=sheet.N_CELLS,
    )
    ground = scenes.photograph(page, (-reach, bottom + 13.0), POSE, CAMERA, ground=_ground(), **PLAIN)
    paper = scenes.tag_sheet({3: (-30.0, 60.0, 0.0), 12: (25.0, 60.0, 5.0)}, SIDE, (-50.0, 80.0, 50.0, 40.0))
    ground = scenes.photograph(paper, (-50.0, 80.0), POSE, CAMERA, ground=scenes.light_of(ground), **PLAIN)
    pixels = scenes.develop(_with_face(ground), blur_px=1.0, noise=2.0, seed=1)
    for kind, other in ((ReferenceKind.TAGS, ReferenceKind.SHEET), (ReferenceKind.AUTO, ReferenceKind.TAGS)):
        seen, scale, _ = _seen(pixels, Reference(kind=kind, size_mm=SIDE))
        assert [one.checks for one in seen] == [False, True]
        assert seen[1].kind is other
        assert scale.kind is seen[0].kind
        assert (_told(scale) is None) is agree


@pytest.mark.parametrize(("nearer_mm", "agree"), [(-12.0, True), (12.0, True), (90.0, False)])
def test_a_ball_beside_a_card_may_lie_a_little_before_or_behind(nearer_mm: float, *, agree: bool) -> None:
    """42.67 mm (Equipment Rules); nine centimetres nearer to the camera it looks 40 % larger."""
    pixels = _with_card(_with_face(scenes.develop(_ground(), blur_px=0.0, noise=0.0, seed=1)))
    place = POSE.points(np.array([[-62.0, 20.0]]))[0] + nearer_mm * POSE.axes[:, 2]
    pixels = scenes.ball_photo(CAMERA, place, ground=scenes.light_of(pixels))
    seen, scale, err_frac = _seen(pixels, Reference())
    assert [one.kind for one in seen] == [ReferenceKind.CARD, ReferenceKind.BALL]
    assert scale.kind is ReferenceKind.CARD
    assert abs(err_frac) < 0.01
    assert (_told(scale) is None) is agree


def test_a_face_alone_is_neither_ball_nor_card() -> None:
    pixels = scenes.develop(_tags_and_face(_ground()), blur_px=1.0, noise=2.0, seed=2)
    seen, _, _ = _seen(pixels, Reference(kind=ReferenceKind.TAGS, size_mm=SIDE))
    assert len(seen) == 1
