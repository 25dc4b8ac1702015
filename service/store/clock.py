"""The moment by the record's own clock, which all who share the record go by."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import DateTime, func, select
from sqlalchemy.orm import Session


def moment(session: Session) -> datetime:
    """Now, in UTC: on PostgreSQL by the server's clock, on SQLite (one machine) by this machine's.

    It is the moment of the call, not that at which the transaction began: a writer may have waited for a lock.
    """
    if session.get_bind().dialect.name == "sqlite":
        return datetime.now(UTC)
    told = session.execute(select(func.clock_timestamp(type_=DateTime(timezone=True)))).scalar_one()
    return told.astimezone(UTC)
