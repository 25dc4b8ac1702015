"""Everything the engine knows, loaded once: facts, names and rules, ready to be asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files as package_files
from typing import Literal

from rules.checks import KINDS
from rules.knowledge.compiled import digest_of, remembered, texts_below
from rules.knowledge.factfiles import OTHER_FAMILIES, Facts, read_facts
from rules.knowledge.facts import Caution, Crop, Disease, Family, Pest, Source
from rules.knowledge.names import normal
from rules.knowledge.ruleset import Rule, apply_overlay, read_rules
from rules.knowledge.shapes import nearest
from rules.knowledge.yamlfile import Located, load

#: The version of the rule set; a change of meaning makes a new one.
VERSION = "2026.1"


@dataclass(frozen=True, slots=True, eq=False)
class Knowledge:
    """Facts and rules of one version, with an overlay's changes if there is one."""

    facts: Facts
    rules: Mapping[str, Rule]
    digest: str
    overlay: str | None = None
    version: str = VERSION
    by_kind: Mapping[str, tuple[Rule, ...]] = field(default_factory=dict)
    diseases_of: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def sources(self) -> Mapping[str, Source]:
        """Publications by key."""
        return self.facts.sources

    @property
    def families(self) -> Mapping[str, Family]:
        """Plant families by botanical name."""
        return self.facts.families

    @property
    def crops(self) -> Mapping[str, Crop]:
        """Crops by id."""
        return self.facts.crops

    @property
    def groups(self) -> Mapping[str, Crop]:
        """Words that stand for several crops, by id."""
        return self.facts.groups

    @property
    def diseases(self) -> Mapping[str, Disease]:
        """Diseases and nematodes by id."""
        return self.facts.diseases

    @property
    def pests(self) -> Mapping[str, Pest]:
        """Pests by id."""
        return self.facts.pests

    @property
    def cautions(self) -> Mapping[str, Caution]:
        """Cautions by id."""
        return self.facts.cautions

    def family(self, family_id: str) -> Family:
        """A family's facts, or those that stand for families outside the list."""
        return self.facts.families.get(family_id) or self.facts.families[OTHER_FAMILIES]

    def family_name(self, family_id: str) -> str:
        """What people call a family; the botanical name where the facts have none."""
        known = self.facts.families.get(family_id)
        return known.name if known else f"{family_id} family"

    def find_crop(self, word: str) -> Crop | None:
        """The crop or group that a word names."""
        return self.facts.crop_names.find(word)

    def find_family(self, word: str) -> str | None:
        """A family's id by botanical or common name; any other name ending in -aceae is taken."""
        wanted = normal(word)
        families = self.facts.families.values()
        for family in families:
            if wanted in (normal(family.id), normal(family.name)):
                return family.id
        once = [f.id for f in families if f.old_name and wanted in map(normal, f.old_name.split(","))]
        if len(once) == 1:  # an old name that was split between families names none of them
            return once[0]
        plain = word.strip()
        return plain.capitalize() if plain.isalpha() and plain.lower().endswith("aceae") else None

    def find_trouble(self, word: str) -> Disease | Pest | None:
        """The disease or pest that a word names."""
        return self.facts.trouble_names.find(word)

    def find_loss(self, word: str) -> str | None:
        """A cause of loss that is neither pest nor disease."""
        return self.facts.loss_names.find(word)

    def cause_words(self) -> list[str]:
        """Words that may stand as the cause of a loss."""
        return [*self.facts.losses, *self.facts.pests, *self.facts.diseases]

    def nearest(
        self, word: str, what: Literal["crop", "trouble", "family", "rule", "source"] = "crop", n: int = 3
    ) -> list[str]:
        """The known names most like a word."""
        if what == "crop":
            return self.facts.crop_names.nearest(word, n)
        if what == "trouble":
            return self.facts.trouble_names.nearest(word, n)
        known: Mapping[str, object] = {"family": self.families, "rule": self.rules, "source": self.sources}[what]
        return nearest(word, known, n)


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
    return facts, read_rules({n: at for n, at in located.items() if n.startswith("ruleset/")}, facts, KINDS)


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
    name, facts, rules = apply_overlay(overlay, facts, rules)
    return _compiled(facts, rules, digest, name)


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
    return Knowledge(facts, rules, digest, overlay, VERSION, by_kind, diseases_of)
