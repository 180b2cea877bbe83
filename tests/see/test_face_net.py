"""The learned finder: its geometry with a stand-in network whose answer is known, then the real weights.

The photos of fixtures/ come from a renderer that the network never learned from.
"""

from __future__ import annotations

import hashlib
import json
from importlib import resources
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from skimage import data

from facemark.errors import FaceError
from facemark.inputs import Hand, Photo
from facemark.see import face_net


def painted(size: tuple[int, int], centre: tuple[float, float], axes: tuple[float, float], deg: float = 0.0):
    """A grey photo with one pure red ellipse: what the stand-in takes for a face."""
    pixels = np.full((*size, 3), 90, np.uint8)
    sixteenth = [round(v * 16) for v in (*centre, *axes)]
    cv2.ellipse(
        pixels, tuple(sixteenth[:2]), tuple(sixteenth[2:]), deg, 0, 360, (255, 0, 0), -1, cv2.LINE_AA, shift=4
    )
    return pixels


def red_is_face(picture: np.ndarray) -> np.ndarray:
    """(12, H, W): face where red beats green; toe on the left, crown up, as in a right-handed head."""
    maps = np.zeros((len(face_net.MAPS), *picture.shape[2:]), np.float32)
    maps[0] = np.clip((picture[0, 0] - picture[0, 1]) * 1.5, 0, 1)
    maps[1] = maps[0]
    maps[face_net.TOE], maps[face_net.UP + 1] = -1.0, -1.0
    return maps


def right_way_mirrored(picture: np.ndarray) -> np.ndarray:
    """The stand-in whose toe side is where the ellipse is blue, so mirrors matter."""
    maps = red_is_face(picture)
    blue = np.argwhere(picture[0, 2] > 0.8)
    red = np.argwhere(maps[0] > 0.5)
    if len(blue) and len(red):
        maps[face_net.TOE] = np.sign(blue[:, 1].mean() - red[:, 1].mean())
    return maps


@pytest.mark.parametrize(
    ("size", "centre", "axes", "deg"),
    [
        ((3000, 4000), (2310.3, 1204.7), (560.0, 250.0), -8.0),
        ((4000, 3000), (900.0, 2900.0), (420.0, 200.0), 80.0),
        ((1080, 1920), (300.0, 250.0), (200.0, 110.0), 20.0),
        ((480, 640), (320.5, 240.25), (120.0, 60.0), 0.0),
        ((900, 900), (120.0, 450.0), (180.0, 90.0), 0.0),  # cut off at the left
    ],
)
def test_the_face_is_where_it_is_in_the_photo(size, centre, axes, deg) -> None:
    pixels = painted(size, centre, axes, deg)
    guess = face_net._guess(pixels, red_is_face, weights_hash="x")
    rows, columns = np.nonzero(pixels[..., 0] > pixels[..., 1])
    truth = np.array([columns.mean(), rows.mean()])
    step = (guess.box_px[2] - guess.box_px[0]) / guess.face.shape[1]
    assert np.hypot(*(guess.centre_px - truth)) < 0.35 * max(
        step, 1.0
    )  # a map pixel on the border mixes with the filling
    # The face takes its trained share of the crop, and area is kept.
    assert guess.face.sum() * step**2 == pytest.approx(len(rows), rel=0.02)
    seen = np.flatnonzero((guess.face > 0.5).any(axis=0))
    assert 0.25 * guess.face.shape[1] < len(seen) < 0.75 * guess.face.shape[1]


def test_a_quick_look_is_at_smaller_pictures_and_goes_on_where_it_sees_nothing() -> None:
    pixels = painted((3000, 4000), (2310.3, 1204.7), (560.0, 250.0), -8.0)
    looks: list[tuple[int, ...]] = []

    def counted(picture: np.ndarray) -> np.ndarray:
        looks.append(picture.shape[2:])
        return red_is_face(picture)

    def blind_when_small(picture: np.ndarray) -> np.ndarray:
        return counted(picture) * (max(picture.shape[2:]) > 256)

    fast = face_net._guess(pixels, counted, weights_hash="x", fast=True)
    assert looks == [(192, 256), (256, 384)]
    full = face_net._guess(pixels, counted, weights_hash="x")
    assert np.hypot(*(fast.centre_px - full.centre_px)) < 1.0
    looks.clear()
    again = face_net._guess(pixels, blind_when_small, weights_hash="x", fast=True)
    assert looks[:2] == [(192, 256), (256, 320)]
    assert np.array_equal(again.face, full.face)


def test_map_and_photo_pixels_go_back_and_forth() -> None:
    guess = face_net._guess(painted((3000, 4000), (2000, 1500), (500, 260)), red_is_face, weights_hash="x")
    points = np.array([[0.0, 0.0], [17.25, 301.5], [447.0, 351.0]])
    np.testing.assert_allclose(guess.map_from_photo(guess.photo_from_map(points)), points, atol=1e-9)
    corner = guess.photo_from_map(np.array([[-0.5, -0.5]]))[0]
    np.testing.assert_allclose(corner, guess.box_px[:2], atol=1e-9)


def test_the_toe_is_where_the_network_says() -> None:
    pixels = painted((1500, 2000), (1000, 750), (400, 200))
    cv2.circle(pixels, (1330, 750), 40, (255, 0, 255), -1)
    guess = face_net._guess(pixels, right_way_mirrored, weights_hash="x")
    np.testing.assert_allclose(guess.toe_px, [1.0, 0.0], atol=1e-6)
    assert guess.toe_sure_frac == pytest.approx(1.0, abs=1e-3)
    assert guess.hand is Hand.LEFT
    flipped = np.ascontiguousarray(pixels[:, ::-1])
    assert face_net._guess(flipped, right_way_mirrored, weights_hash="x").hand is Hand.RIGHT


@pytest.mark.parametrize("doubt", ["toe", "up", "not square"])
def test_directions_that_disagree_are_not_sure(doubt: str) -> None:
    def torn(picture: np.ndarray) -> np.ndarray:
        maps = red_is_face(picture)
        middle = picture.shape[3] // 2
        if doubt == "toe":
            maps[face_net.TOE, :, :middle] = 1.0  # the left half says right, the right half says left
        elif doubt == "up":
            maps[face_net.UP + 1, :, :middle] = 1.0
        else:
            maps[face_net.UP], maps[face_net.UP + 1] = -1.0, 0.0  # toe and crown both to the left
        return maps

    guess = face_net._guess(painted((1500, 2000), (1000, 750), (400, 200)), torn, weights_hash="x")
    assert guess.toe_sure_frac < 0.05


def test_upside_down_keeps_the_hand() -> None:
    pixels = painted((1500, 2000), (1000, 750), (400, 200))
    cv2.circle(pixels, (1330, 750), 40, (255, 0, 255), -1)

    def upside_down(picture: np.ndarray) -> np.ndarray:
        maps = right_way_mirrored(picture)
        maps[face_net.UP :] = -maps[face_net.UP :]
        return maps

    # Toe on the picture's right and the crown down: the photo of a right-handed head turned by half a turn.
    assert face_net._guess(pixels, upside_down, weights_hash="x").hand is Hand.RIGHT


def test_no_face_is_an_error_with_a_remedy() -> None:
    plain = np.full((600, 800, 3), 90, np.uint8)
    with pytest.raises(FaceError) as caught:
        face_net._guess(plain, red_is_face, weights_hash="x")
    assert caught.value.remedy

    def unsure(picture: np.ndarray) -> np.ndarray:
        """Half sure of everything, everywhere."""
        maps = np.full((len(face_net.MAPS), *picture.shape[2:]), 0.45, np.float32)
        maps[0, 150:160, 150:200] = 0.51
        return maps

    with pytest.raises(FaceError):
        face_net._guess(plain, unsure, weights_hash="x")


def test_a_face_in_pieces_is_not_measured() -> None:
    """Half seen, it would be followed into one of its pieces (a mark's rim looks like a face's, close by)."""
    pixels = painted((1500, 2000), (850, 750), (90, 60))
    cv2.ellipse(pixels, (1150, 750), (85, 60), 0, 0, 360, (255, 0, 0), -1)
    with pytest.raises(FaceError):
        face_net._guess(pixels, red_is_face, weights_hash="x")


def test_a_round_thing_is_no_face() -> None:
    with pytest.raises(FaceError):
        face_net._guess(painted((1500, 2000), (1000, 750), (300, 290)), red_is_face, weights_hash="x")


def test_the_larger_of_two_faces_is_taken_and_the_other_left_out() -> None:
    pixels = painted((1500, 2000), (600, 750), (300, 160))
    cv2.ellipse(pixels, (1300, 700), (120, 60), 0, 0, 360, (255, 0, 0), -1)
    guess = face_net._guess(pixels, red_is_face, weights_hash="x")
    assert np.hypot(*(guess.centre_px - [600, 750])) < 2.0
    assert cv2.connectedComponents((guess.face > 0.5).astype(np.uint8))[0] == 2


PHOTOS = ("driver-card", "driver-left-strip", "driver-tags", "iron-ball")


def seen_in(fixtures: Path, name: str) -> tuple[face_net.FaceGuess, dict[str, Any]]:
    truth = json.loads((fixtures / "photos" / "truth" / f"{name}.json").read_text(encoding="utf-8"))
    pixels = cv2.cvtColor(cv2.imread(str(fixtures / "photos" / f"{name}.jpg")), cv2.COLOR_BGR2RGB)
    guess = face_net.guess_face(Photo(pixels=pixels, name=name))
    assert guess is not None
    return guess, truth


@pytest.mark.parametrize("name", PHOTOS)
def test_the_face_of_a_photo_is_found(fixtures: Path, name: str) -> None:
    guess, truth = seen_in(fixtures, name)
    outline = guess.map_from_photo(np.array(truth["face_outline_px"]))
    true = np.zeros(guess.face.shape, np.uint8)
    cv2.fillPoly(true, [np.round(outline * 16).astype(np.int32)], 1, shift=4)
    seen = guess.face > face_net.SEEN_FRAC
    overlap = np.count_nonzero(seen & (true > 0)) / np.count_nonzero(seen | (true > 0))
    assert overlap > 0.93  # 0.95 to 0.98 when written
    # The face's true toe direction, through the camera that drew the photo.
    camera = truth["camera"]
    ends = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]])
    cam = ends @ np.array(camera["R_face_to_cam"]).T + np.array(camera["t_face_to_cam"])
    px = cam @ np.array(camera["K"]).T
    toe = np.diff(px[:, :2] / px[:, 2:], axis=0)[0]
    turn_deg = np.degrees(np.arccos(guess.toe_px @ toe / np.linalg.norm(toe)))
    assert turn_deg < 12.0
    assert guess.toe_sure_frac > 0.85
    assert guess.hand is (Hand.RIGHT if truth["handed"] == "R" else Hand.LEFT)


@pytest.mark.parametrize("name", ["astronaut", "camera", "coffee", "coins", "chelsea"])
def test_a_picture_without_a_club_is_refused(name: str) -> None:
    """Everyday pictures that come with scikit-image."""
    pixels = np.asarray(getattr(data, name)())
    if pixels.ndim == 2:
        pixels = np.dstack([pixels] * 3)
    with pytest.raises(FaceError) as caught:
        face_net.guess_face(Photo(pixels=np.ascontiguousarray(pixels), name=name))
    assert caught.value.remedy


def test_the_card_is_the_weights_card() -> None:
    card = face_net.model_card()
    assert card is not None
    weights = resources.files("facemark.see") / "weights" / "face.onnx"
    assert card["sha256"] == hashlib.sha256(weights.read_bytes()).hexdigest()
    assert tuple(card["output"]) == face_net.MAPS
