"""One running page for a file of tests, and a photo it has read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.tell.page.served import Phone, served

TAGS = {"scale": "tags", "size_mm": 23.9, "n_balls": 3, "hand": "right"}


@pytest.fixture(scope="package")
def phone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Phone]:
    with served(tmp_path_factory.mktemp("book") / "test.db") as address:
        phone = Phone(address)
        yield phone
        phone.client.close()


@pytest.fixture(scope="session")
def tags(fixtures: Path) -> bytes:
    return (fixtures / "photos" / "driver-tags.jpg").read_bytes()


@pytest.fixture(scope="package")
def read(phone: Phone, tags: bytes) -> dict[str, Any]:
    """A photo with three marks, read."""
    state = phone.read(tags, phone.new_set(), name="driver-tags.jpg", **TAGS)
    assert state["state"] == "done", state
    return state
