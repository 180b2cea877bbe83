"""Asking for help must not wait for libraries it does not need."""

from __future__ import annotations

import subprocess
import sys

HEAVY = (
    "numpy",
    "cv2",
    "scipy",
    "sklearn",
    "skimage",
    "matplotlib",
    "reportlab",
    "PIL",
    "sqlalchemy",
    "alembic",
)


def test_help_loads_nothing_heavy() -> None:
    program = (
        "import sys\n"
        "sys.argv = ['facemark', '--help']\n"
        "from facemark.tell.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print(*[name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
    )
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert "read" in ran.stdout
    assert ran.stderr.strip() == ""
