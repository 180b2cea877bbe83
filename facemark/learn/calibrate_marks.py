"""How often is the splitter right when it says so? Fits its doubts on drawn faces of another seed.

    python -m tests.bench.drawn PHOTOS --n 20 --seed 41 --series 12
    python -m facemark.learn.calibrate_marks --onnx DIR/marks.onnx --out DIR --faces 220 --photos PHOTOS

Runs on a CPU (one core, about two seconds a face). Reads faces of the training simulator (another seed) as a
user would see them, believed outline and all, and photos of the second, separately written simulator
(facemark.see.draw) with the true rectification; the count is told (sometimes wrong by one or two) or not.
Faces of both that come with a photo before, laid over by the program in the second, are read as pairs too.
Then fits straight lines, all four kinds with the same weight: log-odds of "right within 4 mm", log of each
right mark's error (that it is right is what its score says), log of the group's errors (of faces read alone).
Every error is then scaled so that its 68 and 95 % ranges hold, all kinds counting the same. Writes
DIR/marks.json, the model card shipped beside the weights. ``--looks FILE`` keeps what the network said, to
fit again without asking it again; ``--facts FILE`` adds what else the card should say.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import pickle
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment, minimize

from facemark.learn.dice import HEIGHT_PX, PX_PER_MM, WIDTH_PX
from facemark.learn.mark_sheets import draw_sheets
from facemark.learn.true_map import true_map
from facemark.see import splitter_read
from facemark.see.align import align, grey_over, in_mm
from facemark.see.difference import is_resprayed, laid_over
from facemark.see.powder import map_powder
from facemark.see.rectify import RECTIFIED_PAD_MM, FaceMap
from facemark.see.splitter_net import MIRRORS, ask, face_planes, network
from facemark.see.splitter_points import GATE_MM, share_out

SEED = 770_001
FLAT = {"bias": 0.0}
BLANK = {
    "score": FLAT,
    "toe_err": FLAT,
    "high_err": FLAT,
    "shown_score": 0.4,
    "sure_score": 0.9,
    "sure_paired_score": 0.9,
}
PAIRS = ", pairs"  # ends the name of a kind of drawing that is read with the photo before
SCORE_FEATURES = (
    "own_near",
    "peak",
    "log_share_toe",
    "log_share_high",
    "missing",
    "log_n",
    "told",
    "paired",
    "log_apart",
    "twin",
)
ERR_FEATURES = {
    "toe_err": ("log_share_toe", "log_net_toe", "own_near", "peak", "log_n", "told", "paired"),
    "high_err": ("log_share_high", "log_net_high", "own_near", "peak", "log_n", "told", "paired"),
}
GROUP_FEATURES = {
    "group_toe_err": ("log_doubt", "log_mean_err_toe", "log_n", "log_centre_gap_toe"),
    "group_high_err": ("log_doubt", "log_mean_err_high", "log_n", "log_centre_gap_high"),
    "spread_toe_err": ("log_doubt", "log_mean_err_toe", "log_spread", "log_n", "log_spread_gap_toe"),
    "spread_high_err": ("log_doubt", "log_mean_err_high", "log_spread", "log_n", "log_spread_gap_high"),
    "count_err": ("log_doubt", "log_n"),
}
WRONG_AND_SURE = 0.01
FEWEST_FOR_A_SCALE = 20


class Face(NamedTuple):
    """A face, its true centres (m, 2) [mm], and, where it has one, the photo before and what is new."""

    face_map: FaceMap
    true: NDArray[np.float64]
    before: NDArray[np.uint8] | None = None  # (H, W) grey, laid over the face map
    new: NDArray[np.bool_] | None = None  # (m,)


def faces(n: int, seed: int) -> Iterator[Face]:
    """Drawn faces of the training simulator."""
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
            true = torch.stack([p.x_mm[i], p.y_mm[i]], dim=1)[real].numpy().astype(float)
            if i >= len(sheets.before):
                yield Face(face_map, true)
            else:
                before = sheets.before[i].numpy().astype(np.uint8)[cut]
                yield Face(face_map, true, before, (sheets.old[i] < 0.5)[real].numpy())
        done += len(sheets.grey)


def photo_faces(folder: Path) -> Iterator[Face]:
    """Photos of ``folder`` with the camera and outline of their truth files; then its sets, as pairs."""
    for path in sorted((folder / "truth").glob("*.json")):
        yield _photo_face(folder, json.loads(path.read_text(encoding="utf-8")))[0]
    for one in sorted(folder.glob("series_*")):
        truths = [json.loads(path.read_text(encoding="utf-8")) for path in (one / "truth").glob("*.json")]
        truths.sort(key=lambda truth: truth["series"]["index"])
        shots = [_photo_face(one, truth) for truth in truths]
        for (earlier, _), (latest, new) in pairwise(shots):
            powder = map_powder(earlier.face_map), map_powder(latest.face_map)
            warp, err_mm = align(*powder)
            if not is_resprayed(laid_over(*powder, warp), powder[1], err_mm):
                face_warp = in_mm(*powder, warp)
                before = grey_over(earlier.face_map, latest.face_map, face_warp)
                yield latest._replace(before=before, new=new)


def _photo_face(folder: Path, truth: dict[str, Any]) -> tuple[Face, NDArray[np.bool_]]:
    pixels = np.asarray(cv2.imread(str(folder / truth["image"]))[..., ::-1])
    centres = [[m["x_mm"], m["y_mm"]] for m in truth["marks"]]
    new = np.array([m.get("new", True) for m in truth["marks"]], bool)
    return Face(true_map(pixels, truth), np.array(centres, float).reshape(-1, 2)), new


def look(
    net: Any,
    face_map: FaceMap,
    true: NDArray[np.float64],
    count: int | None,
    *,
    mirrors: int,
    before: NDArray[np.uint8] | None = None,
) -> dict | None:
    """One reading with everything that the fits need; None if the face is said to be without marks."""
    planes = face_planes(face_map, before)
    free = ask(planes, None, mirrors=mirrors if count is None else 1, net=net)
    free_rate = splitter_read.on_face(free, face_map)
    seen = splitter_read.seen_balls(free, free_rate)
    if seen == 0.0:
        return None
    n = count if count is not None else round(seen)
    maps = free if count is None else ask(planes, n, mirrors=mirrors, net=net)
    rate = splitter_read.on_face(maps, face_map)
    shares = share_out(rate, n)
    return {
        "features": splitter_read.point_features(
            maps, rate, shares, told=count is not None, paired=before is not None
        ),
        "mm": face_map.mm_from_map(splitter_read.cells_to_map(shares.xy)),
        "face_map": face_map,
        "rate": rate,
        "seen": seen,
        "told": count is not None,
        "paired": before is not None,
        "true": true,
    }


def match(true: NDArray[np.float64], mm: NDArray[np.float64], gate_mm: float) -> list[tuple[int, int]]:
    """Pairs (true, said) within the gate, the most pairs and then the nearest."""
    if not len(true) or not len(mm):
        return []
    far = np.linalg.norm(true[:, None] - mm[None], axis=2)
    rows, columns = linear_sum_assignment(np.where(far <= gate_mm, far, 1e3))
    return [(int(i), int(j)) for i, j in zip(rows, columns, strict=True) if far[i, j] <= gate_mm]


def collect(
    net: Any, drawn: Iterable[Face], kind: str, rng: np.random.Generator, *, mirrors: int
) -> list[dict]:
    """Every face read once told (one in five wrong by one or two) and once not told; pairs as pairs too."""
    looks = []
    for face in drawn:
        ways = [(face.true, None, kind)]
        if face.before is not None and face.new is not None:
            ways.append((face.true[face.new], face.before, kind + PAIRS))
        for true, before, way in ways:
            told = len(true) + (int(rng.choice([-2, -1, 1, 2])) if rng.random() < 0.2 else 0)
            if len(true) == 0:
                told = int(rng.integers(1, 13))
            for count in (None, max(1, told)):
                got = look(net, face.face_map, true, count, mirrors=mirrors, before=before)
                looks.append((got or {"true": true, "features": None}) | {"kind": way})
    return looks


def fit(looks: list[dict]) -> dict:
    """Calibration from looks."""
    read = [k for k in looks if k["features"] is not None]
    features = {name: np.concatenate([k["features"][name] for k in read]) for name in read[0]["features"]}
    kind = np.concatenate([[k["kind"]] * len(k["mm"]) for k in read])
    right, miss = [], []
    for k in read:
        near = np.zeros(len(k["mm"]))
        near[[j for _, j in match(k["true"], k["mm"], GATE_MM)]] = 1.0
        right.append(near)
        off = np.full((len(k["mm"]), 2), np.nan)
        for i, j in match(k["true"], k["mm"], GATE_MM):
            off[j] = np.abs(k["true"][i] - k["mm"][j])
        miss.append(off)
    hit, off = np.concatenate(right), np.concatenate(miss)
    calibration = dict(BLANK)
    calibration["score"] = _fit_odds(features, hit, kind, SCORE_FEATURES)
    score = 1.0 / (1.0 + np.exp(-splitter_read.line(calibration["score"], features)))
    for name, pairs in (("sure_score", False), ("sure_paired_score", True)):
        kinds = [one for one in set(kind) if one.endswith(PAIRS) == pairs]
        calibration[name] = max((_sure(score[kind == k], hit[kind == k]) for k in kinds), default=1.0)
    known = ~np.isnan(off[:, 0])
    # What is not even shown needs no error of its own.
    known &= score >= calibration["shown_score"]
    some = {key: value[known] for key, value in features.items()}
    for axis, name in enumerate(("toe_err", "high_err")):
        calibration[name] = _fit_err(some, off[known, axis], kind[known], ERR_FEATURES[name])
    return calibration | _fit_groups(read, calibration)


def _even(kind: NDArray[np.str_]) -> NDArray[np.float64]:
    """Weights that sum to one, the same for each kind of drawing."""
    names, where, counts = np.unique(kind, return_inverse=True, return_counts=True)
    return 1.0 / (len(names) * counts[where])


def _fit_odds(
    features: dict, hit: NDArray[np.float64], kind: NDArray[np.str_], names: tuple[str, ...]
) -> dict:
    """Logistic regression, a little ridge."""
    weight = _even(kind)
    X = np.column_stack([features[name] for name in names])

    def cost(w: NDArray[np.float64]) -> float:
        z = w[0] + X @ w[1:]
        return float(weight @ (np.logaddexp(0.0, z) - hit * z) + 1e-4 * (w[1:] ** 2).sum())

    w = minimize(cost, np.zeros(len(names) + 1), method="BFGS").x
    return {"bias": float(w[0])} | {name: float(v) for name, v in zip(names, w[1:], strict=True)}


def _fit_err(
    features: dict, off: NDArray[np.float64], kind: NDArray[np.str_], names: tuple[str, ...]
) -> dict:
    """Log of a standard error whose ranges hold: Laplace likelihood for the shape, then one scale.

    Errors have longer tails than a normal's; the Laplace form does not let a few gross ones decide.
    """
    weight = _even(kind)
    X = np.column_stack([features[name] for name in names])

    def cost(w: NDArray[np.float64]) -> float:
        s = np.clip(w[0] + X @ w[1:], -4.0, 5.0)
        return float(weight @ (off * np.exp(-s) + s) + 1e-3 * (w[1:] ** 2).sum())

    w = minimize(cost, np.zeros(len(names) + 1), method="BFGS").x
    ratio = off / np.exp(w[0] + X @ w[1:])
    # Between what the 68 % and what the 95 % range ask for, and between the two kinds of drawing.
    asked = [
        math.log(float(np.quantile(ratio[kind == one], share)) / sigmas)
        for one in set(kind)
        for share, sigmas in ((0.683, 1.0), (0.95, 1.96))
        if (kind == one).sum() >= FEWEST_FOR_A_SCALE
    ]
    return {"bias": float(w[0] + np.mean(asked))} | {n: float(v) for n, v in zip(names, w[1:], strict=True)}


def _sure(score: NDArray[np.float64], hit: NDArray[np.float64]) -> float:
    """Lowest score above which no more than one mark in a hundred is wrong."""
    order = np.argsort(-score)
    wrong = np.cumsum(1.0 - hit[order]) / np.arange(1, len(hit) + 1)
    fine = np.nonzero(wrong <= WRONG_AND_SURE)[0]
    return float(score[order][fine[-1]]) if len(fine) else 0.99


def _fit_groups(read: list[dict], calibration: dict) -> dict:
    """Errors of centre, spread and count, for groups from the marks and from the density."""
    rows: dict[bool, list[dict]] = {True: [], False: []}
    for k in read:
        m = len(k["true"])
        if m == 0 or k["paired"]:
            continue
        score = 1.0 / (1.0 + np.exp(-splitter_read.line(calibration["score"], k["features"])))
        err = np.column_stack(
            [np.exp(splitter_read.line(calibration[a], k["features"])) for a in ("toe_err", "high_err")]
        )
        use = splitter_read.counted_points(score, k["told"], calibration)
        place = splitter_read.group_place(k["rate"], k["mm"][use], score[use], k["face_map"])
        off = np.abs(place.centre - k["true"].mean(axis=0))
        many = m > 1 and use.sum() > 1
        wide = np.abs(place.spread - k["true"].std(axis=0, ddof=1)) if many else (np.nan, np.nan)
        misses = (off[0], off[1], wide[0], wide[1], abs(k["seen"] - m))
        row = dict(splitter_read.group_features(score[use], err[use], place))
        row |= dict(zip(splitter_read.GROUP_ERRS, misses, strict=True))
        rows[place.from_marks].append({name: float(v) for name, v in row.items()} | {"kind": k["kind"]})
    return {
        "group_from_marks": _fit_group(rows[True]),
        "group_from_density": _fit_group(rows[False]),
    }


def _fit_group(rows: list[dict]) -> dict:
    lines = {}
    for name, wanted in GROUP_FEATURES.items():
        some = [row for row in rows if not math.isnan(row[name])]
        table = {key: np.array([row[key] for row in some]) for key in wanted}
        kind = np.array([row["kind"] for row in some])
        lines[name] = _fit_err(table, np.array([row[name] for row in some]), kind, wanted)
    return lines


def collect_all(told: argparse.Namespace) -> list[dict]:
    """Both kinds of drawing, as the command line asks."""
    net = network(str(told.onnx))
    rng = np.random.default_rng(told.seed)
    looks = collect(net, faces(told.faces, told.seed), "training simulator", rng, mirrors=told.mirrors)
    for folder in told.photos:
        looks += collect(net, photo_faces(folder), "drawn photos", rng, mirrors=told.mirrors)
    return looks


def _kept(path: Path | None) -> list[dict]:
    return list(pickle.loads(path.read_bytes())) if path is not None and path.is_file() else []


def main() -> None:
    """Reads the command line, collects, fits, writes the card."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--onnx", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--faces", type=int, default=600)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--mirrors", type=int, default=MIRRORS)
    parser.add_argument("--photos", type=Path, nargs="*", default=[], help="folders of tests.bench.drawn")
    parser.add_argument("--looks", type=Path, help="what the network said is kept here, to fit again")
    parser.add_argument("--facts", type=Path, help="JSON with what else the card should say")
    told = parser.parse_args()
    torch.set_num_threads(1)
    weights = told.onnx.read_bytes()
    looks = _kept(told.looks) or collect_all(told)
    if told.looks is not None:
        told.looks.write_bytes(pickle.dumps(looks))
    calibration = fit(looks)
    n_photos = sum(k["kind"] == "drawn photos" for k in looks) // 2
    card = {"sha256": hashlib.sha256(weights).hexdigest(), "bytes": len(weights)}
    card |= json.loads(told.facts.read_text(encoding="utf-8")) if told.facts else {}
    card |= {"calibration_seed": told.seed, "calibration_faces": told.faces}
    card |= {"calibration_photos": n_photos, "calibration": calibration}
    (told.out / "marks.json").write_text(json.dumps(card, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(calibration, indent=1))


if __name__ == "__main__":
    main()
