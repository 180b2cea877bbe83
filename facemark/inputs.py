"""What we are told before we look: the photo, the club, the scale object, the player's hand.

Plain frozen records without behaviour. Numbers carry unit and sign in their names; a plus means what the
name says. "Not told" is None.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from facemark.errors import SetupError

if TYPE_CHECKING:  # numpy takes ten times as long to import as everything else here, and --help needs none
    import numpy as np
    from numpy.typing import NDArray

MAX_BALLS = 60  # more balls than one coat of powder can tell of; assumed
TAG_MM = (5.0, 200.0)  # sides a tag can sensibly have; assumed
FACE_MM = (40.0, 127.0)  # longest legal head is 127 mm (Equipment Rules, Part 2); shortest assumed
SPACER_MM = 60.0  # farther than this from the face, the scale object says nothing about it; assumed
LEAST_EFFORT_FRAC = 0.05  # a swing gentler than this marks nothing; assumed
HEAD_MPS = (2.0, 70.0)  # slowest practice swing to faster than any measured head; assumed


class Hand(StrEnum):
    """The hand a club is made for."""

    RIGHT = "right"
    LEFT = "left"


class ClubKind(StrEnum):
    """What sort of club it is; decides the typical values and the thresholds."""

    DRIVER = "driver"
    FAIRWAY = "fairway"
    HYBRID = "hybrid"
    IRON = "iron"
    WEDGE = "wedge"

    @property
    def is_wood(self) -> bool:
        """A wood's face bulges outward all round; an iron's top line may be hollow."""
        return self in (ClubKind.DRIVER, ClubKind.FAIRWAY, ClubKind.HYBRID)


class ReferenceKind(StrEnum):
    """The thing in the photo whose true size is known."""

    AUTO = "auto"  # look for each of the others in turn
    SHEET = "sheet"  # our own printed card (facemark card)
    TAGS = "tags"  # coplanar tags of the open dictionary DICT_4X4_50; side told by the user
    CARD = "card"  # ID-1 card, 85.60 x 53.98 mm (ISO/IEC 7810)
    BALL = "ball"  # golf ball, at least 42.67 mm (Equipment Rules)
    FACE = "face"  # the face's own length, told by the user or the club file


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photo:
    """A decoded photo, upright (EXIF orientation applied).

    ``pixels`` is (H, W, 3) uint8 RGB, read-only. ``focal_35mm`` is the 35 mm-equivalent focal length from
    EXIF [mm], or None.
    """

    pixels: NDArray[np.uint8]
    name: str
    taken: dt.datetime | None = None
    focal_35mm: float | None = None

    def __post_init__(self) -> None:
        self.pixels.flags.writeable = False

    @property
    def height_px(self) -> int:
        return int(self.pixels.shape[0])

    @property
    def width_px(self) -> int:
        return int(self.pixels.shape[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """The scale object we were told to use.

    ``size_mm``: the tags' side; the face's length; the printed card's 100 mm line as measured (None:
    unchecked).
    Balls and ID-1 cards have a standard size.

    ``spacer_mm``: how far the scale object's plane lies in FRONT of the face (toward the camera), plus;
    behind, minus. 0 when held in the plane of the face.
    """

    kind: ReferenceKind = ReferenceKind.AUTO
    size_mm: float | None = None
    spacer_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.size_mm is not None:
            low, high = FACE_MM if self.kind is ReferenceKind.FACE else TAG_MM
            what = "the face's length" if self.kind is ReferenceKind.FACE else "the side of a tag"
            if not low <= self.size_mm <= high:
                raise SetupError(
                    f"{what} is given as {self.size_mm:g} mm; {low:g} to {high:g} mm is possible",
                    remedy="Measure it with a ruler, in millimetres.",
                )
        if not abs(self.spacer_mm) <= SPACER_MM:
            raise SetupError(
                f"the scale object is said to lie {self.spacer_mm:g} mm off the face;"
                f" at most {SPACER_MM:g} mm is possible",
                remedy="Hold it in the plane of the face.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Club:
    """A club head, in the numbers the physics needs. Defaults per kind: ``clubs.typical_club``.

    ``assumed`` names the fields nobody measured: they are typical values and are drawn over their range.
    ``errs`` gives one standard error for measured fields, in the field's own unit.
    Offsets of the sweet spot are measured from the face centre (area centroid of the outline), toe and high
    plus, for both hands. ``bulge_mm`` and ``roll_mm`` are radii; ``math.inf`` is a flat face.
    """

    name: str
    kind: ClubKind
    loft_deg: float  # delivered loft at the face centre
    face_length_mm: float  # heel to toe along the face outline
    face_height_mm: float
    sweet_toe_mm: float
    sweet_high_mm: float
    bulge_mm: float
    roll_mm: float
    head_kg: float
    cg_depth_mm: float  # centre of gravity behind the face, along the normal at the sweet spot
    moi_vertical_kgm2: float
    moi_heeltoe_kgm2: float  # about the heel-toe axis
    moi_foreaft_kgm2: float
    assumed: frozenset[str] = frozenset()
    errs: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """What was seen of one ball. Plus: started as a push, curved as a draw."""

    start_push_deg: float | None = None
    curve_draw_m: float | None = None
    carry_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """Everything told about the set of balls. ``hand`` None: take it from the photo, and say so."""

    club: Club
    hand: Hand | None = None
    reference: Reference = field(default_factory=Reference)
    n_balls: int | None = None  # how many were hit, if told
    head_mps: float | None = None  # head speed; None: typical for the kind, and said so
    effort_frac: float | None = None  # how hard, as felt; gentle strikes leave smaller marks
    shots: tuple[Shot, ...] = ()
    centre_mark: bool = False  # take a printed mark near the face's middle as the sweet spot

    def __post_init__(self) -> None:
        if self.n_balls is not None and not 1 <= self.n_balls <= MAX_BALLS:
            raise SetupError(
                f"{self.n_balls} balls are said to have been hit; 1 to {MAX_BALLS} can be read",
                remedy="Say how many balls were hit since the face was last sprayed, or leave it out.",
            )
        if self.centre_mark and not {"sweet_toe_mm", "sweet_high_mm"} & self.club.assumed:
            raise SetupError(
                f"the sweet spot of {self.club.name} was measured, and a printed mark is asked for as well",
                remedy="Leave one of them out; the measured one is better.",
            )
        if self.effort_frac is not None and not LEAST_EFFORT_FRAC <= self.effort_frac <= 1.0:
            raise SetupError(
                f"an effort of {100 * self.effort_frac:g} percent was given;"
                f" {100 * LEAST_EFFORT_FRAC:g} to 100 is possible",
                remedy="Give the effort as felt, in percent of a full swing.",
            )
        if self.head_mps is not None and not HEAD_MPS[0] <= self.head_mps <= HEAD_MPS[1]:
            raise SetupError(
                f"a head speed of {self.head_mps:g} m/s was given;"
                f" {HEAD_MPS[0]:g} to {HEAD_MPS[1]:g} is possible",
                remedy="Give the club head's speed (not the ball's), with its unit.",
            )
