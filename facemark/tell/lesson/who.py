"""Whose face is it, with which club, and under which conditions? Everything told, joined for one face.

Each answer comes from the first that gives it: the command (``--player``), the sheet beside the photos, the
label on the scale card, the names of folders and file, what the book knows of the player (the hand), and what
the command says for all photos (``--club``, ``--kind``, ``--balls``, scale). Who is left unsaid is never
guessed: such a face is listed as "whose?".
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from facemark.clubs import typical_club
from facemark.errors import SetupError
from facemark.inputs import Club, Hand, ReferenceKind, Setup
from facemark.tell.ask import reference_from_options
from facemark.tell.book.identity import clean_name, name_key
from facemark.tell.label import CardLabel
from facemark.tell.lesson.clubs import ClubShelf
from facemark.tell.lesson.names import names_by_custom, names_by_pattern
from facemark.tell.lesson.photos import Source
from facemark.tell.lesson.sheet import SCALE_FIELDS, LessonSheet, SheetLine, line_from_words
from facemark.tell.words import session_words

NOTHING = SheetLine()


class WhoseError(SetupError):
    """Nothing says for certain whose face a photo shows."""

    stage = "whose"


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One face to read: a photo, or several of a series in their order. What is said of it beforehand."""

    name: str  # of the photo, or of the series' folder
    sources: tuple[Source, ...]
    sheet: SheetLine = NOTHING
    names: SheetLine = NOTHING
    doubt: str | None = None  # why the names say nothing, or what is wrong with them

    @property
    def is_series(self) -> bool:
        return self.sheet.series is True


@dataclass(frozen=True, slots=True, kw_only=True)
class Common:
    """What the command says for all photos, and where clubs are found."""

    setup: Setup
    shelf: ClubShelf
    player: str | None = None
    hand: Hand | None = None  # as told with the command; the settings' hand is in ``setup``
    club_told: bool = False  # --club, --kind or the settings name one
    day: dt.date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Everything a reading and the book need to know about a face."""

    player: str
    setup: Setup
    player_from: str  # "command", "sheet", "card" or "names"
    club_told: bool  # False: nobody named one, the command's usual one was taken
    day: dt.date | None = None  # None: as the photo says
    effort_frac: float | None = None
    tee_mm: float | None = None
    new: tuple[int, ...] | None = None

    @property
    def club(self) -> Club:
        return self.setup.club

    @property
    def club_words(self) -> str:
        """The club as people call it: a typical driver is "driver"."""
        return self.club.name.removeprefix("typical ")

    @property
    def session_name(self) -> str:
        """Balls hit under other conditions are another session of the same day."""
        return session_words(self.effort_frac, self.tee_mm)


def gather_faces(
    photos: tuple[Source, ...],
    *,
    sheet: LessonSheet | None,
    pattern: re.Pattern[str] | None,
    shelf: ClubShelf,
    player_told: bool,
) -> tuple[Face, ...]:
    """Photos as faces to read: each its own, but the photos of a series' folder together."""
    faces: list[Face] = []
    series: dict[tuple[str, ...], int] = {}
    for source in photos:
        said = NOTHING if sheet is None else sheet.about(source)
        if said.series and source.folders in series:
            index = series[source.folders]
            faces[index] = replace(faces[index], sources=(*faces[index].sources, source))
            continue
        if pattern is not None:
            named = names_by_pattern(source, pattern)
        else:
            named = names_by_custom(source, shelf.knows, player_told=player_told or said.player is not None)
        doubt, names = named.doubt, NOTHING
        try:
            names = line_from_words(dict(named.said))
        except SetupError as err:
            doubt = str(err)
        name = "/".join(source.folders) if said.series and source.folders else source.name
        if said.series:
            series[source.folders] = len(faces)
        faces.append(Face(name=name, sources=(source,), sheet=said, names=names, doubt=doubt))
    return tuple(faces)


def wants_label(face: Face, common: Common) -> bool:
    """Whether the card's label could still say something."""
    player_said = common.player is not None or face.sheet.player is not None
    return not (player_said and face.sheet.club is not None)


def hands_told(faces: Iterable[Face], common: Common) -> dict[str, Hand]:
    """``name_key`` of a player -> the hand that any line or name of this lesson says first.

    Players named by a card's label alone are not among them: their photos have not been looked at yet.
    """
    told: dict[str, Hand] = {}
    for face in faces:
        player = common.player or face.sheet.player or face.names.player
        hand = face.sheet.hand or face.names.hand
        if player is not None and hand is not None:
            told.setdefault(name_key(player), hand)
    return told


def settle(face: Face, label: CardLabel | None, common: Common, *, hands: Mapping[str, Hand | None]) -> Told:
    """Join all that is said about a face.

    Parameters
    ----------
    face : Face
    label : CardLabel, optional
        What its photo's scale card says.
    common : Common
    hands : mapping
        ``name_key`` of a player -> hand, as the lesson says elsewhere or the book knows it.

    Raises
    ------
    WhoseError
        Nobody said whose face it is.
    SetupError, BookError
        What was said cannot be: an unknown club, an impossible size.
    """
    player, player_from = _player(face, label, common)
    club_name = face.sheet.club or (label.club if label else None) or face.names.club
    club = common.setup.club if club_name is None else common.shelf.club(club_name)
    if common.club_told and club == typical_club(common.setup.club.kind):
        club = common.setup.club  # a bare "driver" in a name says less than a club of that kind that was told
    hand = (
        face.sheet.hand or face.names.hand or common.hand or hands.get(name_key(player)) or common.setup.hand
    )
    effort_frac = face.sheet.effort_frac or face.names.effort_frac or common.setup.effort_frac
    setup = replace(
        common.setup,
        club=club,
        hand=hand,
        effort_frac=effort_frac,
        n_balls=face.sheet.n_balls or face.names.n_balls or common.setup.n_balls,
    )
    if any(getattr(face.sheet, name) is not None for name in SCALE_FIELDS):
        reference = reference_from_options(
            face.sheet.scale or ReferenceKind.AUTO,
            tag_mm=face.sheet.tag_mm,
            face_mm=face.sheet.face_mm,
            line_mm=face.sheet.line_mm,
            spacer_mm=face.sheet.spacer_mm or 0.0,
        )
        setup = replace(setup, reference=reference)
    return Told(
        player=player,
        setup=setup,
        player_from=player_from,
        club_told=club_name is not None or common.club_told,
        day=face.sheet.day or common.day,
        effort_frac=effort_frac,
        tee_mm=face.names.tee_mm if face.sheet.tee_mm is None else face.sheet.tee_mm,
        new=face.sheet.new,
    )


def _player(face: Face, label: CardLabel | None, common: Common) -> tuple[str, str]:
    says = (
        (common.player, "command"),
        (face.sheet.player, "sheet"),
        (label.player if label else None, "card"),
        (face.names.player, "names"),
    )
    for player, whence in says:
        if player is not None:
            return clean_name(player), whence
    raise WhoseError(
        f"whose face is it? {face.doubt or 'no name says it'}",
        remedy="Put the photo into a folder PLAYER/CLUB, give it a line in lesson.toml, or say --player.",
    )
