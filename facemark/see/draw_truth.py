"""The truth of a drawn photo, in the field names of the sample photos' truth files.

Face frame in mm: toe plus, up plus, origin at the outline's area centroid, orthographic on the tangent plane
there. Pixels of the upright image, x right, y down, pixel centres at whole numbers.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from facemark.inputs import Hand, ReferenceKind
from facemark.see.camera import Array
from facemark.see.draw_head import Head, Plate
from facemark.see.draw_marks import Hit, shares
from facemark.see.draw_scale import Flat
from facemark.see.draw_scene import Scene
from facemark.see.draw_solids import on_face
from facemark.see.draw_view import View


def truth_of(
    name: str,
    scene: Scene,
    head: Head,
    plate: Plate,
    hits: tuple[Hit, ...],
    *,
    tier: str,
    hardships: list[str],
    jpeg_quality: int,
) -> dict[str, Any]:
    """Everything a reader could be asked, in the sample photos' words."""
    view = scene.view
    at = np.array([[h.toe_mm, h.high_mm] for h in hits], float).reshape(-1, 2)
    flat = math.isinf(head.bulge_mm)
    alone, on = shares(plate, hits)
    px = view.px(on_face(head, at)) if len(at) else np.zeros((0, 2))
    centre = view.px(on_face(head, np.zeros((1, 2))))[0]
    return {
        "image": name,
        "tier": tier,
        "handed": "R" if head.hand is Hand.RIGHT else "L",
        "club_kind": head.kind.value,
        "face_length_mm": head.length_mm,
        "face_height_mm": head.height_mm,
        "bulge_radius_mm": None if flat else head.bulge_mm,
        "roll_radius_mm": None if flat else head.roll_mm,
        "loft_deg": head.loft_deg,
        "lie_deg": head.lie_deg,
        "hardships": hardships,
        "scene": scene.kind,
        "background": scene.ground,
        "image_size": [view.width_px, view.height_px],
        "exif_orientation": 1,
        "jpeg_quality": jpeg_quality,
        "camera": {
            "K": [[view.focal_px, 0, view.centre_px[0]], [0, view.focal_px, view.centre_px[1]], [0, 0, 1]],
            "dist_opencv": [view.k1_ratio, 0.0, 0.0, 0.0, 0.0],
            "R_face_to_cam": view.axes_cam.tolist(),
            "t_face_to_cam": view.origin_cam_mm.tolist(),
            "f35_equiv": scene.focal_35mm,
            "tilt_deg": scene.tilt_deg,
            "distance_mm": float(np.linalg.norm(view.eye_mm)),
        },
        "mm_per_px_at_face_centre": _scale_at_centre(view, head),
        "reference": _reference_truth(scene),
        "face_outline_mm": np.round(head.outline_mm, 4).tolist(),
        "face_outline_px": np.round(view.px(on_face(head, head.outline_mm)), 3).tolist(),
        "face_centre_mm": [0.0, 0.0],
        "face_centre_px": centre.tolist(),
        "sweet_spot_mm": head.sweet_mm.tolist(),
        "sweet_spot_px": view.px(on_face(head, head.sweet_mm[None]))[0].tolist(),
        "pattern": {"label": _pattern_label(at, head.sweet_mm)},
        "marks": [
            {
                "order": k + 1,
                "x_mm": h.toe_mm,
                "y_mm": h.high_mm,
                "x_px": float(px[k, 0]),
                "y_px": float(px[k, 1]),
                "diameter_mm": h.diameter_mm,
                "fraction_on_face": float(on[k]),
                "fraction_touched_by_no_other_mark": float(alone[k]),
            }
            for k, h in enumerate(hits)
        ],
        "group": _group(at, head.sweet_mm),
    }


def _scale_at_centre(view: View, head: Head) -> list[float]:
    """mm per px toe-heel and high-low at the face centre."""
    ends = view.px(on_face(head, np.array([[-0.5, 0], [0.5, 0], [0, -0.5], [0, 0.5]])))
    return [1.0 / float(np.linalg.norm(ends[1] - ends[0])), 1.0 / float(np.linalg.norm(ends[3] - ends[2]))]


def _reference_truth(scene: Scene) -> dict[str, Any]:
    scale, view = scene.scale, scene.view
    if scale is None:
        return {"kind": "none"}
    if not isinstance(scale, Flat):
        return {
            "kind": "ball",
            "diameter_mm": scale.diameter_mm,
            "centre_mm": scale.centre_mm.tolist(),
            "depth_of_centre_behind_face_centre_mm": -float(scale.centre_mm[2]),
            "centre_px": view.px(scale.centre_mm[None])[0].tolist(),
        }
    common: dict[str, Any] = {
        "depth_mm": float(scale.origin_mm[2]),
        "corners_mm": scale.place(scale.bounds()).tolist(),
        "outline_px": np.round(view.px(scale.place(scale.bounds())), 3).tolist(),
    }
    if scale.kind is ReferenceKind.CARD:
        wide, high = np.ptp(scale.bounds(), axis=0)
        return {"kind": "card", "side_mm": [wide, high], **common, "corner_radius_mm": scale.corner_mm}
    return {
        "kind": "sheet" if scale.kind is ReferenceKind.SHEET else "aruco",
        "dictionary": scale.dictionary,
        "spacer_mm": scale.spacer_mm,
        "marker_side_mm": scale.side_mm,
        "shape": scale.layout,
        **common,
        "markers": [
            {"id": t.number, "corners_px": np.round(view.px(scale.place(t.corners_mm)), 3).tolist()}
            for t in scale.tags
        ],
    }


def _group(at: Array, sweet: Array) -> dict[str, Any]:
    if not len(at):
        return {"n": 0}
    sd = at.std(axis=0, ddof=1) if len(at) > 1 else np.zeros(2)
    mean = at.mean(axis=0)
    return {
        "n": len(at),
        "mean_mm": mean.tolist(),
        "sd_mm": sd.tolist(),
        "mean_from_sweet_spot_mm": (mean - sweet).tolist(),
    }


def _pattern_label(at: Array, sweet: Array) -> str:
    """A plain word for where the drawn group lies: within 5 mm of the sweet spot counts as centred."""
    if not len(at):
        return "none"
    toe, high = at.mean(axis=0) - sweet
    words = [
        w
        for w in (
            "high" if high > 5 else "low" if high < -5 else "",
            "toe" if toe > 5 else "heel" if toe < -5 else "",
        )
        if w
    ]
    return "_".join(words) or "centred"
