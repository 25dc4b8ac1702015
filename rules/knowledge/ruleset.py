"""Reads ``rules/ruleset``: what to flag or reward."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from string import Formatter
from typing import Any

from rules.knowledge.factfiles import Facts
from rules.knowledge.shapes import Checker, Key, KnowledgeError, Problem, did_you_mean
from rules.knowledge.yamlfile import Located
from rules.report import SEVERITIES, Effect, Grounds, Severity

#: A rule is named for the fault it finds, as "group.two-or-three-words".
RULE_ID = re.compile(r"[a-z]+(\.[a-z]+(-[a-z]+)+)\Z")
#: The most points that each grade of evidence may carry (reviews count as trial).
MOST_POINTS = {"trial": 3, "guidance": 2, "practice": 1}
EFFECTS = ("pest", "yield", "none")
#: What counts against a plan.
GRAVE = ("breach", "caution")

_NEED = Key("text", needed=True)
_EVIDENCE = {
    "grade": Key("text", needed=True, among=tuple(MOST_POINTS)),
    "sources": Key("words", needed=True),
    "contested_by": Key("words"),
}
_RULE = {
    "since": _NEED,
    "kind": _NEED,
    "severity": Key("text", needed=True, among=SEVERITIES),
    "points": Key("whole"),
    "effect": Key("text", among=EFFECTS),
    "options": Key("any"),
    "title": _NEED,
    "why": _NEED,
    "fix": _NEED,
    "exceptions": Key("words"),
    "evidence": Key("map", needed=True, shape=_EVIDENCE),
    "cautions": Key("words"),
    "examples": Key("map", shape={"flag": Key("any", needed=True), "ok": Key("any", needed=True)}),
}

Examples = Mapping[str, list[dict[str, Any]]]


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """One rule: which kind of check it is, how grave, and the words for its findings.

    ``title``, ``why`` and ``fix`` are templates over the names that its kind offers;
    ``compiled`` is what its kind made of the options when the rule was loaded.
    """

    id: str
    since: str
    kind: str
    severity: Severity
    points: int
    effect: Effect
    options: Mapping[str, Any]
    title: str
    why: str
    fix: str
    exceptions: tuple[str, ...]
    evidence: Grounds
    cautions: tuple[str, ...]
    examples: Examples = field(repr=False)
    compiled: Any = field(default=None, repr=False)


#: Where a value stands in a file.
Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """What a kind of check asks of its rules: the options it takes and the words it offers.

    ``compile`` makes a look-up of the options once, when a rule is loaded, and notes what
    could never hold.  A kind whose rules are rows of one shape gives ``generate``, which makes
    their examples and says where they stay silent; the rules then leave both out.
    ``looks_at`` is a sentence for a rule's page, which the options' own words (``Key.says``) complete.
    """

    options: Mapping[str, Key]
    words: frozenset[str]
    compile: Callable[[Mapping[str, Any], Facts, Checker, Path], Any] | None = None
    generate: Callable[[Mapping[str, Any], Any, Facts], tuple[tuple[str, ...], Examples]] | None = None
    looks_at: str = ""


def read_rules(files: Mapping[str, Located], facts: Facts, kinds: Mapping[str, Kind]) -> dict[str, Rule]:
    """All rules by id, sorted by id.

    Raises
    ------
    KnowledgeError
        with every fault of every file.
    """
    rules: dict[str, Rule] = {}
    problems: list[Problem] = []
    for path in sorted(files):
        for rule_id, rule, faults in rule_entries(files[path], facts, kinds):
            problems += faults
            if rule_id in rules:
                problems.append(Problem(files[path].at("rules", rule_id), f"the rule {rule_id!r} stands in two files"))
            if rule is not None:
                rules[rule_id] = rule
    if problems:
        raise KnowledgeError(problems)
    return dict(sorted(rules.items()))


def rule_entries(
    located: Located, facts: Facts, kinds: Mapping[str, Kind]
) -> list[tuple[str, Rule | None, list[Problem]]]:
    """Each rule of one file with its faults; the rule is None where it cannot be used."""
    top = Checker(located)
    if not top.mapping(located.value, {"rules": Key("maps", needed=True)}, ()):
        return [("", None, top.problems)]
    entries = []
    for rule_id, value in located.value["rules"].items():
        checker = Checker(located)
        rule = read_rule(checker, ("rules", rule_id), rule_id, value, facts, kinds)
        entries.append((rule_id, rule, checker.problems))
    return entries


def read_rule(
    checker: Checker, path: Path, rule_id: str, value: Any, facts: Facts, kinds: Mapping[str, Kind]
) -> Rule | None:
    """One rule; None, with its faults noted, where it cannot be used."""
    compiled = None
    if checker.mapping(value, _RULE, path):
        _check_rule(checker, path, rule_id, value, facts, kinds)
        kind = kinds.get(value["kind"])
        if not checker.problems and kind is not None and kind.compile is not None:
            compiled = kind.compile(value.get("options", {}), facts, checker, (*path, "options"))
    return None if checker.problems else _rule(rule_id, value, compiled, facts, kinds[value["kind"]])


def _check_rule(
    checker: Checker, path: Path, rule_id: str, value: dict[str, Any], facts: Facts, kinds: Mapping[str, Kind]
) -> None:
    if not RULE_ID.match(rule_id):
        checker.fault(path, f"{rule_id!r} is no rule name; write group.two-or-three-words for the fault it finds")
    evidence = value["evidence"]
    for part in ("sources", "contested_by"):
        for key in evidence.get(part, ()):
            if key not in facts.sources:
                checker.fault((*path, "evidence", part), f"unknown source {key!r}{did_you_mean(key, facts.sources)}")
    if not evidence["sources"]:
        checker.fault((*path, "evidence", "sources"), "name at least one source, or 'common practice'")
    for key in value.get("cautions", ()):
        if key not in facts.cautions:
            checker.fault((*path, "cautions"), f"unknown caution {key!r}{did_you_mean(key, facts.cautions)}")
    check_points(checker, path, value.get("points", 0), evidence)
    kind = kinds.get(value["kind"])
    if kind is None:
        checker.fault((*path, "kind"), f"unknown kind {value['kind']!r}{did_you_mean(value['kind'], kinds)}")
    else:
        checker.mapping(value.get("options", {}), kind.options, (*path, "options"))
        for part in ("title", "why", "fix"):
            for word in sorted(_words(value[part]) - kind.words):
                checker.fault((*path, part), f"unknown word {{{word}}}{did_you_mean(word, kind.words)}")
    _check_silence(checker, path, value, kind)


def _check_silence(checker: Checker, path: Path, value: dict[str, Any], kind: Kind | None) -> None:
    """Hold examples and exceptions: written with the rule, or made by its kind, never both."""
    for key in ("examples", "exceptions"):
        if kind is not None and (key in value) == (kind.generate is not None):
            made = kind.generate is not None
            checker.fault(
                (*path, key),
                f"{key} are made from the options; leave them out" if made else f"the key {key!r} is missing",
            )
    for side in ("flag", "ok") if "examples" in value else ():
        plans = value["examples"][side]
        if not isinstance(plans, list) or len(plans) < 2 or not all(isinstance(p, dict) for p in plans):
            checker.fault((*path, "examples", side), "at least two tiny plans are needed")


def check_points(checker: Checker, path: Path, points: int, evidence: Mapping[str, Any]) -> None:
    """Fault points that are more than their evidence carries."""
    most = MOST_POINTS[evidence["grade"]] - (1 if evidence.get("contested_by") else 0)
    if abs(points) > most:
        checker.fault(
            (*path, "points"), f"{points} points are more than this evidence carries (at most {most} either way)"
        )


def _words(template: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(template) if name}


def _rule(rule_id: str, v: dict[str, Any], compiled: Any, facts: Facts, kind: Kind) -> Rule:
    evidence = v["evidence"]
    exceptions, examples = tuple(v.get("exceptions", ())), v.get("examples", {})
    if kind.generate is not None:
        exceptions, examples = kind.generate(v, compiled, facts)
    grounds = Grounds(evidence["grade"], tuple(evidence["sources"]), tuple(evidence.get("contested_by", ())))
    return Rule(
        rule_id,
        v["since"],
        v["kind"],
        v["severity"],
        v.get("points", 0),
        v.get("effect", "none"),
        v.get("options", {}),
        v["title"],
        v["why"],
        v["fix"],
        exceptions,
        grounds,
        tuple(v.get("cautions", ())),
        examples,
        compiled,
    )
