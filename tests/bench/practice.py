"""Does the plan keep its promises? Made-up players with known truth, through the real code.

    python -m tests.bench.practice              all tables, about four minutes on one core
    python -m tests.bench.practice NAME ...     some of gate, limit, ladder, learning

Players, as wide as any teacher would have them (all assumed): spread toe to heel even in its logarithm from 4
to 18 mm; spread high-low 0.8 of it, give or take a fifth (log-normal); centre off by 8 mm (standard
deviation) toe-heel, 5 mm high-low. Other players, to see what hangs on that: narrow, all ratios from 0.5 to
1.25 alike, ratios beyond (1.25 to 2) and far beyond (0.25 to 0.5 and 2 to 4), and with heavy tails
(Student's t with 5 degrees of freedom).
"""

from __future__ import annotations

import datetime as dt
import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats

from facemark.errors import SetupError
from facemark.explain.evidence import Evidence, gather_evidence
from facemark.explain.gate import PASS_HIGH_FRAC, PASS_LOW_FRAC, Gate, fit_gate, gate_of
from facemark.explain.ladder import EFFORTS_FRAC, Block, Focus, climb, ladder_odds
from facemark.explain.moveon import Rule, Step, step_odds
from facemark.explain.players import ToeHeel, draw_toe_heel
from facemark.explain.posterior import draw_truths
from facemark.strike import Strike, StrikeSet

Array = NDArray[np.float64]
N_PLAYERS = 2000
HEAD_MM = 120.0
DAY = dt.date(2026, 5, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """The truth about one player's strikes."""

    toe_mm: float
    high_mm: float
    toe_spread_mm: float
    high_spread_mm: float
    n_free: float = math.inf  # of Student's t; infinite: normal

    def hit(self, rng: np.random.Generator, n: int) -> StrikeSet:
        z = rng.standard_normal((n, 2))
        if math.isfinite(self.n_free):
            # Scaled to the stated standard deviation.
            z /= np.sqrt(rng.chisquare(self.n_free, (n, 1)) / self.n_free * self.n_free / (self.n_free - 2.0))
        toe = self.toe_mm + self.toe_spread_mm * z[:, 0]
        high = self.high_mm + self.high_spread_mm * z[:, 1]
        return StrikeSet(
            strikes=tuple(Strike(toe_mm=float(t), high_mm=float(h)) for t, h in zip(toe, high, strict=True))
        )

    def passes(self, gate: Gate) -> float:
        """True share of strikes through a gate."""
        law = stats.norm() if math.isinf(self.n_free) else stats.t(self.n_free)
        scale = 1.0 if math.isinf(self.n_free) else math.sqrt((self.n_free - 2.0) / self.n_free)
        to, fro = (
            (edge - self.toe_mm) / (scale * self.toe_spread_mm)
            for edge in (gate.heel_clear_mm, -gate.toe_clear_mm)
        )
        return float(law.cdf(to) - law.cdf(fro))


def wide(rng: np.random.Generator) -> Player:
    """The players of the docstring."""
    toe = math.exp(rng.uniform(math.log(4.0), math.log(18.0)))
    return Player(
        toe_mm=rng.normal(0.0, 8.0),
        high_mm=rng.normal(0.0, 5.0),
        toe_spread_mm=toe,
        high_spread_mm=toe * 0.8 * math.exp(rng.normal(0.0, 0.2)),
    )


def any_shape(rng: np.random.Generator) -> Player:
    one = wide(rng)
    ratio = math.exp(rng.uniform(math.log(0.5), math.log(1.25)))
    return replace(one, high_spread_mm=ratio * one.toe_spread_mm)


def tall(rng: np.random.Generator) -> Player:
    """Taller than wide, but not by so much that twenty marks show it: the hardest case."""
    toe = math.exp(rng.uniform(math.log(4.0), math.log(10.0)))
    ratio = math.exp(rng.uniform(math.log(1.25), math.log(2.0)))
    return replace(wide(rng), toe_spread_mm=toe, high_spread_mm=ratio * toe)


def odd_shape(rng: np.random.Generator) -> Player:
    """Groups that are much flatter, or much taller, than golfers are assumed to be."""
    flat = rng.random() < 0.5
    ratio = math.exp(rng.uniform(math.log(0.25 if flat else 2.0), math.log(0.5 if flat else 4.0)))
    # Tall groups are narrow along the face, 4 to 6 mm: wider ones would not be on it.
    toe = math.exp(rng.uniform(math.log(4.0), math.log(18.0 if flat else 6.0)))
    return replace(wide(rng), toe_spread_mm=toe, high_spread_mm=ratio * toe)


def narrow(rng: np.random.Generator) -> Player:
    toe = math.exp(rng.uniform(math.log(5.0), math.log(12.0)))
    return replace(wide(rng), toe_mm=rng.normal(0.0, 5.0), toe_spread_mm=toe, high_spread_mm=0.8 * toe)


def heavy(rng: np.random.Generator) -> Player:
    return replace(wide(rng), n_free=5.0)


POPULATIONS: dict[str, Callable[[np.random.Generator], Player]] = {
    "wide (the measure)": wide,
    "any shape": any_shape,
    "tall (1.25-2)": tall,
    "odd shape (.25-.5, 2-4)": odd_shape,
    "narrow": narrow,
    "heavy tails": heavy,
}


def gate_table(n_players: int = N_PLAYERS) -> list[str]:
    """Share of players whose proposed gate truly lets 70 to 90 % pass, and how the stated range holds."""
    lines = [
        "GATE: players whose true pass rate lies in 70-90 % | chance stated | 80 % range holds | refused",
    ]
    for name, draw in POPULATIONS.items():
        for n_balls in (20, 10) if draw is wide else (20,):
            rng = np.random.default_rng(20261125)
            n = n_players if draw is wide else n_players // 4
            found = [_fit(draw(rng), n_balls, rng) for _ in range(n)]
            ok = np.array([item[:3] for item in found if item is not None], float)
            share, stated, holds = ok.mean(axis=0)
            err = math.sqrt(share * (1.0 - share) / len(ok))
            lines.append(
                f"  {name:24s} {n_balls:2d} balls: {100 * share:.1f} % (+-{196 * err:.1f})"
                f" | {100 * stated:.1f} % | {100 * holds:.1f} % | {len(found) - len(ok)} of {len(found)}"
            )
    return lines


def _fit(player: Player, n_balls: int, rng: np.random.Generator) -> tuple[bool, float, bool] | None:
    group = draw_toe_heel(gather_evidence(player.hit(rng, n_balls)), rng)
    try:
        gate = fit_gate(group, HEAD_MM)
    except SetupError:
        return None
    assert gate.passes is not None
    assert gate.chance_frac is not None
    true = player.passes(gate)
    holds = gate.passes.low80_frac <= true <= gate.passes.high80_frac
    return PASS_LOW_FRAC <= true <= PASS_HIGH_FRAC, gate.chance_frac, holds


def limit_table(n_players: int = N_PLAYERS) -> list[str]:
    """What twenty balls can give at most: fitted by one who knows the law that the players are drawn from.

    No program knows it. Once with the rule for the two rooms, once with any two rooms, and beside them what
    the program does with its own assumptions, for the same balls.
    """
    rng = np.random.default_rng(20261126)
    ok: list[tuple[bool, bool, bool]] = []
    for _ in range(n_players):
        player = wide(rng)
        evidence = gather_evidence(player.hit(rng, 20))
        ours, all_known = draw_toe_heel(evidence, rng), _law_known(evidence, rng)
        try:
            gates = fit_gate(ours, HEAD_MM), fit_gate(all_known, HEAD_MM), _any_rooms(all_known)
        except SetupError:
            continue
        ok.append(tuple(PASS_LOW_FRAC <= player.passes(gate) <= PASS_HIGH_FRAC for gate in gates))  # type: ignore[arg-type]
    program, rule, rooms = 100.0 * np.mean(ok, axis=0)
    return [
        f"LIMIT: {len(ok)} players in 70-90 %, same balls; +- {100 * 1.96 * 0.3 / math.sqrt(len(ok)):.1f}",
        f"  the program {program:.1f} % | law of the players known, same rule {rule:.1f} %,"
        f" any two rooms {rooms:.1f} %",
    ]


def _law_known(evidence: Evidence, rng: np.random.Generator) -> ToeHeel:
    """As draw_toe_heel, with the law of ``wide`` for what it assumes."""
    truths = draw_truths(evidence, rng, n_draws=4000)
    (toe, high), cross = (
        np.log(np.sqrt(np.diagonal(truths.scatter_mm2, 0, 1, 2))).T,
        truths.scatter_mm2[:, 0, 1],
    )
    law = (
        -0.5 * ((high - toe - math.log(0.8)) / 0.2) ** 2
        - 0.5 * ((truths.centre_mm / [8.0, 5.0]) ** 2).sum(axis=1)
        + np.where((toe > math.log(4.0)) & (toe < math.log(18.0)), 0.0, -np.inf)
        + (toe + high + 3.0 * np.log1p(-(cross**2) * np.exp(-2.0 * (toe + high))))
    )
    weights = np.exp(law - law.max())
    return ToeHeel(
        centre_toe_mm=truths.centre_mm[:, 0], spread_toe_mm=np.exp(toe), weights=weights / weights.sum()
    )


def _any_rooms(group: ToeHeel) -> Gate:
    """The likeliest of all pairs of rooms, from 3 to 45 mm."""
    clears, w = np.arange(3.0, 46.0), group.weights[::4] / group.weights[::4].sum()
    centre, spread = group.centre_toe_mm[::4, None], group.spread_toe_mm[::4, None]
    under, over = (special.ndtr((sign * clears - centre) / spread) for sign in (1.0, -1.0))
    chances = np.array(
        [
            w @ ((rates >= PASS_LOW_FRAC) & (rates <= PASS_HIGH_FRAC))
            for rates in (under - over[:, i : i + 1] for i in range(len(clears)))
        ]
    )
    toe, heel = np.unravel_index(int(chances.argmax()), chances.shape)
    return gate_of(None, HEAD_MM, float(clears[toe]), float(clears[heel]))


def learning_table(n_players: int = N_PLAYERS) -> list[str]:
    """A gate fitted to 20 balls, and the same player two blocks later, spread 10 % and bias 30 % smaller."""
    rng = np.random.default_rng(7)
    before, after, again = [], [], []
    for _ in range(n_players):
        player = wide(rng)
        better = replace(player, toe_mm=0.7 * player.toe_mm, toe_spread_mm=0.9 * player.toe_spread_mm)
        try:
            gate = fit_gate(draw_toe_heel(gather_evidence(player.hit(rng, 20)), rng), HEAD_MM)
            anew = fit_gate(draw_toe_heel(gather_evidence(better.hit(rng, 20)), rng), HEAD_MM)
        except SetupError:
            continue
        before.append(player.passes(gate))
        after.append(better.passes(gate))
        again.append(better.passes(anew))

    def inside(rates: list[float]) -> float:
        return float(np.mean([PASS_LOW_FRAC <= rate <= PASS_HIGH_FRAC for rate in rates]))

    return [
        "LEARNING: spread 10 % and offset 30 % smaller after practice; players in 70-90 % and mean pass rate",
        f"  not learning, same gate     {100 * inside(before):.1f} %  {100 * np.mean(before):.0f} %",
        f"  learning, same gate         {100 * inside(after):.1f} %  {100 * np.mean(after):.0f} %",
        f"  learning, fitted again      {100 * inside(again):.1f} %  {100 * np.mean(again):.0f} %",
    ]


def ladder_table(n_players: int = N_PLAYERS) -> list[str]:
    """Exact odds of the ladder, the same by simulation through ``climb``, and a whole climb."""
    lines = [
        "LADDER, exact: of 100 decisions / of 100 sets | stays | sets to decide | up by a rule of one set",
    ]
    for rate in (0.5, 0.6, 0.7, 0.8, 0.85, 0.88, 0.9):
        odds = ladder_odds(rate)
        plain = step_odds(rate, Rule.BLOCK)
        lines.append(
            f"  true rate {100 * rate:.0f} %: up {100 * odds.up_frac:.1f} / {100 * odds.up_per_set_frac:.1f}"
            f" | back {100 * odds.back_frac:.1f} / {100 * odds.back_per_set_frac:.1f}"
            f" | stays {100 * odds.stay_frac:.1f} | {odds.n_sets_mean:.1f} | {100 * plain.move_on_frac:.1f}"
        )
    for rate in (0.6, 0.88):
        up, back, sets = _simulate(rate, n_players)
        lines.append(
            f"  simulated at {100 * rate:.0f} %: up after {100 * up / sets:.1f}, back after"
            f" {100 * back / sets:.1f} of 100 sets ({sets} sets)"
        )
    return lines


def _simulate(rate: float, n_players: int, n_sets: int = 12) -> tuple[int, int, int]:
    """Sets after which a player of one true rate at every step went up, or back."""
    rng = np.random.default_rng(11)
    up = back = 0
    for _ in range(n_players):
        blocks: list[Block] = []
        for _ in range(n_sets):
            rung = climb(blocks, Focus.STRIKE, start_frac=EFFORTS_FRAC[2])
            n_good = int(rng.binomial(10, rate))
            blocks.append(
                Block(focus=Focus.STRIKE, effort_frac=rung.effort_frac, n_good=n_good, n_balls=10, day=DAY)
            )
            step = climb(blocks, Focus.STRIKE, start_frac=EFFORTS_FRAC[2]).last_step
            up += step is Step.MOVE_ON
            back += step is Step.EASIER
    return up, back, n_players * n_sets


TABLES = {"gate": gate_table, "limit": limit_table, "learning": learning_table, "ladder": ladder_table}


def main() -> None:
    for name in sys.argv[1:] or TABLES:
        print("\n".join(TABLES[name]()))


if __name__ == "__main__":
    main()
