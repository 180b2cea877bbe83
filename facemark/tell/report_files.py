"""Reports written where they were asked for; sessions taken from the book."""

from __future__ import annotations

import datetime as dt
import json
import math
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from facemark.errors import BookError, FacemarkError, SetupError
from facemark.explain.hitset import Conditions
from facemark.inputs import Photo
from facemark.tell.files import load, write_text, written_whole
from facemark.tell.language import Language
from facemark.tell.session_report import Session
from facemark.tell.units import Units

if TYPE_CHECKING:
    from facemark.tell.book.rows import PlayerRow, ReadingRow, SessionRow
    from facemark.tell.book.store import Book

Shown = tuple[Photo, dict[str, Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which files to write; None: not asked for."""

    html: Path | None = None
    pdf: Path | None = None
    chat: Path | None = None
    paper: str = "a4"
    whole: bool = False


def write_reports(
    report: dict[str, Any],
    photos: Sequence[Shown],
    wanted: Wanted,
    *,
    units: Units,
    language: Language,
    wrote: Callable[[Path], object] = lambda path: None,
) -> None:
    """Write every report asked for, each whole or not at all.

    ``wrote`` is called with each file as soon as it is there, whatever becomes of the next.

    Raises
    ------
    SetupError
        An ending that is not the kind's, or a paper that is not known; nothing is written then.
    BookError
        A file cannot be written.
    """
    _check(wanted)
    voice: dict[str, Any] = {"units": units, "language": language, "whole": wanted.whole}
    one = photos[0] if len(photos) == 1 else None
    if wanted.html is not None:
        from facemark.tell.report_html import html_report

        write_text(wanted.html, html_report(report, photos, **voice))
        wrote(wanted.html)
    if wanted.pdf is not None:
        from facemark.tell.report_pdf import pdf_report

        with written_whole(wanted.pdf) as temporary:
            temporary.write_bytes(pdf_report(report, one, paper=wanted.paper, **voice))
        wrote(wanted.pdf)
    if wanted.chat is not None:
        from facemark.tell.report_chat import chat_report

        with written_whole(wanted.chat) as temporary:
            temporary.write_bytes(chat_report(report, one, **voice))
        wrote(wanted.chat)


def _check(wanted: Wanted) -> None:
    if wanted.pdf is not None:
        from facemark.tell.report_pdf import PAPERS_MM

        if wanted.paper.lower() not in PAPERS_MM:
            raise SetupError(f"the paper {wanted.paper!r} is not known", remedy="Use a4 or letter.")
    for path, endings in (
        (wanted.html, (".html", ".htm")),
        (wanted.pdf, (".pdf",)),
        (wanted.chat, (".png",)),
    ):
        if path is not None and path.suffix.lower() not in endings:
            raise SetupError(
                f"{path.name}: this report is written as {' or '.join(endings)}",
                remedy="Give the file that ending.",
            )


PLAN_NUMBERS = ("n_balls", "effort_frac", "n_minutes", "zone_mm")
GATE_NUMBERS = ("toe_clear_mm", "heel_clear_mm")


def read_plan(path: Path) -> dict[str, Any]:
    """The next block, as ``facemark plan --json`` printed it.

    Raises
    ------
    SetupError
        It is not that.
    """
    try:
        plan = short_plan(json.loads(path.read_text(encoding="utf-8")))
        _check_plan(plan)
    except (OSError, ValueError, KeyError, AttributeError, TypeError) as err:
        raise SetupError(
            f"{path.name} holds no plan ({type(err).__name__}: {str(err)[:60]})",
            remedy="Write it with facemark plan --json.",
        ) from None
    return plan


def _check_plan(plan: Mapping[str, Any]) -> None:
    """What a report says of a plan can be said: ValueError, KeyError or TypeError if not."""
    from facemark.explain.ladder import Focus

    Focus(plan["focus"])
    told = {name: plan[name] for name in PLAN_NUMBERS}
    if plan["gate"] is not None:
        told |= {name: plan["gate"][name] for name in GATE_NUMBERS}
    for name, value in told.items():
        if not (isinstance(value, int | float) and math.isfinite(value)):
            message = f"{name} is {value!r}"
            raise ValueError(message)


def short_plan(plan: Mapping[str, Any]) -> dict[str, Any]:
    """What a report says of a plan (``tell/plan.py``, ``practice_record``)."""
    return {name: plan[name] for name in ("focus", *PLAN_NUMBERS)} | {
        "gate": (plan.get("station") or {}).get("gate")
    }


# --- from the book ---
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """A session of the book, the one before it that may be compared, and the photos that were kept."""

    session: Session
    before: Session | None
    photos: tuple[Shown, ...]
    session_id: str
    newest: bool  # the player's last session with readings


def session_from_book(
    book: Book,
    player: PlayerRow,
    *,
    day: dt.date | None = None,
    club: str | None = None,
    name: str | None = None,
) -> Found:
    """A player's last session, or that of a day, with a club, or of a name ("": the one without).

    ``name`` may be a number too: of the day's sessions that fit, in the order of ``facemark history``.

    Raises
    ------
    BookError
        There is none, or several fit.
    """
    row, readings = _chosen(book, player, day=day, club=club, name=name)
    shown = []
    for reading in readings:
        photo = _kept_photo(book, reading.photo_id, reading.current)
        if photo is not None:
            shown.append((photo, reading.current))
    [newest] = book.readings(player_id=player.id, newest_first=True, limit=1)
    return Found(
        session=_session(player, row, tuple(reading.current for reading in readings)),
        before=_before(book, player, row),
        photos=tuple(shown),
        session_id=row.id,
        newest=newest.session_id == row.id,
    )


_Held = tuple["SessionRow", list["ReadingRow"]]  # a session that holds readings


def _chosen(
    book: Book, player: PlayerRow, *, day: dt.date | None, club: str | None, name: str | None
) -> _Held:
    """The one session that is meant."""
    clubs = {row.id: row.name for row in book.clubs(player.id)}
    held = [
        (row, readings)
        for row in book.sessions(player.id)
        if (club is None or clubs[row.club_id].lower() == club.strip().lower())
        and (day is None or row.day == day)
        and (readings := book.counted_readings(row.id))
    ]
    meant = _of_last_day(held if name is None else _called(held, name))
    if not meant:
        raise BookError(
            f"{player.name} has no session with readings that fits",
            remedy="See facemark history for the days and clubs there are.",
        )
    if len(meant) == 1:
        return meant[0]
    on_day = meant[0][0].day
    same_day = {clubs[row.club_id] for row, _ in meant}
    if len(same_day) > 1:
        raise BookError(
            f"{player.name} hit several clubs on {on_day}: {', '.join(sorted(same_day))}",
            remedy="Say --club with one of them.",
        )
    names = [f'"{row.name}"' for row, _ in meant]
    if len({name.casefold() for name in names}) == len(names):
        said, kind = ", ".join(sorted(names)), "names"
    else:  # two clubs of one name: only a number tells their sessions apart
        numbers = [number for number, one in enumerate(_of_last_day(held), start=1) if one in meant]
        said = ", ".join(
            f"{number} ({name}, {sum(len(reading.current['marks']) for reading in readings)} marks)"
            for number, name, (_, readings) in zip(numbers, names, meant, strict=True)
        )
        kind = "numbers"
    raise BookError(
        f"{player.name} has several sessions on {on_day}: {said}",
        remedy=f"Say --session with one of these {kind}.",
    )


def _called(held: Sequence[_Held], name: str) -> Sequence[_Held]:
    """Those of this name; else the one of this number on the last day."""
    name = name.strip()
    named = [one for one in held if one[0].name.casefold() == name.casefold()]
    if named or not name.isdecimal():
        return named
    return _of_last_day(held)[int(name) - 1 : int(name)]


def _of_last_day(held: Sequence[_Held]) -> list[_Held]:
    return [one for one in held if one[0].day == held[-1][0].day]


def _before(book: Book, player: PlayerRow, row: SessionRow) -> Session | None:
    """The last session of an earlier day with the same club, under conditions that may be compared."""
    from facemark.tell.book.sets import alike

    for other in reversed(book.sessions(player.id)):
        if other.club_id == row.club_id and other.day < row.day and alike(other, row):
            readings = book.counted_readings(other.id)
            if readings:
                return _session(player, other, tuple(reading.current for reading in readings))
    return None


def next_block(book: Book, player: PlayerRow, found: Found) -> dict[str, Any]:
    """The block that follows from this session and the player's blocks.

    Raises
    ------
    SetupError, MarkError
        Something is missing to plan from, such as the head's length.
    """
    from facemark.explain.stations import PlanSetup
    from facemark.inputs import Hand
    from facemark.remake import club_of_record
    from facemark.tell.book.sets import sittings
    from facemark.tell.plan import practice_for, practice_record
    from facemark.tell.plan_book import blocks_of, remembered

    rows = book.blocks(player.id)
    last = found.session.records[-1]
    [sitting] = sittings(book, player.id, only=[found.session_id])
    club = club_of_record(last["club"])
    practice = practice_for(
        sitting.hit_set,
        club,
        told=remembered(rows, PlanSetup(day=found.session.day), club),
        blocks=blocks_of(rows),
        head_mps=last["head_mps"],
    )
    return short_plan(practice_record(practice, Hand(last["hand"])))


def _session(player: PlayerRow, row: SessionRow, records: tuple[dict[str, Any], ...]) -> Session:
    return Session(
        records=records,
        player=player.name,
        day=row.day,
        name=row.name,
        conditions=Conditions(
            club=row.club_id, effort_frac=row.effort_frac, tee_mm=row.tee_mm, ball=row.ball or None
        ),
        place=row.place,
        ground=row.ground,
        note=row.note,
    )


def _kept_photo(book: Book, photo_id: str, record: dict[str, Any]) -> Photo | None:
    """The kept picture, if it is there, can be read, and is still the one that was measured."""
    data = book.photo_bytes(photo_id)
    if data is None:
        return None
    with tempfile.NamedTemporaryFile() as file:
        file.write(data)
        file.flush()
        try:
            photo = load(file.name, name=record["photo"]["name"])
        except FacemarkError:
            return None
    same = (photo.width_px, photo.height_px) == (record["photo"]["width_px"], record["photo"]["height_px"])
    return photo if same else None
