"""A session's pattern, worked out once: a history then unpacks no record."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.add_column("session", sa.Column("label", sa.String(length=40)))
    op.add_column("session", sa.Column("label_of", sa.String(length=64)))
