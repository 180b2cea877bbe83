"""What leaves the book comes back as the same numbers, and no cell is ever a formula."""

from __future__ import annotations

import csv
import datetime as dt
import json
import shutil
import sys
import tempfile
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyarrow import parquet

from facemark.errors import BookError, FacemarkError, SetupError
from facemark.inputs import ClubKind, Hand
from facemark.tell.book.check import check_book
from facemark.tell.book.outgoing import Choice
from facemark.tell.book.store import Book
from facemark.tell.exports import write
from facemark.tell.exports.everything import write_everything
from facemark.tell.exports.read import import_file
from facemark.tell.exports.write import Locale, write_export
from facemark.tell.strike_files import read_sets
from tests.tell.book.readings import DAY, facts, group, put, record_of
from tests.tell.book.test_cli_book import Command, facemark  # noqa: F401  # a fixture
from tests.tell.book.test_forget import fill

FORMATS = [
    ("out.csv", Locale.POINT),
    ("out.csv", Locale.COMMA),
    ("out.xlsx", Locale.POINT),
    ("out.parquet", Locale.POINT),
    ("out.json", Locale.POINT),
]
# Texts a spreadsheet would run or a program would trip over.
NASTY = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "'=1",
    "'",
    'a;b,c\t"d"',
    "1,5",
    "01",
    "Jürgen 🏌️",
    "é",
    "null",
    "yes",
]
EVERYTHING = Choice()


def whole(book: Book) -> dict[str, Any]:
    """All that a book says, for comparison."""
    players = book.players()
    return {
        "players": players,
        "clubs": sorted(book.clubs(), key=lambda club: club.id),
        "sessions": [session for player in players for session in book.sessions(player.id)],
        "readings": book.readings(),
        # Pictures do not travel in tables.
        "photos": [replace(book.photo(row.photo_id), kept=False) for row in book.readings()],
        "corrections": [book.corrections(row.id) for row in book.readings()],
        "balls": [b for p in players for s in book.sessions(p.id) for b in book.balls(s.id)],
        "blocks": [book.blocks(player.id) for player in players],
    }


@pytest.fixture
def filled(book: Book) -> Book:
    fill(book, "Ada", 1)
    for n, text in enumerate(NASTY):
        put(book, text, f"photo {text}", day=DAY + dt.timedelta(days=n), points=group(3, seed=n), note=text)
    put(book, "Ada", "iron", kind=ClubKind.IRON, effort_frac=0.3, tee_mm=12.5, name="=late")
    book.player("Nobody yet", Hand.LEFT)
    book.update_player(book.player("Ada").id, keep_until=dt.date(2027, 1, 31), note="-goal")
    return book


@pytest.mark.parametrize(("name", "locale"), FORMATS)
def test_every_format_there_and_back(filled: Book, tmp_path: Path, name: str, locale: Locale) -> None:
    written = write_export(tmp_path / name, filled, EVERYTHING, locale=locale)
    assert all(file.is_file() for file in written)
    with Book.open(tmp_path / "back.db") as back:
        merged = import_file(written[-1], back)
        assert merged.known == {}
        assert whole(back) == whole(filled)
        assert not any(back.photo(row.photo_id).kept for row in back.readings())
        assert check_book(back).troubles == ()
        assert import_file(written[0], back).added == {}
        assert whole(back) == whole(filled)
    assert import_file(written[0], filled).added == {}


_finite = st.floats(-60.0, 60.0).map(lambda value: round(value, 2))
_name = st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=30).filter(str.strip)


@pytest.mark.parametrize(("name", "locale"), FORMATS)
@settings(max_examples=5, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    told=st.lists(
        st.tuples(
            _name,
            st.lists(st.tuples(_finite, _finite), min_size=1, max_size=4),
            st.none() | st.floats(0.01, 1.0),
            _name,
        ),
        min_size=1,
        max_size=3,
    )
)
def test_any_numbers_and_names_come_back(empty: Path, name: str, locale: Locale, told: list[Any]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        shutil.copyfile(empty, here / "a.db")
        shutil.copyfile(empty, here / "b.db")
        with Book.open(here / "a.db") as book, Book.open(here / "b.db") as back:
            for n, (player, points, effort, note) in enumerate(told):
                put(book, player, f"photo {n}", points=points, effort_frac=effort, note=note)
            written = write_export(here / name, book, EVERYTHING, locale=locale)
            import_file(written[0], back)
            assert whole(back) == whole(book)
            # And out of the second book the very same tables.
            again = write_export(here / f"again-{name}", back, EVERYTHING, locale=locale)
            for first, second in zip(written, again, strict=True):
                if first.suffix in (".csv", ".json"):
                    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize("locale", Locale)
def test_no_text_of_a_csv_is_a_formula(filled: Book, tmp_path: Path, locale: Locale) -> None:
    split = ";" if locale is Locale.COMMA else ","
    n_texts = 0
    for file in write_export(tmp_path / "out.csv", filled, EVERYTHING, locale=locale):
        with file.open(encoding="utf-8-sig", newline="") as lines:
            for cells in csv.reader(lines, delimiter=split):
                for cell in cells:
                    if cell.startswith(("=", "+", "@", "-", "\t", "\r")):
                        float(cell.replace(",", "."))  # a negative number, or the test fails
                    n_texts += cell.startswith("'")
    assert n_texts >= 10


def test_no_cell_of_an_xlsx_is_a_formula(filled: Book, tmp_path: Path) -> None:
    (file,) = write_export(tmp_path / "out.xlsx", filled, EVERYTHING)
    book = openpyxl.load_workbook(file)  # another library than the one that wrote it
    kinds = {cell.data_type for sheet in book for line in sheet.iter_rows() for cell in line}
    assert "f" not in kinds
    names = {line[0].value for line in book["sessions"].iter_rows(min_row=2)}
    assert {"=1+1", "@SUM(A1)", "01", "1,5"} <= names
    first = next(book["strikes"].iter_rows(min_row=2))
    heads = [cell.value for cell in next(book["strikes"].iter_rows())]
    assert isinstance(first[heads.index("toe_mm")].value, float)
    assert isinstance(first[heads.index("day")].value, dt.datetime)
    assert set(book.sheetnames) == {"strikes", "readings", "sessions", "rows"}


def test_one_line_a_strike(book: Book, tmp_path: Path) -> None:
    points = [(-12.5, 3.25), (4.0, -0.5)]
    put(book, "Ada", "a", points=points, effort_frac=0.5, tee_mm=40.0)
    (file, *_) = write_export(tmp_path / "out.csv", book, EVERYTHING, locale=Locale.COMMA)
    head, *lines = file.read_text(encoding="utf-8-sig").splitlines()
    cells = [dict(zip(head.split(";"), line.split(";"), strict=True)) for line in lines]
    assert [(c["toe_mm"], c["high_mm"], c["mark"]) for c in cells] == [
        ("-12,5", "3,25", "A"),
        ("4,0", "-0,5", "B"),
    ]
    assert {c["effort"] for c in cells} == {"50,0"}
    (file, *_) = write_export(tmp_path / "out.parquet", book, EVERYTHING)
    table = parquet.read_table(file)
    assert table.column("toe_mm").to_pylist() == [-12.5, 4.0]
    assert str(table.schema.field("day").type) == "date32[day]"


@pytest.mark.parametrize("locale", Locale)
def test_strikes_go_straight_to_the_other_commands(book: Book, tmp_path: Path, locale: Locale) -> None:
    points = [(round(t, 2), round(h, 2)) for t, h in group(6)]
    put(book, "Ada", "a", points=points, effort_frac=0.5, tee_mm=40.0)
    (file, *_) = write_export(tmp_path / "out.csv", book, EVERYTHING, locale=locale)
    (found,) = read_sets(file)
    assert found.name == "typical driver"
    assert [(s.toe_mm, s.high_mm, s.toe_err_mm) for s in found.strikes.strikes] == [
        (t, h, 0.6) for t, h in points
    ]
    assert (found.conditions.effort_frac, found.conditions.tee_mm) == (0.5, 40.0)


def test_only_the_chosen(book: Book, tmp_path: Path) -> None:
    for name in ("Ada", "Ben"):
        fill(book, name, len(name))
        put(book, name, f"{name} later", day=DAY + dt.timedelta(days=9))
        put(book, name, f"{name} iron", kind=ClubKind.IRON)
    ada = book.player("Ada").id
    for choice, n in (
        (Choice(player_ids=(ada,)), 3),
        (Choice(player_ids=(ada,), club="Typical Iron"), 1),
        (Choice(since=DAY + dt.timedelta(days=1)), 2),
        (Choice(until=DAY, club="typical driver"), 2),
    ):
        (file,) = write_export(tmp_path / f"{n}.json", book, choice)
        with Book.open(tmp_path / f"{file.stem}-{hash(choice)}.db") as back:
            import_file(file, back)
            assert len(back.readings()) == n
            if choice.player_ids:
                assert [player.name for player in back.players()] == ["Ada"]


@pytest.mark.parametrize("name", ["out.csv", "out.xlsx"])
def test_a_number_edited_in_a_table_is_noticed(book: Book, tmp_path: Path, name: str) -> None:
    put(book, "Ada", "a", points=[(1.25, 2.0), (3.0, 4.0)])
    (file, *_) = write_export(tmp_path / name, book, EVERYTHING)
    if file.suffix == ".csv":
        file.write_text(file.read_text(encoding="utf-8-sig").replace("1.25", "1.5"), encoding="utf-8")
    else:
        sheets = openpyxl.load_workbook(file)
        sheets["strikes"]["I2"] = 1.5
        sheets.save(file)
    with pytest.raises(BookError, match=r"strike A of a.jpg: the table says toe_mm 1.5, .* 1.25"):
        import_file(file, book)
    if file.suffix == ".csv":
        lines = file.read_text(encoding="utf-8").splitlines()
        file.write_text("\n".join([lines[0], lines[2]]), encoding="utf-8")
        with pytest.raises(BookError, match="1 strikes"):
            import_file(file, book)


@pytest.mark.parametrize("ending", [".csv", ".xlsx", ".parquet", ".json", ".txt"])
@pytest.mark.parametrize(
    "content", [b"", b"\x00\xff" * 50, b"toe_mm,high_mm\n1,2\n", b'{"rows": 3}', b"PK\x03\x04"]
)
def test_files_that_are_no_export(tmp_path: Path, ending: str, content: bytes) -> None:
    path = tmp_path / f"some{ending}"
    path.write_bytes(content)
    with Book.open(tmp_path / "b.db") as book:
        with pytest.raises(BookError) as caught:
            import_file(path, book)
        assert caught.value.remedy
        assert book.players() == []


def test_one_file_of_four_is_missing(book: Book, tmp_path: Path) -> None:
    put(book, "Ada", "a")
    written = write_export(tmp_path / "out.csv", book, EVERYTHING)
    written[1].unlink()
    with pytest.raises(BookError, match=r"out-readings\.csv could not be read"):
        import_file(written[0], book)


@pytest.mark.parametrize(
    "change",
    [
        {"kept_as": "/../../../../etc/passwd"},
        {"sha256": "../../../../etc/passwd"},
        {"width_px": None},
        {"more": 1},
        {"taken": "yesterday"},
    ],
)
def test_rows_altered_on_purpose(book: Book, tmp_path: Path, change: dict[str, Any]) -> None:
    put(book, "Ada", "a")
    (file,) = write_export(tmp_path / "out.json", book, EVERYTHING)
    record = json.loads(file.read_text(encoding="utf-8"))
    row = next(row for row in record["rows"] if row["table"] == "photo")
    row["row"] |= change
    file.write_text(json.dumps(record), encoding="utf-8")
    with Book.open(tmp_path / "back.db") as back:
        with pytest.raises(FacemarkError):
            import_file(file, back)
        assert back.players() == []


def test_endings_and_locales_that_do_not_go_together(book: Book, tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="ends in"):
        write_export(tmp_path / "out.doc", book, EVERYTHING)
    with pytest.raises(SetupError, match="locale"):
        write_export(tmp_path / "out.xlsx", book, EVERYTHING, locale=Locale.COMMA)
    with pytest.raises(BookError, match="could not be written"):
        write_export(tmp_path / "nowhere" / "out.csv", book, EVERYTHING)


def test_parquet_names_its_extra(book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(BookError, match="extra 'parquet'"):
        write_export(tmp_path / "out.parquet", book, EVERYTHING)
    assert list(tmp_path.glob("*.parquet")) == []


@pytest.mark.parametrize("name", ["out.csv", "out.parquet"])
def test_a_file_that_was_written_is_known_though_the_next_one_fails(
    book: Book, tmp_path: Path, name: str
) -> None:
    ada = fill(book, "Ada", 1)
    known = book.exports(ada)
    out = tmp_path / name
    out.with_name(f"out-sessions{out.suffix}").mkdir()  # a folder stands where a file is to go
    with pytest.raises(BookError, match="could not be written"):
        write_export(out, book, EVERYTHING)
    there = {file for file in tmp_path.glob(f"out*{out.suffix}") if file.is_file()}
    assert there
    assert set(book.exports(ada)) - set(known) == there
    book.forget_player(ada)
    assert not any(file.exists() for file in there)


@pytest.mark.parametrize(("name", "n_noted"), [("ada", 2), ("ada.zip", 0)])
def test_all_of_a_player_is_not_there_unless_the_book_knows_it(
    book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, n_noted: int
) -> None:
    fill(book, "Ada", 1)
    noted: list[Path] = []
    note = Book.note_export

    def full(self: Book, path: Path, *more: Any, **options: Any) -> None:
        if len(noted) == n_noted:
            raise BookError("the book is full", remedy="Make room.")
        note(self, path, *more, **options)
        noted.append(path)

    monkeypatch.setattr(Book, "note_export", full)
    with pytest.raises(BookError, match="full"):
        write_everything(tmp_path / name, book, book.player("Ada"), locale=Locale.POINT)
    assert not (tmp_path / name).exists()
    assert not list(tmp_path.glob(".facemark-*"))


@pytest.mark.parametrize("name", ["ada", "ada.zip"])
def test_everything_about_a_player(book: Book, tmp_path: Path, name: str) -> None:
    ada = fill(book, "Ada", 1)
    fill(book, "Ben", 2)
    out = tmp_path / name
    written = write_everything(out, book, book.player("Ada"), locale=Locale.POINT)
    if name.endswith(".zip"):
        with zipfile.ZipFile(out) as pack:
            content = {item: pack.read(item) for item in pack.namelist()}
    else:
        content = {str(file.relative_to(out)): file.read_bytes() for file in out.rglob("*") if file.is_file()}
    picture = f"photos/{facts('photo of Ada').sha256}.jpg"
    assert set(content) == {"README.txt", "data.json", "strikes.csv", "readings.csv", "sessions.csv", picture}
    assert content[picture] == b"picture of Ada"
    assert not any(b"Ben" in data for data in content.values())
    rows = json.loads(content["data.json"])["rows"]
    assert {row["table"] for row in rows} == {
        *("player", "club", "session", "photo", "reading", "correction", "ball", "block")
    }
    reading = next(row["row"] for row in rows if row["table"] == "reading")
    assert reading["record"] == record_of(group(6, seed=1))
    with pytest.raises(BookError, match="exists already"):
        write_everything(out, book, book.player("Ada"), locale=Locale.POINT)
    proof = book.forget_player(ada)
    assert {str(file) for file in written} <= set(proof.files)
    assert not any(file.exists() for file in written)
    assert not out.exists()  # its name is the player's


def test_from_the_command_line(book: Book, address: str, tmp_path: Path, facemark: Command) -> None:  # noqa: F811
    fill(book, "Ada", 1)
    fill(book, "Ben", 2)
    said = facemark("export", tmp_path / "a.csv", "--player", "ada", "--locale", "comma", "--book", address)
    assert said.splitlines() == [
        str(tmp_path / f"a{end}.csv") for end in ("", "-readings", "-sessions", "-rows")
    ]
    assert book.exports(book.player("Ben").id) == []
    said = facemark("book", "import", tmp_path / "a.csv", "--book", tmp_path / "other.db")
    assert "new 1 player, 1 club, 1 session, 1 photo, 1 reading, 1 correction, 1 ball, 1 block" in said
    assert "README.txt" in facemark("export", tmp_path / "all", "--all", "--player", "Ben", "--book", address)
    for arguments, reason in (
        (("--all",), "one --player"),
        (("--locale", "french"), "point or comma"),
        (("--since", "May"), "no day"),
    ):
        assert reason in facemark("export", tmp_path / "b.csv", *arguments, "--book", address, code=2)
    assert "no player" in facemark("export", tmp_path / "b.csv", "--player", "Cid", "--book", address, code=4)


def test_no_name_of_a_player_outside_the_choice(book: Book, tmp_path: Path) -> None:
    put(book, "Ada", "a", kind=ClubKind.IRON)
    put(book, "Ben", "b", day=DAY + dt.timedelta(days=9))
    iron = next(club.name for club in book.clubs() if club.kind is ClubKind.IRON)
    for choice in (Choice(club=iron), Choice(until=DAY)):
        (file,) = write_export(tmp_path / "out.json", book, choice)
        assert "Ben" not in file.read_text(encoding="utf-8")
        assert book.exports(book.player("Ben").id) == []
    assert file.stat().st_mode & 0o077 == 0
    for choice, said in (
        (Choice(club="nobody has it"), "no club called nobody has it"),
        (Choice(since=DAY + dt.timedelta(days=99)), "no session"),
    ):
        with pytest.raises(BookError, match=said):
            write_export(tmp_path / "none.json", book, choice)
    assert not (tmp_path / "none.json").exists()


def test_an_export_is_of_one_moment(book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(book, "Ada", "a")
    write_csv = write._write_csv

    def slow(path: Path, table: Any, locale: Locale) -> None:
        write_csv(path, table, locale)
        put(book, "Ben", f"while {table.name} was written")

    monkeypatch.setattr(write, "_write_csv", slow)
    written = write_export(tmp_path / "out.csv", book, EVERYTHING)
    assert not any("Ben" in file.read_text(encoding="utf-8") for file in written)
    with Book.open(tmp_path / "back.db") as back:
        assert import_file(written[0], back).added["reading"] == 1
