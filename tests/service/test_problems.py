"""Whatever is wrong with a request, the answer is problem details and never a 500."""

from __future__ import annotations

import json
from typing import Any

import pytest
from flask import abort
from flask.testing import FlaskClient
from werkzeug.exceptions import default_exceptions
from werkzeug.test import TestResponse

from service.app import build
from service.config import MAX_BODY, Config
from service.errors import KINDS
from service.examples import PLAN
from service.negotiate import ACCEPTED

app = build(Config(checks_per_minute=0))
JSON, YAML = "application/json", "application/yaml"


@pytest.fixture
def client() -> FlaskClient:
    return app.test_client()


def problem(answer: TestResponse, status: int, slug: str) -> dict[str, Any]:
    """The body, after a look at what every problem has."""
    assert answer.status_code == status, answer.get_data(as_text=True)[:300]
    assert answer.content_type == "application/problem+json"
    assert answer.headers["Cache-Control"] == "no-store"
    body = answer.get_json()
    assert body["type"] == f"/problems/{slug}"
    assert body["status"] == status == KINDS[slug].status
    assert body["title"] == KINDS[slug].title
    assert body["detail"][:1].isupper() or body["errors"]
    assert body["detail"].endswith((".", "?"))
    assert body["request_id"] == answer.headers["X-Request-ID"]
    return body


def changed(path: str, value: Any) -> dict[str, Any]:
    """The example plan with one value changed, at a JSON pointer."""
    plan = json.loads(json.dumps(PLAN))
    *steps, last = [int(step) if step.isdigit() else step for step in path.split("/")[1:]]
    place = plan
    for step in steps:
        place = place[step]
    place[last] = value
    return plan


#: What is changed, to what, where the fault is told, and words that the detail must have.
REJECTED = [
    ("/plantings/3/crop", "cabage", "/plantings/3/crop", "cabbage"),
    ("/plantings/3/crop", "", "/plantings/3/crop", "crop"),
    ("/plantings/3/crop", "cab\u0000bage", "/plantings/3/crop", "control"),
    ("/plantings/3/crop", "x" * 5000, "/plantings/3/crop", "80"),
    ("/plantings/3/crop", 7, "/plantings/3/crop", "text"),
    ("/plantings/3/bed", "kilm", "/plantings/3/bed", "kiln"),
    ("/plantings/3/cropp", "kale", "/plantings/3/cropp", "crop"),
    ("/plantings/3/season", "2027-sprong", "/plantings/3/season", "2027-spring"),
    ("/plantings/0/season", 20.5, "/plantings/0/season", "year"),
    ("/plantings/3/start", "2027-02-30", "/plantings/3/start", "exists"),
    ("/plantings/3/start", "20270420", "/plantings/3/start", "YYYY-MM-DD"),
    ("/plantings/3/start", "0001-01-01", "/plantings/3/start", "1900"),
    ("/plantings/3/start", "9999-12-31", "/plantings/3/start", "1900"),
    ("/plantings/3/end", "2027-04-01", "/plantings/3/end", "before"),
    ("/plantings/3/count", -1, "/plantings/3/count", "whole number"),
    ("/plantings/3/count", True, "/plantings/3/count", "whole number"),
    ("/plantings/3/count", 2.5, "/plantings/3/count", "whole number"),
    ("/plantings/3/count", "8", "/plantings/3/count", "whole number"),
    ("/plantings/3/count", 10**30, "/plantings/3/count", "whole number"),
    ("/plantings/3/part", [0.5, 0.2], "/plantings/3/part", "smaller first"),
    ("/plantings/3/status", "grown", "/plantings/3/status", "growing"),
    ("/plantings/3/replaces", "p9", "/plantings/3/replaces", "p9"),
    ("/plantings/0/id", "p1", "/plantings/3/id", "twice"),
    ("/plantings/3", None, "/plantings/3", ""),
    ("/plantings", {"a": 1}, "/plantings", "list"),
    ("/beds/1/id", "kiln", "/beds/1/id", "twice"),
    ("/beds/0/length", "ten feet", "/beds/0/length", "10 ft"),
    ("/beds/0/length", -3, "/beds/0/length", "1 cm"),
    ("/garden/latitude", 91, "/garden/latitude", "90"),
    ("/garden/latitude", True, "/garden/latitude", "number"),
    ("/garden/time_zone", "Europe/Pariss", "/garden/time_zone", "Europe/Paris"),
    ("/garden/time_zone", "../../etc/passwd", "/garden/time_zone", "time zone"),
    ("/garden/last_spring_frost", "02-30", "/garden/last_spring_frost", "MM-DD"),
    ("/format", 2, "/format", "1"),
    ("/judge", {"season": "2027", "from": "2027-01-01"}, "/judge", "either"),
    ("/sightings", [{"bed": "kiln", "date": "2025-07-01", "of": "clubrot"}], "/sightings/0/of", "clubroot"),
    ("/gardn", {}, "/gardn", "garden"),
]


@pytest.mark.parametrize(("path", "value", "pointer", "words"), REJECTED, ids=[f"{r[0]}-{r[3]}" for r in REJECTED])
def test_a_fault_in_a_plan_is_told_with_its_place(
    client: FlaskClient, path: str, value: Any, pointer: str, words: str
) -> None:
    body = problem(client.post("/v1/checks", json=changed(path, value)), 422, "plan-rejected")
    faults = {fault["pointer"]: fault for fault in body["errors"]}
    assert pointer in faults, faults
    assert words in faults[pointer]["detail"]
    assert faults[pointer]["in"] == "body"
    assert body["total"] == len(body["errors"])


def test_all_faults_are_told_at_once_and_the_first_in_words(client: FlaskClient) -> None:
    plan = changed("/plantings/0/crop", "potatos and chips")
    plan["plantings"][3]["bed"] = "nowhere"
    plan["garden"]["latitude"] = 200
    body = problem(client.post("/v1/checks", json=plan), 422, "plan-rejected")
    assert [fault["pointer"] for fault in body["errors"]] == [
        *("/garden/latitude", "/plantings/0/crop", "/plantings/3/bed")
    ]
    assert "1 of 3" in body["detail"]


def test_faults_in_yaml_have_line_and_column(client: FlaskClient) -> None:
    text = "beds:\n  - {id: kiln}\nplantings:\n  - {bed: kiln, crop: cabage, season: 2027}\n"
    (fault,) = problem(client.post("/v1/checks", data=text, content_type=YAML), 422, "plan-rejected")["errors"]
    assert (fault["pointer"], fault["line"], fault["column"]) == ("/plantings/0/crop", 4, 23)


def test_a_long_list_of_faults_is_cut_short_and_counted(client: FlaskClient) -> None:
    plan = {
        **PLAN,
        "plantings": [{"bed": "kiln", "crop": f"no such {i}", "season": "2026"} for i in range(300)],
    }
    body = problem(client.post("/v1/checks", json=plan), 422, "plan-rejected")
    assert (len(body["errors"]), body["total"]) == (100, 300)
    assert "1 of 300" in body["detail"]


def test_too_many_rows_are_refused(client: FlaskClient) -> None:
    plan = {**PLAN, "plantings": [PLAN["plantings"][0]] * 20_001}
    body = problem(client.post("/v1/checks", json=plan), 422, "plan-rejected")
    assert body["errors"][0]["pointer"] == "/plantings"


@pytest.mark.parametrize("season", ["2100", "1900", "2027-winter"])
def test_a_season_without_plantings_is_no_fault(client: FlaskClient, season: str) -> None:
    assert client.post(f"/v1/checks?season={season}", json=PLAN).status_code == 200


NOTHING = [
    (b"", JSON),
    (b"{", JSON),
    (b"{'beds': []}", JSON),
    (b'{"beds": [], "beds": []}', JSON),
    (b'{"garden": {"latitude": NaN}}', JSON),
    (b'{"garden": {"latitude": Infinity}}', JSON),
    (b'{"garden": {"latitude": 1e400}}', JSON),
    (b'{"format": ' + b"9" * 6000 + b"}", JSON),
    (b'{"garden": {"name": "\xff\xfe"}}', JSON),
    ('{"beds": []}'.encode("utf-16"), JSON),
    (b"[" * 100_000, JSON),
    (b'{"x-a":' * 5_000 + b"1" + b"}" * 5_000, JSON),
    (b"\x00" * 100, JSON),
    (b"a: [1, 2", YAML),
    (b"a: 1\na: 2\n", YAML),
    (b"a: &x [1]\nb: *x\n", YAML),
    (b"a: !!python/object/apply:os.system [ls]\n", YAML),
    (b"beds:\n\t- id: kiln\n", YAML),
    (b"a: 1\n---\nb: 2\n", YAML),
    (b"[" * 2000, YAML),
    (b"a: \xff\n", YAML),
    (b"%YAML 9.9\n---\na: 1\n", YAML),
]


@pytest.mark.parametrize(("body", "kind"), NOTHING, ids=[f"{kind[12:]}-{body[:20]!r}" for body, kind in NOTHING])
def test_what_is_no_document_is_refused_and_never_a_500(client: FlaskClient, body: bytes, kind: str) -> None:
    answer = client.post("/v1/checks", data=body, content_type=kind)
    slug = {400: "unreadable", 422: "plan-rejected"}[answer.status_code]
    found = problem(answer, answer.status_code, slug)
    assert found["detail"]


@pytest.mark.parametrize("body", [b"null", b"[]", b'"beds"', b"7", b'{"bed": []}'])
def test_a_document_that_is_no_plan_is_rejected(client: FlaskClient, body: bytes) -> None:
    for kind in (JSON, YAML):
        assert problem(client.post("/v1/checks", data=body, content_type=kind), 422, "plan-rejected")["errors"]


def test_what_is_too_large_is_refused(client: FlaskClient) -> None:
    for size, kind in ((12 << 20, JSON), (MAX_BODY + 1, JSON), (MAX_BODY - 1, JSON), (257 << 10, YAML)):
        body = problem(client.post("/v1/checks", data=b" " * size, content_type=kind), 413, "too-large")
        assert ("256 KB" if kind == YAML else "4 MB") in body["detail"]


def test_a_large_body_sent_in_chunks_is_refused_too(client: FlaskClient) -> None:
    from io import BytesIO

    request = {
        "input_stream": BytesIO(b" " * (12 << 20)),
        "environ_overrides": {"wsgi.input_terminated": True},
    }
    for application in (app, build(Config(checks_per_minute=10))):
        answer = application.test_client().post("/v1/checks", content_type=JSON, **request)
        problem(answer, 413, "too-large")
        request["input_stream"].seek(0)


@pytest.mark.parametrize(
    ("headers", "words"),
    [
        ({}, "missing"),
        ({"Content-Type": "text/plain"}, "text/plain"),
        ({"Content-Type": "application/x-www-form-urlencoded"}, "form"),
        ({"Content-Type": "multipart/form-data; boundary=x"}, "multipart"),
        ({"Content-Type": "nonsense"}, "nonsense"),
        ({"Content-Type": "application/json; charset=latin-1"}, "UTF-8"),
        ({"Content-Type": "application/json", "Content-Encoding": "gzip"}, "gzip"),
    ],
)
def test_other_content_types_are_refused_with_what_is_read(
    client: FlaskClient, headers: dict[str, str], words: str
) -> None:
    answer = client.post("/v1/checks", data=json.dumps(PLAN), headers=headers)
    body = problem(answer, 415, "unsupported-media-type")
    assert body["accepted"] == list(ACCEPTED)
    assert answer.headers["Accept-Post"] == ", ".join(ACCEPTED)
    assert words in body["detail"]


QUERIES = [
    ("/v1/checks?sesaon=2027", "sesaon", "season"),
    ("/v1/checks?season=next", "season", "2027"),
    ("/v1/checks?season=2027%0A", "season", "2027"),
    ("/v1/checks?season=", "season", "2027"),
    ("/v1/checks?season=2026&season=2027", "season", "twice"),
    ("/v1/checks?severity=bad", "severity", "breach"),
    ("/v1/checks?include=everything", "include", "history"),
    ("/v1/checks?format=html", "format", "text"),
    ("/v1/crops?limit=0", "limit", "1"),
    ("/v1/crops?limit=201", "limit", "200"),
    ("/v1/crops?limit=1_0", "limit", "integer"),
    ("/v1/crops?limit=%D9%A3", "limit", "integer"),
    ("/v1/crops?limit=" + "9" * 5000, "limit", "integer"),
    ("/v1/crops?cursor=%00", "cursor", "cursor"),
    ("/v1/crops?q=", "q", "1"),
    ("/v1/crops?page=2", "page", "cursor"),
    ("/v1/crops/kale?format=json", "format", "no such parameter"),
    ("/v1/rules/rotation.family-too-soon?format=text", "format", "html"),
]


@pytest.mark.parametrize(("address", "name", "words"), QUERIES)
def test_a_bad_parameter_is_named(client: FlaskClient, address: str, name: str, words: str) -> None:
    method = client.post if address.startswith("/v1/checks") else client.get
    answer = method(address, json=PLAN) if method == client.post else method(address)
    body = problem(answer, 400, "bad-query")
    (fault,) = body["errors"]
    assert (fault["in"], fault["parameter"]) == ("query", name)
    assert words in fault["detail"]
    assert name in body["detail"]


STRANGE = [
    "%00",
    "%FF%FE",
    "..%2F..%2Fetc",
    "a" * 5000,
    "%F0%9F%A5%95",
    "x'--",
    "{{7*7}}",
    "<script>",
    "%0d%0aX: y",
]


@pytest.mark.parametrize("name", STRANGE)
@pytest.mark.parametrize("path", ["crops", "groups", "families", "diseases", "rules", "sources"])
def test_a_strange_name_is_not_found(client: FlaskClient, path: str, name: str) -> None:
    answer = client.get(f"/v1/{path}/{name}")
    assert answer.status_code == 404
    assert answer.content_type == "application/problem+json"
    assert len(answer.get_json()["detail"]) < 400


@pytest.mark.parametrize("path", ["/nowhere", "/v1", "/v2/checks", "//v1/checks", "/docs/x", "/static/none.css"])
def test_an_address_that_does_not_exist(client: FlaskClient, path: str) -> None:
    for accept in ("*/*", "text/html"):
        problem(client.get(path, headers={"Accept": accept}), 404, "not-found")


@pytest.mark.parametrize("path", [rule.rule for rule in app.url_map.iter_rules()])
def test_every_route_refuses_other_methods(client: FlaskClient, path: str) -> None:
    address = path.replace("<name>", "kale").replace("<slug>", "too-large").replace("<path:filename>", "pages.css")
    allowed = {method for rule in app.url_map.iter_rules() if rule.rule == path for method in rule.methods or ()}
    for method in {"DELETE", "PATCH", "PUT", "TRACE", "BREW"} - allowed:
        answer = client.open(address, method=method)
        body = problem(answer, 405, "method-not-allowed")
        assert "OPTIONS" in answer.headers["Allow"]
        assert body["instance"] == address


@pytest.mark.parametrize("status", sorted(default_exceptions))
def test_every_error_of_the_framework_is_problem_details(status: int) -> None:
    other = build(Config(checks_per_minute=0))
    other.add_url_rule("/fail", view_func=lambda: abort(status))
    answer = other.test_client().get("/fail")
    assert answer.status_code == status
    assert answer.content_type == "application/problem+json"
    body = answer.get_json()
    assert body["status"] == status
    assert body["title"]
    assert body["detail"]
    assert "<" not in body["detail"]
    assert body["type"] == "about:blank" or other.test_client().get(body["type"]).status_code == 200


def test_a_fault_of_ours_says_nothing_of_the_inside(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise RuntimeError("secret of the house")

    monkeypatch.setattr("rules.check", fail)
    answer = client.post("/v1/checks", json=PLAN, headers={"X-Request-ID": "plot-7"})
    problem(answer, 500, "internal-error")
    assert "secret" not in answer.get_data(as_text=True)
    assert "plot-7" in caplog.text
    assert "secret of the house" in caplog.text


def test_every_type_of_problem_has_a_help_page(client: FlaskClient) -> None:
    listed = client.get("/problems").get_data(as_text=True)
    for kind in KINDS.values():
        page = client.get(kind.type)
        assert (page.status_code, page.content_type) == (200, "text/html; charset=utf-8")
        assert kind.title in page.get_data(as_text=True)
        assert f'href="{kind.type}"' in listed
    problem(client.get("/problems/none"), 404, "not-found")
