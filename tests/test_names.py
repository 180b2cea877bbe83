"""Every float a result carries says its unit in its name (DEVELOPERS.md, "Names")."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "facemark"
UNITS = (
    *("_px", "_px2", "_mm", "_mm2", "_m", "_deg", "_rpm", "_mps", "_kg", "_kgm2", "_mm_per_px", "_px_per_mm"),
    *("_frac", "_ratio", "_35mm", "_hpa", "_degc", "_kgm3", "_rad", "_s"),
)
# Counts of balls may be fractions when they are estimates.
PREFIXES = ("n_",)


def float_fields() -> list[tuple[str, str]]:
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        if "learn" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.ClassDef):
                continue
            if not any("dataclass" in ast.unparse(d) for d in node.decorator_list):
                continue
            for item in node.body:
                if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name):
                    kind = ast.unparse(item.annotation)
                    if kind in {"float", "float | None"}:
                        found.append((f"{path.stem}.{node.name}", item.target.id))
    return found


@pytest.mark.parametrize(("owner", "name"), float_fields(), ids=lambda v: v)
def test_float_fields_name_their_unit(owner: str, name: str) -> None:
    bare = name.removesuffix("_err").removesuffix("_spread")
    if owner.split(".")[1] in {"Range", "Interval", "Typical"}:
        return  # three numbers of one quantity; the field that holds them names the unit
    assert name.startswith(PREFIXES) or any(bare.endswith(unit) for unit in UNITS), (owner, name)


def test_every_result_is_frozen_and_keyword_only() -> None:
    for path in sorted(PACKAGE.rglob("*.py")):
        if "learn" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                for decorator in node.decorator_list:
                    words = ast.unparse(decorator)
                    if words.startswith("dataclass"):
                        for rule in ("frozen=True", "slots=True", "kw_only=True"):
                            assert rule in words, (path.name, node.name, rule)
