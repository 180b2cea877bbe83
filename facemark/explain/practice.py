"""What do I practise next, and why? One block of balls: one focus, its stations, its rules.

focus.py chooses what comes first, stations.py what is set up for it, ladder.py how hard it is hit; here they
become one plan, with what weakens it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from facemark.caveats import BOTTLE_BY_EYE, GATE_EFFORT, GATE_ROUGH, MARKS_LEFT_OUT, Caveat
from facemark.errors import SetupError
from facemark.explain.corridor import check_corridor
from facemark.explain.evidence import gather_evidence
from facemark.explain.focus import ORDER, Blame, Why, choose_focus
from facemark.explain.gate import check_head
from facemark.explain.hitset import Drift
from facemark.explain.ladder import (
    N_UP,
    Block,
    Focus,
    Rung,
    Stop,
    check_effort,
    check_step,
    climb,
    club_key,
    of_club,
    stop_today,
)
from facemark.explain.offers import Offer, offers_beside
from facemark.explain.pattern import FEWEST_BALLS, Label, Pattern, describe_pattern
from facemark.explain.players import draw_toe_heel
from facemark.explain.stations import (
    HEIGHT_SHARE_FRAC,
    Aim,
    GateFrom,
    Known,
    PlanSetup,
    Station,
    build_station,
)
from facemark.explain.thresholds import thresholds_for
from facemark.explain.zone import zone_holding_mm
from facemark.inputs import ClubKind, Setup
from facemark.strike import StrikeSet

MINUTES = (3, 60)  # assumed
PASS_FRAC = 0.8  # of a first block: a coaching convention
SAME_EFFORT_FRAC = 0.1  # efforts nearer than this are one; half a step
GATE_ROUGH_FRAC = 0.8  # less sure than this that 7 to 9 of 10 pass: said


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """The next block."""

    focus: Focus
    why: Why
    station: Station
    effort_frac: float
    n_balls: int
    n_minutes: int
    rung: Rung
    stop: Stop | None  # today is over: this block is for another day
    zone_mm: float  # a good strike without a gate lies this near the sweet spot
    sweet_toe_mm: float  # of the club, from the head's middle; for the drawing
    kind: ClubKind
    club: str  # its ``club_key``
    pattern: Pattern | None
    offers: tuple[Offer, ...]
    caveats: tuple[Caveat, ...]


def plan_practice(
    strikes: StrikeSet | None,
    setup: Setup,
    *,
    told: PlanSetup | None = None,
    blame: Blame | None = None,
    blocks: Sequence[Block] = (),
    drift: Drift | None = None,
    rng: np.random.Generator,
) -> Practice:
    """Plan the next block.

    Parameters
    ----------
    strikes : StrikeSet or None
        The last marks. None: from the blocks alone.
    setup : Setup
        Club and head speed are used.
    told : PlanSetup
    blame : Blame or None
        What was found of face and path; None: nobody looked.
    blocks : Blocks of this player, oldest first; those of other clubs only end the day.
    drift : Drift or None
        Of the last set, where its order is known.
    rng : numpy.random.Generator

    Returns
    -------
    Practice

    Raises
    ------
    SetupError
        Too little to plan from, notes that contradict each other, or numbers that cannot be.
    """
    told = told or PlanSetup()
    _check(told)
    known = _gather(strikes, setup, told, blame, of_club(blocks, club_key(setup.club)), rng)
    focus, why = choose_focus(
        known.pattern, blame, known.ladders, told_path=told.comes_from is not None, day=told.day
    )
    rung = known.ladders[focus]
    drifting = drift is not None and drift.shown
    stop = None if told.day is None else stop_today(blocks, told.day, drifting=drifting)
    if stop is None and drifting:
        stop = Stop.DRIFT
    station = build_station(known, focus, why, rng)
    return Practice(
        focus=focus,
        why=why,
        station=station,
        effort_frac=rung.effort_frac,
        n_balls=rung.n_next,
        n_minutes=told.n_minutes,
        rung=rung,
        stop=stop,
        zone_mm=_zone_mm(known, station),
        sweet_toe_mm=setup.club.sweet_toe_mm,
        kind=setup.club.kind,
        club=club_key(setup.club),
        pattern=known.pattern,
        offers=offers_beside(focus, known.pattern),
        caveats=_caveats(station, known, rung.effort_frac),
    )


def _check(told: PlanSetup) -> None:
    low, high = MINUTES
    if not low <= told.n_minutes <= high:
        raise SetupError(
            f"a station of {told.n_minutes} minutes was asked for; {low} to {high} is possible",
            remedy="About ten minutes a station is usual.",
        )
    if told.head_mm is not None:
        check_head(told.head_mm)
    check_corridor(told.stick_gap_m, told.stick_distance_m, told.carry_m)
    if told.effort_frac is not None:
        check_step("--effort", told.effort_frac)
    if told.photo_effort_frac is not None:
        check_effort("--photo-effort", told.photo_effort_frac)


def _gather(
    strikes: StrikeSet | None,
    setup: Setup,
    told: PlanSetup,
    blame: Blame | None,
    blocks: Sequence[Block],
    rng: np.random.Generator,
) -> Known:
    pattern = None if strikes is None else describe_pattern(strikes, setup.club.kind)
    ladders = {focus: climb(blocks, focus, start_frac=told.effort_frac) for focus in ORDER}
    left_out = False
    started = any(rung.last_step is not None for rung in ladders.values())
    if pattern is None and not started:
        raise SetupError(
            "nobody has looked at the strikes yet, and every plan starts there",
            remedy="Spray the face, hit ten balls, and read the photo.",
        )
    if pattern is not None and pattern.label is Label.TOO_FEW:
        if not started:
            raise SetupError(
                f"only {pattern.n_balls} balls can be told from these marks:"
                " too few, or too much on top of each other",
                remedy=f"At least {FEWEST_BALLS} separate marks are needed, and {N_UP} make a good gate:"
                " photograph after every three or four balls.",
            )
        pattern, strikes, left_out = None, None, True
    group = None
    if strikes is not None:
        # The gate stands around the head, not around the sweet spot: its doubt does not move the tees.
        seen = replace(strikes.shared, sweet_toe_mm=0.0, sweet_high_mm=0.0)
        group = draw_toe_heel(gather_evidence(replace(strikes, shared=seen)), rng)
    return Known(
        strikes=strikes,
        setup=setup,
        told=told,
        blame=blame,
        pattern=pattern,
        group=group,
        ladders=ladders,
        left_out=left_out,
    )


def _zone_mm(known: Known, station: Station) -> float:
    """How near the sweet spot a good strike lies.

    Without a gate at least 8 of 10 of today's marks do; where height is worked on, once they lie as much
    higher or lower as is asked for.
    """
    zone = thresholds_for(known.setup.club.kind).zone_mm
    if station.aim not in (Aim.SLOWER, Aim.HEIGHT) or known.strikes is None:
        return zone
    moved = 0.0 if station.high_mm is None else -HEIGHT_SHARE_FRAC * station.high_mm
    return max(zone, zone_holding_mm(known.strikes, PASS_FRAC, moved_high_mm=moved))


def _caveats(station: Station, known: Known, effort_frac: float) -> tuple[Caveat, ...]:
    found = [] if known.pattern is None else list(known.pattern.caveats)
    if known.left_out:
        found.append(Caveat(key=MARKS_LEFT_OUT))
    chance = None if station.gate is None else station.gate.chance_frac
    if chance is not None and station.gate_from is GateFrom.FITTED:
        if chance < GATE_ROUGH_FRAC or (known.group is not None and known.group.odd_shape):
            found.append(Caveat(key=GATE_ROUGH))
        photo = known.told.photo_effort_frac
        if photo is not None and abs(photo - effort_frac) > SAME_EFFORT_FRAC:
            found.append(Caveat(key=GATE_EFFORT))
    if station.path_gate is not None:
        found.append(Caveat(key=BOTTLE_BY_EYE))
    return tuple(found)
