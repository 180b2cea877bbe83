"""Is thick powder on the crown told from the face where the learned finder is not sure?"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from facemark.inputs import Photo
from facemark.see.camera import Array
from facemark.see.edge import GUIDED_WALK, Edge, fit_edge
from facemark.see.face_net import FaceGuess
from facemark.see.outline import find_outline
from facemark.see.overspray import shown_edge, without_unsure
from tests.see.painted_heads import PaintedHead, guess_of, overlap, paint_head

SIZE = (1200, 900)
CROWN_MM = 16.0


@pytest.fixture(scope="module")
def head() -> PaintedHead:
    return paint_head(np.random.default_rng(11), crown_mm=CROWN_MM)


def _unsure_at(guess: FaceGuess, outline_px: Array, frac: float) -> FaceGuess:
    """The guess, and the left two thirds of what lies within another outline face by ``frac``."""
    also = guess_of(outline_px, SIZE, confidence_frac=0.93).face
    also[:, round(also.shape[1] * 0.6) :] = 0
    return replace(guess, face=np.maximum(guess.face, np.float32(frac) * also))


def test_crown_taken_for_face_is_told_by_the_photo(head: PaintedHead) -> None:
    """The face is 55 mm high and the crown shows 16 mm more: with it the centre is 5 mm too high."""
    guess = guess_of(head.outline_px, SIZE, confidence_frac=0.93)
    crown_px = head.outline_px - [0.0, CROWN_MM * head.px_per_mm]
    photo = Photo(pixels=head.pixels, name="painted")
    outline = find_outline(photo, guess=_unsure_at(guess, crown_px, 0.8)).outline_px
    assert overlap(outline, head.outline_px, SIZE) >= 0.96
    # Sure of crown and face alike, the finder is believed: nothing says where to look again.
    outline = find_outline(photo, guess=_unsure_at(guess, crown_px, 1.0)).outline_px
    assert overlap(outline, head.outline_px, SIZE) < 0.93


def test_a_part_of_the_face_that_the_finder_doubts_stays_face(head: PaintedHead) -> None:
    middle = head.outline_px.mean(axis=0)
    guess = guess_of(middle + 0.7 * (head.outline_px - middle), SIZE, confidence_frac=0.93)
    guess = _unsure_at(guess, head.outline_px, 0.8)
    assert without_unsure(guess) is not None
    sure = find_outline(Photo(pixels=head.pixels, name="painted"), guess=guess).outline_px
    left = sure[sure[:, 0] < middle[0] - 20 * head.px_per_mm]
    true = head.outline_px.astype(np.float32)
    off_px = [cv2.pointPolygonTest(true, (float(x), float(y)), True) for x, y in left]
    assert np.abs(off_px).max() < 1.5 * head.px_per_mm


def test_a_sure_map_is_not_looked_at_twice(head: PaintedHead) -> None:
    assert without_unsure(guess_of(head.outline_px, SIZE, confidence_frac=0.97)) is None


def test_two_edges_a_millimetre_apart_are_one(head: PaintedHead) -> None:
    middle = head.outline_px.mean(axis=0)
    outer = fit_edge(head.pixels, head.outline_px, walk=GUIDED_WALK)
    near = replace(outer, curve_px=middle + 0.99 * (outer.curve_px - middle))
    far: Edge = replace(outer, curve_px=middle + 1.15 * (outer.curve_px - middle))
    assert shown_edge(head.pixels, outer, near) is outer
    assert shown_edge(head.pixels, far, outer) is outer
