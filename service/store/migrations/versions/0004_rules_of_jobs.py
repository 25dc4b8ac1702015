"""The rule set that a job is worked on by."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """To this revision."""
    op.add_column("jobs", sa.Column("rules", sa.String(length=40), nullable=True))
    op.add_column("jobs", sa.Column("ruled_at", sa.DateTime(), nullable=True))
    op.add_column("jobs", sa.Column("restarts", sa.Integer(), nullable=False, server_default="0"))
    # What is half done lost the gardens that were answered and cannot begin again: any worker goes on with it.
    op.execute("UPDATE jobs SET rules = '' WHERE answered > 0")
