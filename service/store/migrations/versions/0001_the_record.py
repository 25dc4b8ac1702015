"""The record: clubs, gardens, beds, plantings, the journal, tokens and answers."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """To this revision."""
    op.create_table(
        "clubs",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clubs")),
    )
    op.create_table(
        "gardens",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("club_id", sa.String(length=16), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=True),
        sa.Column("site", sa.String(length=64), nullable=True),
        sa.Column("latitude", sa.Double(), nullable=True),
        sa.Column("longitude", sa.Double(), nullable=True),
        sa.Column("country", sa.String(length=6), nullable=True),
        sa.Column("time_zone", sa.String(length=100), nullable=True),
        sa.Column("last_spring_frost", sa.JSON(), nullable=True),
        sa.Column("first_autumn_frost", sa.JSON(), nullable=True),
        sa.Column("units", sa.String(length=16), nullable=True),
        sa.Column("rotation", sa.String(length=16), nullable=True),
        sa.Column("soil", sa.JSON(), nullable=True),
        sa.Column("extra", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["club_id"], ["clubs.id"], name=op.f("fk_gardens_club_id_clubs")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gardens")),
    )
    op.create_index(op.f("ix_gardens_club_id"), "gardens", ["club_id"])

    op.create_table(
        "beds",
        sa.Column("garden_id", sa.String(length=16), nullable=False),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=True),
        sa.Column("kind", sa.String(length=16), nullable=True),
        sa.Column("length", sa.Double(), nullable=True),
        sa.Column("width", sa.Double(), nullable=True),
        sa.Column("depth", sa.Double(), nullable=True),
        sa.Column("position", sa.JSON(), nullable=True),
        sa.Column("turn", sa.Double(), nullable=True),
        sa.Column("irrigation", sa.JSON(), nullable=True),
        sa.Column("soil", sa.JSON(), nullable=True),
        sa.Column("from_day", sa.Date(), nullable=True),
        sa.Column("until_day", sa.Date(), nullable=True),
        sa.Column("extra", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["garden_id"], ["gardens.id"], name=op.f("fk_beds_garden_id_gardens")),
        sa.PrimaryKeyConstraint("garden_id", "id", name=op.f("pk_beds")),
    )
    op.create_table(
        "own_crops",
        sa.Column("garden_id", sa.String(length=16), nullable=False),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("family", sa.String(length=80), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=True),
        sa.Column("lifecycle", sa.String(length=16), nullable=True),
        sa.Column("extra", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["garden_id"], ["gardens.id"], name=op.f("fk_own_crops_garden_id_gardens")),
        sa.PrimaryKeyConstraint("garden_id", "id", name=op.f("pk_own_crops")),
    )
    op.create_table(
        "tokens",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("club_id", sa.String(length=16), nullable=False),
        sa.Column("garden_id", sa.String(length=16), nullable=True),
        sa.Column("scope", sa.String(length=20), nullable=False),
        sa.Column("label", sa.String(length=80), nullable=True),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("revoked_at", sa.DateTime(), nullable=True),
        sa.CheckConstraint("(scope = 'club_admin') = (garden_id IS NULL)", name=op.f("ck_tokens_reach")),
        sa.CheckConstraint(
            "scope IN ('club_admin', 'garden_write', 'garden_read', 'publishable_read', 'calendar')",
            name=op.f("ck_tokens_scope"),
        ),
        sa.ForeignKeyConstraint(["club_id"], ["clubs.id"], name=op.f("fk_tokens_club_id_clubs")),
        sa.ForeignKeyConstraint(["garden_id"], ["gardens.id"], name=op.f("fk_tokens_garden_id_gardens")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tokens")),
        sa.UniqueConstraint("digest", name=op.f("uq_tokens_digest")),
    )
    op.create_index(op.f("ix_tokens_club_id"), "tokens", ["club_id"])
    op.create_index(op.f("ix_tokens_garden_id"), "tokens", ["garden_id"])

    op.create_table(
        "answered",
        sa.Column("token_id", sa.String(length=16), nullable=False),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("body_hash", sa.String(length=64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=True),
        sa.Column("headers", sa.JSON(), nullable=True),
        sa.Column("body", sa.LargeBinary(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["token_id"], ["tokens.id"], name=op.f("fk_answered_token_id_tokens")),
        sa.PrimaryKeyConstraint("token_id", "key", name=op.f("pk_answered")),
    )
    op.create_index(op.f("ix_answered_created_at"), "answered", ["created_at"])

    op.create_table(
        "grounds",
        sa.Column("garden_id", sa.String(length=16), nullable=False),
        sa.Column("newer", sa.String(length=64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("bed", sa.String(length=64), nullable=False),
        sa.Column("from_day", sa.Date(), nullable=True),
        sa.Column("until_day", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(
            ["garden_id", "bed"], ["beds.garden_id", "beds.id"], name=op.f("fk_grounds_garden_id_bed_beds")
        ),
        sa.ForeignKeyConstraint(
            ["garden_id", "newer"], ["beds.garden_id", "beds.id"], name=op.f("fk_grounds_garden_id_newer_beds")
        ),
        sa.PrimaryKeyConstraint("garden_id", "newer", "place", name=op.f("pk_grounds")),
    )
    op.create_table(
        "plantings",
        sa.Column("garden_id", sa.String(length=16), nullable=False),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("bed", sa.String(length=64), nullable=False),
        sa.Column("part", sa.JSON(), nullable=True),
        sa.Column("crop", sa.String(length=80), nullable=False),
        sa.Column("variety", sa.JSON(), nullable=True),
        sa.Column("season", sa.String(length=16), nullable=True),
        sa.Column("start_day", sa.Date(), nullable=True),
        sa.Column("end_day", sa.Date(), nullable=True),
        sa.Column("first_harvest", sa.Date(), nullable=True),
        sa.Column("status", sa.String(length=16), nullable=True),
        sa.Column("cause", sa.String(length=80), nullable=True),
        sa.Column("replaces", sa.String(length=64), nullable=True),
        sa.Column("method", sa.String(length=16), nullable=True),
        sa.Column("count", sa.Integer(), nullable=True),
        sa.Column("spacing", sa.Double(), nullable=True),
        sa.Column("extra", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(
            ["garden_id", "bed"], ["beds.garden_id", "beds.id"], name=op.f("fk_plantings_garden_id_bed_beds")
        ),
        sa.ForeignKeyConstraint(
            ["garden_id", "replaces"],
            ["plantings.garden_id", "plantings.id"],
            name=op.f("fk_plantings_garden_id_replaces_plantings"),
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(["garden_id"], ["gardens.id"], name=op.f("fk_plantings_garden_id_gardens")),
        sa.PrimaryKeyConstraint("garden_id", "id", name=op.f("pk_plantings")),
    )
    op.create_index(op.f("ix_plantings_garden_id_bed"), "plantings", ["garden_id", "bed"])

    op.create_table(
        "journal",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("garden_id", sa.String(length=16), nullable=False),
        sa.Column("bed", sa.String(length=64), nullable=True),
        sa.Column("planting", sa.String(length=64), nullable=True),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("did", sa.String(length=16), nullable=False),
        sa.Column("detail", sa.JSON(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("corrects", sa.Integer(), nullable=True),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        sa.Column("token_id", sa.String(length=16), nullable=True),
        sa.Column("extra", sa.JSON(), nullable=True),
        sa.CheckConstraint("(did = 'undo') = (corrects IS NOT NULL)", name=op.f("ck_journal_undo")),
        sa.ForeignKeyConstraint(["corrects"], ["journal.id"], name=op.f("fk_journal_corrects_journal")),
        sa.ForeignKeyConstraint(
            ["garden_id", "bed"], ["beds.garden_id", "beds.id"], name=op.f("fk_journal_garden_id_bed_beds")
        ),
        sa.ForeignKeyConstraint(
            ["garden_id", "planting"],
            ["plantings.garden_id", "plantings.id"],
            name=op.f("fk_journal_garden_id_planting_plantings"),
        ),
        sa.ForeignKeyConstraint(["garden_id"], ["gardens.id"], name=op.f("fk_journal_garden_id_gardens")),
        sa.ForeignKeyConstraint(["token_id"], ["tokens.id"], name=op.f("fk_journal_token_id_tokens")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_journal")),
        sa.UniqueConstraint("corrects", name=op.f("uq_journal_corrects")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_journal_garden_id_id"), "journal", ["garden_id", "id"])
    op.create_index(op.f("ix_journal_garden_id_planting"), "journal", ["garden_id", "planting"])


def downgrade() -> None:
    """Back to an empty database."""
    for table in ("journal", "plantings", "grounds", "answered", "tokens", "own_crops", "beds", "gardens", "clubs"):
        op.drop_table(table)
