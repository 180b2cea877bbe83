"""What comes first: strike, start line, path, or all together?

In the coach's order. A later thing is never blamed while an earlier one is unsettled: an off-centre strike
starts and bends the ball by itself. An earlier thing that was held on another day is tried once more first,
because only what lasts to another day was learned.

The strike is settled when the pattern is centred and contained, or the top of its effort ladder was held and
the marks do not speak against it; the start when its ladder was held, or neither face nor both were blamed;
the path when it was not blamed or its ladder was held. Nobody is told a later focus on missing evidence: then
the earlier one is looked at.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from facemark.errors import SetupError
from facemark.explain.causes import Reason, Verdict
from facemark.explain.centre import AxisWord
from facemark.explain.ladder import Focus, Rung
from facemark.explain.pattern import Label, Pattern
from facemark.explain.spread import SpreadWord

ORDER = (Focus.STRIKE, Focus.START, Focus.PATH, Focus.TOGETHER)


class Why(StrEnum):
    """Why this focus."""

    OFF_CENTRE = "the group lies off the sweet spot along the face"
    HIGH_LOW = "the group lies too high or too low"
    SCATTERED = "the strikes are scattered"
    TWO_GROUPS = "the strikes form two groups"
    NOT_SETTLED = "the strike is not settled yet"
    KEEP_ON = "the last block has not decided yet"
    STARTS_UNKNOWN = "the strike is settled; nobody has looked at the starts"
    CANNOT_TELL = "the strike is settled; what starts and bends the ball cannot be told yet"
    FACE = "the strike is settled and the face is to blame for the starts"
    PATH = "strike and start are settled and the path is to blame for the curve"
    PATH_TOLD = "strike and start are settled; from which side the swing comes was told, not found"
    SETTLED = "strike, start and path are settled one by one"
    RETEST = "it was held on another day; only what lasts was learned"


@dataclass(frozen=True, slots=True, kw_only=True)
class Blame:
    """What ``separate_causes`` found, as far as a plan needs it."""

    verdict: Verdict
    reason: Reason
    path_out_deg: float  # its best single value


def choose_focus(
    pattern: Pattern | None,
    blame: Blame | None,
    ladders: Mapping[Focus, Rung],
    *,
    told_path: bool = False,
    day: dt.date | None = None,
) -> tuple[Focus, Why]:
    """The focus, in the coach's order.

    Parameters
    ----------
    pattern : Pattern or None
        Of the last marks; None: from the ladders alone.
    blame : Blame or None
    ladders : Where each focus stands.
    told_path : somebody said from which side the swing comes.
    day : today; None: nothing is tried again.

    Raises
    ------
    SetupError
        The notes contradict each other.
    """
    why = _strike_unsettled(pattern, ladders[Focus.STRIKE])
    if why is not None:
        return Focus.STRIKE, why
    due = _retest(ladders, day)
    if due is not None:
        return due, Why.RETEST
    if blame is not None and blame.reason is Reason.NOTES_FIGHT:
        raise SetupError(
            "the notes of start and curve contradict each other or the strike: no plan can follow",
            remedy="Check the notes, the hand and the club, note ten more balls, and separate them again.",
        )
    if not ladders[Focus.START].held:
        if ladders[Focus.START].last_step is not None:
            return Focus.START, Why.KEEP_ON
        if blame is None or blame.reason in (Reason.NOTHING_SEEN, Reason.NO_START):
            return Focus.START, Why.STARTS_UNKNOWN
        if blame.verdict in (Verdict.FACE, Verdict.BOTH):
            return Focus.START, Why.FACE
        if blame.verdict is Verdict.CANNOT_TELL:
            return Focus.START, Why.CANNOT_TELL
    if not ladders[Focus.PATH].held:
        if ladders[Focus.PATH].last_step is not None:
            return Focus.PATH, Why.KEEP_ON
        if blame is not None and blame.verdict in (Verdict.PATH, Verdict.BOTH):
            return Focus.PATH, Why.PATH
        if told_path:
            return Focus.PATH, Why.PATH_TOLD
    return Focus.TOGETHER, Why.SETTLED


def _strike_unsettled(pattern: Pattern | None, rung: Rung) -> Why | None:
    """Why the strike comes first; None: it is settled."""
    if pattern is None:
        # A later focus was practised without a strike ladder: the marks of that day had settled the strike.
        return None if rung.held or rung.last_step is None else Why.KEEP_ON
    if pattern.label is Label.TWO_GROUPS:
        return Why.TWO_GROUPS
    if pattern.toe_axis.word in (AxisWord.PLUS, AxisWord.MINUS):
        return Why.OFF_CENTRE
    if pattern.label is Label.SCATTERED:
        return Why.SCATTERED
    if pattern.direction is not None:
        return Why.HIGH_LOW
    contained = pattern.spread is not None and pattern.spread.word is SpreadWord.CONTAINED
    if rung.held or (pattern.label is Label.CENTRED and contained):
        return None
    return Why.NOT_SETTLED


def _retest(ladders: Mapping[Focus, Rung], day: dt.date | None) -> Focus | None:
    """The earliest focus that was held on an earlier day and not tried since."""
    if day is None:
        return None
    for focus in ORDER:
        rung = ladders[focus]
        if rung.held and not rung.learned and rung.held_day is not None and rung.held_day < day:
            return focus
    return None
