"""Sets of strikes for the tests: typed, drawn, and drawn to exact moments."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from facemark.strike import SharedError, Strike, StrikeSet

Array = NDArray[np.float64]


def strike_set(
    points: Array | list[tuple[float, float]],
    *,
    err_mm: float | Array = 0.0,
    shared: SharedError | None = None,
    **more: object,
) -> StrikeSet:
    points = np.asarray(points, float)
    errs = np.broadcast_to(np.asarray(err_mm, float), len(points))
    strikes = tuple(
        Strike(toe_mm=float(t), high_mm=float(h), toe_err_mm=float(e), high_err_mm=float(e))
        for (t, h), e in zip(points, errs, strict=True)
    )
    return StrikeSet(strikes=strikes, shared=shared or SharedError(), **more)  # type: ignore[arg-type]


def exact(
    n: int, centre: tuple[float, float], spread: tuple[float, float], *, seed: int = 0, tilt: float = 0.0
) -> Array:
    """(n, 2) points whose sample mean, deviations (n - 1) and correlation are exactly as asked."""
    z = np.random.default_rng(seed).standard_normal((n, 2))
    z -= z.mean(axis=0)
    z = z @ np.linalg.inv(np.linalg.cholesky(np.cov(z.T))).T
    root = np.linalg.cholesky(np.array([[1.0, tilt], [tilt, 1.0]]))
    return np.asarray(np.array(centre) + z @ root.T * np.array(spread))


def drawn(
    rng: np.random.Generator, n: int, centre: tuple[float, float], spread: tuple[float, float]
) -> Array:
    return np.asarray(np.array(centre) + rng.standard_normal((n, 2)) * np.array(spread))
