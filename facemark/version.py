"""The program's version, in one place; pyproject.toml is checked against it by a test."""

VERSION = "0.1.0"
SCHEMA = 1  # of the JSON record; raised when a field changes its meaning
