"""The rectified face of a photo whose truth is known: no finder's error in it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Camera, FaceFrame
from facemark.see.rectify import FaceMap, rectify


def true_map(pixels: NDArray[np.uint8], truth: Mapping[str, Any]) -> FaceMap:
    """Rectify (H, W, 3) RGB pixels with the camera, pose, curvature and outline of a photo's truth file."""
    told = truth["camera"]
    matrix = np.array(told["K"], float)
    bend = np.array(told.get("dist_opencv") or [0.0] * 5, float)
    if bend.any():
        pixels = np.asarray(cv2.undistort(pixels, matrix, bend), np.uint8)
    camera = Camera(
        focal_px=matrix[0, 0], centre_x_px=matrix[0, 2], centre_y_px=matrix[1, 2], focal_err_frac=0.0
    )
    frame = FaceFrame(
        camera=camera,
        axes_cam=np.array(told["R_face_to_cam"], float),
        origin_cam_mm=np.array(told["t_face_to_cam"], float),
        bulge_mm=truth["bulge_radius_mm"] or math.inf,
        roll_mm=truth["roll_radius_mm"] or math.inf,
    )
    return rectify(pixels, frame, np.array(truth["face_outline_mm"], float))
