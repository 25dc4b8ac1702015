"""Connections: SQLite by default, PostgreSQL by its URL, and two ways in (``read`` and ``write``).

SQLite runs with a write-ahead log, synchronous FULL (an acknowledged write survives a power cut),
foreign keys on and a busy timeout.  A writer opens with BEGIN IMMEDIATE: a transaction that reads
first and then turns into a writer fails at once when another got there, whatever the timeout.
"""

from __future__ import annotations

import os
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from time import monotonic, sleep
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import DBAPIError, DisconnectionError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnection
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from service.store.contents import READING, Contents, Reading, Remembered
from service.store.errors import Busy, Stale, Unavailable

#: Seconds that a writer waits for another one before it gives up with ``Busy``.
LOCK_TIMEOUT = 5.0
#: Seconds that a server may take to let one in.
CONNECT_TIMEOUT = 10
#: The option of a connection that makes its transactions writers from their first word.
WRITES = "breakcrop_writes"

_SQLITE_LOCKED = {5, 6}  # SQLITE_BUSY, SQLITE_LOCKED
# lock_not_available, deadlock_detected, serialization_failure, too_many_connections,
# query_canceled (the server's own statement_timeout)
_POSTGRES_LOCKED = {"55P03", "40P01", "40001", "53300", "57014"}
_SQLITE_BROKEN = {11, 26}  # SQLITE_CORRUPT, SQLITE_NOTADB
# feature_not_supported (a standby is asked to write), read_only_sql_transaction,
# idle_in_transaction_session_timeout, undefined_table, insufficient_privilege
_POSTGRES_UNFIT = {"0A000", "25006", "25P03", "42P01", "42501"}


def default_url() -> str:
    """SQLite in the user's data folder: where each system keeps such things."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share")
    return f"sqlite:///{base / 'breakcrop' / 'record.db'}"


class Store:
    """A database and the ways into it.

    The engine is made when it is first used, and anew in a process that was forked since: a
    connection must not be shared between processes.

    Parameters
    ----------
    url
        As SQLAlchemy writes it; None for SQLite in the user's data folder.
    lock_timeout
        Seconds that a writer waits for another one.
    """

    def __init__(self, url: str | None = None, *, lock_timeout: float = LOCK_TIMEOUT) -> None:
        text = url or default_url()
        if text.startswith("postgres://"):  # as some hosts still write it
            text = "postgresql://" + text.removeprefix("postgres://")
        self.url = make_url(text)
        if self.url.drivername == "postgresql":
            self.url = self.url.set(drivername="postgresql+psycopg")
        self.lock_timeout = lock_timeout
        self._engine: Engine | None = None
        self._reader: Engine | None = None
        self._writer: Engine | None = None
        self._made_in = 0
        self._remembered = Remembered()
        self._inherited: list[Engine] = []
        self._turn = Lock()

    @property
    def sqlite(self) -> bool:
        """True for SQLite, False for PostgreSQL."""
        return self.url.get_backend_name() == "sqlite"

    @property
    def engine(self) -> Engine:
        """The engine of this process."""
        if self._engine is None or self._made_in != os.getpid():
            if self._engine is not None:
                # The parent's connections stay the parent's: kept, lest collecting them closes them.
                self._inherited.append(self._engine)
            engine = self.new_engine()
            event.listen(engine, "connect", self._forget)
            snapshot: dict[str, Any] = (
                {} if self.sqlite else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
            )
            self._reader = engine.execution_options(**snapshot)
            self._writer = engine.execution_options(**{WRITES: True})
            self._engine, self._made_in = engine, os.getpid()
            self._remembered = Remembered()
            self._turn = Lock()  # one that was held when the parent forked would never come free
        return self._engine

    def new_engine(self, *, foreign_keys: bool = True) -> Engine:
        """An engine of its own; migrations take one without foreign keys."""
        if self.sqlite:
            if self.url.database in (None, "", ":memory:"):
                raise Unavailable("The record needs a file: SQLite in memory forgets.")
            folder = Path(str(self.url.database)).parent
            try:
                folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            except OSError as error:
                raise Unavailable(f"The record cannot be kept in {folder}: {error.strerror}.") from error
            engine = create_engine(self.url, hide_parameters=True)
            _set_up_sqlite(engine, int(self.lock_timeout * 1000), foreign_keys)
        else:
            engine = create_engine(_patient(self.url), pool_pre_ping=True, hide_parameters=True)
            _set_up_postgres(engine, int(self.lock_timeout * 1000))
        return engine

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A transaction that reads: all it sees is of one moment.

        Raises
        ------
        Busy, Unavailable
            when the database does not answer.
        """
        with plain_errors(), Session(self.engine and self._reader, expire_on_commit=False) as session:
            yield self._opened(session, writer=False)

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A transaction that writes: all of it stands at the end of the block, or none.

        Raises
        ------
        Busy
            when another writer holds its lock for longer than ``lock_timeout``.
        Stale
            when a row was changed since it was read.
        Unavailable
            when the database does not answer.
        """
        with (
            self._in_turn(),
            plain_errors(),
            Session(self.engine and self._writer, expire_on_commit=False) as session,
            session.begin(),
        ):
            yield self._opened(session, writer=True)

    def remembered(self, garden_id: str, revision: int) -> Contents | None:
        """The contents of a garden at a count of writes, where this process has them in mind."""
        found = self._remembered.get(garden_id)
        return found if found is not None and found.garden.revision == revision else None

    def _opened(self, session: Session, *, writer: bool) -> Session:
        session.connection()  # first: a connection that is new forgets what was read through others
        session.info[READING] = Reading(session, self._remembered, writer=writer)
        return session

    def _forget(self, connection: Any, record: Any) -> None:
        # It may lead to a file that was put in the other's place, or to a server that was restored.
        self._remembered = Remembered()

    @contextmanager
    def _in_turn(self) -> Iterator[None]:
        """The threads of a process write to SQLite one after the other.

        SQLite lets writers try again after pauses, in no order: of many, one may wait for seconds.
        """
        if not self.sqlite:
            yield
            return
        turn = self.engine and self._turn  # the engine first: with it a forked process gets a lock of its own
        if not turn.acquire(timeout=self.lock_timeout):
            raise Busy
        try:
            yield
        finally:
            turn.release()

    def close(self) -> None:
        """Close the connections of this process; the store can be used again."""
        if self._engine is not None and self._made_in == os.getpid():
            self._engine.dispose()
        self._engine = None


@contextmanager
def plain_errors() -> Iterator[None]:
    """Within the block, what a driver raises about locks and connections becomes ``Busy`` or ``Unavailable``."""
    try:
        yield
    except NoConnection as error:
        raise Busy from error
    except StaleDataError as error:
        raise Stale from error
    except DBAPIError as error:
        if locked(error.orig):
            raise Busy from error
        if isinstance(error, OperationalError | InterfaceError) or error.connection_invalidated or unfit(error.orig):
            raise Unavailable from error
        raise


def unfit(error: BaseException | None) -> bool:
    """True for a driver's error that says: the database is not one that can be used now."""
    code, state = getattr(error, "sqlite_errorcode", None), getattr(error, "sqlstate", None)
    return (code is not None and code & 0xFF in _SQLITE_BROKEN) or state in _POSTGRES_UNFIT


def locked(error: BaseException | None) -> bool:
    """True for a driver's error that says: another transaction is in the way."""
    code = getattr(error, "sqlite_errorcode", None)
    # The low byte is the kind; the rest says more about it (SQLITE_BUSY_SNAPSHOT and the like).
    return (code is not None and code & 0xFF in _SQLITE_LOCKED) or getattr(error, "sqlstate", None) in _POSTGRES_LOCKED


def _patient(url: URL) -> URL:
    """The URL with a limit to how long a server may take to answer at all, where it names none."""
    limit = {"connect_timeout": str(CONNECT_TIMEOUT)}
    return url if "connect_timeout" in url.query else url.update_query_dict(limit)


def _set_up_sqlite(engine: Engine, timeout_ms: int, foreign_keys: bool) -> None:
    @event.listens_for(engine, "connect")
    def connected(connection: Any, record: Any) -> None:
        connection.isolation_level = None  # transactions are begun below, not by the driver
        connection.execute(f"PRAGMA busy_timeout = {timeout_ms}")
        _to_wal(connection, timeout_ms / 1000)
        for setting in ("synchronous = FULL", f"foreign_keys = {'ON' if foreign_keys else 'OFF'}"):
            connection.execute(f"PRAGMA {setting}")
        record.info["file"] = _identity(engine.url)

    @event.listens_for(engine, "checkout")
    def taken(connection: Any, record: Any, proxy: Any) -> None:
        # The system keeps a file that was removed for whoever has it open: what is written there is lost.
        if record.info["file"] != _identity(engine.url):
            raise DisconnectionError("The file of the record is another one now.")

    @event.listens_for(engine, "begin")
    def begun(connection: Connection) -> None:
        writes = connection.get_execution_options().get(WRITES)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _to_wal(connection: Any, seconds: float) -> None:
    """Turn the write-ahead log on.

    A file that is new, opened by several at once, is locked to all but one of them, and SQLite does not wait then.
    """
    until = monotonic() + seconds
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if not locked(error) or monotonic() > until:
                raise
        sleep(0.01)


def _identity(url: URL) -> tuple[int, int] | None:
    """Which file stands at the URL's path now."""
    try:
        found = os.stat(str(url.database))
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _set_up_postgres(engine: Engine, timeout_ms: int) -> None:
    @event.listens_for(engine, "connect")
    def connected(connection: Any, record: Any) -> None:
        connection.execute(f"SET lock_timeout = {timeout_ms}")
        connection.commit()
