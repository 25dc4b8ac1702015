"""The record over HTTP as a client meets it: rows, versions, keys, patches, checks, answers, in and out."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest
import yaml
from club import World, make_world
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar
from werkzeug.test import TestResponse

import rules
from service.answers import answer
from service.encode import report_dict
from service.planfile import DEMO
from service.reading import read_plan
from service.resources import checks, recorded, writing
from service.resources.writing import merged
from service.store.repository import Repository

TODAY = date(2026, 11, 20)


@pytest.fixture(scope="module")
def world() -> World:
    return make_world()


@pytest.fixture(autouse=True)
def _one_day(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (recorded, writing):
        monkeypatch.setattr(module, "today", lambda zone: TODAY)


class Door:
    """A garden and a token, to speak to it shortly."""

    def __init__(self, world: World, garden: str, scope: str = "club_admin") -> None:
        self.client, self.garden, self.headers = world.client, garden, world.ours.headers(scope)

    def __call__(self, method: str, path: str = "", body: Any = None, **headers: str) -> TestResponse:
        words = {name.replace("_", "-"): value for name, value in headers.items()}
        sent: dict[str, Any] = {} if body is None else {"json": body}
        return self.client.open(
            f"/v1/gardens/{self.garden}{path}", method=method, headers={**self.headers, **words}, **sent
        )


@pytest.fixture
def door(world: World) -> Door:
    """A new garden with two beds and some history."""
    admin = world.ours.headers("club_admin")
    made = world.client.post("/v1/gardens", json={"name": "Tannery Row Plots"}, headers=admin)
    door = Door(world, made.get_json()["id"])
    for path, row in (
        ("/beds", {"id": "kiln", "name": "Kiln bed", "length": "3 m", "width": 120}),
        ("/beds", {"id": "quay", "name": "Quay bed"}),
        ("/plantings", {"id": "kale", "bed": "kiln", "crop": "kale", "season": "2025", "status": "done"}),
        ("/plantings", {"id": "cabbage", "bed": "kiln", "crop": "cabbage", "start": "2027-04-20", "end": "2027-09-30"}),
    ):
        assert door("POST", path, row).status_code == 201
    return door


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


# -- rows and their versions


def test_a_row_tells_its_version_and_its_address(door: Door) -> None:
    made = door("POST", "/beds", {"id": "vat", "position": {"x": 4, "y": 3}})
    assert (made.status_code, made.headers["ETag"]) == (201, '"1"')
    assert made.headers["Location"] == f"/v1/gardens/{door.garden}/beds/vat"
    assert made.get_json() == {"id": "vat", "position": {"x": 4.0, "y": 3.0}, "version": 1}
    read = door("GET", "/beds/vat")
    assert (read.get_json(), read.headers["ETag"]) == (made.get_json(), '"1"')


def test_a_change_needs_the_version_that_was_read(door: Door) -> None:
    assert door("PATCH", "/beds/kiln", {"width": 130}).status_code == 428
    for wrong in ('"7"', 'W/"1"', "1", '"x"'):
        refused = door("PATCH", "/beds/kiln", {"width": 130}, If_Match=wrong)
        assert (refused.status_code, refused.get_json()["type"]) == (412, "/problems/changed-meanwhile"), wrong
    changed = door("PATCH", "/beds/kiln", {"width": 130}, If_Match='"1"')
    assert (changed.status_code, changed.headers["ETag"], changed.get_json()["width"]) == (200, '"2"', 130)
    assert door("PATCH", "/beds/kiln", {"width": 140}, If_Match='"1"').status_code == 412
    assert door("PATCH", "/beds/kiln", {"width": 140}, If_Match="*").get_json()["width"] == 140


def test_two_writers_on_one_bed_lose_nothing(door: Door) -> None:
    one, other = (door("GET", "/beds/kiln") for _ in range(2))
    assert door("PATCH", "/beds/kiln", {"width": 90}, If_Match=one.headers["ETag"]).status_code == 200
    assert door("PATCH", "/beds/kiln", {"depth": 40}, If_Match=other.headers["ETag"]).status_code == 412
    again = door("GET", "/beds/kiln")
    assert door("PATCH", "/beds/kiln", {"depth": 40}, If_Match=again.headers["ETag"]).status_code == 200
    row = door("GET", "/beds/kiln").get_json()
    assert (row["width"], row["depth"]) == (90, 40)


def test_what_is_logged_about_a_planting_changes_its_version(door: Door) -> None:
    before = door("GET", "/plantings/cabbage").headers["ETag"]
    logged = door("POST", "/journal", {"did": "note", "bed": "kiln", "planting": "cabbage", "note": "sturdy"})
    assert logged.status_code == 201, logged.get_json()
    assert door("GET", "/plantings/cabbage").headers["ETag"] != before


@pytest.mark.parametrize(
    ("path", "patch", "shown"),
    [
        ("/beds/kiln", {"width": None}, {"width": None}),
        ("/beds/kiln", {"irrigation": {"method": "drip", "lines": 2}}, {"irrigation": {"method": "drip", "lines": 2}}),
        ("/beds/kiln", {"replaces": ["quay"]}, {"replaces": [{"bed": "quay"}]}),
        ("/beds/kiln", {"x-colour": "red"}, {"x-colour": None}),
        ("/plantings/cabbage", {"count": 12, "spacing": "18 in"}, {"count": 12, "spacing": 45.72}),
        ("/plantings/cabbage", {"variety": {"name": "our own", "resists": ["clubroot"]}},
         {"variety": {"name": "our own", "resists": ["clubroot"]}}),
        ("", {"last_spring_frost": "05-04", "soil": {"ph": 6.5}}, {"last_spring_frost": "05-04", "soil": {"ph": 6.5}}),
    ],
)  # fmt: skip
def test_a_merge_patch_sets_merges_and_takes_away(door: Door, path: str, patch: Any, shown: Any) -> None:
    changed = door("PATCH", path, patch, If_Match="*")
    assert changed.status_code == 200, changed.get_json()
    row = door("GET", path).get_json()
    assert {key: row.get(key) for key in shown} == shown
    assert {key: value for key, value in changed.get_json().items() if key != "journal"} == {
        key: value for key, value in row.items() if key != "journal"
    }


def test_a_patch_of_a_group_keeps_its_other_keys(door: Door) -> None:
    drip = {"method": "drip", "emitter_spacing": "30 cm", "lines": 2}
    door("PATCH", "/beds/kiln", {"irrigation": drip}, If_Match="*")
    row = door("PATCH", "/beds/kiln", {"irrigation": {"lines": 3, "emitter_spacing": None}}, If_Match="*").get_json()
    assert row["irrigation"] == {"method": "drip", "lines": 3}


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.text("ab", max_size=2),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.sampled_from("abc"), inner, max_size=3),
    max_leaves=8,
)


@given(JSON_VALUES, JSON_VALUES)
def test_merge_patch_laws(target: Any, patch: Any) -> None:
    """RFC 7396: the result has no null that the patch brought, and merging it again changes nothing."""
    result = merged(target, patch)
    assert merged(result, patch) == result
    if isinstance(patch, dict):
        for key, value in patch.items():
            assert (key not in result) if value is None else (result[key] == merged(result[key], value))


#: The examples of RFC 7396, appendix A (source: memory; each follows from the text of section 2).
RFC_7396 = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    (["a", "b"], ["c", "d"], ["c", "d"]),
    ({"a": "b"}, ["c"], ["c"]),
    ({"a": "foo"}, None, None),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]


@pytest.mark.parametrize(("target", "patch", "result"), RFC_7396)
def test_merge_patch_as_its_standard_shows_it(target: Any, patch: Any, result: Any) -> None:
    assert merged(target, patch) == result


BAD = [
    ("POST", "/beds", {"id": "vat", "lenght": 3, "kind": "rised"}, {"/lenght", "/kind"}),
    ("POST", "/beds", [], {""}),
    ("POST", "/plantings", {"bed": "kilm", "crop": "kalee", "season": "2027"}, {"/bed"}),
    ("POST", "/plantings", {"bed": "kiln", "crop": "kalee", "season": "2027"}, {"/crop"}),
    ("POST", "/plantings", {"bed": "kiln", "crop": "kale"}, {""}),
    ("POST", "/crops", {"id": "oca", "family": "Oxalidacea"}, {"/family"}),
    ("PATCH", "/beds/kiln", {"width": "wide", "turn": 999}, {"/width", "/turn"}),
    ("PATCH", "/beds/kiln", "wide", {""}),
    ("PATCH", "/plantings/cabbage", {"crop": None}, {"/crop"}),
    ("PATCH", "/plantings/cabbage", {"end": "2027-04-01"}, {"/end"}),
    ("PATCH", "", {"time_zone": "Europe/Pariss"}, {"/time_zone"}),
]


@pytest.mark.parametrize(("method", "path", "body", "pointers"), BAD)
def test_what_is_wrong_is_named_by_its_place_and_nothing_is_stored(
    door: Door, method: str, path: str, body: Any, pointers: set[str]
) -> None:
    before = door("GET", "/export").get_data()
    refused = door(method, path, body, If_Match="*")
    assert (refused.status_code, refused.get_json()["type"]) == (422, "/problems/not-written")
    assert {error["pointer"] for error in refused.get_json()["errors"]} == pointers
    assert door("GET", "/export").get_data() == before


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("POST", "/beds", {"id": "kiln"}, 409),
        ("PATCH", "/beds/kiln", {"id": "other"}, 409),
        ("PATCH", "/plantings/kale", {"bed": "quay"}, 409),
        ("DELETE", "/beds/kiln", None, 409),
        ("GET", "/beds/none", None, 404),
        ("PATCH", "/beds/none", {"width": 1}, 404),
        ("DELETE", "/plantings/none", None, 404),
        ("GET", "/plantings/none", None, 404),
        ("GET", "/plantings?cursor=none", None, 400),
        ("GET", "/journal?cursor=none", None, 400),
        ("GET", "/check?season=2140-mud", None, 400),
        ("GET", "/answers?ask=why", None, 400),
        ("GET", "/answers", None, 400),
        ("POST", "/import", {"beds": [{"id": "a"}]}, 409),
        ("PUT", "/beds/kiln", {}, 405),
    ],
)
def test_what_does_not_fit_is_a_problem_with_a_sentence(
    door: Door, method: str, path: str, body: Any, status: int
) -> None:
    refused = door(method, path, body, If_Match="*")
    assert (refused.status_code, refused.content_type) == (status, "application/problem+json")
    assert refused.get_json()["detail"].endswith((".", "?"))


@pytest.mark.parametrize(
    "body",
    [
        {"did": ["sown"]}, {"did": {}}, {"did": 3}, {"did": None}, {}, [], "sown", 3,
        {"did": "sown", "crop": []}, {"did": "sown", "bed": {"a": 1}, "crop": "kale"},
        {"did": "sown", "bed": "kiln", "crop": "kale", "count": 1e30},
        {"did": "note", "bed": "kiln", "note": ["a"]},
        {"did": "sown", "bed": "kiln", "crop": "kale", "date": 5},
    ],
)  # fmt: skip
def test_an_odd_line_is_refused_in_a_sentence_and_nothing_is_stored(door: Door, body: Any) -> None:
    before = door("GET", "/export").get_data()
    refused = door("POST", "/journal", body)
    assert (refused.status_code, refused.get_json()["type"]) == (422, "/problems/not-written")
    assert refused.get_json()["detail"].endswith((".", "?"))
    assert door("GET", "/export").get_data() == before


def test_only_json_is_read(door: Door) -> None:
    refused = door.client.post(f"/v1/gardens/{door.garden}/beds", data="id: vat", headers=door.headers)
    assert refused.status_code == 415
    assert refused.headers["Accept-Post"] == "application/json"
    broken = door.client.post(
        f"/v1/gardens/{door.garden}/beds", data="{", headers=door.headers, content_type="application/json"
    )
    assert (broken.status_code, broken.get_json()["type"]) == (400, "/problems/unreadable")


def test_rows_are_taken_away_when_nothing_hangs_on_them(door: Door) -> None:
    assert door("DELETE", "/plantings/cabbage", If_Match='"1"').status_code == 204
    assert door("GET", "/plantings/cabbage").status_code == 404
    assert door("DELETE", "/beds/quay", If_Match="*").status_code == 204
    assert door("DELETE", "", If_Match="*").status_code == 204
    assert door("GET", "").status_code == 404


def test_a_gardens_own_crop_can_be_planted_and_goes_when_unused(door: Door) -> None:
    assert door("POST", "/crops", {"id": "oca", "family": "Oxalidaceae"}).status_code == 201
    assert door("POST", "/plantings", {"id": "o", "bed": "quay", "crop": "oca", "season": "2027"}).status_code == 201
    assert door("DELETE", "/crops/oca", If_Match="*").status_code == 422
    assert door("DELETE", "/plantings/o", If_Match="*").status_code == 204
    assert door("DELETE", "/crops/oca", If_Match="*").status_code == 204
    assert door("GET", "/crops").get_json()["items"] == []


# -- keys


def test_a_request_that_comes_twice_is_done_once(door: Door) -> None:
    row = {"id": "vat", "name": "Vat house"}
    first, second = (door("POST", "/beds", row, Idempotency_Key='"a-1"') for _ in range(2))
    assert first.status_code == second.status_code == 201
    assert first.get_data() == second.get_data()
    assert first.headers["ETag"] == second.headers["ETag"]
    other = door("POST", "/beds", {"id": "bark"}, Idempotency_Key="a-1")
    assert (other.status_code, other.get_json()["type"]) == (422, "/problems/key-reused")
    assert [bed["id"] for bed in door("GET", "/beds").get_json()["items"]] == ["kiln", "quay", "vat"]


def test_a_request_that_was_refused_may_come_again_with_its_key(door: Door) -> None:
    assert door("POST", "/beds", {"id": "vat", "width": "wide"}, Idempotency_Key="b").status_code == 422
    assert door("POST", "/beds", {"id": "vat", "width": 90}, Idempotency_Key="b").status_code == 201


@pytest.mark.parametrize("key", ["", " ", "two words", "x" * 256, "é"])
def test_a_key_that_is_none_is_refused(door: Door, key: str) -> None:
    refused = door("POST", "/beds", {"id": "vat"}, Idempotency_Key=key)
    assert refused.status_code == 400
    assert "Idempotency-Key" in refused.get_json()["detail"]


# -- what follows from a garden


def ordinary(season: str | None = None) -> Any:
    knowledge = rules.load_knowledge()
    data = yaml.safe_load(DEMO.read_text()) | {"as_of": TODAY.isoformat()}
    data.pop("judge")
    body = json.dumps(data, default=str).encode()
    plan = read_plan(body, "json", today=lambda zone: TODAY, season=season, knowledge=knowledge)
    return plan, knowledge


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
