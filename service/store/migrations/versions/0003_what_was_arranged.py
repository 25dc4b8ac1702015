"""The count of writes at which a garden's rows were last changed, apart from its journal."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """To this revision."""
    op.add_column("gardens", sa.Column("arranged", sa.Integer(), nullable=False, server_default="0"))
