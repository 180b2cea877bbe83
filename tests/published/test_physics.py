"""Our impact and flight against published values: every row of physics.toml, missed ones with the reason."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from facemark.clubs import typical_club
from facemark.explain import constants as c
from facemark.explain.air import Air
from facemark.explain.heads import Heads, plain_head
from facemark.explain.impact import Delivery, Launch, solve_blow, strike_ball, touch
from facemark.explain.trajectory import Balls, fly
from facemark.inputs import ClubKind
from facemark.sources import SOURCES
from tests.worked.launches import launch_of

MPS_PER_MPH = 0.44704  # exact
M_PER_YD = 0.9144  # exact
AIR = Air(temperature_degc=25.0)  # what the tour means are republished for
ROWS: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "physics.toml").read_text(encoding="utf-8")
)["row"]


def parameters() -> list[Any]:
    return [
        pytest.param(
            row,
            id=row["key"],
            marks=[pytest.mark.xfail(strict=True, reason=row["known_miss"])] if "known_miss" in row else [],
        )
        for row in ROWS
    ]


@pytest.mark.parametrize("row", parameters())
def test_published_value(row: dict[str, Any]) -> None:
    found = FIND[row["find"]](row)
    for name, expected in row["expect"].items():
        limits = {"rel": row["within_frac"]} if "within_frac" in row else {"abs": row["within"], "rel": 0.0}
        assert found[name] == pytest.approx(expected, **limits), name


def test_every_row_says_where_it_is_from() -> None:
    assert len({row["key"] for row in ROWS}) == len(ROWS)
    for row in ROWS:
        assert row["source"] in SOURCES
        assert row["how"] in {"seen", "quoted", "memory"}
        assert row["seen"] == (row["how"] == "seen")
        assert not (row.get("tuned") and "known_miss" in row)


def test_enough_rows_were_not_tuned_on() -> None:
    fresh = [row for row in ROWS if row["seen"] and not row.get("tuned") and "known_miss" not in row]
    assert len(fresh) >= 10


def head_of(row: dict[str, Any]) -> Heads:
    heads = plain_head(replace(typical_club(ClubKind(row["kind"])), sweet_toe_mm=0.0, sweet_high_mm=0.0))
    changed = {
        "loft_deg": row.get("loft_deg"),
        "cg_depth_mm": row.get("depth_mm"),
        "head_kg": row.get("head_kg"),
        "bulge_mm": row["bulge_in"] * 25.4 if "bulge_in" in row else None,
    }
    heads = replace(
        heads, **{name: np.float64(value) for name, value in changed.items() if value is not None}
    )
    if "moi_kgm2" in row:
        vertical, heeltoe, foreaft = row["moi_kgm2"]
        heads = replace(heads, inertia_kgm2=np.diag([foreaft, vertical, heeltoe]))
    return heads


def struck(heads: Heads, row: dict[str, Any], *, mph: float | None = None, **more: float) -> Launch:
    return strike_ball(
        heads,
        more.pop("toe_mm", 0.0),
        more.pop("high_mm", 0.0),
        delivery=Delivery(
            head_mps=(row.get("head_mph", 94.0) if mph is None else mph) * MPS_PER_MPH,
            attack_up_deg=row.get("attack_deg", 0.0),
            **more,
        ),
    )


def root(of: Callable[[float], float], low: float, high: float) -> float:
    from scipy.optimize import brentq

    return float(brentq(of, low, high, xtol=1e-9))


def mph_for_carry(heads: Heads, row: dict[str, Any]) -> float:
    """Head speed whose centred strike carries as far as the row says."""
    return root(
        lambda mph: float(fly(struck(heads, row, mph=mph), air=AIR).carry_m) / M_PER_YD - row["carry_yd"],
        50,
        150,
    )


def gear(row: dict[str, Any]) -> dict[str, float]:
    heads = head_of(row)
    launch = struck(heads, row, mph=mph_for_carry(heads, row), toe_mm=row["toe_mm"])
    curve = float(fly(launch, air=AIR).curve_draw_m) / M_PER_YD
    return {"tilt_draw_deg": float(launch.axis_draw_deg), "curve_draw_yd": curve}


def gear_step(row: dict[str, Any]) -> dict[str, float]:
    near, far = (gear({**row, "toe_mm": toe}) for toe in row["toe_mm"])
    return {"tilt_draw_deg": far["tilt_draw_deg"] - near["tilt_draw_deg"]}


def toe_spin(row: dict[str, Any]) -> dict[str, float]:
    curved = head_of(row)
    flat = replace(curved, bulge_mm=np.float64(np.inf))
    mph = root(
        lambda mph: (
            float(struck(curved, row, mph=mph, toe_mm=row["toe_mm"]).ball_mps) / MPS_PER_MPH - row["ball_mph"]
        ),
        70,
        140,
    )
    net, bare = (struck(heads, row, mph=mph, toe_mm=row["toe_mm"]) for heads in (curved, flat))
    return {
        "gear_rpm": float(bare.side_draw_rpm),
        "net_rpm": float(net.side_draw_rpm),
        "bulge_rpm": float(bare.side_draw_rpm - net.side_draw_rpm),
        "finish_draw_yd": -float(fly(net, air=AIR).offline_push_m) / M_PER_YD,
    }


def bulge_on_line(row: dict[str, Any]) -> dict[str, float]:
    heads = head_of(row)

    def offline_m(bulge_mm: float) -> float:
        bent = replace(heads, bulge_mm=np.float64(bulge_mm))
        return float(fly(struck(bent, row, toe_mm=row["toe_mm"]), air=AIR).offline_push_m)

    return {"bulge_in": root(offline_m, 100.0, 1200.0) / 25.4}


def normal_turn(row: dict[str, Any]) -> dict[str, float]:
    contact = touch(head_of(row), row["toe_mm"], 0.0, delivery=Delivery(head_mps=42.0))
    return {"turn_deg": float(np.degrees(np.arctan2(contact.normal[2], contact.normal[0])))}


def opens_in_contact(row: dict[str, Any]) -> dict[str, float]:
    heads = head_of(row)
    contact = touch(heads, row["toe_mm"], 0.0, delivery=Delivery(head_mps=row["head_mph"] * MPS_PER_MPH))
    turning = solve_blow(contact).head_radps[1]
    # The turning grows from nothing to its end value, so half of it on average.
    return {"turn_deg": float(np.degrees(abs(turning) * heads.contact_s / 2.0))}


def inertia_gain(row: dict[str, Any]) -> dict[str, float]:
    heads = head_of(row)
    speeds = []
    for moi in row["moi_g_cm2"]:
        inertia = heads.inertia_kgm2.copy()
        inertia[1, 1] = moi * 1e-7
        launch = struck(replace(heads, inertia_kgm2=inertia), row, toe_mm=row["toe_mm"])
        speeds.append(float(launch.ball_mps) / MPS_PER_MPH)
    return {"gain_mph": speeds[1] - speeds[0]}


def carry_lost(row: dict[str, Any]) -> dict[str, float]:
    heads = head_of(row)
    off = struck(heads, row, mph=mph_for_carry(heads, row), toe_mm=row["toe_mm"])
    return {"lost_yd": row["carry_yd"] - float(fly(off, air=AIR).carry_m) / M_PER_YD}


def tilt_per_degree(row: dict[str, Any]) -> dict[str, float]:
    return {"tilt_deg": -float(struck(head_of(row), row, face_open_deg=1.0).axis_draw_deg)}


def bend_per_tilt(row: dict[str, Any]) -> dict[str, float]:
    launch = struck(head_of(row), row, face_open_deg=1.0)
    flown = fly(launch, air=AIR)
    return {"percent": 100.0 * float(flown.curve_draw_m / flown.carry_m / launch.axis_draw_deg)}


def face_share(row: dict[str, Any]) -> dict[str, float]:
    """How near the launch lies to the loft, from the attack: the vertical twin of face and path."""
    heads = head_of(row)
    attack = row.get("attack_deg", 0.0)
    return {"percent": 100.0 * float((struck(heads, row).launch_deg - attack) / (heads.loft_deg - attack))}


def face_share_range(row: dict[str, Any]) -> dict[str, float]:
    shares = []
    # Angles of attack as golfers have them: level with a driver, downward with irons (from memory).
    attacks = {"driver": 0.0, "fairway": -2.0, "hybrid": -3.0, "iron": -4.0, "wedge": -5.0}
    for kind, attack in attacks.items():
        of = {"kind": kind, "head_mph": 85.0, "attack_deg": attack}
        shares.append(face_share(of)["percent"])
        shares.append(100.0 * float(struck(head_of(of), of, face_open_deg=1.0).start_push_deg))
    return {"least_percent": min(shares), "most_percent": max(shares)}


def loft_step(row: dict[str, Any]) -> dict[str, float]:
    heads = head_of(row)
    less, more = (struck(replace(heads, loft_deg=heads.loft_deg + d), row) for d in (0.0, 1.0))
    return {
        "launch_deg": float(more.launch_deg - less.launch_deg),
        "back_rpm": float(more.back_rpm - less.back_rpm),
    }


def height_step(row: dict[str, Any]) -> dict[str, float]:
    low, high = (struck(head_of(row), row, high_mm=h) for h in row["high_mm"])
    return {
        "launch_deg": float(high.launch_deg - low.launch_deg),
        "back_rpm": float(high.back_rpm - low.back_rpm),
        "carry_yd": float(fly(high, air=AIR).carry_m - fly(low, air=AIR).carry_m) / M_PER_YD,
    }


def mean_force(row: dict[str, Any]) -> dict[str, float]:
    momentum = c.BALL_KG.value * float(struck(head_of(row), row).ball_mps)
    return {"newton": momentum / (row["contact_ms"] * 1e-3)}


def centred(row: dict[str, Any]) -> dict[str, float]:
    heads = head_of(row)
    if "launch_deg" in row:  # the loft is not printed: take the one that launches as printed

        def off_by(loft_deg: float) -> float:
            return (
                float(struck(replace(heads, loft_deg=np.float64(loft_deg)), row).launch_deg)
                - row["launch_deg"]
            )

        heads = replace(heads, loft_deg=np.float64(root(off_by, 1.0, 60.0)))
    launch = struck(heads, row)
    return {
        "launch_deg": float(launch.launch_deg),
        "back_rpm": float(launch.back_rpm),
        "ball_mph": float(launch.ball_mps) / MPS_PER_MPH,
    }


def flown(row: dict[str, Any]) -> Launch:
    ball_mph, launch_deg, rpm = row["launch"]
    return launch_of(ball_mph * MPS_PER_MPH, launch_deg, rpm)


def flight(row: dict[str, Any]) -> dict[str, float]:
    landing = fly(flown(row), air=AIR)
    return {
        "carry_yd": float(landing.carry_m) / M_PER_YD,
        "apex_yd": float(landing.apex_m) / M_PER_YD,
        "landing_deg": float(landing.landing_deg),
    }


def spin_left(row: dict[str, Any]) -> dict[str, float]:
    landing = fly(flown(row), air=AIR)
    # Spin falls about exponentially over the flight.
    left = float(landing.spin_left_frac) ** (row["after_s"] / float(landing.time_s))
    return {"percent": 100.0 * left}


def balls_differ(row: dict[str, Any]) -> dict[str, float]:
    launch = flown(row)
    ratio = c.BALL_RADIUS_M.value * float(np.linalg.norm(launch.spin_radps) / launch.ball_mps)
    lift = c.LIFT_TOP_FRAC.value * ratio / (c.LIFT_HALF_FRAC.value + ratio)
    worse = Balls(drag_add_frac=np.array(0.02), lift_scale_frac=np.array(1.0 - 0.02 / lift))
    return {"carry_m": float(fly(launch, air=AIR).carry_m - fly(launch, air=AIR, balls=worse).carry_m)}


def coefficients(row: dict[str, Any]) -> dict[str, float]:
    s, re = row["spin_ratio"], row["reynolds"]
    slow = 1.0 / (1.0 + np.exp((re - c.DRAG_SLOW_MIDDLE) / c.DRAG_SLOW_WIDTH))
    return {
        "drag": c.DRAG_ZERO_FRAC.value + c.DRAG_SPIN_FRAC.value * s + c.DRAG_SLOW_FRAC.value * slow,
        "lift": c.LIFT_TOP_FRAC.value * s / (c.LIFT_HALF_FRAC.value + s),
    }


FIND: dict[str, Callable[[dict[str, Any]], dict[str, float]]] = {
    "gear": gear,
    "gear_step": gear_step,
    "toe_spin": toe_spin,
    "bulge_on_line": bulge_on_line,
    "normal_turn": normal_turn,
    "opens_in_contact": opens_in_contact,
    "inertia_gain": inertia_gain,
    "carry_lost": carry_lost,
    "tilt_per_degree": tilt_per_degree,
    "bend_per_tilt": bend_per_tilt,
    "face_share": face_share,
    "face_share_range": face_share_range,
    "loft_step": loft_step,
    "height_step": height_step,
    "mean_force": mean_force,
    "centred": centred,
    "flight": flight,
    "spin_left": spin_left,
    "balls_differ": balls_differ,
    "coefficients": coefficients,
}
