"""Run by Alembic: every revision goes through the connection and transaction of ``migrating``."""

from __future__ import annotations

from alembic import context

from service.store import jobtables  # noqa: F401 - its tables belong to the metadata
from service.store.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    # SQLite cannot change a column: batch mode copies the table.
    render_as_batch=True,
    # All of it or nothing, on SQLite too.
    transactional_ddl=True,
    compare_type=True,
)
context.run_migrations()
