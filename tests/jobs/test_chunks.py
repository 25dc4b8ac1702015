"""Who gets a chunk, who may finish it, and what becomes of it otherwise: on both databases."""

import threading
from collections import Counter
from datetime import timedelta

import pytest
from sqlalchemy import select
from trial_kinds import NOW

from service.jobs import chunks, jobs
from service.jobs.packing import pack, pack_lines, unpack
from service.store.errors import NotFound
from service.store.jobtables import Chunk, Job
from service.store.session import Store

LEASE = timedelta(seconds=60)
LATER = NOW + 2 * LEASE


def worker(name="a", rules="2026"):
    return chunks.Worker(name, rules, ("trial",))


def claim(store, who="a", now=NOW, rules="2026"):
    with store.write() as session:
        return chunks.claim(session, worker(who, rules), now=now, lease=LEASE)


def finish(store, held, now=NOW, failed=0):
    lines = [b'{"line":%d}' % (held.first + place + 1) for place in range(held.gardens)]
    with store.write() as session:
        return chunks.finish(session, held, pack_lines(lines), failed, now=now)


def rows(store, job_id):
    with store.read() as session:
        wanted = select(Chunk).where(Chunk.job_id == job_id).order_by(Chunk.first)
        return session.scalars(wanted).all()


def test_a_job_goes_from_begun_to_done(store, begun, job_of, lines_of, club):
    job_id = begun([2, 1])
    assert jobs.state(job_of(job_id)) == "waiting"
    with store.read() as session:
        assert chunks.due(session, worker(), now=NOW, lease=LEASE)
    first, second = claim(store), claim(store)
    assert (first.first, first.gardens, first.tries, first.faults) == (0, 2, 1, 0)
    assert [garden["line"] for garden in unpack(second.work)] == [3]
    assert claim(store) is None
    assert jobs.state(job_of(job_id)) == "running"
    with store.read() as session:
        assert not chunks.due(session, worker(), now=NOW, lease=LEASE)
    assert finish(store, second, failed=1)
    job = job_of(job_id)
    assert (job.state, job.answered, job.failed, job.finished_at) == ("open", 1, 1, None)
    assert finish(store, first, now=LATER)
    job = job_of(job_id)
    assert (job.state, job.answered, job.failed, job.finished_at) == ("done", 3, 1, LATER)
    assert [line["line"] for line in lines_of(job_id)] == [1, 2, 3]
    assert [(row.work, row.lease_until) for row in rows(store, job_id)] == [(None, None)] * 2


def test_small_jobs_do_not_wait_for_large_ones(store, begun):
    large, small = begun([5] * 4), begun([1])
    taken = [claim(store).job_id for _ in range(3)]
    assert taken == [large, small, large]


def test_each_chunk_is_claimed_once_by_many_at_a_time(store, begun):
    job_id = begun([1] * 60)
    url = store.url.render_as_string(hide_password=False)
    taken, faults = [], []

    def take(who):
        own = Store(url, lock_timeout=20)
        try:
            while (held := claim(own, who)) is not None:
                taken.append((held.first, who))
        except Exception as error:
            faults.append(error)
        finally:
            own.close()

    threads = [threading.Thread(target=take, args=(f"w{number}",)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert faults == []
    # On PostgreSQL one that found every free row locked may end early; none is claimed twice.
    while (held := claim(store, "rest")) is not None:
        taken.append((held.first, "rest"))
    assert Counter(first for first, _ in taken) == dict.fromkeys(range(60), 1)
    assert {(row.first, row.worker, row.tries) for row in rows(store, job_id)} == {(*one, 1) for one in taken}


def test_a_chunk_is_taken_over_when_its_lease_is_over_and_the_loser_cannot_finish_it(store, begun, job_of, lines_of):
    job_id = begun([1])
    slow = claim(store, "slow")
    assert claim(store, "early", now=NOW + LEASE - timedelta(seconds=1)) is None
    quick = claim(store, "quick", now=LATER)
    assert (quick.tries, quick.faults) == (2, 1)
    with store.write() as session:
        assert not chunks.renew(session, slow, now=LATER, lease=LEASE)
        assert not chunks.give_back(session, slow, now=LATER, fault=True)
    assert not finish(store, slow, now=LATER)
    assert not split(store, slow)
    assert job_of(job_id).answered == 0
    assert finish(store, quick, now=LATER)
    assert not finish(store, quick, now=LATER), "an answer counts once"
    assert job_of(job_id).answered == 1
    assert len(lines_of(job_id)) == 1


def test_a_lease_can_be_renewed(store, begun):
    begun([1])
    held = claim(store)
    with store.write() as session:
        assert chunks.renew(session, held, now=NOW + LEASE, lease=LEASE)
    assert claim(store, now=NOW + LEASE + timedelta(seconds=1)) is None
    assert finish(store, held)


@pytest.mark.parametrize("fault", [False, True])
def test_a_chunk_that_is_given_back_is_free_at_once(store, begun, fault):
    begun([1])
    with store.write() as session:
        held = chunks.claim(session, worker(), now=NOW, lease=LEASE)
        assert chunks.give_back(session, held, now=NOW, fault=fault)
    again = claim(store)
    assert (again.tries, again.faults) == (2, int(fault))


def split(store, held):
    works = [pack([garden]) for garden in unpack(held.work)]
    with store.write() as session:
        return chunks.split(session, held, works, now=NOW)


def test_a_chunk_is_split_into_its_gardens(store, begun, job_of, lines_of):
    job_id = begun([1, 3, 1])
    first, second, third = claim(store), claim(store), claim(store)
    assert split(store, second)
    assert not finish(store, second)
    assert [(row.first, row.gardens, row.state) for row in rows(store, job_id)] == [
        (0, 1, "running"), (1, 1, "waiting"), (2, 1, "waiting"), (3, 1, "waiting"), (4, 1, "running"),
    ]  # fmt: skip
    for held in (third, first):
        assert finish(store, held)
    while (held := claim(store)) is not None:
        assert finish(store, held)
    assert job_of(job_id).state == "done"
    assert [line["line"] for line in lines_of(job_id)] == [1, 2, 3, 4, 5]


def test_a_cancelled_job_keeps_what_is_answered_and_is_worked_on_no_more(store, begun, job_of, lines_of, club):
    job_id = begun([1, 1, 1])
    done, held = claim(store), claim(store)
    assert finish(store, done)
    with store.write() as session:
        job = jobs.cancel(session, job_id, club, now=NOW)
        assert (job.state, job.finished_at, job.answered) == ("cancelled", NOW, 1)
    with store.write() as session:
        assert not chunks.renew(session, held, now=NOW, lease=LEASE)
    assert not finish(store, held)
    assert not split(store, held)
    assert claim(store, now=LATER) is None
    assert [line["line"] for line in lines_of(job_id)] == [1]
    with store.write() as session:
        assert jobs.cancel(session, job_id, club, now=LATER).finished_at == NOW, "again is no fault"


def test_a_job_that_is_done_is_not_cancelled_any_more(store, begun, club):
    job_id = begun([1])
    finish(store, claim(store))
    with store.write() as session:
        assert jobs.cancel(session, job_id, club, now=LATER).state == "done"


def test_cancelling_and_splitting_at_once_leaves_nothing_open(store, begun, club):
    job_ids = [begun([4]) for _ in range(10)]
    held = [claim(store) for _ in job_ids]
    faults = []

    def attempt(work):
        try:
            work()
        except Exception as error:
            faults.append(error)

    def cancel_all():
        for job_id in job_ids:
            with store.write() as session:
                jobs.cancel(session, job_id, club, now=NOW)

    threads = [threading.Thread(target=attempt, args=(work,)) for work in
               (cancel_all, lambda: [split(store, one) for one in reversed(held)])]  # fmt: skip
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert faults == []
    assert claim(store, now=LATER) is None
    assert {row.state for job_id in job_ids for row in rows(store, job_id)} == {"cancelled"}


def test_another_club_finds_no_job(store, begun):
    job_id = begun([1])
    with store.write() as session:
        with pytest.raises(NotFound):
            jobs.find(session, job_id, "other")
        with pytest.raises(NotFound):
            jobs.cancel(session, job_id, "other", now=NOW)
    assert claim(store).job_id == job_id


def test_what_is_over_for_long_enough_is_forgotten(store, begun, job_of, lines_of):
    kept = timedelta(days=30)
    old = [begun([1, 1]) for _ in range(jobs.PURGED_AT_ONCE + 1)]
    while (held := claim(store)) is not None:
        finish(store, held)
    unfinished, fresh = begun([1]), begun([1])
    claim(store)
    finish(store, claim(store), now=NOW + timedelta(days=1))
    assert jobs.purge_all(store, kept, now=NOW + kept - timedelta(seconds=1)) == 0
    assert jobs.purge_all(store, kept, now=NOW + kept) == len(old)
    with store.read() as session:
        assert set(session.scalars(select(Job.id))) == {unfinished, fresh}
        assert set(session.scalars(select(Chunk.job_id))) == {unfinished, fresh}
    assert lines_of(old[0]) == []
    assert lines_of(fresh) == [{"line": 1}]
