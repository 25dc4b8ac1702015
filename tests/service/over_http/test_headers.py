"""Methods, headers, other origins, and the budget."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from check_door import QUIET, check
from flask.testing import FlaskClient
from limits.errors import StorageError
from limits.strategies import FixedWindowRateLimiter
from werkzeug.test import TestResponse

from service.app import build
from service.config import Config
from service.examples import PLAN

# -- methods and headers


@pytest.mark.parametrize("path", ["/v1/crops", "/v1/crops/kale", "/healthz", "/openapi.json", "/", "/docs"])
def test_head_is_get_without_the_body(client: FlaskClient, path: str) -> None:
    whole, head = client.get(path), client.head(path)
    assert (head.status_code, head.data) == (200, b"")
    for name in ("Content-Type", "Content-Length", "ETag"):
        assert head.headers.get(name) == whole.headers.get(name)


@pytest.mark.parametrize(("path", "allowed"), [("/v1/checks", {"POST"}), ("/v1/crops", {"GET", "HEAD"})])
def test_options_and_405_say_what_is_allowed(client: FlaskClient, path: str, allowed: set[str]) -> None:
    assert set(client.options(path).allow) == allowed | {"OPTIONS"}
    refused = client.delete(path)
    assert refused.status_code == 405
    assert {word.strip() for word in refused.headers["Allow"].split(",")} == allowed | {"OPTIONS"}
    assert refused.content_type == "application/problem+json"


def test_a_last_slash_makes_no_difference(client: FlaskClient) -> None:
    assert client.get("/v1/crops/").data == client.get("/v1/crops").data


def test_the_request_id_comes_back(client: FlaskClient) -> None:
    given = client.get("/healthz", headers={"X-Request-ID": "plot-7.morning"})
    assert given.headers["X-Request-ID"] == "plot-7.morning"
    made = [client.get("/healthz").headers["X-Request-ID"] for _ in range(2)]
    assert len(set(made)) == 2
    for bad in ("a b", "x" * 65, "<script>"):
        assert client.get("/healthz", headers={"X-Request-ID": bad}).headers["X-Request-ID"] != bad
    problem = client.get("/nowhere", headers={"X-Request-ID": "plot-7"})
    assert problem.get_json()["request_id"] == problem.headers["X-Request-ID"] == "plot-7"


@pytest.mark.parametrize("path", ["/", "/docs", "/v1/crops", "/nowhere", "/healthz", "/static/pages.css"])
def test_security_headers_stand_on_every_answer(client: FlaskClient, path: str) -> None:
    headers = client.get(path, buffered=True).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]


# -- other origins


def test_no_origin_is_allowed_unless_set(client: FlaskClient) -> None:
    answer = client.get("/v1/crops", headers={"Origin": "https://club.example"})
    assert not [name for name, _ in answer.headers if name.startswith("Access-Control")]


def test_only_the_origins_that_are_set_are_allowed() -> None:
    other = build(replace(QUIET, cors_origins=("https://club.example", "https://plots.example")))
    client = other.test_client()
    answer = check(client, headers={"Origin": "https://club.example"})
    assert answer.headers["Access-Control-Allow-Origin"] == "https://club.example"
    assert {"Accept", "Origin"} <= set(answer.vary)
    assert "ETag" in answer.headers["Access-Control-Expose-Headers"]
    assert "Access-Control-Allow-Credentials" not in answer.headers
    stranger = check(client, headers={"Origin": "https://elsewhere.example"})
    assert "Access-Control-Allow-Origin" not in stranger.headers
    # What a cache keeps for one origin must not be given to another.
    assert "Origin" in stranger.vary
    assert "Origin" in client.get("/v1/crops").vary
    # A page must be able to read why its plan was refused.
    refused = check(client, json={"bed": []}, headers={"Origin": "https://club.example"})
    assert refused.status_code == 422
    assert refused.headers["Access-Control-Allow-Origin"] == "https://club.example"


def test_any_origin_may_be_allowed() -> None:
    client = build(replace(QUIET, cors_origins=("*",))).test_client()
    assert client.get("/v1/crops", headers={"Origin": "https://a.example"}).headers["Access-Control-Allow-Origin"] in (
        "*",
        "https://a.example",
    )


def preflight(client: FlaskClient) -> TestResponse:
    asked = {"Origin": "https://club.example", "Access-Control-Request-Method": "POST"}
    return client.options("/v1/checks", headers={**asked, "Access-Control-Request-Headers": "content-type"})


# -- the budget


def test_checks_have_a_budget_for_each_address() -> None:
    client = build(Config(checks_per_minute=3, cors_origins=("https://club.example",))).test_client()
    for _ in range(3):
        answer = check(client)
        assert (answer.status_code, answer.headers.get("Retry-After")) == (200, None)
    refused = check(client)
    assert refused.status_code == 429
    assert refused.get_json()["type"] == "/problems/too-many-requests"
    assert 1 <= int(refused.headers["Retry-After"]) <= 61
    assert refused.headers["Retry-After"] in refused.get_json()["detail"]
    assert preflight(client).status_code == 200
    assert preflight(client).headers["Access-Control-Allow-Origin"] == "https://club.example"
    assert client.get("/v1/crops").status_code == 200
    assert client.post("/v1/checks", json=PLAN, environ_base={"REMOTE_ADDR": "192.0.2.7"}).status_code == 200


def test_a_large_plan_costs_more() -> None:
    client = build(Config(checks_per_minute=5)).test_client()
    large = json.dumps(PLAN).encode() + b" " * (3 * 64 * 1024)
    assert check(client, json=None, data=large, content_type="application/json").status_code == 200
    assert check(client).status_code == 200
    assert check(client).status_code == 429


def test_a_plan_larger_than_the_whole_budget_can_still_be_sent() -> None:
    client = build(Config(checks_per_minute=2)).test_client()
    large = json.dumps(PLAN).encode() + b" " * (5 * 64 * 1024)
    assert check(client, json=None, data=large, content_type="application/json").status_code == 200
    assert check(client).status_code == 429


def test_checks_are_answered_while_the_counter_is_away(monkeypatch: pytest.MonkeyPatch) -> None:
    client = build(Config(checks_per_minute=1)).test_client()

    def away(*_: object, **__: object) -> bool:
        raise StorageError(ConnectionError("no counter"))

    monkeypatch.setattr(FixedWindowRateLimiter, "hit", away)
    assert [check(client).status_code for _ in range(3)] == [200, 200, 200]


def test_forwarded_addresses_are_believed_only_behind_a_proxy() -> None:
    for proxies, expected in ((0, 429), (1, 200)):
        client = build(Config(checks_per_minute=1, proxies=proxies)).test_client()
        assert check(client, headers={"X-Forwarded-For": "192.0.2.1"}).status_code == 200
        assert check(client, headers={"X-Forwarded-For": "192.0.2.2"}).status_code == expected
