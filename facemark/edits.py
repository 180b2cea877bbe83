"""What a person changed by hand in a reading: a list of edits, and how far along it we are.

Places are pixels of the upright photo (x right, y down, (0, 0) the centre of the top-left pixel), because
that is what a finger points at. Marks are named by their letter, which no edit takes away from another mark.
Written as JSON: ``{"schema": 1, "edits": [{"edit": "move_mark", "letter": "B", "x_px": 410, "y_px": 300}]}``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from facemark.errors import SetupError

SCHEMA = 1
MAX_EDITS = 200  # more than anybody makes on one photo; assumed
OUTLINE_POINTS = (8, 400)  # fewer draw no face, more say nothing new; assumed
FARTHEST_PX = 20_000.0  # wider than any photo that is read


@dataclass(frozen=True, slots=True, kw_only=True)
class AddMark:
    """There is a mark here. ``diameter_mm`` None: as the others."""

    x_px: float
    y_px: float
    diameter_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveMark:
    """This mark's centre lies here."""

    letter: str
    x_px: float
    y_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DeleteMark:
    """This is no mark of a ball."""

    letter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MergeMarks:
    """Both are one mark, halfway between; it keeps the first letter."""

    letter: str
    other: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitMark:
    """This mark is two: the first place keeps the letter, the other gets a new one."""

    letter: str
    x_px: float
    y_px: float
    other_x_px: float
    other_y_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveSweetSpot:
    """The sweet spot lies here."""

    x_px: float
    y_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftOutline:
    """The whole outline belongs this much farther right and down in the photo."""

    right_px: float
    down_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawOutline:
    """The face's edge runs through these points, closed, in either direction."""

    points_px: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToeSide:
    """The toe is at the end of the face nearer to this point."""

    x_px: float
    y_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AllMarks:
    """Every ball's mark is there; none is hidden among the others."""


Edit = (
    AddMark
    | MoveMark
    | DeleteMark
    | MergeMarks
    | SplitMark
    | MoveSweetSpot
    | ShiftOutline
    | DrawOutline
    | ToeSide
    | AllMarks
)
KINDS: dict[str, type[Any]] = {
    "add_mark": AddMark,
    "move_mark": MoveMark,
    "delete_mark": DeleteMark,
    "merge_marks": MergeMarks,
    "split_mark": SplitMark,
    "move_sweet_spot": MoveSweetSpot,
    "shift_outline": ShiftOutline,
    "draw_outline": DrawOutline,
    "toe_side": ToeSide,
    "all_marks": AllMarks,
}
_NAMES = {kind: name for name, kind in KINDS.items()}
_WORDS = {
    "add_mark": ("mark added", "marks added"),
    "move_mark": ("mark moved", "marks moved"),
    "delete_mark": ("mark deleted", "marks deleted"),
    "merge_marks": ("pair of marks merged", "pairs of marks merged"),
    "split_mark": ("mark split", "marks split"),
}
_ONCE = {
    "move_sweet_spot": "sweet spot moved",
    "shift_outline": "outline shifted",
    "draw_outline": "outline redrawn",
    "toe_side": "toe side said",
    "all_marks": "marks said to be complete",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """All edits ever made to one reading, and how many of them count: undo and redo move the pointer."""

    edits: tuple[Edit, ...] = ()
    n_done: int = 0

    @property
    def current(self) -> tuple[Edit, ...]:
        """The edits that count."""
        return self.edits[: self.n_done]

    def with_edit(self, edit: Edit) -> History:
        """One more edit; what had been undone is forgotten."""
        return History(edits=(*self.current, edit), n_done=self.n_done + 1)

    def undone(self) -> History:
        """One step back, or the same history at its beginning."""
        return replace(self, n_done=max(0, self.n_done - 1))

    def redone(self) -> History:
        """One step forward, or the same history at its end."""
        return replace(self, n_done=min(len(self.edits), self.n_done + 1))


def history_of(data: object) -> History:
    """A history from plain data, as a corrections file or the page holds it.

    Parameters
    ----------
    data : mapping
        ``schema`` (1, may be missing), ``edits``, and ``n_done`` (default: all of them).

    Raises
    ------
    SetupError
        Not a list of edits; an unknown edit, a missing, unknown or impossible value.
    """
    if not isinstance(data, Mapping) or not isinstance(data.get("edits"), list):
        raise _wrong("a list of edits was expected", 'Write {"schema": 1, "edits": [...]}.')
    if data.get("schema", SCHEMA) != SCHEMA:
        raise _wrong(f"schema {SCHEMA} was expected, {data.get('schema')!r} came", "Use this version's form.")
    raw = data["edits"]
    if len(raw) > MAX_EDITS:
        raise _wrong(f"{len(raw)} edits came, at most {MAX_EDITS} are taken", "Start from the raw reading.")
    n_done = data.get("n_done", len(raw))
    if isinstance(n_done, bool) or not isinstance(n_done, int) or not 0 <= n_done <= len(raw):
        raise _wrong(
            f"n_done is {n_done!r}, 0 to {len(raw)} was expected", "Leave it out to count all edits."
        )
    return History(edits=tuple(edit_of(item) for item in raw), n_done=n_done)


def edit_of(data: object) -> Edit:
    """One edit from plain data. Errors as in ``history_of``."""
    name = data.get("edit") if isinstance(data, Mapping) else None
    kind = KINDS.get(name) if isinstance(name, str) else None
    if kind is None or not isinstance(data, Mapping):
        raise _wrong(f"the edit {name!r} is not known", f"Known are {', '.join(KINDS)}.")
    known = {item.name: item for item in fields(kind)}
    given = {str(key): value for key, value in data.items() if key != "edit"}
    unknown = sorted(set(given) - set(known))
    missing = sorted(set(known) - set(given) - {"diameter_mm"})
    if unknown or missing:
        what = f"does not know {', '.join(unknown)}" if unknown else f"needs {', '.join(missing)}"
        raise _wrong(f"the edit {name} {what}", "See docs/reference/results.md.")
    edit: Edit = kind(**{key: _value(f"{name}: {key}", key, value) for key, value in given.items()})
    return edit


def edit_record(edit: Edit) -> dict[str, Any]:
    """One edit as plain data; ``edit_of`` takes it back."""
    values = {key: value for key, value in asdict(edit).items() if value is not None}
    if isinstance(edit, DrawOutline):
        values["points_px"] = [list(point) for point in edit.points_px]
    return {"edit": _NAMES[type(edit)], **values}


def edits_words(edits: Sequence[Edit]) -> str:
    """'2 marks moved, 1 mark deleted, sweet spot moved'."""
    names = [_NAMES[type(edit)] for edit in edits]
    said = []
    for name, (one, many) in _WORDS.items():
        n = names.count(name)
        if n:
            said.append(f"{n} {one if n == 1 else many}")
    return ", ".join(said + [words for name, words in _ONCE.items() if name in names])


def _value(where: str, key: str, value: object) -> Any:
    if key in ("letter", "other"):
        if not (isinstance(value, str) and 1 <= len(value) <= 2 and value.isalpha()):
            raise _wrong(f"{where} is {value!r}, a mark's letter was expected", "Name a mark of the picture.")
        return value
    if key == "points_px":
        low, high = OUTLINE_POINTS
        if not isinstance(value, list) or not low <= len(value) <= high:
            raise _wrong(f"{where}: {low} to {high} points were expected", "Tap around the face's edge.")
        return tuple(_point(where, point) for point in value)
    if key == "diameter_mm" and value is None:
        return None
    return _number(where, value)


def _point(where: str, point: object) -> tuple[float, float]:
    if not isinstance(point, list | tuple) or len(point) != 2:
        raise _wrong(f"{where}: {point!r} is no point", "Write each point as [x, y].")
    return _number(where, point[0]), _number(where, point[1])


def _number(where: str, value: object) -> float:
    # Compared before it becomes a float: an integer may have more digits than any float, or than Python
    # will print.
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= FARTHEST_PX:
        came = f"{value!r}"[:40] if not isinstance(value, int) else "no pixel of a photo"
        raise _wrong(f"{where} is {came}, a number was expected", "Give pixels of the photo.")
    return float(value)


def _wrong(message: str, remedy: str) -> SetupError:
    return SetupError(message, remedy=remedy)
