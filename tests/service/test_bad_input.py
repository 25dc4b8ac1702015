"""What people and programs send by mistake, and what is sent on purpose, at both doors."""

from __future__ import annotations

import copy
import json
import re
import socket
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.app import build
from service.cli import main
from service.config import Config

app = build(Config(checks_per_minute=0))
JSON, YAML = "application/json", "application/yaml"
PLAN: dict[str, Any] = {
    "as_of": "2026-11-20",
    "judge": {"season": "2027"},
    "garden": {"name": "Row", "latitude": 46.2},
    "beds": [{"id": "kiln"}, {"id": "quay"}],
    "plantings": [
        {"id": "p1", "bed": "kiln", "crop": "kale", "season": "2026"},
        {"id": "p2", "bed": "kiln", "crop": "cabbage", "start": "2027-04-20", "end": "2027-09-30"},
    ],
}


@pytest.fixture
def client() -> FlaskClient:
    return app.test_client()


def problem(answer: Any, status: int, slug: str) -> dict[str, Any]:
    assert (answer.status_code, answer.content_type) == (status, "application/problem+json"), answer.data[:300]
    body = answer.get_json()
    assert (body["type"], body["status"]) == (f"/problems/{slug}", status)
    assert body["request_id"] == answer.headers["X-Request-ID"]
    return dict(body)


#: Keys changed in the second planting, the key the fault stands at, and words of the fault.
PLANTING: list[tuple[dict[str, Any], str, str]] = [
    ({"crop": "cabagge"}, "crop", "did you mean cabbage"),
    ({"crop": "Käle"}, "crop", "kale"),
    ({"crop": "ka\u202ele"}, "crop", "control characters"),
    ({"crop": "\ud800"}, "crop", "control characters"),
    ({"crop": "   "}, "crop", "empty"),
    ({"crop": None}, "crop", "missing"),
    ({"crop": ["kale"]}, "crop", "a list"),
    ({"bed": "kilnn"}, "bed", "kiln"),
    ({"bed": "kiln "}, "bed", "letters, digits"),
    ({"bed": 1}, "bed", "'1'"),
    ({"id": "../x"}, "id", "letters, digits"),
    ({"id": "p" * 65}, "id", "64 at most"),
    ({"id": "p1"}, "id", "twice"),
    ({"crop ": "kale"}, "crop ", "did you mean 'crop'"),
    ({"": 1}, "", "unknown key"),
    ({"~/": 1}, "~0~1", "unknown key"),
    ({"start": "1899-12-31"}, "start", "1900"),
    ({"start": "2200-01-01"}, "start", "2199"),
    ({"start": "2027-02-29"}, "start", "exists"),
    ({"start": "2027-4-20"}, "start", "YYYY-MM-DD"),
    ({"start": "2027-04-20T00:00:00Z"}, "start", "YYYY-MM-DD"),
    ({"start": 20270420}, "start", "YYYY-MM-DD"),
    ({"end": "2027-04-19"}, "end", "before"),
    ({"first_harvest": "2026-07-20"}, "first_harvest", "lies before the start"),
    ({"first_harvest": "2099-01-01"}, "first_harvest", "lies after the end"),
    ({"season": "2026"}, "start", "not in the season 2026"),
    ({"season": "spring 2027"}, "season", "2027-spring"),
    ({"season": "27"}, "season", "year"),
    ({"season": "٢٠٢٧"}, "season", "year"),
    ({"season": True}, "season", "year"),
    ({"count": 0}, "count", "1 or more"),
    ({"count": -0.0}, "count", "1 or more"),
    ({"count": False}, "count", "whole number"),
    ({"spacing": -5}, "spacing", "1 cm"),
    ({"spacing": "1e999 m"}, "spacing", "10 ft"),
    ({"spacing": 1e308}, "spacing", "1 km"),
    ({"part": [True, False]}, "part", "from 0 to 1"),
    ({"part": [0, 0]}, "part", "from 0 to 1"),
    ({"part": [0.5]}, "part", "two numbers"),
    ({"method": "sown"}, "method", "did you mean 'sow'"),
    ({"status": "lost", "cause": "slgs"}, "cause", "slugs"),
    ({"variety": {"resists": ["clubrot"]}}, "variety/resists/0", "clubroot"),
]


@pytest.mark.parametrize(("keys", "at", "words"), PLANTING, ids=[f"{at}-{words}" for _, at, words in PLANTING])
def test_a_fault_in_a_planting_has_its_pointer(client: FlaskClient, keys: dict[str, Any], at: str, words: str) -> None:
    plan = copy.deepcopy(PLAN)
    plan["plantings"][1].update(keys)
    body = problem(client.post("/v1/checks", data=json.dumps(plan), content_type=JSON), 422, "plan-rejected")
    faults = {fault["pointer"]: fault["detail"] for fault in body["errors"]}
    assert words in faults[f"/plantings/1/{at}"]


#: A key of the plan, its value, the pointer of the fault and words of it.
TOP: list[tuple[str, Any, str, str]] = [
    ("format", True, "/format", "1"),
    ("format", "1", "/format", "1"),
    ("as_of", "tomorrow", "/as_of", "YYYY-MM-DD"),
    ("judge", {}, "/judge", "season"),
    ("judge", {"from": "2028-01-01", "to": "2027-01-01"}, "/judge/to", "before"),
    ("judge", {"season": "2200"}, "/judge/season", "year"),
    ("beds", [{"id": "kiln"}, {"id": "kiln"}], "/beds/1/id", "twice"),
    ("beds", [{"id": "kiln", "kind": "rased"}], "/beds/0/kind", "did you mean 'raised'"),
    ("beds", [{"id": "kiln", "replaces": ["kiln"]}], "/beds/0/replaces", "itself"),
    ("beds", [{"id": "kiln", "replaces": ["kilm"]}], "/beds/0/replaces/0", "kiln"),
    ("garden", {"name": "a\x1b[31m"}, "/garden/name", "control characters"),
    ("garden", {"time_zone": "/etc/localtime"}, "/garden/time_zone", "Europe/Paris"),
    ("garden", {"latitude": "46"}, "/garden/latitude", "number"),
    ("crops", [{"id": "kale", "family": "Poaceae"}], "/crops/0/id", "already"),
    ("crops", [{"id": "oca", "family": "Oxalis"}], "/crops/0/family", "-aceae"),
    ("sightings", [{"bed": "quai", "date": "2025-07-01", "of": "clubroot"}], "/sightings/0/bed", "quay"),
    ("amendments", [{"bed": "kiln", "date": "2027-03-01", "kind": "lyme"}], "/amendments/0/kind", "lime"),
    (
        "covers",
        [{"bed": "kiln", "kind": "net", "start": "2027-05-01", "end": "2027-04-01"}],
        "/covers/0/end",
        "before",
    ),
    (
        "treatments",
        [{"bed": "kiln", "planting": "p22", "date": "2027-06-01", "active": "sulphur"}],
        "/treatments/0/planting",
        "p2",
    ),
    ("Garden", {}, "/Garden", "did you mean 'garden'"),
]


@pytest.mark.parametrize(("key", "value", "pointer", "words"), TOP, ids=[f"{row[2]}-{row[3]}" for row in TOP])
def test_a_fault_elsewhere_has_its_pointer(client: FlaskClient, key: str, value: Any, pointer: str, words: str) -> None:
    body = problem(client.post("/v1/checks", json={**PLAN, key: value}), 422, "plan-rejected")
    faults = {fault["pointer"]: fault["detail"] for fault in body["errors"]}
    assert words in faults[pointer]


#: YAML that is no document or no plan: the line and column told at both doors, and words.
PLACED = [
    ("a: !x 1\n", 1, 4, "tags"),
    ("a: &x 1\n", 1, 4, "aliases"),
    ("a: 1\nb: *x\n", 2, 4, "aliases"),
    ("a: 1\na: 2\n", 2, 1, "twice"),
    ("beds:\n\t- id: a\n", 2, 1, "tab"),
    ("? [1]\n: 2\n", 1, 3, "key"),
    ("- " * 60, 1, 65, "deeper than 32"),
    ("a: 1\n---\nb: 2\n", 2, 1, "document"),
    ("beds: [{id: a}]\nplantings:\n  - {bed: a, crop: cabage, season: 2027}\n", 3, 20, "cabbage"),
    ("beds: [{id: a}]\r\nplantings:\r\n  - {bed: b, crop: kale, season: 2027}\r\n", 3, 11, "'b'"),
    ("beds: [{id: a}]\nplantings: [{bed: a, crop: kale, season: 2027, count: yes}]\n", 2, 55, "whole number"),
    ("beds: [{id: a}]\ngarden: {latitude: .nan}\n", 2, 20, "number"),
    ("beds: [{id: a}]\n<<: {a: 1}\n", 2, 5, "unknown key"),
]


@pytest.mark.parametrize(("text", "line", "column", "words"), PLACED, ids=[repr(row[0][:24]) for row in PLACED])
def test_yaml_faults_have_their_place_at_both_doors(
    client: FlaskClient, text: str, line: int, column: int, words: str,
    tmp_path: Path, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    body = client.post("/v1/checks", data=text.encode(), content_type=YAML).get_json()
    if body["type"] == "/problems/plan-rejected":
        assert (line, column) in {(fault["line"], fault["column"]) for fault in body["errors"]}
    else:
        assert (body["type"], body["status"]) == ("/problems/unreadable", 400)
        assert f"(line {line}, column {column})" in body["detail"]
    path = tmp_path / "plan.yaml"
    path.write_bytes(text.encode())
    assert main(["check", str(path)]) == 65
    shown = capsys.readouterr()
    assert shown.out == ""
    (told,) = [one for one in shown.err.splitlines() if one.startswith(f"{path}:{line}:{column}: ")]
    assert words in told


@pytest.mark.parametrize("kind", [JSON, YAML])
@pytest.mark.parametrize("body", [b"", b" \n\t ", b"\xef\xbb\xbf"])
def test_an_empty_body_is_called_empty(client: FlaskClient, body: bytes, kind: str) -> None:
    found = problem(client.post("/v1/checks", data=body, content_type=kind), 400, "unreadable")
    assert "empty" in found["detail"]


def test_an_empty_standard_input_is_called_empty(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", type("Input", (), {"buffer": BytesIO(b"")})())
    assert main(["check", "-"]) == 65
    assert capsys.readouterr().err == "standard input: the document is empty; send a plan with beds or plantings\n"


class BrokenStream(BytesIO):
    """A body whose chunks are broken, as a server tells it: by an exception of its own."""

    def read(self, *_: Any) -> bytes:
        raise RuntimeError("Invalid chunk size")

    readinto = readline = read


@pytest.mark.parametrize("budget", [0, 10])
def test_broken_chunks_are_the_clients_fault(budget: int) -> None:
    client = build(Config(checks_per_minute=budget)).test_client()
    answer = client.post(
        "/v1/checks", content_type=JSON, input_stream=BrokenStream(),
        environ_overrides={"wsgi.input_terminated": True},
    )  # fmt: skip
    assert "chunks" in problem(answer, 400, "bad-request")["detail"]


def test_the_first_fault_can_be_read_aloud(client: FlaskClient) -> None:
    body = problem(client.post("/v1/checks", json={**PLAN, "as_of": "soon"}), 422, "plan-rejected")
    assert body["detail"].startswith("As of must be a date")
    assert body["errors"][0]["detail"].startswith("as_of must be a date")


def test_no_coding_at_all_is_no_compression(client: FlaskClient) -> None:
    assert client.post("/v1/checks", json=PLAN, headers={"Content-Encoding": ""}).status_code == 200


@pytest.mark.parametrize(
    "accept", ["", ";;;", "q=zz", "text/plain;q=0", "text/plain;q=abc", "application/xml", "text/html"]
)
def test_an_odd_accept_gets_json(client: FlaskClient, accept: str) -> None:
    answer = client.post("/v1/checks", json=PLAN, headers={"Accept": accept})
    assert (answer.status_code, answer.content_type) == (200, JSON)


@pytest.mark.parametrize("path", ["/", "/docs", "/v1/checks", "/v1/crops/kale", "/healthz"])
def test_options_has_no_body_and_no_type(client: FlaskClient, path: str) -> None:
    answer = client.options(path)
    assert (answer.status_code, answer.data, answer.content_type) == (200, b"", None)
    assert "OPTIONS" in answer.headers["Allow"]


@pytest.mark.parametrize("given", ["a b", "x" * 65, "<script>", "a\tb", ""])
def test_a_strange_request_id_is_replaced(client: FlaskClient, given: str) -> None:
    answer = client.get("/healthz", headers={"X-Request-ID": given})
    assert re.fullmatch(r"[0-9a-f]{32}", answer.headers["X-Request-ID"])


def test_marks_of_pages_and_sheets_in_names_do_no_harm(
    client: FlaskClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = {**PLAN, "garden": {"name": "=cmd|1"}, "beds": [{"id": "kiln", "name": "<script>x</script>"}]}
    said = client.post("/v1/checks?format=text", json=plan)
    assert said.content_type.startswith("text/plain")
    assert "<" not in said.get_data(as_text=True)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(plan))
    assert main(["check", str(path), "--format", "csv"]) == 2
    assert [line[:2] for line in capsys.readouterr().out.splitlines()[1:]] == ["'="]


def test_control_characters_of_a_file_name_do_not_reach_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "no\x1b[31m-such.yaml"]) == 66
    assert capsys.readouterr().err == "no?[31m-such.yaml: No such file or directory\n"


def test_streams_that_are_closed_are_no_fault_of_the_program(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", None)
    assert main(["check", "-"]) == 66
    assert capsys.readouterr().err == "standard input: it is closed\n"
    monkeypatch.setattr("sys.stdout", None)
    for form in ("text", "json"):
        assert main(["check", "demo", "--format", form]) == 74
        assert capsys.readouterr().err == "cannot write the output: it is closed\n"


def test_what_is_not_http_is_answered_with_problem_details(monkeypatch: pytest.MonkeyPatch) -> None:
    from gunicorn import util

    monkeypatch.setattr(util, "write_error", util.write_error)  # put back after the test
    from service import gunicorn_conf

    assert util.write_error is gunicorn_conf.refuse
    ours, theirs = socket.socketpair()
    with ours, theirs:
        gunicorn_conf.refuse(ours, 431, "Request Header Fields Too Large", "<b>secret</b>")
        head, _, body = theirs.recv(4096).partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 431 Request Header Fields Too Large\r\n")
    assert b"Content-Type: application/problem+json" in head
    assert f"Content-Length: {len(body)}".encode() in head
    assert json.loads(body)["status"] == 431
    assert b"secret" not in body


def test_a_connection_takes_its_limits_from_its_listener() -> None:
    """What ``when_ready`` relies on: a client that stops half-way gets no thread for good."""
    from service import gunicorn_conf

    with socket.create_server(("127.0.0.1", 0)) as listener:
        holder = type("Listener", (), {"sock": listener})
        gunicorn_conf.when_ready(type("Server", (), {"LISTENERS": [holder]}))
        with socket.create_connection(listener.getsockname()):
            accepted, _ = listener.accept()
            with accepted:
                for option in (socket.SO_RCVTIMEO, socket.SO_SNDTIMEO):
                    value = accepted.getsockopt(socket.SOL_SOCKET, option, 16)
                    assert int.from_bytes(value[:8], "little") == gunicorn_conf.PATIENCE


def test_the_names_of_a_row_are_looked_up_although_its_shape_is_wrong() -> None:
    plan = {
        "beds": [{"id": "a"}],
        "plantings": [
            {"bed": "b", "crop": "cabage", "cout": 3, "start": "2027-05-01", "end": "2027-04-01"},
            {"bed": "a", "crop": "kale", "season": "2026", "status": "lost", "cause": "slgs", "count": 1.5},
        ],
        "sightings": [{"bed": "c", "date": "yesterday", "of": "clubrot"}],
    }
    answer = app.test_client().post("/v1/checks", json=plan)
    assert answer.status_code == 422
    assert {fault["pointer"] for fault in answer.get_json()["errors"]} == {
        "/plantings/0/bed",
        "/plantings/0/crop",
        "/plantings/0/cout",
        "/plantings/0/end",
        "/plantings/1/cause",
        "/plantings/1/count",
        "/sightings/0/bed",
        "/sightings/0/date",
        "/sightings/0/of",
    }
