"""The face frame, moved and turned in its plane to sit on an outline."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from facemark.see.camera import Array, FaceFrame
from facemark.see.contour import centroid

CENTRE_ROUNDS = 6


def centred(frame: FaceFrame, outline_px: Array) -> FaceFrame:
    """The frame moved in its plane until the area centroid of the (N, 2) outline is its origin."""
    for _ in range(CENTRE_ROUNDS):
        shift = centroid(frame.mm_from_px(outline_px))
        frame = frame.moved(float(shift[0]), float(shift[1]))
        if np.hypot(*shift) < 1e-4:
            break
    return frame


def turned(frame: FaceFrame, outline_px: Array, turn_deg: float) -> FaceFrame:
    """The frame turned in its plane, from toe toward up, and centred anew."""
    turn = math.radians(turn_deg)
    toe, up, out = frame.axes_cam.T
    axes = [toe * math.cos(turn) + up * math.sin(turn), up * math.cos(turn) - toe * math.sin(turn), out]
    return centred(replace(frame, axes_cam=np.column_stack(axes)), outline_px)
