"""Is the face frame where the face is: centre, toe, up, hand, errors?"""

from __future__ import annotations

import functools
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from facemark import caveats as cv
from facemark.clubs import typical_club
from facemark.errors import FaceError
from facemark.inputs import ClubKind, Hand, Photo, ReferenceKind, Setup
from facemark.see.camera import Camera, FaceFrame
from facemark.see.contour import centroid
from facemark.see.draw import DrawnPhoto, DrawRecipe, draw_photo
from facemark.see.draw_head import make_head
from facemark.see.face import AXIS_TURN_ERR_DEG, TIP_DEG, Face, ToeFrom, find_face
from facemark.see.face_net import FaceGuess
from facemark.see.outline import Outline
from facemark.see.scale import Scale
from facemark.see.toe import long_axis
from tests.see.painted_heads import PaintedHead, paint_head

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures" / "photos"
DRIVER = typical_club(ClubKind.DRIVER)


def true_frame(truth: dict) -> FaceFrame:
    camera = truth["camera"]
    K = np.array(camera["K"])
    return FaceFrame(
        camera=Camera(focal_px=K[0, 0], centre_x_px=K[0, 2], centre_y_px=K[1, 2], focal_err_frac=0.0),
        axes_cam=np.array(camera["R_face_to_cam"]),
        origin_cam_mm=np.array(camera["t_face_to_cam"]),
        bulge_mm=truth["bulge_radius_mm"] or math.inf,
        roll_mm=truth["roll_radius_mm"] or math.inf,
    )


def true_scale(frame: FaceFrame) -> Scale:
    """The tangent plane at the face's centre, its axes along the picture's and not along the face's."""
    out = frame.axes_cam[:, 2]
    x = np.array([1.0, 0.0, 0.0]) - out * out[0]
    x /= np.linalg.norm(x)
    return Scale(
        kind=ReferenceKind.TAGS,
        camera=frame.camera,
        plane_axes_cam=np.column_stack([x, np.cross(out, x), out]),
        # Another point of the same plane: nothing may hang on which one.
        plane_origin_cam_mm=frame.origin_cam_mm + 40 * x,
        pose_known=True,
        tilt_deg=0.0,
        scale_err_frac=0.0,
        plane_gap_err_mm=0.0,
        footprint_px=(),
        mirrored=False,
        caveats=(),
    )


def flat_scale(head: PaintedHead, *, mirrored: bool = False) -> Scale:
    """A camera square to a painted head at 500 mm."""
    height, width = head.pixels.shape[:2]
    camera = Camera(
        focal_px=500 * head.px_per_mm,
        centre_x_px=(width - 1) / 2,
        centre_y_px=(height - 1) / 2,
        focal_err_frac=0.0,
    )
    frame = FaceFrame(
        camera=camera,
        axes_cam=np.diag([1.0, -1.0, -1.0]),
        origin_cam_mm=np.array([0.0, 0.0, 500.0]),
        bulge_mm=math.inf,
        roll_mm=math.inf,
    )
    return replace(true_scale(frame), mirrored=mirrored)


def seen_outline(points: np.ndarray) -> Outline:
    return Outline(outline_px=points[::2], edge_err_px=0.5, hidden_frac=0.1)


@functools.cache
def drawn(hand: Hand, kind: ClubKind) -> DrawnPhoto:
    recipe = DrawRecipe(
        tier="easy",
        hand=hand,
        kind=kind,
        size_px=(1200, 900),
        tilt_deg=(12.0, 14.0),
        hardships=(),
        scene="lying",
    )
    return draw_photo(recipe, np.random.default_rng(11))


@functools.cache
def head(shaft: bool = True) -> PaintedHead:
    return paint_head(np.random.default_rng(12), shaft=shaft, px_per_mm=4.5)


def found(*, hand: Hand | None, shaft: bool = True, mirrored: bool = False, flip: bool = False) -> Face:
    """The painted right-handed head; ``flip`` photographs it through a mirror, ``mirrored`` says so."""
    one = head(shaft)
    pixels, points = one.pixels, one.outline_px
    if flip:
        pixels = np.ascontiguousarray(pixels[:, ::-1])
        points = (points * [-1, 1] + [pixels.shape[1] - 1, 0])[::-1]
    club = replace(DRIVER, bulge_mm=math.inf, roll_mm=math.inf)
    return find_face(
        Photo(pixels=pixels, name="painted"),
        flat_scale(one, mirrored=mirrored),
        seen_outline(points),
        Setup(club=club, hand=hand),
    )


@pytest.mark.parametrize("kind", [ClubKind.DRIVER, ClubKind.IRON])
@pytest.mark.parametrize("hand", [Hand.RIGHT, Hand.LEFT])
def test_true_outline_and_scale_give_the_true_frame(hand: Hand, kind: ClubKind) -> None:
    shot = drawn(hand, kind)
    truth = shot.truth
    frame = true_frame(truth)
    club = replace(typical_club(kind), bulge_mm=frame.bulge_mm, roll_mm=frame.roll_mm)
    outline = seen_outline(np.array(truth["face_outline_px"]))
    face = find_face(shot.photo, true_scale(frame), outline, Setup(club=club, hand=hand))
    centre = frame.mm_from_px(face.frame.px_from_mm(np.zeros((1, 2))))[0]
    assert np.hypot(*centre) < 0.2
    turn = frame.axes_cam.T @ face.frame.axes_cam
    assert turn[0, 0] > 0.97  # toe lies where the toe is
    assert turn[1, 1] > 0.97
    assert turn[2, 2] == pytest.approx(1.0, abs=1e-9)
    off_deg = math.degrees(math.atan2(turn[1, 0], turn[0, 0]))
    assert abs(off_deg) < 3 * face.turn_err_deg
    assert face.width_mm == pytest.approx(truth["face_length_mm"], abs=2.0)
    assert (face.hand, face.hand_seen) in {(hand, hand), (hand, None)}


def test_the_outline_is_centred_on_its_area() -> None:
    face = found(hand=Hand.RIGHT)
    assert centroid(face.outline_mm) == pytest.approx([0.0, 0.0], abs=1e-3)
    assert face.frame.px_from_mm(face.outline_mm) == pytest.approx(face.outline_px, abs=1e-3)
    assert face.width_mm == pytest.approx(110.0, abs=0.5)
    assert face.height_mm == pytest.approx(55.0, abs=0.5)


def test_right_handed_toe_is_on_the_pictures_left() -> None:
    face = found(hand=Hand.RIGHT)
    toe, up = face.frame.px_from_mm(np.array([[10.0, 0.0], [0.0, 10.0]])) - face.frame.px_from_mm(
        np.zeros((1, 2))
    )
    assert toe[0] < -40
    assert up[1] < -40
    assert face.toe_from is ToeFrom.HOSEL
    assert cv.HAND_CONTRADICTS not in [c.key for c in face.caveats]


def test_hand_from_the_photo_when_not_told() -> None:
    face = found(hand=None)
    assert face.hand is Hand.RIGHT
    assert cv.HAND_FROM_PHOTO in [c.key for c in face.caveats]


def test_a_mirrored_selfie_contradicts_but_toe_follows_the_shaft() -> None:
    plain, selfie = found(hand=Hand.RIGHT), found(hand=Hand.RIGHT, flip=True)
    assert selfie.hand is Hand.RIGHT
    assert selfie.hand_seen is Hand.LEFT
    assert cv.HAND_CONTRADICTS in [c.key for c in selfie.caveats]
    toe = selfie.frame.px_from_mm(np.array([[10.0, 0.0]])) - selfie.frame.px_from_mm(np.zeros((1, 2)))
    assert toe[0, 0] > 40
    # The same place on the club has the same millimetres in both.
    at_px = np.array([[430.0, 440.0]])
    mirror_px = at_px * [-1, 1] + [head().pixels.shape[1] - 1, 0]
    assert selfie.frame.mm_from_px(mirror_px) == pytest.approx(plain.frame.mm_from_px(at_px), abs=0.2)


def test_a_known_mirror_image_is_undone() -> None:
    face = found(hand=Hand.RIGHT, flip=True, mirrored=True)
    assert face.hand_seen is Hand.RIGHT
    assert cv.HAND_CONTRADICTS not in [c.key for c in face.caveats]


def test_without_a_shaft_the_told_hand_decides() -> None:
    face = found(hand=Hand.RIGHT, shaft=False)
    assert face.toe_from is ToeFrom.TOLD
    assert face.hand_seen is None
    assert cv.TOE_SIDE_ASSUMED in [c.key for c in face.caveats]
    left = found(hand=Hand.LEFT, shaft=False)
    toe_x = [f.frame.px_from_mm(np.array([[10.0, 0.0]]))[0, 0] for f in (face, left)]
    assert toe_x[0] < 600 < toe_x[1]


def test_neither_shaft_nor_hand_is_refused() -> None:
    with pytest.raises(FaceError, match="hosel") as caught:
        found(hand=None, shaft=False)
    assert "--right" in caught.value.remedy


def test_no_score_lines_is_said() -> None:
    face = found(hand=Hand.RIGHT)
    assert cv.TURN_UNCERTAIN in [c.key for c in face.caveats]
    assert face.turn_err_deg >= 3.0


def _rises_deg(outline_mm: np.ndarray) -> float:
    """How much the long axis of an outline (toe plus, up plus) rises to the toe."""
    _, axis, _, _ = long_axis(outline_mm)
    return (math.degrees(math.atan2(axis[1], axis[0])) + 90) % 180 - 90


@pytest.mark.parametrize("kind", ClubKind)
def test_the_long_axis_of_drawn_heads_rises_as_stated(kind: ClubKind) -> None:
    heads = [make_head(kind, Hand.RIGHT, np.random.default_rng([41, k])) for k in range(120)]
    rises = np.array([_rises_deg(one.outline_mm) for one in heads])
    assert abs(rises.mean() - TIP_DEG[kind]) < 1.0
    assert np.mean(np.abs(rises - TIP_DEG[kind]) < 1.96 * AXIS_TURN_ERR_DEG) >= 0.95


def test_the_long_axis_of_path_traced_heads_rises_as_stated() -> None:
    """Outlines of another simulator; none took part in TIP_DEG."""
    paths = sorted((FIXTURES / "truth").glob("*.json"))
    assert len(paths) == 4
    for path in paths:
        truth = json.loads(path.read_text(encoding="utf-8"))
        off_deg = _rises_deg(np.array(truth["face_outline_mm"])) - TIP_DEG[ClubKind(truth["club_kind"])]
        assert abs(off_deg) < 1.0 * AXIS_TURN_ERR_DEG, path.name


@pytest.mark.parametrize("lean_deg", [-18.0, 0.0, 18.0])
def test_a_leaning_face_without_score_lines_is_level_within_its_error(lean_deg: float) -> None:
    """The learned finder knows the toe's side; its own direction is not believed, but widens the error."""
    one = paint_head(np.random.default_rng(12), turn_deg=lean_deg, px_per_mm=4.5, shaft=False)
    nothing = np.zeros((8, 8), np.float32)
    guess = FaceGuess(
        **dict.fromkeys(("face", "head", "shaft", "edge", "scale"), nothing),
        box_px=(0.0, 0.0, 8.0, 8.0),
        centre_px=np.array([600.0, 450.0]),
        toe_px=np.array([-1.0, 0.0]),
        up_px=np.array([0.0, -1.0]),
        toe_sure_frac=0.95,
        confidence_frac=0.99,
        weights_hash="",
    )
    outline = replace(seen_outline(one.outline_px), guess=guess)
    club = replace(DRIVER, bulge_mm=math.inf, roll_mm=math.inf)
    face = find_face(
        Photo(pixels=one.pixels, name="painted"), flat_scale(one), outline, Setup(club=club, hand=Hand.RIGHT)
    )
    assert face.toe_from is ToeFrom.HOSEL
    toe = np.diff(face.frame.px_from_mm(np.array([[0.0, 0.0], [10.0, 0.0]])), axis=0)[0]
    true = -np.array([math.cos(math.radians(lean_deg)), math.sin(math.radians(lean_deg))])
    off_deg = math.degrees(math.acos(min(1.0, float(toe @ true) / float(np.hypot(*toe)))))
    # The painted oval's axis does not rise at all, a driver's by 2.5 degrees.
    assert off_deg < 1.96 * face.turn_err_deg
    assert off_deg < 3.5
    # The finder said level; where the axis contradicts it by far, either may be right.
    assert (face.turn_err_deg > 1.5 * AXIS_TURN_ERR_DEG) == (lean_deg != 0.0)


def test_an_edge_seen_worse_places_the_centre_worse() -> None:
    one = head()
    setup = Setup(club=DRIVER, hand=Hand.RIGHT)
    clear, dim = (
        find_face(
            Photo(pixels=one.pixels, name="painted"),
            flat_scale(one),
            replace(seen_outline(one.outline_px), edge_err_px=err, hidden_frac=hidden),
            setup,
        )
        for err, hidden in ((0.5, 0.0), (2.0, 0.5))
    )
    assert dim.centre_toe_err_mm > clear.centre_toe_err_mm
    assert dim.centre_high_err_mm > clear.centre_high_err_mm
    assert 0.2 < clear.centre_high_err_mm < 1.0
