"""The error rates and coverages of docs/explanation/what-ten-balls-can-tell.md, simulated with the real code.

    python -m tests.bench.statistics            all tables, about three minutes on one core
    python -m tests.bench.statistics pattern coverage doubts compare trend moveon speed

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
from facemark.explain.pattern import Label, Pattern, describe_pattern
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
        print(f"  {'':30s}" + "".join(f"{name:>11s}" for name in row))
    print(f"  {title:30s}" + "".join(f"{value:11.3f}" for value in row.values()))


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
                shared = SharedError(
                    sweet_toe_mm=sweet, sweet_high_mm=sweet, scale_frac=scale, turn_deg=turn
                )
                found.append(describe_pattern(as_set(seen, errs, shared), KIND))
                centres.append(np.array([6.0, -3.0]))
            print_coverage(f"{title}, n {n}", coverage_row(found, centres, spread, ring), head=first)
            first = False


def speed_table() -> None:
    rng = np.random.default_rng(54)
    sets = [as_set(drawn(rng, 10, (4.0, 0.0), diagonal(8.0, 7.0))) for _ in range(200)]
    start = time.perf_counter()
    for strikes in sets:
        describe_pattern(strikes, KIND)
    print(f"\n200 sets of ten described in {time.perf_counter() - start:.2f} s")


TABLES: dict[str, Callable[[], None]] = {
    "pattern": pattern_table,
    "coverage": coverage_table,
    "doubts": doubts_table,
    "speed": speed_table,
}


def main(names: list[str]) -> None:
    start = time.perf_counter()
    for name in names or list(TABLES):
        TABLES[name]()
    print(f"\n{time.perf_counter() - start:.0f} s in all")


if __name__ == "__main__":
    main(sys.argv[1:])
