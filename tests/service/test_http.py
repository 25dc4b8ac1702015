"""The routes as a client meets them: forms, caching, paging, limits, headers and pages."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient
from limits.errors import StorageError
from limits.strategies import FixedWindowRateLimiter
from werkzeug.test import TestResponse

import rules
from rules.knowledge.explain import explained
from rules.knowledge.facts import FALLOW
from service.app import build
from service.config import SETTINGS, Config, ConfigError, read_config
from service.examples import PLAN, PLAN_YAML
from service.negotiate import YAML_TYPES
from service.resources.knowledge import KINDS

QUIET = Config(checks_per_minute=0)
COLLECTIONS = [kind.path for kind in KINDS]
app = build(QUIET)


@pytest.fixture
def client() -> FlaskClient:
    return app.test_client()


def check(client: FlaskClient, query: str = "", **request: object) -> TestResponse:
    request.setdefault("json", PLAN)
    return client.post(f"/v1/checks{query}", **request)


# -- the check


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


# -- knowledge


@pytest.mark.parametrize("path", COLLECTIONS)
def test_a_list_is_paged_by_link_and_by_next(client: FlaskClient, path: str) -> None:
    ids: list[str] = []
    address: str | None = f"/v1/{path}?limit=7"
    while address:
        answer = client.get(address)
        page = answer.get_json()
        assert 1 <= len(page["items"]) <= 7
        ids += [item["id"] for item in page["items"]]
        address = page["next"]
        assert answer.headers.get("Link") == (f'<{address}>; rel="next"' if address else None)
    assert ids == sorted(getattr(rules.load_knowledge(), path))


def test_words_are_searched_in_names_and_aliases(client: FlaskClient) -> None:
    def found(query: str) -> set[str]:
        return {item["id"] for item in client.get(f"/v1/crops?q={query}&limit=200").get_json()["items"]}

    assert "zucchini" in found("courgette")
    assert "zucchini" in found("COURG")
    assert "zucchini" not in found("ourgette")
    assert found("brassica+oleracea") < found("brassica")
    assert found("nothingofthatname") == set()


def test_a_search_keeps_its_words_on_the_next_page(client: FlaskClient) -> None:
    first = client.get("/v1/crops?q=brassica&limit=2").get_json()
    second = client.get(first["next"]).get_json()
    assert len(second["items"]) == 2
    assert all("brassica" in item["scientific"].lower() for item in second["items"])
    assert first["items"][-1]["id"] < second["items"][0]["id"]


@pytest.mark.parametrize("path", COLLECTIONS)
def test_every_entry_opens_and_keeps_its_sources(client: FlaskClient, path: str) -> None:
    known = rules.load_knowledge()
    for key in getattr(known, path):
        entry = client.get(f"/v1/{path}/{key}").get_json()
        assert entry["id"] == key
        if path == "rules":
            assert entry["evidence"]["sources"]
        elif path != "sources":
            cited = [source for keys in entry["sources"].values() for source in keys]
            assert cited or key == FALLOW  # an empty season needs no source
            assert set(cited) <= set(known.sources) | {"memory", "common practice", "judgement", "derived"}


@pytest.mark.parametrize("path", COLLECTIONS)
def test_what_the_client_has_is_not_sent_again(client: FlaskClient, path: str) -> None:
    key = next(iter(getattr(rules.load_knowledge(), path)))
    for address in (f"/v1/{path}", f"/v1/{path}/{key}", "/openapi.json"):
        first = client.get(address)
        tag = first.headers["ETag"]
        assert first.status_code == 200
        assert not tag.startswith("W/")
        again = client.get(address, headers={"If-None-Match": tag})
        assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", tag)
        assert client.get(address, headers={"If-None-Match": '"other"'}).status_code == 200


@pytest.mark.parametrize(
    ("asked", "place", "found"),
    [
        ("crops/courgette", "/v1/crops/zucchini", "zucchini"),
        ("crops/Courgettes", "/v1/crops/zucchini", "zucchini"),
        ("crops/onions", "/v1/groups/onion", "onion"),
        ("groups/Onions", "/v1/groups/onion", "onion"),
        ("families/cabbage family", "/v1/families/Brassicaceae", "Brassicaceae"),
        ("families/cruciferae", "/v1/families/Brassicaceae", "Brassicaceae"),
        ("diseases/Club root", "/v1/diseases/clubroot", "clubroot"),
    ],
)
def test_any_name_opens_the_entry_and_says_where_it_is(client: FlaskClient, asked: str, place: str, found: str) -> None:
    answer = client.get(f"/v1/{asked}")
    assert (answer.status_code, answer.headers.get("Content-Location")) == (200, place)
    assert answer.get_json()["id"] == found
    assert client.get(place).data == answer.data
    assert "Content-Location" not in client.get(place).headers


@pytest.mark.parametrize(
    ("asked", "near"),
    [
        ("crops/cabage", "cabbage"),
        ("crops/legum", "legume"),  # a word for several crops, which stands under groups
        ("families/Brasicaceae", "Brassicaceae"),
        ("diseases/clubrot", "clubroot"),
        ("rules/rotation.family-to-soon", "rotation.family-too-soon"),
    ],
)
def test_an_unknown_name_is_answered_with_the_nearest_ids(client: FlaskClient, asked: str, near: str) -> None:
    answer = client.get(f"/v1/{asked}")
    body = answer.get_json()
    assert answer.status_code == 404
    assert body["type"] == "/problems/unknown-name"
    assert body["nearest"][0] == near
    assert set(body) == {"type", "title", "status", "detail", "instance", "request_id", "nearest"}
    path = asked.partition("/")[0]
    assert all(client.get(f"/v1/{path}/{key}").get_json()["id"] == key for key in body["nearest"])


def test_a_rule_is_json_or_a_page(client: FlaskClient) -> None:
    for key in rules.load_knowledge().rules:
        plain = client.get(f"/v1/rules/{key}")
        page = client.get(f"/v1/rules/{key}", headers={"Accept": "text/html,*/*;q=0.8"})
        rule = plain.get_json()
        assert page.content_type == "text/html; charset=utf-8"
        assert plain.headers["ETag"] != page.headers["ETag"]
        assert "Accept" in plain.vary
        assert "Accept" in page.vary
        shown = words(page)
        told = explained(rules.load_knowledge().rules[key], rules.load_knowledge())
        texts = [told.title, told.why, told.fix, told.against or "", *rule["looks_at"], *rule["exceptions"]]
        for text in [*texts, *told.flags, *told.passes]:
            assert " ".join(text.split()) in shown
        assert rule["looks_at"]
        for source in (*rule["evidence"]["sources"], *rule["evidence"]["contested_by"]):
            assert " ".join(rules.load_knowledge().sources[source].title.split()) in shown
        for figure in rule["measured"]:
            assert " ".join(f"{figure['of']} {figure['value']} {figure['unit']}".split()) in shown
        assert len(told.flags) == len(rule["examples"]["flag"]) > 0
        assert len(told.passes) == len(rule["examples"]["ok"]) > 0
        assert client.get(f"/v1/rules/{key}?format=html").data == page.data


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


# -- the budget


def preflight(client: FlaskClient) -> TestResponse:
    asked = {"Origin": "https://club.example", "Access-Control-Request-Method": "POST"}
    return client.options("/v1/checks", headers={**asked, "Access-Control-Request-Headers": "content-type"})


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


# -- health, discovery, pages


def test_health_and_readiness(client: FlaskClient) -> None:
    health, ready = client.get("/healthz"), client.get("/readyz")
    assert (health.status_code, health.get_json()) == (200, {"status": "pass"})
    assert health.content_type == ready.content_type == "application/health+json"
    known = rules.load_knowledge()
    used = {"version": known.version, "digest": known.digest, "overlay": None}
    assert (ready.status_code, ready.get_json()) == (200, {"status": "pass", "rules": used})
    assert ready.headers["Cache-Control"] == "no-store"


def test_without_knowledge_the_process_is_up_and_not_ready(tmp_path) -> None:
    overlay = tmp_path / "club.yaml"
    overlay.write_text("rules: {no.such-rule: {off: true}}\n")
    for path in (overlay, tmp_path / "missing.yaml"):
        client = build(replace(QUIET, rules=str(path))).test_client()
        assert client.get("/healthz").status_code == 200
        ready = client.get("/readyz")
        assert (ready.status_code, ready.get_json()["status"]) == (503, "fail")
        for answer in (check(client), client.get("/v1/crops")):
            assert answer.status_code == 503
            assert answer.get_json()["type"] == "/problems/not-ready"
        assert client.get("/docs").status_code == 200


def test_an_overlay_is_named_in_the_report(tmp_path) -> None:
    overlay = tmp_path / "club.yaml"
    overlay.write_text("overlay: allotments by the quay\nfamilies: {Brassicaceae: {least: 0, better: 1}}\n")
    report = check(build(replace(QUIET, rules=str(overlay))).test_client()).get_json()
    assert report["rules"]["overlay"] == "allotments by the quay"
    assert report["verdict"] != "breach"


def test_the_catalog_leads_to_everything(client: FlaskClient) -> None:
    answer = client.get("/.well-known/api-catalog")
    assert answer.content_type.startswith("application/linkset+json")
    assert 'rel="api-catalog"' in client.head("/.well-known/api-catalog").headers["Link"]
    (links,) = answer.get_json()["linkset"]
    for relation in ("service-desc", "service-doc", "status"):
        for link in links[relation]:
            assert client.get(link["href"]).status_code == 200
    relations = " ".join(client.get("/").headers.getlist("Link"))
    assert all(f'rel="{word}"' in relations for word in ("service-desc", "service-doc", "api-catalog"))


class Page(HTMLParser):
    """The links, loaded files, ids and words of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.loaded: list[str] = []
        self.ids: list[str] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        assert tag not in ("script", "iframe", "form", "img")
        assert "style" not in values
        if "id" in values:
            self.ids.append(values["id"])
        if "href" in values:
            (self.loaded if tag == "link" else self.links).append(values["href"])

    def handle_data(self, data: str) -> None:
        self.words += data.split()


def words(answer: TestResponse) -> str:
    return " ".join(Page(answer.get_data(as_text=True)).words)


@pytest.mark.parametrize("path", ["/", "/docs", "/problems", "/problems/plan-rejected"])
def test_pages_fetch_nothing_from_elsewhere_and_their_links_work(client: FlaskClient, path: str) -> None:
    answer = client.get(path)
    page = Page(answer.get_data(as_text=True))
    assert answer.content_type == "text/html; charset=utf-8"
    assert [address for address in page.loaded if not address.startswith("data:")] == ["/static/pages.css"]
    assert len(page.ids) == len(set(page.ids))
    for link in page.links:
        if link.startswith("#"):
            assert link[1:] in page.ids
        else:
            assert client.get(link).status_code == 200, link
    style = client.get("/static/pages.css", buffered=True).get_data(as_text=True)
    assert "url(" not in style
    assert "@import" not in style


def test_the_reference_shows_every_operation_parameter_and_problem(client: FlaskClient) -> None:
    document = client.get("/openapi.json").get_json()
    page = Page(client.get("/docs").get_data(as_text=True))
    text = " ".join(page.words)
    for path, item in document["paths"].items():
        for method in set(item) - {"parameters"}:
            assert f"{method.upper()} {path}" in text
            assert item[method]["operationId"] in page.ids
            for parameter in item[method].get("parameters", []):
                assert parameter["name"] in page.words
    for name in document["components"]["schemas"]:
        assert f"schema-{name}" in page.ids
    said = check(client, "?format=text").get_data(as_text=True)
    assert " ".join(said.split()) in text


def test_the_home_page_says_what_this_is(client: FlaskClient) -> None:
    assert "rotation" in words(client.get("/"))


def test_under_a_path_of_its_own_links_keep_the_path() -> None:
    client = build(replace(QUIET, proxies=1)).test_client()
    headers = {"X-Forwarded-Prefix": "/rotation"}
    assert client.get("/v1/crops?limit=1", headers=headers).get_json()["next"].startswith("/rotation/v1/crops?")
    assert 'href="/rotation/docs"' in client.get("/", headers=headers).get_data(as_text=True)
    place = client.get("/v1/crops/courgette", headers=headers).headers["Content-Location"]
    assert place == "/rotation/v1/crops/zucchini"


# -- settings


def test_settings_have_defaults_and_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    for setting in SETTINGS:
        monkeypatch.delenv(setting.variable, raising=False)
    assert read_config() == Config()
    monkeypatch.setenv("BREAKCROP_PORT", "9000")
    monkeypatch.setenv("BREAKCROP_CORS_ORIGINS", "https://a.example, https://b.example")
    monkeypatch.setenv("BREAKCROP_RULES", "club.yaml")
    read = read_config()
    assert (read.port, read.rules) == (9000, "club.yaml")
    assert read.cors_origins == ("https://a.example", "https://b.example")


def test_all_bad_settings_are_told_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BREAKCROP_PORT", "eighty")
    monkeypatch.setenv("BREAKCROP_WORKERS", "0")
    monkeypatch.setenv("BREAKCROP_LOG_LEVEL", "loud")
    with pytest.raises(ConfigError) as error:
        read_config()
    for variable in ("BREAKCROP_PORT", "BREAKCROP_WORKERS", "BREAKCROP_LOG_LEVEL"):
        assert variable in str(error.value)
    assert "BREAKCROP_THREADS" not in str(error.value)


def test_every_setting_is_described_once() -> None:
    assert [setting.field for setting in SETTINGS] == list(Config.__dataclass_fields__)
    assert all(setting.help for setting in SETTINGS)
