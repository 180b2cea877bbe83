"""Which faces and paths fit what was seen, once the strike is taken off?

Draws of everything unknown (heads, strike, aim, wind, air: shot.py, places.py); for each draw the model is
linear enough in face and path to propose them near the notes; each proposal is flown through the whole model
and weighted by how well it fits the notes and the priors (importance sampling). The result is a cloud of
weighted answers; causes.py judges it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from facemark.errors import SetupError
from facemark.explain import constants as c
from facemark.explain.heads import luck, normal_from
from facemark.explain.likelihood import Evidence, log_fit, matched_normal
from facemark.explain.places import Centre, true_places
from facemark.explain.ranges import Range, range_of
from facemark.explain.shot import Cases, Conditions, draw_cases, hit, plain_case
from facemark.inputs import Club
from facemark.strike import SharedError

Array = NDArray[np.float64]

_PARTIAL_DEG = 2.0  # step of face and path for the slopes
_STEPS_DEG = _PARTIAL_DEG * np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])  # of face, of path
_WIDEN = 1.3  # proposals are spread a little wider than the answer, so that none of it is missed
_START_PRIOR_DEG = 6.0  # how far starts and curves lie off in general; only steers the proposals
_CURVE_PRIOR_M = 25.0
_MOST_DEG = 15.0  # proposals are made around a face and path within this


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worked:
    """Weighted draws of the answer, (N,) each."""

    face_open_deg: Array
    path_out_deg: Array
    strike_start_push_deg: Array
    strike_curve_draw_m: Array
    weights: Array

    @property
    def n_effective(self) -> float:
        return float(1.0 / (self.weights @ self.weights))

    def err(self, values: Array) -> float:
        mean = self.weights @ values
        return float(np.sqrt(self.weights @ (values - mean) ** 2))

    def one_sided(self, values: Array) -> bool:
        """Whether the range that counts for blame lies on one side of zero."""
        above = float(self.weights @ (values > 0.0))
        return min(above, 1.0 - above) < 0.5 * (1.0 - c.BLAME_FRAC)

    def range(self, values: Array) -> Range:
        found = range_of(0.0, values, weights=self.weights)
        return replace(found, nominal=found.median)


def blind_centre() -> Centre:
    """Place the strike of balls nobody looked at: the sweet spot, give or take what amateurs miss it by.

    Returns
    -------
    Centre
    """
    return Centre(
        n_balls=1.0,
        toe_mm=0.0,
        high_mm=0.0,
        toe_err_mm=c.UNSEEN_TOE_MM,
        high_err_mm=c.UNSEEN_HIGH_MM,
        scatter_mm2=None,
    )


def work_back(
    centre: Centre,
    shared: SharedError,
    club: Club,
    *,
    where: Conditions,
    evidence: tuple[Evidence, Evidence],
    n: int,
    rng: np.random.Generator,
) -> Worked:
    """Work back from what was seen to face and path.

    Parameters
    ----------
    centre : Centre
        The mean strike of the balls noted.
    shared : SharedError
    club : Club
    where : Conditions
    evidence : (start, curve)
    n : int
        Draws.
    rng : numpy.random.Generator

    Returns
    -------
    Worked

    Raises
    ------
    SetupError
        A landing place above the flight.
    """
    cases = draw_cases(club, where, n, rng=rng)
    toe, high = (
        drawn[0]
        for drawn in true_places(
            np.array([[centre.toe_mm, centre.high_mm]]),
            np.array([[centre.toe_err_mm, centre.high_err_mm]]),
            shared,
            club=club,
            heads=cases.heads,
            rng=rng,
        )
    )
    aim = c.AIM_ERR_DEG * normal_from(luck(n, rng))
    normals = [
        None if notes.empty else matched_normal(notes, prior)
        for notes, prior in zip(evidence, (_START_PRIOR_DEG, _CURVE_PRIOR_M), strict=True)
    ]
    around = _rough_answer(centre, club, where, normals)
    # Five flights of every case: the strike alone, nothing at all, and three for the slopes.
    zero = np.zeros(n)
    flights = _seen_flight(
        cases,
        (np.stack([toe, zero, toe, toe, toe]), np.stack([high, zero, high, high, high])),
        where,
        np.concatenate([[0.0, 0.0], around[0] + _STEPS_DEG[0]])[:, None],
        np.concatenate([[0.0, 0.0], around[1] + _STEPS_DEG[1]])[:, None],
    )
    alone, nowhere = flights[:, 0], flights[:, 1]
    base, slopes = _slopes(flights[:, 2:])
    mean, cov = _posterior(base + np.stack([aim, zero]), slopes, normals, around)
    face, path, log_q = _propose(mean, cov, rng)
    flown = _seen_flight(cases, (toe, high), where, face, path)
    log_w = -0.5 * ((face / c.FACE_PRIOR_DEG) ** 2 + (path / c.PATH_PRIOR_DEG) ** 2) - log_q
    log_w += log_fit(evidence[0], flown[0] + aim) + log_fit(evidence[1], flown[1])
    weights = np.exp(log_w - log_w.max())
    return Worked(
        face_open_deg=face,
        path_out_deg=path,
        strike_start_push_deg=alone[0] - nowhere[0],
        strike_curve_draw_m=alone[1] - nowhere[1],
        weights=weights / weights.sum(),
    )


def _seen_flight(
    cases: Cases,
    strike_mm: tuple[Array, Array],
    where: Conditions,
    face_open_deg: Array | float = 0.0,
    path_out_deg: Array | float = 0.0,
) -> Array:
    """Start [deg] and curve [m], (2, N)."""
    shots = hit(cases, strike_mm, where, face_open_deg=face_open_deg, path_out_deg=path_out_deg)
    curve = shots.landing.curve_draw_m
    if not np.isfinite(curve).all():
        raise SetupError(
            "the landing place lies higher than these balls fly",
            remedy="Lower --landing-up, or give the head speed.",
        )
    return np.stack([shots.launch.start_push_deg, curve])


def _rough_answer(
    centre: Centre, club: Club, where: Conditions, normals: list[tuple[float, float] | None]
) -> Array:
    """Face and path [deg] that fit the notes on the plain head: two Gauss-Newton steps with the priors."""
    one = plain_case(club, where)
    strike = (np.full((3, 1), centre.toe_mm), np.full((3, 1), centre.high_mm))
    answer = np.zeros(2)
    for _ in range(2):
        face, path = (answer[k] + _STEPS_DEG[k][:, None] for k in (0, 1))
        base, slopes = _slopes(_seen_flight(one, strike, where, face, path))
        mean, _ = _posterior(base, slopes, normals, answer, aim_err=c.AIM_ERR_DEG)
        answer = np.clip(mean[:, 0], -_MOST_DEG, _MOST_DEG)
    return answer


def _slopes(flights: Array) -> tuple[Array, Array]:
    """Seen values (2, N) and their slopes per degree of face and of path (2 seen, 2 causes, N).

    ``flights`` (2 seen, 3, N): at a place, a step of face farther, a step of path farther.
    """
    base = flights[:, 0]
    return base, (flights[:, 1:] - base[:, None]) / _PARTIAL_DEG


def _posterior(
    base: Array,
    slopes: Array,
    normals: list[tuple[float, float] | None],
    around: Array,
    *,
    aim_err: float = 0.0,
) -> tuple[Array, Array]:
    """Mean (2, N) and covariance (N, 2, 2) of face and path under the linear model at ``around``."""
    n = base.shape[1]
    precision = np.tile(np.diag([c.FACE_PRIOR_DEG**-2, c.PATH_PRIOR_DEG**-2]), (n, 1, 1))
    pull = np.zeros((n, 2))
    for k, normal in enumerate(normals):
        if normal is None:
            continue
        mean, err = normal
        err = float(np.hypot(err, aim_err if k == 0 else 0.0))
        g = slopes[k].T
        precision += g[:, :, None] * g[:, None, :] / err**2
        pull += g * ((mean - base[k] + g @ around) / err**2)[:, None]
    cov = np.linalg.inv(precision)
    return (cov @ pull[..., None])[..., 0].T, cov


def _propose(mean: Array, cov: Array, rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """One face and path for each case, and the log density they were drawn with (up to a constant)."""
    root = np.linalg.cholesky(cov) * _WIDEN
    z = np.stack([normal_from(luck(len(cov), rng)) for _ in range(2)], axis=-1)
    drawn = mean.T + (root @ z[..., None])[..., 0]
    log_q = -0.5 * np.sum(z**2, axis=-1) - np.log(root[:, 0, 0] * root[:, 1, 1])
    return drawn[:, 0], drawn[:, 1], log_q
