"""What is deleted is gone: rows, pictures, exports, and the bytes in the file."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa

from facemark.clubs import typical_club
from facemark.errors import BookError
from facemark.inputs import ClubKind
from facemark.tell.book import engine, forget
from facemark.tell.book.check import check_book
from facemark.tell.book.engine import copies_of
from facemark.tell.book.store import Book
from facemark.tell.book.tables import BLOCK, METADATA, PHOTO, pack
from facemark.tell.book.where import find_place
from tests.tell.book.readings import facts, group, put, record_of
from tests.tell.book.test_migrate import LAYOUT_0001

NAME = "Wilhelmina-Xanthippe"  # long enough that it cannot stand in a file by chance


def counts(book: Book) -> dict[str, int]:
    with book._reading() as connection:
        return {
            table.name: connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
            for table in METADATA.sorted_tables
        }


def fill(book: Book, player: str, seed: int) -> str:
    """Everything the book can hold of a player; the id."""
    row = put(book, player, f"photo of {player}", points=group(6, seed=seed), note=f"note on {player}")
    book.add_correction(row.id, [], record_of(group(5, seed=seed + 50)))
    book.set_balls(row.session_id, [{"curve_draw_m": 1.0}], reading_id=row.id)
    told = {"focus": "strike", "effort_frac": 0.2, "n_balls": 10, "n_good": 8, "verdict": "stay", "plan": {}}
    player_id = book.player(player).id
    book.add_block(player_id, **told, session_id=row.session_id)
    book.keep_photo(row.photo_id, f"picture of {player}".encode(), "jpg")
    return player_id


def test_forgetting_takes_everything_of_one_player_and_nothing_of_another(book: Book, tmp_path: Path) -> None:
    ben = fill(book, "Ben", 7)
    before = counts(book)
    ada = fill(book, NAME, 8)
    ours, both = tmp_path / "ada.csv", tmp_path / "both.csv"
    edited, lost = tmp_path / "edited.csv", tmp_path / "lost.csv"
    for path, players in ((ours, [ada]), (both, [ada, ben]), (edited, [ada]), (lost, [ada])):
        path.write_text(f"export of {path.name}", encoding="utf-8")
        book.note_export(path, players)
    edited.write_text("somebody's own work", encoding="utf-8")
    lost.unlink()
    picture = book.place.photos / f"{facts(f'photo of {NAME}').sha256}.jpg"
    assert picture.is_file()

    proof = book.forget_player(ada)

    assert counts(book) == before
    assert [player.name for player in book.players()] == ["Ben"]
    assert proof.what == NAME
    assert {name: n for name, n in proof.rows.items() if n} == {
        **dict.fromkeys(("player", "session", "reading", "correction", "ball", "block", "photo"), 1),
        "export": 4,
    }
    assert set(proof.files) == {str(ours), str(both), str(picture)}
    assert not any(Path(path).exists() for path in proof.files)
    assert edited.exists()
    assert any(str(edited) in line for line in proof.remains)
    assert not any(str(lost) in line for line in proof.remains)
    assert book.photo_bytes(book.readings()[0].photo_id) == b"picture of Ben"
    with pytest.raises(BookError, match="no player"):
        book.forget_player(ada)


def test_no_byte_of_the_player_stays_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "book.db"

    def holds(content: bytes) -> bool:
        files = [path, *(path.with_name(path.name + end) for end in ("-wal", "-shm", "-journal"))]
        return any(content in file.read_bytes() for file in files if file.exists())

    # Bytes out of the middle of what was stored: the record, the correction, the note, the name.
    raw, corrected = (pack(record_of(group(n, seed=s)))[40:200] for n, s in ((6, 8), (5, 58)))
    with Book.open(path) as book:
        fill(book, "Ben", 7)
        ada = fill(book, NAME, 8)
        wanted = (
            NAME.encode(),
            raw,
            corrected,
            NAME.casefold().encode(),
            facts(f"photo of {NAME}").sha256.encode(),
        )
        for content in wanted:
            assert holds(content)  # the search finds what is there
        book.forget_player(ada)
        for content in wanted:
            assert not holds(content)
    for content in wanted:
        assert not holds(content)
    with sqlite3.connect(path) as connection:
        assert connection.execute("pragma integrity_check").fetchall() == [("ok",)]
        assert connection.execute("pragma freelist_count").fetchone() == (0,)
    connection.close()


def test_a_reader_that_holds_the_log_is_told_of(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "PATIENCE_S", 0.2)
    path = tmp_path / "book.db"
    with Book.open(path) as book, Book.open(path) as other:
        ada = fill(book, NAME, 8)
        with other._reading() as connection:
            connection.execute(sa.text("select count(*) from player")).all()
            assert any("another program" in line for line in book.forget_player(ada).remains)


def test_what_cannot_be_deleted_is_told(book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ada = fill(book, "Ada", 1)
    path = tmp_path / "ada.csv"
    path.write_text("export", encoding="utf-8")
    book.note_export(path, [ada])

    def refuse(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "unlink", refuse)
    monkeypatch.setattr(forget, "wipe", lambda *_: (_ for _ in ()).throw(BookError("no room", remedy="")))
    proof = book.forget_player(ada)
    assert proof.rows["player"] == 1
    assert proof.files == ()
    told = "\n".join(proof.remains)
    assert f"{path} (Permission denied)" in told
    assert "a kept picture" in told
    assert "could not be packed: no room" in told


def test_copies_of_older_layouts_go_too(tmp_path: Path) -> None:
    path = tmp_path / "book.db"
    with sqlite3.connect(path) as connection:
        connection.executescript(LAYOUT_0001.read_text(encoding="utf-8"))
    connection.close()
    with Book.open(path) as book:
        (copy,) = copies_of(path)
        assert str(copy) in book.forget_player(book.find_player("Ada").id).files
        assert not copy.exists()
        assert [player.name for player in book.players()] == ["Ben"]


def test_what_a_server_keeps_is_said(book: Book) -> None:
    proof = book.forget_player(fill(book, "Ada", 1))
    assert any("server" in line for line in proof.remains) == (book.place.path is None)
    assert any("backups" in line for line in proof.remains)


def test_clubs_others_play_stay(book: Book) -> None:
    put(book, "Ada", "a")
    put(book, "Ada", "b", kind=ClubKind.IRON)
    put(book, "Ben", "c")
    unused = book.club(typical_club(ClubKind.WEDGE))  # not the player's: no session says so
    book.forget_player(book.find_player("Ada").id)
    assert {club.kind for club in book.clubs()} == {ClubKind.DRIVER, unused.kind}


def test_one_session_or_one_reading(book: Book) -> None:
    ada = fill(book, "Ada", 1)
    other = put(book, "Ada", "second", name="second set")
    proof = book.delete_reading(other.id)
    assert proof.rows == {"ball": 0, "correction": 0, "reading": 1, "photo": 1}
    (first,) = book.readings(player_id=ada)
    proof = book.delete_session(first.session_id)
    assert proof.rows == {"ball": 1, "correction": 1, "reading": 1, "session": 1, "club": 0, "photo": 1}
    assert len(proof.files) == 1
    assert book.blocks(ada)[0].session_id is None
    assert [session.id for session in book.sessions(ada)] == [other.session_id]
    with pytest.raises(BookError, match="no session"):
        book.delete_session(first.session_id)
    assert book.delete_session(other.session_id).rows["club"] == 1  # nobody has it any more
    assert book.clubs() == []


def test_a_photo_that_another_reading_needs_stays(book: Book) -> None:
    first = put(book, "Ada", "a")
    second, _ = book.add_reading(first.session_id, facts("a"), record_of(group(3)), "other settings")
    assert book.delete_reading(first.id).rows["photo"] == 0
    assert book.reading(second.id).photo_id == first.photo_id


def test_a_block_of_another_player_does_not_hold_a_session(book: Book) -> None:
    ada, ben = fill(book, "Ada", 1), book.player("Ben").id
    (reading,) = book.readings()
    told = {"focus": "strike", "effort_frac": 0.2, "n_balls": 10, "n_good": 8, "verdict": "stay", "plan": {}}
    with pytest.raises(BookError, match="another player's"):
        book.add_block(ben, **told, session_id=reading.session_id)
    block = book.add_block(ben, **told)
    with book._writing() as connection:  # as a book joined from elsewhere may have it
        connection.execute(BLOCK.update().where(BLOCK.c.id == block.id).values(session_id=reading.session_id))
    assert book.forget_player(ada).rows["session"] == 1
    assert book.blocks(ben) == [block]


def test_files_stay_where_the_rows_could_not_go(
    book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ada = fill(book, "Ada", 1)
    path = tmp_path / "ada.csv"
    path.write_text("export", encoding="utf-8")
    book.note_export(path, [ada])

    def fail(*_: object) -> None:
        # What SQLite and PostgreSQL say of a full disk.
        said = "database or disk is full" if book.place.path else "could not extend: No space left on device"
        raise sa.exc.OperationalError("", {}, Exception(said))

    monkeypatch.setattr(forget, "_drop_clubs", fail)
    with pytest.raises(BookError, match="no room"):
        book.forget_player(ada)
    assert path.read_text(encoding="utf-8") == "export"
    assert book.photo_bytes(book.readings()[0].photo_id) == b"picture of Ada"


def test_a_shared_export_is_known_to_the_second_player(book: Book, tmp_path: Path) -> None:
    ada, ben = fill(book, "Ada", 1), fill(book, "Ben", 2)
    edited, whole = tmp_path / "edited.csv", tmp_path / "whole.csv"
    for path in (edited, whole):
        path.write_text("export", encoding="utf-8")
        book.note_export(path, [ada, ben])
    edited.write_text("somebody's own work", encoding="utf-8")
    assert book.n_shared_exports(ada) == 2
    proof = book.forget_player(ada)
    assert proof.shared_files == (str(whole),)
    assert proof.rows["export"] == 1
    assert book.exports(ben) == [edited]
    assert book.n_shared_exports(ben) == 0
    assert any(str(edited) in line for line in book.forget_player(ben).remains)


def test_an_export_written_again_is_one_file(book: Book, tmp_path: Path) -> None:
    ada = fill(book, "Ada", 1)
    path = tmp_path / "ada.csv"
    for content in ("first", "second"):
        path.write_text(content, encoding="utf-8")
        book.note_export(path, [ada])
    proof = book.forget_player(ada)
    assert str(path) in proof.files
    assert not any(str(path) in line for line in proof.remains)


def test_a_link_is_not_followed(book: Book, tmp_path: Path) -> None:
    ada = fill(book, "Ada", 1)
    link, moved = tmp_path / "ada.csv", tmp_path / "moved.csv"
    link.write_text("export", encoding="utf-8")
    book.note_export(link, [ada])
    link.rename(moved)
    link.symlink_to(moved)
    proof = book.forget_player(ada)
    assert moved.read_text(encoding="utf-8") == "export"
    assert not link.is_symlink()
    assert any(str(moved) in line for line in proof.remains)


def test_an_altered_name_of_a_picture_leads_nowhere(book: Book, tmp_path: Path) -> None:
    ada = fill(book, "Ada", 1)
    victim = book.place.photos.parent / "victim.jpg"
    victim.write_text("somebody's", encoding="utf-8")
    with book._writing() as connection:
        connection.execute(PHOTO.update().values(sha256="../victim"))
    assert any("no proper name" in line for line in check_book(book).troubles)
    assert any("no proper name" in line for line in book.forget_player(ada).remains)
    assert victim.read_text(encoding="utf-8") == "somebody's"


def test_only_our_own_copies_of_this_book_go(tmp_path: Path) -> None:
    path = tmp_path / "book[1].db"
    own = path.with_name(f"{path.name}.before-holiday.bak")
    made = path.with_name(f"{path.name}.0001-20260101T000000000000.bak")
    for copy in (own, made):
        copy.write_text("Ada", encoding="utf-8")
    with Book.open(path) as book:
        book.forget_player(fill(book, "Ada", 1))
    assert own.exists()
    assert not made.exists()


def test_books_of_one_folder_keep_their_own_pictures(tmp_path: Path) -> None:
    with Book.open(tmp_path / "facemark.db") as one, Book.open(tmp_path / "other.db") as other:
        assert one.place.photos == tmp_path / "photos"
        ada = put(one, "Ada", "same photo")
        ben = put(other, "Ben", "same photo")
        for book, row in ((one, ada), (other, ben)):
            book.keep_photo(row.photo_id, b"picture", "jpg")
        one.forget_player(one.player("Ada").id)
        assert other.photo_bytes(ben.photo_id) == b"picture"


def test_servers_keep_their_pictures_apart() -> None:
    here, there, port = (
        find_place(f"postgresql://coach@{address}").photos.name
        for address in ("bay/one", "bay/two", "bay:5433/one")
    )
    assert (here, there, port) == ("bay-one.photos", "bay-two.photos", "bay-5433-one.photos")
