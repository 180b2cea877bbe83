"""The plane under flat shapes: exact without noise, honest with it, and in step with OpenCV's own solver."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from facemark import sheet
from facemark.see.camera import Camera
from facemark.see.plane import Shape, fit_plane
from tests.see import scale_scenes as scenes

CAMERA = scenes.camera_of(4000, 3000, 27.0)
SQUARE = 11.0 * np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]], float)
PLACES = ((-60.0, -20.0, 0.1), (-60.0, 15.0, -0.2), (-20.0, -50.0, 0.05))
FACE_MM = (20.0, 10.0)


def _shapes(
    pose: scenes.Pose, camera: Camera, rng: np.random.Generator | None, noise_px: float
) -> list[Shape]:
    shapes = []
    for x, y, turn in PLACES:
        c, s = math.cos(turn), math.sin(turn)
        px = camera.project(pose.points(SQUARE @ np.array([[c, s], [-s, c]]) + [x, y]))
        if rng is not None:
            px = px + rng.normal(0, noise_px, px.shape)
        shapes.append(Shape(local_mm=SQUARE, px=px))
    return shapes


@pytest.mark.parametrize("tilt", [0.0, 15.0, 40.0])
def test_without_noise_the_plane_is_found_nearly_exactly(tilt: float) -> None:
    """Not quite exactly: what is assumed about tilt and focal length beforehand pulls by a hair."""
    pose = scenes.pose_of(320.0, tilt, 70.0, 5.0)
    fit, _ = fit_plane(CAMERA, _shapes(pose, CAMERA, None, 0.0))
    assert math.degrees(math.acos(min(1.0, float(fit.axes_cam[:, 2] @ pose.axes[:, 2])))) < 0.5
    near, true = scenes.true_scale(CAMERA, pose, FACE_MM)
    assert math.exp(fit._log_scale(fit.unknowns, near)) == pytest.approx(true, rel=0.003)
    assert fit.residual_px < 0.05


def test_axes_are_right_handed_unit_and_face_the_camera() -> None:
    fit, _ = fit_plane(CAMERA, _shapes(scenes.pose_of(320.0, 20.0, 70.0), CAMERA, None, 0.0))
    np.testing.assert_allclose(fit.axes_cam.T @ fit.axes_cam, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(
        np.cross(fit.axes_cam[:, 0], fit.axes_cam[:, 1]), fit.axes_cam[:, 2], atol=1e-12
    )
    assert fit.axes_cam[2, 2] < 0


def test_the_stated_error_of_the_scale_at_the_face_holds() -> None:
    """Cameras drawn from what is assumed beforehand: focal length 5 %, lens 0.025, tilt 15 degrees a side."""
    rng = np.random.default_rng(11)
    ratios = []
    for _ in range(60):
        a, b = rng.normal(0, math.tan(math.radians(15.0)), 2)
        tilt, toward = math.degrees(math.atan(math.hypot(a, b))), math.degrees(math.atan2(b, a))
        pose = scenes.pose_of(rng.uniform(250, 450), min(tilt, 40.0), toward, rng.uniform(-20, 20))
        focal = CAMERA.focal_px * math.exp(rng.normal(0, 0.05))
        true_camera = Camera(focal_px=focal, centre_x_px=1999.5, centre_y_px=1499.5, focal_err_frac=0.0)
        k1 = rng.normal(0, 0.025)

        def seen(points: np.ndarray, camera: Camera = true_camera, k1: float = k1) -> np.ndarray:
            xy = points[:, :2] / points[:, 2:]
            return camera.project(
                np.column_stack([xy * (1 + k1 * np.sum(xy**2, axis=1, keepdims=True)), np.ones(len(xy))])
            )

        shapes = []
        for x, y, turn in PLACES:
            c, s = math.cos(turn), math.sin(turn)
            px = seen(pose.points(SQUARE @ np.array([[c, s], [-s, c]]) + [x, y]))
            sigma = math.hypot(0.15, 0.001 * np.ptp(px, axis=0).max())
            shapes.append(Shape(local_mm=SQUARE, px=px + rng.normal(0, sigma, px.shape)))
        fit, _ = fit_plane(CAMERA, shapes)
        step = 0.5 * np.array([[-1, 0], [1, 0], [0, -1], [0, 1]])
        ends = seen(pose.points(np.array(FACE_MM) + step))
        near = seen(pose.points(np.array([FACE_MM])))[0]
        true = 1 / math.sqrt(np.linalg.norm(ends[1] - ends[0]) * np.linalg.norm(ends[3] - ends[2]))
        ratios.append((fit._log_scale(fit.unknowns, near) - math.log(true)) / fit.log_scale_err(near))
    inside = np.mean(np.abs(ratios) < 1.96)
    assert 0.87 <= inside <= 1.0  # 95 % of 60, three binomial sd down
    assert 0.6 < np.std(ratios) < 1.35


def test_sizes_come_out_when_they_are_free() -> None:
    pose = scenes.pose_of(320.0, 15.0, 70.0)
    shapes = _shapes(pose, CAMERA, None, 0.0)
    shapes[1] = Shape(local_mm=1.2 * SQUARE, px=shapes[1].px)  # told 20 % too large
    _, sizes = fit_plane(CAMERA, shapes, size_sd_frac=0.3)
    assert sizes[1] / sizes[0] == pytest.approx(1 / 1.2, rel=0.01)
    assert sizes[2] / sizes[0] == pytest.approx(1.0, rel=0.01)


def test_opencvs_solver_sees_the_same_plane() -> None:
    """Outside check by a general library: cv2.solvePnP on our nine tags, half a pixel of noise."""
    pose = scenes.pose_of(450.0, 18.0, 120.0, 4.0)
    local = np.vstack([sheet.tag_corners_mm(tag) for tag in sheet.TAG_CENTRES_MM])
    px = CAMERA.project(pose.points(local)) + np.random.default_rng(2).normal(0, 0.5, (len(local), 2))
    fit, _ = fit_plane(CAMERA, [Shape(local_mm=local, px=px, corner_err_px=0.5)])
    ok, turn, shift = cv2.solvePnP(np.column_stack([local, np.zeros(len(local))]), px, CAMERA.matrix, None)
    assert ok
    out = cv2.Rodrigues(turn)[0][:, 2]
    assert math.degrees(math.acos(min(1.0, float(out @ fit.axes_cam[:, 2])))) < 1.0
    depth = float(shift.ravel() @ out) / float(CAMERA.rays(fit.anchor_px)[0] @ out)
    # OpenCV holds the focal length; ours may move it a little, and depth goes with it.
    assert fit.origin_cam_mm[2] / fit.camera.focal_px == pytest.approx(depth / CAMERA.focal_px, rel=0.002)
