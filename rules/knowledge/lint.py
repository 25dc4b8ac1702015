"""Looks over rule files and overlays before anyone relies on them."""

from __future__ import annotations

from collections.abc import Mapping

from rules.checks import KINDS
from rules.knowledge.known import Knowledge
from rules.knowledge.library import load_knowledge
from rules.knowledge.overlay import apply_overlay
from rules.knowledge.pairrows import Pair
from rules.knowledge.ruleset import Rule, rule_entries
from rules.knowledge.shapes import KnowledgeError, Problem, in_order
from rules.knowledge.yamlfile import Located, YamlError, load

#: Options that only add to what is told.
_TOLD_ONLY = ("measured", "against")
#: Words that say nothing of the fault; a rule's name must read well after "this plan has ...".
VAGUE_WORDS = frozenset({"bad", "wrong", "do", "dont", "no", "not", "never", "check", "error", "problem", "rule"})


def lint(text: str, name: str) -> list[Problem]:
    """Every fault of one rule file or overlay, in file order.

    An overlay is told by its ``overlay`` key.
    """
    try:
        located = load(text, name)
    except YamlError as error:
        return [Problem(f"{name}:{error.line}:{error.column}", error.message)]
    knowledge = load_knowledge()
    if isinstance(located.value, dict) and "overlay" in located.value:
        try:
            apply_overlay(located, knowledge.facts, dict(knowledge.rules), KINDS)
        except KnowledgeError as error:
            return list(error.problems)
        return []
    problems: list[Problem] = []
    for rule_id, rule, faults in rule_entries(located, knowledge.facts, KINDS):
        problems += faults
        if rule is not None:
            problems += _style(located, rule)
        known = knowledge.rules.get(rule_id)
        if rule is not None and known is not None and known.examples != rule.examples:
            problems.append(Problem(located.at("rules", rule_id), f"the rule {rule_id!r} is in the rule set already"))
    return in_order(problems)


def lint_ruleset(knowledge: Knowledge | None = None) -> list[Problem]:
    """Faults of a rule set across all its files: two rules that look for the same, a pair that never speaks."""
    knowledge = knowledge or load_knowledge()
    return in_order([*_twins(knowledge.rules), *_unheard(knowledge)])


def _style(located: Located, rule: Rule) -> list[Problem]:
    problems = []
    for word in rule.id.partition(".")[2].split("-"):
        if word in VAGUE_WORDS:
            problems.append(
                Problem(located.at("rules", rule.id), f"{word!r} in {rule.id!r} says nothing; name the fault itself")
            )
    for part, text in (("why", rule.why), ("fix", rule.fix)):
        if not text.rstrip().endswith((".", "}")):
            problems.append(
                Problem(located.at("rules", rule.id, part), f"{part} is a sentence and ends with a full stop")
            )
    if rule.title.rstrip().endswith("."):
        problems.append(Problem(located.at("rules", rule.id, "title"), "a title ends without a full stop"))
    return problems


def _twins(rules: Mapping[str, Rule]) -> list[Problem]:
    seen: dict[str, str] = {}
    problems = []
    for rule in rules.values():
        looks_at = {key: value for key, value in rule.options.items() if key not in _TOLD_ONLY}
        look = repr((rule.kind, rule.effect, sorted(looks_at.items(), key=str)))
        if look in seen:
            problems.append(Problem("ruleset", f"{rule.id!r} looks for just what {seen[look]!r} looks for"))
        seen.setdefault(look, rule.id)
    return problems


def _unheard(knowledge: Knowledge) -> list[Problem]:
    """Pair rules that a more specific one speaks for, whichever crops meet."""
    problems = []
    crops = knowledge.crops
    for rule in knowledge.by_kind.get("pair", ()):
        pair: Pair = rule.compiled
        couples = ((a, b) for a in pair.a.levels if a in crops for b in pair.b.levels if b in crops and b != a)
        spoken = (s for a, b in couples for s in knowledge.pairs.between(crops[a], crops[b]) if s.rule is rule)
        first = next(spoken, None)
        if first is None or (first.behind is not None and all(s.behind is not None for s in spoken)):
            ahead = f"{first.behind!r} is more specific for all its crops" if first else "no two crops fit it"
            problems.append(Problem("ruleset", f"{rule.id!r} can never speak: {ahead}"))
    return problems
