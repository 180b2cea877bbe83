"""A player's sessions in numbers, and the one sentence about first and last."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from facemark.clubs import typical_club
from facemark.errors import BookError
from facemark.explain.pattern import Label, describe_pattern
from facemark.inputs import ClubKind
from facemark.tell import history
from facemark.tell.book.outgoing import Choice
from facemark.tell.book.sets import club_sets, day_sets, sittings
from facemark.tell.book.store import Book
from facemark.tell.history import ChangeWord, history_lines, history_record, look_back
from tests.explain.sets import exact
from tests.tell.book.readings import DAY, facts, group, put, record_of, session_of

LATER = DAY + dt.timedelta(days=30)


def points(n: int, centre: tuple[float, float], spread: float, seed: int = 0) -> list[tuple[float, float]]:
    return [(float(t), float(h)) for t, h in exact(n, centre, (spread, spread), seed=seed)]


def change_of(book: Book, name: str = "Ada"):  # type: ignore[no-untyped-def]
    (change,) = look_back(book, book.find_player(name)).changes
    return change


def test_photos_of_a_session_are_pooled(book: Book) -> None:
    parts = [group(5, seed=1), group(4, toe=-3.0, seed=2), group(1, seed=3)]
    for n, part in enumerate(parts):
        put(book, "Ada", f"photo {n}", points=part)
    (one,) = look_back(book, book.find_player("Ada")).sessions
    every = np.array([point for part in parts for point in part])  # numpy has no idea of photos
    assert (one.n_photos, one.n_balls) == (3, 10)
    # Records are rounded to 0.01 mm.
    assert [one.toe_mm, one.high_mm] == pytest.approx(every.mean(axis=0), abs=0.01)
    assert [one.toe_spread_mm, one.high_spread_mm] == pytest.approx(every.std(axis=0, ddof=1), abs=0.01)
    assert one.label in {str(label) for label in Label}
    (sitting,) = sittings(book, book.find_player("Ada").id)
    assert len(sitting.hit_set.strikes.strikes) == 10
    assert sitting.hit_set.strikes.n_balls == 10


def test_a_label_is_worked_out_once_and_again_when_readings_change(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def describe(strikes: object, kind: object) -> object:
        asked.append(strikes)
        return describe_pattern(strikes, kind)  # type: ignore[arg-type]

    monkeypatch.setattr(history, "describe_pattern", describe)
    rows = [put(book, "Ada", f"photo {n}", points=group(5, seed=n)) for n in range(2)]
    ada = book.find_player("Ada")
    first = look_back(book, ada).sessions
    assert look_back(book, ada).sessions == first
    assert len(asked) == 1
    book.add_correction(rows[0].id, [], record_of(group(4, toe=-30.0, seed=9)))
    assert look_back(book, ada).sessions != first
    put(book, "Ada", "photo 3")
    look_back(book, ada)
    book.undo_correction(rows[0].id)
    look_back(book, ada)
    assert len(asked) == 4
    book.delete_reading(rows[0].id)
    look_back(book, ada)
    look_back(book, ada)
    assert len(asked) == 5


def test_a_photo_read_twice_counts_once(book: Book) -> None:
    first = put(book, "Ada", "a", points=group(5, seed=1))
    book.add_reading(first.session_id, facts("a"), record_of(group(3, toe=0.0, seed=2)), "other settings")
    (one,) = look_back(book, book.find_player("Ada")).sessions
    assert (one.n_photos, one.n_balls) == (1, 3)
    (sitting,) = sittings(book, book.find_player("Ada").id)
    assert len(sitting.hit_set.strikes.strikes) == 3


def test_corrections_count(book: Book) -> None:
    row = put(book, "Ada", "a", points=group(5))
    book.add_correction(row.id, [], record_of(group(4, toe=0.0, seed=9)))
    (one,) = look_back(book, book.find_player("Ada")).sessions
    assert one.n_balls == 4


def test_better_worse_and_cannot_tell(book: Book) -> None:
    loose, tight = points(20, (9.0, 0.0), 10.0), points(20, (1.0, 0.0), 4.0, seed=5)
    told = {"effort_frac": 0.5, "tee_mm": 45.0}
    put(book, "Ada", "a1", points=loose, **told)
    put(book, "Ada", "a2", points=tight, day=LATER, **told)
    put(book, "Ben", "b1", points=tight, **told)
    put(book, "Ben", "b2", points=loose, day=LATER, **told)
    put(book, "Cid", "c1", points=points(10, (5.0, 0.0), 7.0), **told)
    put(book, "Cid", "c2", points=points(10, (4.0, 1.0), 6.5, seed=5), day=LATER, **told)
    ada, ben, cid = (change_of(book, name) for name in ("Ada", "Ben", "Cid"))
    assert ada.word is ChangeWord.BETTER
    assert "tighter" in ada.why
    assert ben.word is ChangeWord.WORSE
    assert cid.word is ChangeWord.CANNOT_TELL
    assert "more balls each would show" in cid.why
    assert ada.caveats == ()
    lines = "\n".join(history_lines(look_back(book, book.find_player("Ada"))))
    assert f"Better on {LATER} than on {DAY}: a tighter group" in lines
    assert "Two days are no trend" in lines
    # Standard deviations of 10 and 4 mm; the comparison goes by mean distances, which are near 2.5 times too.
    assert ada.comparison is not None
    assert ada.comparison.pairs[0].spread_ratio == pytest.approx(2.5, rel=0.05)
    assert "the centre moved 8 mm toward the heel" in lines


def test_nothing_changed_and_seldom_a_word(book: Book) -> None:
    """Twenty players who did not change: words at 5 % a question, two questions: 2 expected, 8 never."""
    rng = np.random.default_rng(11)
    words = []
    for n in range(20):
        for day in (DAY, LATER):
            drawn = [(float(t), float(h)) for t, h in rng.normal((4.0, 0.0), 8.0, size=(10, 2))]
            put(book, f"p{n}", f"{n} {day}", day=day, points=drawn)
        words.append(change_of(book, f"p{n}").word)
    assert sum(word is not ChangeWord.CANNOT_TELL for word in words) < 8


def test_only_like_is_compared_with_like(book: Book) -> None:
    loose, tight = points(20, (9.0, 0.0), 10.0), points(20, (1.0, 0.0), 4.0, seed=5)
    put(book, "Ada", "slow", points=loose, effort_frac=0.2)
    put(book, "Ada", "fast", points=tight, day=LATER, effort_frac=0.8)
    change = change_of(book)
    assert change.word is ChangeWord.CANNOT_TELL
    assert change.why == "no earlier day under the same conditions"
    put(book, "Ada", "fast before", points=loose, day=DAY + dt.timedelta(days=1), effort_frac=0.8)
    change = change_of(book)
    assert change.word is ChangeWord.BETTER
    assert change.first == str(DAY + dt.timedelta(days=1))
    # Nobody noted the tee: said, not hidden.
    assert [caveat.key for caveat in change.caveats] == ["conditions_unknown"]


def test_sweet_spots_found_in_other_ways_are_not_compared(book: Book) -> None:
    put(book, "Ada", "a", points=points(20, (9.0, 0.0), 10.0))
    measured = record_of(points(20, (1.0, 0.0), 4.0))
    measured["sweet_spot"]["from"] = "measured"
    book.add_reading(session_of(book, "Ada", LATER).id, facts("b"), measured, "s")
    change = change_of(book)
    assert change.word is ChangeWord.CANNOT_TELL
    assert "sweet spot" in change.why


def test_one_day_is_no_comparison(book: Book) -> None:
    put(book, "Ada", "a")
    put(book, "Ada", "b", name="second set")
    assert change_of(book).why == "there is only one day"
    book.player("Ben")
    assert history_lines(look_back(book, book.find_player("Ben"))) == ["Ben: 0 sessions in the book."]


def test_clubs_are_kept_apart(book: Book) -> None:
    put(book, "Ada", "a")
    put(book, "Ada", "b", kind=ClubKind.IRON)
    ada = book.find_player("Ada")
    assert {change.club for change in look_back(book, ada).changes} == {"typical driver", "typical iron"}
    (one,) = look_back(book, ada, club="TYPICAL iron").sessions
    assert one.club == "typical iron"
    with pytest.raises(BookError, match="putter") as caught:
        look_back(book, ada, club="putter")
    assert "typical driver, typical iron" in caught.value.remedy


def test_club_names_in_any_alphabet(book: Book) -> None:
    club = replace(typical_club(ClubKind.DRIVER), name="Größe Ö")
    session = book.session(book.player("Ada").id, book.club(club).id, DAY)
    book.add_reading(session.id, facts("a"), record_of(group(5)), "s")
    for name in ("Größe Ö", "GRÖSSE ö "):
        (one,) = look_back(book, book.find_player("Ada"), club=name).sessions
        assert one.club == "Größe Ö"
        assert len(sittings(book, book.find_player("Ada").id, clubs=[name])) == 1
        assert len(list(book.chosen_readings(Choice(club=name)))) == 1


def test_sets_for_compare_and_trend(book: Book) -> None:
    days = [DAY + dt.timedelta(days=7 * n) for n in range(3)]
    for n, day in enumerate(days):
        put(book, "Ada", f"d{n}", day=day, points=group(5 + n, seed=n), effort_frac=0.5)
    put(book, "Ada", "again", day=days[2], name="second set", effort_frac=0.5)
    put(book, "Ada", "hard", day=days[1], name="hard", effort_frac=1.0)
    put(book, "Ada", "iron", day=days[0], kind=ClubKind.IRON)
    found = sittings(book, book.find_player("Ada").id)
    newest = {one.name: len(one.strikes.strikes) for one in club_sets(found, pool=False)}
    assert newest == {"typical driver": 5, "typical iron": 5}
    pooled = {one.name: one for one in club_sets(found, pool=True)}
    assert len(pooled["typical driver"].strikes.strikes) == 5 + 6 + 7 + 5 + 5
    assert pooled["typical driver"].conditions.effort_frac is None  # 0.5 and 1.0
    drivers = [one for one in found if one.club.kind is ClubKind.DRIVER]
    assert [one.name for one in day_sets(drivers)] == [str(day) for day in days]


def test_the_record_is_plain(book: Book) -> None:
    put(book, "Ada", "a", points=group(10, seed=1))
    put(book, "Ada", "b", points=group(10, seed=2), day=LATER)
    record = json.loads(json.dumps(history_record(look_back(book, book.find_player("Ada"))), allow_nan=False))
    assert record["schema"] == 1
    assert [session["n_balls"] for session in record["sessions"]] == [10.0, 10.0]
    assert record["changes"][0]["word"] in set(ChangeWord)


def test_groups_that_cannot_be_told_apart_are_pooled(book: Book) -> None:
    parts = [np.array(group(6, seed=1)), np.array(group(4, toe=-2.0, seed=2))]
    for n, part in enumerate(parts):
        record = record_of([(float(t), float(h)) for t, h in part]) | {"separable": False}
        book.add_reading(session_of(book, "Ada").id, facts(str(n)), record, "s")
    (sitting,) = sittings(book, book.find_player("Ada").id)
    found, every = sitting.hit_set.strikes.group, np.concatenate(parts)
    assert found is not None
    assert found.n_balls == 10
    assert [found.toe_mm, found.high_mm] == pytest.approx(every.mean(axis=0), abs=0.01)
    assert [found.toe_spread_mm, found.high_spread_mm] == pytest.approx(every.std(axis=0, ddof=1), abs=0.01)
    assert found.n_balls_err == pytest.approx(0.2 * 2**0.5)


def without_marks() -> dict[str, Any]:
    """A photo on which no mark was left."""
    record = record_of([(0.0, 0.0), (1.0, 1.0)]) | {"marks": [], "group": None, "n_least": 0}
    return record | {"n_balls_told": None, "pattern": {"label": "cannot tell", "n_balls": 0}}


@pytest.mark.parametrize("empty_day", [DAY, LATER])
def test_a_session_without_balls_is_told_and_not_compared(book: Book, empty_day: dt.date) -> None:
    middle = DAY + dt.timedelta(days=15)
    for n in range(2):  # two photos: their pattern would be worked out from all balls
        book.add_reading(session_of(book, "Ada", empty_day).id, facts(f"none {n}"), without_marks(), "s")
    put(book, "Ada", "balls", day=middle)
    found = look_back(book, book.find_player("Ada"))
    assert f"{empty_day}  typical driver: no balls" in history_lines(found)
    (change,) = found.changes
    assert (change.last, change.why) == (str(middle), "there is only one day")
    both = sittings(book, book.find_player("Ada").id)
    assert [one.name for one in day_sets(both)] == [str(middle)]
    assert [len(one.strikes.strikes) for one in club_sets(both, pool=False)] == [5]


def test_a_player_without_any_ball(book: Book) -> None:
    book.add_reading(session_of(book, "Ada").id, facts("none"), without_marks(), "s")
    assert look_back(book, book.find_player("Ada")).changes == ()
    assert day_sets(sittings(book, book.find_player("Ada").id)) == []
