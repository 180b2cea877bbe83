"""How a point on the curved face becomes a pixel, and back.

Camera frame: x right, y down, z away from the camera, mm. Face frame: toe plus, up plus, out plus (toward the
camera), origin at the face centre (area centroid of the outline) on the face's surface. The face is a
bulge/roll surface z(toe, high) = sag below its tangent plane at the centre; positions on it are given
orthographic on that tangent plane.

For a right-handed head seen from the front the toe lies on the image's left, so (toe, up, out) is a
left-handed triad; the matrix is then a reflection, which does no harm here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FULL_FRAME_DIAGONAL_MM = 43.27  # diagonal of the 36 x 24 mm frame that 35 mm-equivalents refer to
TYPICAL_PHONE_FOCAL_35MM = 27.0  # main camera of current phones, 24-28 mm; assumed when EXIF is silent


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A pinhole camera with square pixels, centre in the image's middle."""

    focal_px: float
    centre_x_px: float
    centre_y_px: float
    focal_err_frac: float  # one standard error, relative

    @classmethod
    def from_exif(cls, width_px: int, height_px: int, focal_35mm: float | None) -> Camera:
        """Camera of an uncropped photo; diagonal rule f = F35 * diagonal / 43.27 mm (CIPA's definition)."""
        told = focal_35mm is not None and 10.0 <= focal_35mm <= 300.0
        focal = focal_35mm if told and focal_35mm is not None else TYPICAL_PHONE_FOCAL_35MM
        return cls(
            focal_px=focal * math.hypot(width_px, height_px) / FULL_FRAME_DIAGONAL_MM,
            centre_x_px=(width_px - 1) / 2,
            centre_y_px=(height_px - 1) / 2,
            # 5 %: makers round, and crop rules differ by 4 %; 25 %: 24 to 50 mm are all common. Assumed.
            focal_err_frac=0.05 if told else 0.25,
        )

    def rays(self, px: Array) -> Array:
        """(N, 3) directions with z = 1 through (N, 2) pixels."""
        px = np.asarray(px, float).reshape(-1, 2)
        return np.column_stack(
            [
                (px[:, 0] - self.centre_x_px) / self.focal_px,
                (px[:, 1] - self.centre_y_px) / self.focal_px,
                np.ones(len(px)),
            ]
        )

    def project(self, points_mm: Array) -> Array:
        """(N, 2) pixels of (N, 3) points in the camera frame."""
        points_mm = np.asarray(points_mm, float).reshape(-1, 3)
        return np.column_stack(
            [
                points_mm[:, 0] / points_mm[:, 2] * self.focal_px + self.centre_x_px,
                points_mm[:, 1] / points_mm[:, 2] * self.focal_px + self.centre_y_px,
            ]
        )

    @property
    def matrix(self) -> Array:
        """(3, 3) intrinsic matrix K."""
        return np.array(
            [
                [self.focal_px, 0.0, self.centre_x_px],
                [0.0, self.focal_px, self.centre_y_px],
                [0.0, 0.0, 1.0],
            ]
        )


def sag_mm(offset_mm: Array, radius_mm: float) -> Array:
    """Depth of a circle of ``radius_mm`` below its tangent, ``offset_mm`` away from the touching point."""
    if math.isinf(radius_mm):
        return np.zeros_like(np.asarray(offset_mm, float))
    return radius_mm - np.sqrt(np.maximum(radius_mm**2 - np.asarray(offset_mm, float) ** 2, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceFrame:
    """Where the face is: its centre, its axes and its curvature, seen from the camera.

    ``axes_cam`` (3, 3): columns toe, up, out as unit vectors of the camera frame. ``origin_cam_mm`` (3,).
    """

    camera: Camera
    axes_cam: Array
    origin_cam_mm: Array
    bulge_mm: float
    roll_mm: float

    def px_from_mm(self, face_mm: Array) -> Array:
        """(N, 2) pixels of (N, 2) face positions (toe, high)."""
        face_mm = np.asarray(face_mm, float).reshape(-1, 2)
        out = -(sag_mm(face_mm[:, 0], self.bulge_mm) + sag_mm(face_mm[:, 1], self.roll_mm))
        return self.camera.project(np.column_stack([face_mm, out]) @ self.axes_cam.T + self.origin_cam_mm)

    def mm_from_px(self, px: Array) -> Array:
        """(N, 2) face positions (toe, high) where the rays through (N, 2) pixels meet the curved face.

        Fixed-point iteration on the sag (a contraction for any face: slope of the sag times tan(tilt) < 1).
        """
        rays = self.camera.rays(px)
        normal = self.axes_cam[:, 2]
        along = rays @ normal
        out = np.zeros(len(rays))
        face = np.zeros((len(rays), 2))
        for _ in range(12):
            depth = (self.origin_cam_mm @ normal + out) / along
            local = (rays * depth[:, None] - self.origin_cam_mm) @ self.axes_cam
            face = np.asarray(local[:, :2])
            new = -(sag_mm(face[:, 0], self.bulge_mm) + sag_mm(face[:, 1], self.roll_mm))
            if np.max(np.abs(new - out), initial=0.0) < 1e-6:
                break
            out = new
        return face

    def moved(self, toe_mm: float, high_mm: float) -> FaceFrame:
        """The same axes with the origin moved to another point of the tangent plane."""
        shift = self.axes_cam[:, 0] * toe_mm + self.axes_cam[:, 1] * high_mm
        return FaceFrame(
            camera=self.camera,
            axes_cam=self.axes_cam,
            origin_cam_mm=self.origin_cam_mm + shift,
            bulge_mm=self.bulge_mm,
            roll_mm=self.roll_mm,
        )

    @property
    def mm_per_px(self) -> float:
        """Scale at the face centre: square root of the product of both directions [mm/px]."""
        step = 0.5
        ends = self.px_from_mm(np.array([[-step, 0.0], [step, 0.0], [0.0, -step], [0.0, step]]))
        toe = float(np.linalg.norm(ends[1] - ends[0]))
        high = float(np.linalg.norm(ends[3] - ends[2]))
        return 1.0 / math.sqrt(toe * high)

    @property
    def tilt_deg(self) -> float:
        """Angle between the line of sight to the centre and the face's normal."""
        sight = self.origin_cam_mm / np.linalg.norm(self.origin_cam_mm)
        return math.degrees(math.acos(min(1.0, abs(float(sight @ self.axes_cam[:, 2])))))
