"""A write that may be sent twice and happens once (Idempotency-Key)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlalchemy import delete, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.store.errors import KeyReused
from service.store.session import Store
from service.store.tables import Answered

KEPT = timedelta(hours=24)


class Answer(NamedTuple):
    """What a write answered: status, headers and body."""

    status: int
    body: bytes
    headers: Mapping[str, str] = {}


class Key(NamedTuple):
    """An idempotency key: whose, which, and the hash of the request (method, path and body) that it came with."""

    token_id: str
    key: str
    body_hash: str


def once(
    store: Store,
    key: Key | None,
    work: Callable[[Session], Answer],
    *,
    now: datetime,
    first: Callable[[Session], object] = lambda session: None,
) -> tuple[Answer, bool]:
    """Do a write, or give the answer that it gave before.

    The key's row is written in the write's own transaction: either both stand or neither does.

    Parameters
    ----------
    first
        Begins the transaction, before the key is looked at; what it raises ends it.

    Returns
    -------
    The answer, and True when it is an earlier one.

    Raises
    ------
    KeyReused
        when the key came with another request before.
    Busy
        when the same request is under way for longer than a writer waits.
    """
    if key is None:
        with store.write() as session:
            first(session)
            return work(session), False
    try:
        with store.write() as session:
            first(session)
            forget_expired(session, key.token_id, now=now)
            kept = _kept(session, key)
            if kept is not None:
                return kept, True
            row = Answered(token_id=key.token_id, key=key.key, body_hash=key.body_hash, created_at=now)
            session.add(row)
            session.flush()  # on PostgreSQL a twin waits here until this one has ended
            answer = work(session)
            row.status, row.body, row.headers = answer.status, answer.body, dict(answer.headers)
            return answer, False
    except IntegrityError:
        # The twin got there first; what it answered is known now.
        with store.read() as session:
            kept = _kept(session, key)
        if kept is None:
            raise
        return kept, True


def forget_expired(session: Session, token_id: str | None = None, *, now: datetime) -> None:
    """Drop answers older than a day, of one token or of all."""
    old = delete(Answered).where(Answered.created_at <= now - KEPT)
    session.execute(old if token_id is None else old.where(Answered.token_id == token_id))


def _kept(session: Session, key: Key) -> Answer | None:
    row = session.scalars(
        select(Answered).where(Answered.token_id == key.token_id, Answered.key == key.key)
    ).one_or_none()
    if row is None:
        return None
    if row.body_hash != key.body_hash:
        raise KeyReused
    return Answer(row.status or 0, row.body or b"", row.headers or {})
