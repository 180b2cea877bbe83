"""Prints the reference pages that are made from the code: caveats, sources, commands.

python -m tests.make_reference          writes them
tests/test_docs.py                      fails when they are stale
"""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import Any

from facemark.caveats import TEXTS
from facemark.sources import SOURCES

FOLDER = Path(__file__).parent.parent / "docs" / "reference"


def caveats_page() -> str:
    """Every doubt, alphabetically."""
    lines = ["# Caveats", "", "Every doubt a reading can carry. Made from `facemark/caveats.py`.", ""]
    for key in sorted(TEXTS):
        text = TEXTS[key]
        lines += [f"## {key}", "", text.meaning, "", f"*Why it matters.* {text.matters}", ""]
        lines += [f"*What to do.* {text.remedy}", ""]
    return "\n".join(lines)


def sources_page() -> str:
    """Every published work."""
    lines = [
        "# Sources",
        "",
        "Published works facemark leans on. *Seen*: a stored copy or its abstract was read; otherwise the",
        "work is known only as quoted by others. Made from `facemark/sources.py`.",
        "",
        "| key | work | where | seen |",
        "| --- | --- | --- | --- |",
    ]
    for key in sorted(SOURCES):
        item = SOURCES[key]
        seen = "yes" if item.seen else "no"
        year = item.year or "undated"
        lines.append(f"| {key} | {item.authors} ({year}). {item.title} | {item.where} | {seen} |")
    return "\n".join(lines) + "\n"


def commands_page() -> str:
    """Every command with its options, from the functions' own signatures."""
    from facemark.tell.cli import all_commands

    lines = ["# Commands", "", "Made from the commands; `facemark COMMAND --help` says the same.", ""]
    for name, function in all_commands():
        lines += [f"## facemark {name}", "", inspect.getdoc(function) or "", ""]
        lines += ["| | what |", "| --- | --- |"]
        for parameter in inspect.signature(function, eval_str=True).parameters.values():
            lines.append(_row(parameter))
        lines.append("")
    return "\n".join(lines)


def _row(parameter: inspect.Parameter) -> str:
    info: Any = parameter.annotation.__metadata__[0]
    # Inside Annotated, typer keeps the first name of an option where its default would stand.
    declared = [word for word in (info.default, *(info.param_decls or ())) if isinstance(word, str)]
    is_option = type(info).__name__ == "OptionInfo"
    dashed = f"--{parameter.name.replace('_', '-')}" if is_option else parameter.name.upper()
    name = ", ".join(declared) if declared else dashed
    silent = parameter.default in (None, inspect.Parameter.empty, False)
    default = "" if silent else f" (default {parameter.default})"
    return f"| `{name}` | {info.help or ''}{default} |"


PAGES = {"caveats.md": caveats_page, "sources.md": sources_page, "cli.md": commands_page}


def main() -> None:
    for name, page in PAGES.items():
        (FOLDER / name).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
