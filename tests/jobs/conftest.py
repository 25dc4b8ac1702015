"""A club to work for, jobs of the trial kind, and crews in this process."""

from __future__ import annotations

import json
import time

import pytest
from trial_kinds import NOW, known

from service.jobs.crew import Crew, Pace
from service.jobs.jobs import Packed, begin, find, results
from service.jobs.packing import pack
from service.store.repository import Repository


@pytest.fixture
def club(store):
    with store.write() as session:
        return Repository(session).add_club("Tannery Row", now=NOW).id


@pytest.fixture
def begun(store, club):
    """``begun([3, 3], {4: {"befalls": "death"}})``: a job of two chunks of three gardens; lines count from 1."""

    def begin_job(sizes, befalls=None, shared=None, kind="trial"):
        gardens = [{"line": line, **(befalls or {}).get(line, {})} for line in range(1, sum(sizes) + 1)]
        packed, first = [], 0
        for size in sizes:
            packed.append(Packed(size, pack(gardens[first : first + size])))
            first += size
        with store.write() as session:
            return begin(session, kind, pack(shared or {}), packed, club_id=club, now=NOW).id

    return begin_job


@pytest.fixture
def job_of(store, club):
    def look(job_id):
        with store.read() as session:
            return find(session, job_id, club)

    return look


@pytest.fixture
def lines_of(store):
    def read(job_id):
        return [json.loads(line) for part in results(store, job_id) for line in part.splitlines()]

    return read


@pytest.fixture
def crew(store):
    """``crew(processes)``: hands at work in this process, stopped at the end."""
    known()
    crews = []

    def start(processes=1, lease=30.0):
        made = Crew(store, processes, Pace(lease=lease, poll=0.05))
        made.start()
        crews.append(made)
        return made

    yield start
    for made in crews:
        made.stop(grace=0)


@pytest.fixture
def over(job_of):
    """Wait until a job is over, and return it."""

    def wait(job_id, seconds=30):
        until = time.monotonic() + seconds
        while (job := job_of(job_id)).state == "open":
            assert time.monotonic() < until, f"{job.answered} of {job.gardens} after {seconds} s"
            time.sleep(0.02)
        return job

    return wait
