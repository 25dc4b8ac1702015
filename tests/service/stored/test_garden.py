"""What follows from a garden of the record: checks, answers, calendars, in and out."""

from __future__ import annotations

import json
from typing import Any

import pytest
import yaml
from club import World
from icalendar import Calendar
from stored_door import TODAY, Door

import rules
from service.answers import answer
from service.encode import report_dict
from service.planfile import DEMO
from service.reading import read_plan
from service.resources import checks
from service.store.repository import Repository


@pytest.fixture(scope="module")
def demo(world: World) -> Door:
    """The demo garden, imported into an empty one."""
    made = world.client.post("/v1/gardens", json={}, headers=world.ours.headers("club_admin"))
    door = Door(world, made.get_json()["id"])
    answer = world.client.post(
        f"/v1/gardens/{door.garden}/import",
        data=DEMO.read_bytes(),
        content_type="application/yaml",
        headers=door.headers,
    )
    assert answer.status_code == 201, answer.get_json()
    return door


def ordinary(season: str | None = None) -> Any:
    knowledge = rules.load_knowledge()
    data = yaml.safe_load(DEMO.read_text()) | {"as_of": TODAY.isoformat()}
    data.pop("judge")
    body = json.dumps(data, default=str).encode()
    plan = read_plan(body, "json", today=lambda zone: TODAY, season=season, knowledge=knowledge)
    return plan, knowledge


# -- what follows from a garden


@pytest.mark.parametrize("season", [None, "2027", "2026", "2027-summer"])
def test_the_check_is_the_ordinary_check(demo: Door, season: str | None) -> None:
    query = f"?season={season}" if season else ""
    told = demo("GET", f"/check{query}").get_json()
    expected = report_dict(rules.check(*ordinary(season)))
    assert told["verdict"] == expected["verdict"]
    assert [one["title"] for one in told["findings"]] == [one["title"] for one in expected["findings"]]
    assert told["judged"] == json.loads(json.dumps(expected["judged"]))
    assert told["beds"] == json.loads(json.dumps(expected["beds"]))


QUESTIONS = [
    "ask=may&crop=cabbage&bed=kiln&date=2027-04-20",
    "ask=may&crop=onions&bed=Quay bed",
    "ask=was&bed=kiln",
    "ask=free&bed=lime&crop=cabbage",
    "ask=where&crop=leeks&date=2027-06-10",
    "ask=now&bed=sluice",
    "ask=with&crop=carrots&bed=quay",
    "ask=due&date=2027-05-20",
    "ask=pick&bed=kiln&date=2027-07-19",
    "ask=cover&bed=kiln&date=2027-05-01",
    "ask=may&crop=cabage&bed=kiln",
    "ask=was&bed=kilm",
]


@pytest.mark.parametrize("question", QUESTIONS)
def test_an_answer_is_the_one_about_the_plan(demo: Door, question: str) -> None:
    words = dict(part.split("=") for part in question.split("&"))
    expected = answer(words.pop("ask"), *ordinary(), **words)
    told = demo("GET", f"/answers?{question}", Accept="application/json")
    assert told.get_json() == expected._asdict()
    spoken = demo("GET", f"/answers?{question}")
    assert (spoken.content_type, spoken.get_data(as_text=True)) == ("text/plain; charset=utf-8", expected.say)
    assert len(expected.say) < 200


def test_an_empty_garden_says_so(world: World) -> None:
    made = world.client.post("/v1/gardens", json={"name": "Plot 9"}, headers=world.ours.headers("club_admin"))
    door = Door(world, made.get_json()["id"])
    assert door("GET", "/answers?ask=due").get_data(as_text=True) == "Plot 9 has no beds on record yet. Add one first."
    assert door("GET", "/check").status_code == 409


def test_what_has_not_changed_is_not_sent_again(door: Door) -> None:
    for path in ("/check", "/beds", "/plantings", "/calendar.ics", "/export"):
        first = door("GET", path)
        assert first.headers["Cache-Control"] == "private, no-cache", path
        assert {"Authorization", "Accept"} <= set(first.headers["Vary"].split(", "))
        again = door("GET", path, If_None_Match=first.headers["ETag"])
        assert (again.status_code, again.get_data(), again.headers["ETag"]) == (304, b"", first.headers["ETag"]), path
        door("PATCH", "/beds/kiln", {"width": 100 + len(path)}, If_Match="*")
        changed = door("GET", path, If_None_Match=first.headers["ETag"])
        assert changed.status_code == 200, path


def test_a_page_with_less_to_see_has_a_tag_of_its_own(world: World, door: Door) -> None:
    garden = world.ours.garden
    door = Door(world, garden)
    door("POST", "/beds", {"id": "one"})
    tags = {Door(world, garden, scope)("GET", "/beds").headers["ETag"] for scope in ("publishable_read", "garden_read")}
    assert len(tags) == 2


def test_the_calendar_is_one(demo: Door) -> None:
    answer = demo("GET", "/calendar.ics?from=2027-04-01&to=2027-06-30")
    calendar = Calendar.from_ical(answer.get_data())
    titles = [str(event["SUMMARY"]) for event in calendar.walk("VEVENT")]
    assert any("abbage" in title for title in titles), titles


def test_lists_are_paged(demo: Door) -> None:
    everything = demo("GET", "/plantings?limit=200").get_json()
    assert everything["next"] is None
    found, path = [], "/plantings?limit=7"
    while path:
        page = demo("GET", path).get_json()
        found += page["items"]
        path = page["next"] and page["next"].partition(demo.garden)[2]
    assert found == everything["items"]
    of_kiln = demo("GET", "/plantings?bed=kiln").get_json()["items"]
    assert of_kiln == [row for row in found if row["bed"] == "kiln"]


# -- in and out


def test_what_was_exported_comes_back_the_same(world: World, demo: Door) -> None:
    told = demo("GET", "/export")
    made = world.client.post("/v1/gardens", json={}, headers=world.ours.headers("club_admin"))
    door = Door(world, made.get_json()["id"])
    taken = world.client.post(
        f"/v1/gardens/{door.garden}/import",
        data=told.get_data(),
        content_type="application/json",
        headers=door.headers,
    )
    assert taken.status_code == 201
    assert door("GET", "/export").get_json() == told.get_json()


def test_an_import_with_faults_takes_nothing(world: World) -> None:
    made = world.client.post("/v1/gardens", json={}, headers=world.ours.headers("club_admin"))
    door = Door(world, made.get_json()["id"])
    plan = {"beds": [{"id": "kiln", "widht": 1}], "plantings": [{"bed": "kiln", "crop": "kalee", "season": "2027"}]}
    refused = door("POST", "/import", plan)
    assert refused.status_code == 422
    assert {error["pointer"] for error in refused.get_json()["errors"]} == {"/beds/0/widht", "/plantings/0/crop"}
    assert door("GET", "/export").get_json() == {"format": 1}


# -- bad days


def test_a_record_that_is_not_set_up_is_said_so(tmp_path) -> None:
    from service.app import build
    from service.config import Config

    client = build(Config(checks_per_minute=0, database_url=f"sqlite:///{tmp_path}/none.db")).test_client()
    refused = client.get("/v1/gardens", headers={"Authorization": "Bearer x"})
    assert (refused.status_code, refused.get_json()["type"]) == (503, "/problems/record-unavailable")
    assert refused.headers["Retry-After"]
    assert client.get("/readyz").status_code == 503
    assert client.get("/v1/crops/kale").status_code == 200


def test_a_locked_record_asks_to_come_again(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    from service.state import KEY

    door = Door(world, world.ours.garden)
    record = world.app.extensions[KEY].store
    monkeypatch.setattr(record, "lock_timeout", 0.05)
    record.close()
    with world.store.write() as session:
        Repository(session).touch(world.ours.second)
        refused = door("POST", "/beds", {"id": "late"})
    record.close()
    assert (refused.status_code, refused.get_json()["type"]) == (503, "/problems/busy")
    assert int(refused.headers["Retry-After"]) >= 1
    assert door("GET", "/beds/late").status_code == 404


def test_today_is_the_day_where_the_garden_lies() -> None:
    assert checks.today("Pacific/Kiritimati") >= checks.today("Pacific/Niue")
