"""``POST /v1/checks/batch`` as a client meets it."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest
from club import make_world
from plots import sheets
from werkzeug.test import TestResponse

from service.resources.batch import PLANS, SHEET
from service.schemas.batch import BatchErrorSchema, BatchReportSchema, BatchSummarySchema

WORLD = make_world(batch_mb=1)
NDJSON = "application/x-ndjson"


def post(body: bytes | str, query: str = "season=2027", kind: str = "text/csv", **headers: str) -> TestResponse:
    given = {**WORLD.ours.headers("garden_read"), **headers}
    return WORLD.client.post(f"/v1/checks/batch?{query}", data=body, content_type=kind, headers=given, buffered=True)


def lines(answer: TestResponse) -> list[dict[str, Any]]:
    return [json.loads(line) for line in answer.get_data().splitlines()]


def test_a_sheet_is_answered_line_by_line() -> None:
    answer = post(SHEET, "season=2027&format=ndjson&latitude=46.2&country=FR&rotation=short")
    assert answer.status_code == 200
    assert answer.content_type == f"{NDJSON}; charset=utf-8"
    assert answer.headers["Cache-Control"] == "no-store"
    one, two, last = lines(answer)
    assert (one["type"], one["line"], one["garden"], one["report"]["verdict"]) == ("report", 2, "Plot 1", "caution")
    assert (two["type"], two["line"], two["garden"]) == ("error", 5, "Plot 2")
    assert "did you mean cabbage" in two["errors"][0]["detail"]
    assert (last["type"], last["complete"], last["gardens"], last["failed"]) == ("summary", True, 2, 1)


def test_an_answer_has_the_form_that_came_in_unless_another_is_asked_for() -> None:
    for body, kind in ((SHEET, "text/csv"), (PLANS, NDJSON)):
        assert post(body, kind=kind).mimetype == kind
        assert post(body, kind=kind, Accept="*/*").mimetype == kind
        assert post(body, kind=kind, Accept="text/csv").mimetype == "text/csv"
        assert post(body, kind=kind, Accept=NDJSON).mimetype == NDJSON
        assert post(body, "season=2027&format=csv", kind=kind, Accept=NDJSON).mimetype == "text/csv"
    rows = list(csv.DictReader(io.StringIO(post(SHEET).get_data(as_text=True))))
    assert [row["type"] for row in rows if row["garden"] == "Plot 2"] == ["error"]


def test_what_all_share_stands_in_the_address_or_in_the_first_line() -> None:
    plan = '{"plantings": [{"bed": "kiln", "crop": "kale", "season": "2027"}]}\n'
    south = lines(post(plan, "latitude=-40", NDJSON))[0]["report"]
    assert south["seasons_read"]["2027"]["from"] == "2027-10-01"
    told = lines(post('{"type": "site", "garden": {"latitude": -40}}\n' + plan, "", NDJSON))[0]["report"]
    assert told["seasons_read"] == south["seasons_read"]
    twice = post(PLANS, "latitude=46", NDJSON)
    assert (twice.status_code, twice.get_json()["type"]) == (422, "/problems/sheet-rejected")


def test_every_line_is_as_documented() -> None:
    made = sheets(80)
    schemas = {"report": BatchReportSchema(), "error": BatchErrorSchema(), "summary": BatchSummarySchema()}
    found = lines(post(made.plots, "season=2027&format=ndjson&site=row"))
    assert {line["type"] for line in found} == set(schemas)
    ill = {"beds": [{"id": "a", "position": {"x": 0, "y": 0}}], "garden": {"name": "Plot 9", "site": "row"}}
    ill["sightings"] = [{"bed": "a", "date": "2025-07-01", "of": "clubroot"}]
    found += lines(post(json.dumps(ill) + "\n{}\n", kind=NDJSON))
    for line in found:
        assert schemas[line["type"]].validate(line) == {}
    assert found[-1]["diseases"]["plots"][0]["by"] == "position"


@pytest.mark.parametrize(
    ("body", "query", "kind", "status", "slug", "said"),
    [
        (SHEET, "", "text/csv", 422, "sheet-rejected", "season=2027"),
        (SHEET, "season=next", "text/csv", 400, "bad-query", "Write a year"),
        (SHEET, "season=2027&latitude=99", "text/csv", 400, "bad-query", "latitude"),
        (SHEET, "season=2027&last_spring_frost=02-30", "text/csv", 400, "bad-query", "MM-DD"),
        (SHEET, "season=2027&lattitude=9", "text/csv", 400, "bad-query", "Did you mean latitude?"),
        (SHEET, "season=2027&time_zone=Europe/Pariss", "text/csv", 422, "sheet-rejected", "Europe/Paris"),
        (PLANS, "season=2027", "text/csv", 422, "sheet-rejected", "send it as application/x-ndjson"),
        (SHEET, "season=2027", NDJSON, 422, "sheet-rejected", "send it as text/csv"),
        ("", "season=2027", "text/csv", 422, "sheet-rejected", "nothing to read"),
        ("garden,bed,season,corp\n", "season=2027", "text/csv", 422, "sheet-rejected", "no column 'corp'"),
        ('{"type": "site", "bed": {"legnth": 3}}\n', "", NDJSON, 422, "sheet-rejected", "did you mean 'length'"),
        (SHEET, "season=2027", "application/json", 415, "unsupported-media-type", "text/csv"),
        (b"x" * (1024 * 1024 + 1), "season=2027", "text/csv", 413, "too-large", "1 MB"),
    ],
)
def test_what_stops_the_whole_batch(
    body: bytes | str, query: str, kind: str, status: int, slug: str, said: str
) -> None:
    answer = post(body, query, kind)
    assert (answer.status_code, answer.get_json()["type"]) == (status, f"/problems/{slug}")
    assert said in answer.get_json()["detail"]


def test_a_sheet_may_be_larger_than_a_plan() -> None:
    big = make_world(batch_mb=8)
    plots = "".join(f"Plot {number},kiln,2027,kale,{'n' * 4000}\n" for number in range(1_100))
    body = ("garden,bed,season,crop,x-note\n" + plots).encode()
    assert len(body) > 4 * 1024 * 1024 + 64 * 1024
    headers = big.ours.headers("garden_read")
    answer = big.client.post(
        "/v1/checks/batch?season=2027&format=csv", data=body, content_type="text/csv", headers=headers, buffered=True
    )
    assert answer.status_code == 200
    assert answer.get_data().count(b",verdict,,Plot") == 1_100


def test_a_token_that_reads_a_garden_is_needed() -> None:
    url = "/v1/checks/batch?season=2027"
    bare = WORLD.client.post(url, data=SHEET, content_type="text/csv")
    assert bare.status_code == 401
    assert bare.headers["WWW-Authenticate"].startswith("Bearer")
    statuses = {scope: post(SHEET, **WORLD.ours.headers(scope)).status_code for scope in WORLD.ours.secrets}
    assert {scope for scope, status in statuses.items() if status == 200} == {
        "garden_read",
        "garden_write",
        "club_admin",
    }
    assert {status for status in statuses.values() if status != 200} == {403}
