"""Does the stated error of the face's centre hold where the outline or the tilt is not to be trusted?"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from facemark.clubs import TYPICAL, typical_club
from facemark.inputs import Club, ClubKind
from facemark.see.camera import Camera, FaceFrame
from facemark.see.centre_doubt import USUAL_CONFIDENCE_FRAC, CentreDoubt, doubt_centre
from facemark.see.framing import centred, turned
from facemark.see.outline import Outline
from tests.see.painted_heads import ellipse, guess_of
from tests.see.test_face import flat_scale, head, true_scale

CAMERA = Camera(focal_px=3000.0, centre_x_px=1999.5, centre_y_px=1499.5, focal_err_frac=0.0)
DRIVER = typical_club(ClubKind.DRIVER)


def _face(tilt_deg: float, *, about_up: bool, long: float = 110.0, high: float = 52.0) -> FaceFrame:
    """A driver's face of 300 mm bulge and roll at 350 mm, tilted about its up or its toe axis."""
    t = math.radians(tilt_deg)
    c, s = math.cos(t), math.sin(t)
    turn = (
        np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
        if about_up
        else np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
    )
    return FaceFrame(
        camera=CAMERA,
        axes_cam=turn @ np.diag([-1.0, -1.0, -1.0]) * [1, 1, 1],
        origin_cam_mm=np.array([0.0, 0.0, 350.0]),
        bulge_mm=300.0,
        roll_mm=300.0,
    )


def _doubt(
    frame: FaceFrame, outline_px: np.ndarray, club: Club, *, pose_known: bool = True, dent_frac: float = 0.0
) -> CentreDoubt:
    outline = Outline(outline_px=outline_px, edge_err_px=2.0, hidden_frac=0.1, dent_frac=dent_frac)
    scale = replace(true_scale(frame), pose_known=pose_known, scale_err_frac=0.01)
    return doubt_centre(outline, frame, scale, club, turn_err_deg=0.3)


@pytest.mark.parametrize("about_up", [True, False])
@pytest.mark.parametrize("tilt_deg", [-15.0, 15.0])
def test_what_an_unseen_tilt_does_to_the_centre_is_within_the_stated_error(
    tilt_deg: float, *, about_up: bool
) -> None:
    """Truth by projection: a tilted face's outline, measured as if the camera were square to it."""
    true, square = _face(tilt_deg, about_up=about_up), _face(0.0, about_up=about_up)
    shape = ellipse(240, 110.0, 52.0, middle=(0.0, 0.0))
    outline_px = true.px_from_mm(shape)
    assumed = centred(square, outline_px)
    off_mm = assumed.mm_from_px(true.px_from_mm(np.zeros((1, 2))))[0]
    doubt = _doubt(assumed, outline_px, DRIVER, pose_known=False)
    along = 0 if about_up else 1
    assert abs(off_mm[along]) > 0.4 * 1.5  # the effect is real
    assert abs(off_mm[0]) < 1.96 * doubt.toe_err_mm
    assert abs(off_mm[1]) < 1.96 * doubt.high_err_mm
    # With the tilt known it is no doubt at all.
    seen = _doubt(true, outline_px, DRIVER)
    assert seen.toe_err_mm < 0.8 < doubt.toe_err_mm


def _drawn_doubt(club: Club, high: float, dent_frac: float = 0.0) -> CentreDoubt:
    frame = _face(0.0, about_up=True)
    return _doubt(
        frame, frame.px_from_mm(ellipse(240, 97.0, high, middle=(0.0, 0.0))), club, dent_frac=dent_frac
    )


def test_a_fairway_face_as_tall_as_a_drivers_is_doubted() -> None:
    """49 mm where the table's tallest is 44: crown taken for face moves the centre by half of it."""
    assert TYPICAL[ClubKind.FAIRWAY]["face_height_mm"].high == 44.0
    tall, usual = (_drawn_doubt(typical_club(ClubKind.FAIRWAY), high) for high in (49.0, 40.0))
    assert "49 mm high" in tall.says
    assert usual.says == ""
    assert tall.high_err_mm > 3.0
    assert usual.high_err_mm < 1.0
    assert tall.toe_err_mm == pytest.approx(usual.toe_err_mm, rel=0.2)
    assert _drawn_doubt(DRIVER, 49.0).says == ""


def test_a_told_height_is_held_against_the_face() -> None:
    told = replace(DRIVER, face_height_mm=47.0, assumed=DRIVER.assumed - {"face_height_mm"})
    assert _drawn_doubt(told, 48.0).says == ""
    assert "told are 47" in _drawn_doubt(told, 56.0).says


def test_a_bulge_in_a_woods_edge_is_doubted_an_irons_hollow_is_not() -> None:
    assert _drawn_doubt(DRIVER, 52.0, 0.047).high_err_mm > _drawn_doubt(DRIVER, 52.0, 0.010).high_err_mm + 0.8
    iron = typical_club(ClubKind.IRON)
    assert _drawn_doubt(iron, 52.0, 0.03).says == ""


def test_a_frame_turned_keeps_its_centre() -> None:
    one = head()
    frame = FaceFrame(
        camera=flat_scale(one).camera,
        axes_cam=np.diag([1.0, -1.0, -1.0]),
        origin_cam_mm=np.array([0.0, 0.0, 500.0]),
        bulge_mm=math.inf,
        roll_mm=math.inf,
    )
    before = centred(frame, one.outline_px)
    after = turned(before, one.outline_px, 10.0)
    assert after.origin_cam_mm == pytest.approx(before.origin_cam_mm, abs=1e-3)
    px = before.px_from_mm(np.array([[math.cos(math.radians(10)), math.sin(math.radians(10))]]) * 20)
    assert after.mm_from_px(px)[0] == pytest.approx([20.0, 0.0], abs=1e-3)


@pytest.mark.parametrize(
    ("confidence_frac", "says"),
    [(USUAL_CONFIDENCE_FRAC + 0.01, ""), (USUAL_CONFIDENCE_FRAC - 0.04, "unsure of 9 %")],
)
def test_a_finder_unsure_of_one_end_is_doubted(confidence_frac: float, says: str) -> None:
    """4 % of the face more than usual, all of it beyond the toe: the centroid moves by 2 % of the length."""
    frame = _face(0.0, about_up=True)
    outline_px = frame.px_from_mm(ellipse(240, 110.0, 52.0, middle=(0.0, 0.0)))
    guess = guess_of(outline_px, (4000, 3000), confidence_frac=confidence_frac)
    outline = Outline(outline_px=outline_px, edge_err_px=2.0, hidden_frac=0.1)
    scale = replace(true_scale(frame), scale_err_frac=0.01)
    before = doubt_centre(outline, frame, scale, DRIVER, turn_err_deg=0.3)
    after = doubt_centre(replace(outline, guess=guess), frame, scale, DRIVER, turn_err_deg=0.3)
    added_mm = math.sqrt(after.toe_err_mm**2 - before.toe_err_mm**2)
    assert added_mm == pytest.approx(0.02 * 110.0 if says else 0.0, abs=0.02)
    assert says in after.says
    assert bool(says) == bool(after.says)
