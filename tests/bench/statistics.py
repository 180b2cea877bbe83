"""The error rates and coverages of docs/explanation/what-ten-balls-can-tell.md, simulated with the real code.

    python -m tests.bench.statistics            all tables, about three minutes on one core
    python -m tests.bench.statistics NAME ...   some of pattern, coverage, doubts, split, compare, intervals,
                                                trend, moveon, speed

Every number comes from calling the public verbs on drawn groups with known truth; seeds are fixed.
"""

from __future__ import annotations

import math
import sys
import time
from collections import Counter
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from facemark.explain.centre import Offset
from facemark.explain.contrast import (
    any_differ_chance,
    centre_mean,
    differ_chance,
    difference_span,
    miss_mean,
    spread_mean,
)
from facemark.explain.evidence import gather_evidence
from facemark.explain.groups import find_split
from facemark.explain.hitset import HitSet
from facemark.explain.howmany import shown_ratio
from facemark.explain.moveon import SHOWN_RATES, Rule, step_odds
from facemark.explain.pattern import Label, Pattern, describe_pattern
from facemark.explain.trend import TrendWord, follow_days
from facemark.inputs import ClubKind
from facemark.strike import SharedError, Strike, StrikeSet

Array = NDArray[np.float64]
KIND = ClubKind.DRIVER
DIRECTIONS = (
    Label.TOE,
    Label.HEEL,
    Label.HIGH,
    Label.LOW,
    Label.HIGH_TOE,
    Label.HIGH_HEEL,
    Label.LOW_TOE,
    Label.LOW_HEEL,
)


def drawn(rng: np.random.Generator, n: int, centre: tuple[float, float], spread: Array) -> Array:
    """(n, 2) strikes of a normal group; ``spread`` is (2, 2), a root of the covariance."""
    return np.asarray(np.array(centre) + rng.standard_normal((n, 2)) @ spread.T)


def as_set(points: Array, errs: Array | None = None, shared: SharedError | None = None) -> StrikeSet:
    own = np.zeros_like(points) if errs is None else errs
    return StrikeSet(
        strikes=tuple(
            Strike(toe_mm=float(t), high_mm=float(h), toe_err_mm=float(a), high_err_mm=float(b))
            for (t, h), (a, b) in zip(points, own, strict=True)
        ),
        shared=shared or SharedError(),
    )


def diagonal(toe_mm: float, high_mm: float) -> Array:
    return np.diag([toe_mm, high_mm])


def turned(long_mm: float, short_mm: float, tilt_deg: float) -> Array:
    a = math.radians(tilt_deg)
    return np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]]) @ diagonal(long_mm, short_mm)


# --- the headline's error rates ---
def pattern_table(n_sets: int = 2000) -> None:
    print(f"\nHeadline, true centre on the sweet spot, {n_sets} sets a line")
    print("  n  spread   any direction  two groups  maybe two  scattered  centred  not settled")
    rng = np.random.default_rng(51)
    for spread in ((5.0, 4.0), (8.0, 7.0), (12.0, 10.0)):
        for n in (5, 10, 15, 20):
            found = [
                describe_pattern(as_set(drawn(rng, n, (0.0, 0.0), diagonal(*spread))), KIND)
                for _ in range(n_sets)
            ]
            count = Counter(pattern.label for pattern in found)
            words = sum(pattern.direction is not None for pattern in found) / n_sets
            print(
                f" {n:2d}  {spread[0]:.0f}, {spread[1]:.0f} {words:13.3f}"
                f"{count[Label.TWO_GROUPS] / n_sets:10.4f}"
                f"{count[Label.MAYBE_TWO_GROUPS] / n_sets:11.3f}{count[Label.SCATTERED] / n_sets:11.3f}"
                f"{count[Label.CENTRED] / n_sets:10.3f}{count[Label.NOT_SETTLED] / n_sets:12.3f}"
            )
    print(f"\nOne axis, spread 8, 7, true offset toward the toe, {n_sets // 2} sets a line")
    print("  n  offset   named toe  named heel (wrong side)  toe-heel called centred")
    for offset in (3.0, 6.0, 8.0, 10.0, 15.0):
        for n in (5, 10, 20):
            found = [
                describe_pattern(as_set(drawn(rng, n, (offset, 0.0), diagonal(8.0, 7.0))), KIND)
                for _ in range(n_sets // 2)
            ]
            plus = np.mean([pattern.toe_axis.word.value == "plus" for pattern in found])
            minus = np.mean([pattern.toe_axis.word.value == "minus" for pattern in found])
            centred = np.mean([pattern.toe_axis.word.value == "centred" for pattern in found])
            print(f" {n:2d}  {offset:4.0f} mm {plus:10.3f} {minus:12.4f} {centred:24.3f}")
    print(f"\nTwo true groups, within-spread 5 both ways, half and half, {n_sets // 4} sets a line")
    print("  n  apart    two groups  two or maybe")
    for apart in (20.0, 25.0, 30.0):
        for n in (10, 20):
            labels = Counter()
            for _ in range(n_sets // 4):
                points = drawn(rng, n, (0.0, 0.0), diagonal(5.0, 5.0))
                points[: n // 2, 0] += apart
                labels[describe_pattern(as_set(points), KIND).label] += 1
            two, maybe = labels[Label.TWO_GROUPS], labels[Label.MAYBE_TWO_GROUPS]
            print(f" {n:2d}  {apart:.0f} mm {two / n_sets * 4:12.2f} {(two + maybe) / n_sets * 4:12.2f}")


# --- coverage of every printed interval ---
SHAPES = {
    "round": diagonal(8.0, 8.0),
    "3:1": diagonal(12.0, 4.0),
    "tilted 35 deg, 2.5:1": turned(11.0, 4.4, 35.0),
}


def holds(span: object, value: float) -> bool:
    return span.least_mm <= value <= span.most_mm  # type: ignore[attr-defined]


def region_holds(pattern: Pattern, truth: Array) -> bool:
    region = pattern.region
    if region is None:
        return False
    a = math.radians(region.tilt_deg)
    off = truth - np.array([pattern.toe_mm, pattern.high_mm])
    along = off[0] * math.cos(a) + off[1] * math.sin(a)
    across = -off[0] * math.sin(a) + off[1] * math.cos(a)
    return (along / region.long_mm) ** 2 + (across / region.short_mm) ** 2 <= 1.0


def direction_holds(offset: Offset, truth: Array) -> float:
    """NaN where no direction was stated."""
    if offset.direction_deg is None or offset.direction_half_deg is None:
        return math.nan
    off = math.degrees(math.atan2(truth[1], truth[0])) - offset.direction_deg
    return float(abs((off + 180.0) % 360.0 - 180.0) <= offset.direction_half_deg)


def true_ring_mm(spread: Array) -> float:
    """Radius of 80 % of strikes, by sorting a million drawn ones: nothing of the code under test."""
    points = np.random.default_rng(9).standard_normal((1_000_000, 2)) @ spread.T
    return float(np.quantile(np.hypot(points[:, 0], points[:, 1]), 0.8))


def coverage_row(
    patterns: list[Pattern], centres: list[Array], spread: Array, ring_mm: float
) -> dict[str, float]:
    cov = spread @ spread.T
    one = math.sqrt(np.trace(cov) / 2.0)
    rows = []
    for pattern, centre in zip(patterns, centres, strict=True):
        s, toe, high = pattern.spread, pattern.toe_axis.span, pattern.high_axis.span
        offset = pattern.offset
        if s is None or toe is None or high is None or offset is None:
            continue  # too few marks' worth of evidence: nothing is printed, so nothing can be wrong
        rows.append(
            (
                region_holds(pattern, centre),
                holds(toe, centre[0]),
                holds(high, centre[1]),
                holds(offset.span, float(np.hypot(*centre))),
                direction_holds(offset, centre),
                holds(s.toe_span, math.sqrt(cov[0, 0])),
                holds(s.high_span, math.sqrt(cov[1, 1])),
                holds(s.one_span, one),
                holds(s.ring_span, ring_mm),
            )
        )
    names = ("region", "toe", "high", "offset", "direction", "sd toe", "sd high", "one spread", "ring 80")
    table = np.array(rows, float)
    return dict(zip(names, np.nanmean(table, axis=0).tolist(), strict=True))


def print_coverage(title: str, row: dict[str, float], head: bool) -> None:
    if head:
        print(f"  {'':42s}" + "".join(f"{name:>11s}" for name in row))
    print(f"  {title:42s}" + "".join(f"{value:11.3f}" for value in row.values()))


def coverage_table(n_sets: int = 3000) -> None:
    print(f"\nHow often the printed 95 % interval holds the truth, {n_sets} sets a line")
    rng = np.random.default_rng(52)
    centre = np.array([6.0, -3.0])
    for name, spread in SHAPES.items():
        ring = true_ring_mm(spread)
        for n in (5, 10, 20):
            found = [
                describe_pattern(as_set(drawn(rng, n, (6.0, -3.0), spread)), KIND) for _ in range(n_sets)
            ]
            row = coverage_row(found, [centre] * n_sets, spread, ring)
            print_coverage(f"{name}, n {n}", row, head=name == "round" and n == 5)


def doubts_table(n_sets: int = 2000) -> None:
    print(f"\nThe same with doubts about marks, origin and scale (section 9), {n_sets} sets a line")
    rng = np.random.default_rng(53)
    first = True
    for title, own_range, sweet, scale, turn in (
        ("own 1", (1.0, 1.0), 0.0, 0.0, 0.0),
        ("own 0.5 to 6, unequal", (0.5, 6.0), 0.0, 0.0, 0.0),
        ("sweet spot 1.5, scale 2 %", (1.0, 1.0), 1.5, 0.02, 0.0),
        ("sweet spot 3, scale 2 %, turn 2 deg", (0.5, 3.0), 3.0, 0.02, 2.0),
    ):
        spread = diagonal(8.0, 7.0)
        ring = true_ring_mm(spread)
        for n in (5, 10, 20, 30):
            found, centres = [], []
            for _ in range(n_sets):
                points = drawn(rng, n, (6.0, -3.0), spread)
                errs = np.repeat(rng.uniform(*own_range, size=(n, 1)), 2, axis=1)
                seen = points + rng.standard_normal((n, 2)) * errs
                angle = math.radians(turn) * rng.standard_normal()
                turning = np.array([[1.0, -angle], [angle, 1.0]])
                seen = seen @ turning.T * (1.0 + scale * rng.standard_normal())
                seen = seen + sweet * rng.standard_normal(2)
                shared = SharedError(sweet_toe_mm=sweet, sweet_high_mm=sweet, scale_frac=scale, turn_deg=turn)
                found.append(describe_pattern(as_set(seen, errs, shared), KIND))
                centres.append(np.array([6.0, -3.0]))
            print_coverage(f"{title}, n {n}", coverage_row(found, centres, spread, ring), head=first)
            first = False


# --- comparing clubs ---
def permuted_centres(points: Array, edges: Array, rng: np.random.Generator, n_draws: int) -> float:
    """PERMANOVA on plane points: what compare.py does not use, and why. p of "same centre"."""
    centred = points - points.mean(axis=0)

    def between(order: Array) -> Array:
        sums = np.add.reduceat(centred[order], edges[:-1], axis=1)
        return np.asarray(((sums**2).sum(axis=2) / np.diff(edges)).sum(axis=1))

    found = between(np.arange(len(points))[None])[0]
    orders = rng.permuted(np.tile(np.arange(len(points)), (n_draws, 1)), axis=1)
    return (1.0 + float((between(orders) >= found - 1e-9).sum())) / (n_draws + 1.0)


def rejects(clubs: list[tuple[int, Array]], n_sets: int, rng: np.random.Generator) -> list[float]:
    """How often the three questions and PERMANOVA say "different" at 5 %."""
    edges = np.cumsum([0] + [n for n, _ in clubs])
    found = []
    for _ in range(n_sets):
        points = [drawn(rng, n, (4.0, 0.0), spread) for n, spread in clubs]
        evidence = [gather_evidence(as_set(group)) for group in points]
        row = []
        for mean in (centre_mean, spread_mean, miss_mean):
            means = [mean(one) for one in evidence]
            two = len(means) == 2
            row.append(differ_chance(*means) if two else any_differ_chance(means, rng, n_draws=399))
        row.append(permuted_centres(np.vstack(points), edges, rng, 199))
        found.append(np.array(row) < 0.05)
    return np.mean(found, axis=0).tolist()


def compare_table(n_sets: int = 3000) -> None:
    print(
        f"\nComparing clubs that are the same, nominal 5 %: {n_sets} tests a line ({n_sets // 4} for three)"
    )
    print(f"  {'':46s}   centre   spread     miss   (PERMANOVA, not used)")
    rng = np.random.default_rng(55)
    round_, long = diagonal(8.0, 7.0), diagonal(12.0, 4.0)
    wide = diagonal(14.0, 12.0)
    for title, clubs in (
        ("10 and 10, equal spread", [(10, round_)] * 2),
        ("20 and 20, equal spread", [(20, round_)] * 2),
        ("5 and 15, equal spread", [(5, round_), (15, round_)]),
        ("10 and 20, equal spread 3:1", [(10, long), (20, long)]),
        ("5 and 15, few balls with twice the spread *", [(5, wide), (15, diagonal(7.0, 6.0))]),
        ("5 and 15, many balls with twice the spread *", [(5, diagonal(7.0, 6.0)), (15, wide)]),
        ("10, 10, 10, equal spread", [(10, round_)] * 3),
        ("5, 10, 20, equal spread", [(5, round_), (10, round_), (20, round_)]),
        ("5, 10, 20, spreads 14, 8, 7 *", [(5, wide), (10, round_), (20, diagonal(7.0, 6.0))]),
    ):
        rates = rejects(clubs, n_sets if len(clubs) == 2 else n_sets // 4, rng)
        shown = [f"{rates[0]:.3f}"] + (["   -", "   -"] if "*" in title else [f"{r:.3f}" for r in rates[1:3]])
        print(f"  {title:46s}" + "".join(f"{value:>9s}" for value in shown) + f"{rates[3]:12.3f}")
    print("  * only the centres are the same; spread and miss differ and are not counted")
    print(f"\nPower of the spread question, {n_sets // 4} tests a line; and what is promised as 80 %")
    for n in (10, 20, 30):
        line = []
        for ratio in (1.25, 1.5, 2.0):
            clubs = [(n, diagonal(7.0, 7.0)), (n, diagonal(7.0 * ratio, 7.0 * ratio))]
            hits = 0
            for _ in range(n_sets // 4):
                means = [spread_mean(gather_evidence(as_set(drawn(rng, k, (0.0, 0.0), s)))) for k, s in clubs]
                hits += differ_chance(*means) < 0.05
            line.append(f"{ratio:.2f}: {hits / (n_sets // 4):.2f}")
        print(f"  n {n:2d}   " + "   ".join(line) + f"   promised at ratio {shown_ratio(n):.2f}")


def mean_distance(points: Array) -> float:
    return float(np.hypot(points[:, 0], points[:, 1]).mean())


def compare_coverage(n_sets: int = 2000) -> None:
    print(f"\nIntervals of two clubs compared, {n_sets} tests a line: truth held")
    print(f"  {'':26s}   toe     high   spread ratio   miss")
    rng = np.random.default_rng(56)
    for n1, n2, first, second in (
        (10, 10, diagonal(8.0, 8.0), diagonal(8.0, 8.0)),
        (5, 20, diagonal(12.0, 4.0), diagonal(6.0, 6.0)),
        (20, 20, turned(11.0, 4.4, 35.0), diagonal(8.0, 8.0)),
    ):
        far = np.random.default_rng(1).standard_normal((400_000, 2))
        away = [mean_distance(far @ first.T + [6.0, 0.0]), mean_distance(far @ second.T + [0.0, 2.0])]
        own = [mean_distance(far @ s.T) for s in (first, second)]
        truth = (6.0, -2.0, math.log(own[0] / own[1]), away[0] - away[1])
        held = []
        for _ in range(n_sets):
            one = gather_evidence(as_set(drawn(rng, n1, (6.0, 0.0), first)))
            two = gather_evidence(as_set(drawn(rng, n2, (0.0, 2.0), second)))
            row = []
            for mean, axis, value in zip(
                (centre_mean, centre_mean, spread_mean, miss_mean), (0, 1, 0, 0), truth, strict=True
            ):
                _, least, most = difference_span(mean(one), mean(two), axis, level_frac=0.95)
                row.append(least <= value <= most)
            held.append(row)
        print(f"  {n1} and {n2} balls{'':12s}" + "".join(f"{r:9.3f}" for r in np.mean(held, axis=0)))


# --- days and steps ---
def trend_table(n_sets: int = 400) -> None:
    print(f"\nFive days of ten balls, {n_sets} series a line: called progress")
    print("  change a day   day-to-day spread   trend   first against last (not used)")
    rng = np.random.default_rng(57)
    for change, day_sd in ((0.0, 0.0), (0.0, 0.10), (0.0, 0.20), (-0.10, 0.10), (-0.15, 0.10)):
        words, naive = 0, 0
        for _ in range(n_sets):
            sizes = 8.0 * (1.0 + change) ** np.arange(5) * np.exp(day_sd * rng.standard_normal(5))
            groups = [drawn(rng, 10, (2.0, 0.0), diagonal(s, s)) for s in sizes]
            days = [HitSet(name=str(i), strikes=as_set(g), kind=KIND) for i, g in enumerate(groups)]
            words += follow_days(days).spread.word is TrendWord.SMALLER
            first, last = (spread_mean(gather_evidence(as_set(groups[i]))) for i in (0, 4))
            naive += differ_chance(first, last) < 0.10 and last.at[0] < first.at[0]
        print(f"  {100 * change:6.0f} %{day_sd:20.2f}{words / n_sets:12.3f}{naive / n_sets:16.3f}")


def moveon_table() -> None:
    print("\nThe move-on rule, exact: true rate, moved on, made easier, stays, mean balls")
    for rule in Rule:
        print(f"  {rule}")
        for rate in SHOWN_RATES:
            odds = step_odds(rate, rule)
            print(
                f"    {rate:.2f}{odds.move_on_frac:8.2f}{odds.easier_frac:8.2f}{odds.stay_frac:8.2f}"
                f"{odds.n_balls_mean:8.1f}"
            )


def split_table(n_sets: int = 20_000) -> None:
    print(f"\nBest split of one normal group, {n_sets} groups a line: T over its limits (5 % and 0.7 %)")
    rng = np.random.default_rng(58)
    for n in (8, 10, 15, 20, 30, 60):
        over = [0, 0]
        for i in range(n_sets):
            split = find_split(rng.standard_normal((n, 2)) * np.array([1.0 + i % 3, 1.0]))
            over[0] += split is not None and split.maybe_two
            over[1] += split is not None and split.surely_two
        print(f"  n {n:2d}{over[0] / n_sets:10.4f}{over[1] / n_sets:10.4f}")


def speed_table() -> None:
    rng = np.random.default_rng(54)
    sets = [as_set(drawn(rng, 10, (4.0, 0.0), diagonal(8.0, 7.0))) for _ in range(200)]
    start, busy = time.perf_counter(), time.process_time()
    for strikes in sets:
        describe_pattern(strikes, KIND)
    wall, busy = time.perf_counter() - start, time.process_time() - busy
    print(f"\n200 sets of ten described in {wall:.2f} s ({busy:.2f} s of the processor)")


TABLES: dict[str, Callable[[], None]] = {
    "pattern": pattern_table,
    "coverage": coverage_table,
    "doubts": doubts_table,
    "split": split_table,
    "compare": compare_table,
    "intervals": compare_coverage,
    "trend": trend_table,
    "moveon": moveon_table,
    "speed": speed_table,
}


def main(names: list[str]) -> None:
    start = time.perf_counter()
    for name in names or list(TABLES):
        TABLES[name]()
    print(f"\n{time.perf_counter() - start:.0f} s in all, {time.process_time():.0f} s of one processor")


if __name__ == "__main__":
    main(sys.argv[1:])
