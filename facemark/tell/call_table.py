"""Called strikes, or misses asked for, from a table typed by hand."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from facemark.errors import SetupError
from facemark.explain.callit import Ask, Call, Feel, count_on_purpose, judge_calls
from facemark.explain.span import Span
from facemark.explain.thresholds import thresholds_for
from facemark.inputs import ClubKind
from facemark.record import plain
from facemark.tell.plan_words import Teller
from facemark.tell.strike_files import number_of, read_rows
from facemark.tell.words import place_words

CALLED = ("called_toe_mm", "called_high_mm", "toe_mm", "high_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Calls:
    """What a table of calls came to; one of the two."""

    feel: Feel | None
    on_purpose: tuple[int, int] | None  # balls where they were asked for, balls

    def record(self) -> dict[str, Any]:
        """Plain data."""
        feel = None if self.feel is None else plain(self.feel)
        if feel is not None and self.feel is not None:
            feel["beats_usual_place"] = self.feel.beats_usual_place
        return {"command": "callit", "feel": feel, "on_purpose": plain(self.on_purpose)}

    def lines(self, teller: Teller) -> list[str]:
        """In words."""
        if self.on_purpose is not None:
            good, balls = self.on_purpose
            return [teller.say("plan.purpose", good=good, balls=balls)]
        assert self.feel is not None
        return feel_lines(self.feel, teller)


def feel_lines(feel: Feel, teller: Teller) -> list[str]:
    """How well strikes were called, in words."""
    say = teller.say
    lean_toe, lean_high = (
        mean if not _holds_zero(span) else 0.0
        for mean, span in (
            (feel.toe_lean_mm, feel.toe_lean_span),
            (feel.high_lean_mm, feel.high_lean_span),
        )
    )
    leans = bool(round(lean_toe) or round(lean_high))
    place = place_words(lean_toe, lean_high, teller.units, teller.language) if leans else ""
    return [
        say(
            "plan.call.err",
            err=teller.face(feel.feel_err_mm),
            least=teller.face(feel.feel_span.least_mm),
            most=teller.face(feel.feel_span.most_mm),
            balls=teller.language.say_n("ball", feel.n_balls),
        ),
        say(
            "plan.call.better" if feel.beats_usual_place else "plan.call.no better",
            usual=teller.face(feel.usual_place_mm),
        ),
        say("plan.call.lean", place=place) if leans else say("plan.call.no lean"),
    ]


def read_calls(path: Path) -> Calls:
    """Read and judge a table of calls.

    Raises
    ------
    BookError
        The file cannot be read or has no such columns.
    SetupError
        A line that is not complete, or too few balls.
    """
    split, rows = read_rows(path)
    names = set(rows[0][1]) if rows else set()
    if "asked" in names:
        asked, toes = [], []
        for number, cells in rows:
            asked.append(_ask(number, cells["asked"]))
            toes.append(_value(number, cells, "toe_mm", split))
        edge = thresholds_for(ClubKind.DRIVER).worth_toe_mm
        return Calls(feel=None, on_purpose=count_on_purpose(asked, toes, edge_mm=edge))
    calls = []
    for number, cells in rows:
        values = [_value(number, cells, name, split) for name in CALLED]
        calls.append(
            Call(called_toe_mm=values[0], called_high_mm=values[1], toe_mm=values[2], high_mm=values[3])
        )
    return Calls(feel=judge_calls(calls), on_purpose=None)


def _value(number: int, cells: dict[str, str], name: str, split: str) -> float:
    found = number_of(cells.get(name, ""), split)
    if found is None:
        raise SetupError(
            f"line {number}: expected a number for {name}, got {cells.get(name, '')!r}",
            remedy=f"Give {', '.join(CALLED)} for each ball, or asked and toe_mm.",
        )
    return found


def _ask(number: int, cell: str) -> Ask:
    try:
        return Ask(cell.strip().lower())
    except ValueError:
        raise SetupError(
            f"line {number}: asked {cell!r} is not known", remedy="Write heel, middle or toe."
        ) from None


def _holds_zero(span: Span) -> bool:
    return span.least_mm <= 0.0 <= span.most_mm
