"""A club's overlay: its own changes over facts and rules, held to the same form as they are."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any, cast

from rules.knowledge.factfiles import Facts
from rules.knowledge.ruleset import Kind, Rule, check_points, read_rule
from rules.knowledge.shapes import Checker, Key, KnowledgeError, did_you_mean
from rules.knowledge.yamlfile import Located
from rules.report import SEVERITIES, Severity

#: No break is longer than any that is published.
MOST_YEARS = 50

_CHANGE = {"severity": Key("text", among=SEVERITIES), "points": Key("whole"), "off": Key("yes/no")}
_INTERVAL = {"least": Key("whole", needed=True), "better": Key("whole", needed=True)}
_OVERLAY = {
    "overlay": Key("text", needed=True),
    "rules": Key("maps", shape=_CHANGE),
    "families": Key("maps", shape=_INTERVAL),
    "diseases": Key("maps", shape=_INTERVAL),
    "pairs": Key("maps"),
}


def apply_overlay(
    located: Located, facts: Facts, rules: dict[str, Rule], kinds: Mapping[str, Kind]
) -> tuple[str, Facts, dict[str, Rule]]:
    """A club's overlay: its name, and the facts and rules with its changes.

    A pair of its own is a rule of kind ``pair`` in all its parts; ``kind`` and ``since`` go without saying.

    Raises
    ------
    KnowledgeError
        with every fault, each at file:line:column.
    """
    checker = Checker(located)
    checker.mapping(located.value, _OVERLAY, ())
    value = located.value if isinstance(located.value, dict) else {}
    changed = dict(rules)
    for rule_id, change in _entries(located, value, "rules", _CHANGE):
        rule = rules.get(rule_id)
        if rule is None:
            checker.fault(("rules", rule_id), f"unknown rule {rule_id!r}{did_you_mean(rule_id, rules)}")
        elif change is not None:
            _change(checker, rule, change, changed)
    _add_pairs(checker, value, facts, kinds, changed)
    families = _intervals(
        checker,
        _entries(located, value, "families", _INTERVAL),
        "families",
        facts.families,
        lambda f: None if f.exempt is None else "stands outside the rotation",
    )
    diseases = _intervals(
        checker,
        _entries(located, value, "diseases", _INTERVAL),
        "diseases",
        facts.diseases,
        lambda d: "has no number of years that makes ground safe again" if d.never else None,
    )
    if checker.problems:
        raise KnowledgeError(checker.problems)
    return value["overlay"], replace(facts, families=families, diseases=diseases), dict(sorted(changed.items()))


def _entries(
    located: Located, value: Mapping[str, Any], key: str, shape: Mapping[str, Key]
) -> Iterator[tuple[str, dict[str, Any] | None]]:
    """The entries under a key; None for one whose shape is at fault, which is told already."""
    entries = value.get(key)
    for name, entry in entries.items() if isinstance(entries, dict) else ():
        yield name, entry if Checker(located).mapping(entry, shape, (key, name)) else None


def _add_pairs(
    checker: Checker, value: Mapping[str, Any], facts: Facts, kinds: Mapping[str, Kind], changed: dict[str, Rule]
) -> None:
    pairs = value.get("pairs")
    for rule_id, row in pairs.items() if isinstance(pairs, dict) else ():
        path = ("pairs", rule_id)
        if rule_id in changed:
            checker.fault(path, f"the rule {rule_id!r} is in the rule set already; change it under rules")
            continue
        own = Checker(checker.located)
        whole = {"kind": "pair", "since": str(value.get("overlay"))} | row if isinstance(row, dict) else row
        rule = read_rule(own, path, rule_id, whole, facts, kinds)
        if rule is not None and rule.kind != "pair":
            own.fault((*path, "kind"), "only a pair can be added here")
        checker.problems += own.problems
        if rule is not None and not own.problems:
            changed[rule_id] = rule


def _change(checker: Checker, rule: Rule, change: Mapping[str, Any], changed: dict[str, Rule]) -> None:
    if "points" in change:
        evidence = {"grade": rule.evidence.grade, "contested_by": rule.evidence.contested_by}
        check_points(checker, ("rules", rule.id), change["points"], evidence)
    if change.get("off"):
        del changed[rule.id]
    else:
        severity = cast(Severity, change.get("severity", rule.severity))
        changed[rule.id] = replace(rule, severity=severity, points=change.get("points", rule.points))


def _intervals(
    checker: Checker,
    changes: Iterator[tuple[str, dict[str, Any] | None]],
    key: str,
    known: Mapping[str, Any],
    objection: Callable[[Any], str | None],
) -> dict[str, Any]:
    result = dict(known)
    for name, change in changes:
        path = (key, name)
        thing = known.get(name)
        if thing is None:
            checker.fault(path, f"unknown name {name!r}{did_you_mean(name, known)}")
        elif change is None:
            continue
        elif not 0 <= change["least"] <= change["better"] <= MOST_YEARS:
            checker.fault(path, f"least must be 0 or more, and better not below it or above {MOST_YEARS}")
        elif objection(thing):
            checker.fault(path, f"{name} {objection(thing)}; it cannot be changed here")
        else:
            result[name] = replace(thing, least=change["least"], better=change["better"])
    return result
