"""Loads the package's facts and rules, once a process, and a club's overlay over them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files as package_files

from rules.checks import KINDS
from rules.knowledge.compiled import digest_of, remembered, texts_below
from rules.knowledge.country import Countries
from rules.knowledge.factfiles import Facts, read_facts
from rules.knowledge.followtable import FollowTable
from rules.knowledge.known import VERSION, Knowledge
from rules.knowledge.orphans import orphans
from rules.knowledge.overlay import apply_overlay
from rules.knowledge.pairtable import PairTable
from rules.knowledge.ruleset import GRAVE, Rule, read_rules
from rules.knowledge.shapes import KnowledgeError
from rules.knowledge.yamlfile import Located, load


@cache
def _base() -> tuple[Facts, dict[str, Rule], str]:
    root = package_files("rules")
    texts = texts_below(root / "facts", ".yaml", "facts/") | texts_below(root / "ruleset", ".yaml", "ruleset/")
    code = texts_below(root / "knowledge", ".py") | texts_below(root / "checks", ".py")
    digest = digest_of(texts)
    facts, rules = remembered(f"{digest}-{digest_of(code)}", lambda: _read(texts))
    return facts, rules, digest


def _read(texts: Mapping[str, str]) -> tuple[Facts, dict[str, Rule]]:
    located = {name: load(text, name, trusted=True) for name, text in texts.items()}
    facts = read_facts({n.removeprefix("facts/"): at for n, at in located.items() if n.startswith("facts/")})
    rules = read_rules({n: at for n, at in located.items() if n.startswith("ruleset/")}, facts, KINDS)
    left = orphans(facts, rules, located["facts/sources.yaml"], located["facts/cautions.yaml"])
    if left:
        raise KnowledgeError(left)
    return facts, rules


@cache
def _plain() -> Knowledge:
    facts, rules, digest = _base()
    return _compiled(facts, rules, digest, None)


def load_knowledge(overlay: Located | None = None) -> Knowledge:
    """The package's knowledge, read once a process, with an overlay's changes on top.

    Raises
    ------
    KnowledgeError
        where a file (or the overlay) has faults.
    """
    if overlay is None:
        return _plain()
    facts, rules, digest = _base()
    name, facts, rules = apply_overlay(overlay, facts, rules, KINDS)
    return _compiled(facts, rules, digest_of({"base": digest, "overlay": repr(overlay.value)}), name)


def _compiled(facts: Facts, rules: Mapping[str, Rule], digest: str, overlay: str | None) -> Knowledge:
    by_kind: dict[str, tuple[Rule, ...]] = {}
    for rule in rules.values():
        by_kind[rule.kind] = (*by_kind.get(rule.kind, ()), rule)
    worth = {"strong": 0, "partial": 1}
    ranked = sorted(
        (d for d in facts.diseases.values() if d.rotation_value in worth), key=lambda d: (worth[d.rotation_value], d.id)
    )
    diseases_of: dict[str, tuple[str, ...]] = {}
    for disease in ranked:
        for crop in disease.hosts:
            diseases_of[crop] = (*diseases_of.get(crop, ()), disease.id)
    pairs = PairTable(by_kind.get("pair", ()), facts)
    graves = [(kind, tuple(r for r in several if r.severity in GRAVE)) for kind, several in by_kind.items()]
    follows = FollowTable(by_kind.get("follow", ()), facts)
    countries = Countries(facts.pests.values())
    return Knowledge(
        facts,
        rules,
        digest,
        overlay,
        VERSION,
        by_kind,
        diseases_of,
        {kind: grave for kind, grave in graves if grave},
        pairs=pairs,
        follows=follows,
        countries=countries,
    )
