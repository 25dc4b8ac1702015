"""What published guidance says of one crop after another, held against the rules of order.

The expectations stand in sequence.yaml, worked out from the sources named there and not from our output.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from case_plans import SOUTH, document, expected, found, half_a_year_on, judge, knowledge, spoken

HERE = Path(__file__).parent
TABLE: dict[str, list[dict[str, Any]]] = yaml.safe_load((HERE / "sequence.yaml").read_text(encoding="utf-8"))
OTHERS: dict[str, list[dict[str, Any]]] = yaml.safe_load((HERE / "cases.yaml").read_text(encoding="utf-8"))
GROUPS = ("sequence", "rotation", "disease")
CASES = [pytest.param(case, id=case["id"]) for case in TABLE["cases"]]
TWINS = [pytest.param(case, id=case["id"]) for case in TABLE["cases"] if case.get("twin", True)]
#: Rules of order that no published case is needed for: they tell the first safe day where a plan gives no harvest.
WITHOUT_CASE = {"sequence.manure-harvest-open"}


@pytest.mark.parametrize("case", CASES)
def test_published_case(case: dict[str, Any]) -> None:
    plan, report = judge(document(case))
    assert found(plan, report, GROUPS) == expected(case), case["says"]
    assert report.score["sequence"] == case.get("points", 0)
    told = [f.because for f in spoken(report, GROUPS) if f.rule.startswith("sequence.")]
    for key, value in case.get("because", {}).items():
        assert told[0][key] == value


@pytest.mark.parametrize("case", CASES)
def test_each_source_of_a_case_is_one_of_its_finding(case: dict[str, Any]) -> None:
    """What a case cites is named by the rules that it expects, or it expects none."""
    rules = [knowledge().rules[line.split()[1]] for line in expected(case) if " sequence." in line]
    cited = {key for rule in rules for key in (*rule.evidence.sources, *rule.evidence.contested_by)}
    if rules and not any(" disease." in line for line in expected(case)):
        assert set(case["src"]) & cited


@pytest.mark.parametrize("case", TWINS)
def test_southern_twin(case: dict[str, Any]) -> None:
    """Dates half a year later and a southern latitude: the same findings."""
    plan, report = judge(half_a_year_on(document(case, SOUTH)))
    assert found(plan, report, GROUPS) == expected(case), case["says"]


def test_every_rule_of_order_has_a_case() -> None:
    shown = {line.split()[1] for case in TABLE["cases"] for line in case["expect"]}
    assert {rule for rule in knowledge().rules if rule.startswith("sequence.")} - shown == WITHOUT_CASE


def test_every_published_rule_became_one_of_ours_or_is_shown_by_a_case() -> None:
    cases = {case["id"] for table in (TABLE, OTHERS) for case in table["cases"]}
    for statement in TABLE["statements"]:
        assert statement.get("rules") or statement.get("cases"), statement["of"]
        assert set(statement.get("rules", ())) <= set(knowledge().rules), statement["of"]
        assert set(statement.get("cases", ())) <= cases, statement["of"]
    assert len(TABLE["statements"]) == 22 + 11  # rules of order and of green manures in the reference


def test_at_least_twenty_orders_are_held_against_their_sources() -> None:
    assert len({line for case in TABLE["cases"] for line in case["expect"] if " sequence." in line}) >= 20
