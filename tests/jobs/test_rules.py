"""All answers of a job are by one rule set: who may work on it, and when it is begun again."""

from datetime import timedelta

import pytest
from sqlalchemy import select, update
from trial_kinds import NOW

from service.jobs import chunks, jobs
from service.jobs.batching import own_rules
from service.jobs.packing import pack_lines, unpack
from service.store.jobtables import ANY_RULES, Chunk, Job

LEASE = timedelta(seconds=60)
LATER = NOW + LEASE


def worker(rules):
    return chunks.Worker(f"with {rules}", rules, ("trial",))


def claim(store, rules, now=NOW):
    with store.write() as session:
        return chunks.claim(session, worker(rules), now=now, lease=LEASE)


def finish(store, held, now=NOW, failed=0):
    lines = [b'{"line":%d,"rules":"%s"}' % (garden["line"], held.rules.encode()) for garden in unpack(held.work)]
    with store.write() as session:
        return chunks.finish(session, held, pack_lines(lines), failed, now=now)


def test_a_job_is_worked_on_by_the_rules_that_began_it(store, begun, job_of):
    job_id = begun([1, 1, 1])
    first = claim(store, "old")
    assert (job_of(job_id).rules, job_of(job_id).ruled_at) == ("old", NOW)
    with store.read() as session:
        assert not chunks.due(session, worker("new"), now=NOW, lease=LEASE)
    assert claim(store, "new") is None
    other = begun([1])
    assert claim(store, "new").job_id == other, "it holds nobody up"
    assert claim(store, "old").job_id == job_id
    assert finish(store, first)
    assert job_of(job_id).restarts == 0


def test_a_job_whose_rules_nobody_has_any_more_is_begun_again(store, begun, job_of, lines_of):
    job_id = begun([2, 1])
    assert finish(store, claim(store, "old"), failed=1)
    assert finish(store, claim(store, "new", LATER), now=LATER)
    job = job_of(job_id)
    assert (job.rules, job.ruled_at, job.restarts) == ("new", LATER, 1)
    assert (job.state, job.answered, job.failed) == ("open", 2, 0)
    assert finish(store, claim(store, "new", LATER), now=LATER)
    assert (job_of(job_id).state, job_of(job_id).answered) == ("done", 3)
    assert lines_of(job_id) == [{"line": line, "rules": "new"} for line in (1, 2, 3)]


def test_a_job_is_left_to_those_who_hold_a_chunk_of_it_and_to_those_who_just_began(store, begun):
    begun([1, 1])
    held = claim(store, "old")
    assert claim(store, "new", NOW + timedelta(seconds=59)) is None, "it was begun a moment ago"
    with store.write() as session:
        assert chunks.renew(session, held, now=LATER, lease=LEASE)
    assert claim(store, "new", LATER) is None, "somebody is at work"
    assert claim(store, "new", LATER + LEASE) is not None


def test_who_lost_a_job_to_other_rules_cannot_finish_its_chunk(store, begun, job_of):
    job_id = begun([1, 1])
    late = claim(store, "old")
    assert claim(store, "new", LATER).faults == 0, "nobody died of it"
    assert not finish(store, late, now=LATER)
    assert job_of(job_id).answered == 0


def test_a_chunk_that_was_claimed_while_its_job_was_begun_again_is_not_finished(store, begun):
    begun([1])
    held = claim(store, "old")
    with store.write() as session:  # as if the claim had seen the job as it was before
        session.execute(update(Job).values(rules="new"))
    assert not finish(store, held)


def test_a_half_done_job_of_before_goes_on_with_any_rules(store, begun, job_of):
    job_id = begun([1, 1])
    with store.write() as session:
        session.execute(update(Job).values(rules=ANY_RULES))
    assert finish(store, claim(store, "old"))
    assert finish(store, claim(store, "new"))
    assert (job_of(job_id).state, job_of(job_id).restarts) == ("done", 0)


def test_gardens_are_kept_until_their_job_is_over(store, begun, club):
    def kept(job_id):
        with store.read() as session:
            return session.scalars(select(Chunk.work.is_not(None)).where(Chunk.job_id == job_id)).all()

    job_id = begun([1, 1])
    finish(store, claim(store, "old"))
    assert kept(job_id) == [True, True]
    finish(store, claim(store, "old"))
    assert kept(job_id) == [False, False]
    cancelled = begun([1, 1])
    finish(store, claim(store, "old"))
    with store.write() as session:
        jobs.cancel(session, cancelled, club, now=NOW)
    assert kept(cancelled) == [False, False]


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)
def test_crews_say_by_which_rules_they_work(crew, begun, over):
    job_id = begun([1, 1])
    crew()
    assert over(job_id).rules == own_rules()
