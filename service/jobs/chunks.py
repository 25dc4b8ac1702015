"""Who works on which chunk: claimed, renewed, finished, given back or cut up.

Everything here runs inside a transaction that the caller opened (``Store``).  A claim is one
statement, so that of any number of workers one gets a chunk.  What a worker does with its claim
afterwards holds only while the row still has its number of tries: a worker whose lease ran out
and whose chunk somebody else took cannot finish it.  Moments come in with the call; the clocks of
several machines may differ by less than a lease.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, and_, case, delete, insert, select, update
from sqlalchemy.orm import Session

from service.store.jobtables import Chunk, Job

_DIRECT = {"synchronize_session": False}


class Claim(NamedTuple):
    """A chunk in somebody's hands: its row, the number of the try, and what is to be done."""

    chunk_id: int
    tries: int
    faults: int
    job_id: str
    first: int
    gardens: int
    work: bytes
    kind: str
    shared: bytes


def due(session: Session, *, now: datetime) -> bool:
    """True where there is a chunk to claim; it reads only, so that an idle worker locks nothing."""
    return session.scalar(select(Chunk.id).where(Chunk.lease_until <= now).limit(1)) is not None


def claim(session: Session, worker: str, *, now: datetime, lease: timedelta) -> Claim | None:
    """Take the next chunk that waits or whose lease ran out, or None.

    The first chunks of all jobs come before their second ones: a job of ten gardens does not wait
    for one of ten thousand.
    """
    following = (
        select(Chunk.id)
        .where(Chunk.lease_until <= now)
        .order_by(Chunk.first, Chunk.id)
        .limit(1)
        .with_for_update(skip_locked=True)  # SQLite has one writer at a time and leaves it out
        .scalar_subquery()
    )
    taken = (
        update(Chunk)
        .where(Chunk.id == following)
        .values(
            state="running",
            tries=Chunk.tries + 1,
            # Nobody gave it back: the process that had it is dead, or as good as.
            faults=Chunk.faults + case((Chunk.state == "running", 1), else_=0),
            lease_until=now + lease,
            worker=worker,
        )
        .returning(Chunk.id, Chunk.tries, Chunk.faults, Chunk.job_id, Chunk.first, Chunk.gardens, Chunk.work)
    )
    row = session.execute(taken, execution_options=_DIRECT).one_or_none()
    if row is None:
        return None
    kind, shared = session.execute(select(Job.kind, Job.shared).where(Job.id == row.job_id)).one()
    return Claim(*row, kind, shared)


def renew(session: Session, held: Claim, *, now: datetime, lease: timedelta) -> bool:
    """Hold a chunk for longer; False when it is no longer ours (cancelled, or taken over)."""
    return _change(session, held, lease_until=now + lease)


def give_back(session: Session, held: Claim, *, now: datetime, fault: bool) -> bool:
    """Let others have a chunk; with ``fault`` it counts as one that a process died of."""
    return _change(session, held, state="waiting", lease_until=now, worker=None, faults=held.faults + fault)


def finish(session: Session, held: Claim, result: bytes, failed: int, *, now: datetime) -> bool:
    """Write down the answer of a chunk, and with the last one the end of its job; False when it is not ours."""
    lock_job(session, held.job_id)
    if not _change(session, held, state="done", lease_until=None, worker=None, work=None, result=result):
        return False
    last = Job.open_chunks == 1
    session.execute(
        update(Job)
        .where(Job.id == held.job_id)
        .values(
            answered=Job.answered + held.gardens,
            failed=Job.failed + failed,
            open_chunks=Job.open_chunks - 1,
            state=case((last, "done"), else_=Job.state),
            finished_at=case((last, now), else_=Job.finished_at),
        ),
        execution_options=_DIRECT,
    )
    return True


def split(session: Session, held: Claim, works: Sequence[bytes], *, now: datetime) -> bool:
    """Put one chunk for each of its gardens in place of a chunk; False when it is not ours."""
    lock_job(session, held.job_id)
    gone = session.execute(delete(Chunk).where(_ours(held)), execution_options=_DIRECT)
    if gone.rowcount != 1:  # type: ignore[attr-defined]
        return False
    singles = [
        waiting(held.job_id, held.first + place, 1, work, now) | {"tries": held.tries}
        for place, work in enumerate(works)
    ]
    session.execute(insert(Chunk), singles)
    more = update(Job).where(Job.id == held.job_id).values(open_chunks=Job.open_chunks + len(works) - 1)
    session.execute(more, execution_options=_DIRECT)
    return True


def waiting(job_id: str, first: int, gardens: int, work: bytes, now: datetime) -> dict[str, Any]:
    """The row of a new chunk."""
    row = {"job_id": job_id, "first": first, "gardens": gardens, "work": work}
    return row | {"state": "waiting", "lease_until": now, "tries": 0, "faults": 0}


def lock_job(session: Session, job_id: str) -> None:
    """Hold off others who change a job: whoever changes chunks and their job together begins with it."""
    session.execute(select(Job.id).where(Job.id == job_id).with_for_update())


def _ours(held: Claim) -> ColumnElement[bool]:
    return and_(Chunk.id == held.chunk_id, Chunk.tries == held.tries, Chunk.state == "running")


def _change(session: Session, held: Claim, **values: Any) -> bool:
    changed = session.execute(update(Chunk).where(_ours(held)).values(**values), execution_options=_DIRECT)
    return bool(changed.rowcount == 1)  # type: ignore[attr-defined]
