"""Health, discovery, pages and settings."""

from __future__ import annotations

from dataclasses import replace

import pytest
from check_door import QUIET, Page, check, words
from flask.testing import FlaskClient

import rules
from service.app import build
from service.config import SETTINGS, Config, ConfigError, read_config

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
