"""What the last photo of a series adds to its marks, and what it does not."""

from __future__ import annotations

import math

import pytest

from facemark.see.last_look import SeriesMark, look_again
from facemark.see.mark import Mark


def mark(toe_mm: float, *, score: float = 0.9, err_mm: float = 1.0, sure: bool = True) -> Mark:
    return Mark(
        toe_mm=toe_mm,
        high_mm=0.0,
        toe_err_mm=err_mm,
        high_err_mm=err_mm,
        diameter_mm=20.0,
        score_frac=score,
        sure=sure,
        touches=False,
        at_edge=False,
    )


def known(toe_mm: float, index: int, **told: float) -> SeriesMark:
    return SeriesMark(mark=mark(toe_mm, **told), photo_index=index)


def test_a_mark_seen_twice_lies_between_by_its_errors() -> None:
    both = look_again([known(10.0, 1, err_mm=2.0)], [mark(14.0, err_mm=1.0)], [0, 1])
    assert len(both) == 1
    # weights 1 to 4: 10 + 4 * 4/5
    assert both[0].mark.toe_mm == pytest.approx(13.2)
    assert both[0].mark.toe_err_mm == 2.0  # one photo looked at twice is no better known
    assert both[0].photo_index == 1


def test_a_told_ball_that_no_difference_shows_is_taken_from_the_last_photo() -> None:
    seen = [mark(-20.0), mark(0.0), mark(20.0, score=0.4)]
    found = look_again([known(-20.0, 0), known(0.0, 1)], seen, [1, 2])
    assert [(one.mark.toe_mm, one.photo_index, one.mark.sure) for one in found] == [
        (-20.0, 0, True),
        (0.0, 1, True),
        (20.0, 1, False),
    ]
    assert len(look_again([known(-20.0, 0), known(0.0, 1)], seen, [1, 1])) == 2


def test_no_photo_gets_more_marks_than_balls_were_told() -> None:
    crowd = [known(-30.0, 0), known(0.0, 0, score=0.6), known(30.0, 0)]
    found = look_again(crowd, [mark(-30.0), mark(30.0)], [2, 0])
    assert [one.mark.toe_mm for one in found] == [-30.0, 30.0]


def test_without_counts_a_weak_mark_that_one_of_them_sees_goes() -> None:
    found = look_again(
        [known(-30.0, 0, score=0.4)], [mark(0.0, score=0.6), mark(30.0, score=0.4)], [None, None]
    )
    assert [(one.mark.toe_mm, one.photo_index) for one in found] == [(0.0, 1)]


def test_looks_that_contradict_each_other_are_not_sure() -> None:
    both = look_again([known(10.0, 0)], [mark(17.0, score=0.8)], [1])[0].mark
    assert not both.sure
    assert both.score_frac == 0.8
    assert both.toe_err_mm == pytest.approx(math.hypot(1.0, 3.5))  # half of 7 mm
