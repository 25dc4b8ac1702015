"""Crews at work in this process: every garden gets its line, whatever befalls those who work on it."""

import time

import pytest
from sqlalchemy import select, update
from sqlalchemy.exc import OperationalError
from trial_kinds import NOW

from service.jobs import chunks, jobs
from service.jobs.slot import FAULT
from service.store.errors import Unavailable
from service.store.jobtables import Chunk, Job

pytestmark = pytest.mark.parametrize("backend", ["sqlite"], indirect=True)


def test_every_garden_is_answered_in_order(crew, begun, over, lines_of):
    one, other = begun([3, 3, 2], shared={"times": 10}), begun([2], shared={"times": 100})
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
    job_id = begun([1, 1, 1], {2: {"seconds": 60}}, kind="patient")
    crew(lease=1.0)
    while len(lines_of(job_id)) < 1:
        time.sleep(0.02)
    begin = time.monotonic()
    with store.write() as session:
        jobs.cancel(session, job_id, club, now=NOW)
    # The process is free for others well before the garden would be done.
    assert over(begun([1])).answered == 1
    assert time.monotonic() - begin < 20
    assert [line["line"] for line in lines_of(job_id)] == [1]


def test_who_is_told_to_stop_finishes_or_gives_back(crew, begun, over, lines_of, tmp_path):
    gate = tmp_path / "open"
    quick = begun([1], {1: {"seconds": 0.1}}, kind="patient")
    slow = begun([1], {1: {"until": str(gate)}}, kind="patient")
    first = crew(processes=2)
    while not lines_of(quick):
        time.sleep(0.02)
    assert first.well(60)
    first.stop(grace=0.1)
    assert not first.well(60)
    assert lines_of(slow) == []
    gate.touch()
    finishing = begun([1], {1: {"seconds": 0.5}}, kind="patient")
    second = crew(processes=2)
    job = over(slow)
    assert (job.answered, job.failed) == (1, 0)
    second.stop(grace=30)
    assert len(lines_of(finishing)) == len(lines_of(slow)) == 1


def test_a_kind_that_this_version_does_not_know_is_left_to_others(crew, begun, over, store, job_of, caplog):
    job_id = begun([1])
    with store.write() as session:
        session.execute(update(Job).values(kind="later"))
    crew()
    while "later" not in caplog.text:
        time.sleep(0.02)
    with store.write() as session:
        session.execute(update(Job).values(kind="trial"))
    assert over(job_id).failed == 0


def test_an_answer_that_cannot_be_written_is_nobodys_fault(crew, begun, over, store, monkeypatch, caplog):
    job_id = begun([2])
    finish, refused = chunks.finish, []

    def full(*arguments, **options):
        if time.monotonic() < until:
            refused.append(arguments)
            raise Unavailable from OperationalError("", {}, Exception("database or disk is full"))
        return finish(*arguments, **options)

    monkeypatch.setattr(chunks, "finish", full)
    until = time.monotonic() + 1
    crew(lease=0.4)
    assert over(job_id).failed == 0
    assert refused
    assert "disk is full" in caplog.text
    with store.read() as session:
        tries, faults = session.execute(select(Chunk.tries, Chunk.faults)).one()
    assert (tries > 1, faults) == (True, 0)


def test_a_record_that_is_busy_is_waited_for(crew, begun, over, store):
    job_id = begun([1] * 3, {line: {"seconds": 0.1} for line in (1, 2, 3)})
    store.lock_timeout = 0.05
    store.close()
    crew()
    for _ in range(3):
        with store.write():
            time.sleep(0.3)
        time.sleep(0.1)
    assert over(job_id).answered == 3
