"""What is known: the values that the fact files under ``rules/facts`` are read into.

Every value keeps the key of its source (``sources`` on each class, keys of
``facts/sources.yaml``).  The special keys are ``memory``, ``common practice``,
``judgement`` and ``derived``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

#: How long a crop stands after it is mature when nobody wrote down when it was cleared:
#: a number of days, up to the first autumn frost, or to the end of the cold season.
Stands = int | Literal["first_frost", "winter_end"]

FALLOW = "fallow"
#: Source keys that stand for no publication: a value that rests on them alone is practice at best.
UNPUBLISHED = frozenset({"memory", "common practice", "judgement", "derived"})


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A publication (or one of the special keys) that facts are taken from."""

    id: str
    publisher: str
    title: str
    year: str | None
    url: str | None
    seen: str | None


@dataclass(frozen=True, slots=True, eq=False)
class OtherView:
    """Published guidance that disagrees with a family's interval for some of its crops."""

    crops: frozenset[str]
    text: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Family:
    """A plant family and its break: host-free years between two hosts in one ground.

    ``least`` and ``better`` are whole host-free years (a "4-year rotation" is a 3-year
    break); both are None for a family outside the rotation, and ``exempt`` says why.
    """

    id: str
    name: str
    old_name: str | None
    least: int | None
    better: int | None
    exempt: str | None
    confused: str | None
    other_view: OtherView | None
    sources: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Maturity:
    """Days from ``counted_from`` (sowing, transplanting, planting) to the first harvest."""

    least: int
    most: int
    counted_from: str


@dataclass(frozen=True, slots=True, eq=False)
class Crop:
    """A crop of the catalogue, a grower's own crop, or a word that stands for several crops.

    A group word (``members`` not empty) carries only what all members share: ``family``
    is empty where they belong to several families.
    """

    id: str
    name: str
    plural: str
    family: str
    kind: str
    aliases: tuple[str, ...] = ()
    scientific: str | None = None
    lifecycle: str = "annual"
    maturity: Maturity | None = None
    stands: Stands | None = None
    note: str | None = None
    members: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    sources: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    #: Days to harvest when it is set in autumn to stand over winter.
    over_winter: Maturity | None = None

    @property
    def perennial(self) -> bool:
        """True for a crop that stays until it is cleared."""
        return self.lifecycle == "perennial"


@dataclass(frozen=True, slots=True, eq=False)
class Disease:
    """A soil- or debris-borne disease or nematode.

    ``least`` and ``better`` are host-free years once it was seen in a ground; with
    ``never`` no number of years is published that makes the ground safe again.
    ``hosts`` and ``carriers`` are crop ids, group words included when every member counts.
    ``possible`` are group words of which only some members are hosts.
    """

    id: str
    name: str
    aliases: tuple[str, ...]
    pathogen: str
    kind: str
    host_families: tuple[str, ...]
    hosts: frozenset[str]
    possible: frozenset[str]
    carriers: frozenset[str]
    carrier_plants: tuple[str, ...]
    reduced_by: frozenset[str]
    least: int | None
    better: int | None
    never: bool
    in_soil: bool
    survives_in: tuple[str, ...]
    survival: str | None
    advice: str
    rotation_value: str
    resistance_holds: bool
    notes: Mapping[str, str]
    cautions: tuple[str, ...]
    sources: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Pest:
    """A pest by species (names only until the pest facts are carried over)."""

    id: str
    name: str
    aliases: tuple[str, ...]
    scientific: str | None
    group: str
    sources: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Caution:
    """A usual caution that goes with advice which can hurt someone."""

    id: str
    text: str
    defer_to: str
    sources: tuple[str, ...]
