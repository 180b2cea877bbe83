"""What all tests share."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

# Same examples every time: a test that fails here fails everywhere.
settings.register_profile("fixed", derandomize=True, deadline=None)
settings.load_profile("fixed")


@pytest.fixture(scope="session")
def fixtures() -> Path:
    """The folder of shipped photos."""
    return Path(__file__).parent.parent / "fixtures"
