"""What published trials and guidance say of two crops side by side, held against the pair rules.

Each row of ``pairs_*.yaml`` is typed from the statement of its source (keys of
``rules/facts/sources.yaml``): which crops, which effect, which sign, which pests; where the
circumstances matter, a tiny plan with them and what the check has to make of it.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import yaml

import rules
from service.rehearsal import told_in

HERE = Path(__file__).parent
KNOWLEDGE = rules.load_knowledge()
CASES: list[dict[str, Any]] = [
    case for path in sorted(HERE.glob("pairs_*.yaml")) for case in yaml.safe_load(path.read_text())["cases"]
]
SIGN = {"+": 1, "-": -1, "0": 0}


def crop(word: str) -> Any:
    found = KNOWLEDGE.find_crop(word)
    assert found is not None, word
    return found


@pytest.mark.parametrize("case", [pytest.param(case, id=case["id"]) for case in CASES if "speaks" in case])
def test_the_pair_is_told_as_its_source_has_it(case: dict[str, Any]) -> None:
    wanted = case["speaks"]
    answer = rules.pairs(crop(case["a"]), crop(case["b"]), KNOWLEDGE)
    told = next((one for one in answer.statements if one.rule == wanted["rule"]), None)
    assert told is not None, [one.rule for one in answer.statements]
    assert set(case["src"]) <= {*told.evidence.sources, *told.evidence.contested_by}
    assert told.effect == wanted["effect"]
    assert (told.points > 0) - (told.points < 0) == SIGN[wanted["sign"]]
    assert {KNOWLEDGE.pests[pest].name for pest in wanted.get("pests", ())} <= set(told.pests)


@pytest.mark.parametrize("case", [pytest.param(case, id=case["id"]) for case in CASES if "plan" in case])
def test_circumstances_decide_as_its_source_has_it(case: dict[str, Any]) -> None:
    parts = {key: case[key] for key in ("beds", "treatments", "judge") if key in case}
    report = told_in({"plantings": case["plan"]} | parts, KNOWLEDGE)
    wanted = case["found"]
    told = [finding for finding in report.findings if finding.rule == wanted["rule"]]
    if wanted.get("none"):
        assert told == []
    else:
        assert [(one.points, one.severity) for one in told] == [(wanted["points"], wanted["severity"])]


def test_every_case_asks_something_and_names_a_source() -> None:
    assert all(case["src"] and case["says"] and ("speaks" in case or "plan" in case) for case in CASES)
    assert all(key in KNOWLEDGE.sources for case in CASES for key in case["src"])
    assert max(Counter(case["id"] for case in CASES).values()) == 1


def test_at_least_sixty_pairs_are_held_against_their_sources() -> None:
    assert len({frozenset((case["a"], case["b"])) for case in CASES}) >= 60
