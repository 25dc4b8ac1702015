"""Long work: jobs and their chunks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """To this revision."""
    op.create_table(
        "jobs",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("club_id", sa.String(length=16), nullable=False),
        sa.Column("token_id", sa.String(length=16), nullable=True),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("shared", sa.LargeBinary(), nullable=False),
        sa.Column("gardens", sa.Integer(), nullable=False),
        sa.Column("answered", sa.Integer(), nullable=False),
        sa.Column("failed", sa.Integer(), nullable=False),
        sa.Column("open_chunks", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("finished_at", sa.DateTime(), nullable=True),
        sa.CheckConstraint("state IN ('open', 'done', 'cancelled')", name=op.f("ck_jobs_state")),
        sa.ForeignKeyConstraint(["club_id"], ["clubs.id"], name=op.f("fk_jobs_club_id_clubs")),
        sa.ForeignKeyConstraint(["token_id"], ["tokens.id"], name=op.f("fk_jobs_token_id_tokens")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
    )
    op.create_index(op.f("ix_jobs_club_id"), "jobs", ["club_id"])
    op.create_index(op.f("ix_jobs_finished_at"), "jobs", ["finished_at"])

    op.create_table(
        "chunks",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("job_id", sa.String(length=16), nullable=False),
        sa.Column("first", sa.Integer(), nullable=False),
        sa.Column("gardens", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("lease_until", sa.DateTime(), nullable=True),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("faults", sa.Integer(), nullable=False),
        sa.Column("worker", sa.String(length=80), nullable=True),
        sa.Column("work", sa.LargeBinary(), nullable=True),
        sa.Column("result", sa.LargeBinary(), nullable=True),
        sa.CheckConstraint("state IN ('waiting', 'running', 'done', 'cancelled')", name=op.f("ck_chunks_state")),
        sa.CheckConstraint(
            "(lease_until IS NULL) = (state IN ('done', 'cancelled'))",
            name=op.f("ck_chunks_lease"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_chunks_job_id_jobs")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_chunks")),
        sa.UniqueConstraint("job_id", "first", name=op.f("uq_chunks_job_id_first")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_chunks_open",
        "chunks",
        ["first", "id"],
        sqlite_where=sa.text("lease_until IS NOT NULL"),
        postgresql_where=sa.text("lease_until IS NOT NULL"),
    )
