"""What ``bend`` and ``separate`` found, as plain data; and its doubts in words.

The ``nominal`` block is computed at the plain values: the club file's numbers, the head speed told (or
typical), face and path square, attack as told (or level), the plain ball, the air told (or standard). Anybody
can check the physics against it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from facemark.caveats import Caveat
from facemark.explain.causes import Causes
from facemark.explain.flight import Flight
from facemark.explain.shot import Conditions
from facemark.record import caveat_record, plain
from facemark.tell.explain_inputs import Told
from facemark.version import VERSION

SCHEMA = 1
NOMINAL = (
    "ball_mps",
    "launch_deg",
    "start_push_deg",
    "back_rpm",
    "side_draw_rpm",
    "axis_draw_deg",
    "carry_m",
    "curve_draw_m",
    "offline_push_m",
    "apex_m",
    "landing_deg",
)


def bend_record(flight: Flight, told: Told, where: Conditions) -> dict[str, Any]:
    """A flight as a dictionary that ``json.dumps`` takes as it is.

    Parameters
    ----------
    flight : Flight
    told : Told
    where : Conditions

    Returns
    -------
    dict
    """
    return {
        **_head("bend", told, where),
        "strike": {"toe_mm": flight.toe_mm, "high_mm": flight.high_mm, "n_balls": flight.n_balls},
        "plain": {
            "head_mps": flight.head_mps,
            "attack_up_deg": where.attack_up_deg or 0.0,
            "face_open_deg": 0.0,
            "path_out_deg": 0.0,
            "air_kgm3": plain(where.air.density_kgm3),
        },
        "nominal": {name: plain(getattr(flight, name).nominal) for name in NOMINAL},
        "ranges": {
            key: value
            for key, value in plain(flight, without=("caveats",)).items()
            if key not in {"n_balls", "toe_mm", "high_mm", "head_mps"}
        },
        "caveats": [caveat_record(caveat) for caveat in _all(flight.caveats, told)],
    }


def causes_record(causes: Causes, told: Told, where: Conditions) -> dict[str, Any]:
    """Causes as a dictionary that ``json.dumps`` takes as it is.

    Parameters
    ----------
    causes : Causes
    told : Told
    where : Conditions

    Returns
    -------
    dict
    """
    return {
        **_head("separate", told, where),
        **plain(causes, without=("caveats",)),
        "caveats": [caveat_record(caveat) for caveat in _all(causes.caveats, told)],
    }


def doubt_lines(caveats: Iterable[Caveat], told: Told) -> list[str]:
    """The doubts in words, each with what to do about it; empty if there are none.

    Parameters
    ----------
    caveats : iterable of Caveat
    told : Told

    Returns
    -------
    list of str
    """
    records = [caveat_record(caveat) for caveat in _all(caveats, told)]
    lines = []
    for item in records:
        detail = f" ({item['detail']})" if item["detail"] else ""
        lines.append(f"  - {item['meaning'].rstrip('.')}{detail}. {item['remedy']}")
    return ["Doubts:", *lines] if lines else []


def _head(command: str, told: Told, where: Conditions) -> dict[str, Any]:
    return {
        "schema": SCHEMA,
        "version": VERSION,
        "command": command,
        "hand": told.hand.value,
        "club": plain(told.setup.club),
        "conditions": plain(where),
    }


def _all(caveats: Iterable[Caveat], told: Told) -> list[Caveat]:
    """The explanation's caveats first, then the strikes' own; each key once."""
    of_strikes = told.strikes.caveats if told.strikes is not None else ()
    found: dict[str, Caveat] = {}
    for caveat in (*caveats, *of_strikes):
        found.setdefault(caveat.key, caveat)
    return list(found.values())
