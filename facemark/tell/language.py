"""The language people read: one table of sentences each (``languages/``), numbers written its way.

A sentence is looked up by key and filled with numbers that are already written. Tables hold the same keys and
placeholders (a test sees to that), so that no page says more in one language than in another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from facemark.caveats import CaveatText
from facemark.errors import SetupError
from facemark.tell.languages import de, en


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Language:
    """One language's table. ``direction`` is "ltr" or "rtl", for pages."""

    code: str
    name: str
    decimal_mark: str
    direction: str
    sentences: Mapping[str, str]
    doubts: Mapping[str, CaveatText]

    def say(self, key: str, **words: object) -> str:
        """The sentence of this key, filled."""
        return self.sentences[key].format(**words)

    def say_n(self, key: str, n: float) -> str:
        """A count with its noun: ``say_n("ball", 3)`` is '3 balls'."""
        return self.say(f"{key}.one" if n == 1 else f"{key}.many", n=self.number(n, 0 if n == int(n) else 1))

    def number(self, value: float, digits: int = 0) -> str:
        """A number with this language's decimal mark; never '-0'."""
        written = f"{value:.{digits}f}"
        if not float(written):
            written = written.lstrip("-")
        return written.replace(".", self.decimal_mark)


LANGUAGES: dict[str, Language] = {
    table.CODE: Language(
        code=table.CODE,
        name=table.NAME,
        decimal_mark=table.DECIMAL_MARK,
        direction=table.DIRECTION,
        sentences=table.SENTENCES,
        doubts=table.CAVEATS,
    )
    for table in (en, de)
}
ENGLISH = LANGUAGES["en"]


def language_named(code: str | None) -> Language:
    """The language of a code such as ``de``; English for None.

    Raises
    ------
    SetupError
        There is no table for it.
    """
    if code is None:
        return ENGLISH
    if code not in LANGUAGES:
        known = " or ".join(f"{item.code} ({item.name})" for item in LANGUAGES.values())
        raise SetupError(f"the language {code!r} has no table", remedy=f"Use {known}.")
    return LANGUAGES[code]
