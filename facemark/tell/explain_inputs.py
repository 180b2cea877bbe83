"""From what was typed after ``bend`` and ``separate`` to strikes, setup, conditions and notes."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from facemark.errors import BookError, SetupError
from facemark.explain.air import Air
from facemark.explain.notes import Note
from facemark.explain.shot import Conditions
from facemark.inputs import ClubKind, Hand, Setup
from facemark.strike import Strike, StrikeSet
from facemark.tell.ask import club_from_options, speed_mps
from facemark.tell.note_text import NoteStyle, corridor_of, note_of, shot_of
from facemark.tell.settings import settings
from facemark.tell.words import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Strikes (None: none were given), setup and hand."""

    strikes: StrikeSet | None
    setup: Setup
    hand: Hand

    def need_strikes(self) -> StrikeSet:
        """The strikes.

        Raises
        ------
        SetupError
            None were given.
        """
        if self.strikes is None:
            raise SetupError("no strike was given", remedy="Say --toe and --high, or --reading FILE.json.")
        return self.strikes


def told_of(
    *,
    toe: Sequence[float] | None,
    high: Sequence[float] | None,
    strike_err: float,
    reading: Path | None,
    balls: int | None,
    club: Path | None,
    kind: ClubKind | None,
    speed: float | None,
    speed_unit: str,
    left: bool | None,
) -> Told:
    """Join the options about strikes, club, speed and hand.

    Parameters
    ----------
    toe, high, strike_err, reading, balls, club, kind, speed, speed_unit, left
        As the commands take them.

    Returns
    -------
    Told
        Club, hand and speed: as said, else the reading's, else the user's settings, else typical.

    Raises
    ------
    SetupError, BookError
    """
    chosen = settings()
    read = setup_of_file(reading)
    strikes = _strikes(toe, high, strike_err, reading, balls)
    if club is None and kind is None and read is None and chosen["club"].value is not None:
        club = Path(chosen["club"].value)
    used = read.club if read and club is None and kind is None else club_from_options(club, kind)
    hand = Hand(chosen["hand"].value or "right")
    if read is not None and read.hand is not None:
        hand = read.hand
    if left is not None:
        hand = Hand.LEFT if left else Hand.RIGHT
    mps = speed_mps(speed, speed_unit)
    if mps is None and read is not None:
        mps = read.head_mps
    return Told(strikes=strikes, setup=Setup(club=used, hand=hand, head_mps=mps), hand=hand)


def setup_of_file(path: Path | None) -> Setup | None:
    """Club, hand and speed of a reading's JSON; None: a table of strikes, or no file that can be read.

    Raises
    ------
    BookError
        One of them is not what a reading writes.
    """
    if path is None:
        return None
    try:
        record = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return None
    if not (isinstance(record, dict) and {"club", "hand", "head_mps"} <= set(record)):
        return None
    from facemark.tell.book.identity import club_of

    try:
        return Setup(club=club_of(record["club"]), hand=Hand(record["hand"]), head_mps=record["head_mps"])
    except (KeyError, TypeError, ValueError, AttributeError) as err:
        raise BookError(
            f"{path.name} is not the JSON of a reading ({type(err).__name__}: {str(err)[:60]})",
            remedy="Make it with facemark read PHOTO --json > FILE.json.",
        ) from None


def conditions_of(
    told: Told,
    *,
    attack: float | None,
    temperature: float | None,
    pressure: float | None,
    altitude: float,
    wind_help: float | None,
    wind_right: float | None,
    landing_up: float,
    speed_unit: str,
) -> Conditions:
    """Join the options about swing, air and landing place.

    Parameters
    ----------
    told : Told
    attack, temperature, pressure, altitude, wind_help, wind_right, landing_up, speed_unit
        As the commands take them.

    Returns
    -------
    Conditions

    Raises
    ------
    SetupError
    """
    to_push = 1.0 if told.hand is Hand.RIGHT else -1.0
    return Conditions(
        head_mps=told.setup.head_mps,
        attack_up_deg=attack,
        air=Air(
            temperature_degc=temperature,
            pressure_hpa=pressure,
            altitude_m=altitude,
            wind_help_mps=speed_mps(wind_help, speed_unit) or 0.0,
            wind_push_mps=to_push * (speed_mps(wind_right, speed_unit) or 0.0),
        ),
        landing_up_m=landing_up,
    )


def notes_of(
    told: Told,
    *,
    start: Sequence[str] | None,
    curve: Sequence[str] | None,
    shot: Sequence[str] | None,
    corridor: str | None,
    measured: bool,
    units: Units,
) -> list[Note]:
    """Join what was seen of the balls.

    Parameters
    ----------
    told : Told
    start, curve : sequence of str or None
        At most one each: about the one ball, or about the set.
    shot : sequence of str or None
        One a ball.
    corridor : str or None
    measured : bool
    units : Units

    Returns
    -------
    list of Note

    Raises
    ------
    SetupError
        Notes that contradict each other or are not understood.
    """
    style = NoteStyle(hand=told.hand, units=units, measured=measured)
    if corridor is not None:
        style = NoteStyle(hand=told.hand, units=units, measured=measured, edge_deg=corridor_of(corridor))
    for what, given in (("start", start), ("curve", curve)):
        if given and len(given) > 1:
            raise SetupError(
                f"--{what} was given as {' and as '.join(given)}; a set has one",
                remedy="Note the balls one by one with --shot.",
            )
    if shot and (start or curve):
        raise SetupError("--shot and --start or --curve were both given", remedy="Use --shot for each ball.")
    if shot:
        return [shot_of(text, style) for text in shot]
    if not start and not curve:
        return []
    many = told.strikes is not None and _n_balls(told.strikes) > 1
    return [note_of(start[0] if start else None, curve[0] if curve else None, style, of_set=many)]


def _n_balls(strikes: StrikeSet) -> float:
    if strikes.group is not None and not strikes.separable:
        return strikes.group.n_balls
    return sum(strike.n_balls for strike in strikes.strikes)


def _strikes(
    toe: Sequence[float] | None,
    high: Sequence[float] | None,
    err: float,
    reading: Path | None,
    balls: int | None,
) -> StrikeSet | None:
    toe, high = toe or [], high or []
    if reading is not None:
        if toe or high:
            raise SetupError("--reading and --toe or --high were both given", remedy="Leave one of them out.")
        from facemark.tell.strike_files import read_set

        found = read_set(reading).strikes
        return found if balls is None else replace(found, n_balls=balls)
    if not toe and not high:
        return None
    if toe and high and len(toe) != len(high):
        raise SetupError(
            f"--toe was given {len(toe)} times and --high {len(high)} times",
            remedy="Give both for each strike.",
        )
    n = max(len(toe), len(high))
    toe = list(toe) or [0.0] * n
    high = list(high) or [0.0] * n
    for value in (*toe, *high, err):
        if not math.isfinite(value):
            raise SetupError(f"{value} mm is no place on a face", remedy="Give numbers in millimetres.")
    return StrikeSet(
        strikes=tuple(
            Strike(toe_mm=t, high_mm=h, toe_err_mm=err, high_err_mm=err)
            for t, h in zip(toe, high, strict=True)
        ),
        n_balls=balls,
    )
