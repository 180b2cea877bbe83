"""How well facemark reads photos whose truth is known.

    python -m tests.bench.accuracy PHOTO_DIR ... --drawn 14 --seed 9001

PHOTO_DIR holds photos and truth/NAME.json. ``--drawn N`` adds N drawn photos of each tier (seeds 1-999 may be
developed on; from 9000 on they only give numbers). Every photo is read twice, with the number of balls told
and not told; hand, kind of club and a tag's side are told. What the photo alone says of the hand is counted
too. A refused photo is one on which every mark was missed. ``--save DIR`` keeps the readings as small JSON,
``--scores FILE`` what was scored (tests.bench.reliability draws it). Progressive sets: tests.bench.series.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import cv2
import numpy as np

import facemark
from facemark.clubs import typical_club
from facemark.errors import FacemarkError
from facemark.inputs import ClubKind, Hand, Photo, Reference, ReferenceKind, Setup
from tests.bench.drawn import TEST_SEED, bench_set
from tests.bench.random_points import random_table
from tests.bench.score import SIGMAS_95, Score, score_reading

TOLD = ("told", "not told")
TIER_ORDER = ("easy", "normal", "hard", "series")
# What each stage should reach, largest error of the scale by what it was taken from.
SCALE_LIMIT_FRAC = {"aruco": 0.01, "sheet": 0.01, "card": 0.015, "ball": 0.025, "none": 0.02}


def photos_in(folder: Path) -> Iterator[tuple[Photo, dict[str, Any]]]:
    """Every photo of a folder with its truth, read as a user's photo is."""
    for path in sorted((folder / "truth").glob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        truth["decode_s"] = decode_s((folder / truth["image"]).read_bytes())
        yield facemark.load(folder / truth["image"]), truth


def drawn_photos(n_per_tier: int, seed: int) -> Iterator[tuple[Photo, dict[str, Any]]]:
    for drawn in bench_set(n_per_tier, seed):
        drawn.truth["decode_s"] = decode_s(drawn.jpeg)
        yield drawn.photo, drawn.truth


def decode_s(jpeg: bytes) -> float:
    """Processor time of decoding a JPEG whole: what every time is held against, on a busy machine too."""
    start = time.process_time()
    cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    return time.process_time() - start


def setup_of(truth: dict[str, Any], n_balls: int | None) -> Setup:
    """What a user would have told about this photo."""
    kind = truth["reference"]["kind"]
    reference = Reference()
    if kind == "aruco":
        reference = Reference(kind=ReferenceKind.TAGS, size_mm=truth["reference"]["marker_side_mm"])
    elif kind == "sheet":
        reference = Reference(kind=ReferenceKind.SHEET, spacer_mm=truth["reference"]["spacer_mm"])
    elif kind == "none":
        reference = Reference(kind=ReferenceKind.FACE, size_mm=truth["face_length_mm"])
    hand = Hand.RIGHT if truth["handed"] == "R" else Hand.LEFT
    club = typical_club(ClubKind(truth["club_kind"]))
    return Setup(club=club, hand=hand, reference=reference, n_balls=n_balls)


def read_both(photo: Photo, truth: dict[str, Any], save: Path | None) -> dict[str, Score]:
    """The photo's scores with the number of balls told and not told."""
    scores = {}
    for told in TOLD:
        setup = setup_of(truth, len(truth["marks"]) if told == "told" else None)
        start = time.process_time()
        reading, refused = None, ""
        try:
            reading = facemark.read(photo, setup).to_dict()
        except FacemarkError as error:
            refused = f"{type(error).__name__}: {error}"
        except Exception as error:  # a bug: counted, shown, and the bench goes on
            refused = f"CRASH {type(error).__name__}: {error}"
        spent = time.process_time() - start
        scores[told] = score_reading(truth, reading, seconds_s=spent, refused=refused)
        if save is not None and reading is not None:
            folder = save / told.replace(" ", "_")
            folder.mkdir(parents=True, exist_ok=True)
            stem = Path(truth["image"]).stem
            (folder / f"{stem}.json").write_text(
                json.dumps(_small(truth["image"], reading)), encoding="utf-8"
            )
    return scores


def _small(image: str, reading: dict[str, Any]) -> dict[str, Any]:
    """Marks from the face centre, outline, scale and hand: what any scorer needs."""
    spot = reading["sweet_spot"]
    return {
        "image": image,
        "handed": reading["hand"][:1].upper(),
        "marks": [
            {
                "x_mm": m["toe_mm"] + spot["toe_mm"],
                "y_mm": m["high_mm"] + spot["high_mm"],
                "x_px": m["x_px"],
                "y_px": m["y_px"],
                "sd_mm": [m["toe_err_mm"], m["high_err_mm"]],
            }
            for m in reading["marks"]
        ],
        "outline_px": reading["face"]["outline_px"],
        "mm_per_px": reading["face"]["mm_per_px"],
    }


def marks_table(scores: dict[str, list[Score]]) -> list[str]:
    """One line per tier and per told / not told."""
    lines = [
        f"{'tier':7} {'balls':9} {'photos':>6} {'refused':>7} {'F1':>6} {'prec':>6} {'rec':>6} "
        f"{'visible':>7} {'rms':>5} {'median':>6} {'group':>6} {'spread':>7} "
        f"{'wrong sure':>11}"
    ]
    for tier in TIER_ORDER:
        for told in TOLD:
            rows = [s for s in scores[told] if s.tier == tier]
            if rows:
                lines.append(_marks_line(tier, told, rows))
    return lines


def _marks_line(tier: str, told: str, rows: list[Score]) -> str:
    right, shown, true = (sum(getattr(s, k) for s in rows) for k in ("n_right", "n_shown", "n_true"))
    precision, recall = right / max(shown, 1), right / max(true, 1)
    seen = sum(s.n_visible_right for s in rows) / max(sum(s.n_visible for s in rows), 1)
    miss = np.array([v for s in rows for v in s.miss_mm] or [np.nan])
    group = np.array([s.group_miss_mm for s in rows if s.group_miss_mm is not None] or [np.nan])
    spread = np.array([v for s in rows for v in s.spread_miss_frac] or [np.nan])
    wrong, sure = sum(s.n_sure_wrong for s in rows), sum(s.n_sure for s in rows)
    refused = sum(bool(s.refused) for s in rows)
    return (
        f"{tier:7} {told:9} {len(rows):6d} {refused:7d} {2 * right / max(shown + true, 1):6.3f} "
        f"{precision:6.3f} {recall:6.3f} {seen:7.3f} {np.sqrt(np.mean(miss**2)):5.2f} {np.median(miss):6.2f} "
        f"{np.median(group):6.2f} {100 * np.median(spread):6.0f}% {wrong:4d} of {sure:3d}"
    )


def ranges_table(scores: dict[str, list[Score]]) -> list[str]:
    """How often the stated 68 and 95 % ranges hold: marks, group centre, spread."""
    lines = [f"{'tier':7} {'balls':9} {'marks 68/95':>16} {'group 68/95':>16} {'spread 68/95':>16}"]
    for tier in TIER_ORDER:
        for told in TOLD:
            rows = [s for s in scores[told] if s.tier == tier]
            kinds = (
                [v for s in rows for v in getattr(s, kind)]
                for kind in ("ratio", "group_ratio", "spread_ratio")
            )
            if rows:
                lines.append(f"{tier:7} {told:9} " + " ".join(_held(values) for values in kinds))
    return lines


def _held(ratio: list[float]) -> str:
    """Share within one and within 1.96 stated errors, of how many."""
    if not ratio:
        return f"{'-':>16}"
    inside = [100 * np.mean(np.array(ratio) <= limit) for limit in (1.0, SIGMAS_95)]
    return f"{inside[0]:3.0f} /{inside[1]:4.0f} % {len(ratio):5d}"


def geometry_table(rows: list[Score]) -> list[str]:
    """Scale by what it was taken from, outline, hand, time."""
    lines = [f"{'scale from':11} {'photos':>6} {'median |err|':>12} {'largest':>8} {'limit':>6} {'over':>5}"]
    kinds: dict[str, list[float]] = defaultdict(list)
    for s in rows:
        if s.scale_err_frac is not None:
            kinds[s.reference].append(abs(s.scale_err_frac))
    for kind, errs in sorted(kinds.items()):
        limit = SCALE_LIMIT_FRAC[kind]
        lines.append(
            f"{kind:11} {len(errs):6d} {100 * np.median(errs):11.2f}% {100 * max(errs):7.2f}% "
            f"{100 * limit:5.1f}% {sum(e > limit for e in errs):5d}"
        )
    iou = [s.iou_frac for s in rows if s.iou_frac is not None]
    hands = [s.hand_seen for s in rows if not s.refused]
    times = [s.seconds_s for s in rows]
    if iou:
        low = sum(v < 0.95 for v in iou)
        lines.append(
            f"outline overlap: mean {np.mean(iou):.3f}, least {min(iou):.3f}, {low} of {len(iou)} under 0.95"
        )
        lines.append(
            f"hand as the photo shows it: {hands.count(True)} right, {hands.count(False)} wrong, "
            f"{hands.count(None)} not seen"
        )
        lines += place_lines([s for s in rows if not s.refused])
    lines.append(
        f"processor time to read, in process: median {np.median(times):.2f} s, longest {max(times):.2f} s"
    )
    decodes = [s.decodes for s in rows if s.decodes is not None]
    if decodes:
        lines.append(
            f"over decoding the photo whole: median {np.median(decodes):.1f} x, most {max(decodes):.1f} x"
        )
    return lines


def place_lines(rows: list[Score]) -> list[str]:
    """The face's centre and its level: how far off, and in how many photos within the stated range."""
    miss = np.array([s.centre_miss_mm for s in rows])
    ratio = np.array([s.centre_ratio for s in rows])
    turn = np.array([s.turn_miss_deg for s in rows], float)
    stated = np.array([s.turn_err_deg for s in rows], float)
    lines = []
    for k, way in enumerate(("toe", "high")):
        lines.append(
            f"centre, {way}: median {np.median(miss[:, k]):.2f} mm, largest {miss[:, k].max():.2f}, "
            f"in 68 {np.mean(ratio[:, k] <= 1):.0%}, in 95 {np.mean(ratio[:, k] <= SIGMAS_95):.0%}"
        )
    for words, some in (("score lines seen", stated < 2.0), ("no score lines", stated >= 2.0)):
        if some.any():
            within = turn[some] / stated[some]
            lines.append(
                f"level, {words}: {some.sum()} photos, median {np.median(turn[some]):.1f} deg, "
                f"largest {turn[some].max():.1f}, in 68 {np.mean(within <= 1):.0%}, "
                f"in 95 {np.mean(within <= SIGMAS_95):.0%}"
            )
    return lines


def reliability_table(rows: list[Score]) -> list[str]:
    """Do marks with a stated score of 0.7 turn out right in 70 % of cases?"""
    pairs = np.array([p for s in rows for p in s.likely], float).reshape(-1, 2)
    lines = [f"{'score':11} {'marks':>6} {'stated':>7} {'right':>6}"]
    for low, high in ((0.0, 0.25), (0.25, 0.5), (0.5, 0.7), (0.7, 0.85), (0.85, 0.95), (0.95, 1.001)):
        some = pairs[(pairs[:, 0] >= low) & (pairs[:, 0] < high)]
        if len(some):
            stated, right = some.mean(axis=0)
            lines.append(f"{low:.2f}-{min(high, 1.0):.2f}   {len(some):6d} {stated:7.2f} {right:6.2f}")
    return lines


def worst_list(rows: Iterable[Score]) -> list[str]:
    """Photos that deserve a look: refused, scale over the limit, outline or hand wrong."""
    lines = []
    for s in rows:
        faults = [s.refused] if s.refused else []
        if s.scale_err_frac is not None and abs(s.scale_err_frac) > SCALE_LIMIT_FRAC[s.reference]:
            faults.append(f"scale {100 * s.scale_err_frac:+.1f}% ({s.reference})")
        if s.iou_frac is not None and s.iou_frac < 0.95:
            faults.append(f"outline {s.iou_frac:.3f}")
        if s.hand_seen is False:
            faults.append("hand")
        if s.n_sure_wrong:
            faults.append(f"{s.n_sure_wrong} wrong and sure")
        if faults:
            lines.append(f"{s.image}: {'; '.join(faults)}")
    return lines


def main() -> None:
    """Read, score, print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--drawn", type=int, default=0, help="drawn photos per tier")
    parser.add_argument("--seed", type=int, default=TEST_SEED)
    parser.add_argument("--save", type=Path, default=None)
    parser.add_argument("--scores", type=Path, default=None)
    arguments = parser.parse_args()
    sources: list[tuple[str, Callable[[], Iterator[tuple[Photo, dict[str, Any]]]]]] = [
        (str(folder), lambda folder=folder: photos_in(folder)) for folder in arguments.folders
    ]
    if arguments.drawn:
        name = f"drawn, {arguments.drawn} a tier, seed {arguments.seed}"
        sources.append((name, lambda: drawn_photos(arguments.drawn, arguments.seed)))
    if not sources:
        parser.error("name a folder of photos, or --drawn N")
    kept = []
    for name, photos in sources:
        scores: dict[str, list[Score]] = {told: [] for told in TOLD}
        truths = []
        for photo, truth in photos():
            truths.append(truth)
            for told, score in read_both(photo, truth, arguments.save).items():
                scores[told].append(score)
        print(f"\n== {name}")
        print("\n".join(marks_table(scores)))
        print("\n".join(ranges_table(scores)))
        print("\n".join(random_table(truths)))
        print("\n".join(geometry_table(scores["told"])))
        print("\n".join(reliability_table([s for told in TOLD for s in scores[told]])))
        faults = worst_list(scores["told"])
        faults += [f"{s.image} (balls not told): {s.refused}" for s in scores["not told"] if s.refused]
        if faults:
            print("look at:\n  " + "\n  ".join(faults))
        kept += [{"source": name, "balls": told} | asdict(s) for told in TOLD for s in scores[told]]
    if arguments.scores:
        arguments.scores.write_text(json.dumps(kept), encoding="utf-8")


if __name__ == "__main__":
    main()
