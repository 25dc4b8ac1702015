"""The doors to the pair answer: the address, its text, and the command."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

import rules
from rules.knowledge.yamlfile import load
from service.app import build
from service.cli import main
from service.config import Config
from service.pairentries import pair_entry
from service.pairtext import pair_text
from service.schemas.pairs import PairSchema

#: A club's own pairs; with all of ours turned off, no rule that comes later changes what is tested.
OWN = """
overlay: Mill Lane
pairs:
  interplant.borage-among-okra:
    severity: benefit
    points: 2
    effect: pest
    options:
      a: {crops: [borage]}
      b: {crops: [okra]}
      acts: a_on_b
      about: pest_reduction
      pests: [brown_marmorated_stink_bug]
      others: [leaf hoppers]
      only_if: {a_before_b: [30, 60], plants: [0.2, 0.4], treated: true}
      measured:
        - {of: bugs on the okra, value: "-49", unit: percent}
      against: One count found no difference.
    title: "{a} beside {b} in {bed}: fewer stink bugs"
    why: The bugs stayed on the borage.
    fix: Alternate the rows and pick the bugs off the borage.
    evidence: {grade: trial, sources: [iowa_rotation, judgement], contested_by: [psu_families]}
    cautions: [label_first]
  interplant.borage-among-mallows:
    severity: benefit
    points: 1
    effect: pest
    options:
      a: {crops: [borage]}
      b: {families: [Malvaceae]}
      acts: a_on_b
      about: pest_reduction
    title: "{a} near {b} in {bed}: fewer bugs of all kinds"
    why: The club saw it.
    fix: Sow them together.
    evidence: {grade: practice, sources: [common practice]}
  interplant.okra-crowds-climbers:
    severity: advice
    points: -1
    effect: yield
    options:
      a: {crops: [okra]}
      b: {crops: [pole_bean]}
      acts: a_on_b
      about: competition
    title: "{a} beside {b} in {bed}: the beans give less"
    why: Both grow tall and root in the same layer.
    fix: Give the beans a row of their own.
    evidence: {grade: practice, sources: [common practice]}
  interplant.okra-and-endives:
    severity: advice
    points: 0
    effect: none
    options:
      a: {crops: [okra]}
      b: {crops: [endive]}
      acts: both
      about: none_found
      told: pairs
    title: "{a} and {b}: said to like each other, not shown"
    why: It is often said, but no trial support was found.
    fix: Grow them together if it suits the bed.
    evidence: {grade: practice, sources: [common practice]}
"""
KNOWN = rules.load_knowledge()
CLUB = OWN + "rules:\n" + "".join(f"  {rule.id}: {{off: true}}\n" for rule in KNOWN.by_kind.get("pair", ()))


@pytest.fixture(scope="module")
def overlay(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("club") / "club.yaml"
    path.write_text(CLUB, encoding="utf-8")
    return str(path)


@pytest.fixture(scope="module")
def client(overlay: str) -> FlaskClient:
    return build(Config(checks_per_minute=0, rules=overlay)).test_client()


@pytest.fixture(scope="module")
def ours() -> FlaskClient:
    """The service with the rules as they come."""
    return build(Config(checks_per_minute=0)).test_client()


def ask(client: FlaskClient, a: str, b: str) -> dict[str, Any]:
    answer = client.get("/v1/pairs", query_string={"a": a, "b": b})
    assert answer.status_code == 200
    return dict(answer.get_json())


def command(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["pairs", *words]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    return out


def flat(text: str) -> str:
    return " ".join(text.split())


# -- what is known


def test_a_pair_tells_what_was_found_when_on_what_evidence_and_what_speaks_against_it(client: FlaskClient) -> None:
    told = ask(client, "borage", "okra")
    assert (told["verdict"], told["points"]) == ("good", {"pest": 2, "yield": 0})
    assert told["summary"].startswith("Borage can help okra: fewer pests. Only if the borage goes in 30 to 60 days")
    own, wider = told["statements"]
    assert own == {
        "rule": "interplant.borage-among-okra",
        "severity": "benefit",
        "acts": "borage",
        "on": "okra",
        "both_ways": False,
        "about": "pest_reduction",
        "title": "Borage beside okra in one bed: fewer stink bugs",
        "why": "The bugs stayed on the borage.",
        "fix": "Alternate the rows and pick the bugs off the borage.",
        "effect": "pest",
        "points": 2,
        "pests": [KNOWN.pests["brown_marmorated_stink_bug"].name, "leaf hoppers"],
        "conditions": [
            "the borage goes in 30 to 60 days before the okra",
            "there are 20 to 40 borage plants for every 100 okra plants",
            "pests on the borage are treated or taken off in time",
        ],
        "measured": [{"of": "bugs on the okra", "value": "-49", "unit": "percent"}],
        "evidence": {"grade": "trial", "sources": ["iowa_rotation", "judgement"], "contested_by": ["psu_families"]},
        "against": "One count found no difference.",
        "cautions": own["cautions"],
        "sure": True,
        "behind": None,
    }
    assert [(one["id"], one["text"]) for one in own["cautions"]] == [
        ("label_first", KNOWN.cautions["label_first"].text)
    ]
    assert (wider["rule"], wider["behind"]) == ("interplant.borage-among-mallows", "interplant.borage-among-okra")


def test_the_command_tells_the_same_to_a_member(capsys: pytest.CaptureFixture[str], overlay: str) -> None:
    out = command(capsys, "Borage", "OKRA", "--rules", overlay)
    assert out.startswith("Borage and okra\n---------------\nBorage can help okra: fewer pests. Only if")
    said = flat(out)
    for part in (
        "Points: pests +2, where every condition is met",
        "Benefit: Borage beside okra in one bed: fewer stink bugs",
        "Why: The bugs stayed on the borage.",
        "Points: pests: helps the okra, +2",
        "Only if: there are 20 to 40 borage plants for every 100 okra plants.",
        "Measured: bugs on the okra: -49 percent.",
        "Evidence: Measured in trials: Iowa State University Extension. In part: our own judgement. Contested by Penn",
        "But: One count found no difference.",
        "Do: Alternate the rows and pick the bugs off the borage.",
        "Caution: We name active ingredients, not products.",
        "Rule: interplant.borage-among-okra",
    ):
        assert part in said
    # What a wider rule says comes last and in one line.
    tail = said.partition("Said more widely, and not counted here")[2]
    assert "interplant.borage-among-mallows: Borage near okra in one bed: fewer bugs of all kinds." in tail
    assert "The club saw it" not in said


@pytest.mark.parametrize(
    ("a", "b", "verdict", "summary"),
    [
        ("okra", "runner bean", "unknown", "Nothing known for or against okra with runner beans as neighbours."),
        ("okra", "climbing French bean", "poor", "Okra can harm climbing French beans: competition for light,"),
        ("okra", "endive", "no_effect", "Okra and endives: no effect that can be counted on was found."),
        ("okra", "beans", "unknown", "Okra and beans: it depends on the kind;"),
        ("okra", "ladies' fingers", "unknown", "That is one crop: okra among okra are no pair."),
        ("onion", "onions", "unknown", "That is one crop: onions among onions are no pair."),
        (
            "cabbage",
            "kale",
            "unknown",
            "Nothing known for or against cabbages with kale as neighbours. Both are of the",
        ),
    ],
)
def test_the_verdict_says_which_way_it_points(client: FlaskClient, a: str, b: str, verdict: str, summary: str) -> None:
    told = ask(client, a, b)
    assert told["verdict"] == verdict
    assert told["summary"].startswith(summary)


def test_a_word_for_several_crops_says_for_which_of_them_it_holds(client: FlaskClient) -> None:
    told = ask(client, "okra", "beans")
    (only,) = [one for one in told["statements"] if one["rule"] == "interplant.okra-crowds-climbers"]
    assert not only["sure"]
    assert told["points"] == {"pest": 0, "yield": 0}
    notes = flat(" ".join(told["notes"]))
    assert "holds for climbing French beans, not for all beans, so it is not counted" in notes
    assert '"Beans" here means' in notes
    assert told["b"]["members"] == sorted(KNOWN.groups["bean"].members)


def test_where_nothing_is_known_it_says_so_and_what_follows_from_the_crops(
    client: FlaskClient, capsys: pytest.CaptureFixture[str], overlay: str
) -> None:
    told = ask(client, "carrot", "sweetcorn")
    assert (told["verdict"], told["statements"]) == ("unknown", [])
    assert any("not the same as harmless" in note for note in told["notes"])
    assert any(text.startswith("Height: sweetcorn grows taller and will shade carrots") for text in told["traits"])
    said = flat(command(capsys, "carrot", "sweetcorn", "--rules", overlay))
    assert "Nothing known for or against carrots with sweetcorn as neighbours." in said
    assert "What follows from how they grow" in said


def test_shared_pests_and_diseases_are_those_of_the_facts(client: FlaskClient) -> None:
    told = ask(client, "cabbage", "kale")
    assert told["family"] == "Brassicaceae"
    both = {key for key, pest in KNOWN.pests.items() if {"cabbage", "kale"} <= pest.hosts}
    assert {one["id"] for one in told["shared_pests"]} == both
    assert {one["id"] for one in told["shared_diseases"]} == {
        key for key, disease in KNOWN.diseases.items() if {"cabbage", "kale"} <= disease.hosts
    }
    # Those that feed on most crops come last.
    wide = [one["wide"] for one in told["shared_pests"]]
    assert wide == sorted(wide)
    assert ask(client, "cabbage", "cabbages")["shared_pests"] == []


PAIRS = [
    ("onion", "cabbage"), ("borage", "okra"), ("okra", "beans"), ("maize", "French bean"), ("tomato", "basil"),
    ("cabbage", "kale"), ("leek", "carrot"), ("white clover", "cabbage"),
]  # fmt: skip


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_either_order_says_the_same(ours: FlaskClient, a: str, b: str) -> None:
    one, other = ask(ours, a, b), ask(ours, b, a)
    assert (one["a"], one["b"]) == (other["b"], other["a"])
    for key in ("verdict", "points", "statements", "family", "shared_pests", "shared_diseases"):
        assert one[key] == other[key]
    assert len(one["traits"]) == len(other["traits"])
    assert sorted(one["notes"]) == sorted(other["notes"])


def test_the_order_of_asking_changes_no_answer() -> None:
    """A rule that works both ways is told from the same side, whoever asked first."""
    crops = KNOWN.crops
    both = [pair for pair in PAIRS if all(KNOWN.find_crop(word) for word in pair)]
    told = []
    for turn in (1, -1):
        fresh = rules.load_knowledge(load("overlay: none of ours\n", "club.yaml"))
        named = [[fresh.find_crop(word) for word in pair][::turn] for pair in both]
        told.append([rules.pairs(a, b, fresh).statements for a, b in named if a and b])
    assert len(crops) > len(told[0]) == len(both)
    assert [[(one.rule, one.title) for one in pair] for pair in told[0]] == [
        [(one.rule, one.title) for one in pair] for pair in told[1]
    ]


def test_every_rule_about_pairs_is_told_at_both_doors_and_fits_its_schema() -> None:
    schema = PairSchema()
    for rule in KNOWN.by_kind.get("pair", ()):
        a = next(crop for crop in rule.compiled.a.crops(KNOWN.facts))
        b = next(crop for crop in rule.compiled.b.crops(KNOWN.facts) if crop is not a)
        answer = rules.pairs(a, b, KNOWN)
        plain = pair_entry(answer, KNOWN)
        assert schema.validate(plain) == {}
        told = {one["rule"]: one for one in plain["statements"]}
        text = pair_text(answer, KNOWN)
        assert rule.id in told
        assert rule.id in text.split() or f"{rule.id}:" in text.split()
        assert max(map(len, text.splitlines())) <= 80
        if told[rule.id]["behind"] is None:
            assert flat(told[rule.id]["why"]) in flat(text)


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


# -- faults

MISSING = "Name the {} crop, as in a=onion&b=cabbage."


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


# -- the same rules in a report

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
