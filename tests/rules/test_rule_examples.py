"""Every rule's own examples are its tests, and every rule keeps the form that readers rely on."""

from __future__ import annotations

from typing import Any

import pytest

import rules
from rules.checks import CHECKS, KINDS
from rules.knowledge.explain import rule_text
from rules.knowledge.lint import VAGUE_WORDS, lint, lint_ruleset
from rules.knowledge.ruleset import MOST_POINTS, RULE_ID
from service.rehearsal import never_heard, speaks, told_in

KNOWLEDGE = rules.load_knowledge()


def cases(side: str) -> list[Any]:
    return [
        pytest.param(rule_id, plan, id=f"{rule_id}-{n}")
        for rule_id, rule in KNOWLEDGE.rules.items()
        for n, plan in enumerate(rule.examples[side])
    ]


@pytest.mark.parametrize(("rule_id", "plan"), cases("flag"))
def test_a_rule_flags_its_examples(rule_id: str, plan: dict[str, Any]) -> None:
    rule = KNOWLEDGE.rules[rule_id]
    assert speaks(rule, plan, KNOWLEDGE)
    found = [f for f in told_in(plan, KNOWLEDGE).findings if f.rule == rule_id]
    if rule.kind == "pair" and not rule.compiled.in_plan:
        assert found == []  # told only when someone asks about the pair
    elif rule.kind == "pair" and rule.compiled.only_if.also:
        assert (found[0].severity, found[0].points) == ("advice", 0)  # a plan cannot show that it holds
    else:
        assert (found[0].severity, found[0].points) == (rule.severity, rule.points)


@pytest.mark.parametrize(("rule_id", "plan"), cases("ok"))
def test_a_rule_is_silent_on_its_near_misses(rule_id: str, plan: dict[str, Any]) -> None:
    assert rule_id not in {f.rule for f in told_in(plan, KNOWLEDGE).findings}


@pytest.mark.parametrize("rule_id", KNOWLEDGE.rules)
def test_a_rule_is_named_explained_and_grounded(rule_id: str) -> None:
    rule = KNOWLEDGE.rules[rule_id]
    assert RULE_ID.match(rule_id)
    assert not VAGUE_WORDS & set(rule_id.partition(".")[2].split("-"))
    assert rule.why
    assert rule.fix
    assert rule.exceptions
    assert rule.evidence.sources
    assert abs(rule.points) <= MOST_POINTS[rule.evidence.grade]
    for side in ("flag", "ok"):
        assert len({repr(plan) for plan in rule.examples[side]}) >= 2


@pytest.mark.parametrize("rule_id", KNOWLEDGE.rules)
def test_a_rules_page_tells_all_of_it(rule_id: str) -> None:
    rule = KNOWLEDGE.rules[rule_id]
    page = rule_text(rule, KNOWLEDGE)
    for heading in ("What it finds", "Why", "What to do", "Where it stays silent", "Evidence", "Plans it flags"):
        assert f"\n{heading}\n" in page
    assert all(KNOWLEDGE.sources[key].title in page for key in rule.evidence.sources)


def test_every_kind_of_check_is_registered_and_used() -> None:
    assert CHECKS.keys() == KINDS.keys() == {rule.kind for rule in KNOWLEDGE.rules.values()}


def test_the_rule_set_has_no_fault() -> None:
    assert lint_ruleset() == []
    assert never_heard(KNOWLEDGE.rules.values(), KNOWLEDGE) == []


def test_lint_places_faults_and_names_the_nearest_key() -> None:
    text = "rules:\n  rotation.bad-thing:\n    since: '1'\n    kind: family-brake\n    severty: breach\n"
    found = {p.where: p.message for p in lint(text, "club.yaml")}
    assert found["club.yaml:5:14"] == "unknown key 'severty'; did you mean 'severity'?"
    missing = {p.message for p in lint(text, "club.yaml") if p.where == "club.yaml:3:5"}
    assert {f"the key {key!r} is missing" for key in ("severity", "title", "why", "fix", "evidence")} <= missing
