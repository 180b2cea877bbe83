"""Draws what tests.bench.accuracy scored: is a score of 0.7 right in 70 of 100, and do the ranges hold?

python -m tests.bench.accuracy --drawn 70 --seed 9701 --scores SCORES.json
python -m tests.bench.reliability SCORES.json --out docs/explanation/reliability.png
"""

from __future__ import annotations

import argparse
import json
import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tests.bench.accuracy import TIER_ORDER
from tests.bench.score import SIGMAS_95

BINS = (0.25, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.001)
BLUE, ORANGE, GREY = "#0072B2", "#D55E00", "#666666"  # Okabe and Ito
KINDS = (("ratio", "marks", "o"), ("group_ratio", "group", "s"), ("spread_ratio", "spread", "^"))
SIZE_IN, DPI = (7.2, 3.3), 110


def wilson(right: int, n: int) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927)."""
    z = 1.96
    middle = (right + z * z / 2) / (n + z * z)
    half = z * math.sqrt(right * (n - right) / n + z * z / 4) / (n + z * z)
    return middle - half, middle + half


def draw_scores(axes: Axes, rows: list[dict[str, Any]]) -> None:
    """Stated score against the share that was right, with 95 % intervals and how many marks."""
    pairs = np.array([pair for row in rows for pair in row["likely"]], float)
    axes.plot([0, 1], [0, 1], color=GREY, lw=1, ls="--")
    for low, high in pairwise(BINS):
        some = pairs[(pairs[:, 0] >= low) & (pairs[:, 0] < high)]
        if len(some) < 5:
            continue
        stated, right = some.mean(axis=0)
        least, most = wilson(int(some[:, 1].sum()), len(some))
        axes.plot([stated, stated], [least, most], color=BLUE, lw=1.5)
        axes.plot(stated, right, "o", color=BLUE, ms=6)
        axes.annotate(
            f"{len(some)}", (stated, least), (0, -9), textcoords="offset points", ha="center", size=7
        )
    axes.set(xlim=(0.3, 1.02), ylim=(0.2, 1.05), xlabel="stated score", ylabel="share that was right")
    axes.set_title("Scores (numbers: marks)", size=10)


def draw_ranges(axes: Axes, rows: list[dict[str, Any]]) -> None:
    """Share within the stated 68 and 95 % ranges, by tier."""
    tiers = [tier for tier in TIER_ORDER if any(row["tier"] == tier for row in rows)]
    for share, colour in ((68, ORANGE), (95, BLUE)):
        axes.axhline(share, color=colour, lw=1, ls="--")
        for k, (field, words, shape) in enumerate(KINDS):
            for i, tier in enumerate(tiers):
                ratio = np.array([v for row in rows if row["tier"] == tier for v in row[field]])
                if len(ratio):
                    inside = 100 * np.mean(ratio <= (1.0 if share == 68 else SIGMAS_95))
                    label = words if share == 68 and i == 0 else None
                    axes.plot(i + 0.22 * (k - 1), inside, shape, color=colour, ms=6, label=label)
    axes.set(ylim=(50, 101), ylabel="inside the stated range, %", xticks=range(len(tiers)), xticklabels=tiers)
    axes.set_title("68 % (orange) and 95 % (blue) ranges", size=10)
    legend = axes.legend(loc="lower left", fontsize=8, frameon=False, ncols=3)
    for handle in legend.legend_handles:
        handle.set_color(GREY)  # type: ignore[union-attr]


def main() -> None:
    """Read, draw, write."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("scores", nargs="+", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    told = parser.parse_args()
    rows = [row for path in told.scores for row in json.loads(path.read_text(encoding="utf-8"))]
    figure = Figure(figsize=SIZE_IN, dpi=DPI, layout="constrained")
    left, right = figure.subplots(1, 2)
    draw_scores(left, rows)
    draw_ranges(right, rows)
    figure.savefig(told.out)


if __name__ == "__main__":
    main()
