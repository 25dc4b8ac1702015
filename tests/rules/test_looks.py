"""What a rule looks at, in words: every kind has a sentence, every option its meaning, every side its crops."""

from __future__ import annotations

from typing import Any

import pytest

import rules
from rules.checks import KINDS
from rules.knowledge.explain import example_text, explained, rule_text
from rules.knowledge.looks import looks_at, side_in_words
from rules.knowledge.yamlfile import load

KNOWLEDGE = rules.load_knowledge()
#: Kinds whose options are told together, in sentences of their own.
TOLD_WHOLE = ("pair",)
ROW = """
overlay: Mill Lane
pairs:
  interplant.borage-among-okra:
    severity: benefit
    points: 1
    effect: pest
    options:
      a: {crops: [borage]}
      b: {groups: [onion], families: [Malvaceae], except: [roselle]}
      acts: ACTS
      about: pest_reduction
      pests: [green_peach_aphid]
      diseases: [southern_blight]
      others: [leaf hoppers]
      only_if: {a_before_b: [30, 60], within_m: 10, treated: true}
      measured: [{of: thrips on the onions, value: "-49", unit: percent}]
      against: One count found no difference.
    title: "{a} beside {b} in {bed}: fewer thrips"
    why: The club counted them.
    fix: Alternate the rows of {a} and {b}.
    evidence: {grade: trial, sources: [iowa_rotation], contested_by: [psu_families]}
    cautions: [label_first]
"""


def club(acts: str = "a_on_b") -> tuple[Any, rules.Knowledge]:
    knowledge = rules.load_knowledge(load(ROW.replace("ACTS", acts), "club.yaml"))
    return knowledge.rules["interplant.borage-among-okra"], knowledge


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_says_what_it_looks_at_and_what_each_option_means(kind: str) -> None:
    assert KINDS[kind].looks_at.endswith(".")
    for name, key in KINDS[kind].options.items():
        assert kind in TOLD_WHOLE or key.says, name
        if key.among and not isinstance(key.says, str):
            assert set(key.says) == set(key.among), name


@pytest.mark.parametrize("rule_id", KNOWLEDGE.rules)
def test_what_a_rule_looks_at_is_told_in_whole_sentences(rule_id: str) -> None:
    for line in looks_at(KNOWLEDGE.rules[rule_id], KNOWLEDGE):
        assert line[0].isupper()
        assert line.endswith(".")
        assert not set(line) & set("{}_[]<>'")


@pytest.mark.parametrize(
    ("side", "said"),
    [
        ({"crops": ["zucchini"]}, "courgettes"),
        ({"crops": ["leek", "garlic"]}, "leeks and garlic"),
        ({"groups": ["onion"]}, "onions (onions from seed and onions from sets)"),
        ({"groups": ["brassica"]}, "brassicas"),
        ({"families": ["Brassicaceae"], "except": ["kale"]}, "all of the cabbage family, but not kale"),
        ({"traits": {"kind": ["green_manure"]}}, "all crops that are grown as green manures"),
        (
            {"families": ["Fabaceae"], "traits": {"fixes_nitrogen": True, "lifecycle": ["annual", "biennial"]}},
            "all of the pea and bean family, of these the ones that fix nitrogen and that are annual or biennial",
        ),
        (
            {"traits": {"small_seed": False, "depletion": [0.3]}},
            "all crops with large seeds and whose depletion is 0.3",
        ),
    ],
)
def test_a_side_is_told_by_its_crops(side: dict[str, Any], said: str) -> None:
    assert side_in_words(side, KNOWLEDGE) == said


def test_a_pair_tells_both_sides_the_targets_and_every_condition() -> None:
    rule, knowledge = club()
    assert looks_at(rule, knowledge)[1:] == (
        "The crop that acts: borage.",
        "The crop that it acts on: onions (onions from seed and onions from sets) and all of the mallow family, "
        "but not roselle.",
        "What it is about: fewer pests.",
        f"Against: {knowledge.pests['green_peach_aphid'].name} and leaf hoppers.",
        "Diseases: southern blight.",
        "Where: at most 10 m apart, for 14 days or more.",
        "Only if the borage goes in 30 to 60 days before the crops.",
        "Only if they stand within 10 m of each other.",
        "Only if pests on the borage are treated or taken off in time.",
    )
    both, knowledge = club("both")
    assert looks_at(both, knowledge)[1:3] == (
        "One crop: borage.",
        "The other, and each acts on the other: onions (onions from seed and onions from sets) and all of the "
        "mallow family, but not roselle.",
    )


def test_the_page_tells_figures_what_speaks_against_it_and_cautions() -> None:
    rule, knowledge = club()
    page = explained(rule, knowledge)
    assert page.title == "Borage beside crops in (bed): fewer thrips"
    assert page.fix == "Alternate the rows of borage and crops."
    text = rule_text(rule, knowledge)
    for part in (
        "\nMeasured\nthrips on the onions: -49 percent\n",
        "- Contested by Penn State Extension: ",
        "- What speaks against it: One count found no difference.",
        knowledge.cautions["label_first"].text,
        "+1, counts towards pests and diseases",
    ):
        assert part in text


def test_an_example_is_one_readable_line() -> None:
    plan = {
        "beds": [{"id": "a"}, {"id": "b", "kind": "raised", "position": {"x": 2, "y": 0}}],
        "plantings": [
            {"bed": "a", "crop": "bush_bean", "season": 2027},
            {"bed": "b", "crop": "kale", "start": "2027-04-01", "end": "2027-09-30", "count": 9, "part": [0, 0.5]},
            {"bed": "b", "crop": "kale", "start": "2026-04-01", "status": "lost"},
        ],
        "sightings": [{"bed": "a", "of": "clubroot", "date": "2026-07-01"}],
        "amendments": [{"bed": "a", "kind": "raw_manure", "date": "2026-10-01"}],
        "treatments": [{"bed": "b", "active": "soap", "date": "2027-06-01"}],
        "covers": [{"bed": "b", "kind": "net", "mesh": 0.8, "start": "2027-04-01"}],
    }
    assert example_text(plan, KNOWLEDGE).split("; ") == [
        "bed a: dwarf French bean 2027",
        "bed b: kale 2027-04-01 to 2027-09-30, part [0, 0.5], 9 plants",
        "bed b: kale 2026-04-01, lost",
        "clubroot seen in bed a on 2026-07-01",
        "raw manure in bed a on 2026-10-01",
        "soap used in bed b on 2027-06-01",
        "net of 0.8 mm over bed b from 2027-04-01",
        "bed b: raised, lies at 2 m east, 0 m north",
    ]
