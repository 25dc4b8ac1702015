"""What is known of two crops side by side."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient
from mill_lane import KNOWN, ask, command, flat

import rules
from rules.knowledge.yamlfile import load
from service.app import build
from service.config import Config
from service.pairentries import pair_entry
from service.pairtext import pair_text
from service.schemas.pairs import PairSchema


@pytest.fixture(scope="module")
def ours() -> FlaskClient:
    """The service with the rules as they come."""
    return build(Config(checks_per_minute=0)).test_client()


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
