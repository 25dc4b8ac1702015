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


@dataclass(frozen=True, slots=True)
class Traits:
    """How a crop grows, as far as it is known; lengths in cm, ``kc_mid`` and ``depletion`` as in FAO-56.

    ``height`` is low, low_to_medium, medium, medium_to_tall or tall; ``roots`` shallow, medium or
    deep; ``feeder`` light to heavy, or fixer; ``pollination`` what the harvested crop needs: none,
    self, wind or insect; ``part`` what is eaten; ``soil_contact`` whether it touches soil or its
    splash; ``depletion`` the share of the soil's water that may be used before the crop suffers.
    """

    height: str | None = None
    habit: str | None = None
    roots: str | None = None
    root_cm: tuple[float, float] | None = None
    feeder: str | None = None
    fixes_nitrogen: bool | None = None
    pollination: str | None = None
    in_row_cm: tuple[float, float] | None = None
    between_rows_cm: tuple[float, float] | None = None
    each_way_cm: tuple[float, float] | None = None
    depletion: float | None = None
    kc_mid: float | None = None
    part: str | None = None
    soil_contact: bool | None = None
    small_seed: bool | None = None


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
    traits: Traits = Traits()

    @property
    def uncounted(self) -> bool:
        """True for a name that is not counted and takes its verb in the singular: garlic, cress; not oats."""
        many = self.name.endswith("s") and not self.name.endswith(("ss", "us", "os"))
        return self.name == self.plural and not many

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
    """A pest by species: what it feeds on, where it winters, how far it gets, what keeps it out.

    ``hosts`` are crop ids, group words included when every member counts; ``possible`` are
    group words of which only some members are hosts; with ``wide`` it feeds on most other
    crops as well and ``hosts`` names those hit most.  ``non_hosts`` are crops that growers
    may fear for and it leaves alone.  ``bridge_crops`` and ``bridge_plants`` feed it outside
    its hosts.  ``overwinters``, ``emerges_from_bed``, ``emerges_same_season``, ``mobility``
    and ``rotation_helps`` are words of ``pestshapes.VOCABULARY``.  ``max_mesh_mm`` is the
    widest square opening in mm that keeps it out; None where no cover does.
    ``countries`` and ``absent_countries`` are ISO 3166-1 codes; both empty: wherever hosts grow.
    """

    id: str
    name: str
    aliases: tuple[str, ...]
    scientific: str | None
    group: str
    host_families: tuple[str, ...]
    hosts: frozenset[str]
    possible: frozenset[str]
    preferred: frozenset[str]
    wide: bool
    non_hosts: frozenset[str]
    bridge_crops: frozenset[str]
    bridge_plants: tuple[str, ...]
    overwinters: str
    emerges_from_bed: str
    emerges_same_season: str | None
    mobility: str
    season: str
    susceptible_stage: str
    max_mesh_mm: float | None
    rotation_helps: str
    carries: str | None
    regions: tuple[str, ...]
    absent_from: tuple[str, ...]
    regions_text: str | None
    countries: frozenset[str]
    absent_countries: frozenset[str]
    notes: Mapping[str, str]
    cautions: tuple[str, ...]
    sources: Mapping[str, tuple[str, ...]]

    def lives_in(self, country: str | None) -> bool:
        """Whether it may be met in a country (ISO 3166-1 or -2); True where the country is not known."""
        if country is None:
            return True
        code = country.partition("-")[0].upper()
        return code not in self.absent_countries and (not self.countries or code in self.countries)


@dataclass(frozen=True, slots=True, eq=False)
class Control:
    """What can be done against pests, by active ingredient or method, never by product.

    ``step`` is its rung of the ladder, least harm first (``pestshapes.STEPS``); ``kind`` what
    is done.  ``against`` and ``weak_on`` are pest ids.  ``mind`` says what to spare or watch,
    by who or what may be hurt; ``grade`` is trial, guidance or practice.
    """

    id: str
    name: str
    aliases: tuple[str, ...]
    step: str
    kind: str
    against: frozenset[str]
    weak_on: frozenset[str]
    weak_text: str | None
    when: str
    how: str
    acts: str | None
    reapply: str | None
    before_harvest: str | None
    conditions: tuple[str, ...]
    grade: str
    evidence: str | None
    mind: Mapping[str, str]
    cautions: tuple[str, ...]
    sources: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Caution:
    """A usual caution that goes with advice which can hurt someone."""

    id: str
    text: str
    defer_to: str
    sources: tuple[str, ...]
