"""What can stop a reading, as one tree.

    FacemarkError                 .stage   .remedy    (message: what was expected, what came)
    |-- SetupError                what we were told contradicts itself or cannot be
    |-- PhotoError                unreadable, too small, too blurred
    |-- ScaleError                no scale object found, two that disagree, camera too tilted
    |-- FaceError                 no face outline, or not a face
    |-- MarkError                 no marks, or no powder
    `-- BookError                 files and records (raised in tell/ only)

An error says what to do next. A doubt that does not stop a reading is a caveat (caveats.py).
"""

from __future__ import annotations

from typing import ClassVar


class FacemarkError(Exception):
    """Base of every error this package raises on purpose.

    Parameters
    ----------
    message : str
        What was expected and what came, in one sentence.
    remedy : str
        What the person should do next, in one sentence.
    """

    stage: ClassVar[str] = "facemark"
    exit_code: ClassVar[int] = 3

    def __init__(self, message: str, *, remedy: str) -> None:
        super().__init__(message)
        self.remedy = remedy


class SetupError(FacemarkError):
    """What we were told contradicts itself or cannot be."""

    stage = "setup"
    exit_code = 2


class PhotoError(FacemarkError):
    """The photo cannot be read, or cannot be measured."""

    stage = "photo"


class ScaleError(FacemarkError):
    """No scale object, two that disagree, or a camera too tilted."""

    stage = "scale"


class FaceError(FacemarkError):
    """No club face could be outlined."""

    stage = "face"


class MarkError(FacemarkError):
    """No marks on the face, or no powder to show them."""

    stage = "marks"


class BookError(FacemarkError):
    """A file or record could not be read or written."""

    stage = "files"
    exit_code = 4
