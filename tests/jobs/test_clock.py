"""A worker whose clock is wrong by hours: on PostgreSQL the record's own clock decides.

SQLite is one machine with one clock.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

import service
from service.config import Config
from service.jobs import chunks, jobs
from service.jobs.batching import own_rules
from service.jobs.local import Keeper
from service.store import clock

LEASE = timedelta(seconds=60)


class Ahead(datetime):
    """A machine's clock that is some hours ahead."""

    @classmethod
    def now(cls, tz=None):
        return datetime.now(tz) + timedelta(hours=5)


class Behind(datetime):
    """A machine's clock that is some hours behind."""

    @classmethod
    def now(cls, tz=None):
        return datetime.now(tz) - timedelta(hours=5)


@pytest.fixture(params=[Ahead, Behind])
def wrong_clock(request, monkeypatch):
    for module in (clock, chunks, jobs):
        monkeypatch.setattr(module, "datetime", request.param)


@pytest.mark.parametrize("backend", ["sqlite", "postgresql"], indirect=True)
def test_the_moment_is_now(store):
    with store.read() as session:
        told = clock.moment(session)
    assert abs(told - datetime.now(UTC)) < timedelta(minutes=5)
    assert told.utcoffset() == timedelta(0)


@pytest.mark.parametrize("backend", ["postgresql"], indirect=True)
def test_a_wrong_clock_takes_no_chunk_that_is_held_and_holds_none_too_long(
    crew, begun, over, job_of, store, wrong_clock
):
    job_id = begun([1, 1])
    with store.write() as session:
        now = clock.moment(session)
        held = chunks.claim(session, chunks.Worker("right", own_rules(), ("trial",)), now=now, lease=LEASE)
    other = begun([1, 1])
    wrong = crew(lease=LEASE.total_seconds())
    assert over(other).state == "done"
    assert job_of(job_id).answered == 1
    wrong.stop(grace=30)
    with store.write() as session:
        now = clock.moment(session)
        assert chunks.renew(session, held, now=now, lease=LEASE), "nobody took it"
        # What a worker with a wrong clock gives back can be had at once.
        assert chunks.give_back(session, held, now=now, fault=False)
        assert chunks.due(session, chunks.Worker("right", own_rules(), ("trial",)), now=now, lease=LEASE)


@pytest.mark.parametrize("backend", ["postgresql"], indirect=True)
def test_a_wrong_clock_forgets_no_results_too_early(crew, begun, over, store, wrong_clock):
    job_id = begun([1])
    made = crew()
    finished = over(job_id).finished_at
    assert abs(finished - datetime.now(UTC)) < timedelta(minutes=5)
    with store.write() as session:
        now = clock.moment(session)
    assert jobs.purge_all(store, timedelta(hours=1), now=now) == 0
    Keeper(made, Config(results_kept_days=1), None).look()
    assert over(job_id).state == "done"


def test_nothing_about_jobs_asks_this_machines_clock():
    package = Path(service.__file__).parent
    modules = [*package.glob("jobs/*.py"), package / "resources" / "jobs.py"]
    assert len(modules) > 5
    assert [module.name for module in modules if "datetime.now(" in module.read_text()] == []
