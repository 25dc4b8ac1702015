"""Pair rules: sides, conditions, precedence, and what an overlay may add."""

from __future__ import annotations

from typing import Any

import pytest

import rules
from rules.knowledge.library import load_knowledge
from rules.knowledge.lint import lint, lint_ruleset
from rules.knowledge.shapes import KnowledgeError
from rules.knowledge.yamlfile import load
from service.rehearsal import never_heard, told_in

#: A whole pair of a club's own; tests change one thing in it.
ROW = """
overlay: Mill Lane
pairs:
  interplant.{name}:
    severity: {severity}
    points: {points}
    effect: pest
    options:
      a: {a}
      b: {b}
      acts: {acts}
      about: pest_reduction
      {options}
    title: "{{a}} beside {{b}} in {{bed}}: fewer thrips"
    why: The club counted them for three summers.
    fix: Alternate the rows.
    evidence: {{grade: practice, sources: [common practice]}}
"""
PLAIN: dict[str, Any] = {
    "name": "borage-among-okra",
    "severity": "benefit",
    "points": 1,
    "a": "{crops: [borage]}",
    "b": "{crops: [okra]}",
    "acts": "a_on_b",
    "options": "only_if: {}",
}


def knowledge_with(*rows: dict[str, Any]) -> rules.Knowledge:
    """The package's knowledge with pairs of a club's own."""
    texts = [ROW.format(**PLAIN | row) for row in rows]
    body = texts[0] + "".join(text.split("pairs:\n")[1] for text in texts[1:])
    return load_knowledge(load(body, "club.yaml"))


def row(bed: str, crop: str, start: str, end: str = "2027-09-30", **rest: Any) -> dict[str, Any]:
    return {"bed": bed, "crop": crop, "start": start, "end": end, **rest}


def found(knowledge: rules.Knowledge, *rows: dict[str, Any], **parts: Any) -> list[tuple[str, int, str]]:
    """Severity, points and title of what the club's own pairs say of a plan."""
    report = told_in({"plantings": list(rows), "judge": {"season": 2027}, **parts}, knowledge)
    own = {rule for rule in knowledge.rules if rule not in load_knowledge().rules}
    return [(f.severity, f.points, f.title) for f in report.findings if f.rule in own]


OKRA = row("a", "okra", "2027-05-01")


@pytest.mark.parametrize(
    ("only_if", "partner", "parts", "unmet"),
    [
        ("{a_before_b: [30, null]}", row("a", "borage", "2027-04-01"), {}, None),
        (
            "{a_before_b: [30, null]}",
            row("a", "borage", "2027-04-02"),
            {},
            "the borage goes in 30 days or more before the okra",
        ),
        ("{a_before_b: [-10, 10]}", row("a", "borage", "2027-05-11"), {}, None),
        (
            "{a_before_b: [-10, 10]}",
            row("a", "borage", "2027-05-12"),
            {},
            "the borage goes in within 10 days of the okra",
        ),
        ("{young: 60}", row("a", "borage", "2027-03-16"), {}, None),
        (
            "{young: 60}",
            row("a", "borage", "2027-03-15"),
            {},
            "they stand together while the borage is young, up to about 60 days",
        ),
        ("{plants: [0.5, null]}", row("a", "borage", "2027-05-01", count=5), {"count": 10}, None),
        (
            "{plants: [0.5, null]}",
            row("a", "borage", "2027-05-01", count=4),
            {"count": 10},
            "there are at least 50 borage plants for every 100 okra plants",
        ),
        (
            "{plants: [0.5, null]}",
            row("a", "borage", "2027-05-01"),
            {},
            "there are at least 50 borage plants for every 100 okra plants",
        ),
        ("{ground: [ground]}", row("a", "borage", "2027-05-01"), {}, None),
        ("{ground: [greenhouse]}", row("a", "borage", "2027-05-01"), {}, "they grow under glass"),
        (
            "{treated: true}",
            row("a", "borage", "2027-05-01"),
            {},
            "pests on the borage are treated or taken off in time",
        ),
        ("{also: the bed is ringed}", row("a", "borage", "2027-05-01"), {}, "the bed is ringed"),
    ],
)
def test_a_help_counts_only_where_its_condition_is_met(
    only_if: str, partner: dict[str, Any], parts: dict[str, Any], unmet: str | None
) -> None:
    knowledge = knowledge_with({"options": f"only_if: {only_if}"})
    told = found(knowledge, OKRA | parts, partner)
    assert len(told) == 1
    severity, points, title = told[0]
    if unmet is None:
        assert (severity, points) == ("benefit", 1)
        assert "only if" not in title
    else:
        assert (severity, points) == ("advice", 0)
        assert title.endswith(f", but only if {unmet}")


def test_a_harm_whose_condition_is_not_met_is_silent() -> None:
    knowledge = knowledge_with({"severity": "advice", "points": -1, "options": "only_if: {a_before_b: [0, 0]}"})
    assert found(knowledge, OKRA, row("a", "borage", "2027-05-01"))[0][:2] == ("advice", -1)
    assert found(knowledge, OKRA, row("a", "borage", "2027-05-02")) == []


@pytest.mark.parametrize(
    ("rows", "spoken"),
    [
        ((row("a", "okra", "2027-05-01", part=[0, 0.5]), row("a", "borage", "2027-05-01", part=[0.5, 1])), True),
        ((row("a", "okra", "2027-05-01", part=[0, 0.4]), row("a", "borage", "2027-05-01", part=[0.6, 1])), False),
        ((row("a", "okra", "2027-05-01"), row("b", "borage", "2027-05-01")), False),
        ((row("a", "okra", "2027-05-01"), row("a", "borage", "2027-03-01", "2027-05-13")), False),
        ((row("a", "okra", "2027-05-01"), row("a", "borage", "2027-03-01", "2027-05-14")), True),
    ],
)
def test_neighbours_stand_in_one_bed_side_by_side_for_a_fortnight(rows: tuple[Any, ...], spoken: bool) -> None:
    assert bool(found(knowledge_with({}), *rows)) is spoken


def beds(apart_m: float) -> list[dict[str, Any]]:
    return [
        {"id": "a", "position": {"x": 0, "y": 0}, "length": 100, "width": 100},
        {"id": "b", "position": {"x": 1 + apart_m, "y": 0}, "length": 100, "width": 100},
    ]


@pytest.mark.parametrize(("apart_m", "told"), [(1.5, "benefit"), (9.9, "benefit"), (10.1, None)])
def test_a_rule_may_reach_into_another_bed(apart_m: float, told: str | None) -> None:
    knowledge = knowledge_with({"options": "only_if: {within_m: 10}"})
    rows = (OKRA, row("b", "borage", "2027-05-01"))
    assert [severity for severity, *_ in found(knowledge, *rows, beds=beds(apart_m))] == ([told] if told else [])


@pytest.mark.parametrize(("apart_m", "told"), [(1, "advice"), (3, "benefit"), (6, "benefit"), (6.5, None)])
def test_a_rule_may_ask_for_bare_ground_between(apart_m: float, told: str | None) -> None:
    knowledge = knowledge_with({"options": "only_if: {gap_m: [3, 6]}"})
    rows = (OKRA, row("b", "borage", "2027-05-01"))
    assert [severity for severity, *_ in found(knowledge, *rows, beds=beds(apart_m))] == ([told] if told else [])


def test_beds_without_positions_may_be_near_and_that_is_said() -> None:
    knowledge = knowledge_with({"options": "only_if: {within_m: 10}"})
    told = found(knowledge, OKRA, row("b", "borage", "2027-05-01"), beds=[{"id": "a"}, {"id": "b"}])
    assert told[0][:2] == ("advice", 0)
    assert told[0][2].endswith("only if they stand within 10 m of each other")


def test_a_crops_own_rule_speaks_before_its_familys() -> None:
    wide = {"name": "borage-among-mallows", "b": "{families: [Malvaceae]}"}
    knowledge = knowledge_with({}, wide)
    titles = found(knowledge, OKRA, row("a", "borage", "2027-05-01"))
    assert len(titles) == 1
    answer = rules.pairs(knowledge.crops["okra"], knowledge.crops["borage"], knowledge)
    behind = {one.rule: one.behind for one in answer.statements if one.rule.startswith("interplant.borage-among")}
    assert behind == {
        "interplant.borage-among-okra": None,
        "interplant.borage-among-mallows": "interplant.borage-among-okra",
    }
    roselle = found(knowledge, row("a", "roselle", "2027-05-01"), row("a", "borage", "2027-05-01"))
    assert len(roselle) == 1


def test_a_symmetric_rule_speaks_once_whichever_is_which() -> None:
    knowledge = knowledge_with({"acts": "both"})
    first, second = knowledge.crops["okra"], knowledge.crops["borage"]
    assert len(knowledge.pairs.between(first, second)) == len(knowledge.pairs.between(second, first))
    told = [one.rule for one in rules.pairs(first, second, knowledge).statements]
    assert told.count("interplant.borage-among-okra") == 1


def test_the_same_rule_in_one_bed_is_told_once() -> None:
    okra = [row("a", "okra", "2027-05-01", id=f"o{n}") for n in range(3)]
    borage = [row("a", "borage", "2027-05-01", id=f"b{n}") for n in range(3)]
    assert len(found(knowledge_with({}), *okra, *borage)) == 1


def test_a_growers_own_crop_is_not_confused_with_another_plans() -> None:
    knowledge = knowledge_with({"b": "{families: [Malvaceae]}"})
    for family, told in (("Malvaceae", True), ("Oxalidaceae", False), ("Malvaceae", True)):
        own = {"crops": [{"id": "mystery", "family": family}]}
        rows = (row("a", "mystery", "2027-05-01"), row("a", "borage", "2027-05-01"))
        assert bool(found(knowledge, *rows, **own)) is told


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"a": "{crops: [borrage]}"}, "unknown crop 'borrage'; did you mean 'borage'?"),
        ({"a": "{groups: [herbs]}"}, "unknown group 'herbs'; did you mean 'herb'?"),
        ({"b": "{families: [Malvacea]}"}, "unknown family 'Malvacea'; did you mean 'Malvaceae'?"),
        ({"b": "{crops: [okra], except: [okra]}"}, "no crop of the catalogue belongs to this side"),
        ({"options": "only_if: {within: 3}"}, "unknown key 'within'; did you mean 'within_m'?"),
        ({"options": "only_if: {a_before_b: [3, 1]}"}, "the smaller first"),
        ({"options": "only_if: {young: 20, a_before_b: [10, null]}"}, "b comes when a is no longer young"),
        ({"options": "only_if: {within_m: 2, gap_m: [3, 6]}"}, "the least gap is wider than within_m"),
        ({"options": "pests: [squash_bugs]"}, "unknown pest 'squash_bugs'; did you mean 'squash_bug'?"),
        ({"options": "pests: [squash_bug]"}, "squash_bug feeds on no crop of this side"),
        ({"points": 2}, "2 points are more than this evidence carries"),
    ],
)
def test_a_pair_that_could_never_speak_is_refused_at_its_place(change: dict[str, Any], fault: str) -> None:
    with pytest.raises(KnowledgeError, match=r"club\.yaml:\d+:\d+") as refused:
        knowledge_with(change)
    assert fault in str(refused.value)


def test_an_overlay_does_not_take_the_name_of_a_rule() -> None:
    own = ROW.format(**PLAIN).replace("interplant.borage-among-okra", "rotation.family-too-soon")
    assert any("in the rule set already" in problem.message for problem in lint(own, "club.yaml"))


def test_lint_finds_a_pair_that_a_more_specific_one_always_speaks_for() -> None:
    knowledge = knowledge_with({}, {"name": "borage-among-pods", "b": "{crops: [okra], traits: {kind: [vegetable]}}"})
    assert lint_ruleset(knowledge) == []
    covered = knowledge_with(
        {"b": "{families: [Malvaceae]}"},
        {"name": "borage-among-okra-too", "b": "{crops: [okra, roselle, cotton, hollyhock]}"},
    )
    assert ["can never speak" in problem.message for problem in lint_ruleset(covered)] == [True]


def test_every_pair_of_an_overlay_is_heard() -> None:
    knowledge = knowledge_with({"options": "only_if: {a_before_b: [30, 60], plants: [0.2, 0.4], treated: true}"})
    own = [rule for rule in knowledge.rules.values() if rule.id == "interplant.borage-among-okra"]
    assert never_heard(own, knowledge) == []
