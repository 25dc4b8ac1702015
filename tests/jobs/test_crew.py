"""Crews at work in this process: every garden gets its line, whatever befalls those who work on it."""

import time

import pytest
from processes import until
from sqlalchemy import select, update
from sqlalchemy.exc import OperationalError
from trial_kinds import NOW

from service.jobs import chunks, jobs
from service.jobs.slot import FAULT
from service.store.errors import Unavailable
from service.store.jobtables import Chunk, Job
from service.store.session import Store

pytestmark = pytest.mark.parametrize("backend", ["sqlite"], indirect=True)


def test_every_garden_is_answered_in_order(crew, begun, over, lines_of):
    one = begun([3, 3, 2], shared={"times": 10}, kind="patient")
    other = begun([2], shared={"times": 100}, kind="patient")
    crew(processes=2)
    assert (over(one).answered, over(other).answered) == (8, 2)
    assert [line["times"] for line in lines_of(one)] == [10, 20, 30, 40, 50, 60, 70, 80]
    assert [line["times"] for line in lines_of(other)] == [100, 200]


def test_a_garden_that_kills_hangs_or_fails_ends_as_a_failed_line_and_the_others_are_answered(
    crew, begun, over, lines_of
):
    befalls = {2: {"befalls": "death"}, 5: {"befalls": "fault"}, 8: {"befalls": "endless"}}
    job_id = begun([3, 3, 3], befalls)
    crew(processes=2)
    job = over(job_id)
    assert (job.state, job.answered, job.failed) == ("done", 9, 3)
    lines = lines_of(job_id)
    assert [line["line"] for line in lines] == list(range(1, 10))
    assert {line["line"]: line["detail"] for line in lines if line["type"] == "error"} == dict.fromkeys(befalls, FAULT)


def test_a_job_cancelled_while_it_runs_is_left_at_once(crew, begun, over, store, club, lines_of):
    job_id = begun([1, 1, 1], {2: {"until": "/never"}}, kind="patient")
    crew(lease=1.0)
    until(lambda: lines_of(job_id))
    with store.write() as session:
        jobs.cancel(session, job_id, club, now=NOW)
    # The process is free for others, though the garden would never be done.
    assert over(begun([1], kind="patient")).answered == 1
    assert [line["line"] for line in lines_of(job_id)] == [1]


def at_work(store, job_id):
    """True while somebody holds the only chunk of a job."""
    with store.read() as session:
        return session.scalar(select(Chunk.state).where(Chunk.job_id == job_id)) == "running"


def test_who_is_told_to_stop_finishes_or_gives_back(crew, begun, over, lines_of, store, tmp_path):
    gate = tmp_path / "open"
    quick = begun([1], {1: {"seconds": 0.1}}, kind="patient")
    slow = begun([1], {1: {"until": str(gate)}}, kind="patient")
    first = crew(processes=2)
    until(lambda: lines_of(quick) and at_work(store, slow))
    assert first.well(600)
    first.stop(grace=0.1)
    assert not first.well(600)
    assert lines_of(slow) == []
    gate.touch()
    finishing = begun([1], {1: {"seconds": 0.5}}, kind="patient")
    second = crew(processes=2)
    job = over(slow)
    assert (job.answered, job.failed) == (1, 0)
    until(lambda: lines_of(finishing) or at_work(store, finishing))
    second.stop(grace=180)
    assert len(lines_of(finishing)) == len(lines_of(slow)) == 1


def test_a_kind_that_this_version_does_not_know_is_left_to_others_and_holds_nobody_up(crew, begun, over, store, job_of):
    job_id = begun([1], kind="later")
    crew()
    assert over(begun([1, 1], kind="patient")).failed == 0
    assert (job_of(job_id).answered, job_of(job_id).rules) == (0, None)
    with store.write() as session:
        session.execute(update(Job).where(Job.id == job_id).values(kind="patient"))
    assert over(job_id).failed == 0


def test_an_answer_that_cannot_be_written_is_nobodys_fault(crew, begun, over, store, monkeypatch, caplog):
    job_id = begun([2], kind="patient")
    finish, give_back, refused, returned = chunks.finish, chunks.give_back, [], []

    def full(*arguments, **options):
        if not returned:
            refused.append(arguments)
            raise Unavailable from OperationalError("", {}, Exception("database or disk is full"))
        return finish(*arguments, **options)

    def smaller(*arguments, **options):
        returned.append(arguments)
        return give_back(*arguments, **options)

    monkeypatch.setattr(chunks, "finish", full)
    monkeypatch.setattr(chunks, "give_back", smaller)
    crew(lease=1.0)
    assert over(job_id).failed == 0
    assert refused
    assert "disk is full" in caplog.text
    with store.read() as session:
        tries, faults = session.execute(select(Chunk.tries, Chunk.faults)).one()
    assert (tries > 1, faults) == (True, 0)


def test_a_record_that_is_busy_is_waited_for(crew, begun, over, store):
    job_id = begun([1] * 3, {line: {"seconds": 0.1} for line in (1, 2, 3)}, kind="patient")
    patient = Store(store.url.render_as_string(), lock_timeout=180)
    store.lock_timeout = 0.05
    store.close()
    crew()
    for _ in range(3):
        with patient.write() as session:
            session.connection()  # the lock is taken with the first word
            time.sleep(0.3)
        time.sleep(0.1)
    patient.close()
    assert over(job_id).answered == 3
