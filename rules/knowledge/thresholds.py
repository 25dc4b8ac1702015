"""Reads ``facts/thresholds.yaml``: the numbers at which published guidance says to act."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from rules.knowledge.facts import Pest, Source
from rules.knowledge.factshapes import NEEDED
from rules.knowledge.selectors import SIDE, Catalogue, Selector, select
from rules.knowledge.shapes import Checker, Key, did_you_mean
from rules.knowledge.yamlfile import Located

_SRC = Key("words", needed=True)
_TEXT = Key("text")
#: For whom a number was published.
GROWERS = {"market": "market gardens", "home": "home gardens"}
THRESHOLD = {
    "pests": Key("words", needed=True),
    "on": SIDE,
    "stage": _TEXT,
    "at": NEEDED,
    "for": Key("text", needed=True, among=tuple(GROWERS)),
    "src": _SRC,
    "also": Key("map", shape={"at": NEEDED, "src": _SRC}),
}


@dataclass(frozen=True, slots=True)
class View:
    """One published number in words, and the keys of its sources."""

    at: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Threshold:
    """When to act against some pests on some crops; ``views`` differ where sources do."""

    id: str
    pests: frozenset[str]
    on: Selector
    stage: str | None
    grower: str
    views: tuple[View, ...]


class Known(Catalogue, Protocol):
    """What a threshold refers to besides crops."""

    @property
    def pests(self) -> Mapping[str, Pest]:
        """Pests by id."""

    @property
    def sources(self) -> Mapping[str, Source]:
        """Publications by key."""


def read_thresholds(located: Located, facts: Known, checker: Checker) -> dict[str, Threshold]:
    """All thresholds by id; faults are noted with the checker.  ``facts`` are those read so far."""
    found: dict[str, Threshold] = {}
    if not checker.mapping(located.value, {"thresholds": Key("maps", needed=True)}, ()):
        return found
    for name, value in located.value["thresholds"].items():
        path = ("thresholds", name)
        if checker.mapping(value, THRESHOLD, path):
            found[name] = _threshold(name, value, facts, checker, path)
    return found


def _threshold(name: str, value: Mapping[str, Any], facts: Known, checker: Checker, path: tuple[str, ...]) -> Threshold:
    on = select(value["on"], facts, checker, (*path, "on"))
    for i, pest in enumerate(value["pests"]):
        if pest not in facts.pests:
            checker.fault((*path, "pests", i), f"unknown pest {pest!r}{did_you_mean(pest, facts.pests)}")
        elif not facts.pests[pest].wide and facts.pests[pest].hosts.isdisjoint(on.levels):
            checker.fault((*path, "pests", i), f"{pest} feeds on none of these crops")
    views = [View(value["at"], tuple(value["src"]))]
    if "also" in value:
        views.append(View(value["also"]["at"], tuple(value["also"]["src"])))
    for view in views:
        for key in view.sources:
            if key not in facts.sources:
                checker.fault((*path, "src"), f"unknown source {key!r}{did_you_mean(key, facts.sources)}")
    return Threshold(name, frozenset(value["pests"]), on, value.get("stage"), value["for"], tuple(views))
