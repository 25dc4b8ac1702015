"""What hosts have in common: the pests that feed on a crop, and plantings linked into groups by them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from rules.checks import coverage
from rules.checks.context import Context
from rules.knowledge.facts import Crop, Pest
from rules.model import Planting

#: Where pests winter that come from far away whatever grows here.
FROM_FAR = frozenset({"elsewhere_migrant"})
FAR_FLIERS = frozenset({"strong_flight_long_distance", "winged_drift_long_distance"})
#: Where pests winter that live in any soil, whatever grew in it.
RESIDENT = frozenset({*coverage.RESIDENT, "soil_or_migrant"})
#: Where pests winter that a host standing over hands on to the next.
STANDING = frozenset({"on_standing_host_plants"})
#: Where pests winter that stay behind with their host: in its soil, its stems, its litter.
WITH_HOST = frozenset(
    {
        "soil_in_last_host_bed",
        "soil_in_last_host_bed_and_field_edges",
        "soil_and_debris_of_last_host",
        "soil_and_debris_near_host",
        "crop_debris",
        "crop_debris_and_edges",
        "crop_debris_and_structures",
        "crop_debris_and_soil",
        "crop_debris_or_migrant",
        "field_edges_and_debris",
    }
)
_MOST_NAMED = 3


class Group(NamedTuple):
    """Plantings linked by the same pests; ``members`` are planting ids, and bed ids where beds link them."""

    pests: tuple[Pest, ...]
    members: frozenset[str]


class Shared:
    """The pests of some that two crops share, worked out once for each two crops of the catalogue."""

    def __init__(self, context: Context, pests: Iterable[Pest]) -> None:
        self._wanted, self._feeding = frozenset(pest.id for pest in pests), context.local.feeding
        self._between: dict[tuple[Crop, Crop], tuple[Pest, ...]] = {}

    def between(self, one: Planting, other: Planting) -> tuple[Pest, ...]:
        """The pests that feed on both."""
        key = one.crop, other.crop
        found = self._between.get(key)
        if found is None:
            theirs = self._feeding(other.crop)
            found = tuple(p for p in self._feeding(one.crop) if p in theirs and p.id in self._wanted)
            if "own" not in (one.crop.kind, other.crop.kind):
                self._between[key] = found
        return found


class Links:
    """Links between things, one net of them for each pest."""

    def __init__(self) -> None:
        self._pests: dict[str, Pest] = {}
        self._up: dict[str, dict[str, str]] = {}

    def add(self, pest: Pest, one: str, other: str) -> None:
        """Note that a pest links two things, by id."""
        self.add_all(pest, ((one, other),))

    def add_all(self, pest: Pest, pairs: Iterable[tuple[str, str]]) -> None:
        """Note every two things that a pest links."""
        self._pests[pest.id] = pest
        up = self._up.setdefault(pest.id, {})
        for one, other in pairs:
            first, second = _top(up, one), _top(up, other)
            if first != second:
                up[max(first, second)] = min(first, second)

    def groups(self) -> list[Group]:
        """Everything that hangs together by a pest, pests that link the very same things together."""
        pests: dict[frozenset[str], list[Pest]] = {}
        for name in sorted(self._up):
            up, found = self._up[name], dict[str, set[str]]()
            for thing in up:
                found.setdefault(_top(up, thing), set()).add(thing)
            for members in found.values():
                pests.setdefault(frozenset(members), []).append(self._pests[name])
        return [Group(tuple(linked), members) for members, linked in pests.items()]


def _top(up: dict[str, str], thing: str) -> str:
    """The thing that stands for all those linked with one; on the way there the links are cut short."""
    up.setdefault(thing, thing)
    while up[thing] != thing:
        up[thing] = up[up[thing]]
        thing = up[thing]
    return thing


def in_order(context: Context, plantings: Iterable[Planting]) -> tuple[Planting, ...]:
    """Plantings by their beds' place, then by start."""
    return tuple(sorted(plantings, key=lambda p: (context.rank[p.bed], p.start, p.crop.id, p.id)))


def beds_in_words(context: Context, beds: Iterable[str]) -> str:
    """Beds as they stand in a sentence, the first few by name."""
    return some_of([context.bed_name(bed) for bed in sorted(set(beds), key=context.rank.__getitem__)], "beds")


def crops_in_words(plantings: Iterable[Planting]) -> str:
    """Crops as they stand in a sentence, each once, the first few by name."""
    return some_of(list(dict.fromkeys(p.crop.plural for p in plantings)), "crops")


def pests_in_words(pests: Iterable[Pest]) -> str:
    """Pests as they stand in a sentence, the first few by name."""
    return some_of([pest.name for pest in pests], "pests")


def some_of(names: list[str], what: str) -> str:
    """ "a, b and c"; of more than four names the first three, and how many more there are."""
    if len(names) > _MOST_NAMED + 1:
        names = [*names[:_MOST_NAMED], f"{len(names) - _MOST_NAMED} more {what}"]
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
