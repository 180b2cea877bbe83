"""The numbers of the flight and of the causes: python -m tests.bench.physics [--golfers 500]

Times are processor times of this process on one core, so that other work on the machine does not count.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable
from dataclasses import replace

# One core, before numpy starts its threads.
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from facemark.clubs import typical_club
from facemark.explain import constants as c
from facemark.explain.air import STANDARD_AIR
from facemark.explain.causes import Verdict, separate_causes
from facemark.explain.heads import plain_head
from facemark.explain.impact import Delivery, Launch, strike_ball
from facemark.explain.notes import Note, curve_metres, start_degrees
from facemark.explain.shot import Conditions, draw_cases, hit
from facemark.explain.trajectory import fly
from facemark.inputs import ClubKind, Setup
from facemark.strike import Strike, StrikeSet
from tests.bench.golfers import coverage, golfers, verdicts
from tests.published.test_physics import ROWS
from tests.worked.adaptive import tight

N_STRIKES = 10_000
N_ADAPTIVE = 100
N_HEADS = 4_000
M_PER_YD = 0.9144
MPS_PER_MPH = 0.44704


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--golfers", type=int, default=500)
    count = parser.parse_args().golfers
    speed_of_flight()
    speed_of_separation()
    practice_without_a_source()
    published()
    promises(count)


def cpu_s(work: Callable[[], object], rounds: int = 5) -> float:
    """Least processor time of several runs."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def speed_of_flight() -> None:
    club = typical_club(ClubKind.DRIVER)
    where = Conditions(head_mps=42.0)
    rng = np.random.default_rng(1)
    cases = draw_cases(club, where, N_STRIKES, rng=rng)
    toe, high = rng.normal(0.0, 10.0, N_STRIKES), rng.normal(0.0, 6.0, N_STRIKES)
    took = cpu_s(lambda: hit(cases, (toe, high), where))
    print(f"{N_STRIKES} strikes, impact and flight, one call: {took:.2f} s")
    plain = plain_head(club)
    launch = strike_ball(plain, toe[:N_ADAPTIVE], high[:N_ADAPTIVE], delivery=Delivery(head_mps=42.0))
    singles = [_single(launch, k) for k in range(N_ADAPTIVE)]
    start = time.process_time()
    theirs = np.array([tight(single, STANDARD_AIR, 0.0, rtol=1e-8)[0] for single in singles])
    each = (time.process_time() - start) / N_ADAPTIVE
    off = np.abs(fly(launch).carry_m / theirs - 1.0).max()
    ratio = each / (took / N_STRIKES)
    print(f"  scipy solve_ivp (flight only, rtol 1e-8): {1000 * each:.1f} ms each; ours {ratio:.0f} x faster")
    print(f"  carries differ by {100 * off:.5f} % at most")


def _single(launch: Launch, k: int) -> Launch:
    return replace(launch, **{name: getattr(launch, name)[k] for name in Launch.__slots__})


def speed_of_separation() -> None:
    setup = Setup(club=typical_club(ClubKind.DRIVER), head_mps=42.0)
    strikes = StrikeSet(strikes=(Strike(toe_mm=12.0, high_mm=-2.0, toe_err_mm=1.0, high_err_mm=1.0),))
    notes = [Note(start=start_degrees(2.0), curve=curve_metres(8.0))]
    took = cpu_s(
        lambda: separate_causes(strikes, notes, setup, rng=np.random.default_rng(1), n_draws=N_HEADS),
        rounds=3,
    )
    print(f"separate with {N_HEADS} drawn heads: {took:.2f} s")


def practice_without_a_source() -> None:
    """What is said at every range, against the model at the plain values."""
    print("Said without a source, and the model at its plain values:")
    for kind, mps in ((ClubKind.DRIVER, 42.0), (ClubKind.IRON, 35.0), (ClubKind.WEDGE, 32.0)):
        heads = plain_head(replace(typical_club(kind), sweet_toe_mm=0.0, sweet_high_mm=0.0))
        share = float(
            strike_ball(heads, 0.0, 0.0, delivery=Delivery(head_mps=mps, face_open_deg=1.0)).start_push_deg
        )
        print(f"  the face owns 70 to 80 % or more of the start: {kind.value} {100 * share:.0f} %")
        toe, heel = (
            float(strike_ball(heads, t, 0.0, delivery=Delivery(head_mps=mps)).side_draw_rpm)
            for t in (12.0, -12.0)
        )
        print(f"  toe draws, heel fades: {kind.value} {toe:.0f} and {heel:.0f} rpm of draw at 12 mm")
    heads = plain_head(typical_club(ClubKind.DRIVER))
    middle = float(fly(strike_ball(heads, 0.0, 0.0, delivery=Delivery(head_mps=42.0))).carry_m)
    print("  off-centre costs up to 20 to 30 yards (driver, 42 m/s, same speed):")
    for toe, high in ((12.0, 0.0), (25.0, 0.0), (0.0, 12.0), (0.0, -12.0), (-20.0, -12.0), (25.0, -15.0)):
        carry = float(fly(strike_ball(heads, toe, high, delivery=Delivery(head_mps=42.0))).carry_m)
        lost = (middle - carry) / M_PER_YD
        words = "agrees" if lost >= 20.0 else "the model says less"
        print(f"    {toe:+4.0f} mm toe, {high:+4.0f} mm high: {lost:5.1f} yd, {words}")


def published() -> None:
    fresh = [r for r in ROWS if r["seen"] and not r.get("tuned")]
    missed = [r["key"] for r in ROWS if "known_miss" in r]
    print(
        f"published rows: {len(ROWS)}; seen {sum(r['seen'] for r in ROWS)}, of them not tuned on {len(fresh)}"
        f"; known misses {len(missed)}: {', '.join(missed)}"
    )


def promises(count: int) -> None:
    found = list(golfers(count, seed=2026))
    print(f"{count} made-up golfers (driver, by eye, 1 to 10 balls): true value inside the stated range")
    for name, (in80, in95) in coverage(found).items():
        print(f"  {name:22s} 80 %: {100 * in80:.1f}   95 %: {100 * in95:.1f}")
    gain = [one.face_err_deg / one.face_err_without_deg for _, one in found]
    path = [one.path_err_deg / one.path_err_without_deg for _, one in found]
    print(
        "  doubt with the strike seen, against without: "
        f"face {np.median(gain):.2f}, path {np.median(path):.2f}"
    )
    print("verdicts, by what was truly off (rows), of 100:")
    print("  " + " ".join(f"{v.name:>11s}" for v in Verdict))
    each = max(count // 4, 1)
    for truth, only in (
        ("strike only", Verdict.STRIKE),
        ("face", Verdict.FACE),
        ("path", Verdict.PATH),
        ("both", None),
    ):
        told = list(golfers(each * (2 if only is Verdict.STRIKE else 1), seed=2027, only=only))
        counts = verdicts(told)
        print("  " + " ".join(f"{100 * counts[v] / len(told):11.1f}" for v in Verdict) + f"   {truth}")
        if only is Verdict.STRIKE:
            blamed = sum(counts[v] for v in (Verdict.FACE, Verdict.PATH, Verdict.BOTH))
            print(f"    false blame: {100 * blamed / len(told):.1f} % of {len(told)}")
        cleared = sum(
            causes.verdict is Verdict.STRIKE
            and (abs(g.face_open_deg) > c.FACE_SMALL_DEG or abs(g.path_out_deg) > c.PATH_SMALL_DEG)
            for g, causes in told
        )
        limits = f"{c.FACE_SMALL_DEG:g} deg of face or {c.PATH_SMALL_DEG:g} deg of path"
        print(f"    cleared, though off by more than {limits}: {100 * cleared / len(told):.1f} %")
        wrong = _wrongly_blamed(truth, counts)
        print(f"    a thing blamed that was not off: {100 * wrong / len(told):.1f} %")


def _wrongly_blamed(truth: str, counts: dict[Verdict, int]) -> int:
    wrong = {
        "strike only": (Verdict.FACE, Verdict.PATH, Verdict.BOTH),
        "face": (Verdict.PATH, Verdict.BOTH),
        "path": (Verdict.FACE, Verdict.BOTH),
        "both": (),
    }
    return sum(counts[v] for v in wrong[truth])


if __name__ == "__main__":
    main()
