"""The plan as the rules see it: beds, what stood and will stand in them, what was seen.

Every name is resolved and every date known; the shapes that people write (season words,
group words, lengths with units, absent ends) are read into these values by
``rules.reading``.  Lengths are centimetres unless the name says metres.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal, NamedTuple

from rules.knowledge.facts import Crop

WHOLE = (0.0, 1.0)
#: When a crop is set: in the main season, in autumn to stand over winter, or whichever suits it.
Slot = Literal["main", "overwinter", "any"]


class Window(NamedTuple):
    """A span of days, both ends included."""

    start: date
    end: date

    def touches(self, start: date, end: date) -> bool:
        """True when the span ``start`` to ``end`` shares a day with this one."""
        return start <= self.end and end >= self.start


@dataclass(frozen=True, slots=True)
class Soil:
    """What the grower knows of a soil."""

    ph: float | None = None
    texture: str | None = None
    drainage: str | None = None


@dataclass(frozen=True, slots=True)
class FrostDate:
    """A frost date as (month, day): the median and, when known, the 10 and 90 % dates."""

    p50: tuple[int, int]
    p10: tuple[int, int] | None = None
    p90: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Garden:
    """What all beds of a garden share."""

    name: str = "Garden"
    site: str | None = None
    latitude: float | None = None
    longitude: float | None = None
    country: str | None = None
    time_zone: str | None = None
    last_spring_frost: FrostDate | None = None
    first_autumn_frost: FrostDate | None = None
    units: str = "metric"
    rotation: str = "full"
    soil: Soil | None = None


@dataclass(frozen=True, slots=True)
class Irrigation:
    """How a bed is watered: emitter spacing in cm, flow in litres an hour."""

    method: str
    emitter_spacing: float | None = None
    emitter_flow: float | None = None
    lines: int | None = None


@dataclass(frozen=True, slots=True)
class Replaced:
    """Ground that a bed took over from an earlier bed, optionally between two dates."""

    bed: str
    start: date | None = None
    end: date | None = None


@dataclass(frozen=True, slots=True)
class Bed:
    """A bed, container or greenhouse border; position in metres from the garden's corner."""

    id: str
    name: str
    kind: str = "ground"
    length: float | None = None
    width: float | None = None
    depth: float | None = None
    position: tuple[float, float] | None = None
    turn: float = 0.0
    irrigation: Irrigation | None = None
    soil: Soil | None = None
    replaces: tuple[Replaced, ...] = ()
    start: date | None = None
    end: date | None = None


@dataclass(frozen=True, slots=True)
class Variety:
    """A variety and what is known of it; ``resists`` holds disease and pest ids."""

    name: str | None = None
    resists: tuple[str, ...] = ()
    parthenocarpic: bool | None = None


class Planting(NamedTuple):
    """One crop in one ground from ``start`` to ``end`` (days, both included).

    ``exact`` is "day" for dated rows, "quarter" for season words, "year" for a bare year.
    """

    id: str
    bed: str
    crop: Crop
    start: date
    end: date
    exact: str = "day"
    assumed_end: bool = False
    part: tuple[float, float] = WHOLE
    season: str | None = None
    status: str = "planned"
    cause: str | None = None
    method: str | None = None
    replaces: str | None = None
    first_harvest: date | None = None
    plants: int | None = None
    spacing: float | None = None
    variety: Variety | None = None


class Cover(NamedTuple):
    """A cover over some plantings of a bed; mesh in millimetres."""

    bed: str
    kind: str
    start: date
    end: date | None = None
    mesh: float | None = None
    plantings: tuple[str, ...] = ()
    edges: str | None = None
    open_by_day_from: date | None = None


class Sighting(NamedTuple):
    """A pest or disease (id) seen in a bed on a day."""

    bed: str
    date: date
    of: str
    level: str | None = None
    planting: str | None = None


class Treatment(NamedTuple):
    """A treatment by active ingredient; intervals in days from the user's own label."""

    bed: str
    date: date
    active: str
    planting: str | None = None
    harvest_interval: int | None = None


class Amendment(NamedTuple):
    """Something done to a bed's soil."""

    bed: str
    date: date
    kind: str


@dataclass(frozen=True, slots=True)
class Wish:
    """One crop, or a word for several of one family, and how much of it is wanted in each of some growing years.

    ``amount`` is in beds of middling size (0.5 = half of one) and ``share`` a share of all beds, 0 to 1; where both are
    None a quarter of a bed is meant.  Amounts are rounded up to quarters.  ``must`` comes before all that is not.
    ``years`` are growing years, ``beds`` ids of the beds that may be used; empty means all.
    """

    crop: Crop
    amount: float | None = None
    share: float | None = None
    must: bool = False
    years: tuple[int, ...] = ()
    beds: tuple[str, ...] = ()
    slot: Slot = "any"


@dataclass(frozen=True, slots=True)
class Dislike:
    """A crop that is not wanted: in one bed, or anywhere where ``bed`` is None (then not as a catch crop either)."""

    crop: Crop
    bed: str | None = None


@dataclass(frozen=True, slots=True)
class Wishes:
    """All that is wanted of ``years`` growing years from ``first_year`` on.

    ``fixed`` are placements that the grower made and ``keep`` plantings of an earlier proposal that must stay; both are
    added to the plan as they are and count towards the wishes, as does what the plan holds already.
    ``winter_beds``: crops stand over winter in at most so many beds, the rest is clear but for catch crops.
    ``catch_crops``: gaps are filled with green manures.  ``alternatives``: up to so many other plans are sought (0 to
    3).
    """

    wants: tuple[Wish, ...]
    first_year: int
    years: int = 4
    dislikes: tuple[Dislike, ...] = ()
    fixed: tuple[Planting, ...] = ()
    keep: tuple[Planting, ...] = ()
    winter_beds: int | None = None
    catch_crops: bool = False
    alternatives: int = 0

    @property
    def horizon(self) -> range:
        """The growing years that are planned."""
        return range(self.first_year, self.first_year + self.years)


@dataclass(frozen=True, slots=True)
class Plan:
    """A garden, its beds, all plantings on record or planned, and the window to judge.

    ``wishes`` is the question to a proposal that the document brought along; no check looks at it.
    ``done`` is what a record says was done on ``as_of`` already, so that it is not told as due: pairs of the
    journal's word and the id of the bed (covered, uncovered) or planting (harvested).
    """

    as_of: date
    judge: Window
    judged_season: str | None
    garden: Garden
    beds: tuple[Bed, ...]
    plantings: tuple[Planting, ...]
    covers: tuple[Cover, ...] = ()
    sightings: tuple[Sighting, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    amendments: tuple[Amendment, ...] = ()
    seasons_read: Mapping[str, Window] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    wishes: Wishes | None = None
    done: frozenset[tuple[str, str]] = frozenset()
