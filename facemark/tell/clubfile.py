"""Club files: what is known about a head, in TOML.

::

    schema = 1
    name = "my driver"
    kind = "driver"
    bulge_mm = 300.0          # radius; or "flat"
    bulge_err_mm = 8.0        # one standard error; left out: usual for home measuring
    sweet_toe_mm = 1.5

A field that is left out is assumed: the kind's typical value, drawn over the kind's range. Unknown keys are
refused, and all mistakes of a file are listed at once, each with its key and what is possible.
"""

from __future__ import annotations

import math
import os
import tomllib
from dataclasses import fields
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError, create_model

from facemark.clubs import MAY_BE_FLAT, POSSIBLE, STATED_ERR, club_mistakes, typical_club
from facemark.errors import BookError, SetupError
from facemark.inputs import Club, ClubKind

SCHEMA = 1
MAX_FILE_KB = 64
NUMBERS = tuple(item.name for item in fields(Club) if item.name in STATED_ERR)

# What a number is, for people: written into new files and asked by ``facemark club new``.
MEANING: dict[str, str] = {
    "loft_deg": "loft at impact in the middle of the face, degrees",
    "face_length_mm": "face from heel to toe, mm (ruler)",
    "face_height_mm": "face from sole to crown, mm (ruler)",
    "sweet_toe_mm": "sweet spot from the face centre toward the toe, mm (pin; heel side: minus)",
    "sweet_high_mm": "sweet spot above the face centre, mm (pin; below: minus)",
    "bulge_mm": 'radius of the face from heel to toe, mm (straight edge and card stack), or "flat"',
    "roll_mm": 'radius of the face from sole to crown, mm, or "flat"',
    "head_kg": "mass of the head, kg (as printed by the maker)",
    "cg_depth_mm": "centre of gravity behind the face, mm (as printed by the maker)",
    "moi_vertical_kgm2": "inertia about the upright axis, kg m2 (1000 g cm2 is 1e-4)",
    "moi_heeltoe_kgm2": "inertia about the heel-toe axis, kg m2",
    "moi_foreaft_kgm2": "inertia about the fore-aft axis, kg m2",
}


def err_key(field: str) -> str:
    """The key of a field's error: ``bulge_mm`` -> ``bulge_err_mm``."""
    stem, unit = field.rsplit("_", 1)
    return f"{stem}_err_{unit}"


class _Form(BaseModel):
    """The part of a club file that is not a number."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)

    schema_: Literal[1]
    name: str = ""
    kind: Literal["driver", "fairway", "hybrid", "iron", "wedge"]


def _number_types() -> dict[str, Any]:
    types: dict[str, Any] = {}
    for name in NUMBERS:
        types[name] = (float | Literal["flat"] | None if name in MAY_BE_FLAT else float | None, None)
        types[err_key(name)] = (float | None, None)
    return types


_ClubForm = create_model("_ClubForm", __base__=_Form, **_number_types())


def load_club(path: str | os.PathLike[str]) -> Club:
    """Read a club file.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    Club

    Raises
    ------
    BookError
        The file cannot be read.
    SetupError
        The file is no club; the message lists every mistake with its key.
    """
    path = Path(path)
    return club_from_toml(_text(path), path.name, default_name=path.stem)


def club_from_toml(text: str, where: str, *, default_name: str = "club") -> Club:
    """Make a club from the text of a club file.

    Parameters
    ----------
    text : str
    where : str
        Name of the file, for messages.
    default_name : str
        When the file gives none.

    Returns
    -------
    Club

    Raises
    ------
    SetupError
        As ``load_club``.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        raise SetupError(
            f"{where} is not TOML ({err})",
            remedy='Write one line a number, as bulge_mm = 300.0, and text in "".',
        ) from None
    mistakes: list[tuple[str, str]] = []
    form: dict[str, Any] = {}
    try:
        renamed = {("schema_" if key == "schema" else key): value for key, value in table.items()}
        form = _ClubForm.model_validate(renamed).model_dump()
    except ValidationError as err:
        mistakes = _in_words(err)
        wrong = {key for key, _ in mistakes}
        form = {key: value for key, value in table.items() if key not in wrong}
    if "kind" in form and form["kind"] in set(ClubKind):
        club = _club(form, default_name)
        mistakes += [
            (err_key(key) if why.startswith("its error") else key, why + _unit_hint(key, getattr(club, key)))
            for key, why in club_mistakes(club)
        ]
        mistakes += _errs_without_number(form)
    if mistakes:
        lines = "; ".join(f"{key}: {why}" for key, why in mistakes)
        raise SetupError(
            f"{where} describes no possible club. {lines}",
            remedy="Correct these lines; a number you do not know is best left out.",
        )
    return club


def club_toml(club: Club) -> str:
    """Write a club as the text of a club file; assumed numbers stay comments.

    Parameters
    ----------
    club : Club

    Returns
    -------
    str
    """
    lines = [
        f"schema = {SCHEMA}",
        f"name = {_quoted(club.name)}",
        f'kind = "{club.kind.value}"',
        "",
        "# A line that starts with # is not known and is assumed; take the # away when you have measured it.",
    ]
    for name in NUMBERS:
        shown = _shown(getattr(club, name))
        if name in club.assumed:
            lines.append(f"# {name} = {shown}  # {MEANING[name]}")
            continue
        lines.append(f"{name} = {shown}  # {MEANING[name]}")
        if name in club.errs:
            lines.append(f"{err_key(name)} = {_shown(club.errs[name])}  # one standard error")
    return "\n".join(lines) + "\n"


def save_club(club: Club, path: str | os.PathLike[str], *, replace: bool = False) -> None:
    """Write a club file, whole or not at all.

    Parameters
    ----------
    club : Club
    path : str or path
    replace : bool
        Whether an existing file may be replaced.

    Raises
    ------
    BookError
        The file exists, or cannot be written.
    """
    from facemark.tell.files import written_whole

    path = Path(path)
    if path.exists() and not replace:
        raise BookError(f"{path} exists", remedy="Choose another name, or say --replace.")
    with written_whole(path) as partial:
        partial.write_text(club_toml(club), encoding="utf-8")


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MAX_FILE_KB * 1024:
            raise BookError(f"{path} is too large for a club file", remedy="Name the club's own TOML file.")
        return path.read_text(encoding="utf-8-sig")
    except OSError as err:
        raise BookError(
            f"{path} cannot be read ({err.strerror or err})",
            remedy="Check the name; facemark club new makes one.",
        ) from None
    except UnicodeDecodeError:
        raise SetupError(f"{path} is not text", remedy="A club file is plain text in UTF-8.") from None


def _club(form: dict[str, Any], default_name: str) -> Club:
    base = typical_club(ClubKind(form["kind"]))
    numbers = {name: getattr(base, name) for name in NUMBERS}
    told = {name for name in NUMBERS if form.get(name) is not None}
    for name in told:
        numbers[name] = math.inf if form[name] == "flat" else float(form[name])
    errs = {name: float(form[err_key(name)]) for name in told if form.get(err_key(name)) is not None}
    name = form.get("name") or default_name
    return Club(name=name, kind=base.kind, assumed=base.assumed - told, errs=errs, **numbers)


def _errs_without_number(form: dict[str, Any]) -> list[tuple[str, str]]:
    return [
        (err_key(name), f"an error without {name} has no meaning")
        for name in NUMBERS
        if form.get(err_key(name)) is not None and form.get(name) is None
    ]


def _in_words(err: ValidationError) -> list[tuple[str, str]]:
    found: dict[str, str] = {}
    for item in err.errors():
        key = "schema" if item["loc"][0] == "schema_" else str(item["loc"][0])
        if item["type"] == "extra_forbidden":
            close = _closest(key)
            found[key] = "not known here" + (f"; {close} is" if close else "")
        elif item["type"] == "missing":
            found[key] = (
                f"missing; write {'schema = 1' if key == 'schema' else 'kind = ' + _quoted('driver')}"
            )
        elif key == "schema":
            found[key] = f"{item['input']!r} is not known; {SCHEMA} is"
        elif key == "kind":
            found[key] = f"{item['input']!r} is not known; {', '.join(ClubKind)} are"
        else:
            flat = ', or "flat"' if key in MAY_BE_FLAT else ""
            what = "text" if key == "name" else f"a number{flat}"
            found[key] = f"{item['input']!r} came, {what} was expected"
    return list(found.items())


def _closest(key: str) -> str | None:
    from difflib import get_close_matches

    known = ["schema", "name", "kind", *NUMBERS, *(err_key(name) for name in NUMBERS)]
    close = get_close_matches(key, known, n=1, cutoff=0.6)
    return close[0] if close else None


def _unit_hint(key: str, value: float) -> str:
    """Makers print inertia in g cm2 and mass in g; say what that is here."""
    if key.endswith("_kgm2") and value > 1.0 and POSSIBLE[key][0] <= value * 1e-7 <= POSSIBLE[key][1]:
        return f" ({value:g} g cm2 is {value * 1e-7:.3g} kg m2)"
    if key == "head_kg" and POSSIBLE[key][0] <= value / 1000.0 <= POSSIBLE[key][1]:
        return f" ({value:g} g is {value / 1000.0:g} kg)"
    return ""


def _shown(value: float) -> str:
    if value == math.inf:
        return '"flat"'
    shown = f"{value:.6g}"
    return shown if any(mark in shown for mark in ".e") else shown + ".0"


def _quoted(text: str) -> str:
    """A TOML basic string."""
    import json

    return json.dumps(text, ensure_ascii=False)
