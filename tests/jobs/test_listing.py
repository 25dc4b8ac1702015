"""The jobs of a club: listed, and no more of them open than it may have."""

from datetime import UTC, datetime, timedelta
from threading import Barrier, Thread

import pytest
from club import make_world
from door import BATCH, SHEET
from sqlalchemy import func, select, update
from trial_kinds import NOW

from service.jobs import jobs
from service.jobs.packing import pack
from service.store.errors import NotFound
from service.store.jobtables import Job


def test_the_newest_comes_first_page_by_page(send, get):
    sent = [send().json["id"] for _ in range(5)]
    page, found = "/v1/jobs?limit=2", []
    for _ in range(3):
        answer = get(page)
        found += answer.json["items"]
        page = answer.json["next"]
        assert answer.headers.get("Link") == (page and f'<{page}>; rel="next"')
    assert page is None
    assert [job["id"] for job in found] == sent[::-1]
    assert found[0] == get(f"/v1/jobs/{sent[-1]}").json


def test_a_list_that_did_not_change_is_not_sent_again(send, get, world):
    send()
    first = get("/v1/jobs")
    known = {**world.ours.headers("club_admin"), "If-None-Match": first.headers["ETag"]}
    assert world.client.get("/v1/jobs", headers=known).status_code == 304
    get(f"/v1/jobs/{first.json['items'][0]['id']}", method="DELETE")
    again = world.client.get("/v1/jobs", headers=known)
    assert (again.status_code, again.json["items"][0]["state"]) == (200, "cancelled")


def test_a_list_holds_nothing_of_another_club(send, get, world):
    job = send().json["id"]
    assert get("/v1/jobs", member=world.theirs).json == {"items": [], "next": None}
    assert get(f"/v1/jobs?cursor={job}", member=world.theirs).status_code == 404
    assert get("/v1/jobs?cursor=%27").status_code == get("/v1/jobs?limit=0").status_code == 400


def test_jobs_of_one_moment_are_all_listed(store, begun, club):
    sent = {begun([1]) for _ in range(5)}
    with store.read() as session:
        found, after = [], None
        while page := jobs.page(session, club, after=after, most=2):
            found += [job.id for job in page]
            after = found[-1]
        assert (set(found), len(found)) == (sent, 5)
        with pytest.raises(NotFound):
            jobs.page(session, club, after="none", most=2)


def test_a_job_too_many_is_refused_until_one_is_over():
    world = make_world(jobs_open=2)
    headers = world.ours.headers("club_admin", **{"Content-Type": "text/csv"})

    def send(headers=headers, **more):
        return world.client.post(BATCH, data=SHEET, headers={**headers, **more})

    first = send(**{"Idempotency-Key": "a"})
    assert send().status_code == 202
    refused = send(**{"Idempotency-Key": "b"})
    assert (refused.status_code, refused.json["type"]) == (429, "/problems/too-many-jobs")
    assert refused.headers["Retry-After"] == "60"
    assert refused.json["detail"] == (
        "Your club has 2 jobs open, the most here. Wait until one is done, or cancel one."
    )
    assert send(**{"Idempotency-Key": "a"}).json == first.json, "a job that is there is no new one"
    assert send(world.theirs.headers("club_admin", **{"Content-Type": "text/csv"})).status_code == 202
    world.client.delete(first.headers["Location"], headers=headers)
    assert send(**{"Idempotency-Key": "b"}).status_code == 202, "the refusal left its key free"
    world.store.close()


def test_many_at_once_open_no_more_than_they_may(store, club):
    barrier, outcomes = Barrier(6), []

    def begin():
        barrier.wait(30)
        try:
            with store.write() as session:
                packed = [jobs.Packed(1, pack([{"line": 1}]))]
                jobs.begin(session, "trial", pack({}), packed, club_id=club, now=NOW, most_open=2)
            outcomes.append("begun")
        except jobs.Full:
            outcomes.append("full")

    threads = [Thread(target=begin) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(outcomes) == ["begun"] * 2 + ["full"] * 4
    with store.read() as session:
        assert session.scalar(select(func.count()).select_from(Job)) == 2


def test_a_job_that_is_gone_is_explained_as_one_that_never_was(send, get, world):
    place = send().headers["Location"]
    get(place, method="DELETE")
    job = place.rpartition("/")[2]
    with world.store.write() as session:
        session.execute(update(Job).values(finished_at=NOW))
    jobs.purge_all(world.store, timedelta(days=30), now=datetime.now(UTC))
    said = "There is no job {}. A job is forgotten 30 days after it is over."
    for path, name in ((place, job), ("/v1/jobs/none", "none")):
        for method, end in (("GET", ""), ("DELETE", ""), ("GET", "/results")):
            gone = get(path + end, method=method)
            assert (gone.status_code, gone.json["detail"]) == (404, said.format(name))
