"""facemark reads a photo of a powdered club face: where the balls were struck, and what that did to them.

The front door. Names are loaded when first used, so that ``facemark --help`` does not wait for OpenCV.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from facemark import version as _version

if TYPE_CHECKING:
    from facemark.errors import FacemarkError
    from facemark.inputs import Club, Hand, Photo, Reference, Setup
    from facemark.reading import interpret, measure, read
    from facemark.strike import Strike
    from facemark.tell.files import load

__version__ = _version.VERSION

_HOMES = {
    "Club": "facemark.inputs",
    "FacemarkError": "facemark.errors",
    "Hand": "facemark.inputs",
    "Photo": "facemark.inputs",
    "Reference": "facemark.inputs",
    "Setup": "facemark.inputs",
    "Strike": "facemark.strike",
    "interpret": "facemark.reading",
    "load": "facemark.tell.files",
    "measure": "facemark.reading",
    "read": "facemark.reading",
}

__all__ = [
    "Club",
    "FacemarkError",
    "Hand",
    "Photo",
    "Reference",
    "Setup",
    "Strike",
    "__version__",
    "interpret",
    "load",
    "measure",
    "read",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(_HOMES[name]), name)
    message = f"module 'facemark' has no attribute {name!r}"
    raise AttributeError(message)
