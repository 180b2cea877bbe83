"""The learned finder: its geometry with a stand-in network whose answer is known."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from facemark.errors import FaceError
from facemark.inputs import Hand
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
    """(9, H, W): face where red beats green; toe on the left, crown up, as in a right-handed head."""
    maps = np.zeros((9, *picture.shape[2:]), np.float32)
    maps[0] = np.clip((picture[0, 0] - picture[0, 1]) * 1.5, 0, 1)
    maps[1] = maps[0]
    maps[5], maps[8] = -1.0, -1.0
    return maps


def right_way_mirrored(picture: np.ndarray) -> np.ndarray:
    """The stand-in whose toe side is where the ellipse is blue, so mirrors matter."""
    maps = red_is_face(picture)
    blue = np.argwhere(picture[0, 2] > 0.8)
    red = np.argwhere(maps[0] > 0.5)
    if len(blue) and len(red):
        maps[5] = np.sign(blue[:, 1].mean() - red[:, 1].mean())
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


def test_map_and_photo_pixels_go_back_and_forth() -> None:
    guess = face_net._guess(painted((3000, 4000), (2000, 1500), (500, 260)), red_is_face, weights_hash="x")
    points = np.array([[0.0, 0.0], [17.25, 301.5], [447.0, 351.0]])
    np.testing.assert_allclose(guess.map_from_photo(guess.photo_from_map(points)), points, atol=1e-9)
    corner = guess.photo_from_map(np.array([[-0.5, -0.5]]))[0]
    np.testing.assert_allclose(corner, guess.box_px[:2], atol=1e-9)


def test_mirroring_turns_the_toe_back() -> None:
    pixels = painted((1500, 2000), (1000, 750), (400, 200))
    cv2.circle(pixels, (1330, 750), 40, (255, 0, 255), -1)
    guess = face_net._guess(pixels, right_way_mirrored, weights_hash="x")
    np.testing.assert_allclose(guess.toe_px, [1.0, 0.0], atol=1e-6)
    assert guess.toe_sure_frac == pytest.approx(1.0, abs=1e-3)
    assert guess.hand is Hand.LEFT
    flipped = np.ascontiguousarray(pixels[:, ::-1])
    assert face_net._guess(flipped, right_way_mirrored, weights_hash="x").hand is Hand.RIGHT


def test_a_toe_side_that_mirrors_away_is_not_sure() -> None:
    """The stand-in says "left" of the photo and of its mirror image: the two cancel, and it must show."""
    guess = face_net._guess(painted((1500, 2000), (1000, 750), (400, 200)), red_is_face, weights_hash="x")
    assert guess.toe_sure_frac < 0.01
    np.testing.assert_allclose(guess.up_px, [0.0, -1.0], atol=1e-6)


def test_upside_down_keeps_the_hand() -> None:
    pixels = painted((1500, 2000), (1000, 750), (400, 200))
    cv2.circle(pixels, (1330, 750), 40, (255, 0, 255), -1)

    def upside_down(picture: np.ndarray) -> np.ndarray:
        maps = right_way_mirrored(picture)
        maps[7:] = -maps[7:]
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
        maps = np.full((9, *picture.shape[2:]), 0.45, np.float32)
        maps[0, 150:160, 150:200] = 0.51
        return maps

    with pytest.raises(FaceError):
        face_net._guess(plain, unsure, weights_hash="x")


def test_the_larger_of_two_faces_is_taken_and_the_other_left_out() -> None:
    pixels = painted((1500, 2000), (600, 750), (300, 160))
    cv2.ellipse(pixels, (1300, 700), (120, 60), 0, 0, 360, (255, 0, 0), -1)
    guess = face_net._guess(pixels, red_is_face, weights_hash="x")
    assert np.hypot(*(guess.centre_px - [600, 750])) < 2.0
    assert cv2.connectedComponents((guess.face > 0.5).astype(np.uint8))[0] == 2
