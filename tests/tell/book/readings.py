"""Made-up readings for the book's tests: the layout of a real record, numbers of our own choosing."""

from __future__ import annotations

import datetime as dt
import hashlib
import random
from typing import Any

from facemark.clubs import typical_club
from facemark.inputs import ClubKind
from facemark.record import letters, plain
from facemark.tell.book.rows import PhotoFacts, ReadingRow, SessionRow
from facemark.tell.book.store import Book
from facemark.version import SCHEMA, VERSION

DAY = dt.date(2026, 5, 4)


def record_of(
    points: list[tuple[float, float]], *, kind: ClubKind = ClubKind.DRIVER, name: str = "face.jpg"
) -> dict[str, Any]:
    """A reading's record with marks at ``points`` (toe, high) in mm."""
    n = len(points)
    toe, high = (sum(point[axis] for point in points) / n for axis in (0, 1))
    spreads = [
        (sum((point[axis] - mean) ** 2 for point in points) / max(n - 1, 1)) ** 0.5
        for axis, mean in ((0, toe), (1, high))
    ]
    return {
        "schema": SCHEMA,
        "version": VERSION,
        "photo": {"name": name, "width_px": 4000, "height_px": 3000},
        "hand": "right",
        "hand_seen": "right",
        "toe_from": "hosel",
        "club": plain(typical_club(kind)),
        "head_mps": None,
        "n_balls_told": n,
        "scale": {"kind": "tags", "mm_per_px": 0.05, "err_frac": 0.003, "tilt_deg": 3.0, "pose_known": True},
        "face": {
            "centre_mm": [0.0, 0.0],
            "centre_px": [2000.0, 1500.0],
            "centre_toe_err_mm": 0.6,
            "centre_high_err_mm": 0.6,
            "turn_err_deg": 0.5,
            "width_mm": 110.0,
            "height_mm": 55.0,
            "mm_per_px": 0.05,
            "toe_px_per_mm": [-20.0, 0.0],
            "high_px_per_mm": [0.0, -20.0],
            "outline_px": [[900.0, 1500.0], [2000.0, 950.0], [3100.0, 1500.0], [2000.0, 2050.0]],
        },
        "sweet_spot": {
            "from": "assumed",
            "toe_mm": 0.0,
            "high_mm": 0.0,
            "toe_err_mm": 1.7,
            "high_err_mm": 2.3,
            "x_px": 2000.0,
            "y_px": 1500.0,
        },
        "marks": [
            {
                "letter": letter,
                "toe_mm": round(point[0], 2),
                "high_mm": round(point[1], 2),
                "toe_err_mm": 0.9,
                "high_err_mm": 0.9,
                "toe_own_err_mm": 0.6,
                "high_own_err_mm": 0.6,
                "x_px": 2000.0 - 20.0 * point[0],
                "y_px": 1500.0 - 20.0 * point[1],
                "diameter_mm": 21.5,
                "n_balls": 1,
                "score_frac": 0.97,
                "sure": True,
                "touches": False,
                "at_edge": False,
                "photo_index": None,
            }
            for letter, point in zip(letters(n), points, strict=True)
        ],
        "n_least": n,
        "separable": True,
        "method": "network",
        "group": {
            "toe_mm": round(toe, 2),
            "high_mm": round(high, 2),
            "toe_err_mm": 0.9,
            "high_err_mm": 0.9,
            "toe_spread_mm": round(spreads[0], 2),
            "high_spread_mm": round(spreads[1], 2),
            "toe_spread_err_mm": 0.4,
            "high_spread_err_mm": 0.4,
            "n_balls": float(n),
            "n_balls_err": 0.2,
        },
        "pattern": {"label": "not settled", "headline": "not settled", "n_balls": n},
        "flight": {},
        "caveats": [],
    }


def group(n: int, *, toe: float = 6.0, high: float = -2.0, spread: float = 7.0, seed: int = 1) -> Any:
    """Points of a round group."""
    rng = random.Random(seed)
    return [(rng.gauss(toe, spread), rng.gauss(high, spread)) for _ in range(n)]


def facts(content: str) -> PhotoFacts:
    """A photo that we only pretend to have."""
    return PhotoFacts(
        sha256=hashlib.sha256(content.encode()).hexdigest(),
        name=f"{content}.jpg",
        taken=dt.datetime(2026, 5, 4, 9, 30),
        width_px=4000,
        height_px=3000,
    )


def session_of(book: Book, player: str, day: dt.date = DAY, **told: Any) -> SessionRow:
    kind = told.pop("kind", ClubKind.DRIVER)
    return book.session(book.player(player).id, book.club(typical_club(kind)).id, day, **told)


def put(book: Book, player: str, content: str, *, day: dt.date = DAY, **told: Any) -> ReadingRow:
    """One reading of ``player`` on ``day``."""
    points = told.pop("points", None) or group(5)
    session = session_of(book, player, day, **told)
    return book.add_reading(session.id, facts(content), record_of(points), "s" * 64)[0]
