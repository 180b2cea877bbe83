"""Who may import whom (DEVELOPERS.md, "The house")."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "facemark"
GROUND = {"inputs", "clubs", "strike", "caveats", "errors", "sources", "sheet", "version"}
# Calibration reads faces the way users' photos are read; everything else in learn/ only draws and trains.
READS_AS_USERS_DO = {"calibrate_marks.py", "true_map.py"}
# Things that touch the world; only tell/ may.
WORLD = {
    "os",
    "pathlib",
    "socket",
    "urllib",
    "http",
    "sqlite3",
    "sqlalchemy",
    "time",
    "subprocess",
    "tempfile",
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def imports(path: Path) -> set[str]:
    """Every module a file names in an import, wherever in the file."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.add(node.module or "")
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def room(path: Path) -> str:
    parts = path.relative_to(PACKAGE).parts
    return parts[0] if len(parts) > 1 else path.stem


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_go_one_way(path: Path) -> None:
    here = room(path)
    ours = {name.split(".")[1] for name in imports(path) if name.startswith("facemark.")}
    allowed = {
        "see": GROUND | {"see"},
        "explain": GROUND | {"explain"},
        "learn": GROUND | {"learn"},
        "edits": GROUND,
        "reading": GROUND | {"see", "explain", "record", "edits"},
        "record": GROUND | {"see", "explain", "reading", "edits"},  # reading, see, explain: for types only
        "edit_marks": GROUND | {"see", "edits", "record"},
        "corrections": GROUND | {"see", "edits", "edit_marks", "reading", "record"},
        "remake": GROUND | {"see", "edits", "reading", "record"},
    }
    if here in GROUND:
        assert ours <= GROUND
    elif path.name in READS_AS_USERS_DO and here == "learn":
        assert ours <= GROUND | {"learn", "see"}
    elif here in allowed:
        assert ours <= allowed[here]


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_only_tell_touches_the_world(path: Path) -> None:
    if room(path) in {"tell", "learn", "__init__", "__main__"}:
        return
    named = {name.split(".")[0] for name in imports(path)}
    assert not named & WORLD
    tree = ast.parse(path.read_text(encoding="utf-8"))
    calls = {n.func.id for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}
    assert not calls & {"open", "print", "input"}


def test_folder_init_files_are_empty() -> None:
    for folder in ("see", "explain", "tell"):
        assert (PACKAGE / folder / "__init__.py").read_text(encoding="utf-8") == ""


def test_the_rule_would_catch_an_offender(tmp_path: Path) -> None:
    offender = tmp_path / "bad.py"
    offender.write_text("from facemark.explain.pattern import Pattern\nimport os\n", encoding="utf-8")
    assert "facemark.explain.pattern" in imports(offender)
    assert "os" in imports(offender)
