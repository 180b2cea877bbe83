"""What a phone shows names no option and no command."""

from __future__ import annotations

import re

import pytest

from facemark.caveats import TEXTS
from facemark.tell.page.phone_words import for_phone


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("Leave the hosel in the picture, or say --right or --left.", None),
        (
            "Measure the side of the square and give it with --tag-mm.",
            "Measure the side of the square and give it.",
        ),
        ("Measure the head between two books: --head-mm 120.", "Measure the head between two books."),
        ("Plan it first (facemark plan --player Ada), or say --focus and --effort.", "Plan it first."),
        ("It may have been deleted; look again with facemark history.", "It may have been deleted."),
        ("Say another session. Run `facemark book where`. Or say --book FILE.", "Say another set."),
        ("Reinstall facemark with its weights.", "Reinstall facemark with its weights."),
        ("Run facemark doctor.", ""),
        ("Say --speed.", ""),
    ],
)
def test_sentences_without_options(written: str, shown: str | None) -> None:
    assert for_phone(written) == (written.replace("--", "") if shown is None else shown)


@pytest.mark.parametrize("key", TEXTS)
def test_no_doubt_sends_a_golfer_to_a_terminal(key: str) -> None:
    text = TEXTS[key]
    for written in (text.meaning, text.matters, text.remedy):
        shown = for_phone(written)
        assert not re.search(r"--|`|\(\)| [,.]|  ", shown)
        assert shown == "" or (shown[0] == written[0] or "--" in written)
        assert shown == "" or shown[-1] in ".!?"
