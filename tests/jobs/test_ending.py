"""A job that is cancelled while its last chunks are being finished: either came first, and the sums agree."""

import threading
from datetime import timedelta

from sqlalchemy import func, select
from trial_kinds import NOW

from service.jobs import chunks, jobs
from service.jobs.packing import pack_lines
from service.store.jobtables import Chunk

LEASE = timedelta(seconds=60)
JOBS = 12


def test_cancelling_and_finishing_at_once_leaves_a_job_whole(store, begun, club, job_of):
    job_ids = [begun([1, 1]) for _ in range(JOBS)]
    held, faults = [], []
    for _ in range(2 * JOBS):
        with store.write() as session:
            held.append(chunks.claim(session, chunks.Worker("a", "2026", ("trial",)), now=NOW, lease=LEASE))
    start = threading.Barrier(2)

    def cancel(job_id):
        with store.write() as session:
            jobs.cancel(session, job_id, club, now=NOW)

    def finish(one):
        with store.write() as session:
            chunks.finish(session, one, pack_lines([b"{}"]), 0, now=NOW)

    def every(work, things):
        start.wait(60)
        try:
            for thing in things:
                work(thing)
        except Exception as error:
            faults.append(error)

    threads = [
        threading.Thread(target=every, args=(cancel, job_ids[::-1])),
        threading.Thread(target=every, args=(finish, held)),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert faults == []
    for job_id in job_ids:
        job = job_of(job_id)
        with store.read() as session:
            of_job = select(func.count()).where(Chunk.job_id == job_id)
            answered = session.scalar(of_job.where(Chunk.state == "done"))
            left = session.scalar(of_job.where(Chunk.work.is_not(None) | Chunk.lease_until.is_not(None)))
        assert (job.answered, left) == (answered, 0)
        assert (job.state, job.finished_at) == ("done" if answered == 2 else "cancelled", NOW)
        cancel(job_id)
        assert (job_of(job_id).state, job_of(job_id).answered) == (job.state, answered)
