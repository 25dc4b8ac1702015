"""The doors to the pair answer: forms, faults, and the same rules in a report."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from mill_lane import ask, command, flat

from service.app import build
from service.cli import main
from service.config import Config

# -- forms


@pytest.mark.parametrize(
    ("query", "accept", "expected"),
    [
        ("", None, "application/json"),
        ("", "text/plain", "text/plain; charset=utf-8"),
        ("", "text/html,*/*;q=0.8", "application/json"),
        ("&format=text", "application/json", "text/plain; charset=utf-8"),
        ("&format=json", "text/plain", "application/json"),
    ],
)
def test_the_form_follows_format_and_then_accept(
    client: FlaskClient, query: str, accept: str | None, expected: str
) -> None:
    answer = client.get(f"/v1/pairs?a=onion&b=cabbage{query}", headers={"Accept": accept} if accept else {})
    assert (answer.status_code, answer.content_type) == (200, expected)
    assert "Accept" in answer.vary


def test_text_is_what_the_command_prints(client: FlaskClient, capsys: pytest.CaptureFixture[str], overlay: str) -> None:
    text = client.get("/v1/pairs?a=borage&b=okra&format=text").get_data(as_text=True)
    assert text == command(capsys, "borage", "okra", "--rules", overlay)


def test_the_command_gives_json_as_the_address_does(
    client: FlaskClient, capsys: pytest.CaptureFixture[str], overlay: str
) -> None:
    assert main(["pairs", "borage", "okra", "--format", "json", "--rules", overlay]) == 0
    assert json.loads(capsys.readouterr().out) == ask(client, "borage", "okra")


def test_what_the_client_has_is_not_sent_again(client: FlaskClient) -> None:
    tags = set()
    for address in (
        "/v1/pairs?a=onion&b=cabbage",
        "/v1/pairs?a=onion&b=cabbage&format=text",
        "/v1/pairs?a=okra&b=kale",
    ):
        first = client.get(address)
        tag = first.headers["ETag"]
        tags.add(tag)
        assert first.headers["Cache-Control"] == "public, max-age=300"
        again = client.get(address, headers={"If-None-Match": tag})
        assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", tag)
        assert "Accept" in again.vary
    assert len(tags) == 3
    assert client.get("/v1/pairs?a=Onions&b=cabbages").headers["ETag"] in tags


@pytest.mark.parametrize("word", ["courgette", "Zucchini", "COURGETTES", "summer squash", "courgette "])
def test_crops_go_by_any_of_their_names(client: FlaskClient, word: str) -> None:
    assert ask(client, word, "onion")["a"] == {
        "id": "zucchini", "name": "courgette", "plural": "courgettes", "members": [],
    }  # fmt: skip


MISSING = "Name the {} crop, as in a=onion&b=cabbage."


# -- faults


@pytest.mark.parametrize(
    ("query", "status", "faults"),
    [
        ("", 400, {"a": MISSING.format("one"), "b": MISSING.format("other")}),
        ("a=onion", 400, {"b": MISSING.format("other")}),
        ("a=onion&b=", 400, {"b": MISSING.format("other")}),
        ("a=%20%20&b=onion", 400, {"a": MISSING.format("one")}),
        ("a=oniom", 400, {"a": "No crop is called 'oniom'. Nearest: onion.", "b": MISSING.format("other")}),
        ("a=onion&a=leek&b=kale", 400, {"a": "It stands twice; once is enough."}),
        ("a=onion&b=kale&c=leek", 400, {"c": "There is no such parameter here. Known: a, b, format."}),
        ("a=onion&b=kale&format=html", 400, {"format": "Must be one of: json, text."}),
        (f"a=onion&b={'k' * 81}", 400, {"b": "Longer than maximum length 80."}),
        ("a=oniom&b=kale", 404, {"a": "No crop is called 'oniom'. Nearest: onion."}),
        (
            "a=oniom&b=cabage",
            404,
            {"a": "No crop is called 'oniom'. Nearest: onion.", "b": "No crop is called 'cabage'. Nearest: cabbage"},
        ),
        (
            "a=Solanaceae&b=kale",
            404,
            {"a": "'Solanaceae' is a plant family, not a crop. Name one of its crops, such as"},
        ),
        ("a=Dipsacaceae&b=kale", 404, {"a": "'Dipsacaceae' is a plant family, not a crop."}),
        ("a=kale&b=rotation.family-too-soon", 404, {"b": "'rotation.family-too-soon' is a rule, not a crop."}),
        (
            "a=clubroot&b=slugs",
            404,
            {"a": "'clubroot' is a disease, not a crop.", "b": "'slugs' is a pest, not a crop."},
        ),
        ("a=kale&b=fallow", 404, {"b": "'fallow' is empty ground, not a crop."}),
    ],
)
def test_every_fault_is_told_at_once_by_its_parameter(
    client: FlaskClient, query: str, status: int, faults: dict[str, str]
) -> None:
    answer = client.get(f"/v1/pairs?{query}")
    body = answer.get_json()
    assert (answer.status_code, answer.content_type) == (status, "application/problem+json")
    assert body["type"] == ("/problems/bad-query" if status == 400 else "/problems/unknown-name")
    told = {fault["parameter"]: fault["detail"] for fault in body["errors"]}
    assert told.keys() == faults.keys()
    for name, detail in faults.items():
        assert told[name].startswith(detail)
        assert told[name] in body["detail"]
    assert "ETag" not in answer.headers


def test_nearest_ids_of_both_names_open_an_entry(client: FlaskClient) -> None:
    near = client.get("/v1/pairs?a=oniom&b=Solanaceae").get_json()["nearest"]
    assert near[0] == "onion"
    assert len(near) > 1
    assert all(client.get(f"/v1/crops/{key}").status_code == 200 for key in near)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (
            ["oniom", "cabage"],
            65,
            ["no crop is called 'oniom'; nearest: onion", "no crop is called 'cabage'; nearest: cab"],
        ),
        (["kale", "Solanaceae"], 65, ["'Solanaceae' is a plant family, not a crop; name one of its crops, such as"]),
        (["kale", "x" * 200], 65, [f"no crop is called '{'x' * 80}'"]),
        (["kale"], 64, ['name two crops, one of several words in quotes: breakcrop pairs "broad bean" cabbage']),
        (["broad", "bean", "kale"], 64, ["in quotes"]),
        ([], 64, ["name two crops"]),
        (["kale", "leek", "--format", "csv"], 64, ["csv"]),
        (["kale", "leek", "--rules", "/nowhere.yaml"], 66, ["/nowhere.yaml"]),
    ],
)
def test_the_command_tells_every_fault(
    capsys: pytest.CaptureFixture[str], words: list[str], status: int, said: list[str]
) -> None:
    assert main(["pairs", *words]) == status
    shown = capsys.readouterr()
    assert shown.out == ""
    assert all(part in shown.err for part in said)


def test_without_knowledge_it_is_not_ready(tmp_path: Path) -> None:
    broken = tmp_path / "broken.yaml"
    broken.write_text("overlay: [", encoding="utf-8")
    client = build(Config(checks_per_minute=0, rules=str(broken))).test_client()
    assert client.get("/v1/pairs?a=onion&b=kale").status_code == 503


def test_the_document_shows_the_real_answer(client: FlaskClient) -> None:
    shown = client.get("/openapi.json").get_json()["paths"]["/v1/pairs"]["get"]
    example = shown["responses"]["200"]["content"]["application/json"]["example"]
    asked = {one["name"]: one["example"] for one in shown["parameters"] if "example" in one}
    assert example == ask(client, asked["a"], asked["b"])


PLAN = """
as_of: 2026-11-20
judge: {season: 2027}
garden: {name: Mill Lane, latitude: 46.2}
beds: [{id: a, name: Mill bed}]
plantings:
  - {bed: a, crop: borage, start: 2027-05-01, end: 2027-09-01}
  - {bed: a, crop: okra, start: 2027-05-10, end: 2027-09-20}
"""


ONLY_IF = (
    "Borage beside okra in Mill bed: fewer stink bugs, but only if the borage goes in 30 to 60 days before the okra "
    "and there are 20 to 40 borage plants for every 100 okra plants "
    "and pests on the borage are treated or taken off in time"
)


# -- the same rules in a report


def test_a_help_whose_conditions_are_open_is_told_as_advice_in_every_form(
    client: FlaskClient, capsys: pytest.CaptureFixture[str], overlay: str, tmp_path: Path
) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN, encoding="utf-8")
    forms = {}
    for form in ("text", "json", "csv"):
        main(["check", str(path), "--rules", overlay, "--format", form])
        forms[form] = capsys.readouterr().out
    (finding,) = [one for one in json.loads(forms["json"])["findings"] if one["rule"].startswith("interplant")]
    assert (finding["title"], finding["severity"], finding["points"]) == (ONLY_IF, "advice", 0)
    assert f"Advice: {ONLY_IF}" in flat(forms["text"])
    assert "Points:" not in forms["text"]
    assert max(map(len, forms["text"].splitlines())) <= 80
    (row,) = [one for one in csv.DictReader(io.StringIO(forms["csv"])) if one["rule"].startswith("interplant")]
    assert (row["title"], row["severity"]) == (ONLY_IF, "advice")
    headers = {"Content-Type": "application/yaml", "Accept": "text/plain"}
    spoken = client.post("/v1/checks", data=PLAN, headers=headers).get_data(as_text=True)
    assert "Borage beside okra in Mill bed, fewer stink bugs, but only if the borage goes in 30 to 60 days" in spoken
    assert len(spoken) < 600
