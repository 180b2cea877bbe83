"""Which files of a folder are photos, in which order, and what is left alone."""

from __future__ import annotations

import os
from pathlib import Path

import fsspec
import pytest

from facemark.errors import BookError, PhotoError
from facemark.tell.lesson.photos import Source, find_photos, is_address, local_copy, natural_order


def touch(folder: Path, *names: str) -> None:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")


def test_photos_in_natural_order_and_strays_counted(tmp_path: Path) -> None:
    # "._" files turn up beside photos copied from one kind of computer; Thumbs.db from another.
    touch(tmp_path, "mia/IMG_10.JPG", "mia/IMG_2.jpg", "ben/a.heic", "ben/b.WebP", "c.png", "d.heif")
    touch(tmp_path, "mia/._IMG_2.jpg", "Thumbs.db", "notes.txt", ".hidden/e.jpg", "lesson.toml", "iron7.toml")
    found = find_photos(str(tmp_path))
    assert [photo.name for photo in found.photos] == [
        "ben/a.heic",
        "ben/b.WebP",
        "c.png",
        "d.heif",
        "mia/IMG_2.jpg",
        "mia/IMG_10.JPG",
    ]
    assert found.strays == ("Thumbs.db", "mia/._IMG_2.jpg", "notes.txt")
    assert all(Path(photo.path).is_absolute() and photo.dated is not None for photo in found.photos)


def test_two_photos_of_one_name_are_two(tmp_path: Path) -> None:
    touch(tmp_path, "mia/IMG_1.jpg", "ben/IMG_1.jpg")
    assert [photo.name for photo in find_photos(str(tmp_path)).photos] == ["ben/IMG_1.jpg", "mia/IMG_1.jpg"]


def test_a_pipe_with_a_photos_name_does_not_block(tmp_path: Path) -> None:
    touch(tmp_path, "a.jpg")
    os.mkfifo(tmp_path / "b.jpg")
    found = find_photos(str(tmp_path))
    assert ([photo.name for photo in found.photos], found.strays) == (["a.jpg"], ("b.jpg",))


def test_an_empty_folder_a_file_and_nothing(tmp_path: Path) -> None:
    with pytest.raises(PhotoError, match="no photo"):
        find_photos(str(tmp_path))
    touch(tmp_path, "notes.txt")
    with pytest.raises(PhotoError, match="1 other file"):
        find_photos(str(tmp_path))
    with pytest.raises(BookError, match="is a file"):
        find_photos(str(tmp_path / "notes.txt"))
    with pytest.raises(BookError, match="does not exist"):
        find_photos(str(tmp_path / "nowhere"))


def test_folders_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tests may run as root, whom no permission stops: the refusal is played at the system's door."""
    touch(tmp_path, "mia/a.jpg", "ben/b.jpg")
    real = os.scandir

    def refused(path: str) -> object:
        if Path(path) == closed:
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(os, "scandir", refused)
    closed = tmp_path / "ben"
    found = find_photos(str(tmp_path))
    assert [photo.name for photo in found.photos] == ["mia/a.jpg"]
    assert found.unreadable == (str(closed),)
    closed = tmp_path
    with pytest.raises(BookError, match="may not be read"):
        find_photos(str(tmp_path))


def test_an_address_is_listed_and_fetched_whole(tmp_path: Path) -> None:
    memory = fsspec.filesystem("memory")
    for name in ("mia/driver/b.jpg", "mia/driver/a.jpg", "mia/._a.jpg", "notes.txt"):
        memory.pipe(f"/lesson/{name}", name.encode())
    found = find_photos("memory://lesson")
    assert [photo.name for photo in found.photos] == ["mia/driver/a.jpg", "mia/driver/b.jpg"]
    assert found.strays == ("mia/._a.jpg", "notes.txt")
    copy = local_copy(found.photos[0], tmp_path)
    assert copy.name == "a.jpg"
    assert copy.read_bytes() == b"mia/driver/a.jpg"
    with pytest.raises(PhotoError, match="could not be fetched"):
        local_copy(Source(name="gone.jpg", path="memory://lesson/gone.jpg"), tmp_path)
    memory.rm("/lesson", recursive=True)


def test_what_is_an_address() -> None:
    assert is_address("s3://bucket/lesson")
    assert is_address("file:///srv/lesson")
    assert not is_address("C:\\photos")
    assert not is_address("photos/2026")
    assert sorted(["b10", "b9", "a"], key=natural_order) == ["a", "b9", "b10"]
