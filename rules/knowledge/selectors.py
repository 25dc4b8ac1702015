"""Which crops a side of a rule means: by crop, group, family or trait, compiled to a look-up.

A side is written as ``{crops: [...], groups: [...], families: [...], traits: {...}, except: [...]}``.
Crops, groups and families are united; ``traits`` narrows that union, or the whole catalogue
where nothing else is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal, Protocol

from rules.knowledge.facts import Crop, Family
from rules.knowledge.shapes import Checker, Key, did_you_mean

#: What a kind of rule puts under an option that is a side.
SIDE = Key(
    "map",
    needed=True,
    shape={
        "crops": Key("words"),
        "groups": Key("words"),
        "families": Key("words"),
        "traits": Key("any"),
        "except": Key("words"),
    },
)
#: How specific the word is that names a crop: the crop itself speaks before its group, family or traits.
CROP, GROUP, FAMILY, TRAIT = range(4)
#: Traits that stand on the crop itself; all others stand on ``Crop.traits``.
_OWN = ("kind", "lifecycle")

Path = tuple[str | int, ...]


class Catalogue(Protocol):
    """What a side is chosen from: crops, group words and families by id."""

    @property
    def crops(self) -> Mapping[str, Crop]:
        """Crops by id."""

    @property
    def groups(self) -> Mapping[str, Crop]:
        """Words for several crops by id."""

    @property
    def families(self) -> Mapping[str, Family]:
        """Families by botanical name."""


@dataclass(frozen=True, slots=True, eq=False)
class Selector:
    """The crops of one side.

    ``levels`` holds crop ids and the ids of group words of which every member belongs, each
    with how specific its naming is; ``possible`` are group words of which some members belong.
    ``families`` takes in a grower's own crops, less ``spared``.
    """

    levels: Mapping[str, int]
    possible: frozenset[str]
    families: frozenset[str]
    spared: frozenset[str]

    def match(self, crop: Crop) -> Literal["yes", "maybe", "no"]:
        """Whether a crop belongs; "maybe" for a word of which only some members do."""
        if crop.id in self.levels:
            return "yes"
        if crop.id in self.possible:
            return "maybe"
        own = crop.family in self.families and crop.id not in self.spared
        return "yes" if own else "no"

    def level(self, crop: Crop) -> int:
        """How specific the naming of a crop is: 0 crop, 1 group, 2 family, 3 trait."""
        return self.levels.get(crop.id, FAMILY)

    def crops(self, facts: Catalogue) -> list[Crop]:
        """The crops of the catalogue that belong, the most specific first, then by id."""
        named = [crop for crop in facts.crops.values() if crop.id in self.levels]
        return sorted(named, key=lambda crop: (self.levels[crop.id], crop.id))


def select(value: Mapping[str, Any], facts: Catalogue, checker: Checker, path: Path) -> Selector:
    """A side's selector; every fault is noted with the checker."""
    levels: dict[str, int] = {}
    for name in _known(value.get("crops", ()), facts.crops, "crop", checker, (*path, "crops")):
        levels[name] = CROP
    for name in _known(value.get("groups", ()), facts.groups, "group", checker, (*path, "groups")):
        for member in facts.groups[name].members:
            levels.setdefault(member, GROUP)
    families = list(_known(value.get("families", ()), facts.families, "family", checker, (*path, "families")))
    for crop in facts.crops.values():
        if crop.family in families:
            levels.setdefault(crop.id, FAMILY)
    traits = value.get("traits")
    if traits is not None:
        named = bool(levels) or any(key in value for key in ("crops", "groups", "families"))
        fitting = _with_traits(traits, facts, checker, (*path, "traits"))
        levels = {
            name: levels.get(name, TRAIT) for name in facts.crops if name in fitting and (name in levels or not named)
        }
        families = []  # nothing is known of the traits of a grower's own crop
    spared = frozenset(_known(value.get("except", ()), facts.crops, "crop", checker, (*path, "except")))
    levels = {name: level for name, level in levels.items() if name not in spared}
    if not levels and not checker.problems:
        checker.fault(path, "no crop of the catalogue belongs to this side, so the rule could never speak")
    possible = set()
    for group in facts.groups.values():
        within = [levels[member] for member in group.members if member in levels]
        if group.members and len(within) == len(group.members):
            levels[group.id] = max(within)
        elif within:
            possible.add(group.id)
    own = spared | {crop.id for crop in facts.crops.values() if crop.id not in levels}
    return Selector(levels, frozenset(possible), frozenset(families), frozenset(own))


def _known(words: Iterable[str], known: Mapping[str, Any], what: str, checker: Checker, path: Path) -> Iterator[str]:
    for i, word in enumerate(words):
        if word in known:
            yield word
        else:
            checker.fault((*path, i), f"unknown {what} {word!r}{did_you_mean(word, known)}")


def _with_traits(traits: Any, facts: Catalogue, checker: Checker, path: Path) -> set[str]:
    """Ids of the crops that have every trait asked for."""
    if not isinstance(traits, dict) or not traits:
        checker.fault(path, "name traits and their words, as {feeder: [heavy]}")
        return set()
    fitting = set(facts.crops)
    for name, wanted in traits.items():
        values = {crop.id: _trait(crop, name) for crop in facts.crops.values()}
        if not any(value is not None for value in values.values()):
            known = {*_OWN, *(key for crop in facts.crops.values() for key in type(crop.traits).__dataclass_fields__)}
            checker.fault((*path, name), f"unknown trait {name!r}{did_you_mean(str(name), known)}")
            continue
        wants = wanted if isinstance(wanted, list) else [wanted]
        for want in wants:
            if want not in values.values():
                words = sorted({str(value) for value in values.values() if value is not None})
                checker.fault((*path, name), f"no crop is {want!r} in {name}{did_you_mean(str(want), words)}")
        fitting &= {crop for crop, value in values.items() if value in wants}
    return fitting


def _trait(crop: Crop, name: str) -> Any:
    return getattr(crop, name, None) if name in _OWN else getattr(crop.traits, name, None)
