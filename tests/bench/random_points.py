"""What points laid at random would score: how far a good-looking F1 is from knowing anything."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from tests.bench.score import matched

GATES_MM = (4.0, 8.0)
TRIES = 20  # sets of random points a photo
SEED = 1


def random_table(truths: Iterable[dict[str, Any]]) -> list[str]:
    """F1 of as many points as balls, laid at random where powder is gone, by tier and gate."""
    rng = np.random.default_rng(SEED)
    right: dict[str, list[list[float]]] = {}
    for truth in truths:
        true = np.array([[m["x_mm"], m["y_mm"]] for m in truth["marks"]], float).reshape(-1, 2)
        if len(true):
            radius = np.array([m["diameter_mm"] / 2 for m in truth["marks"]])
            tries = [_laid(true, radius, rng) for _ in range(TRIES)]
            shares = [[len(matched(true, points, gate)) / len(true) for gate in GATES_MM] for points in tries]
            tier = "series" if "series" in truth else truth["tier"]
            right.setdefault(tier, []).extend([len(true), *one] for one in shares)
    lines = []
    for tier, rows in right.items():
        n, *hits = np.array(rows).T
        said = ", ".join(
            f"{float((n * hit).sum() / n.sum()):.2f} within {gate:.0f} mm"
            for hit, gate in zip(hits, GATES_MM, strict=True)
        )
        lines.append(f"as many random points where powder is gone, {tier}: F1 {said}")
    return lines


def _laid(true: np.ndarray, radius: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """(n, 2) points, even over the union of the prints' discs."""
    low, high = (true - radius[:, None]).min(axis=0), (true + radius[:, None]).max(axis=0)
    kept = np.zeros((0, 2))
    while len(kept) < len(true):
        some = rng.uniform(low, high, (64, 2))
        away = np.linalg.norm(some[:, None] - true[None], axis=2)
        kept = np.vstack([kept, some[(away <= radius).any(axis=1)]])
    return kept[: len(true)]
