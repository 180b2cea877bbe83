"""Whose face, which club: said by names, card and sheet, in that order of weight; never guessed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from facemark.clubs import typical_club
from facemark.errors import SetupError
from facemark.inputs import ClubKind, Hand, Reference, ReferenceKind, Setup
from facemark.tell.clubfile import save_club
from facemark.tell.label import CardLabel
from facemark.tell.lesson.clubs import ClubShelf, find_clubs
from facemark.tell.lesson.names import compile_pattern, names_by_custom, names_by_pattern
from facemark.tell.lesson.photos import Source
from facemark.tell.lesson.sheet import LessonSheet, SheetLine
from facemark.tell.lesson.who import Common, Face, WhoseError, gather_faces, settle, wants_label

SHELF = ClubShelf()
SETUP = Setup(club=typical_club(ClubKind.DRIVER), n_balls=4)


def source(name: str) -> Source:
    return Source(name=name, path=f"/photos/{name}")


def common(**told: object) -> Common:
    return Common(setup=SETUP, shelf=SHELF, **told)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("mia/driver/IMG_1.jpg", {"player": "mia", "club": "driver"}),
        ("driver/mia/IMG_1.jpg", {"player": "mia", "club": "driver"}),
        ("mia/IMG_1.jpg", {"player": "mia"}),
        ("mia/driver_1.jpg", {"player": "mia", "club": "driver"}),
        ("mia/7 iron_2.jpg", {"player": "mia", "club": "7 iron"}),
        ("mia/iron_2.jpg", {"player": "mia", "club": "iron"}),  # the second photo, not a two iron
        ("mia/5-wood-12.jpg", {"player": "mia", "club": "5-wood"}),
        ("mia/Driver/driver_1.jpg", {"player": "mia", "club": "Driver"}),
        ("O'Brien ☼/IMG_1.jpg", {"player": "O'Brien ☼"}),
    ],
)
def test_names_that_say_it(name: str, said: dict[str, str]) -> None:
    named = names_by_custom(source(name), SHELF.knows, player_told=False)
    assert named.doubt is None
    assert dict(named.said) == said


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("IMG_1.jpg", "no player's folder"),
        ("driver/IMG_1.jpg", "no player's folder"),
        ("mia/morning/IMG_1.jpg", "which of mia, morning"),
        ("mia/driver/iron_1.jpg", "2 clubs"),
        ("2026-05-04/IMG_1.jpg", "no player's name"),
    ],
)
def test_names_that_leave_it_open(name: str, words: str) -> None:
    named = names_by_custom(source(name), SHELF.knows, player_told=False)
    assert words in (named.doubt or "")
    assert "player" not in dict(named.said)
    if "2 clubs" not in words:
        # With --player, a folder that is no club says nothing.
        assert names_by_custom(source(name), SHELF.knows, player_told=True).doubt is None


def test_patterns_say_what_they_name_and_nothing_else() -> None:
    pattern = compile_pattern("{player}_{club}_{balls}b*/*")
    named = names_by_pattern(source("mia_driver_5b_am/IMG_1.jpg"), pattern)
    assert dict(named.said) == {"player": "mia", "club": "driver", "balls": "5"}
    assert (
        names_by_pattern(source("mia/driver/IMG_1.jpg"), pattern).doubt == "its name does not fit the pattern"
    )
    for wrong in ("{payer}/*", "{player}/{player}", "*", "plain"):
        with pytest.raises(SetupError, match="pattern"):
            compile_pattern(wrong)


def test_what_a_pattern_finds_is_checked_like_a_sheet() -> None:
    (face,) = gather_faces(
        (source("mia/seventy/a.jpg"),),
        sheet=None,
        pattern=compile_pattern("{player}/{effort}/*"),
        shelf=SHELF,
        player_told=False,
    )
    assert "effort" in (face.doubt or "")


def test_clubs_by_file_by_name_in_it_and_by_kind(tmp_path: Path) -> None:
    mine = replace(typical_club(ClubKind.DRIVER), name="old faithful", loft_deg=11.0)
    save_club(mine, tmp_path / "d1.toml")
    (tmp_path / "broken.toml").write_text("kind = 3\n", encoding="utf-8")
    shelf = find_clubs(tmp_path, tmp_path / "nowhere")
    assert shelf.club("D1").name == shelf.club("Old  Faithful").name == "old faithful"
    assert shelf.club("driver") == typical_club(ClubKind.DRIVER)
    seven = shelf.club("7 Iron")
    assert (seven.kind, seven.name) == (ClubKind.IRON, "7 Iron")
    assert shelf.club("3 wood").kind is ClubKind.FAIRWAY
    with pytest.raises(SetupError, match="no club called"):
        shelf.club("putter")
    with pytest.raises(SetupError, match="no possible club"):
        shelf.club("broken")


def test_the_order_of_weight() -> None:
    label = CardLabel(player="card", club="hybrid")
    face = Face(name="a", sources=(source("a"),), names=SheetLine(player="folder", club="iron"))
    assert (
        settle(face, None, common(), hands={}).player,
        settle(face, None, common(), hands={}).club.kind,
    ) == (
        "folder",
        ClubKind.IRON,
    )
    told = settle(face, label, common(), hands={})
    assert (told.player, told.player_from, told.club.kind) == ("card", "card", ClubKind.HYBRID)
    face = Face(name="a", sources=(source("a"),), sheet=SheetLine(player="sheet", club="wedge", n_balls=7))
    told = settle(face, label, common(), hands={})
    assert (told.player, told.club.kind, told.setup.n_balls) == ("sheet", ClubKind.WEDGE, 7)
    told = settle(face, label, common(player="command"), hands={})
    assert (told.player, told.player_from) == ("command", "command")
    assert not wants_label(face, common())
    assert wants_label(Face(name="a", sources=(source("a"),), sheet=SheetLine(player="sheet")), common())


def test_a_club_that_was_told_outweighs_its_bare_kind_in_a_name() -> None:
    mine = replace(typical_club(ClubKind.DRIVER), name="mine", sweet_toe_mm=-3.0)
    told = Common(setup=replace(SETUP, club=mine), shelf=SHELF, player="mia", club_told=True)

    def club(name: str) -> str:
        return settle(
            Face(name="a", sources=(source("a"),), names=SheetLine(club=name)), None, told, hands={}
        ).club.name

    assert club("driver") == "mine"
    assert club("hybrid") == typical_club(ClubKind.HYBRID).name  # another kind is another club


def test_nobody_said_it() -> None:
    with pytest.raises(WhoseError, match="whose face"):
        settle(Face(name="a", sources=(source("a"),)), None, common(), hands={})


def test_the_hand_from_sheet_command_book_and_settings() -> None:
    plain = Face(name="a", sources=(source("a"),), names=SheetLine(player="Mia"))
    assert settle(plain, None, common(), hands={}).setup.hand is None
    assert settle(plain, None, common(), hands={"mia": Hand.LEFT}).setup.hand is Hand.LEFT
    told = settle(plain, None, common(hand=Hand.RIGHT), hands={"mia": Hand.LEFT})
    assert told.setup.hand is Hand.RIGHT
    sheet = Face(name="a", sources=(source("a"),), sheet=SheetLine(player="mia", hand=Hand.LEFT))
    assert settle(sheet, None, common(hand=Hand.RIGHT), hands={}).setup.hand is Hand.LEFT


def test_conditions_make_sessions_and_scale_replaces_whole() -> None:
    base = Common(
        setup=Setup(
            club=SETUP.club, reference=Reference(kind=ReferenceKind.TAGS, size_mm=24.0, spacer_mm=3.0)
        ),
        shelf=SHELF,
        player="mia",
    )
    told = settle(
        Face(name="a", sources=(source("a"),), sheet=SheetLine(effort_frac=0.7, tee_mm=45.0, line_mm=99.0)),
        None,
        base,
        hands={},
    )
    assert told.session_name == "effort 70 %, tee 45 mm"
    assert told.setup.reference == Reference(kind=ReferenceKind.SHEET, size_mm=99.0)
    assert settle(Face(name="a", sources=(source("a"),)), None, base, hands={}).session_name == ""


def test_photos_of_a_series_are_one_face_in_the_order_of_their_names() -> None:
    line = SheetLine(series=True, new=(3, 2))
    sheet = LessonSheet(file="lesson.toml", lines=(("mia/driver/set1/*", line),))
    names = ("mia/driver/a.jpg", "mia/driver/set1/1.jpg", "mia/driver/set1/2.jpg", "mia/driver/z.jpg")
    faces = gather_faces(tuple(map(source, names)), sheet=sheet, pattern=None, shelf=SHELF, player_told=False)
    assert [face.name for face in faces] == ["mia/driver/a.jpg", "mia/driver/set1", "mia/driver/z.jpg"]
    assert [len(face.sources) for face in faces] == [1, 2, 1]
    assert faces[1].is_series
