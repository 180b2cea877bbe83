"""Which true groups could have made these marks? Draws of centre and spread, for whatever is simulated next.

Marks of a group do not give its true centre and spread but a cloud of possible ones. A gate, a corridor or
a flight that is to hold for the player must hold over that cloud. The draws follow from the same evidence as
the pattern's intervals: covariance of the marks inverse Wishart about S, centre normal about the mean with
covariance S / n of the same draw, plus what is common to all marks; own errors taken out of the spread. With
n degrees of freedom for n marks each axis by itself is exact (Student's t and chi-square of n - 1), which is
what a gate asks; both axes together are a little tight (93 % in Hotelling's 95 % region at ten marks).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from facemark.errors import SetupError
from facemark.explain.contrast import draw_wishart
from facemark.explain.evidence import NO_SCATTER_MM2, Array, Evidence


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truths:
    """Possible true groups. Axes are toe, high; from the true sweet spot."""

    centre_mm: Array  # (N, 2)
    scatter_mm2: Array  # (N, 2, 2) covariance of the strikes

    def strikes_mm(self, rng: np.random.Generator, n_balls: int) -> Array:
        """(N, n_balls, 2) future strikes: ``n_balls`` from each possible group."""
        root = np.linalg.cholesky(self.scatter_mm2)
        z = rng.standard_normal((len(self.centre_mm), n_balls, 2))
        return np.asarray(self.centre_mm[:, None] + np.einsum("nij,nkj->nki", root, z))


def draw_truths(evidence: Evidence, rng: np.random.Generator, *, n_draws: int) -> Truths:
    """Draw possible true groups from what the marks say.

    Raises
    ------
    SetupError
        Fewer than three balls' worth of evidence, or marks in one place or on one line.
    """
    S = evidence.seen_mm2
    trace = float(np.trace(S)) if np.all(np.isfinite(S)) else 0.0
    if evidence.n_free < 1.5 or trace < NO_SCATTER_MM2 or float(np.linalg.det(S)) < 1e-9 * trace**2:
        raise SetupError(
            "too few strikes, or all on one line: the group's centre and spread cannot be simulated",
            remedy="Hit at least five balls.",
        )
    root = np.linalg.cholesky(S)
    wishart = draw_wishart(rng, evidence.n_free + 1.0, n_draws, 2)
    seen = root @ np.linalg.inv(wishart) @ root.T * evidence.n_free
    per_mark = float(np.trace(evidence.sampling_mm2)) / trace  # 1 / n for equally known marks
    spread = np.linalg.cholesky(seen * per_mark + evidence.shared_mm2)
    centre = evidence.mean_mm + np.einsum("nij,nj->ni", spread, rng.standard_normal((n_draws, 2)))
    return Truths(centre_mm=centre, scatter_mm2=_without_own(seen, evidence.own_mm2))


def _without_own(seen: Array, own: Array) -> Array:
    """Take the marks' own variance out of each draw; never below a twentieth of what was seen."""
    values, vectors = np.linalg.eigh(seen - own)
    floor = 0.05 * np.linalg.eigvalsh(seen)
    return np.asarray(np.einsum("nij,nj,nkj->nik", vectors, np.maximum(values, floor), vectors))
