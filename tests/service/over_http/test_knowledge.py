"""Lists and entries as a client meets them: paging, search, caching, names."""

from __future__ import annotations

import pytest
from check_door import words
from flask.testing import FlaskClient

import rules
from rules.knowledge.explain import explained
from rules.knowledge.facts import FALLOW
from service.resources.knowledge import KINDS

COLLECTIONS = [kind.path for kind in KINDS]


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
