"""Exports are remembered, so that forgetting a player finds them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "export",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("path", sa.String(), nullable=False),
        sa.Column("machine", sa.String(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_export")),
    )
    op.create_table(
        "export_player",
        sa.Column("export_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("player_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.ForeignKeyConstraint(["export_id"], ["export.id"], name=op.f("fk_export_player_export_id_export")),
        sa.ForeignKeyConstraint(["player_id"], ["player.id"], name=op.f("fk_export_player_player_id_player")),
        sa.PrimaryKeyConstraint("export_id", "player_id", name=op.f("pk_export_player")),
    )
    op.create_index(op.f("ix_export_player_player_id"), "export_player", ["player_id"], unique=False)
