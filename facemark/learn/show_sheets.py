"""A page of what the training simulator draws, with the true prints: to be looked at, not trained on.

    python -m facemark.learn.show_sheets docs/explanation/simulator.png --seed 5

Of each three: the photo before the last balls, where there is one (the first half), as it is laid over the
next; the picture as the network gets it; the same with the believed outline (green) and the true centre and
size of every print, red for new ones, blue for those of the photo before. The first of their seed.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from facemark.learn.dice import HEIGHT_PX, PX_PER_MM, WIDTH_PX
from facemark.learn.mark_sheets import Sheets, draw_sheets

ACROSS = 2
SHRINK = 0.34


def page(sheets: Sheets) -> NDArray[np.uint8]:
    """(H, W) grey pictures and their truth as one (H, W, 3) page, BGR."""
    threes = [
        np.hstack([_before(sheets, i), _plain(sheets.grey[i]), _marked(sheets, i)])
        for i in range(len(sheets.grey))
    ]
    rows = [np.hstack(threes[k : k + ACROSS]) for k in range(0, len(threes), ACROSS)]
    return np.asarray(
        cv2.resize(np.vstack(rows), None, fx=SHRINK, fy=SHRINK, interpolation=cv2.INTER_AREA), np.uint8
    )


def _plain(grey: Tensor) -> NDArray[np.uint8]:
    return np.asarray(cv2.cvtColor(grey.numpy().astype(np.uint8), cv2.COLOR_GRAY2BGR), np.uint8)


def _before(sheets: Sheets, i: int) -> NDArray[np.uint8]:
    """The photo before; white where there is none."""
    if i < len(sheets.before):
        return _plain(sheets.before[i])
    return np.full((HEIGHT_PX, WIDTH_PX, 3), 255, np.uint8)


def _marked(sheets: Sheets, i: int) -> NDArray[np.uint8]:
    picture, prints = _plain(sheets.grey[i]), sheets.prints
    inside = (sheets.inside[i].numpy() > 0.5).astype(np.uint8)
    outlines, _ = cv2.findContours(inside, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(picture, outlines, -1, (0, 200, 0), 2)
    for k in np.nonzero(prints.there[i].numpy() > 0.5)[0]:
        column = (WIDTH_PX - 1) / 2 + float(prints.x_mm[i, k]) * PX_PER_MM
        row = (HEIGHT_PX - 1) / 2 - float(prints.y_mm[i, k]) * PX_PER_MM
        at = (round(column), round(row))
        colour = (230, 120, 0) if sheets.old[i, k] > 0.5 else (40, 40, 230)
        cv2.circle(picture, at, round(float(prints.radius_mm[i, k]) * PX_PER_MM), colour, 2)
        cv2.circle(picture, at, 4, (0, 230, 255), -1)
    return picture


def main() -> None:
    """Draws and writes."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("out", type=Path)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--n", type=int, default=16)
    told = parser.parse_args()
    generator = torch.Generator().manual_seed(told.seed)
    sheets = draw_sheets(told.n, generator, torch.device("cpu"))
    # 32 greys are enough to look at and keep the file small.
    cv2.imwrite(str(told.out), page(sheets) // 8 * 8, [cv2.IMWRITE_PNG_COMPRESSION, 9])


if __name__ == "__main__":
    main()
