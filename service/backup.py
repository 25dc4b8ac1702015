"""A copy of the record in SQLite while it is in use, and back again when nothing uses it.

Both ways go through SQLite's own online backup: what is copied is the record of one moment, with every
write that was acknowledged before.  Files are never copied under it, and never swapped.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from service.store.errors import Busy, Conflict, Unavailable
from service.store.migrating import current_revision, known_revision, migrate
from service.store.session import Store
from service.store.using import IN_USE, alone

#: What a file of SQLite begins with.
_MAGIC = b"SQLite format 3\x00"
_BROKEN = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_TABLES = ("clubs", "gardens", "plantings", "journal", "alembic_version")
_COUNTED = ("gardens", "journal")


class NotARecord(Conflict):
    """A file that cannot be restored: no record of ours, damaged, or of a later version."""


class Held(NamedTuple):
    """What a record holds."""

    gardens: int
    lines: int


def database_file(store: Store) -> Path:
    """The file of a record in SQLite.

    Raises
    ------
    Conflict
        for a record in PostgreSQL, which has tools of its own.
    """
    if store.sqlite:
        return Path(str(store.url.database))
    name = store.url.database or "DATABASE"
    raise Conflict(
        f"This record is in PostgreSQL, which has tools of its own: pg_dump --format=custom --file=FILE {name} "
        f"backs it up while it runs, pg_restore --clean --dbname={name} FILE brings it back."
    )


def back_up(store: Store, into: Path) -> Held:
    """Copy the record to a file, while others may go on writing; the copy is checked.

    Raises
    ------
    Unavailable
        where there is no record, or the copy is not whole.
    """
    source = database_file(store)
    if not source.exists():
        raise Unavailable(f"There is no record at {source} yet, so there is nothing to back up.")
    with _plainly(source), closing(_connected(source, store)) as reader:
        _copied(reader, into)
    try:
        return inspected(into)
    except NotARecord as fault:
        raise Unavailable(f"The copy is not whole, so it is not kept: {fault.detail}") from None


def inspected(path: Path) -> Held:
    """What a file holds that is a whole record of this version or an earlier one; ``NotARecord``."""
    with open(path, "rb") as file:
        if file.read(len(_MAGIC)) != _MAGIC:
            raise NotARecord(f"{path} is no backup of a record.")
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            found = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            if not found.issuperset(_TABLES):
                raise NotARecord(f"{path} is a database, but no record of breakcrop.")
            said = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
            if said != "ok" or connection.execute("PRAGMA foreign_key_check").fetchone() is not None:
                raise NotARecord(f"{path} is damaged; take an earlier backup.")
            (revision,) = connection.execute("SELECT version_num FROM alembic_version").fetchone() or ("",)
            if not known_revision(revision):
                raise NotARecord(f"{path} was made by a newer breakcrop; install that version to use it.")
            count = [
                connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in ("gardens", "journal")
            ]
    except sqlite3.DatabaseError as error:
        broken = error.sqlite_errorcode & 0xFF in _BROKEN
        why = "is damaged; take an earlier backup" if broken else f"cannot be read: {error}"
        raise NotARecord(f"{path} {why}.") from None
    return Held(*count)


def restore(store: Store, path: Path, *, now: datetime) -> tuple[Held, Path | None]:
    """Put a backup in the record's place, brought into this version's shape.

    Returns
    -------
    What it holds, and where the record that was there before is kept (None where there was none).

    Raises
    ------
    NotARecord
        for a file that is not one; the record stays as it is.
    Busy
        while anything has the record open, or a service runs on it.
    """
    target = database_file(store)
    inspected(path)
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    ready = _free(target.with_name(f"{target.name}.restoring"))
    aside = _free(target.with_name(f"{target.stem}.before-{now:%Y%m%d-%H%M%S}{target.suffix}"))
    try:
        with _plainly(path), closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as reader:
            _copied(reader, ready)
        held = _brought_up(ready, store)
        with alone(target):
            kept = _put_in_place(ready, target, aside)
    finally:
        _remove(ready)
    return held, kept


def _brought_up(path: Path, store: Store) -> Held:
    """The copy in this version's shape: a migration that fails must fail before the record is touched."""
    copy = Store(f"sqlite:///{path}", lock_timeout=store.lock_timeout)
    try:
        migrate(copy)
        assert current_revision(copy) is not None
    finally:
        copy.close()
    return inspected(path)


def _put_in_place(ready: Path, target: Path, aside: Path) -> Path | None:
    if not target.exists():
        with closing(sqlite3.connect(ready)) as reader:
            _copied(reader, target)
        return None
    try:
        with _alone(target) as writer:
            _copied(writer, aside)
            with closing(sqlite3.connect(ready)) as reader:
                reader.backup(writer)
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode & 0xFF not in _BROKEN:
            raise Unavailable(f"The record at {target} cannot be written: {error}.") from None
        # What was there is no database any more: nothing can have it open, and only a move keeps it.
        _remove(aside)
        for end in ("", "-wal", "-shm"):
            if (old := target.with_name(target.name + end)).exists():
                os.replace(old, aside.with_name(aside.name + end))
        return aside if _put_in_place(ready, target, aside) is None else None
    return aside


@contextmanager
def _alone(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection that nothing else shares the file with, held until the end of the block.

    Leaving the write-ahead log needs that: SQLite refuses while any other connection is open, even an idle one.
    """
    with closing(sqlite3.connect(path, isolation_level=None, timeout=0.2)) as connection:
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        try:
            mode = connection.execute("PRAGMA journal_mode = DELETE").fetchone()[0]
            connection.execute("BEGIN EXCLUSIVE")
            connection.execute("COMMIT")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                raise
            mode = ""
        if mode != "delete":
            raise Busy(IN_USE)
        connection.execute("PRAGMA synchronous = FULL")
        yield connection


def _copied(reader: sqlite3.Connection, into: Path) -> None:
    """All of a database in one file of its own, on the disk when it returns."""
    with closing(sqlite3.connect(into)) as writer:
        writer.execute("PRAGMA synchronous = FULL")
        reader.backup(writer)
        writer.execute("PRAGMA journal_mode = DELETE")


def _connected(path: Path, store: Store) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=rw", uri=True, timeout=store.lock_timeout)
    connection.execute("PRAGMA query_only = ON")
    return connection


def _free(path: Path) -> Path:
    number, found = 1, path
    while found.exists():
        number += 1
        found = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return found


def _remove(path: Path) -> None:
    for end in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + end).unlink(missing_ok=True)


@contextmanager
def _plainly(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.DatabaseError as error:
        raise Unavailable(f"{path} cannot be copied: {error}.") from None
