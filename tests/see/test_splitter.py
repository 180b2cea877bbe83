"""The learned splitter: planes, sharing out, and what it says about faces whose marks we drew ourselves."""

from __future__ import annotations

import hashlib
from importlib import resources
from pathlib import Path

import numpy as np
import pytest

from facemark.see import splitter_net
from facemark.see.rectify import FaceMap
from facemark.see.splitter import split_marks
from facemark.see.splitter_net import ask, face_planes, grey_planes, model_card
from facemark.see.splitter_points import share_out
from facemark.see.splitter_read import cells_to_map, moments, on_map_grid

needs_weights = pytest.mark.skipif(model_card() is None, reason="the package was built without its weights")


def powdered(
    *marks: tuple[float, float], seed: int = 1, radius_mm: float = 10.5, origin: bool = True
) -> FaceMap:
    """A plain wood face, 104 x 56 mm: grainy light powder, dark discs; a drawing of this file's own."""
    rng = np.random.default_rng(seed)
    left, top = (-54.0, 30.0) if origin else (-40.0, 22.0)
    toe = left + np.arange(433) / 4.0
    high = top - np.arange(241)[:, None] / 4.0
    x, y = (toe, high) if origin else (toe - 14.0, high + 8.0)
    inside = (np.abs(x) / 52.0) ** 2.4 + (np.abs(y) / 28.0) ** 2.4 < 1.0
    light = 0.82 + 0.04 * rng.standard_normal(inside.shape)
    for mark_x, mark_y in marks:
        far = np.hypot(x - mark_x, y - mark_y)
        light -= 0.55 / (1.0 + np.exp((far - radius_mm) / 0.25)) * (light > 0.5)
    grey = np.where(inside, np.clip(light, 0.05, 1.0), 0.3) * 255.0
    pixels = np.repeat(grey.astype(np.uint8)[..., None], 3, axis=2)
    return FaceMap(pixels=pixels, inside=inside, left_toe_mm=left, top_high_mm=top, px_per_mm=4.0)


def blobs(*places: tuple[float, float], sd: float = 1.2) -> np.ndarray:
    """A density of one ball per place (column, row), 60 x 110 cells."""
    row, column = np.mgrid[:60, :110]
    one = [
        np.exp(-0.5 * ((column - c) ** 2 + (row - r) ** 2) / sd**2) / (2 * np.pi * sd**2) for c, r in places
    ]
    return np.sum(one, axis=0).astype(np.float32)


# --- planes ---


def test_planes_are_zero_outside_and_padded_to_what_the_network_halves() -> None:
    face = powdered((0.0, 0.0))
    planes = face_planes(face)
    assert planes.shape == (5, 256, 448)
    outside = np.pad(~face.inside, ((0, 15), (0, 15)), constant_values=True)
    assert not planes[:, outside].any()
    assert not planes[3:].any()  # no photo before


def test_a_photo_before_is_seen_as_this_one_is() -> None:
    face = powdered((5.0, 2.0))
    before = powdered().pixels[..., 0]
    both = face_planes(face, before)
    assert (both[:3] == face_planes(face)[:3]).all()
    height, width = before.shape
    assert (both[3:, :height, :width] == grey_planes(before, face.inside)[:2]).all()
    # Even powder is what a missing photo gives: nearly zero away from the border's shading.
    assert np.abs(np.median(both[3, :height, :width][face.inside])) < 0.05


def test_planes_do_not_change_with_exposure() -> None:
    face = powdered((5.0, 2.0))
    grey = face.pixels[..., 0]
    dim = grey_planes((grey // 2).astype(np.uint8), face.inside)
    full = grey_planes(grey, face.inside)
    assert np.abs(dim[0] - full[0]).max() < 0.03


def test_planes_are_those_of_the_training() -> None:
    torch = pytest.importorskip("torch", reason="torch is only needed to train")
    mark_net = pytest.importorskip("facemark.learn.mark_net")
    face = powdered((0.0, 0.0), (12.0, -5.0))
    grey = face.pixels[..., 0]
    theirs = mark_net.picture_planes(torch.from_numpy(grey)[None], torch.from_numpy(face.inside)[None])
    assert np.abs(theirs[0].numpy() - grey_planes(grey, face.inside)).max() < 1e-3


# --- sharing out ---


def test_points_sit_on_separate_balls() -> None:
    places = [(20.0, 20.0), (50.0, 31.0), (80.5, 40.0)]
    shares = share_out(blobs(*places), 3)
    near = np.linalg.norm(shares.xy[:, None] - np.array(places)[None], axis=2).min(axis=0)
    assert near.max() < 0.1
    assert shares.own_near.min() > 0.95


def test_crowded_places_get_more_points() -> None:
    # Two balls' worth at the left, one at the right.
    shares = share_out(blobs((30.0, 30.0), (30.0, 30.0), (80.0, 30.0)), 3)
    assert sorted(np.round(shares.xy[:, 0] / 10.0)) == [3.0, 3.0, 8.0]


def test_spread_out_density_is_told_as_doubt() -> None:
    tight = share_out(blobs((50.0, 30.0)), 1)
    wide = share_out(blobs((50.0, 30.0), sd=6.0), 1)
    assert wide.sd.min() > 4.0 > 1.0 > tight.sd.max()
    assert wide.own_near[0] < 0.4


def test_a_stray_patch_does_not_pull_a_point_into_nowhere() -> None:
    stray = blobs((95.0, 45.0), sd=5.0) * np.float32(0.8)
    shares = share_out(blobs((30.0, 20.0)) + stray, 1)
    np.testing.assert_allclose(shares.xy[0], (30.0, 20.0), atol=0.3)


def test_moments_of_a_density_of_known_centre_and_spread() -> None:
    mean, sd = moments(blobs((40.0, 25.0), (60.0, 35.0)))
    np.testing.assert_allclose(mean, [50.0, 30.0], atol=1e-3)
    np.testing.assert_allclose(sd, [10.0, 5.0], atol=0.02)


def test_density_is_moved_to_the_map_s_first_pixel() -> None:
    cell = blobs((40.0, 25.0))
    moved, _ = moments(on_map_grid(cell))
    # Cell 40 lies at map pixel 161.5; on a grid centred on pixel 0 with 4 px per cell that is 40.375.
    np.testing.assert_allclose(moved, cells_to_map(np.array([40.0, 25.0])) / 4.0, atol=1e-3)


# --- the whole ---


def test_without_weights_there_is_no_answer(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(splitter_net, "_FOLDER", tmp_path)
    assert split_marks(powdered((0.0, 0.0))) is None


def test_wrong_scale_and_wrong_count_are_refused() -> None:
    face = powdered()
    other = FaceMap(pixels=face.pixels, inside=face.inside, left_toe_mm=0.0, top_high_mm=0.0, px_per_mm=8.0)
    with pytest.raises(ValueError, match="px/mm"):
        split_marks(other)
    with pytest.raises(ValueError, match="at least 1"):
        split_marks(face, n_balls=0)


@needs_weights
def test_card_names_the_weights() -> None:
    weights = (resources.files("facemark.see") / "weights" / "marks.onnx").read_bytes()
    card = model_card()
    assert card is not None
    assert card["sha256"] == hashlib.sha256(weights).hexdigest()
    assert len(weights) <= 5_000_000


@needs_weights
def test_mirrored_face_gives_the_mirrored_answer() -> None:
    face = powdered((-10.0, 3.0), (4.0, -6.0), (8.0, -2.0))
    planes = face_planes(face)
    here = ask(planes, 3, mirrors=4)
    there = ask(np.ascontiguousarray(planes[:, :, ::-1]), 3, mirrors=4)
    np.testing.assert_allclose(there.rate[:, ::-1], here.rate, atol=1e-4)
    np.testing.assert_allclose(-there.offset_toe[:, ::-1], here.offset_toe, atol=1e-2)


@needs_weights
@pytest.mark.parametrize("n_balls", [None, 3])
def test_three_clear_marks_are_found_where_they_are(n_balls: int | None) -> None:
    true = np.array([(-25.0, 4.0), (0.0, -6.0), (27.0, 5.0)])
    found = split_marks(powdered(*map(tuple, true)), n_balls=n_balls)
    assert found is not None
    at = np.array([(m.toe_mm, m.high_mm) for m in found.marks])
    assert len(at) == 3
    assert np.linalg.norm(at[:, None] - true[None], axis=2).min(axis=0).max() < 1.5
    np.testing.assert_allclose([found.group.toe_mm, found.group.high_mm], true.mean(axis=0), atol=1.0)


@needs_weights
def test_positions_follow_the_frame() -> None:
    here = split_marks(powdered((5.0, 3.0)), n_balls=1)
    there = split_marks(powdered((5.0, 3.0), origin=False), n_balls=1)
    assert here is not None
    assert there is not None
    assert there.marks[0].toe_mm == pytest.approx(here.marks[0].toe_mm + 14.0, abs=1e-6)
    assert there.marks[0].high_mm == pytest.approx(here.marks[0].high_mm - 8.0, abs=1e-6)


@needs_weights
@pytest.mark.parametrize("n_balls", [None, 8])
def test_face_without_marks_gives_no_marks(n_balls: int | None) -> None:
    found = split_marks(powdered(), n_balls=n_balls)
    assert found is not None
    assert found.marks == ()
    assert found.n_least == 0


@needs_weights
def test_same_face_same_answer() -> None:
    face = powdered((-4.0, 2.0), (3.0, 0.0), (9.0, -4.0))
    assert split_marks(face, n_balls=3).marks == split_marks(face, n_balls=3).marks  # type: ignore[union-attr]


@needs_weights
def test_errors_grow_where_marks_hide_each_other() -> None:
    alone = split_marks(powdered((0.0, 0.0)), n_balls=1)
    piled = split_marks(powdered((-3.0, 0.0), (0.0, 2.0), (3.0, 0.0), (1.0, -3.0), (-1.0, 1.0)), n_balls=5)
    assert alone is not None
    assert piled is not None
    assert min(m.toe_err_mm for m in piled.marks) > alone.marks[0].toe_err_mm
    assert not piled.separable


@needs_weights
@pytest.mark.parametrize(
    ("marks", "n_balls", "fast", "n_looks"),
    [
        (((-25.0, 4.0), (0.0, -6.0), (27.0, 5.0)), 3, False, 1),
        (((-25.0, 4.0), (0.0, -6.0), (27.0, 5.0)), None, False, 1),
        (((-25.0, 4.0), (0.0, -6.0), (27.0, 5.0)), 4, False, 3),  # one more told than shows
        (((-4.0, 2.0), (6.0, 0.0)), 2, False, 3),  # over each other
        (((-4.0, 2.0), (6.0, 0.0)), 2, True, 2),
        (((-4.0, 2.0), (6.0, 0.0)), None, False, 2),
        (((-4.0, 2.0), (6.0, 0.0)), None, True, 1),
    ],
)
def test_marks_that_stand_apart_are_looked_at_once(
    monkeypatch: pytest.MonkeyPatch,
    marks: tuple[tuple[float, float], ...],
    n_balls: int | None,
    fast: bool,
    n_looks: int,
) -> None:
    looks = []
    network = splitter_net._network()

    class Counted:
        def setInput(self, planes: np.ndarray) -> None:  # noqa: N802, OpenCV's name
            network.setInput(planes)

        def forward(self) -> np.ndarray:
            looks.append(1)
            return np.asarray(network.forward())

    monkeypatch.setattr(splitter_net, "_network", Counted)
    split_marks(powdered(*marks), n_balls=n_balls, fast=fast)
    assert len(looks) == n_looks
