"""What helps beside the block that is planned."""

from __future__ import annotations

from enum import StrEnum

from facemark.explain.ladder import Focus
from facemark.explain.pattern import Label, Pattern


class Offer(StrEnum):
    """What helps beside the block."""

    CALL_IT = "say where it was before you look"
    MISS_ON_PURPOSE = "hit heel, toe and middle on command"
    POWDER_AND_CLEAN = "powder for the strike, a clean face for the flight"


def offers_beside(focus: Focus, pattern: Pattern | None) -> tuple[Offer, ...]:
    """What is offered with a block of this focus."""
    if focus is not Focus.STRIKE:
        return (Offer.POWDER_AND_CLEAN,)
    if pattern is not None and pattern.label is Label.CENTRED:
        return (Offer.CALL_IT, Offer.MISS_ON_PURPOSE)
    return (Offer.CALL_IT,)
