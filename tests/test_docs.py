"""The documents say what the code does."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
import typer

import facemark
from facemark import caveats
from facemark.sources import SOURCES
from facemark.tell.cli import all_commands, app
from facemark.version import VERSION
from tests.make_reference import FOLDER, PAGES

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize("name", PAGES)
def test_generated_pages_are_fresh(name: str) -> None:
    assert (FOLDER / name).read_text(encoding="utf-8") == PAGES[name](), "run python -m tests.make_reference"


def test_every_caveat_constant_has_a_text_and_is_used() -> None:
    keys = {v for k, v in vars(caveats).items() if k.isupper() and isinstance(v, str)}
    assert keys == set(caveats.TEXTS)
    code = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "facemark").rglob("*.py"))
    for key in keys:
        assert len(re.findall(rf"\b{key.upper()}\b", code)) >= 2, f"{key} is never raised"


def test_every_source_key_in_the_code_exists() -> None:
    for path in (ROOT / "tests" / "published").glob("*.toml"):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        for row in table.get("row", []):
            assert row["source"] in SOURCES or row.get("seen") is False, (path.name, row)


def test_front_door_names_exist_and_are_documented() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8") + (
        ROOT / "docs" / "how-to" / "use-from-python.md"
    ).read_text(encoding="utf-8")
    for name in facemark.__all__:
        assert getattr(facemark, name) is not None
        if not name.startswith("__"):
            assert name in readme, name


def test_every_command_is_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, _ in all_commands():
        assert f"facemark {name}" in readme, name


def test_options_on_the_reference_page_are_those_of_the_commands() -> None:
    all_commands()  # registers them
    for section in PAGES["cli.md"]().split("\n## facemark ")[1:]:
        command = typer.main.get_command(app)
        for word in section.splitlines()[0].split():
            command = command.commands[word]  # type: ignore[attr-defined]
        known = {name for item in command.params for name in (*item.opts, *item.secondary_opts)}
        for written in re.findall(r"^\| `(-[^`]+)` \|", section, re.M):
            assert set(re.split(r"[/,] ?", written)) <= known, (section.splitlines()[0], written)


def test_version_is_the_same_everywhere() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["version"] == VERSION
    assert VERSION in (ROOT / "docs" / "changelog.md").read_text(encoding="utf-8")


def test_links_between_documents_lead_somewhere() -> None:
    for path in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")]:
        for target in re.findall(r"\]\(([^)#]+)", path.read_text(encoding="utf-8")):
            if "://" not in target:
                assert (path.parent / target).exists(), (path.name, target)
