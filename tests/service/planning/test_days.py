"""The span of days that protection and tasks are asked for, and how a body is read."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest
from bed_plan import JSON, PLAN, YAML, faults, post, printed
from flask.testing import FlaskClient

from rules.model import Plan
from service.app import build
from service.asked import window_asked
from service.config import Config


def plan_of(**parts: Any) -> Plan:
    from service.reading import read_plan
    from service.terminal import load_knowledge

    body = json.dumps({**PLAN, **parts}).encode()
    return read_plan(body, "json", today=lambda zone: date(2026, 11, 20), season=None, knowledge=load_knowledge())


@pytest.mark.parametrize(
    ("parts", "since", "until", "start", "end"),
    [
        ({}, "2027-04-01", "2027-05-01", "2027-04-01", "2027-05-01"),
        ({}, None, "2027-05-01", "2026-11-20", "2027-05-01"),
        ({}, None, "2025-05-01", "2025-05-01", "2025-05-01"),
        ({}, None, "2028-11-20", "2027-11-21", "2028-11-20"),
        ({"judge": {"from": "2027-03-01", "to": "2027-06-30"}}, None, None, "2026-11-20", "2027-06-30"),
        ({"judge": {"from": "2027-03-01", "to": "2027-06-30"}}, "2027-05-01", None, "2027-05-01", "2027-06-30"),
        ({"judge": {"from": "2027-03-01", "to": "2027-06-30"}}, "2028-01-01", None, "2028-01-01", "2028-12-31"),
        ({"judge": {"from": "2025-03-01", "to": "2025-06-30"}}, None, None, "2025-03-01", "2025-06-30"),
        ({"judge": {"from": "2027-03-01", "to": "2029-06-30"}}, None, None, "2026-11-20", "2027-11-20"),
        ({}, "2199-12-01", None, "2199-12-01", "2199-12-31"),
    ],
)
def test_the_days_that_are_not_given(
    parts: dict[str, Any], since: str | None, until: str | None, start: str, end: str
) -> None:
    window, wrong = window_asked(plan_of(**parts), since, until)
    assert wrong == []
    assert window is not None
    assert (window.start.isoformat(), window.end.isoformat()) == (start, end)


BAD_DAYS = [
    ({"from": "2027-13-01", "to": "tomorrow"}, {"from": "YYYY-MM-DD", "to": "'tomorrow'"}),
    ({"from": "20270401"}, {"from": "YYYY-MM-DD"}),
    ({"from": "2027-02-29"}, {"from": "exists"}),
    ({"from": "1899-12-31", "to": "2200-01-01"}, {"from": "1900 to 2199", "to": "1900 to 2199"}),
    ({"from": "2027-05-01", "to": "2027-04-30"}, {"to": "before the first day, 2027-05-01"}),
    ({"from": "2027-05-01", "to": "2028-05-01"}, {"to": "2028-04-30 or earlier"}),
]


@pytest.mark.parametrize("door", ["protection", "calendar"])
@pytest.mark.parametrize(("query", "told"), BAD_DAYS)
def test_days_that_make_no_span(
    client: FlaskClient, capfdbinary: Any, plan_file: str, door: str, query: dict[str, str], told: dict[str, str]
) -> None:
    answer = client.post(f"/v1/{door}", query_string=query, data=json.dumps(PLAN), content_type=JSON)
    found = faults(answer)
    assert set(found) == set(told)
    options = [part for name, value in query.items() for part in (f"--{name}", value)]
    command = {"protection": "protect"}.get(door, door)
    said = printed(capfdbinary, command, plan_file, *options, status=64).decode()
    for name, words in told.items():
        assert words in found[name]
        assert f"--{name}: " in said


@pytest.mark.parametrize("door", ["netting", "protection", "calendar"])
def test_a_body_is_read_as_for_a_check(client: FlaskClient, door: str) -> None:
    address = f"/v1/{door}"
    answers = {
        415: client.post(address, data="x", content_type="text/csv"),
        400: client.post(address, data="{", content_type=JSON),
        422: client.post(address, data='{"beds": [{"id": "a b"}]}', content_type=JSON),
        405: client.get(address),
    }
    for status, answer in answers.items():
        assert (answer.status_code, answer.content_type) == (status, "application/problem+json")
    assert answers[422].get_json()["errors"][0]["pointer"] == "/beds/0/id"
    unknown = client.post(f"{address}?fron=2027-01-01", data=json.dumps(PLAN), content_type=JSON)
    assert (unknown.status_code, unknown.get_json()["type"]) == (400, "/problems/bad-query")
    twice = client.post(f"{address}?format=json&format=json", data=json.dumps(PLAN), content_type=JSON)
    assert twice.get_json()["errors"] == [
        {"in": "query", "parameter": "format", "detail": "It stands twice; once is enough."}
    ]
    yaml = client.post(
        address, data="beds: [{id: kiln}]\nplantings: [{bed: kiln, crop: kale, season: 2027}]", content_type=YAML
    )
    assert yaml.status_code == 200


def test_these_questions_are_counted_like_checks() -> None:
    counted = build(Config(checks_per_minute=3)).test_client()
    doors = ("netting", "protection", "calendar", "netting")
    assert [post(counted, f"/v1/{door}").status_code for door in doors] == [200, 200, 200, 429]
