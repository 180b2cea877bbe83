"""Made-up golfers whose face, path and strike are known, and what ``separate_causes`` says of them.

Noise: starts read to 1 degree by eye, curves to 3 m or a quarter, marks to 1 mm, aim to
half a degree; heads, balls and wind drawn as the model itself draws them. So this shows whether the method
keeps its own promises; whether the model is true is the business of tests/published/.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from facemark.clubs import typical_club
from facemark.explain import constants as c
from facemark.explain.causes import Causes, Verdict, separate_causes
from facemark.explain.notes import Note, curve_metres, start_degrees
from facemark.explain.shot import Cases, Conditions, draw_cases, hit
from facemark.inputs import ClubKind, Setup
from facemark.strike import Strike, StrikeSet

Array = NDArray[np.float64]

STRIKE_BIAS_MM = (8.0, 5.0)  # how far golfers' mean strikes lie off, toe and high (standard deviation)
STRIKE_SPREAD_MM = (7.0, 5.0)
FACE_SPREAD_DEG = 1.5  # from ball to ball
PATH_SPREAD_DEG = 1.0
MARK_ERR_MM = 1.0
BALLS = (1, 3, 5, 10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Golfer:
    """The truth about one set of balls (means over the balls)."""

    face_open_deg: float
    path_out_deg: float


def golfers(
    n: int, *, seed: int, kind: ClubKind = ClubKind.DRIVER, only: Verdict | None = None, n_draws: int = 1000
) -> Iterator[tuple[Golfer, Causes]]:
    """Make ``n`` golfers and separate their causes; ``only`` sets face or path, or both, to zero."""
    rng = np.random.default_rng(seed)
    club, mps = typical_club(kind), c.TYPICAL_HEAD_MPS[kind].value
    setup = Setup(club=club, head_mps=mps)
    told = Conditions(head_mps=mps, wind_err_mps=c.WIND_UNSEEN_ERR_MPS)
    truths = draw_cases(club, told, n, rng=rng)
    for k in range(n):
        balls = int(rng.choice(BALLS))
        face = rng.normal(0.0, c.FACE_PRIOR_DEG) + _scatter(rng, FACE_SPREAD_DEG, balls)
        path = rng.normal(0.0, c.PATH_PRIOR_DEG) + _scatter(rng, PATH_SPREAD_DEG, balls)
        face -= face.mean() if only in (Verdict.STRIKE, Verdict.PATH) else 0.0
        path -= path.mean() if only in (Verdict.STRIKE, Verdict.FACE) else 0.0
        toe = rng.normal(0.0, STRIKE_BIAS_MM[0]) + _scatter(rng, STRIKE_SPREAD_MM[0], balls)
        high = rng.normal(0.0, STRIKE_BIAS_MM[1]) + _scatter(rng, STRIKE_SPREAD_MM[1], balls)
        head = _one(truths, k)
        shots = hit(head, (toe, high), told, face_open_deg=face, path_out_deg=path)
        start = shots.launch.start_push_deg + rng.normal(0.0, c.AIM_ERR_DEG)
        notes = [
            Note(start=start_degrees(float(s)), curve=curve_metres(float(b)))
            for s, b in zip(
                _start_noted(start, rng), _curve_noted(shots.landing.curve_draw_m, rng), strict=True
            )
        ]
        # Marks are measured from the sweet spot in use, not from the true one.
        off_toe = float(head.heads.sweet_toe_mm) - club.sweet_toe_mm
        off_high = float(head.heads.sweet_high_mm) - club.sweet_high_mm
        strikes = StrikeSet(
            strikes=tuple(
                Strike(
                    toe_mm=t + off_toe + rng.normal(0.0, MARK_ERR_MM),
                    high_mm=h + off_high + rng.normal(0.0, MARK_ERR_MM),
                    toe_err_mm=MARK_ERR_MM,
                    high_err_mm=MARK_ERR_MM,
                )
                for t, h in zip(toe, high, strict=True)
            )
        )
        found = separate_causes(strikes, notes, setup, rng=rng, n_draws=n_draws)
        yield Golfer(face_open_deg=float(face.mean()), path_out_deg=float(path.mean())), found


def coverage(found: list[tuple[Golfer, Causes]]) -> dict[str, tuple[float, float]]:
    """Share of golfers whose true face, path, and face against path lie in the 80 and 95 % ranges."""
    shares = {}
    for name, true in (
        ("face_open_deg", lambda g: g.face_open_deg),
        ("path_out_deg", lambda g: g.path_out_deg),
        ("face_to_path_open_deg", lambda g: g.face_open_deg - g.path_out_deg),
    ):
        inside = np.array(
            [
                (r.low80 <= true(g) <= r.high80, r.low95 <= true(g) <= r.high95)
                for g, causes in found
                for r in (getattr(causes, name),)
            ]
        )
        shares[name] = (float(inside[:, 0].mean()), float(inside[:, 1].mean()))
    return shares


def verdicts(found: list[tuple[Golfer, Causes]]) -> Counter[Verdict]:
    """How often each verdict was given."""
    return Counter(causes.verdict for _, causes in found)


def _one(cases: Cases, k: int) -> Cases:
    heads = replace(cases.heads, **{f: getattr(cases.heads, f)[k] for f in cases.heads.__slots__})
    balls = replace(cases.balls, **{f: getattr(cases.balls, f)[k] for f in cases.balls.__slots__})
    return Cases(heads=heads, head_mps=cases.head_mps[k], attack_up_deg=cases.attack_up_deg[k], balls=balls)


def _scatter(rng: np.random.Generator, spread: float, n: int) -> Array:
    return rng.normal(0.0, spread, n)


def _start_noted(start: Array, rng: np.random.Generator) -> Array:
    return start + rng.normal(0.0, c.START_ERR_EYE_DEG, start.shape)


def _curve_noted(curve: Array, rng: np.random.Generator) -> Array:
    err = np.maximum(c.CURVE_ERR_EYE_M, c.CURVE_ERR_EYE_FRAC * np.abs(curve))
    return curve + err * rng.normal(0.0, 1.0, curve.shape)
