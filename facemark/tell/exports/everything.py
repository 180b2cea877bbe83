"""Everything about one player, handed over: a folder or a ZIP that needs no facemark to be read."""

from __future__ import annotations

import shutil
import tempfile
import zipfile
from pathlib import Path

from facemark.errors import BookError
from facemark.tell.book.outgoing import Choice
from facemark.tell.book.rows import PlayerRow
from facemark.tell.book.store import Book
from facemark.tell.exports.write import Locale, write_export
from facemark.tell.files import write_text, written_whole

README = """Everything that this book of facemark holds about {name}
{line}

strikes.csv      a line a strike: millimetres from the sweet spot, plus toward the toe and up
readings.csv     a line a photo: centre and spread of the group, and its doubts
sessions.csv     a line a session: day, club, place, effort, tee height
data.json        all of it, with every correction, note and practice block, for programs
photos           pictures that were kept, named by their content{photos}

The record is to be kept until: {until}.
To have it deleted: facemark forget "{name}". It then deletes this copy too, as long as it lies
where it was written and was not changed.
"""


def write_everything(out: Path, book: Book, player: PlayerRow, *, locale: Locale) -> list[Path]:
    """Write all about ``player`` to the folder or ZIP ``out``, which must not exist yet.

    Raises
    ------
    BookError
        ``out`` exists, or cannot be written.
    """
    if out.exists():
        raise BookError(f"{out} exists already", remedy="Name a folder or a .zip that is new.")
    choice = Choice(player_ids=(player.id,))
    try:
        with tempfile.TemporaryDirectory(prefix=".facemark-", dir=out.absolute().parent) as name:
            folder = Path(name) / "all"
            folder.mkdir(mode=0o700)
            with book.snapshot() as still:
                _fill(folder, still, player, choice, locale)
            if out.suffix.lower() == ".zip":
                made = Path(name) / "all.zip"
                _zip(made, folder)
                made.chmod(0o600)
                files = {out: made}
            else:
                made = folder
                inside = sorted(file for file in folder.rglob("*") if file.is_file())
                files = {out / file.relative_to(folder): file for file in inside}
            # Known before they are there: whatever happens in between, forget finds them.
            for path, file in files.items():
                book.note_export(path, [player.id], content=file)
            shutil.move(made, out)
    except OSError as err:
        raise BookError(
            f"{out} could not be written ({err.strerror or err})",
            remedy="Check that the folder above it exists, is writable and has room.",
        ) from None
    return list(files)


def _fill(folder: Path, book: Book, player: PlayerRow, choice: Choice, locale: Locale) -> None:
    write_export(folder / "strikes.csv", book, choice, locale=locale, remember=False)
    for name in ("readings", "sessions", "rows"):
        (folder / f"strikes-{name}.csv").rename(folder / f"{name}.csv")
    (folder / "rows.csv").unlink()  # data.json holds the same, and can be read
    write_export(folder / "data.json", book, choice, remember=False)
    n_photos = 0
    for one in book.chosen_readings(choice):
        path = book.picture_path(one.photo.id)
        if path is not None:
            (folder / "photos").mkdir(exist_ok=True)
            shutil.copyfile(path, folder / "photos" / path.name)
            n_photos += 1
    title = f"Everything that this book of facemark holds about {player.name}"
    text = README.format(
        name=player.name,
        line="=" * len(title),
        photos="" if n_photos else " (none was kept)",
        until=player.keep_until or "no date was set",
    )
    write_text(folder / "README.txt", text)


def _zip(out: Path, folder: Path) -> None:
    with written_whole(out) as temporary, zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as pack:
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                pack.write(file, file.relative_to(folder))
