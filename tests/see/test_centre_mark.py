"""The printed mark is found where it shows, and nothing else is taken for it."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

import facemark
from facemark.clubs import typical_club
from facemark.errors import SetupError
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind, Setup
from facemark.see.centre_mark import DESIGN_MM, CentreMark, find_centre_mark
from facemark.see.place import sweet_spot_of
from facemark.see.rectify import FaceMap
from facemark.strike import SweetSpotFrom
from tests.see.drawn_faces import PX_PER_MM, Powder, draw_face, photograph, spray, strike

FINE = 8  # the design is painted this much finer than the face map


def paint(powder: Powder, shape: str, at_mm: tuple[float, float], size_mm: float, tone: float) -> Powder:
    """A design on the bare face, under the powder."""
    h, w = powder.bare.shape
    big = np.zeros((h * FINE, w * FINE), np.uint8)
    corner = np.array([powder.toe[0, 0], powder.up[0, 0]])

    def fill(mm: np.ndarray, value: int = 255) -> None:
        px = (mm * size_mm + at_mm - corner) * [1, -1] * PX_PER_MM * FINE + (FINE - 1) / 2
        cv2.fillPoly(big, [np.round(px).astype(np.int32)], value)

    def bar(wide: float, tall: float) -> np.ndarray:
        return np.array([[-wide, -tall], [wide, -tall], [wide, tall], [-wide, tall]]) / 2

    turn = np.linspace(0, 2 * np.pi, 90)
    circle = np.column_stack([np.cos(turn), np.sin(turn)]) / 2
    if shape in {"dot", "ring"}:
        fill(circle)
    if shape == "ring":
        fill(0.6 * circle, 0)
    if shape in {"bar", "cross"}:
        fill(bar(0.25, 1.0))
    if shape in {"level bar", "cross"}:
        fill(bar(1.0, 0.25))
    if shape == "arrow":
        fill(np.array([[-0.5, 0.5], [0.5, 0.5], [0.0, -0.5]]))
    cover = cv2.resize(big, (w, h), interpolation=cv2.INTER_AREA) / 255.0
    return replace(powder, bare=powder.bare * (1 - cover) + tone * cover)


def hit(powder: Powder, at_mm: tuple[float, float], *, dimples: float = 0.0, keep: float = 0.1) -> Powder:
    """A print of 22 mm."""
    rng = np.random.default_rng(5)
    return strike(rng, powder, at_mm, radius_mm=11.0, keep=keep, dimples=dimples, overprint=True)[1]


def plain(seed: int = 7) -> Powder:
    """A sprayed dark face without score lines."""
    powder = spray(np.random.default_rng(seed), patchy=0.05)
    bare = np.full_like(powder.bare, 45.0)
    return replace(powder, groove=np.zeros_like(powder.groove), bare=bare)


def shot(powder: Powder) -> FaceMap:
    return photograph(np.random.default_rng(3), powder)


@pytest.mark.parametrize(
    ("shape", "size_mm", "tone"),
    [
        ("dot", 2.5, 180.0),
        ("dot", 5.0, 150.0),
        ("ring", 6.0, 190.0),
        ("cross", 8.0, 190.0),
        ("bar", 7.0, 160.0),
    ],
)
def test_a_design_inside_a_print_is_found(shape: str, size_mm: float, tone: float) -> None:
    at = (1.3, -0.8)
    found = find_centre_mark(shot(hit(paint(plain(), shape, at, size_mm, tone), (0.0, 1.0))))
    assert found is not None
    assert math.hypot(found.toe_mm - at[0], found.high_mm - at[1]) < 0.3
    assert abs(found.toe_mm - at[0]) < 2.5 * found.toe_err_mm
    assert abs(found.high_mm - at[1]) < 2.5 * found.high_err_mm
    assert found.size_mm == pytest.approx(size_mm, abs=0.8)
    assert found.size_mm <= DESIGN_MM


def test_an_arrow_tip_carries_the_doubt_what_it_means() -> None:
    found = find_centre_mark(shot(hit(paint(plain(), "arrow", (0.0, 0.0), 7.0, 190.0), (0.0, 0.0))))
    assert found is not None
    assert found.high_err_mm > 1.0
    assert abs(found.high_mm) < 2 * found.high_err_mm


def test_a_dot_shows_through_thin_powder() -> None:
    powder = paint(plain(), "dot", (-1.0, 0.5), 4.0, 10.0)
    found = find_centre_mark(shot(replace(powder, bare=powder.bare * 1.8, thick=0.35 * powder.thick)))
    assert found is not None
    assert math.hypot(found.toe_mm + 1.0, found.high_mm - 0.5) < 0.3


def test_a_design_hidden_by_powder_is_not_guessed() -> None:
    assert find_centre_mark(shot(paint(plain(), "dot", (0.0, 0.0), 4.0, 60.0))) is None


def test_two_dots_are_one_too_many() -> None:
    powder = paint(paint(plain(), "dot", (-3.0, 0.0), 4.0, 180.0), "dot", (4.0, 1.0), 4.0, 180.0)
    assert find_centre_mark(shot(hit(powder, (0.0, 0.0)))) is None


def test_a_level_bar_may_be_a_score_line() -> None:
    assert (
        find_centre_mark(shot(hit(paint(plain(), "level bar", (0.0, 0.0), 8.0, 180.0), (0.0, 0.0)))) is None
    )


def test_a_design_far_from_the_middle_is_no_centre_mark() -> None:
    assert find_centre_mark(shot(hit(paint(plain(), "dot", (12.0, 0.0), 4.0, 180.0), (12.0, 0.0)))) is None


@pytest.mark.parametrize("dimples", [0.2, 0.6, 0.9])
def test_dimple_dots_are_not_taken(dimples: float) -> None:
    assert find_centre_mark(shot(hit(plain(), (0.0, 0.0), dimples=dimples))) is None


@pytest.mark.parametrize("seed", range(12))
def test_drawn_faces_without_a_design(seed: int) -> None:
    """Prints, dimples, score lines, islands of powder, shadow and glare."""
    face = draw_face(4000 + seed, tier=("easy", "normal", "hard")[seed % 3])
    assert find_centre_mark(face.face_map) is None


def test_the_mark_keeps_the_doubt_where_the_balance_point_is() -> None:
    club = typical_club(ClubKind.DRIVER)
    mark = CentreMark(toe_mm=2.0, high_mm=-0.5, toe_err_mm=0.2, high_err_mm=0.2, size_mm=3.0)
    spot = sweet_spot_of(club, mark)
    assert (spot.toe_mm, spot.high_mm) == (2.0, -0.5)
    assert spot.found_from is SweetSpotFrom.MARK
    # Heads differ by +-3 mm toe-heel (rectangular), the print by 1 mm, the finding by 0.2 mm.
    assert spot.toe_err_mm == pytest.approx(math.sqrt(3.0**2 / 3 + 1.0 + 0.04))
    assert sweet_spot_of(club).found_from is SweetSpotFrom.ASSUMED


def test_a_measured_sweet_spot_and_a_mark_contradict() -> None:
    club = replace(typical_club(ClubKind.DRIVER), assumed=frozenset({"loft_deg"}))
    with pytest.raises(SetupError, match="measured"):
        Setup(club=club, centre_mark=True)


def test_asked_for_and_not_there_is_said(fixtures: Path) -> None:
    setup = Setup(
        club=typical_club(ClubKind.DRIVER),
        hand=Hand.RIGHT,
        reference=Reference(kind=ReferenceKind.TAGS, size_mm=23.9),
        n_balls=3,
        centre_mark=True,
    )
    measured = facemark.measure(facemark.load(fixtures / "photos" / "driver-tags.jpg"), setup, fast=True)
    assert measured.sweet_spot.found_from is SweetSpotFrom.ASSUMED
    assert measured.strikes.sweet_spot_from is SweetSpotFrom.ASSUMED
    assert "centre_mark_not_found" in {caveat.key for caveat in measured.strikes.caveats}
