"""The doors to pests and controls: lists, entries, search, names, cautions, and the command."""

from __future__ import annotations

from itertools import chain

import pytest
from flask.testing import FlaskClient

from rules import load_knowledge
from rules.knowledge.pestshapes import REGIONS
from service.app import build
from service.cli import main
from service.config import Config
from service.pestlookups import COUNTRIES

KNOWN = load_knowledge()
KINDS = {"pests": KNOWN.pests, "controls": KNOWN.controls}


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return build(Config(checks_per_minute=0)).test_client()


@pytest.mark.parametrize("kind", KINDS)
def test_every_entry_is_listed_once_over_all_pages_and_can_be_read(client: FlaskClient, kind: str) -> None:
    address, seen = f"/v1/{kind}?limit=7", []
    while address:
        page = client.get(address).get_json()
        seen += page["items"]
        address = page["next"]
    assert [one["id"] for one in seen] == sorted(KINDS[kind])
    for one in seen:
        assert client.get(f"/v1/{kind}/{one['id']}").get_json() == one


@pytest.mark.parametrize(
    ("asked", "place"),
    [
        ("pests/Woodlice", "/v1/pests/pillbugs_sowbugs"),
        ("pests/carrot fly", "/v1/pests/carrot_rust_fly"),
        ("pests/root-knot nematodes", "/v1/pests/root_knot_nematodes"),
        ("controls/NEEM oil", "/v1/controls/azadirachtin_neem"),
        ("controls/ferric phosphate", "/v1/controls/iron_phosphate_bait"),
    ],
)
def test_any_name_opens_the_entry(client: FlaskClient, asked: str, place: str) -> None:
    answer = client.get(f"/v1/{asked}")
    assert (answer.status_code, answer.headers["Content-Location"]) == (200, place)
    again = client.get(place, headers={"If-None-Match": answer.headers["ETag"]})
    assert again.status_code == 304


@pytest.mark.parametrize(
    ("asked", "near"),
    [("pests/carot fly", "carrot_rust_fly"), ("pests/slgs", "slugs"), ("controls/spinosat", "spinosad")],
)
def test_an_unknown_name_is_answered_with_the_nearest(client: FlaskClient, asked: str, near: str) -> None:
    answer = client.get(f"/v1/{asked}")
    assert answer.status_code == 404
    assert answer.get_json()["nearest"][0] == near


@pytest.mark.parametrize(
    ("query", "count"), [("flea beetle", 11), ("aphid", 6), ("meloidogyne", 1), ("nothing like it", 0)]
)
def test_pests_are_searched_by_words(client: FlaskClient, query: str, count: int) -> None:
    assert len(client.get("/v1/pests", query_string={"q": query, "limit": 100}).get_json()["items"]) == count


def test_what_can_hurt_shows_its_cautions_and_who_to_defer_to(client: FlaskClient) -> None:
    bait = client.get("/v1/controls/iron_phosphate_bait").get_json()
    assert {"bait_and_animals", "label_first"} <= {one["id"] for one in bait["cautions"]}
    for one in chain.from_iterable(client.get(f"/v1/{kind}?limit=100").get_json()["items"] for kind in KINDS):
        for caution in one["cautions"]:
            assert caution["text"] == KNOWN.cautions[caution["id"]].text
            assert caution["defer_to"]


def test_a_pest_names_its_controls_least_harm_first_and_what_its_words_mean(client: FlaskClient) -> None:
    slugs = client.get("/v1/pests/slugs").get_json()
    assert slugs["controls"][-1] == "iron_phosphate_bait"
    assert slugs["max_mesh_mm"] is None
    assert "any soil" in slugs["means"]["overwinters"]
    for key in slugs["controls"]:
        assert "slugs" in client.get(f"/v1/controls/{key}").get_json()["against"]


def test_the_command_tells_hosts_controls_and_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pests", "Slug"]) == 0
    out = capsys.readouterr().out
    for part in ("feeds on:", "Iron phosphate bait", "Defer to: product label; vet or poison centre", "no mesh"):
        assert part in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 80


def test_the_command_tells_every_pest_within_the_page(capsys: pytest.CaptureFixture[str]) -> None:
    for key, pest in KNOWN.pests.items():
        assert main(["pests", key]) == 0
        out = capsys.readouterr().out
        assert out.casefold().startswith(pest.name.casefold())
        assert max(map(len, out.splitlines())) <= 80
        assert " ".join(out.split()).count("Defer to:") == len(
            {*pest.cautions, *chain.from_iterable(one.cautions for one in KNOWN.controls_of(key))}
        )


def test_where_a_pest_lives_is_told_in_names(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pests", "Colorado", "beetle"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "not in Great Britain, Ireland, Australia, New Zealand and Japan" in out
    named = {word for pest in KNOWN.pests.values() for word in (*pest.regions, *pest.absent_from)}
    assert named <= {*COUNTRIES, *REGIONS}


def test_the_command_lists_all_and_those_that_share_a_word(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pests"]) == 0
    listed = " ".join(capsys.readouterr().out.split())
    assert [pest.name for pest in KNOWN.pests.values() if pest.name not in listed] == []
    assert main(["pests", "flea", "beetles"]) == 0
    shared = " ".join(capsys.readouterr().out.split())
    assert shared.count("flea beetle,") == 10
    assert "carrot" not in shared


def test_the_command_gives_the_nearest_to_an_unknown_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pests", "slgs"]) == 65
    assert "nearest: slugs" in capsys.readouterr().err
