"""The check as a client meets it: forms, seasons, severities, and the day where the garden lies."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from check_door import check
from flask.testing import FlaskClient

from service.examples import PLAN, PLAN_YAML
from service.negotiate import YAML_TYPES


def test_a_plan_in_json_gives_the_report(client: FlaskClient) -> None:
    answer = check(client)
    assert answer.status_code == 200
    assert answer.content_type == "application/json"
    assert answer.headers["Cache-Control"] == "no-store"
    assert "Accept" in answer.vary
    report = answer.get_json()
    assert list(report) == [
        *("format", "rules", "as_of", "judged", "seasons_read", "verdict"),
        *("score", "findings", "not_checked", "beds", "notes"),
    ]
    assert report["verdict"] == "breach"
    assert report["judged"] == {"from": "2027-01-01", "to": "2027-12-31", "season": "2027"}
    assert report["seasons_read"]["2025"] == {"from": "2025-04-01", "to": "2025-10-31"}
    assert {bed["bed"] for bed in report["beds"]} == {"kiln", "quay"}
    assert any(one["plantings"] == ["p1"] and one["severity"] == "breach" for one in report["findings"])


@pytest.mark.parametrize("media_type", [*YAML_TYPES, "application/yaml; charset=UTF-8"])
def test_yaml_by_any_of_its_names_gives_the_same_report(client: FlaskClient, media_type: str) -> None:
    answer = check(client, json=None, data=PLAN_YAML, content_type=media_type)
    assert answer.status_code == 200
    assert answer.get_json()["verdict"] == "breach"
    assert answer.data == check(client, json=None, data=PLAN_YAML, content_type="application/yaml").data


def test_the_same_plan_gives_the_same_bytes(client: FlaskClient) -> None:
    assert check(client).data == check(client).data


@pytest.mark.parametrize(
    ("query", "accept", "expected"),
    [
        ("", None, "application/json"),
        ("", "*/*", "application/json"),
        ("", "application/json", "application/json"),
        ("", "text/plain", "text/plain; charset=utf-8"),
        ("", "text/plain;q=0.9, application/json;q=0.2", "text/plain; charset=utf-8"),
        ("", "text/*", "text/plain; charset=utf-8"),
        ("", "image/png", "application/json"),
        ("", "this is no header,,;;q=x", "application/json"),
        ("?format=text", "application/json", "text/plain; charset=utf-8"),
        ("?format=json", "text/plain", "application/json"),
    ],
)
def test_the_form_follows_format_and_then_accept(
    client: FlaskClient, query: str, accept: str | None, expected: str
) -> None:
    answer = check(client, query, headers={"Accept": accept} if accept else {})
    assert (answer.status_code, answer.content_type) == (200, expected)
    assert "Accept" in answer.vary


def test_the_short_answer_can_be_read_aloud(client: FlaskClient) -> None:
    said = check(client, "?format=text").get_data(as_text=True)
    assert 20 < len(said) < 600
    assert "abbage" in said
    assert "\n" not in said
    assert not set(said) & set("{}[]<>|_#*")


def test_history_adds_what_went_wrong_before(client: FlaskClient) -> None:
    plan = {**PLAN, "plantings": [*PLAN["plantings"], {"bed": "kiln", "crop": "kale", "season": "2024"}]}
    plan["plantings"] = [*plan["plantings"], {"bed": "kiln", "crop": "cabbage", "season": "2023"}]
    now = {one["title"] for one in check(client, json=plan).get_json()["findings"]}
    ever = {one["title"] for one in check(client, "?include=history", json=plan).get_json()["findings"]}
    assert now < ever


def test_another_season_can_be_judged(client: FlaskClient) -> None:
    report = check(client, "?season=2026").get_json()
    assert report["judged"]["season"] == "2026"
    assert report["judged"]["from"] == "2026-01-01"
    assert report["verdict"] != "breach"


def test_severity_shortens_the_list_and_nothing_else(client: FlaskClient) -> None:
    whole = check(client).get_json()
    short = check(client, "?severity=breach").get_json()
    kept = [one for one in whole["findings"] if one["severity"] == "breach"]
    assert kept
    assert short == {**whole, "findings": kept}


def test_today_is_the_date_in_the_gardens_zone(client: FlaskClient) -> None:
    # At any hour the date differs from that of UTC in one of the two.
    zones = ("Pacific/Kiritimati", "Etc/GMT+12")
    garden = {key: value for key, value in PLAN.items() if key != "as_of"}
    for zone in zones:
        before = datetime.now(ZoneInfo(zone)).date().isoformat()
        report = check(client, json={**garden, "garden": {"time_zone": zone}}).get_json()
        assert before <= report["as_of"] <= datetime.now(ZoneInfo(zone)).date().isoformat()
    before = datetime.now(UTC).date().isoformat()
    assert before <= check(client, json={**garden, "garden": {}}).get_json()["as_of"]
