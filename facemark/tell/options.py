"""Options that several commands share, each with one name and one sentence; nothing heavy is imported."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from facemark.inputs import ClubKind, ReferenceKind

# --- the photo and the balls ---
Balls = Annotated[int | None, typer.Option("--balls", help="How many balls were hit for the photo, if told.")]
Scale = Annotated[
    ReferenceKind,
    typer.Option("--scale", help="The thing of known size in the photo; auto looks for each in turn."),
]
TagMm = Annotated[
    float | None, typer.Option("--tag-mm", help="Side of the tags (DICT_4X4_50), measured with a ruler.")
]
FaceMm = Annotated[
    float | None,
    typer.Option("--face-mm", help="Length of the face from heel to toe, measured with a ruler."),
]
LineMm = Annotated[
    float | None,
    typer.Option("--line-mm", help="Length of the printed card's 100 mm line, measured with a ruler."),
]
SpacerMm = Annotated[
    float,
    typer.Option("--spacer-mm", help="How far the scale object lies in front of the face (behind: minus)."),
]
CentreMark = Annotated[
    bool,
    typer.Option("--centre-mark", help="Take the printed mark near the face's middle as the sweet spot."),
]
EffortPercent = Annotated[
    float | None,
    typer.Option("--effort", help="How hard the balls were hit, in percent as felt; gentle marks are small."),
]
Fast = Annotated[
    bool,
    typer.Option("--fast", help="Leave out second looks and the check of the scale; the reading says so."),
]

# --- the club and the player ---
Left = Annotated[
    bool | None, typer.Option("--left/--right", help="The player's hand; otherwise as photo or record say.")
]
ClubFile = Annotated[
    Path | None, typer.Option("--club", help="Club file (TOML); facemark club new makes one.")
]
Kind = Annotated[ClubKind | None, typer.Option("--kind", help="Kind of club, when nothing else says.")]
Speed = Annotated[float | None, typer.Option("--speed", help="Speed of the club head.")]
SpeedUnit = Annotated[str, typer.Option("--speed-unit", help="Unit of every speed told: mps, mph or kmh.")]

# --- what is shown, and where it is kept ---
Lengths = Annotated[str | None, typer.Option("--lengths", help="Metres or yards on the range: m or yd.")]
UnitWords = Annotated[
    str | None,
    typer.Option("--units", help="Units to show, any of mm, in; m, yd; m/s, mph, km/h, as in mm,yd,mph."),
]
LanguageCode = Annotated[str | None, typer.Option("--language", help="Language to speak: en or de.")]
Whole = Annotated[
    bool,
    typer.Option(
        "--whole",
        help="Show the whole photo in pictures, not the face alone; a printed label stays readable.",
    ),
]
Paper = Annotated[str, typer.Option("--paper", help="Paper of what is printed: a4 or letter.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print everything for machines.")]
BookAt = Annotated[str | None, typer.Option("--book", help="Path or database address of the book.")]
