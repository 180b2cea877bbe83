"""How often is the splitter right when it says so? Fits its doubts on drawn faces of another seed.

    python -m facemark.learn.calibrate_marks --onnx DIR/marks.onnx --out DIR --faces 600

Runs on a CPU (one core, about a second a face). Reads every face as a user would see it: believed outline,
count told (sometimes wrong by one or two) or not told. Then fits straight lines: log-odds of "right within
4 mm", log of each mark's error, log of the group's errors; scales each error so that its 68 % range holds.
Writes DIR/marks.json, the model card that is shipped beside the weights.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment, minimize

from facemark.learn.dice import HEIGHT_PX, PX_PER_MM, WIDTH_PX
from facemark.learn.mark_sheets import draw_sheets
from facemark.see import splitter_read
from facemark.see.rectify import RECTIFIED_PAD_MM, FaceMap
from facemark.see.splitter_net import ask, face_planes
from facemark.see.splitter_points import GATE_MM, share_out

SEED = 770_001
FLAT = {"bias": 0.0}
BLANK = {
    "count_factor": 1.0,
    "score": FLAT,
    "toe_err": FLAT,
    "high_err": FLAT,
    "shown_score": 0.25,
    "sure_score": 0.9,
} | dict.fromkeys(splitter_read.GROUP_ERRS, FLAT)
SCORE_FEATURES = (
    "own_near",
    "peak",
    "log_share_toe",
    "log_share_high",
    "missing",
    "log_n",
    "told",
    "log_apart",
)
ERR_FEATURES = {
    "toe_err": ("log_share_toe", "log_net_toe", "own_near", "peak", "log_n", "told"),
    "high_err": ("log_share_high", "log_net_high", "own_near", "peak", "log_n", "told"),
}
GROUP_FEATURES = {
    "group_toe_err": ("doubt", "log_mean_err_toe", "log_n", "told"),
    "group_high_err": ("doubt", "log_mean_err_high", "log_n", "told"),
    "spread_toe_err": ("doubt", "log_mean_err_toe", "log_spread", "log_n", "told"),
    "spread_high_err": ("doubt", "log_mean_err_high", "log_spread", "log_n", "told"),
    "count_err": ("doubt", "log_n"),
}
WRONG_AND_SURE = 0.01


def faces(n: int, seed: int) -> Iterator[tuple[FaceMap, NDArray[np.float64]]]:
    """Drawn faces as ``FaceMap`` and their true centres (m, 2) in mm."""
    generator = torch.Generator().manual_seed(seed)
    done = 0
    while done < n:
        sheets = draw_sheets(min(8, n - done), generator, torch.device("cpu"))
        for i in range(len(sheets.grey)):
            inside = sheets.inside[i].numpy() > 0.5
            if not inside.any():
                continue
            grey = sheets.grey[i].numpy().astype(np.uint8)
            rows, columns = np.nonzero(inside)
            pad = int(RECTIFIED_PAD_MM * PX_PER_MM)
            top, left = max(0, rows.min() - pad), max(0, columns.min() - pad)
            cut = (slice(top, rows.max() + pad + 1), slice(left, columns.max() + pad + 1))
            face_map = FaceMap(
                pixels=np.repeat(grey[cut][..., None], 3, axis=2),
                inside=inside[cut],
                left_toe_mm=(left - (WIDTH_PX - 1) / 2) / PX_PER_MM,
                top_high_mm=((HEIGHT_PX - 1) / 2 - top) / PX_PER_MM,
                px_per_mm=PX_PER_MM,
            )
            p = sheets.prints
            real = p.there[i] > 0.5
            yield face_map, torch.stack([p.x_mm[i], p.y_mm[i]], dim=1)[real].numpy().astype(float)
        done += len(sheets.grey)


def look(
    net: Any, face_map: FaceMap, true: NDArray[np.float64], count: int | None, *, mirrors: int
) -> dict | None:
    """One reading with everything that the fits need; None if the face is said to be without marks."""
    planes = face_planes(face_map)
    free = ask(planes, None, mirrors=1, net=net)
    free_rate = splitter_read.on_face(free, face_map)
    seen = splitter_read.seen_balls(free, free_rate, BLANK)
    if seen == 0.0:
        return None
    n = count if count is not None else max(1, round(seen))
    maps = ask(planes, n, mirrors=mirrors, net=net)
    rate = splitter_read.on_face(maps, face_map)
    shares = share_out(rate, n)
    mm = face_map.mm_from_map(splitter_read.cells_to_map(shares.xy))
    mean, sd = splitter_read.moments(rate)
    return {
        "features": splitter_read.point_features(maps, rate, shares, count is not None),
        "mm": mm,
        "mean": face_map.mm_from_map(splitter_read.cells_to_map(mean[None]))[0],
        "sd": sd * math.sqrt(n / (n - 1)) if n > 1 else np.zeros(2),
        "seen": seen,
        "told": count is not None,
        "true": true,
    }


def match(true: NDArray[np.float64], mm: NDArray[np.float64], gate_mm: float) -> list[tuple[int, int]]:
    """Pairs (true, said) within the gate, the most pairs and then the nearest."""
    if not len(true) or not len(mm):
        return []
    far = np.linalg.norm(true[:, None] - mm[None], axis=2)
    rows, columns = linear_sum_assignment(np.where(far <= gate_mm, far, 1e3))
    return [(int(i), int(j)) for i, j in zip(rows, columns, strict=True) if far[i, j] <= gate_mm]


def collect(net: Any, n: int, seed: int, *, mirrors: int) -> list[dict]:
    """Every face read once told (one in five wrong by one or two) and once not told."""
    rng = np.random.default_rng(seed)
    looks = []
    for face_map, true in faces(n, seed):
        told = len(true) + (int(rng.choice([-2, -1, 1, 2])) if rng.random() < 0.2 else 0)
        if len(true) == 0:
            told = int(rng.integers(1, 13))
        for count in (None, max(1, told)):
            got = look(net, face_map, true, count, mirrors=mirrors)
            looks.append(got or {"true": true, "told": count is not None, "seen": 0.0, "features": None})
    return looks


def fit(looks: list[dict]) -> dict:
    """Calibration from looks."""
    seen = np.array([k["seen"] for k in looks if not k["told"]])
    real = np.array([len(k["true"]) for k in looks if not k["told"]])
    factor = float((seen * real).sum() / max((seen * seen).sum(), 1e-9))
    read = [k for k in looks if k["features"] is not None]
    features = {name: np.concatenate([k["features"][name] for k in read]) for name in read[0]["features"]}
    right, miss = [], []
    for k in read:
        near = np.zeros(len(k["mm"]))
        near[[j for _, j in match(k["true"], k["mm"], GATE_MM)]] = 1.0
        right.append(near)
        off = np.full((len(k["mm"]), 2), np.nan)
        for i, j in match(k["true"], k["mm"], 15.0):
            off[j] = np.abs(k["true"][i] - k["mm"][j])
        miss.append(off)
    hit, off = np.concatenate(right), np.concatenate(miss)
    calibration = dict(BLANK) | {"count_factor": factor}
    calibration["score"] = _fit_odds(features, hit, SCORE_FEATURES)
    known = ~np.isnan(off[:, 0])
    for axis, name in enumerate(("toe_err", "high_err")):
        some = {key: value[known] for key, value in features.items()}
        calibration[name] = _fit_err(some, off[known, axis], ERR_FEATURES[name])
    score = 1.0 / (1.0 + np.exp(-splitter_read.line(calibration["score"], features)))
    calibration["sure_score"] = _sure(score, hit)
    return calibration | _fit_group(read, calibration, factor)


def _fit_odds(features: dict, hit: NDArray[np.float64], names: tuple[str, ...]) -> dict:
    """Logistic regression, a little ridge."""
    X = np.column_stack([features[name] for name in names])

    def cost(w: NDArray[np.float64]) -> float:
        z = w[0] + X @ w[1:]
        return float(np.mean(np.logaddexp(0.0, z) - hit * z) + 1e-4 * (w[1:] ** 2).sum())

    w = minimize(cost, np.zeros(len(names) + 1), method="BFGS").x
    return {"bias": float(w[0])} | {name: float(v) for name, v in zip(names, w[1:], strict=True)}


def _fit_err(features: dict, off: NDArray[np.float64], names: tuple[str, ...]) -> dict:
    """Log of a standard error whose 68 % range holds: Laplace likelihood for the shape, then one scale.

    Errors have longer tails than a normal's; the Laplace form does not let a few gross ones decide.
    """
    X = np.column_stack([features[name] for name in names])

    def cost(w: NDArray[np.float64]) -> float:
        s = np.clip(w[0] + X @ w[1:], -4.0, 5.0)
        return float(np.mean(off * np.exp(-s) + s) + 1e-3 * (w[1:] ** 2).sum())

    w = minimize(cost, np.zeros(len(names) + 1), method="BFGS").x
    ratio = off / np.exp(w[0] + X @ w[1:])
    # Between what the 68 % and what the 95 % range ask for.
    scale = math.sqrt(float(np.quantile(ratio, 0.683)) * float(np.quantile(ratio, 0.95)) / 1.96)
    return {"bias": float(w[0] + math.log(scale))} | {n: float(v) for n, v in zip(names, w[1:], strict=True)}


def _sure(score: NDArray[np.float64], hit: NDArray[np.float64]) -> float:
    """Lowest score above which no more than one mark in a hundred is wrong."""
    order = np.argsort(-score)
    wrong = np.cumsum(1.0 - hit[order]) / np.arange(1, len(hit) + 1)
    fine = np.nonzero(wrong <= WRONG_AND_SURE)[0]
    return float(score[order][fine[-1]]) if len(fine) else 0.99


def _fit_group(read: list[dict], calibration: dict, factor: float) -> dict:
    """Errors of the density's mean, spread and count."""
    rows: dict[str, list] = {name: [] for name in splitter_read.GROUP_ERRS}
    features: dict[str, list] = {}
    for k in read:
        n, m = len(k["mm"]), len(k["true"])
        if m < 2 or n < 2:
            continue
        score = 1.0 / (1.0 + np.exp(-splitter_read.line(calibration["score"], k["features"])))
        err = np.column_stack(
            [np.exp(splitter_read.line(calibration[a], k["features"])) for a in ("toe_err", "high_err")]
        )
        for name, value in splitter_read.group_features(score, err, k["sd"], n, k["told"]).items():
            features.setdefault(name, []).append(float(value))
        centre, spread = (
            np.abs(k["mean"] - k["true"].mean(axis=0)),
            np.abs(k["sd"] - k["true"].std(axis=0, ddof=1)),
        )
        rows["group_toe_err"].append(centre[0])
        rows["group_high_err"].append(centre[1])
        rows["spread_toe_err"].append(spread[0])
        rows["spread_high_err"].append(spread[1])
        rows["count_err"].append(abs(k["seen"] * factor - m))
    table = {name: np.array(value) for name, value in features.items()}
    return {name: _fit_err(table, np.array(rows[name]), GROUP_FEATURES[name]) for name in rows}


def main() -> None:
    """Reads the command line, collects, fits, writes the card."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--onnx", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--faces", type=int, default=600)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--mirrors", type=int, default=4)
    parser.add_argument("--facts", type=Path, help="JSON with what else the card should say")
    told = parser.parse_args()
    torch.set_num_threads(1)
    weights = told.onnx.read_bytes()
    net = cv2.dnn.readNetFromONNX(np.frombuffer(weights, np.uint8))
    calibration = fit(collect(net, told.faces, told.seed, mirrors=told.mirrors))
    card = {"sha256": hashlib.sha256(weights).hexdigest(), "bytes": len(weights)}
    card |= json.loads(told.facts.read_text(encoding="utf-8")) if told.facts else {}
    card |= {"calibration_seed": told.seed, "calibration_faces": told.faces, "calibration": calibration}
    (told.out / "marks.json").write_text(json.dumps(card, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(calibration, indent=1))


if __name__ == "__main__":
    main()
