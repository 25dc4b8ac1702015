"""What is remembered and for whom, and a database that is away."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import date

import pytest
from club import World, make_world
from databases import run_alone, url_text
from hard_door import Door, close_all, own_store, token_for
from sqlalchemy import text
from werkzeug.test import TestResponse

from service.app import build
from service.config import Config
from service.resources import recorded
from service.state import KEY

# -- what is remembered


def test_another_worker_tells_what_this_one_wrote(world: World, door: Door) -> None:
    other = build(Config(checks_per_minute=0, database_url=_url(world))).test_client()
    path = f"/v1/gardens/{door.garden}/check?season=2027"
    before = other.get(path, headers=door.headers)
    assert before.headers["ETag"] == door("GET", "/check?season=2027").headers["ETag"]
    door("POST", "/plantings", {"id": "again", "bed": "kiln", "crop": "cabbage", "season": "2027"})
    after = other.get(path, headers={**door.headers, "If-None-Match": before.headers["ETag"]})
    assert after.status_code == 200
    assert after.get_data() == door("GET", "/check?season=2027").get_data() != before.get_data()
    other.application.extensions[KEY].store.close()


def test_a_new_day_is_a_new_answer(door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    tags = []
    for day in (date(2026, 11, 20), date(2026, 11, 21)):
        monkeypatch.setattr(recorded, "today", lambda zone, day=day: day)
        answer = door("GET", "/check")
        assert answer.get_json()["as_of"] == day.isoformat()
        tags.append(answer.headers["ETag"])
    assert tags[0] != tags[1]


def test_a_tag_that_a_proxy_made_weak_still_saves_the_answer(door: Door) -> None:
    for path in ("/beds", "/check", "/map.svg", "/export"):
        tag = door("GET", path).headers["ETag"]
        again = door("GET", path, If_None_Match=f'"other", W/{tag}')
        assert (again.status_code, again.get_data()) == (304, b""), path
        assert "Content-Type" not in again.headers


def test_no_tag_of_one_scope_is_good_for_another(world: World, door: Door) -> None:
    readers = [
        Door(world, door.garden, token_for(world, door.garden, s)[1]) for s in ("publishable_read", "garden_read")
    ]
    for path in ("/beds", "/plantings", "/check", "/map.svg"):
        tag = readers[1]("GET", path).headers["ETag"]
        assert readers[0]("GET", path, If_None_Match=tag).status_code == 200, path


def test_a_publishable_token_is_told_what_a_page_shows_and_no_more(world: World) -> None:
    admin = world.ours.headers("club_admin")
    garden = world.client.post("/v1/gardens", json={}, headers=admin).get_json()["id"]
    owner = Door(world, garden, admin)
    private = {"site": "SECRET-site", "latitude": 46.2345, "longitude": 6.6789, "x-owner": "SECRET-owner"}
    plan = {
        "x-plan": "SECRET-plan",
        "garden": {"name": "Plot 9", **private},
        "beds": [{"id": "kiln", "x-bed": "SECRET-bed"}],
        "plantings": [{"id": "kale", "bed": "kiln", "crop": "kale", "season": "2027", "x-mine": "SECRET-mine"}],
    }
    assert owner("POST", "/import", plan).status_code == 201
    assert owner("POST", "/journal", {"did": "note", "bed": "kiln", "note": "SECRET-note"}).status_code == 201
    shown = Door(world, garden, token_for(world, garden, "publishable_read")[1])
    paths = (
        "",
        "/beds",
        "/beds/kiln",
        "/plantings",
        "/plantings/kale",
        "/check",
        "/board",
        "/map.svg",
        "/timeline.svg",
    )
    for path in paths:
        answer = shown("GET", path)
        assert answer.status_code == 200, path
        assert not [word for word in ("SECRET", "46.23", "6.678") if word in answer.get_data(as_text=True)], path
    for path in ("/journal", "/export", "/plantings.csv", "/answers?ask=due", "/calendar.ics"):
        assert shown("GET", path).status_code == 403, path


def _url(world: World) -> str:
    return url_text(world.store.url)


@pytest.fixture
def bad_day(new_url: Callable[[], str]) -> Iterator[tuple[World, Door]]:
    """A world that may be broken."""
    world = make_world(new_url())
    yield world, Door(world, world.ours.garden, world.ours.headers("club_admin"))
    close_all(world)


def unavailable(answer: TestResponse, kind: str = "record-unavailable") -> None:
    assert (answer.status_code, answer.get_json()["type"]) == (503, f"/problems/{kind}")
    assert int(answer.headers["Retry-After"]) >= 1


# -- bad days


def test_a_table_that_is_gone_is_no_fault_of_the_request(bad_day: tuple[World, Door]) -> None:
    world, door = bad_day
    with world.store.write() as session:
        session.execute(text("ALTER TABLE grounds RENAME TO elsewhere"))
    unavailable(door("GET", "/export"))
    unavailable(door("POST", "/beds", {"id": "kiln"}))


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)
@pytest.mark.parametrize("happens", ["removed", "replaced", "broken"])
def test_a_file_that_is_taken_away_takes_no_writes(bad_day: tuple[World, Door], happens: str) -> None:
    world, door = bad_day
    assert door("POST", "/beds", {"id": "before"}).status_code == 201
    path = str(world.store.url.database)
    close_all(world)
    if happens == "broken":
        with open(path, "r+b") as file:
            file.seek(4096)
            file.write(b"\xff" * 4096 * 20)
    else:
        assert door("GET", "/beds/before").status_code == 200  # it has the file open
        copy = shutil.copy(path, f"{path}.copy")
        os.remove(path)
        if happens == "replaced":
            os.replace(copy, path)
    late = door("POST", "/beds", {"id": "late"})
    if happens == "replaced":
        assert late.status_code == 201
        close_all(world)
        assert door("GET", "/beds/late").status_code == 200
    else:
        unavailable(late)


#: What PostgreSQL says, and what we make of it.
TOLD = {
    "57014": "busy",  # query_canceled: statement_timeout
    "40001": "busy",  # serialization_failure
    "40P01": "busy",  # deadlock_detected
    "25006": "record-unavailable",  # read_only_sql_transaction
    "0A000": "record-unavailable",  # feature_not_supported: a standby is asked to write
    "42501": "record-unavailable",  # insufficient_privilege
}


@pytest.mark.parametrize("backend", ["postgresql"], indirect=True)
def test_a_server_that_cannot_write_now_asks_to_come_again(bad_day: tuple[World, Door]) -> None:
    world, door = bad_day
    raises = (
        "CREATE OR REPLACE FUNCTION fails() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'no' USING ERRCODE = '{}'; END $$"
    )
    with world.store.write() as session:
        session.execute(text(raises.format("57014")))
        session.execute(text("CREATE TRIGGER bad_day BEFORE INSERT ON beds FOR EACH ROW EXECUTE FUNCTION fails()"))
    for code, kind in TOLD.items():
        with world.store.write() as session:
            session.execute(text(raises.format(code)))
        unavailable(door("POST", "/beds", {"id": "late"}), kind)


@pytest.mark.parametrize("backend", ["postgresql"], indirect=True)
def test_a_server_that_was_restarted_is_found_again(bad_day: tuple[World, Door]) -> None:
    world, door = bad_day
    assert door("GET", "/beds").status_code == 200
    world.store.close()
    ended = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{}' AND pid <> pg_backend_pid()"
    run_alone(own_store(world).url, ended.format(world.store.url.database))
    assert door("POST", "/beds", {"id": "after"}).status_code == 201
