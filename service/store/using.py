"""Who uses a record in SQLite: a lock beside its file, shared by all that serve it and had alone by a restore.

A service may hold no connection for a while and still remember what it read.  The lock is the system's own
(flock), so it is free again the moment a process ends, however it ends; the file that it is on stays and
says nothing.  It stands beside the database, since closing any other handle on the database's own file
would drop SQLite's locks.
"""

from __future__ import annotations

import os
import weakref
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from service.store.errors import Busy
from service.store.session import Store

try:
    import fcntl
except ImportError:  # Windows: only SQLite's own locks stand there
    fcntl = None  # type: ignore[assignment]

IN_USE = "The record is in use. Stop the service and everything else that uses it, then restore."
_RESTORING = "The record is being restored. Try again in a moment."


class Hold:
    """A lock that is held until ``release``, or until nothing refers to it any more, or the process ends."""

    def __init__(self, handle: int) -> None:
        self.release = weakref.finalize(self, os.close, handle)


def use(store: Store) -> Hold | None:
    """Say that this process uses the record; None where there is nothing to hold (PostgreSQL, a read-only folder).

    Raises
    ------
    Busy
        while the record is being restored.
    """
    if not store.sqlite:
        return None
    return _locked(Path(str(store.url.database)), alone=False, said=_RESTORING)


@contextmanager
def used(store: Store) -> Iterator[None]:
    """Within the block this process uses the record; ``Busy`` as for ``use``."""
    held = use(store)
    try:
        yield
    finally:
        if held is not None:
            held.release()


@contextmanager
def alone(database: Path) -> Iterator[None]:
    """Within the block nobody uses the record; ``Busy`` where somebody does."""
    held = _locked(database, alone=True, said=IN_USE)
    try:
        yield
    finally:
        if held is not None:
            held.release()


def _locked(database: Path, *, alone: bool, said: str) -> Hold | None:
    if fcntl is None:
        return None
    try:
        handle = os.open(database.with_name(f"{database.name}.using"), os.O_RDWR | os.O_CREAT, 0o600)
    except OSError:  # where no file can be made, none can be put in the record's place either
        return None
    try:
        fcntl.flock(handle, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        raise Busy(said) from None
    return Hold(handle)
