"""Puts rules to their own examples, by the same way that any plan goes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

import rules
from rules.knowledge.known import Knowledge
from rules.knowledge.library import load_knowledge
from rules.knowledge.lint import lint_ruleset
from rules.knowledge.ruleset import Rule
from rules.knowledge.shapes import Problem
from rules.knowledge.yamlfile import load
from service.reading import read_plan

#: The day on which examples are looked at, and where: examples need neither today nor a place.
AS_OF = date(2026, 11, 20)
_PLACE = {"garden": {"latitude": 46.2}}


def told_in(example: Mapping[str, Any], knowledge: Knowledge) -> rules.Report:
    """The report on an example plan."""
    body = json.dumps(_PLACE | dict(example), default=str).encode()
    return rules.check(read_plan(body, "json", today=lambda zone: AS_OF, knowledge=knowledge), knowledge)


def speaks(rule: Rule, example: Mapping[str, Any], knowledge: Knowledge) -> bool:
    """Whether a rule is heard on an example: in the report, or in the answer about the pair."""
    if rule.kind == "pair" and not rule.compiled.in_plan:
        crops = [knowledge.find_crop(row["crop"]) for row in example["plantings"][:2]]
        asked = [crop for crop in crops if crop is not None]
        told = rules.pairs(*asked, knowledge) if len(asked) == 2 else None
        return told is not None and any(one.rule == rule.id for one in told.statements)
    return any(finding.rule == rule.id for finding in told_in(example, knowledge).findings)


def never_heard(every: Iterable[Rule], knowledge: Knowledge) -> list[str]:
    """Ids of rules that none of their own examples makes speak: they can never fire."""
    return [rule.id for rule in every if not any(speaks(rule, example, knowledge) for example in rule.examples["flag"])]


def lint_whole(text: str | None, name: str) -> list[Problem]:
    """What is wrong with a rule set as a whole: the package's own, or with an overlay's text on top.

    A file that is no overlay is looked at by itself, and has nothing to add here.
    """
    base = load_knowledge()
    if text is None:
        problems, own, knowledge = lint_ruleset(base), list(base.rules.values()), base
    else:
        located = load(text, name)
        if not isinstance(located.value, dict) or "overlay" not in located.value:
            return []
        knowledge = load_knowledge(located)
        own = [rule for key, rule in knowledge.rules.items() if key not in base.rules]
        # What an overlay turns off or adds is judged; what the package is like without it is not its fault.
        problems = [problem for problem in lint_ruleset(knowledge) if problem not in lint_ruleset(base)]
    mute = never_heard(own, knowledge)
    return [*problems, *(Problem(name or "ruleset", f"{key!r} is not heard on its own examples") for key in mute)]
