"""Jobs at the door: begun once, followed, cancelled, read out, forgotten, and nobody else's."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from club import make_world
from door import BATCH, PLANS, SHEET
from sqlalchemy import update

from service.jobs.jobs import purge_all
from service.store.jobtables import Job


def test_a_job_from_its_sheet_to_its_results(send, get, worked, world):
    begun = send()
    assert begun.status_code == 202
    place = begun.headers["Location"]
    told = get(place)
    assert told.json == begun.json
    assert told.headers["Retry-After"] == "2"
    expected = {"kind": "batch", "state": "waiting", "gardens": 3, "answered": 0, "failed": 0}
    assert told.json.items() >= {**expected, "finished": None, "kept_until": None, "results": None}.items()
    early = get(f"{place}/results")
    assert (early.status_code, early.headers["Retry-After"]) == (409, "2")
    assert early.json["detail"] == "The job goes on: 0 of 3 gardens are answered."

    lines = worked(place)
    assert [(line["type"], line.get("garden")) for line in lines] == [
        ("report", "Plot 1"), ("error", "Plot 2"), ("report", "Plot 3"), ("summary", None),
    ]  # fmt: skip
    assert lines[0]["report"]["verdict"] == "breach"
    assert "did you mean cabbage" in lines[1]["errors"][0]["detail"]
    assert (lines[3]["complete"], lines[3]["gardens"], lines[3]["failed"]) == (True, 3, 1)
    assert lines[3]["rules"] == [lines[0]["report"]["rules"]]
    job = get(place).json
    assert job.items() >= {"state": "done", "answered": 3, "failed": 1, "results": f"{place}/results"}.items()
    finished, kept = (datetime.fromisoformat(job[key]) for key in ("finished", "kept_until"))
    assert kept - finished == timedelta(days=30)

    # The lines are those of the same batch answered at once.
    with send("/v1/checks/batch?season=2027&country=FR", Accept="application/x-ndjson") as at_once:
        assert [json.loads(line) for line in at_once.data.splitlines()] == lines

    assert get(place, method="DELETE").json == job, "what is over stays as it is"
    assert purge_all(world.store, timedelta(days=30), now=kept) == 1
    assert get(place).status_code == get(f"{place}/results").status_code == 404


def test_proposals_for_many_gardens(send, worked):
    begun = send("/v1/jobs?kind=proposals&years=1&seconds=0&from=2027", PLANS, kind="application/x-ndjson")
    assert begun.status_code == 202, begun.json
    first, second, third, summary = worked(begun.headers["Location"])
    assert (first["type"], first["garden"], first["line"]) == ("proposal", "Plot 1", 2)
    assert first["proposal"]["years"] == {"from": 2027, "to": 2027}
    assert {placed["crop"] for placed in first["proposal"]["placed"]} == {"leek"}
    assert (second["type"], second["line"]) == ("error", 3)
    assert third["errors"][0]["pointer"] == "/wishes/crops/0/crop"
    assert "leek" in third["errors"][0]["detail"]
    assert summary == {
        "type": "summary", "complete": True, "rules": [first["proposal"]["report"]["rules"]], "gardens": 3, "failed": 2,
        "stopped": {"optimal": 0, "time": 0, "quick": 1}, "not_all_placed": 0,
    }  # fmt: skip


def test_the_same_key_is_the_same_job(send):
    first, again = (send(**{"Idempotency-Key": "a"}) for _ in range(2))
    assert again.headers["Location"] == first.headers["Location"]
    assert again.json == first.json
    other = send(body=SHEET + "Plot 4,quay,2027,kale\n", **{"Idempotency-Key": "a"})
    assert (other.status_code, other.json["type"]) == (422, "/problems/key-reused")
    assert send().headers["Location"] != first.headers["Location"]


def test_a_cancelled_job_tells_what_was_answered(send, get, worked, world):
    place = send().headers["Location"]
    cancelled = get(place, method="DELETE")
    assert (cancelled.status_code, cancelled.json["state"]) == (200, "cancelled")
    assert worked(place)[-1]["complete"] is False
    assert get(place).json["answered"] == 0


def test_results_that_are_forgotten_while_they_are_read_have_no_summary(send, get, worked, world):
    place = send().headers["Location"]
    worked(place)
    with world.store.write() as session:
        session.execute(update(Job).values(answered=4))
    assert b"summary" not in get(f"{place}/results").data


def test_a_job_is_nobody_elses(send, get, world):
    place = send().headers["Location"]
    routes = [("GET", place), ("GET", f"{place}/results"), ("DELETE", place)]
    for method, path in routes:
        theirs = get(path, member=world.theirs, method=method)
        nothing = get(path.replace(place, "/v1/jobs/none"), method=method)
        assert theirs.status_code == nothing.status_code == 404
        assert world.client.open(path, method=method).status_code == 401
        for scope in ("garden_write", "garden_read", "publishable_read", "calendar"):
            assert get(path, scope=scope, method=method).status_code == 403
    assert send(scope="garden_write").status_code == 403
    assert world.client.post(BATCH, data=SHEET).status_code == 401
    assert get(place).json["state"] == "waiting"


@pytest.mark.parametrize(
    ("path", "body", "status", "said"),
    [
        ("/v1/jobs?season=2027", SHEET, 400, "kind=batch or kind=proposals"),
        ("/v1/jobs?kind=check&season=2027", SHEET, 400, "kind"),
        ("/v1/jobs?kind=batch", SHEET, 422, "season=2027"),
        ("/v1/jobs?kind=batch&season=2027&years=2", SHEET, 400, "years: It says nothing with kind=batch"),
        ("/v1/jobs?kind=proposals&season=2027", SHEET, 400, "season: It says nothing with kind=proposals"),
        ("/v1/jobs?kind=proposals&seconds=301", SHEET, 400, "300"),
        ("/v1/jobs?kind=batch&season=2027&sesaon=1", SHEET, 400, "Did you mean season"),
        (BATCH, "garden,bed,season,corp\nA,kiln,2027,kale\n", 422, "crop"),
        (BATCH, "garden,bed,season,crop\n", 422, "no gardens"),
        (BATCH, "", 422, "nothing to read"),
    ],
)
def test_what_cannot_be_begun_is_told_and_leaves_nothing(send, world, path, body, status, said):
    refused = send(path, body)
    assert refused.status_code == status
    assert said in refused.json["detail"]
    with world.store.read() as session:
        assert session.query(Job).count() == 0


def test_a_body_of_another_type_or_too_large_is_refused():
    world = make_world(batch_mb=1)
    headers = world.ours.headers("club_admin")
    other = world.client.post(BATCH, data="{}", headers={**headers, "Content-Type": "application/json"})
    assert other.status_code == 415
    large = world.client.post(BATCH, data=b"x" * (1 << 21), headers={**headers, "Content-Type": "text/csv"})
    assert large.status_code == 413
    world.store.close()


def test_a_broker_that_is_away_does_not_stop_a_job(caplog):
    world = make_world(broker_url="redis://127.0.0.1:1/0")
    headers = world.ours.headers("club_admin", **{"Content-Type": "text/csv"})
    assert world.client.post(BATCH, data=SHEET, headers=headers).status_code == 202
    assert "could not be called" in caplog.text
    world.store.close()


def test_times_are_of_one_zone(send):
    assert datetime.fromisoformat(send().json["created"]).tzinfo == UTC
