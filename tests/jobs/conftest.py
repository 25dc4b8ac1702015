"""A club to work for, jobs of the trial kind, crews in this process, and a door to send jobs to."""

from __future__ import annotations

import json
import time

import pytest
from club import make_world
from door import BATCH, SHEET
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

    def wait(job_id, seconds=180):
        until = time.monotonic() + seconds
        while (job := job_of(job_id)).state == "open":
            assert time.monotonic() < until, f"{job.answered} of {job.gardens} after {seconds} s"
            time.sleep(0.02)
        return job

    return wait


@pytest.fixture
def world():
    made = make_world()
    yield made
    made.store.close()


@pytest.fixture
def send(world):
    def post(path=BATCH, body=SHEET, member=None, scope="club_admin", kind="text/csv", **headers):
        headers = (member or world.ours).headers(scope, **{"Content-Type": kind}, **headers)
        return world.client.post(path, data=body, headers=headers)

    return post


@pytest.fixture
def get(world):
    def read(path, member=None, scope="club_admin", method="GET"):
        return world.client.open(path, method=method, headers=(member or world.ours).headers(scope))

    return read


@pytest.fixture
def worked(world, get):
    """Have a job worked through, and read its lines."""

    def work(place):
        crew = Crew(world.store, 1, Pace(poll=0.05))
        crew.start()
        try:
            until = time.monotonic() + 120
            while get(place).json["state"] in ("waiting", "running"):
                assert time.monotonic() < until
                time.sleep(0.05)
        finally:
            crew.stop(0)
        return [json.loads(line) for line in get(f"{place}/results").data.splitlines()]

    return work
