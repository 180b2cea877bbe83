"""Corrections that somebody wrote down: a JSON file with a list of edits (facemark/edits.py)."""

from __future__ import annotations

import json
from pathlib import Path

from facemark.edits import History, history_of
from facemark.errors import SetupError

MAX_BYTES = 1_000_000  # 200 edits, one of them a long outline, are a tenth of it


def load_corrections(path: Path) -> History:
    """Read a corrections file.

    Raises
    ------
    SetupError
        No such file, not JSON, or an edit that cannot be.
    """
    try:
        if path.stat().st_size > MAX_BYTES:
            raise SetupError(f"{path} is too large for corrections", remedy="Name the file of edits.")
        data = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as err:
        raise SetupError(
            f"{path} cannot be read as corrections ({err})",
            remedy="Write the edits as JSON; see docs/reference/results.md.",
        ) from None
    return history_of(data)
