"""Who works on which chunk: claimed, renewed, finished, given back or cut up.

Everything here runs inside a transaction that the caller opened (``Store``).  A claim is one
statement, so that of any number of workers one gets a chunk.  What a worker does with its claim
afterwards holds only while the row still has its number of tries: a worker whose lease ran out
and whose chunk somebody else took cannot finish it.  Moments come in with the call, by the record's
own clock (``service.store.clock``).

All answers of a job are by one rule set, that of the worker which began it.  A worker with another
leaves the job alone while somebody holds a chunk of it; then nobody with its rules may be left, and
the job is begun again.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, and_, case, delete, func, insert, or_, select, update
from sqlalchemy.orm import Session, aliased

from service.store.jobtables import ANY_RULES, Chunk, Job

_DIRECT = {"synchronize_session": False}


class Worker(NamedTuple):
    """Who claims: a name for people, the rule set it works by, and the kinds of job that it knows."""

    name: str
    rules: str
    kinds: tuple[str, ...]


class Claim(NamedTuple):
    """A chunk in somebody's hands: its row, the number of the try, and what is to be done by which rules."""

    chunk_id: int
    tries: int
    faults: int
    job_id: str
    first: int
    gardens: int
    work: bytes
    kind: str
    shared: bytes
    rules: str


def due(session: Session, worker: Worker, *, now: datetime, lease: timedelta) -> bool:
    """True where there is a chunk to claim; it reads only, so that an idle worker locks nothing."""
    return _next(session, worker, now, lease) is not None


def claim(session: Session, worker: Worker, *, now: datetime, lease: timedelta) -> Claim | None:
    """Take the next chunk that waits or whose lease ran out, or None.

    The first chunks of all jobs come before their second ones: a job of ten gardens does not wait
    for one of ten thousand.
    """
    job = _next(session, worker, now, lease)
    if job is None:
        return None
    if job.rules not in (worker.rules, ANY_RULES):
        _take_up(session, job.id, job.rules, worker.rules, now)
    following = (
        select(Chunk.id)
        .join(Job)
        .where(Chunk.lease_until <= now, Job.kind.in_(worker.kinds), Job.rules.in_((worker.rules, ANY_RULES)))
        .order_by(Chunk.first, Chunk.id)
        .limit(1)
        # SQLite has one writer at a time and leaves it out
        .with_for_update(of=Chunk, skip_locked=True)
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
            worker=worker.name,
        )
        .returning(Chunk.id, Chunk.tries, Chunk.faults, Chunk.job_id, Chunk.first, Chunk.gardens, Chunk.work)
    )
    row = session.execute(taken, execution_options=_DIRECT).one_or_none()
    if row is None:
        return None
    job = session.execute(select(Job.kind, Job.shared, Job.rules).where(Job.id == row.job_id)).one()
    return Claim(*row, *job)


def _next(session: Session, worker: Worker, now: datetime, lease: timedelta) -> Any:
    """Id and rules of the job whose chunk comes next for a worker, or None."""
    other = aliased(Chunk)
    held = select(other.id).where(other.job_id == Job.id, other.state == "running", other.lease_until > now).exists()
    # While two rule sets are at work, as in the minutes of a renewal, a job changes hands once a lease at most.
    forsaken = and_(Job.ruled_at <= now - lease, ~held)
    ours = or_(Job.rules.in_((worker.rules, ANY_RULES)), Job.rules.is_(None), forsaken)
    free = select(Job.id, Job.rules).join(Chunk, Chunk.job_id == Job.id)
    free = free.where(Chunk.lease_until <= now, Job.kind.in_(worker.kinds), ours)
    return session.execute(free.order_by(Chunk.first, Chunk.id).limit(1)).one_or_none()


def _take_up(session: Session, job_id: str, before: str | None, rules: str, now: datetime) -> None:
    """Have a job worked on by these rules; what was answered by others is worked on again."""
    lock_job(session, job_id)
    as_seen = and_(Job.id == job_id, Job.rules.is_not_distinct_from(before), Job.state == "open")
    begun: dict[str, Any] = {"rules": rules, "ruled_at": now}
    if before is not None:
        every = select(func.count()).where(Chunk.job_id == job_id).scalar_subquery()
        begun |= {"restarts": Job.restarts + 1, "answered": 0, "failed": 0, "open_chunks": every}
    taken = session.execute(update(Job).where(as_seen).values(begun), execution_options=_DIRECT)
    if before is not None and taken.rowcount == 1:  # type: ignore[attr-defined]
        again = {"state": "waiting", "lease_until": now, "faults": 0, "worker": None, "result": None}
        anew = update(Chunk).where(Chunk.job_id == job_id).values(again | {"tries": Chunk.tries + 1})
        session.execute(anew, execution_options=_DIRECT)


def renew(session: Session, held: Claim, *, now: datetime, lease: timedelta) -> bool:
    """Hold a chunk for longer; False when it is no longer ours (cancelled, or taken over)."""
    return _change(session, held, lease_until=now + lease)


def give_back(session: Session, held: Claim, *, now: datetime, fault: bool) -> bool:
    """Let others have a chunk; with ``fault`` it counts as one that a process died of."""
    return _change(session, held, state="waiting", lease_until=now, worker=None, faults=held.faults + fault)


def finish(session: Session, held: Claim, result: bytes, failed: int, *, now: datetime) -> bool:
    """Write down the answer of a chunk, and with the last one the end of its job; False when it is not ours."""
    if lock_job(session, held.job_id) != held.rules:  # begun again in the moment in which this chunk was claimed
        return False
    if not _change(session, held, state="done", lease_until=None, worker=None, result=result):
        return False
    last = Job.open_chunks == 1
    counted = (
        update(Job)
        .where(Job.id == held.job_id)
        .values(
            answered=Job.answered + held.gardens,
            failed=Job.failed + failed,
            open_chunks=Job.open_chunks - 1,
            state=case((last, "done"), else_=Job.state),
            finished_at=case((last, now), else_=Job.finished_at),
        )
        .returning(Job.state)
    )
    if session.execute(counted, execution_options=_DIRECT).scalar_one() == "done":
        drop_work(session, held.job_id)
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


def lock_job(session: Session, job_id: str) -> str | None:
    """Hold off others who change a job: whoever changes chunks and their job together begins with it.

    Returns the job's rules.
    """
    return session.scalar(select(Job.rules).where(Job.id == job_id).with_for_update())


def drop_work(session: Session, job_id: str) -> None:
    """Forget the gardens of a job that is over; its answers stay."""
    session.execute(update(Chunk).where(Chunk.job_id == job_id).values(work=None), execution_options=_DIRECT)


def _ours(held: Claim) -> ColumnElement[bool]:
    return and_(Chunk.id == held.chunk_id, Chunk.tries == held.tries, Chunk.state == "running")


def _change(session: Session, held: Claim, **values: Any) -> bool:
    changed = session.execute(update(Chunk).where(_ours(held)).values(**values), execution_options=_DIRECT)
    return bool(changed.rowcount == 1)  # type: ignore[attr-defined]
