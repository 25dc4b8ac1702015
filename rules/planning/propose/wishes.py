"""What a grower wants of the years to come: the question that a proposal answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rules.knowledge.facts import Crop
from rules.model import Planting

#: When a crop is set: in the main season, in autumn to stand over winter, or whichever suits it.
Slot = Literal["main", "overwinter", "any"]
#: Beds are shared out in quarters: smaller parts are more bother than they are worth (judgement).
PARTS = 4


@dataclass(frozen=True, slots=True)
class Wish:
    """One crop and how much of it is wanted in each of some growing years.

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
