"""What the user set once and for all: hand, club, units, language. One home for every setting.

Order: the command's option, then the environment (FACEMARK_HAND, FACEMARK_CLUB, ...), then
``config.toml`` in the platform's settings folder, then the default. ``facemark doctor`` shows which won.
FACEMARK_HOME moves both folders, settings and data (tests use it).
"""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from facemark.errors import SetupError

# Name in config.toml -> what it may be, and the default.
CHOICES: dict[str, tuple[tuple[str, ...] | None, str | None]] = {
    "hand": (("right", "left"), None),
    "club": (None, None),  # path of a club file
    "lengths": (("m", "yd"), "m"),
    "book": (None, None),  # path or database address of the book; never a password
    "units": (None, None),  # any of mm, in; m, yd; m/s, mph, km/h, as in "mm,yd,mph"; before ``lengths``
    "language": (("en", "de"), "en"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A setting's value and who decided it: 'environment', a file's path, or 'default'."""

    name: str
    value: str | None
    decided_by: str


def config_folder() -> Path:
    """Where config.toml lives."""
    home = os.environ.get("FACEMARK_HOME")
    if home:
        return Path(home)
    from platformdirs import user_config_path

    return user_config_path("facemark", appauthor=False)


def data_folder() -> Path:
    """Where the book and kept photos live."""
    home = os.environ.get("FACEMARK_HOME")
    if home:
        return Path(home)
    from platformdirs import user_data_path

    return user_data_path("facemark", appauthor=False)


def settings() -> dict[str, Setting]:
    """All settings, each with its origin.

    Raises
    ------
    SetupError
        config.toml is not TOML, holds an unknown key or an impossible value; so does the environment.
    """
    path = config_folder() / "config.toml"
    from_file = _read_config(path)
    found: dict[str, Setting] = {}
    value: str | None
    for name, (allowed, default) in CHOICES.items():
        variable = f"FACEMARK_{name.upper()}"
        if os.environ.get(variable):
            value, origin = os.environ[variable], "environment"
        elif name in from_file:
            value, origin = str(from_file[name]), str(path)
        else:
            value, origin = default, "default"
        if allowed and value is not None and value not in allowed:
            raise SetupError(
                f"{name} is {value!r} (from {variable if origin == 'environment' else origin}),"
                f" {' or '.join(allowed)} was expected",
                remedy="Correct it there.",
            )
        found[name] = Setting(name=name, value=value, decided_by=origin)
    return found


def _read_config(path: Path) -> dict[str, Any]:
    if not path.is_file():
        return {}
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as err:
        raise SetupError(f"{path} cannot be read ({err})", remedy="Correct or remove it.") from None
    unknown = sorted(set(table) - set(CHOICES) - {"schema"})
    if unknown:
        raise SetupError(
            f"{path} holds unknown settings: {', '.join(unknown)}",
            remedy=f"Known are {', '.join(CHOICES)}.",
        )
    return table
