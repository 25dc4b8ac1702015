"""Bring a database to the shape that this version needs, or say whether it has it.

``serve`` calls ``migrate`` once before it starts its workers; an application never does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from service.store.errors import StoreError, Unavailable
from service.store.session import WRITES, Store, plain_errors

HERE = Path(__file__).parent / "migrations"
#: The number of the lock in PostgreSQL that lets one migration run at a time: any will do that is ours.
_LOCK = 5_203_114_907


class BrokenLinks(StoreError):
    """After a migration some row points at nothing; nothing was changed."""


def migrate(store: Store, revision: str = "head", *, folders: Sequence[Path] = ()) -> None:
    """Bring the database to a revision, in one transaction and under a lock.

    Parameters
    ----------
    folders
        More folders with revisions, for tests.

    Raises
    ------
    Busy
        when another migration holds the lock too long.
    BrokenLinks
        when the outcome would hold a row that points at nothing.
    """
    with _alone(store) as connection:
        config = _config(folders)
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
        if store.sqlite and (broken := connection.exec_driver_sql("PRAGMA foreign_key_check").first()):
            raise BrokenLinks(f"The migration would leave a row of {broken[0]} pointing at nothing.")


def current_revision(store: Store) -> str | None:
    """The revision that the database has; None for an empty one."""
    with plain_errors(), store.engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def head_revision() -> str | None:
    """The revision that this version needs."""
    return ScriptDirectory.from_config(_config()).get_current_head()


def known_revision(revision: str) -> bool:
    """True for a revision that this version can start from: its own, or one of those before it."""
    scripts = ScriptDirectory.from_config(_config())
    return revision in {script.revision for script in scripts.walk_revisions()}


def require_head(store: Store) -> None:
    """``Unavailable`` unless the database has the shape that this version needs."""
    if current_revision(store) != head_revision():
        raise Unavailable("The record is not in this version's shape. Start the service with breakcrop serve.")


@contextmanager
def _alone(store: Store) -> Iterator[Connection]:
    # Without foreign keys: SQLite changes a table by copying it, and dropping the old one would
    # take every row with it that points there.  They are checked at the end instead.
    engine = store.new_engine(foreign_keys=False)
    try:
        with plain_errors(), engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
            if not store.sqlite:
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
            yield connection
    finally:
        engine.dispose()


def _config(folders: Sequence[Path] = ()) -> Config:
    config = Config()
    config.set_main_option("script_location", str(HERE).replace("%", "%%"))
    config.set_main_option("path_separator", "newline")
    places = "\n".join(str(folder) for folder in (HERE / "versions", *folders))
    config.set_main_option("version_locations", places.replace("%", "%%"))
    return config
