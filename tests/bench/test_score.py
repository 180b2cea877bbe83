"""The bench's own scoring, on cases worked by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.bench.score import matched, overlap, score_reading


def truth(*marks: tuple[float, float], free: float = 1.0) -> dict[str, Any]:
    return {
        "image": "a.jpg",
        "tier": "easy",
        "handed": "R",
        "reference": {"kind": "card"},
        "image_size": [1000, 800],
        "mm_per_px_at_face_centre": [0.1, 0.1],
        "face_outline_px": [[100, 100], [300, 100], [300, 200], [100, 200]],
        "face_centre_px": [200.0, 150.0],
        "camera": {  # square to the face at 100 mm, 10 px per mm, toe on the left
            "K": [[1000, 0, 200], [0, 1000, 150], [0, 0, 1]],
            "R_face_to_cam": [[-1, 0, 0], [0, -1, 0], [0, 0, -1]],
            "t_face_to_cam": [0, 0, 100],
        },
        "marks": [
            {"x_mm": x, "y_mm": y, "fraction_touched_by_no_other_mark": free, "fraction_on_face": 1.0}
            for x, y in marks
        ],
    }


def reading(*marks: tuple[float, float], sure: bool = True) -> dict[str, Any]:
    """Marks given from the face centre; the sweet spot lies 2 mm toward the toe and 1 mm up."""
    return {
        "hand": "right",
        "hand_seen": "right",
        "sweet_spot": {"toe_mm": 2.0, "high_mm": 1.0},
        "marks": [
            {
                "toe_mm": x - 2.0, "high_mm": y - 1.0, "toe_err_mm": 1.0, "high_err_mm": 0.5,
                "sure": sure, "score_frac": 0.9,
            }
            for x, y in marks
        ],
        "n_least": len(marks),
        "group": {
            "toe_mm": -2.0, "high_mm": -1.0, "toe_err_mm": 1.0, "high_err_mm": 1.0, "toe_spread_mm": 10.0,
            "high_spread_mm": 5.0, "toe_spread_err_mm": 1.0, "high_spread_err_mm": 1.0,
        },
        "face": {
            "mm_per_px": 0.102, "outline_px": [[100, 100], [300, 100], [300, 200], [100, 200]],
            # Toe and up turned by 2 degrees: 10 px times sin 2 is 0.349.
            "centre_px": [210.0, 145.0], "toe_px_per_mm": [-9.994, -0.349], "high_px_per_mm": [0.349, -9.994],
            "centre_toe_err_mm": 0.5, "centre_high_err_mm": 0.5, "turn_err_deg": 4.0,
        },
        "caveats": [],
    }  # fmt: skip


def test_counts_and_errors_of_a_small_case() -> None:
    score = score_reading(truth((0, 0), (20, 0), (-20, 5)), reading((1, 0), (20, 3), (0, 15)))
    assert (score.n_true, score.n_shown, score.n_right) == (3, 3, 2)
    assert score.miss_mm == pytest.approx((1.0, 3.0))
    assert score.ratio == pytest.approx((1.0, 0.0, 0.0, 6.0))
    assert (score.n_sure, score.n_sure_wrong) == (3, 1)
    assert score.scale_err_frac == pytest.approx(0.02)
    assert score.iou_frac == pytest.approx(1.0)
    assert score.hand_seen is True
    assert (score.turn_miss_deg, score.turn_err_deg) == pytest.approx((2.0, 4.0), abs=0.01)
    assert score.centre_miss_mm == pytest.approx((0.98, 0.53), abs=0.01)  # 1 and 0.5, turned by 2 degrees
    assert score.centre_ratio == pytest.approx((1.96, 1.07), abs=0.02)


def test_a_pair_is_one_to_one_and_inside_the_gate() -> None:
    """Two shown marks on one true mark: the nearer is right, the other is not."""
    assert matched(np.array([[0.0, 0.0]]), np.array([[3.0, 0.0], [1.0, 0.0]])) == [(0, 1)]
    assert matched(np.array([[0.0, 0.0]]), np.array([[4.1, 0.0]])) == []
    # More pairs beat nearer pairs: greedy would take (1, 0) first and lose one.
    true, shown = np.array([[0.0, 0.0], [3.0, 0.0]]), np.array([[2.5, 0.0], [6.0, 0.0]])
    assert sorted(matched(true, shown)) == [(0, 0), (1, 1)]


def test_group_centre_and_spread() -> None:
    score = score_reading(truth((-10, -5), (10, 5), (0, 0)), reading())
    assert score.group_miss_mm == pytest.approx(0.0)
    # Sample standard deviations of (-10, 10, 0) and (-5, 5, 0) are 10 and 5.
    assert score.spread_miss_frac == pytest.approx((0.0, 0.0))


def test_a_refused_photo_misses_every_mark() -> None:
    score = score_reading(truth((0, 0), (20, 0), free=0.1), None, refused="ScaleError: none")
    assert (score.n_true, score.n_right, score.n_visible) == (2, 0, 0)


def test_overlap_of_half_shifted_squares_is_a_third() -> None:
    """Two equal squares shifted by half a side share 1/2 of one and cover 3/2: 1/3."""
    square = np.array([[100, 100], [500, 100], [500, 500], [100, 500]])
    assert overlap(square, square + np.array([200, 0]), (1000, 800)) == pytest.approx(1 / 3, abs=0.01)
