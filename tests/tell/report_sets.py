"""Sessions for the tests of reports: a real reading whose marks are moved about."""

from __future__ import annotations

import copy
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

import facemark
from facemark.clubs import typical_club
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind

PHOTO = Path(__file__).parent.parent.parent / "fixtures" / "photos" / "driver-tags.jpg"


@cache
def reading() -> dict[str, Any]:
    """The record of the shipped photo with tags; do not change it."""
    setup = facemark.Setup(
        club=typical_club(ClubKind.DRIVER),
        hand=Hand.RIGHT,
        reference=Reference(kind=ReferenceKind.TAGS, size_mm=23.9),
        n_balls=3,
    )
    return facemark.read(facemark.load(PHOTO), setup).to_dict()


def moved(centre_mm: tuple[float, float], spread_mm: float, seed: int, *, n: int = 5) -> dict[str, Any]:
    """The same face with ``n`` other marks, drawn from a normal spread about a centre."""
    record = copy.deepcopy(reading())
    places = np.random.default_rng(seed).normal(centre_mm, spread_mm, (n, 2))
    record["marks"] = [
        {
            **record["marks"][0],
            "letter": "ABCDEFGHIJKLMNOP"[i],
            "toe_mm": round(float(toe), 2),
            "high_mm": round(float(high), 2),
            "at_edge": False,
        }
        for i, (toe, high) in enumerate(places)
    ]
    record["n_balls_told"] = record["n_least"] = n
    record["group"] |= {
        "toe_mm": round(float(places[:, 0].mean()), 2),
        "high_mm": round(float(places[:, 1].mean()), 2),
        "n_balls": float(n),
    }
    return record


def left_handed(record: dict[str, Any]) -> dict[str, Any]:
    """The record as if the photo had shown the mirrored head of a left-hander."""
    record = copy.deepcopy(record)
    width = record["photo"]["width_px"]
    record["hand"] = "left"
    record["face"]["outline_px"] = [[width - x, y] for x, y in record["face"]["outline_px"]]
    record["sweet_spot"]["x_px"] = width - record["sweet_spot"]["x_px"]
    for name in ("toe_px_per_mm", "high_px_per_mm"):
        x, y = record["face"][name]
        record["face"][name] = [-x, y]
    return record
