"""What is installed, which settings won, and where files go: the first thing to send with a question."""

from __future__ import annotations

import hashlib
import importlib.metadata
import platform
import sys
from importlib import resources

from facemark.errors import BookError
from facemark.tell.settings import config_folder, settings
from facemark.version import VERSION

_OPENCV_WHEELS = (
    "opencv-python",
    "opencv-python-headless",
    "opencv-contrib-python",
    "opencv-contrib-python-headless",
)
_LIBRARIES = (
    "numpy",
    "scipy",
    "scikit-image",
    "scikit-learn",
    "pillow",
    "pi-heif",
    "typer",
    "matplotlib",
    "sqlalchemy",
    "alembic",
)


def doctor_lines() -> list[str]:
    """The report, line by line."""
    import cv2

    lines = [
        f"facemark {VERSION}",
        f"Python {platform.python_version()} at {sys.executable}",
        f"OpenCV {cv2.__version__} ({', '.join(_installed(_OPENCV_WHEELS)) or 'not from a wheel'})",
    ]
    wheels = _installed(_OPENCV_WHEELS)
    if len(wheels) > 1:
        lines.append(
            "  trouble: these wheels share one folder and break each other; remove all of them, then"
            " install opencv-python-headless"
        )
    lines += [f"{name} {_version(name)}" for name in _LIBRARIES]
    lines += ["", "weights"]
    weights = resources.files("facemark.see").joinpath("weights")
    for name in ("face.onnx", "marks.onnx"):
        file = weights.joinpath(name)
        if file.is_file():
            content = file.read_bytes()
            digest = hashlib.sha256(content).hexdigest()[:16]
            lines.append(f"  {name}: {len(content) / 1e6:.1f} MB, sha256 {digest}...")
        else:
            lines.append(f"  {name}: missing; the simple method stands in")
    lines += ["", "settings"]
    for setting in settings().values():
        # An address may hold a password by mistake; what is sent with a question must not.
        shown = "set" if "://" in (setting.value or "") else setting.value or "not set"
        lines.append(f"  {setting.name} = {shown}  ({setting.decided_by})")
    lines += ["", "files", f"  settings: {config_folder() / 'config.toml'}", f"  book: {_book()}"]
    return lines


def _book() -> str:
    """Where the book is; nothing is made or opened."""
    from facemark.tell.book.where import find_place

    try:
        place = find_place()
    except BookError as err:
        return f"{err}. {err.remedy}"
    if place.path is None:
        return f"{place} (a server)"
    if not place.path.is_file():
        return f"{place} (none yet)"
    return f"{place} ({place.path.stat().st_size / 1e6:.1f} MB)"


def _installed(names: tuple[str, ...]) -> list[str]:
    return [f"{name} {_version(name)}" for name in names if _version(name) != "missing"]


def _version(name: str) -> str:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return "missing"
