"""Whose face is this? A small square code on the printed card says it to every photo.

The code holds ``fm:PLAYER/CLUB`` and nothing else: a nickname and the name of a club, no date, no number.
Codes without that beginning (on a bag, a poster) are not ours and are passed over. Letters outside ASCII are
percent-encoded (RFC 3986), because readers differ in what they make of other bytes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote, unquote

from facemark.errors import SetupError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BEGINNING = "fm:"
LARGEST_VERSION = 4  # 33 modules a side: 0.36 mm a module on the card, five pixels of a 12 MP photo
SHRUNK_PX = 2000  # long side of the copy that is looked at first; a third of the time of the whole photo


@dataclass(frozen=True, slots=True, kw_only=True)
class CardLabel:
    """What a card says. ``club`` None: the label names the player only."""

    player: str
    club: str | None = None


def label_from_text(text: str) -> CardLabel:
    """A label as typed: "mia / driver", or "mia".

    Raises
    ------
    SetupError
        No player, or more than one stroke.
    """
    parts = [" ".join(part.split()) for part in text.split("/")]
    if len(parts) > 2 or not all(parts):
        raise SetupError(
            f"the label {text[:60]!r} is not PLAYER / CLUB",
            remedy='Write it as --label "mia / driver", or only the player as --label "mia".',
        )
    return CardLabel(player=parts[0], club=parts[1] if len(parts) == 2 else None)


def label_modules(label: CardLabel) -> tuple[tuple[bool, ...], ...]:
    """The label's square code (QR code, ISO/IEC 18004): rows of modules, True where black, no quiet zone.

    Raises
    ------
    SetupError
        The names are too long for a code that a photo can still show.
    """
    import segno

    names = [label.player] + ([label.club] if label.club else [])
    payload = BEGINNING + "/".join(quote(name, safe=" ") for name in names)
    code = segno.make_qr(payload, error="l", boost_error=True)
    if int(code.version) > LARGEST_VERSION:
        raise SetupError(
            f"the label has {len(payload)} characters, more than a small code can hold",
            remedy="Use a nickname and a short name for the club.",
        )
    return tuple(tuple(bool(module) for module in row) for row in code.matrix)


def read_label(text: str) -> CardLabel | None:
    """What a code's text says, or None if it is not one of ours."""
    if not text.startswith(BEGINNING):
        return None
    parts = [" ".join(unquote(part).split()) for part in text[len(BEGINNING) :].split("/")]
    if not parts[0] or len(parts) > 2:
        return None
    return CardLabel(player=parts[0], club=parts[1] if len(parts) == 2 and parts[1] else None)


def find_label(pixels: NDArray[np.uint8], *, thorough: bool = True) -> CardLabel | None:
    """Look for the card's label in a photo.

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) uint8
    thorough : bool
        Look at full size too if a copy ``SHRUNK_PX`` long shows nothing.

    Returns
    -------
    CardLabel or None
        None: no code of ours, or two cards that say different things.
    """
    import cv2

    grey = pixels if pixels.ndim == 2 else cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    shrink = SHRUNK_PX / max(grey.shape)
    copies = [grey] if thorough or shrink >= 1.0 else []
    if shrink < 1.0:
        copies.insert(0, cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA))
    finder = cv2.QRCodeDetectorAruco()
    for copy in copies:
        _, texts, _, _ = finder.detectAndDecodeMulti(copy)
        found = {label for label in map(read_label, texts or ()) if label is not None}
        if found:
            return found.pop() if len(found) == 1 else None
    return None
