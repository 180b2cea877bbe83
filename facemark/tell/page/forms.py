"""What the phone may send, field by field. Unknown fields are refused."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from facemark.explain.corridor import CARRY_M
from facemark.explain.gate import HEAD_MM
from facemark.explain.moveon import MOST_BALLS
from facemark.inputs import FACE_MM, MAX_BALLS, ClubKind, Hand, ReferenceKind

# No control characters: what people type, not what programs hide.
Text = Annotated[str, StringConstraints(max_length=80, pattern=r"^[^\x00-\x1f\x7f]*$")]
Finite = Annotated[float, Field(allow_inf_nan=False)]
FarMm = Annotated[float, Field(ge=-150, le=150, allow_inf_nan=False)]
EFFORTS = (0.2, 0.4, 0.6, 0.8, 1.0)


class Form(BaseModel):
    model_config = ConfigDict(extra="forbid")


class PlayerForm(Form):
    """A player, by nickname."""

    name: Annotated[Text, StringConstraints(min_length=1)]
    hand: Hand | None = None


class SetForm(Form):
    """A new set of balls on one coat of powder."""

    player_id: Annotated[str, StringConstraints(max_length=40)]
    kind: ClubKind = ClubKind.DRIVER
    club_id: Annotated[str, StringConstraints(max_length=40)] | None = None
    effort_frac: Annotated[float, Field(ge=0.05, le=1.0)] | None = None


class PhotoQuery(Form):
    """What is told with a photo. The photo itself is the request's body, as the phone made it."""

    set_id: Annotated[str, StringConstraints(max_length=40)]
    name: Text = "photo"
    hand: Hand | None = None
    scale: ReferenceKind = ReferenceKind.AUTO
    size_mm: Annotated[float, Field(gt=0, le=max(200.0, FACE_MM[1]), allow_inf_nan=False)] | None = None
    n_balls: Annotated[int, Field(ge=1, le=MAX_BALLS)] | None = None
    # One more photo of the same coat of powder: the marks that are new are told apart.
    series: bool = False
    keep: bool = False  # keep the picture in the book


class ReadAgain(Form):
    """Other settings for a photo that is on the desk."""

    hand: Hand | None = None
    scale: ReferenceKind = ReferenceKind.AUTO
    size_mm: Annotated[float, Field(gt=0, le=max(200.0, FACE_MM[1]), allow_inf_nan=False)] | None = None
    n_balls: Annotated[int, Field(ge=1, le=MAX_BALLS)] | None = None


class Corrections(Form):
    """All edits of a reading, and how many of them count (facemark/edits.py)."""

    edits: Annotated[list[dict[str, Any]], Field(max_length=200)]
    n_done: Annotated[int, Field(ge=0, le=200)] | None = None
    # As many as the history said; somebody else may have put it right since.
    n_corrections: Annotated[int, Field(ge=0)] | None = None
    # Only look: quick, without flight, and not written into the book.
    preview: bool = False


class Start(StrEnum):
    LEFT = "left"
    ON = "on"
    RIGHT = "right"


class Curve(StrEnum):
    LEFT = "left"
    NONE = "none"
    RIGHT = "right"


class Ball(Form):
    """What was seen of one ball. Left and right as seen by the player; amounts without a sign."""

    start: Start | None = None
    curve: Curve | None = None
    start_deg: Annotated[float, Field(ge=0, le=45)] | None = None
    curve_m: Annotated[float, Field(ge=0, le=150)] | None = None
    called_toe_mm: FarMm | None = None
    called_high_mm: FarMm | None = None
    strike_in: bool | None = None
    start_in: bool | None = None
    curve_in: bool | None = None


class Balls(Form):
    """The balls of a set, in order."""

    balls: Annotated[list[Ball], Field(max_length=MAX_BALLS)]


class PlanQuery(Form):
    """What is told for the next block."""

    calm: bool = False  # there was no wind
    head_mm: Annotated[float, Field(ge=HEAD_MM[0], le=HEAD_MM[1])] | None = None  # longest way heel to toe
    carry_m: Annotated[float, Field(ge=CARRY_M[0], le=CARRY_M[1])] | None = None


class BlockForm(PlanQuery):
    """A practice block that was done, and what its plan was told."""

    n_balls: Annotated[int, Field(ge=1, le=MOST_BALLS)]
    n_good: Annotated[int, Field(ge=0, le=MOST_BALLS)]
    pain: bool = False
    # As many as the plan said: where the answer to a booking was lost on its way, it is not booked twice.
    n_blocks: Annotated[int, Field(ge=0)] | None = None


class Paper(StrEnum):
    PDF = "pdf"
    PNG = "png"
