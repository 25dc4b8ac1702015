"""Jobs: begun, looked at, cancelled, read out and forgotten.

Except for ``results``, everything runs inside a transaction that the caller opened (``Store``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlalchemy import and_, delete, func, insert, or_, select, update
from sqlalchemy.orm import Session

from service.jobs.chunks import drop_work, lock_job, waiting
from service.jobs.packing import unpack_lines
from service.store.errors import NotFound
from service.store.jobtables import Chunk, Job
from service.store.keys import new_id
from service.store.session import Store
from service.store.tables import Club

_DIRECT = {"synchronize_session": False}
#: Jobs that one transaction forgets: a purge holds other writers up for no longer than that takes.
PURGED_AT_ONCE = 10


class Full(Exception):
    """A club has as many jobs open as it may have."""


class Packed(NamedTuple):
    """The gardens of a chunk to come: how many, and packed."""

    gardens: int
    work: bytes


def begin(
    session: Session,
    kind: str,
    shared: bytes,
    packed: Sequence[Packed],
    *,
    club_id: str,
    token_id: str | None = None,
    now: datetime,
    most_open: int | None = None,
) -> Job:
    """A new job with its chunks, in the order of their gardens; there must be one at least.

    Raises
    ------
    Full
        where the club has ``most_open`` jobs that are not over.
    """
    if most_open is not None:
        session.execute(select(Club.id).where(Club.id == club_id).with_for_update())  # one at a time counts
        still = select(func.count()).where(Job.club_id == club_id, Job.state == "open")
        if session.execute(still).scalar_one() >= most_open:
            raise Full
    job = Job(
        id=new_id(),
        club_id=club_id,
        token_id=token_id,
        kind=kind,
        state="open",
        shared=shared,
        gardens=sum(part.gardens for part in packed),
        answered=0,
        failed=0,
        open_chunks=len(packed),
        created_at=now,
    )
    session.add(job)
    session.flush()
    rows, first = [], 0
    for part in packed:
        rows.append(waiting(job.id, first, part.gardens, part.work, now))
        first += part.gardens
    session.execute(insert(Chunk), rows)
    return job


def find(session: Session, job_id: str, club_id: str) -> Job:
    """A job of a club; ``NotFound``."""
    job = session.scalars(select(Job).where(Job.id == job_id, Job.club_id == club_id)).one_or_none()
    if job is None:
        raise NotFound("job", job_id[:40])
    return job


def page(session: Session, club_id: str, *, after: str | None, most: int) -> list[Job]:
    """Jobs of a club, the newest first, from the one behind ``after`` on; ``NotFound`` where that is none of them."""
    wanted = select(Job).where(Job.club_id == club_id)
    if after is not None:
        last = find(session, after, club_id)
        twin = and_(Job.created_at == last.created_at, Job.id < last.id)
        wanted = wanted.where(or_(Job.created_at < last.created_at, twin))
    return list(session.scalars(wanted.order_by(Job.created_at.desc(), Job.id.desc()).limit(most)))


def state(job: Job) -> str:
    """What a job is doing: ``waiting`` (nobody has begun), ``running``, ``done`` or ``cancelled``."""
    if job.state != "open":
        return job.state
    return "waiting" if job.rules is None else "running"


def cancel(session: Session, job_id: str, club_id: str, *, now: datetime) -> Job:
    """Stop a job; what is answered already stays.  One that is over is left as it is."""
    find(session, job_id, club_id)
    lock_job(session, job_id)
    ended = update(Job).where(Job.id == job_id, Job.state == "open").values(state="cancelled", finished_at=now)
    session.execute(ended, execution_options=_DIRECT)
    rest = update(Chunk).where(Chunk.job_id == job_id, Chunk.lease_until.is_not(None))
    # Workers find out when they next renew their lease.
    dropped = rest.values(state="cancelled", lease_until=None, worker=None)
    session.execute(dropped, execution_options=_DIRECT)
    drop_work(session, job_id)
    session.expire_all()
    return find(session, job_id, club_id)


def results(store: Store, job_id: str) -> Iterator[bytes]:
    """The answered lines of a job as NDJSON, a chunk at a time, in the order of its gardens.

    Each chunk is read by itself: a client that reads slowly holds no transaction open.
    """
    first = -1
    while True:
        following = (
            select(Chunk.first, Chunk.result)
            .where(Chunk.job_id == job_id, Chunk.first > first, Chunk.state == "done")
            .order_by(Chunk.first)
            .limit(1)
        )
        with store.read() as session:
            row = session.execute(following).one_or_none()
        if row is None:
            return
        first = row.first
        yield unpack_lines(row.result)


def purge(session: Session, *, before: datetime) -> int:
    """Forget some of the jobs that were over by then; returns how many, 0 when none is left."""
    old = select(Job.id).where(Job.finished_at <= before).order_by(Job.finished_at).limit(PURGED_AT_ONCE)
    ids = session.scalars(old.with_for_update(skip_locked=True)).all()
    if ids:
        session.execute(delete(Chunk).where(Chunk.job_id.in_(ids)), execution_options=_DIRECT)
        session.execute(delete(Job).where(Job.id.in_(ids)), execution_options=_DIRECT)
    return len(ids)


def purge_all(store: Store, kept: timedelta, *, now: datetime) -> int:
    """Forget all jobs that have been over for as long as results are kept; returns how many."""
    forgotten = 0
    while True:
        with store.write() as session:
            some = purge(session, before=now - kept)
        forgotten += some
        if not some:
            return forgotten
