"""Sentences of the commands, as a phone shows them: nobody on the range has a terminal at hand.

Errors and doubts name options and commands, because most people read them there. Here these are taken out of
a sentence that still says something without them; where it does not, the sentence goes.
"""

from __future__ import annotations

import re
from collections.abc import Callable

ELSEWHERE = "Ask whoever runs the page on the computer."
_OPTION = r"--[a-z-]+(?: [A-Z\d.]+\b)?"
_COMMAND = r"facemark (?!with\b|is\b|on\b)[a-z]+"
_CHANGES: list[
    tuple[str, str | Callable[[re.Match[str]], str]]
] = [  # in this order; beside each, what it is there for
    (r"--(right|left)\b", r"\1"),  # "Say --right or --left."
    (rf" \([^()]*(?:{_OPTION}|{_COMMAND})[^()]*\)", ""),  # "the kind of club (--kind)"
    (rf"\bSay {_OPTION}, and (\w)", lambda found: found[1].upper()),  # "Say --photo-effort, and read ten"
    (rf" of {_COMMAND}(?: {_OPTION})?", ""),  # "the mixed order of facemark compare --plan"
    (rf"(?:: | with ){_OPTION}(?=[.,;]|$)", ""),  # "between two books: --head-mm 120."
    (rf", or [^,.;]*{_OPTION}[^,.;]*", ""),  # "alone, or leave --centre-mark out."
    (r"\b([Ss])ession(s?)\b", r"\1et\2"),  # what the page calls it
]
_LEFT_OVER = re.compile(rf"`|{_OPTION}|{_COMMAND}")


def for_phone(words: str) -> str:
    """The same without options and commands; '' if nothing is left."""
    for pattern, instead in _CHANGES:
        words = re.sub(pattern, instead, words)
    parts = re.split(r"(?<=[.;!?]) +", words)
    kept = " ".join(part for part in parts if not _LEFT_OVER.search(part))
    return re.sub(r";$", ".", kept)
