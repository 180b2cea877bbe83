"""Commands about what strikes do: bend, separate, club. Joined to the rest by ``register``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from facemark.errors import SetupError
from facemark.inputs import ClubKind
from facemark.tell.options import AsJson, Balls, ClubFile, Kind, Left, Lengths, Speed, SpeedUnit

if TYPE_CHECKING:
    from facemark.caveats import Caveat
    from facemark.tell.explain_inputs import Told

# The heads drawn for the ranges are the same every time: same input, same numbers.
DRAW_SEED = 20260104

_MM = "in mm from the sweet spot"
Toe = Annotated[list[float] | None, typer.Option(help=f"Strike {_MM}, plus toward the toe; repeat for more.")]
High = Annotated[list[float] | None, typer.Option(help=f"Strike {_MM}, plus up; as many as --toe.")]
StrikeErr = Annotated[float, typer.Option(help="How well typed strikes are known, one standard error in mm.")]
ReadingFile = Annotated[
    Path | None, typer.Option("--reading", help="The JSON of a reading, or a table with toe_mm and high_mm.")
]
Attack = Annotated[
    float | None, typer.Option(help="Angle of attack in degrees, plus upward; otherwise level.")
]
Temperature = Annotated[float | None, typer.Option(help="Of the air, in degrees Celsius; otherwise 15.")]
Pressure = Annotated[float | None, typer.Option(help="Of the air at the place itself, in hPa.")]
Altitude = Annotated[float, typer.Option(help="Of the place, in metres above the sea.")]
WindHelp = Annotated[float | None, typer.Option(help="Wind from behind; from ahead: minus.")]
WindRight = Annotated[float | None, typer.Option(help="Wind toward the right; toward the left: minus.")]
LandingUp = Annotated[float, typer.Option(help="Height of the landing place above the tee, in metres.")]
Draws = Annotated[int, typer.Option(min=100, max=100_000, help="How many heads to draw for the ranges.")]
CauseDraws = Annotated[
    int, typer.Option(min=1000, max=100_000, help="How many heads to draw for the ranges.")
]
Picture = Annotated[
    Path | None, typer.Option(help="Draw the flight from above and the face: .png, .svg, .pdf.")
]


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command()(bend)
    app.command()(separate)
    club_app = typer.Typer(help="Make and check club files.", no_args_is_help=True, rich_markup_mode=None)
    club_app.command("new")(club_new)
    club_app.command("check")(club_check)
    app.add_typer(club_app, name="club")


def bend(
    toe: Toe = None,
    high: High = None,
    strike_err: StrikeErr = 0.0,
    reading: ReadingFile = None,
    balls: Balls = None,
    club: ClubFile = None,
    kind: Kind = None,
    speed: Speed = None,
    speed_unit: SpeedUnit = "mps",
    left: Left = None,
    attack: Attack = None,
    temperature: Temperature = None,
    pressure: Pressure = None,
    altitude: Altitude = 0.0,
    wind_help: WindHelp = None,
    wind_right: WindRight = None,
    landing_up: LandingUp = 0.0,
    draws: Draws = 2000,
    lengths: Lengths = None,
    picture: Picture = None,
    as_json: AsJson = False,
) -> None:
    """What did these strikes alone do to the ball: start, bend, launch, speed, each with its range."""
    import numpy as np

    from facemark.explain.flight import predict_flight
    from facemark.tell.ask import units_from_options
    from facemark.tell.explain_inputs import conditions_of, told_of
    from facemark.tell.explain_record import bend_record
    from facemark.tell.flight_words import bend_lines
    from facemark.tell.report import json_text

    units = units_from_options(lengths)
    told = told_of(
        toe=toe,
        high=high,
        strike_err=strike_err,
        reading=reading,
        balls=balls,
        club=club,
        kind=kind,
        speed=speed,
        speed_unit=speed_unit,
        left=left,
    )
    where = conditions_of(
        told,
        attack=attack,
        temperature=temperature,
        pressure=pressure,
        altitude=altitude,
        wind_help=wind_help,
        wind_right=wind_right,
        landing_up=landing_up,
        speed_unit=speed_unit,
    )
    rng = np.random.default_rng(DRAW_SEED)
    flight = predict_flight(told.need_strikes(), told.setup, n_draws=draws, rng=rng, conditions=where)
    if picture is not None:
        from facemark.tell.bend import bend_figure
        from facemark.tell.charts import write_figure

        write_figure(bend_figure(flight, club=told.setup.club, hand=told.hand, units=units), picture)
    if as_json:
        typer.echo(json_text(bend_record(flight, told, where)))
    else:
        lines = bend_lines(flight, kind=told.setup.club.kind, hand=told.hand, units=units)
        typer.echo("\n".join([*lines, *_doubts(flight.caveats, told)]))


def separate(
    toe: Toe = None,
    high: High = None,
    strike_err: StrikeErr = 0.0,
    reading: ReadingFile = None,
    start: Annotated[
        list[str] | None,
        typer.Option(help='Where the balls started: left, straight, right, "2 right"; in, with --corridor.'),
    ] = None,
    curve: Annotated[
        list[str] | None, typer.Option(help='How they curved from there: left, none, right, "6 m left".')
    ] = None,
    shot: Annotated[
        list[str] | None,
        typer.Option(help='One ball: "start; curve", as "2 right; 6 m left". Repeat for more.'),
    ] = None,
    corridor: Annotated[
        str | None, typer.Option(help='Two sticks the starts were judged by: "50 cm at 3 m".')
    ] = None,
    measured: Annotated[
        bool, typer.Option("--measured/--by-eye", help="Whether start and curve were measured.")
    ] = False,
    calm: Annotated[bool, typer.Option(help="There was no wind.")] = False,
    balls: Balls = None,
    club: ClubFile = None,
    kind: Kind = None,
    speed: Speed = None,
    speed_unit: SpeedUnit = "mps",
    left: Left = None,
    attack: Attack = None,
    temperature: Temperature = None,
    pressure: Pressure = None,
    altitude: Altitude = 0.0,
    wind_help: WindHelp = None,
    wind_right: WindRight = None,
    landing_up: LandingUp = 0.0,
    draws: CauseDraws = 4000,
    lengths: Lengths = None,
    as_json: AsJson = False,
) -> None:
    """Was it the strike, the face or the path? From strikes and what was seen of the balls."""
    import numpy as np

    from facemark.explain.causes import separate_causes
    from facemark.tell.ask import units_from_options
    from facemark.tell.explain_inputs import conditions_of, notes_of, told_of
    from facemark.tell.explain_record import causes_record
    from facemark.tell.flight_words import causes_lines
    from facemark.tell.report import json_text

    units = units_from_options(lengths)
    told = told_of(
        toe=toe,
        high=high,
        strike_err=strike_err,
        reading=reading,
        balls=balls,
        club=club,
        kind=kind,
        speed=speed,
        speed_unit=speed_unit,
        left=left,
    )
    if calm and (wind_help or wind_right):
        raise SetupError("--calm and a wind were both given", remedy="Leave one of them out.")
    where = conditions_of(
        told,
        attack=attack,
        temperature=temperature,
        pressure=pressure,
        altitude=altitude,
        wind_help=wind_help,
        wind_right=wind_right,
        landing_up=landing_up,
        speed_unit=speed_unit,
    )
    notes = notes_of(
        told, start=start, curve=curve, shot=shot, corridor=corridor, measured=measured, units=units
    )
    rng = np.random.default_rng(DRAW_SEED)
    noted = calm or wind_help is not None or wind_right is not None
    causes = separate_causes(
        told.strikes, notes, told.setup, rng=rng, n_draws=draws, conditions=where, wind_noted=noted
    )
    if as_json:
        typer.echo(json_text(causes_record(causes, told, where)))
    else:
        lines = causes_lines(causes, hand=told.hand, units=units)
        typer.echo("\n".join([*lines, *_doubts(causes.caveats, told)]))


def club_new(
    out: Annotated[Path, typer.Argument(help="Club file to write.")] = Path("club.toml"),
    kind: Annotated[ClubKind | None, typer.Option(help="Kind of club; asked if left out.")] = None,
    name: Annotated[str | None, typer.Option(help="What you call the club; asked if left out.")] = None,
    blank: Annotated[
        bool, typer.Option("--blank", help="Ask nothing: write a file with everything assumed.")
    ] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Replace an existing file.")] = False,
) -> None:
    """Make a club file by asking for each number; Enter leaves it out."""
    from facemark.tell.club_ask import ask_club
    from facemark.tell.clubfile import save_club

    club = ask_club(kind, name, blank=blank, default_name=out.stem)
    save_club(club, out, replace=replace)
    typer.echo(f"{out}: written. Look at it with: facemark club check {out}")


def club_check(
    file: Annotated[Path, typer.Argument(help="Club file to check.")],
    as_json: AsJson = False,
) -> None:
    """Check a club file: what is measured, what is assumed, and what measuring would gain."""
    from facemark.record import plain
    from facemark.tell.club_ask import check_lines
    from facemark.tell.clubfile import load_club
    from facemark.tell.report import json_text

    club = load_club(file)
    typer.echo(json_text(plain(club)) if as_json else "\n".join(check_lines(club)))


def _doubts(caveats: tuple[Caveat, ...], told: Told) -> list[str]:
    from facemark.tell.explain_record import doubt_lines

    return doubt_lines(caveats, told)
