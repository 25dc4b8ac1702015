"""Lots: crops of one family that are set and cleared alike, and how many quarter beds of them are wanted each year."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from rules.checks.context import Context
from rules.checks.exposures import is_hosted
from rules.knowledge.facts import Crop
from rules.knowledge.known import Knowledge
from rules.knowledge.setting import Glass
from rules.model import Garden, Planting, Wish, Wishes
from rules.planning.propose.plots import PARTS, Plot, fits, sizes
from rules.planning.propose.times import Timing, glass, timings

#: Amounts a hair above a quarter are that quarter.
_HAIR = 1e-6
Way = tuple[tuple[int, ...], str, float]


@dataclass(frozen=True, eq=False)
class Lot:
    """Wishes (by number) whose crops may stand for one another: same family, times, plots and diseases.

    ``wanted`` are quarter beds by wish and growing year, less what the plan holds already; ``ways`` are the slots,
    the phase and the cost of each way to grow them, ``timing`` the days of a wish's crop by year and way.
    """

    family: str
    must: bool
    wanted: Mapping[tuple[int, int], int]
    plots: tuple[int, ...]
    ways: tuple[Way, ...]
    timing: Mapping[tuple[int, int, Way], Timing]
    crops: Mapping[int, Crop]
    glass: Glass
    perennial: bool

    def amount(self, year: int) -> int:
        """Quarter beds that are wanted in a year."""
        return sum(n for (_, when), n in self.wanted.items() if when == year)

    def times(self, year: int, way: Way) -> list[Timing]:
        """The days of all its crops in a year and way."""
        return [self.timing[wish, year, way] for wish in self.crops if (wish, year, way) in self.timing]


def quarters(wish: Wish, beds: float) -> int:
    """How many quarter beds a wish asks for each year; ``beds`` is the ground that there is, in beds."""
    asked = wish.amount if wish.amount is not None else wish.share * beds if wish.share is not None else 1 / PARTS
    return ceil(asked * PARTS - _HAIR)


def standing(plantings: Iterable[Planting], crop: Crop, year: int, context: Context) -> float:
    """Beds of a crop that a plan holds in a growing year: set in it, or a perennial that stands in it."""
    found, size = 0.0, sizes(context.beds.values())
    for p in plantings:
        if p.crop.id == crop.id and p.status != "lost":
            since = context.year_of(p.start)
            if since == year or (p.crop.perennial and since <= year <= context.year_of(p.end)):
                found += (p.part[1] - p.part[0]) * size[p.bed]
    return found


def lots(wishes: Wishes, context: Context, plots: Sequence[Plot]) -> list[Lot]:
    """The lots of all wishes, in the order of their first wish."""
    return _Grouping(wishes, context, plots).lots()


class _Grouping:
    def __init__(self, wishes: Wishes, context: Context, plots: Sequence[Plot]) -> None:
        self.wishes, self.context, self.plots = wishes, context, plots
        self.garden: Garden = context.plan.garden
        self.knowledge: Knowledge = context.knowledge
        size = sizes(context.beds.values())
        self.beds = sum(size[name] for name in {plot.bed.id for plot in plots})
        seen = {of for ground in context.grounds.values() for of in ground.sightings}
        self.seen = [self.knowledge.diseases[name] for name in sorted(seen)]
        self.crossed = [r.options for r in self.knowledge.by_kind.get("cross-break", ())]

    def lots(self) -> list[Lot]:
        grouped: dict[tuple[object, ...], list[int]] = {}
        timing: dict[tuple[int, int, Way], Timing] = {}
        wanted = self._wanted()
        for n, wish in enumerate(self.wishes.wants):
            ways: dict[Way, None] = {}
            for year in self.wishes.horizon:
                for one in timings(wish.crop, year, self.garden, self.knowledge, wish.slot):
                    way = one.slots, one.phase, one.cost
                    ways[way] = None
                    timing[n, year, way] = one
            grouped.setdefault(self._kin(wish, tuple(ways)), []).append(n)
        return [
            Lot(
                self.wishes.wants[members[0]].crop.family,
                self.wishes.wants[members[0]].must,
                {key: units for key, units in wanted.items() if key[0] in members},
                self._allowed(self.wishes.wants[members[0]]),
                key[2],  # type: ignore[arg-type]
                {key: one for key, one in timing.items() if key[0] in members},
                {n: self.wishes.wants[n].crop for n in members},
                glass(self.wishes.wants[members[0]].crop, self.knowledge),
                self.wishes.wants[members[0]].crop.perennial,
            )
            for key, members in grouped.items()
        ]

    def _kin(self, wish: Wish, ways: tuple[Way, ...]) -> tuple[object, ...]:
        """What crops of one lot have in common."""
        crop = wish.crop
        diseases = tuple(d.id for d in self.seen if is_hosted(crop, d) or crop.id in d.carriers)
        sides = tuple(crop.id in rule[side].get("crops", ()) for rule in self.crossed for side in ("one", "other"))
        years = frozenset(wish.years) & frozenset(self.wishes.horizon)
        return (
            crop.family or crop.id,
            wish.must,
            ways,
            self._allowed(wish),
            years,
            diseases,
            sides,
            glass(crop, self.knowledge),
            crop.perennial,
        )

    def _allowed(self, wish: Wish) -> tuple[int, ...]:
        """The plots that a wish may use."""
        unwanted = {d.bed for d in self.wishes.dislikes if d.crop.id == wish.crop.id}
        if None in unwanted:
            return ()
        return tuple(
            n
            for n, plot in enumerate(self.plots)
            if (not wish.beds or plot.bed.id in wish.beds) and plot.bed.id not in unwanted and fits(wish.crop, plot)
        )

    def _wanted(self) -> dict[tuple[int, int], int]:
        """Quarter beds by wish and year; what stands already counts for the first wish that asks for it."""
        plan, found, met = self.context.plan.plantings, dict[tuple[int, int], int](), dict[tuple[str, int], int]()
        for n, wish in enumerate(self.wishes.wants):
            for year in self.wishes.horizon:
                if wish.years and year not in wish.years:
                    continue
                key = wish.crop.id, year
                if key not in met:
                    met[key] = round(standing(plan, wish.crop, year, self.context) * PARTS)
                asked = quarters(wish, self.beds)
                has = min(asked, met[key])
                met[key] -= has
                if asked > has:
                    found[n, year] = asked - has
        return found
