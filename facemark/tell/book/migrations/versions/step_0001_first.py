"""The first layout: players, clubs, sessions, photos, readings, corrections, balls, blocks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "club",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.Column("data_sha", sa.String(length=64), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_club")),
        sa.UniqueConstraint("data_sha", name=op.f("uq_club_data_sha")),
    )
    op.create_table(
        "photo",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("taken", sa.DateTime(), nullable=True),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("kept_as", sa.String(length=8), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
        sa.UniqueConstraint("sha256", name=op.f("uq_photo_sha256")),
    )
    op.create_table(
        "player",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String(), nullable=False),
        sa.Column("hand", sa.String(length=5), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("keep_until", sa.Date(), nullable=True),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("hand in ('right', 'left')", name=op.f("ck_player_hand")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_player")),
        sa.UniqueConstraint("name_key", name=op.f("uq_player_name_key")),
    )
    op.create_table(
        "session",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("player_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("club_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("ground", sa.String(), nullable=False),
        sa.Column("ball", sa.String(), nullable=False),
        sa.Column("effort_frac", sa.Float(), nullable=True),
        sa.Column("tee_mm", sa.Float(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("effort_frac > 0 and effort_frac <= 1", name=op.f("ck_session_effort")),
        sa.ForeignKeyConstraint(["club_id"], ["club.id"], name=op.f("fk_session_club_id_club")),
        sa.ForeignKeyConstraint(["player_id"], ["player.id"], name=op.f("fk_session_player_id_player")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_session")),
        sa.UniqueConstraint(
            "player_id", "club_id", "day", "name", name=op.f("uq_session_player_id_club_id_day_name")
        ),
    )
    op.create_index(op.f("ix_session_club_id"), "session", ["club_id"], unique=False)
    op.create_table(
        "block",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("player_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("session_id", sa.Uuid(as_uuid=False), nullable=True),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.Column("focus", sa.String(), nullable=False),
        sa.Column("effort_frac", sa.Float(), nullable=False),
        sa.Column("n_balls", sa.Integer(), nullable=False),
        sa.Column("n_good", sa.Integer(), nullable=False),
        sa.Column("verdict", sa.String(), nullable=False),
        sa.Column("plan", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["player_id"], ["player.id"], name=op.f("fk_block_player_id_player")),
        sa.ForeignKeyConstraint(["session_id"], ["session.id"], name=op.f("fk_block_session_id_session")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_block")),
    )
    op.create_index(op.f("ix_block_player_id"), "block", ["player_id"], unique=False)
    op.create_index(op.f("ix_block_session_id"), "block", ["session_id"], unique=False)
    op.create_table(
        "reading",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("photo_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("session_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("settings_sha", sa.String(length=64), nullable=False),
        sa.Column("version", sa.String(length=20), nullable=False),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.Column("record", sa.LargeBinary(), nullable=False),
        sa.Column("n_corrections", sa.Integer(), nullable=False),
        sa.Column("label", sa.String(length=40), nullable=False),
        sa.Column("n_balls", sa.Float(), nullable=False),
        sa.Column("toe_mm", sa.Float(), nullable=True),
        sa.Column("high_mm", sa.Float(), nullable=True),
        sa.Column("toe_spread_mm", sa.Float(), nullable=True),
        sa.Column("high_spread_mm", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_reading_photo_id_photo")),
        sa.ForeignKeyConstraint(["session_id"], ["session.id"], name=op.f("fk_reading_session_id_session")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sa.UniqueConstraint(
            "photo_id", "settings_sha", "version", name=op.f("uq_reading_photo_id_settings_sha_version")
        ),
    )
    op.create_index(op.f("ix_reading_session_id"), "reading", ["session_id"], unique=False)
    op.create_table(
        "ball",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("session_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("reading_id", sa.Uuid(as_uuid=False), nullable=True),
        sa.Column("note", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_ball_reading_id_reading")),
        sa.ForeignKeyConstraint(["session_id"], ["session.id"], name=op.f("fk_ball_session_id_session")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ball")),
    )
    op.create_index(op.f("ix_ball_reading_id"), "ball", ["reading_id"], unique=False)
    op.create_index(op.f("ix_ball_session_id"), "ball", ["session_id"], unique=False)
    op.create_table(
        "correction",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("reading_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("edits", sa.JSON(), nullable=False),
        sa.Column("record", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["reading_id"], ["reading.id"], name=op.f("fk_correction_reading_id_reading")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_correction")),
        sa.UniqueConstraint("reading_id", "n", name=op.f("uq_correction_reading_id_n")),
    )
