"""Tables of sentences: complete, equal in what they say, and every doubt's numbers are understood."""

from __future__ import annotations

import ast
import json
import re
import string
from dataclasses import fields
from itertools import product
from pathlib import Path
from typing import Any

import pytest

import facemark
from facemark.caveats import TEXTS
from facemark.clubs import typical_club
from facemark.edits import KINDS, edits_words
from facemark.explain.pattern import Label
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind
from facemark.strike import SweetSpotFrom
from facemark.tell.details import detail_words
from facemark.tell.language import ENGLISH, LANGUAGES, Language
from facemark.tell.report import reading_text
from facemark.tell.units import Units
from facemark.tell.words import edit_words, headline_words

PACKAGE = Path(facemark.__file__).parent
OTHERS = [language for language in LANGUAGES.values() if language is not ENGLISH]


def placeholders(sentence: str) -> list[str]:
    return sorted(name for _, name, _, _ in string.Formatter().parse(sentence) if name)


@pytest.mark.parametrize("language", OTHERS, ids=lambda language: language.code)
def test_tables_hold_the_same_sentences(language: Language) -> None:
    assert set(language.sentences) == set(ENGLISH.sentences)
    for key, sentence in ENGLISH.sentences.items():
        assert placeholders(language.sentences[key]) == placeholders(sentence), key
        assert language.sentences[key].strip(), key
    assert set(language.doubts) == set(TEXTS)


@pytest.mark.parametrize("language", OTHERS, ids=lambda language: language.code)
def test_doubts_are_translated_and_keep_their_numbers(language: Language) -> None:
    for key, text in language.doubts.items():
        for part in ("meaning", "matters", "remedy"):
            said, english = getattr(text, part), getattr(TEXTS[key], part)
            assert said != english, (key, part)
            found = [number.replace(",", ".") for number in re.findall(r"\d+(?:,\d+)?", said)]
            assert sorted(found) == sorted(re.findall(r"\d+(?:\.\d+)?", english)), (key, part)


def test_sentences_asked_for_exist_and_all_are_asked_for() -> None:
    """Keys in the code as whole strings, or as f-strings whose fixed start begins some key."""
    asked, starts = set(), set()
    for path in (PACKAGE / "tell").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                asked.add(node.value)
            if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                starts.add(str(node.values[0].value))
    for key in ENGLISH.sentences:
        counted = key.removesuffix(".one").removesuffix(".many")
        assert key in asked or counted in asked or any(key.startswith(s) and len(s) > 2 for s in starts), key


def test_every_word_a_record_can_hold_has_a_sentence() -> None:
    keys = set(ENGLISH.sentences)
    assert {f"kind.{kind}" for kind in ClubKind} <= keys
    assert {f"hand.{hand}" for hand in Hand} <= keys
    assert {f"object.{kind}" for kind in ReferenceKind if kind is not ReferenceKind.AUTO} <= keys
    assert {f"headline.{label}" for label in Label} <= keys
    for start in ("spot", "method"):
        assert {f"{start}.{found}" for found in SweetSpotFrom} <= keys


def test_every_edit_by_hand_has_its_words() -> None:
    # The words a correction is kept with, and the table's English, are the same.
    for name, kind in KINDS.items():
        values = {item.name: "A" if item.name in ("letter", "other") else 9.0 for item in fields(kind)}
        edit = kind(**values)
        for n in (1, 2) if f"edit.{name}.one" in ENGLISH.sentences else (1,):
            words = edits_words([edit] * n)
            assert edit_words({name: n}) == [words]
            german = detail_words(words, Units(), LANGUAGES["de"])
            assert german != words
            assert german == edit_words({name: n}, LANGUAGES["de"])[0]


def test_headlines() -> None:
    german = LANGUAGES["de"]
    assert headline_words("scattered, high toe", german) == "verstreut, hoch zur Spitze"
    assert headline_words("centred, slightly toe and low", german) == "mittig, leicht zur Spitze und tief"
    assert headline_words("centred, slightly toe and low") == "centred, slightly toe and low"


def phrases() -> list[tuple[str, ast.expr]]:
    """Every phrase that see/ and explain/ hand to a Caveat of a reading as its detail, where it stands."""
    found = []
    for path in [*(PACKAGE / "see").glob("*.py"), *(PACKAGE / "explain").glob("*.py")]:
        if path.stem in {"moveon", "trend", "compare"}:
            continue  # not part of a reading or a session; their commands speak English
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for scope in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
            named = {
                target.id: node.value
                for node in ast.walk(scope)
                if isinstance(node, ast.Assign)
                for target in node.targets
                if isinstance(target, ast.Name)
            }
            for node in ast.walk(scope):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Caveat":
                    for keyword in node.keywords:
                        if keyword.arg == "detail":
                            value = keyword.value
                            if isinstance(value, ast.Name):
                                value = named.get(value.id, value)
                            found.append((f"{path.stem}:{node.lineno}", value))
    return found


SAMPLES = ("3", "right", "driver", "card", "scattered, high toe", "1, 2", "104 mm by the ball")


def filled(phrase: ast.JoinedStr) -> list[str]:
    """The phrase with each hole filled in every way; a sign where the format asks for one."""
    holes = sum(isinstance(part, ast.FormattedValue) for part in phrase.values)
    texts = []
    for values in product(SAMPLES, repeat=holes):
        left = iter(values)
        texts.append(
            "".join(
                part.value if isinstance(part, ast.Constant) else next(left)  # type: ignore[misc]
                for part in phrase.values
            )
        )
    return texts


def test_every_phrase_of_a_doubt_is_understood() -> None:
    german, seen = LANGUAGES["de"], 0
    for place, value in phrases():
        if isinstance(value, ast.JoinedStr):
            seen += 1
            ours = filled(value)
            assert any(detail_words(text, Units(), ENGLISH) and understood(text, german) for text in ours), (
                place,
                ours[0],
            )
    assert seen > 20  # the search itself works


def understood(text: str, language: Language) -> bool:
    """A phrase with words comes back changed."""
    return (
        not re.search("[a-z]", text) or detail_words(text, Units(), language) != text or text.endswith("mm")
    )


@pytest.mark.parametrize(
    ("detail", "english", "german"),
    [
        # One standard error comes, the reader is told 95 of 100 cases, as in "Sweet spot used".
        ("+-2.0 mm toe-heel, +-2.5 mm high-low", "±4 mm toe-heel, ±5 mm", "±4 mm Spitze-Ferse, ±5 mm"),
        ("+-0.4 mm toe-heel, +-0.4 mm high-low", "±0.8 mm toe-heel", "±0,8 mm Spitze-Ferse"),
        ("+-1 degrees", "±2°", "±2°"),
        ("3 told, about 4 seen", "3 told, about 4 seen", "3 angegeben, etwa 4 gesehen"),
        ("effort, tee height", "effort, tee height", "Krafteinsatz, Teehöhe"),
        ("a round mark at +3 mm toe, -4 mm high was read differently", "3 mm toe, 4 mm low", "4 mm tief"),
        ("strike 3; without it: toe", "strike 3; without it: toe side", "Treffer 3; ohne ihn: zur Spitze"),
        ("42 mm toe or heel; head speed 60 m/s", "head speed 60 m/s", "Schlägerkopf 60 m/s"),
        ("2 marks moved, toe side said", "2 marks moved, toe side said", "2 Abdrücke verschoben, Seite"),
        (
            "what is 100 mm by the card is 104 mm by the ball and 97 mm by the face's length",
            "104 mm by the ball and 97 mm by the face's length",
            "was nach der ID-1-Karte 100 mm misst, misst 104 mm nach dem Ball und 97 mm nach der Länge",
        ),
        (
            "49 mm high, a fairway has at most 44 mm",
            "49 mm high; most for this kind (fairway wood): 44 mm",
            "49 mm hoch; üblich sind höchstens 44 mm (Fairwayholz)",
        ),
        ("56 mm high, told are 47 mm", "56 mm high, 47 mm were told", "56 mm hoch, 47 mm waren angegeben"),
        ("the edge bulges", "the edge bulges", "Beule"),
        ("something new", "something new", "something new"),
    ],
)
def test_details(detail: str, english: str, german: str) -> None:
    assert english in detail_words(detail, Units(), ENGLISH)
    assert german in detail_words(detail, Units(), LANGUAGES["de"])


def numbers(text: str, mark: str = ".") -> list[str]:
    return re.findall(rf"\d+(?:\{mark}\d+)?", text)


@pytest.fixture(scope="module")
def record(fixtures: Path) -> dict[str, Any]:
    setup = facemark.Setup(
        club=typical_club(ClubKind.DRIVER),
        hand=Hand.RIGHT,
        reference=Reference(kind=ReferenceKind.TAGS, size_mm=23.9),
        n_balls=3,
    )
    return json.loads(
        json.dumps(facemark.read(facemark.load(fixtures / "photos/driver-tags.jpg"), setup).to_dict())
    )


@pytest.mark.parametrize("language", OTHERS, ids=lambda language: language.code)
def test_a_reading_says_the_same_numbers(record: dict[str, Any], language: Language) -> None:
    english = reading_text(record, Units())
    other = reading_text(record, Units(), language)
    assert sorted(numbers(other, ",")) == sorted(n.replace(".", ",") for n in numbers(english))
    assert "," in "".join(numbers(other, ","))  # a decimal comma was really there
