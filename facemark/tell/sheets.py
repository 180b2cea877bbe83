"""The test sheet for comparing clubs: order, counts and the throw-out rule, fixed before the first ball.

Blocks of a few balls, wipe and spray between them; the clubs take turns in a mixed order (A B B A, and B A A
B after it), so that warming up and tiring fall on all of them alike. The rule for throwing balls out never
asks where the ball was struck. One PDF to take to the range, one table to type into; ``facemark compare``
reads it.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from facemark.errors import SetupError
from facemark.explain.howmany import shown_ratio
from facemark.tell.card import MM, PAPERS_MM
from facemark.tell.files import write_text, written_whole
from facemark.tell.words import plural

BLOCK_BALLS = 5  # marks of more balls run into each other
FEWEST_BALLS, MOST_BALLS = 5, 60
MOST_CLUBS = 8
HEAD = ("ball", "block", "club", "toe_mm", "high_mm", "result", "sweet_spot", "effort", "tee_mm", "note")
RULE = (
    "A ball is thrown out only if the player says so before anyone looks at the face (slip, noise, broken "
    "tee), or if the powder was touched before it was photographed. It is never thrown out for where it was "
    "struck or where it flew. At most one ball a block; it is hit again at the end of that block and written "
    "down as out."
)
DRIFT = (
    "Strikes wander as you warm up or tire. Hit ten balls first that do not count, rest two minutes between "
    "blocks, and keep the order: it spreads the wander over all clubs. facemark compare tests for it in each "
    "club."
)
SAME = (
    "Same for all clubs: ball, powder, tee height, effort, mat or grass, and the way the sweet spot is "
    "found. Each club is measured from its own sweet spot. If you can, hide which club it is from the player."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A few balls with one club, before the face is photographed and wiped."""

    number: int  # from 1
    club: str
    first_ball: int  # running number over the whole test, from 1
    n_balls: int


def plan_test(clubs: Sequence[str], *, n_balls: int, n_block: int = BLOCK_BALLS) -> tuple[Block, ...]:
    """Lay out a test: every club the same number of balls, in a mixed order.

    Parameters
    ----------
    clubs : two to eight different names.
    n_balls : balls for each club.
    n_block : balls before the face is wiped.

    Raises
    ------
    SetupError
        Names missing or double, too few or too many balls.
    """
    names = [" ".join(club.split()) for club in clubs]
    if len(names) < 2 or len(names) > MOST_CLUBS or len(set(names)) < len(names) or not all(names):
        raise SetupError(
            f"expected 2 to {MOST_CLUBS} different club names, got {', '.join(names) or 'none'}",
            remedy="Say for example: facemark compare --plan --club A --club B.",
        )
    if not FEWEST_BALLS <= n_balls <= MOST_BALLS or not 1 <= n_block <= n_balls:
        raise SetupError(
            f"expected {FEWEST_BALLS} to {MOST_BALLS} balls a club in blocks of at most that, "
            f"got {n_balls} in blocks of {n_block}",
            remedy="Ten balls a club in blocks of five are a usual test; twenty show more.",
        )
    sizes = [n_block] * (n_balls // n_block) + ([n_balls % n_block] if n_balls % n_block else [])
    blocks: list[Block] = []
    ball = 1
    for turn, size in enumerate(sizes):
        for club in reversed(names) if _backwards(turn) else names:
            blocks.append(Block(number=len(blocks) + 1, club=club, first_ball=ball, n_balls=size))
            ball += size
    return tuple(blocks)


def _backwards(turn: int) -> bool:
    """Turns 0, 1, 2, 3 run forward, back, back, forward: steady wander cancels in pairs, bent in fours."""
    return turn.bit_count() % 2 == 1


def write_plan_csv(path: str | os.PathLike[str], blocks: Sequence[Block]) -> None:
    """Write the table to type into; BookError if it cannot be written."""
    out = io.StringIO()
    out.write(f"# Throw-out rule, fixed beforehand: {RULE}\n")
    out.write("# result: empty for a mark; no mark: hit, but none on the face; out: thrown out by the rule\n")
    out.write("# sweet_spot: measured, centre mark or assumed; effort in %; tee height in mm\n")
    table = csv.writer(out, lineterminator="\n")
    table.writerow(HEAD)
    for block in blocks:
        for ball in range(block.first_ball, block.first_ball + block.n_balls):
            table.writerow([ball, block.number, block.club] + [""] * (len(HEAD) - 3))
    write_text(path, out.getvalue())


def write_plan_pdf(path: str | os.PathLike[str], blocks: Sequence[Block], *, paper: str = "a4") -> None:
    """Write the sheet to take along.

    Raises
    ------
    SetupError
        An unknown paper.
    BookError
        The file cannot be written.
    """
    size_mm = PAPERS_MM.get(paper.lower())
    if size_mm is None:
        raise SetupError(
            f"expected paper {' or '.join(PAPERS_MM)}, got {paper!r}", remedy="Say --paper a4 or letter."
        )
    from reportlab.platypus import SimpleDocTemplate

    with written_whole(path) as unfinished:
        page = SimpleDocTemplate(
            str(unfinished),
            pagesize=(size_mm[0] * MM, size_mm[1] * MM),
            leftMargin=16 * MM,
            rightMargin=16 * MM,
            topMargin=14 * MM,
            bottomMargin=14 * MM,
            title="Test sheet",
            author="facemark",
            invariant=1,
        )
        page.build(_story(blocks, size_mm[0] - 32.0))


def _story(blocks: Sequence[Block], width_mm: float) -> list[Any]:
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph, Spacer

    plain, bold = _fonts()
    text = ParagraphStyle("text", fontName=plain, fontSize=9.5, leading=12.5, spaceAfter=4)
    title = ParagraphStyle("title", fontName=bold, fontSize=16, leading=20, spaceAfter=6)
    clubs = list(dict.fromkeys(block.club for block in blocks))
    n_each = sum(block.n_balls for block in blocks if block.club == clubs[0])
    ratio = shown_ratio(n_each, n_clubs=len(clubs))
    lines = [
        ("Order", " - ".join(block.club for block in blocks) + f"; {plural(n_each, 'ball')} with each."),
        (
            "Can show",
            f"a spread {ratio:.1f} times as large, in 4 of 5 tests if it is real; less may hide.",
        ),
        ("Each block", "spray, hit, photograph, wipe. Tick every ball; cross out one thrown out."),
        ("Thrown out", RULE),
        ("Wander", DRIFT),
        ("Same", SAME),
    ]
    story: list[Any] = [Paragraph(escape(f"Test sheet: {', '.join(clubs)}"), title)]
    story += [Paragraph(f"<font name='{bold}'>{head}:</font> {escape(words)}", text) for head, words in lines]
    blanks = "Player ____________________   Day ______________   Place ____________________"
    more = (
        "Ball ______________   Tee height ________ mm   Effort ______ %   "
        "Sweet spot: measured / mark / assumed"
    )
    story += [Spacer(1, 5), Paragraph(blanks, text), Paragraph(more, text), Spacer(1, 4)]
    return [*story, _table(blocks, width_mm, plain, bold)]


def _table(blocks: Sequence[Block], width_mm: float, plain: str, bold: str) -> Any:
    from reportlab.lib import colors
    from reportlab.platypus import Table, TableStyle

    most = max(block.n_balls for block in blocks)
    rows: list[list[str]] = [["Block", "Club", "Balls", *([""] * most), "Photo", "Note"]]
    for block in blocks:
        last = block.first_ball + block.n_balls - 1
        balls = [str(ball) for ball in range(block.first_ball, last + 1)]
        span = f"{block.first_ball} to {last}" if block.n_balls > 1 else f"{last}"
        rows.append(
            [str(block.number), _short(block.club), span, *balls, *([""] * (most - len(balls))), "", ""]
        )
    rest = width_mm - 14.0 - 34.0 - 20.0 - 16.0
    ball_mm = min(10.0, (rest - 20.0) / most)
    widths = [14.0, 34.0, 20.0, *([ball_mm] * most), 16.0, rest - ball_mm * most]
    table = Table(rows, colWidths=[w * MM for w in widths], rowHeights=9.0 * MM, repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("FONT", (0, 0), (-1, -1), plain, 9.5),
                ("FONT", (0, 0), (-1, 0), bold, 9.5),
                ("FONT", (1, 1), (1, -1), bold, 9.5),
                ("TEXTCOLOR", (3, 1), (2 + most, -1), colors.Color(0.45, 0.45, 0.45)),
                ("ALIGN", (3, 0), (2 + most, -1), "CENTER"),
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("GRID", (0, 0), (-1, -1), 0.4, colors.Color(0.6, 0.6, 0.6)),
                ("LINEBELOW", (0, 0), (-1, 0), 1.0, colors.black),
            ]
        )
    )
    return table


def _short(club: str) -> str:
    return club if len(club) <= 16 else club[:15] + "\N{HORIZONTAL ELLIPSIS}"


def _fonts() -> tuple[str, str]:
    """A font with more letters than the PDF's own; it comes along with matplotlib."""
    import matplotlib as mpl
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    for name, file in (("Sheet", "DejaVuSans.ttf"), ("SheetBold", "DejaVuSans-Bold.ttf")):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    return "Sheet", "SheetBold"
