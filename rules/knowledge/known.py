"""Everything the engine knows, as one value that can be asked by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from rules.knowledge.country import Countries
from rules.knowledge.factfiles import Facts
from rules.knowledge.facts import Caution, Control, Crop, Disease, Family, Pest, Source
from rules.knowledge.factshapes import OTHER_FAMILIES
from rules.knowledge.followtable import FollowTable
from rules.knowledge.names import normal
from rules.knowledge.pairtable import PairTable
from rules.knowledge.pestshapes import STEPS
from rules.knowledge.reach import Reach
from rules.knowledge.ruleset import Rule
from rules.knowledge.shapes import nearest

#: The version of the rule set; a change of meaning makes a new one.
VERSION = "2026.1"
_RUNGS = tuple(STEPS)


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
    #: The rules of each kind that count against a plan; kinds without any are left out.
    grave_by_kind: Mapping[str, tuple[Rule, ...]] = field(default_factory=dict)
    pairs: PairTable = field(kw_only=True)
    follows: FollowTable = field(kw_only=True)
    countries: Countries = field(kw_only=True)

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
    def reach(self) -> Mapping[str, Reach]:
        """How far a pest gets by itself, by the word for its mobility."""
        return self.facts.reach

    @property
    def controls(self) -> Mapping[str, Control]:
        """Controls by id, in the order of the file."""
        return self.facts.controls

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

    def find_pest(self, word: str) -> Pest | None:
        """The pest that a word names, also where a disease bears the same name."""
        return self.facts.pest_names.find(word)

    def controls_of(self, pest: str) -> list[Control]:
        """The controls meant for a pest, those of least harm first."""
        meant = (control for control in self.controls.values() if pest in control.against)
        return sorted(meant, key=lambda control: _RUNGS.index(control.step))

    def find_loss(self, word: str) -> str | None:
        """A cause of loss that is neither pest nor disease."""
        return self.facts.loss_names.find(word)

    def cause_words(self) -> list[str]:
        """Words that may stand as the cause of a loss."""
        return [*self.facts.losses, *self.facts.pests, *self.facts.diseases]

    def nearest(
        self, word: str, what: Literal["crop", "trouble", "pest", "family", "rule", "source"] = "crop", n: int = 3
    ) -> list[str]:
        """The known names most like a word."""
        if what == "crop":
            return self.facts.crop_names.nearest(word, n)
        if what == "trouble":
            return self.facts.trouble_names.nearest(word, n)
        if what == "pest":
            return self.facts.pest_names.nearest(word, n)
        known: Mapping[str, object] = {"family": self.families, "rule": self.rules, "source": self.sources}[what]
        return nearest(word, known, n)
