"""Drawn photos: is the truth they carry true of their pixels?"""

from __future__ import annotations

import functools
import json
import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from facemark import sheet
from facemark.inputs import ClubKind, Hand, ReferenceKind
from facemark.see.camera import Camera, FaceFrame
from facemark.see.draw import TIERS, DrawnPhoto, DrawRecipe, draw_photo, draw_series
from facemark.see.draw_head import make_head, make_plate, polygon_centroid
from facemark.see.draw_marks import Contact, Hit, Spray, draw_hit, shares, spray_face, strike
from facemark.see.draw_shoot import face_mm
from facemark.see.draw_solids import dimple_directions, on_face
from facemark.see.draw_view import View

SMALL = (1000, 750)


@functools.cache
def drawn(
    seed: int, tier: str = "easy", reference: ReferenceKind = ReferenceKind.TAGS, scene: str = "lying"
) -> DrawnPhoto:
    recipe = DrawRecipe(tier=tier, reference=reference, scene=scene, size_px=SMALL, hardships=())
    return draw_photo(recipe, np.random.default_rng(seed))


def frame_of(truth: dict) -> FaceFrame:
    """The project's own face frame from the truth's camera."""
    K = np.array(truth["camera"]["K"])
    camera = Camera(focal_px=K[0, 0], centre_x_px=K[0, 2], centre_y_px=K[1, 2], focal_err_frac=0.0)
    return FaceFrame(
        camera=camera,
        axes_cam=np.array(truth["camera"]["R_face_to_cam"]),
        origin_cam_mm=np.array(truth["camera"]["t_face_to_cam"]),
        bulge_mm=truth["bulge_radius_mm"] or math.inf,
        roll_mm=truth["roll_radius_mm"] or math.inf,
    )


@pytest.mark.parametrize("seed", [1, 2])
def test_pixels_and_millimetres_of_the_truth_agree(seed: int) -> None:
    truth = drawn(seed).truth
    frame = frame_of(truth)
    for mark in truth["marks"]:
        px = frame.px_from_mm(np.array([[mark["x_mm"], mark["y_mm"]]]))[0]
        np.testing.assert_allclose(px, [mark["x_px"], mark["y_px"]], atol=1e-6)
    outline = np.array(truth["face_outline_px"])
    np.testing.assert_allclose(frame.px_from_mm(np.array(truth["face_outline_mm"])), outline, atol=0.01)
    np.testing.assert_allclose(frame.px_from_mm(np.zeros((1, 2)))[0], truth["face_centre_px"], atol=1e-6)
    assert frame.mm_per_px == pytest.approx(math.sqrt(np.prod(truth["mm_per_px_at_face_centre"])), rel=1e-4)
    assert frame.tilt_deg == pytest.approx(truth["camera"]["tilt_deg"], abs=1e-6)


def test_truth_is_json_and_its_origin_is_the_outline_s_centroid() -> None:
    truth = json.loads(json.dumps(drawn(1).truth))
    outline = np.array(truth["face_outline_mm"])
    np.testing.assert_allclose(polygon_centroid(outline), [0.0, 0.0], atol=1e-3)
    assert np.ptp(outline[:, 0]) == pytest.approx(truth["face_length_mm"], abs=1e-3)
    assert 78.0 <= truth["face_length_mm"] <= 122.0


def test_the_drawn_face_covers_exactly_its_outline() -> None:
    """Area against the shoelace formula, and rays through the true outline pixels meet the true outline."""
    rng = np.random.default_rng(2)
    head = make_head(ClubKind.FAIRWAY, Hand.LEFT, rng)
    plate = make_plate(head, 8.0, rng)
    x, y = head.outline_mm.T
    area = abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
    assert plate.inside.sum() / plate.px_per_mm**2 == pytest.approx(area, rel=0.005)
    truth = drawn(2).truth
    K, place = np.array(truth["camera"]["K"]), truth["camera"]
    view = View(
        focal_px=K[0, 0],
        width_px=SMALL[0],
        height_px=SMALL[1],
        axes_cam=np.array(place["R_face_to_cam"]),
        origin_cam_mm=np.array(place["t_face_to_cam"]),
    )
    curved = replace(
        head, bulge_mm=truth["bulge_radius_mm"] or math.inf, roll_mm=truth["roll_radius_mm"] or math.inf
    )
    met = face_mm(view, curved, np.array(truth["face_outline_px"]))
    np.testing.assert_allclose(met, truth["face_outline_mm"], atol=2e-3)


@pytest.mark.parametrize("seed", [1, 2, 11])
def test_marks_are_darker_than_the_powder_around_them(seed: int) -> None:
    photo = drawn(seed)
    grey = photo.photo.pixels.mean(axis=2)
    frame = frame_of(photo.truth)
    outline = np.round(np.array(photo.truth["face_outline_px"])).astype(np.int32)
    face = np.zeros(grey.shape, np.uint8)
    cv2.fillPoly(face, [outline], 1)
    face = cv2.erode(face, np.ones((9, 9), np.uint8))
    for mark in photo.truth["marks"]:
        turn = np.linspace(0, 2 * math.pi, 60)
        disc = np.round(frame.px_from_mm(_ring(mark, turn, 0.5))).astype(np.int32)
        hit = np.zeros_like(face)
        cv2.fillPoly(hit, [disc], 1)
        face[hit > 0] += face[hit > 0]  # 2: inside a mark
    assert np.median(grey[face >= 2]) < 0.93 * np.percentile(grey[face == 1], 75)


def _ring(mark: dict, turn: np.ndarray, share: float) -> np.ndarray:
    radius = mark["diameter_mm"] / 2 * share
    return np.column_stack([mark["x_mm"] + radius * np.cos(turn), mark["y_mm"] + radius * np.sin(turn)])


def test_the_same_seed_draws_the_same_photo_and_another_does_not() -> None:
    recipe = DrawRecipe(tier="hard", size_px=(480, 360))
    first, again, other = (draw_photo(recipe, np.random.default_rng(s)) for s in (7, 7, 8))
    assert first.jpeg == again.jpeg
    assert first.truth == again.truth
    assert first.truth["marks"] != other.truth["marks"]


def test_untouched_share_of_two_equal_discs_is_the_lens_formula() -> None:
    """Two circles of radius r, d apart, share 2 r^2 acos(d/2r) - d/2 sqrt(4r^2 - d^2) (plane geometry)."""
    head = make_head(ClubKind.DRIVER, Hand.RIGHT, np.random.default_rng(0))
    plate = make_plate(head, 10.0, np.random.default_rng(0))
    r, d = 9.0, 7.0
    alone, on_face_share = shares(
        plate,
        (
            Hit(toe_mm=-d / 2, high_mm=0.0, diameter_mm=2 * r),
            Hit(toe_mm=d / 2, high_mm=0.0, diameter_mm=2 * r),
        ),
    )
    lens = 2 * r**2 * math.acos(d / (2 * r)) - d / 2 * math.sqrt(4 * r**2 - d**2)
    np.testing.assert_allclose(alone, 1.0 - lens / (math.pi * r**2), atol=0.01)
    np.testing.assert_allclose(on_face_share, 1.0, atol=0.01)


def test_a_disc_half_over_a_flat_sole_is_half_on_the_face() -> None:
    head = make_head(ClubKind.DRIVER, Hand.RIGHT, np.random.default_rng(3))
    plate = make_plate(head, 10.0, np.random.default_rng(3))
    low = head.outline_mm[np.argmin(head.outline_mm[:, 1])]
    _, on = shares(plate, (Hit(toe_mm=float(low[0]), high_mm=float(low[1]), diameter_mm=10.0),))
    assert on[0] == pytest.approx(0.5, abs=0.06)


@pytest.mark.parametrize("seed", [11, 12])
def test_every_tag_decodes_at_its_true_corners(seed: int) -> None:
    """OpenCV's own decoder is the outside check of numbers, corners and of not being mirrored."""
    photo = drawn(seed)
    words = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    grey = cv2.cvtColor(photo.photo.pixels, cv2.COLOR_RGB2GRAY)
    corners, ids, _ = cv2.aruco.ArucoDetector(words, settings).detectMarkers(grey)
    found = {int(i): c.reshape(4, 2) for i, c in zip(np.ravel(ids), corners, strict=True)}
    for tag in photo.truth["reference"]["markers"]:
        error = np.linalg.norm(found[tag["id"]] - np.array(tag["corners_px"]), axis=1)
        assert error.max() < 1.0, tag["id"]


@pytest.mark.parametrize("hand", list(Hand))
def test_our_own_sheet_is_drawn_as_it_is_printed(hand: Hand) -> None:
    """Every tag left on the L decodes with OpenCV; its corners are where facemark.sheet prints them."""
    recipe = DrawRecipe(
        tier="easy", reference=ReferenceKind.SHEET, hand=hand, scene="lying", size_px=SMALL, hardships=()
    )
    photo = draw_photo(recipe, np.random.default_rng(3))
    words = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, sheet.DICTIONARY))
    grey = cv2.cvtColor(photo.photo.pixels, cv2.COLOR_RGB2GRAY)
    _, ids, _ = cv2.aruco.ArucoDetector(words).detectMarkers(grey)
    drawn_tags = {t["id"]: np.array(t["corners_px"]) for t in photo.truth["reference"]["markers"]}
    assert set(np.ravel(ids).tolist()) == set(drawn_tags)
    paper = np.concatenate([sheet.tag_corners_mm(k) for k in drawn_tags])
    plane, _ = cv2.findHomography(paper, np.concatenate(list(drawn_tags.values())))
    back = cv2.perspectiveTransform(paper[None], plane)[0]
    np.testing.assert_allclose(back, np.concatenate(list(drawn_tags.values())), atol=0.02)


def test_the_card_is_an_id_1_card() -> None:
    """ISO/IEC 7810: 85.60 x 53.98 mm; its true corners are undone with the true camera on its plane."""
    truth = drawn(21, reference=ReferenceKind.CARD).truth
    if truth:
        card = truth["reference"]
        sides = np.array(card["side_mm"])
        np.testing.assert_allclose(np.sort(sides), [53.98, 85.60], atol=1e-9)
        frame = frame_of(truth)
        corners = np.array(card["corners_mm"])
        px = frame.camera.project(corners @ frame.axes_cam.T + frame.origin_cam_mm)
        np.testing.assert_allclose(px, card["outline_px"], atol=0.01)
        edges = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
        np.testing.assert_allclose(np.sort(edges), [53.98, 53.98, 85.60, 85.60], atol=1e-6)
        assert 2.88 <= card["corner_radius_mm"] <= 3.48


def test_the_ball_fills_the_cone_of_a_42_67_mm_sphere() -> None:
    """Equipment Rules: at least 42.67 mm. On axis its image radius is f r / sqrt(Z^2 - r^2)."""
    from facemark.see.draw_solids import ball_pixels

    view = View(
        focal_px=1500.0,
        width_px=801,
        height_px=601,
        axes_cam=np.diag([1.0, -1.0, -1.0]),
        origin_cam_mm=np.array([0.0, 0.0, 400.0]),
    )
    _, cover, normal = ball_pixels(view, np.zeros(3), 42.67, np.random.default_rng(0))
    radius = math.sqrt(cover.sum() / math.pi)
    assert radius == pytest.approx(1500 * 21.335 / math.sqrt(400**2 - 21.335**2), rel=0.003)
    np.testing.assert_allclose(np.linalg.norm(normal[cover > 0.9], axis=1), 1.0, atol=1e-4)
    truth = drawn(23, reference=ReferenceKind.BALL).truth["reference"]
    assert 42.67 <= truth["diameter_mm"] <= 42.80


def test_dimples_are_spread_like_an_icosahedron_s_net() -> None:
    """10 n^2 + 2 points for n = 6 (Euler: vertices of a geodesic icosahedron)."""
    points = dimple_directions()
    assert len(points) == 362
    np.testing.assert_allclose(points.mean(axis=0), 0.0, atol=1e-9)


def test_right_hand_has_its_toe_on_the_left_and_the_shaft_on_the_right() -> None:
    for hand, sign in ((Hand.RIGHT, -1.0), (Hand.LEFT, 1.0)):
        recipe = DrawRecipe(tier="easy", hand=hand, size_px=(400, 300), hardships=())
        truth = draw_photo(recipe, np.random.default_rng(5)).truth
        frame = frame_of(truth)
        toe, heel, high = frame.px_from_mm(np.array([[30.0, 0.0], [-30.0, 0.0], [0.0, 15.0]]))
        assert (toe[0] - heel[0]) * sign > 0
        assert high[1] < truth["face_centre_px"][1]
        assert truth["handed"] == hand.value[0].upper()


def test_lens_distortion_is_in_both_directions_the_same() -> None:
    head = make_head(ClubKind.DRIVER, Hand.RIGHT, np.random.default_rng(1))
    view = View(
        focal_px=1700.0,
        width_px=2400,
        height_px=1800,
        axes_cam=np.diag([-1.0, -1.0, -1.0]),
        origin_cam_mm=np.array([30.0, -20.0, 320.0]),
        k1_ratio=-0.08,
    )
    at = np.random.default_rng(2).uniform(-25, 25, (50, 2))
    px = view.px(on_face(head, at))
    np.testing.assert_allclose(face_mm(view, head, px), at, atol=1e-3)
    cam = on_face(head, at) @ view.axes_cam.T + view.origin_cam_mm
    K = np.array([[1700.0, 0, 1199.5], [0, 1700.0, 899.5], [0, 0, 1]])
    dist = np.array([-0.08, 0.0, 0.0, 0.0, 0.0])  # OpenCV's model is the outside check
    by_cv, _ = cv2.projectPoints(cam, np.zeros(3), np.zeros(3), K, dist)
    np.testing.assert_allclose(px, by_cv.reshape(-1, 2), atol=1e-6)


def _contact(**changes: float) -> Contact:
    values: dict = {
        "adhesion_frac": 0.3,
        "adhesion_spread_frac": 0.05,
        "most_frac": 0.9,
        "dimple_frac": 0.0,
        "pitch_mm": 4.0,
        "ring_frac": 0.0,
        "smear_mm": 0.0,
        "carry_frac": 0.0,
    }
    return Contact(**{**values, **changes})


def _plain() -> tuple:
    rng = np.random.default_rng(3)
    head = make_head(ClubKind.DRIVER, Hand.RIGHT, rng)
    plate = make_plate(head, 8.0, rng)
    spray = Spray(
        depth_ratio=2.0, patch_frac=0.0, grain_frac=0.05, grain_mm=0.2, edge_frac=0.0, n_drops=0, n_runs=0
    )
    return plate, spray_face(plate, spray, rng), rng


def test_a_ball_clears_a_disc_of_the_stated_diameter() -> None:
    plate, fresh, rng = _plain()
    hit = Hit(toe_mm=1.0, high_mm=2.0, diameter_mm=20.0)
    gone = 1.0 - strike(plate, fresh, fresh, hit, _contact(), rng) / fresh
    area = float(((gone > 0.45) & (plate.groove < 0.05)).sum()) / plate.px_per_mm**2
    lines = float((_disc(plate, hit) & (plate.groove >= 0.05)).sum()) / plate.px_per_mm**2
    assert area + lines == pytest.approx(math.pi * 100.0, rel=0.05)
    ys, xs = np.nonzero(gone > 0.45)
    assert plate.left_mm + xs.mean() / plate.px_per_mm == pytest.approx(1.0, abs=0.3)
    assert plate.top_mm - ys.mean() / plate.px_per_mm == pytest.approx(2.0, abs=0.4)


def _disc(plate, hit: Hit) -> np.ndarray:
    toe, high = plate.grid_mm()
    return np.hypot(toe - hit.toe_mm, high - hit.high_mm) < hit.diameter_mm / 2


def test_a_second_ball_takes_more_or_prints_over_by_the_rule_asked_for() -> None:
    plate, fresh, rng = _plain()
    hit = Hit(toe_mm=0.0, high_mm=0.0, diameter_mm=20.0)
    core = _disc(plate, Hit(toe_mm=0.0, high_mm=0.0, diameter_mm=12.0)) & (plate.groove < 0.05)
    once = strike(plate, fresh, fresh, hit, _contact(), rng)
    twice = strike(plate, once, fresh, hit, _contact(), rng)
    assert np.median(twice[core]) < 0.3 * np.median(once[core])
    printed = strike(plate, once, fresh, hit, _contact(carry_frac=0.3), rng)
    assert np.median(printed[core]) > np.median(once[core])


def test_a_ring_of_powder_rises_outside_the_rim_and_dimples_keep_powder() -> None:
    plate, fresh, rng = _plain()
    hit = draw_hit(np.zeros(2), 20.0, rng)
    ringed = strike(plate, fresh, fresh, hit, _contact(ring_frac=0.6), rng)
    outside = ~_disc(plate, Hit(toe_mm=0.0, high_mm=0.0, diameter_mm=21.0))
    assert (ringed / fresh)[outside & (plate.groove < 0.05)].max() > 1.2
    dimpled = strike(plate, fresh, fresh, hit, _contact(dimple_frac=0.95), rng)
    plain = strike(plate, fresh, fresh, hit, _contact(), rng)
    assert dimpled.sum() > plain.sum()


def test_a_series_keeps_one_scale_object_of_one_size() -> None:
    recipe = DrawRecipe(size_px=(320, 240), reference=ReferenceKind.TAGS)
    photos = draw_series(recipe, np.random.default_rng(6), balls=[1, 1, 1])
    assert len({photo.truth["reference"]["marker_side_mm"] for photo in photos}) == 1
    recipe = DrawRecipe(size_px=(320, 240), reference=ReferenceKind.SHEET)
    photos = draw_series(recipe, np.random.default_rng(6), balls=[1, 1, 1])
    assert len({photo.truth["reference"]["spacer_mm"] for photo in photos}) == 1


def test_series_tells_new_marks_and_forgets_them_when_resprayed() -> None:
    recipe = DrawRecipe(size_px=(320, 240))
    photos = draw_series(recipe, np.random.default_rng(4), balls=[2, 1, 3], resprayed=[2])
    counts = [(len(p.truth["marks"]), sum(m["new"] for m in p.truth["marks"])) for p in photos]
    assert counts == [(2, 2), (3, 1), (3, 3)]
    first, second = photos[0].truth["marks"], photos[1].truth["marks"]
    assert [(m["x_mm"], m["y_mm"]) for m in first] == [(m["x_mm"], m["y_mm"]) for m in second[:2]]
    assert photos[0].truth["camera"] != photos[1].truth["camera"]
    assert photos[0].truth["face_outline_mm"] == photos[1].truth["face_outline_mm"]


@pytest.mark.parametrize("tier", TIERS)
def test_tiers_have_the_number_of_marks_they_promise_and_all_is_in_the_frame(tier: str) -> None:
    photo = draw_photo(DrawRecipe(tier=tier, size_px=(320, 240)), np.random.default_rng(31))
    n = len(photo.truth["marks"])
    assert {"easy": 1, "normal": 6, "hard": 4}[tier] <= n <= {"easy": 5, "normal": 12, "hard": 12}[tier]
    outline = np.array(photo.truth["face_outline_px"])
    assert (outline > 0).all()
    assert (outline < [320, 240]).all()
    assert photo.photo.pixels.shape == (240, 320, 3)


def test_an_unknown_tier_is_refused() -> None:
    with pytest.raises(ValueError, match="tier"):
        draw_photo(DrawRecipe(tier="impossible"), np.random.default_rng(0))


def test_what_lies_beside_the_camera_is_not_bent_back_into_the_frame() -> None:
    """A polynomial distortion turns round far off axis; a shaft leaning past the phone must stay outside."""
    view = View(
        focal_px=1700.0,
        width_px=2400,
        height_px=1800,
        axes_cam=np.diag([-1.0, -1.0, -1.0]),
        origin_cam_mm=np.array([0.0, 0.0, 320.0]),
        k1_ratio=-0.03,
    )
    beside = view.px(np.array([[-500.0, 0.0, 240.0]]))[0]
    assert beside[0] > 2400.0
