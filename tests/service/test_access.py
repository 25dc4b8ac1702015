"""Every route of the record, for every scope, on one's own garden and on anyone else's."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from club import World, make_world
from werkzeug.test import TestResponse

from service.access import SCOPES
from service.store.tables import SCOPES as ALL_SCOPES

#: What each route needs at least.  A new route under these addresses must be entered here.
NEEDS: dict[tuple[str, str], str] = {
    ("GET", "/v1/clubs"): "garden_read",
    ("GET", "/v1/clubs/<club>"): "garden_read",
    ("GET", "/v1/gardens"): "publishable_read",
    ("POST", "/v1/gardens"): "club_admin",
    ("GET", "/v1/gardens/<garden>"): "publishable_read",
    ("PATCH", "/v1/gardens/<garden>"): "garden_write",
    ("DELETE", "/v1/gardens/<garden>"): "club_admin",
    ("GET", "/v1/gardens/<garden>/beds"): "publishable_read",
    ("POST", "/v1/gardens/<garden>/beds"): "garden_write",
    ("GET", "/v1/gardens/<garden>/beds/<bed>"): "publishable_read",
    ("PATCH", "/v1/gardens/<garden>/beds/<bed>"): "garden_write",
    ("DELETE", "/v1/gardens/<garden>/beds/<bed>"): "garden_write",
    ("GET", "/v1/gardens/<garden>/crops"): "publishable_read",
    ("POST", "/v1/gardens/<garden>/crops"): "garden_write",
    ("DELETE", "/v1/gardens/<garden>/crops/<crop>"): "garden_write",
    ("GET", "/v1/gardens/<garden>/plantings"): "publishable_read",
    ("POST", "/v1/gardens/<garden>/plantings"): "garden_write",
    ("GET", "/v1/gardens/<garden>/plantings/<planting>"): "publishable_read",
    ("PATCH", "/v1/gardens/<garden>/plantings/<planting>"): "garden_write",
    ("DELETE", "/v1/gardens/<garden>/plantings/<planting>"): "garden_write",
    ("GET", "/v1/gardens/<garden>/journal"): "garden_read",
    ("POST", "/v1/gardens/<garden>/journal"): "garden_write",
    ("GET", "/v1/gardens/<garden>/check"): "publishable_read",
    ("GET", "/v1/gardens/<garden>/answers"): "garden_read",
    ("GET", "/v1/gardens/<garden>/calendar.ics"): "garden_read",
    ("GET", "/v1/gardens/<garden>/export"): "garden_read",
    ("POST", "/v1/gardens/<garden>/import"): "garden_write",
    ("GET", "/v1/gardens/<garden>/board"): "publishable_read",
    ("GET", "/v1/gardens/<garden>/map.svg"): "publishable_read",
    ("GET", "/v1/gardens/<garden>/timeline.svg"): "publishable_read",
    ("GET", "/v1/gardens/<garden>/labels"): "publishable_read",
    ("GET", "/v1/gardens/<garden>/plantings.csv"): "garden_read",
    ("POST", "/v1/gardens/<garden>/plantings.csv"): "garden_write",
    ("POST", "/v1/checks/batch"): "garden_read",
    ("GET", "/v1/jobs"): "club_admin",
    ("POST", "/v1/jobs"): "club_admin",
    ("GET", "/v1/jobs/<job>"): "club_admin",
    ("DELETE", "/v1/jobs/<job>"): "club_admin",
    ("GET", "/v1/jobs/<job>/results"): "club_admin",
}
UNDER = ("/v1/clubs", "/v1/gardens", "/v1/jobs", "/v1/checks/batch")
#: What lies within a club or a garden.
OF_ONE = [key for key in NEEDS if "<garden>" in key[1] or "<club>" in key[1]]
REFUSED = {401, 403, 404}
#: A version that no row has, so that nothing is changed while routes are walked.
NEVER = '"987654321"'


@pytest.fixture(scope="module")
def world() -> World:
    world = make_world()
    for member in (world.ours, world.theirs):
        for garden in (member.garden, member.second):
            base, admin = f"/v1/gardens/{garden}", member.headers("club_admin")
            for path, row in (
                ("crops", {"id": "oca", "family": "Oxalidaceae"}),
                ("beds", {"id": "kiln", "name": "Kiln bed"}),
                ("plantings", {"id": "p1", "bed": "kiln", "crop": "kale", "season": "2025"}),
            ):
                assert world.client.post(f"{base}/{path}", json=row, headers=admin).status_code == 201
    return world


def routes(world: World) -> set[tuple[str, str]]:
    return {
        (method, rule.rule)
        for rule in world.app.url_map.iter_rules()
        for method in rule.methods or ()
        if method not in ("HEAD", "OPTIONS") and any(rule.rule == u or rule.rule.startswith(f"{u}/") for u in UNDER)
    }


def send(world: World, method: str, path: str, headers: dict[str, str]) -> TestResponse:
    # With a key that no row has: allowed or not is told before what is wrong, and nothing is added.
    body: dict[str, Any] = {"json": {"no_such_key": 1}} if method in ("POST", "PATCH") else {}
    query = (
        {"ask": "due"}
        if path.endswith("/answers")
        else {"kind": "batch"}
        if (method, path) == ("POST", "/v1/jobs")
        else {}
    )
    if method in ("PATCH", "DELETE"):
        headers = {**headers, "If-Match": NEVER}
    if "/crops/" in path:
        headers = {**headers, "If-Match": "*"}
    return world.client.open(path, method=method, headers=headers, query_string=query, **body)


def address(rule: str, club: str, garden: str) -> str:
    names = {"club": club, "garden": garden, "bed": "kiln", "planting": "p1"}
    names |= {"crop": "no-such-crop", "job": "no-such-job"}
    for name, value in names.items():
        rule = rule.replace(f"<{name}>", value)
    return rule


def test_every_route_of_the_record_is_walked(world: World) -> None:
    assert routes(world) == set(NEEDS)


@pytest.mark.parametrize(("method", "rule"), NEEDS, ids=lambda part: part)
def test_without_a_good_token_nothing_is_told(world: World, method: str, rule: str) -> None:
    path = address(rule, world.ours.club, world.ours.garden)
    for headers in ({}, {"Authorization": "Bearer nobody"}, {"Authorization": "Basic x"}, {"Authorization": "Bearer "}):
        answer = send(world, method, path, headers)
        assert answer.status_code == 401, (headers, answer.get_json())
        assert answer.headers["WWW-Authenticate"].startswith('Bearer realm="breakcrop"')
        assert answer.content_type == "application/problem+json"


@pytest.mark.parametrize("scope", ALL_SCOPES)
@pytest.mark.parametrize(("method", "rule"), NEEDS, ids=lambda part: part)
def test_a_scope_opens_its_own_and_no_more(world: World, method: str, rule: str, scope: str) -> None:
    ours, need = world.ours, NEEDS[(method, rule)]
    enough = scope in SCOPES and SCOPES.index(scope) >= SCOPES.index(need)
    answer = send(world, method, address(rule, ours.club, ours.garden), ours.headers(scope))
    if enough and not {"<crop>", "<job>"} & set(rule.split("/")):
        assert answer.status_code not in REFUSED, answer.get_json()
        assert answer.status_code < 500
    elif enough:  # may, and it is not there
        what = "crop" if "<crop>" in rule else "job"
        assert answer.get_json()["detail"].startswith(f"There is no {what} no-such-{what}.")
    else:
        assert answer.status_code == 403, answer.get_json()


@pytest.mark.parametrize("scope", ALL_SCOPES)
@pytest.mark.parametrize(("method", "rule"), OF_ONE, ids=lambda part: part)
def test_what_is_anyone_elses_is_not_there(world: World, method: str, rule: str, scope: str) -> None:
    ours, theirs = world.ours, world.theirs
    foreign = send(world, method, address(rule, theirs.club, theirs.garden), ours.headers(scope))
    nowhere = send(world, method, address(rule, "bbbbbbbbbbbb", "bbbbbbbbbbbb"), ours.headers(scope))
    assert foreign.status_code == nowhere.status_code == 404
    # Word for word the same, but for the name that was asked for.
    said = foreign.get_json()["detail"].replace(theirs.garden, "bbbbbbbbbbbb").replace(theirs.club, "bbbbbbbbbbbb")
    assert said == nowhere.get_json()["detail"]


@pytest.mark.parametrize("scope", [scope for scope in ALL_SCOPES if scope != "club_admin"])
@pytest.mark.parametrize(("method", "rule"), [key for key in NEEDS if "<garden>" in key[1]], ids=lambda part: part)
def test_a_gardens_token_does_not_open_the_next_garden(world: World, method: str, rule: str, scope: str) -> None:
    ours = world.ours
    assert send(world, method, address(rule, ours.club, ours.second), ours.headers(scope)).status_code == 404


def test_lists_hold_only_what_is_ones_own(world: World) -> None:
    for member, scope in itertools.product((world.ours, world.theirs), SCOPES):
        answer = world.client.get("/v1/gardens", headers=member.headers(scope)).get_json()
        expected = [member.garden, member.second] if scope == "club_admin" else [member.garden]
        assert sorted(row["id"] for row in answer["items"]) == sorted(expected)


def test_a_publishable_token_is_not_told_where_the_garden_lies(world: World) -> None:
    ours = world.ours
    for path in (f"/v1/gardens/{ours.garden}", "/v1/gardens"):
        shown = world.client.get(path, headers=ours.headers("publishable_read")).get_data(as_text=True)
        assert "latitude" not in shown
        assert "latitude" in world.client.get(path, headers=ours.headers("garden_read")).get_data(as_text=True)


def test_a_calendars_secret_opens_its_calendar_by_address_alone(world: World) -> None:
    ours, theirs = world.ours, world.theirs
    path = f"/v1/gardens/{ours.garden}/calendar.ics"
    answer = world.client.get(f"{path}?key={ours.secrets['calendar']}")
    assert answer.status_code == 200
    assert answer.content_type == "text/calendar; charset=utf-8"
    for scope, secret in (*ours.secrets.items(), ("foreign", theirs.secrets["calendar"]), ("none", "x")):
        if scope != "calendar":
            assert world.client.get(f"{path}?key={secret}").status_code == 404, scope
    assert world.client.get(f"/v1/gardens/{ours.second}/calendar.ics?key={ours.secrets['calendar']}").status_code == 404


@pytest.mark.parametrize("path", ["/v1/gardens", "/v1/gardens/{garden}/check", "/v1/gardens/{garden}/beds"])
def test_no_other_route_takes_a_token_from_the_address(world: World, path: str) -> None:
    ours = world.ours
    for name in ("key", "token", "access_token"):
        answer = world.client.get(f"{path.format(garden=ours.garden)}?{name}={ours.secrets['garden_read']}")
        assert answer.status_code in (400, 401)
        assert answer.content_type == "application/problem+json"
