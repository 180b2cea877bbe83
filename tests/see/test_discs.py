"""The disc fit: its arithmetic against formulae, and that a told count never invents a mark."""

from __future__ import annotations

import math

import numpy as np
import pytest

from facemark.see.disc_scene import DiscScene
from facemark.see.discs import fit_discs
from facemark.see.voting import vote_circles
from tests.see.test_voting import discs, powder_of


def scene_of(removed: np.ndarray) -> DiscScene:
    scene = DiscScene.of(powder_of(removed), step=1)
    assert scene is not None
    return scene


@pytest.mark.parametrize("gap", [4.0, 9.0, 15.0, 21.0])
def test_the_model_covers_the_union_of_two_discs(gap: float) -> None:
    """Two equal discs share a lens of 2 r^2 acos(d / 2r) - d/2 sqrt(4 r^2 - d^2) (plane geometry)."""
    r = 11.0
    scene = scene_of(discs([(-gap / 2, 0, r), (gap / 2, 0, r)]))
    at = np.array([[-gap / 2, 0.0], [gap / 2, 0.0]])
    p = np.column_stack([at[:, 0] - scene.origin[0], scene.origin[1] - at[:, 1], [r, r], [0.97, 0.97]])
    lens = 2 * r**2 * math.acos(gap / (2 * r)) - gap / 2 * math.sqrt(4 * r**2 - gap**2)
    # Removed: 0.97 under one disc, 1 - 0.03^2 under both.
    expected = 0.97 * (2 * math.pi * r**2 - 2 * lens) + (1 - 0.03**2) * lens
    area = float((1 - scene.left_over(p)).sum()) * float(scene.x[1] - scene.x[0]) ** 2
    assert area == pytest.approx(expected, rel=0.015)  # soft rims


def test_the_gradient_is_that_of_the_loss() -> None:
    scene = scene_of(discs([(-6, 0, 10), (6, 3, 11)]))
    p = np.array([[-5.0, 0.5, 10.5, 0.8], [6.5, 2.5, 10.5, 0.8]])
    p[:, 0] -= scene.origin[0]
    p[:, 1] = scene.origin[1] - p[:, 1]
    _, gradient = scene.normal_equations(p)
    for k in range(8):
        step = np.zeros(8)
        step[k] = 0.02
        there, back = scene.loss(p + step.reshape(2, 4)), scene.loss(p - step.reshape(2, 4))
        assert gradient[k] == pytest.approx((there - back) / 0.04, rel=0.05, abs=0.3)


def test_three_discs_in_a_heap_are_found() -> None:
    what = [(-8.0, 2.0, 11.0), (6.0, -4.0, 11.0), (4.0, 9.0, 11.0)]
    powder = powder_of(0.85 * discs(what))
    fit = fit_discs(powder, vote_circles(powder), n_balls=3)
    found = np.array(sorted((d.toe_mm, d.high_mm) for d in fit.discs))
    assert found == pytest.approx(np.array(sorted((t, h) for t, h, _ in what)), abs=0.5)
    assert fit.explained_frac > 0.95
    assert all(d.step_ratio > 0.7 and d.visible_deg > 60 for d in fit.discs)


@pytest.mark.parametrize("n_told", [1, 2, 4, 8])
def test_a_told_count_never_forces_marks(n_told: int) -> None:
    powder = powder_of(discs([(5, 0, 11)]))
    fit = fit_discs(powder, vote_circles(powder), n_balls=n_told)
    assert len(fit.discs) == 1
    assert (fit.discs[0].toe_mm, fit.discs[0].high_mm) == pytest.approx((5, 0), abs=0.2)


def test_a_clear_disc_is_known_better_than_a_hidden_one() -> None:
    powder = powder_of(discs([(-25, 0, 11), (20, 0, 11), (25, 5, 11), (23, -6, 11)]))
    fit = fit_discs(powder, vote_circles(powder), n_balls=4)
    alone = min(fit.discs, key=lambda d: d.toe_mm)
    others = [d for d in fit.discs if d is not alone]
    assert others
    assert all(alone.toe_err_mm < d.toe_err_mm for d in others)


def test_no_bare_place_gives_no_disc() -> None:
    fit = fit_discs(powder_of(np.zeros((121, 221))), (), n_balls=5)
    assert fit.discs == ()
    assert fit.explained_frac == 0.0
