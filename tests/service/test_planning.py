"""The doors to nets, protection and tasks: addresses, commands, faults, and the calendar read back."""

from __future__ import annotations

import copy
import json
import re
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from icalendar import Calendar

from rules.model import Plan
from service.app import build
from service.asked import window_asked
from service.cli import main
from service.config import Config
from service.ics import calendar_ics
from service.planfile import open_plan
from service.resources.planning import file_name
from service.schemas.planning import CutListSchema, ProtectionSchema, TasksSchema

app = build(Config(checks_per_minute=0))
JSON, YAML = "application/json", "application/yaml"
PLAN: dict[str, Any] = {
    "as_of": "2026-11-20",
    "judge": {"season": "2027"},
    "garden": {"name": "Row", "latitude": 46.2, "country": "FR"},
    "beds": [
        {"id": "kiln", "name": "Kiln bed", "length": 300, "width": 120},
        {"id": "quay", "name": "Quay bed", "length": "10 ft", "width": 90},
        {"id": "bare", "name": "Bare bed"},
        {"id": "vat", "name": "Vat house", "kind": "greenhouse", "length": 400, "width": 180},
    ],
    "plantings": [
        {"id": "arti", "bed": "bare", "crop": "globe artichoke", "start": "2024-04-10", "status": "growing"},
        {"id": "p1", "bed": "quay", "crop": "potato", "start": "2026-04-05", "end": "2026-08-20", "status": "done"},
        {
            **{"id": "c", "bed": "kiln", "crop": "cabbage", "start": "2027-04-20", "end": "2027-09-30"},
            **{"method": "transplant", "first_harvest": "2027-07-20"},
        },
        {"id": "p2", "bed": "quay", "crop": "potato", "start": "2027-04-05", "end": "2027-08-20"},
    ],
    "covers": [
        {"bed": "kiln", "kind": "net", "mesh": 0.8, "start": "2027-04-20", "end": "2027-07-15", "edges": "shut"}
    ],
    "treatments": [
        {"bed": "kiln", "date": "2027-06-01", "active": "azadirachtin", "harvest_interval": 3},
        {"bed": "quay", "date": "2027-06-02", "active": "spinosad"},
    ],
}


@pytest.fixture
def client() -> FlaskClient:
    return app.test_client()


@pytest.fixture
def plan_file(tmp_path: Path) -> str:
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(PLAN), encoding="utf-8")
    return str(path)


def post(client: FlaskClient, address: str, plan: dict[str, Any] = PLAN, **headers: str) -> Any:
    given = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.post(address, data=json.dumps(plan), content_type=JSON, headers=given)


def faults(answer: Any) -> dict[str, str]:
    assert (answer.status_code, answer.content_type) == (422, "application/problem+json"), answer.data[:300]
    body = answer.get_json()
    assert body["type"] == "/problems/question-rejected"
    assert {fault["in"] for fault in body["errors"]} == {"query"}
    return {fault["parameter"]: fault["detail"] for fault in body["errors"]}


def printed(capfdbinary: pytest.CaptureFixture[bytes], *words: str, status: int = 0) -> bytes:
    assert main(words) == status
    out = capfdbinary.readouterr()
    return out.err if status else out.out


# -- nets


def test_a_bed_is_cut_by_hand(client: FlaskClient) -> None:
    answer = post(client, "/v1/netting?bed=kiln")
    assert (answer.status_code, answer.content_type) == (200, JSON)
    body = answer.get_json()
    assert CutListSchema().validate(body) == {}
    (bed,) = body["beds"]
    # 300 cm in four gaps of 75 cm; half a circle of 60 cm is 188.5 cm, with two legs of 20 cm 229 cm
    assert bed["hoops"] == {"count": 5, "length": 229, "arc": 188.5, "apart": 75}
    assert bed["net"] == {"length": 450, "width": 219}
    assert [caution["id"] for caution in body["cautions"]] == ["netting_and_wildlife"]


def test_without_a_name_all_open_beds_are_cut_and_what_lacks_is_told(client: FlaskClient) -> None:
    body = post(client, "/v1/netting").get_json()
    assert [bed["bed"] for bed in body["beds"]] == ["kiln", "quay"]
    assert [lack["bed"] for lack in body["lacking"]] == ["bare"]
    assert [bed["bed"] for bed in post(client, "/v1/netting?bed=quay,%20vat").get_json()["beds"]] == ["quay", "vat"]


@pytest.mark.parametrize(
    ("text", "cm"), [("60", 60), ("60 cm", 60), ("0.6 m", 60), ("2 ft", 60.96), ("2 ft 6 in", 76.2), ("600mm", 60)]
)
def test_a_length_may_have_its_unit(
    client: FlaskClient, plan_file: str, capfdbinary: Any, text: str, cm: float
) -> None:
    body = client.post(
        "/v1/netting", query_string={"height": text}, data=json.dumps(PLAN), content_type=JSON
    ).get_json()
    assert body["work"]["height"] == cm
    assert json.loads(printed(capfdbinary, "net", plan_file, "--height", text, "--format", "json")) == body


#: A query for nets, and the words with which each of its parameters is refused.
BAD_NETS: list[tuple[dict[str, str], dict[str, str]]] = [
    ({"bed": "kilm"}, {"bed": "'kiln'"}),
    ({"bed": "kiln,,quay"}, {"bed": "''"}),
    ({"height": "sixty"}, {"height": "60 cm"}),
    ({"height": "60 yd"}, {"height": "'60 yd'"}),
    ({"height": "-60"}, {"height": "'-60'"}),
    ({"height": "1e2"}, {"height": "'1e2'"}),
    ({"height": "٦٠"}, {"height": "60 cm"}),
    ({"height": "9 m"}, {"height": "10 to 250 cm"}),
    ({"spacing": "0"}, {"spacing": "10 to 300 cm"}),
    ({"leg": "2 m"}, {"leg": "5 to 100 cm"}),
    ({"edge": "1"}, {"edge": "5 to 100 cm"}),
    ({"net_width": "1 in"}, {"net_width": "30 to 10000 cm"}),
    ({"pipe": "9999999"}, {"pipe": "30 to 10000 cm"}),
    (
        {"bed": "kilm", "height": "x", "leg": "9 m", "pipe": "1"},
        {"bed": "did you mean", "height": "'x'", "leg": "5 to 100", "pipe": "30 to"},
    ),
]


@pytest.mark.parametrize(
    ("query", "told"), BAD_NETS, ids=["-".join(query) + str(n) for n, (query, _) in enumerate(BAD_NETS)]
)
def test_all_faults_of_a_question_are_told_at_once(
    client: FlaskClient, query: dict[str, str], told: dict[str, str]
) -> None:
    found = faults(client.post("/v1/netting", query_string=query, data=json.dumps(PLAN), content_type=JSON))
    assert set(found) == set(told)
    for name, words in told.items():
        assert words in found[name]
        assert re.search(r"\w.*[^.?][.?]$", found[name])


def test_the_command_tells_all_faults_as_well(plan_file: str, capfdbinary: Any) -> None:
    told = printed(
        capfdbinary, "net", plan_file, "--bed", "kilm", "--net-width", "x", "--leg", "9 m", status=65
    ).decode()
    assert "did you mean 'kiln'" in told
    assert "--net-width: write a length" in told
    assert "--leg: 5 to 100 cm, not 900" in told
    assert b"--pipe" in printed(capfdbinary, "net", plan_file, "--pipe", "1", status=64)


def test_an_imperial_garden_reads_feet_and_inches(client: FlaskClient) -> None:
    plan = copy.deepcopy(PLAN)
    plan["garden"]["units"] = "imperial"
    plan["beds"].append({"id": "field", "name": "Field", "length": "60 ft", "width": "30 ft"})
    answer = post(client, "/v1/netting?net_width=6%20ft&pipe=12%20ft", plan, Accept="text/plain")
    assert answer.content_type == "text/plain; charset=utf-8"
    text = answer.get_data(as_text=True)
    assert "Quay bed, 10 ft by 2 ft 11 in" in text
    assert "of 12 ft; left over: " in text
    assert "Not worked out: Field: it is wider than 13 ft 1 in" in text
    assert "Does not fit: Kiln bed: the net must be 7 ft 2 in wide" in text
    assert " cm" not in text
    assert max(map(len, text.splitlines())) <= 80


def test_the_text_of_a_cut_list_has_its_arithmetic_and_its_caution(plan_file: str, capfdbinary: Any) -> None:
    text = printed(capfdbinary, "net", plan_file, "--bed", "kiln", "--pipe", "3 m").decode()
    assert "Hoops: 5 of 2.29 m, 75 cm apart" in text
    assert "188 cm over the bed, 60 cm high, and 2 x 20 cm in the ground" in text
    assert "left over: 5 of 71 cm" in text
    caution = " ".join(text[text.index("Caution: ") :].split())
    assert "holes of 5 mm or less" in caution
    assert "Defer to: wildlife agency" in caution


# -- the span of days


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


# -- protection


def test_the_protection_plan_is_as_documented_at_both_doors(
    client: FlaskClient, plan_file: str, capfdbinary: Any
) -> None:
    body = post(client, "/v1/protection").get_json()
    assert ProtectionSchema().validate(body) == {}
    assert (body["from"], body["to"]) == ("2026-11-20", "2027-11-20")
    assert json.loads(printed(capfdbinary, "protect", plan_file, "--format", "json")) == body
    cover = next(crop["cover"] for crop in body["crops"] if crop["crop"] == "cabbage")
    assert cover["planned"] == [{"bed": "kiln", "kind": "net", "from": "2027-04-20"}]
    assert "diamondback_moth" in cover["kept_out"]


def protection_text(client: FlaskClient, plan: dict[str, Any] = PLAN) -> str:
    answer = post(client, "/v1/protection?format=text", plan)
    assert answer.content_type == "text/plain; charset=utf-8"
    text = answer.get_data(as_text=True)
    assert max(map(len, text.splitlines())) <= 80
    return text


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_text_reads_as_a_grower_would_have_it(client: FlaskClient) -> None:
    text = flat(protection_text(client))
    assert "2199" not in text
    assert "Cabbages in Kiln bed, 20 April to 30 September 2027" in text
    assert "net planned from 20 April 2027; with its edges shut it keeps out" in text
    assert re.search("But in Quay bed [^:]*Colorado potato beetle[^:]* may come up beneath it: grow it where no", text)
    assert "do not pick before 4 June 2027, by the label's 3 days" in text
    assert (
        "Spinosad on the potatoes in Quay bed on 2 June 2027: the label's days before harvest are not on record" in text
    )
    assert "Sprays and bait do nothing against squirrels; a barrier does." in text
    assert "slugs may come out" not in text
    for once in ("Iron phosphate bait, against", "Fence or cage, against", "Use net with holes of 5 mm", "Slugs"):
        assert text.count(once) <= 1, once


def test_a_perennial_is_told_since_its_day(client: FlaskClient) -> None:
    plan = copy.deepcopy(PLAN)
    plan["sightings"] = [{"bed": "bare", "date": "2026-06-01", "of": "black bean aphid"}]
    assert "Globe artichokes in Bare bed, since 10 April 2024" in protection_text(client, plan)
    assert "Low risk only: globe artichokes" in protection_text(client)


def test_bowls_and_bait_say_what_growers_know(client: FlaskClient) -> None:
    plan = copy.deepcopy(PLAN)
    plan["plantings"] += [
        {"bed": "bare", "crop": "rocket", "start": "2027-04-07", "end": "2027-05-10"},
        {"bed": "bare", "crop": "lettuce", "start": "2027-04-15", "end": "2027-06-10"},
    ]
    text = flat(protection_text(client, plan))
    assert "Coloured bowls of soapy water under the leaves, against " in text
    assert "Not for ending an outbreak; alone they only thin it out." in text
    assert "on moist soil" in text
    assert "Again: after rain or heavy watering and when it is eaten" in text
    assert "until seedlings are strong" in text


def test_nothing_in_these_days_is_said_so(plan_file: str, capfdbinary: Any) -> None:
    empty = printed(capfdbinary, "protect", plan_file, "--from", "2020-01-01", "--to", "2020-02-01").decode()
    assert "Nothing stands in these days." in empty


def test_the_demo_garden_prints_and_says_nothing_twice(capfdbinary: Any) -> None:
    text = printed(capfdbinary, "protect", "demo").decode()
    found = json.loads(printed(capfdbinary, "protect", "demo", "--format", "json"))
    assert len(found["ladder"]) > 10
    for measure in found["ladder"]:
        assert flat(text).count(f"{measure['name'][:1].upper()}{measure['name'][1:]}, against ") == 1
    for caution in found["cautions"]:
        assert flat(text).count(caution["text"].rstrip(".")[1:]) == 1
    assert len(text.splitlines()) < 180
    assert "2199" not in text


# -- the calendar


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
