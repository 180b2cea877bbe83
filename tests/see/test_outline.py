"""Is the outline the face's edge, not the head's?"""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from facemark import caveats as cv
from facemark.errors import FaceError
from facemark.inputs import Photo
from facemark.see.contour import area_px2, centroid
from facemark.see.edge import FREE_WALK, GUIDED_IRON_WALK, GUIDED_WALK, fit_edge
from facemark.see.face_net import guess_face
from facemark.see.outline import SURE_CONFIDENCE_FRAC, find_outline
from facemark.tell.files import load
from tests.see.painted_heads import PaintedHead, guess_of, overlap, paint_head

SIZE = (1200, 900)


@pytest.fixture(scope="module")
def head() -> PaintedHead:
    return paint_head(np.random.default_rng(1))


def test_found_without_the_net(head: PaintedHead) -> None:
    outline = find_outline(Photo(pixels=head.pixels, name="painted"))
    assert overlap(outline.outline_px, head.outline_px, SIZE) >= 0.97
    assert 180 <= len(outline.outline_px) <= 360
    assert area_px2(outline.outline_px) > 0  # clockwise on the screen
    assert [c.key for c in outline.caveats] == [cv.FACE_NET_MISSING]
    assert outline.hidden_frac < 0.3


def test_the_rim_and_crown_are_not_counted(head: PaintedHead) -> None:
    """The head is 2.5 mm (crown: 8 mm) larger all round; half a millimetre may be lost."""
    outline = find_outline(Photo(pixels=head.pixels, name="painted"))
    off_mm = (abs(area_px2(outline.outline_px)) - abs(area_px2(head.outline_px))) / (
        2 * (110 + 55) * 0.8 * head.px_per_mm
    )
    assert abs(off_mm / head.px_per_mm) < 0.5


@pytest.mark.parametrize("turn_deg", [35.0, 90.0])
def test_turned_photos(turn_deg: float) -> None:
    head = paint_head(np.random.default_rng(2), turn_deg=turn_deg, middle=(600.0, 460.0), px_per_mm=4.5)
    outline = find_outline(Photo(pixels=head.pixels, name="painted"))
    assert overlap(outline.outline_px, head.outline_px, SIZE) >= 0.95


def test_a_mark_cut_by_the_edge_does_not_bite_the_outline() -> None:
    head = paint_head(np.random.default_rng(3), marks_mm=((0.0, 24.0), (-20.0, 0.0)))
    outline = find_outline(Photo(pixels=head.pixels, name="painted"))
    assert overlap(outline.outline_px, head.outline_px, SIZE) >= 0.96


@pytest.mark.parametrize(("gain", "cast"), [(0.35, (1.0, 1.0, 1.0)), (1.1, (1.1, 1.0, 0.75))])
def test_light_does_not_matter(head: PaintedHead, gain: float, cast: tuple[float, float, float]) -> None:
    pixels = np.clip(head.pixels * gain * np.array(cast), 0, 255).astype(np.uint8)
    outline = find_outline(Photo(pixels=pixels, name="painted"))
    assert overlap(outline.outline_px, head.outline_px, SIZE) >= 0.96


def test_twice_the_pixels_same_outline(head: PaintedHead) -> None:
    pixels = np.repeat(np.repeat(head.pixels, 2, axis=0), 2, axis=1)
    small = find_outline(Photo(pixels=head.pixels, name="small")).outline_px
    large = (find_outline(Photo(pixels=pixels, name="large")).outline_px - 0.5) / 2
    assert overlap(small, large, SIZE) >= 0.98


@pytest.mark.parametrize("off_mm", [-2.0, 2.0])
def test_the_walk_reaches_the_edge_from_both_sides(head: PaintedHead, off_mm: float) -> None:
    middle = centroid(head.outline_px)
    rough = middle + (head.outline_px - middle) * (1 + off_mm / 40)
    for walk in (FREE_WALK, GUIDED_WALK, GUIDED_IRON_WALK):
        edge = fit_edge(head.pixels, rough, walk=walk)
        assert overlap(edge.curve_px, head.outline_px, SIZE) >= 0.965
    assert edge.clear_frac.mean() > 0.6


def test_a_hollow_top_line_is_not_bridged_over_a_mark_on_an_iron() -> None:
    """Only a wood's face bulges all round; where a mark hides the edge the learned border speaks."""
    head = paint_head(
        np.random.default_rng(4), hollow_mm=9.0, crown_mm=0.0, marks_mm=((0.0, -17.0), (-14.0, -16.0))
    )
    guess = guess_of(head.outline_px, SIZE, confidence_frac=0.9)
    photo = Photo(pixels=head.pixels, name="painted")
    as_iron = find_outline(photo, guess=guess, bulging=False).outline_px
    as_wood = find_outline(photo, guess=guess, bulging=True).outline_px
    # The hollow is bridged where the marks lie, as if the face bulged.
    assert overlap(as_iron, head.outline_px, SIZE) >= 0.975
    assert overlap(as_wood, head.outline_px, SIZE) < 0.972


def test_centre_is_as_good_as_half_a_millimetre(head: PaintedHead) -> None:
    outline = find_outline(Photo(pixels=head.pixels, name="painted"))
    off_px = centroid(outline.outline_px) - centroid(head.outline_px)
    assert np.hypot(*off_px) / head.px_per_mm < 0.5


@pytest.mark.parametrize("name", ["driver-left-strip", "iron-ball"])
def test_shipped_photos_with_the_net(fixtures: Path, name: str) -> None:
    photo = load(fixtures / "photos" / f"{name}.jpg")
    guess = guess_face(photo)
    if guess is None:
        pytest.fail("the face finder's weights are part of the package and are not there")
    truth = json.loads((fixtures / "photos" / "truth" / f"{name}.json").read_text(encoding="utf-8"))
    outline = find_outline(photo, guess=guess)
    true_px = np.array(truth["face_outline_px"])
    assert overlap(outline.outline_px, true_px, (photo.width_px, photo.height_px)) >= 0.95


# --- an edge that light hides ---


def test_an_edge_lost_in_shadow_needs_a_sure_finder() -> None:
    """All but a stripe of light lies in shadow: a sure finder is believed, with a doubt; another is not."""
    head = paint_head(np.random.default_rng(1), ground=(30, 33, 30))
    y, x = np.mgrid[: SIZE[1], : SIZE[0]]
    lit = np.where(np.abs(x - 450 + 0.8 * (y - 450)) < 60, 1.0, 0.45)
    photo = Photo(pixels=(head.pixels * lit[..., None]).astype(np.uint8), name="stripe of light")
    outline = find_outline(photo, guess=guess_of(head.outline_px, SIZE, confidence_frac=SURE_CONFIDENCE_FRAC))
    assert overlap(outline.outline_px, head.outline_px, SIZE) >= 0.96
    assert outline.hidden_frac > 0.75
    assert [c.key for c in outline.caveats] == [cv.FACE_EDGE_UNCERTAIN]
    with pytest.raises(FaceError):
        find_outline(
            photo, guess=guess_of(head.outline_px, SIZE, confidence_frac=SURE_CONFIDENCE_FRAC - 0.01)
        )


# --- what is not a face is refused ---


def _refused(pixels: np.ndarray) -> FaceError:
    with pytest.raises(FaceError) as caught:
        find_outline(Photo(pixels=pixels.astype(np.uint8), name="none"))
    assert caught.value.remedy
    return caught.value


def test_black_is_refused() -> None:
    _refused(np.zeros((600, 800, 3)))


def test_plain_white_is_refused() -> None:
    _refused(np.full((600, 800, 3), 230))


def test_noise_is_refused() -> None:
    _refused(np.random.default_rng(0).normal(110, 40, (600, 800, 3)).clip(0, 255))


def test_a_ball_is_no_face() -> None:
    pixels = np.full((600, 800, 3), 60, np.uint8)
    cv2.circle(pixels, (400, 300), 120, (235, 235, 235), cv2.FILLED)
    _refused(pixels)


def test_a_sheet_is_no_face() -> None:
    pixels = np.full((600, 800, 3), 60)
    pixels[200:400, 200:600] = 235
    _refused(pixels)


def test_a_face_cut_by_the_border_is_refused() -> None:
    head = paint_head(np.random.default_rng(5), middle=(150.0, 450.0))
    error = _refused(head.pixels)
    assert "border" in str(error)


def test_what_is_known_to_be_something_else_is_avoided(head: PaintedHead) -> None:
    with pytest.raises(FaceError):
        find_outline(
            Photo(pixels=head.pixels, name="painted"),
            avoid_px=[np.array([[0.0, 0.0], [1199.0, 0.0], [1199.0, 899.0], [0.0, 899.0]])],
        )
