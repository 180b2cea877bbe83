"""Called strikes, or misses asked for, from a table typed by hand."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from facemark.errors import SetupError
from facemark.explain.callit import Ask, Call, Feel, count_on_purpose, judge_calls
from facemark.explain.span import Span
from facemark.explain.thresholds import thresholds_for
from facemark.explain.zone import rate_span
from facemark.inputs import ClubKind
from facemark.record import plain
from facemark.tell.plan_words import Teller
from facemark.tell.strike_files import number_of, read_rows

CALLED = ("called_toe_mm", "called_high_mm", "toe_mm", "high_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Calls:
    """What a table of calls came to; one of the two."""

    feel: Feel | None
    on_purpose: tuple[int, int] | None  # balls where they were asked for, balls
    edge_mm: float | None = None  # the middle reached so far to either side

    def record(self) -> dict[str, Any]:
        """Plain data."""
        feel = None if self.feel is None else plain(self.feel)
        if feel is not None and self.feel is not None:
            feel["beats_usual_place"] = self.feel.beats_usual_place
        rate = None if self.on_purpose is None else rate_span(*self.on_purpose)
        return {
            "command": "callit",
            "feel": feel,
            "on_purpose": plain(self.on_purpose),
            "on_purpose_rate": plain(rate),
            "edge_mm": self.edge_mm,
        }

    def lines(self, teller: Teller) -> list[str]:
        """In words."""
        if self.on_purpose is not None and self.edge_mm is not None:
            good, balls = self.on_purpose
            rate = rate_span(good, balls)
            return [
                teller.say(
                    "plan.purpose",
                    good=good,
                    balls=balls,
                    least=teller.number(100.0 * rate.least_frac),
                    most=teller.number(100.0 * rate.most_frac),
                    edge=teller.face(self.edge_mm),
                )
            ]
        assert self.feel is not None
        return feel_lines(self.feel, teller)


def feel_lines(feel: Feel, teller: Teller) -> list[str]:
    """How well strikes were called, in words."""
    say = teller.say
    leans = [
        _lean_words(*lean, teller)
        for lean in (
            ("side.toe", "side.heel", feel.toe_lean_mm, feel.toe_lean_span),
            ("side.high", "side.low", feel.high_lean_mm, feel.high_lean_span),
        )
        if not _holds_zero(lean[3])
    ]
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
        say("plan.call.lean", place=", ".join(leans)) if leans else say("plan.call.no lean"),
    ]


def _lean_words(plus: str, minus: str, mean_mm: float, span: Span, teller: Teller) -> str:
    """'6 mm toe (4 mm to 8 mm)'."""
    place = teller.say(plus if mean_mm > 0.0 else minus, far=teller.face(abs(mean_mm)))
    least, most = sorted((abs(span.least_mm), abs(span.most_mm)))
    return teller.say("plan.call.side", place=place, least=teller.face(least), most=teller.face(most))


def read_calls(path: Path, kind: ClubKind) -> Calls:
    """Read and judge a table of calls; the kind of club says how far the middle reaches.

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
        edge = thresholds_for(kind).worth_toe_mm
        return Calls(feel=None, on_purpose=count_on_purpose(asked, toes, edge_mm=edge), edge_mm=edge)
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
