"""Tasks, and the calendar read back."""

from __future__ import annotations

import copy
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from bed_plan import JSON, PLAN, post, printed
from flask.testing import FlaskClient
from icalendar import Calendar

from service.ics import calendar_ics
from service.planfile import open_plan
from service.resources.planning import file_name
from service.schemas.planning import TasksSchema


def events(data: bytes) -> list[Any]:
    return list(Calendar.from_ical(data).walk("VEVENT"))


def test_the_calendar_is_read_back(client: FlaskClient, plan_file: str, capfdbinary: Any) -> None:
    answer = post(client, "/v1/calendar")
    assert answer.content_type == "text/calendar; charset=utf-8"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="row.ics"'
    assert printed(capfdbinary, "calendar", plan_file) == answer.data
    found = events(answer.data)
    assert {str(event["summary"]) for event in found} >= {
        *("Plant out cabbages in Kiln bed", "Put the net over the cabbages in Kiln bed"),
        *("Take the net off the cabbages in Kiln bed", "Pick cabbages in Kiln bed from today"),
    }
    for event in found:
        start, end = event["dtstart"], event["dtend"]
        assert (start.params["VALUE"], end.params["VALUE"]) == ("DATE", "DATE")
        assert not isinstance(start.dt, datetime)
        assert end.dt - start.dt == timedelta(days=1)
        assert event["dtstamp"].dt.date() == date(2026, 11, 20)
    names = [str(event["uid"]) for event in found]
    assert len(names) == len(set(names)) > 8
    assert post(client, "/v1/calendar").data == answer.data


def test_a_repeated_look_ends(client: FlaskClient) -> None:
    under = next(e for e in events(post(client, "/v1/calendar").data) if "Look under" in str(e["summary"]))
    assert under["rrule"]["freq"] == ["DAILY"]
    assert under["rrule"]["interval"] == [7]
    assert under["rrule"]["until"] == [date(2027, 7, 15)]


def test_what_is_added_elsewhere_leaves_the_identifiers(client: FlaskClient) -> None:
    before = {str(event["uid"]): str(event["summary"]) for event in events(post(client, "/v1/calendar").data)}
    plan = copy.deepcopy(PLAN)
    plan["plantings"].insert(0, {"bed": "vat", "crop": "lettuce", "start": "2027-02-15", "end": "2027-04-10"})
    plan["covers"].insert(0, {"bed": "vat", "kind": "fleece", "start": "2027-02-15", "end": "2027-03-10"})
    plan["treatments"].insert(0, {"bed": "vat", "date": "2027-03-01", "active": "iron phosphate"})
    after = {str(event["uid"]): str(event["summary"]) for event in events(post(client, "/v1/calendar", plan).data)}
    assert before.items() < after.items()


def test_lines_are_folded_at_75_octets_and_keep_their_letters(client: FlaskClient) -> None:
    plan = copy.deepcopy(PLAN)
    plan["garden"]["name"] = "Jardín de Zoë, 菜園; " + "ñandú " * 9
    plan["beds"][0]["name"] = "Pläne für große Grünkohlköpfe, " + "é" * 40
    data = post(client, "/v1/calendar", plan).data
    assert data.count(b"\n") == data.count(b"\r\n")
    lines = data.split(b"\r\n")
    assert lines[-1] == b""
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode("utf-8")  # no letter is cut in two
    assert Calendar.from_ical(data)["x-wr-calname"] == plan["garden"]["name"].strip()
    assert any(plan["beds"][0]["name"] in str(event["summary"]) for event in events(data))


def test_other_gardens_have_other_identifiers(client: FlaskClient) -> None:
    other = copy.deepcopy(PLAN)
    other["garden"]["name"] = "Mill Lane"
    ours, theirs = (
        {str(event["uid"]) for event in events(post(client, "/v1/calendar", plan).data)} for plan in (PLAN, other)
    )
    assert ours.isdisjoint(theirs)


def test_the_tasks_as_json(client: FlaskClient) -> None:
    answers = [
        post(client, "/v1/calendar?format=json&from=2027-04-01&to=2027-04-30"),
        post(client, "/v1/calendar?from=2027-04-01&to=2027-04-30", Accept=JSON),
    ]
    body = answers[0].get_json()
    assert answers[1].get_json() == body
    assert TasksSchema().validate(body) == {}
    assert [(task["day"], task["kind"]) for task in body["tasks"]] == [
        *(("2027-04-05", "plant"), ("2027-04-12", "look"), ("2027-04-20", "cover-on"), ("2027-04-20", "plant")),
        *(("2027-04-27", "look"), ("2027-04-27", "look-under")),
    ]


def test_no_task_is_still_a_calendar() -> None:
    plan, _ = open_plan("demo")
    empty = Calendar.from_ical(calendar_ics([], plan))
    assert (str(empty["version"]), empty.walk("VEVENT")) == ("2.0", [])


@pytest.mark.parametrize(
    ("name", "file"),
    [("Tannery Row Plots", "tannery-row-plots"), ('a"\\b', "a-b"), ("菜園", "garden"), ("x" * 99, "x" * 60)],
)
def test_a_file_name_is_plain(name: str, file: str) -> None:
    assert file_name(name) == file
