"""From wishes and ground to an instance of the first stage: which lots may stand where and when, and at what cost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from itertools import permutations, product

from rules.checks.context import Context
from rules.planning.propose.instance import Bonus, Choice, Demand, Hold, Instance, Limit, Presence, Room
from rules.planning.propose.keys import Key, Keys
from rules.planning.propose.lots import Lot, lots
from rules.planning.propose.plots import Plot, plots
from rules.planning.propose.points import Points
from rules.planning.propose.question import Question, Stand, filled
from rules.planning.propose.stands import Position, Rests
from rules.planning.propose.times import SLOTS, WINTER
from rules.planning.propose.wishes import Wishes
from rules.seasons import growing_year_window

#: Points: a quarter bed that is missing, a must that is missing, a caution, a bed beside last season's (a shortfall at
#: 100 and a short rest at 30 as in our own trial runs of such models; the rest: judgement).
MISSING, MUST, CAUTION, BESIDE = 100.0, 300.0, 30.0, 1.0
#: Points for a quarter bed under glass of a crop that does well there too, or belongs outside; and outside, where there
#: is glass, of one that wants it (judgement).
_UNDER_GLASS, _NO_GLASS = {"best": 0.0, "fine": 0.5, "no": 4.0}, 2.0
#: Beds no farther apart than this are beside each other, in metres.
BESIDE_M = 2.0
#: Beside is left out of larger gardens than this many rows: it would cost more time than it is worth.
_MOST_BESIDE = 6000
#: What follows what is weighed by family in gardens of so many plots; in larger ones only when crops are laid.
_MOST_SEQUENCED = 24


def ask(wishes: Wishes, context: Context, *, less_rest: Mapping[str, int] | None = None) -> Question:
    """A garden's question: ``context`` holds the plan with what is fixed; ``less_rest`` takes years off breaks."""
    return _Builder(wishes, context, less_rest or {}).question()


class _Builder:
    def __init__(self, wishes: Wishes, context: Context, less_rest: Mapping[str, int]) -> None:
        self.wishes, self.context = wishes, context
        first = growing_year_window(wishes.first_year, context.latitude).start
        self.plots = plots(context, max(first, context.plan.as_of))
        self.lots = lots(wishes, context, self.plots)
        self.rests = Rests(context)
        self.keys = Keys(context, self.lots, self.rests, less_rest)
        self.stands: list[Stand] = []
        self.choices: list[Choice] = []
        self.presences: list[Presence] = []
        self.holds: dict[tuple[int, tuple[int, ...]], int] = {}
        self.limits: list[Limit] = []
        self.rooms: dict[tuple[int, int], list[int]] = {}
        self.demanded: dict[tuple[int, int], list[int]] = {}
        self.barred: dict[tuple[int, int, int], str] = {}
        self.bonuses: list[Bonus] = []
        self.points, self.followed = Points(context), dict[tuple[str, str], float]()

    def question(self) -> Question:
        for plot in range(len(self.plots)):
            self._plot(plot)
        notes = () if self._beside() else ("The garden is too large to weigh which beds lie beside last season's.",)
        self._winter()
        demands, keys = [], []
        for (lot, year), choices in self.demanded.items():
            amount = self.lots[lot].amount(year)
            if amount:
                keys.append((lot, year))
                must = self.lots[lot].must
                demands.append(Demand(tuple(choices), amount, MUST if must else MISSING, must))
        instance = Instance(
            tuple(self.choices),
            tuple(self.presences),
            tuple(
                Room(tuple(choices), self.plots[plot].cells)
                for (plot, _), choices in self.rooms.items()
                if sum(self.choices[c].most for c in choices) > self.plots[plot].cells
            ),
            tuple(Hold(presence, choices, most) for (presence, choices), most in self.holds.items()),
            tuple(self.limits),
            tuple(demands),
            bonuses=tuple(self.bonuses),
        )
        return Question(
            self.wishes,
            self.context,
            tuple(self.plots),
            tuple(self.lots),
            tuple(self.stands),
            instance,
            tuple(keys),
            self.barred,
            notes,
        )

    # -- one plot

    def _plot(self, plot: int) -> None:
        """All that may stand in a plot, and the breaks between."""
        here: list[tuple[Stand, date, date]] = []
        for n, lot in enumerate(self.lots):
            for year in self.wishes.horizon:
                found = self._days(n, lot, plot, year) if plot in lot.plots else []
                here += found
                if plot not in lot.plots:
                    self.barred[n, plot, year] = "bed"
                elif not found:
                    self.barred[n, plot, year] = "ground"
        keys = self.keys.of(self.plots[plot], {stand.lot for stand, _, _ in here})
        open_ = self._open(plot, here, keys)
        numbers = {stand: self._choice(stand) for stand, _, _ in open_}
        placed = {name: self._presences(plot, name, key, open_, numbers) for name, key in keys.items()}
        self._crossed(placed)
        self._sequences([name for name, key in keys.items() if key.cost], placed)
        for n in range(len(self.lots)):
            for year in self.wishes.horizon:
                self.demanded.setdefault((n, year), [])
        for stand, number in numbers.items():
            years = range(stand.year, self.wishes.horizon.stop) if stand.way[1] == "perennial" else (stand.year,)
            for year in years:
                self.demanded[stand.lot, year].append(number)

    def _days(self, n: int, lot: Lot, plot: int, year: int) -> list[tuple[Stand, date, date]]:
        """The ways in which all of a lot's crops find free ground, with the first and last day of any."""
        found = []
        for way in lot.ways:
            times = lot.times(year, way)
            starts = [self.plots[plot].free_from(one) for one in times]
            if times and None not in starts:
                ends = [self.plots[plot].free_until(s, one.end) for s, one in zip(starts, times, strict=True) if s]
                found.append((Stand(n, plot, year, way), min(s for s in starts if s), max(ends)))
        return found

    def _choice(self, stand: Stand) -> int:
        number, lot, plot = len(self.stands), self.lots[stand.lot], self.plots[stand.plot]
        most = min(plot.cells, max((lot.amount(y) for y in self.wishes.horizon), default=0))
        self.stands.append(stand)
        self.choices.append(Choice(stand.lot, stand.plot, stand.year, most, stand.way[2] + self._glass(lot, plot)))
        for slot in filled(stand, self.wishes):
            self.rooms.setdefault((stand.plot, slot), []).append(number)
        return number

    def _glass(self, lot: Lot, plot: Plot) -> float:
        """What it costs to have a quarter of a lot under glass, or outside."""
        if plot.bed.kind == "greenhouse":
            return _UNDER_GLASS[lot.glass]
        return _NO_GLASS if lot.glass == "best" and any(p.bed.kind == "greenhouse" for p in self.plots) else 0.0

    # -- breaks

    def _open(
        self, plot: int, here: list[tuple[Stand, date, date]], keys: Mapping[str, Key]
    ) -> list[tuple[Stand, date, date]]:
        """What the least breaks after the plot's past, and before what is fixed, leave open."""
        spans, kept, found = self._spans(here), dict[tuple[str, date, date], bool](), []
        for one in here:
            stand = one[0]
            start, end = spans[_place(stand, self.lots)]
            for name, key in keys.items():
                if stand.lot in key.lots:
                    if (name, start, end) not in kept:
                        kept[name, start, end] = self.keys.kept(self.plots[plot], key, start, end, key.rest.least)
                    if not kept[name, start, end]:
                        self.barred.setdefault((stand.lot, stand.plot, stand.year), name)
                        break
            else:
                found.append(one)
        return found

    def _spans(self, here: Iterable[tuple[Stand, date, date]]) -> dict[tuple[str, int, str], tuple[date, date]]:
        """First and last day of each family's presence in a year and phase."""
        spans: dict[tuple[str, int, str], tuple[date, date]] = {}
        for stand, start, end in here:
            place = _place(stand, self.lots)
            known = spans.get(place, (start, end))
            spans[place] = min(known[0], start), max(known[1], end)
        return spans

    def _presences(
        self, plot: int, name: str, key: Key, here: list[tuple[Stand, date, date]], numbers: Mapping[Stand, int]
    ) -> tuple[Key, list[Position]]:
        """The presences of a key in a plot, their holds, and the breaks between them."""
        spans: dict[tuple[int, str], list[tuple[Stand, date, date]]] = {}
        for one in here:
            if one[0].lot in key.lots:
                spans.setdefault((one[0].year, one[0].way[1]), []).append(one)
        positions = []
        for (year, phase), several in spans.items():
            start, end = min(one[1] for one in several), max(one[2] for one in several)
            cost = key.cost
            if not self.keys.kept(self.plots[plot], key, start, end, key.rest.better):
                cost += CAUTION
            number = len(self.presences)
            self.presences.append(Presence(plot, f"{name} {phase}", year, cost))
            positions.append(Position(start, end, number))
            self._hold(number, [one[0] for one in several], numbers, self.plots[plot].cells)
        for clique in self.rests.cliques(positions, key.rest.least):
            self.limits.append(Limit(clique))
        for earlier, later in self.rests.pairs(positions, key.rest):
            self.limits.append(Limit((earlier, later), 1, CAUTION, later))
        return key, positions

    def _hold(self, presence: int, stands: list[Stand], numbers: Mapping[Stand, int], cells: int) -> None:
        """A presence holds its choices, slot by slot."""
        by_slot: dict[int, list[int]] = {}
        for stand in stands:
            for slot in stand.way[0]:
                by_slot.setdefault(slot, []).append(numbers[stand])
        for choices in {tuple(choices) for choices in by_slot.values()}:
            self.holds[presence, choices] = cells

    def _crossed(self, placed: Mapping[str, tuple[Key, list[Position]]]) -> None:
        """Groups that share a lasting disease, the one after the other."""
        for name, (key, positions) in placed.items():
            if key.crossing is None or name > key.crossing.other or key.crossing.other not in placed:
                continue
            for one in positions:
                for other in placed[key.crossing.other][1]:
                    for years, cost in zip(key.rest, (None, CAUTION), strict=True):
                        if years and self.rests.clash(one, other, years):
                            self.limits.append(Limit((one.presence, other.presence), 1, cost))
                            break

    def _sequences(self, families: list[str], placed: Mapping[str, tuple[Key, list[Position]]]) -> None:
        """A family that does the next year's good saves the points of that."""
        if len(self.plots) > _MOST_SEQUENCED:
            return
        for first, second in permutations(families, 2):
            points = self._points(first, second)
            for one, other in product(placed[first][1], placed[second][1]) if points else ():
                years = self.presences[other.presence].year - self.presences[one.presence].year
                if years == 1 and one.end < other.start:
                    self.bonuses.append(Bonus((one.presence, other.presence), points))

    def _points(self, first: str, second: str) -> float:
        """Points of one family's crops after another's, on the average."""
        if (first, second) not in self.followed:
            of = {f: [c for lot in self.lots if lot.family == f for c in lot.crops.values()] for f in (first, second)}
            self.followed[first, second] = self.points.on_average(of[first], of[second], self.wishes.first_year)
        return self.followed[first, second]

    # -- the whole garden

    def _beside(self) -> bool:
        """A family's bed beside its bed of last season costs a little; False where there are too many to weigh."""
        near = self.context.neighbours.near(BESIDE_M)
        rotating = {
            lot.family for lot in self.lots if lot.family and not lot.perennial and self.context.interval(lot.family)
        }
        by_place: dict[tuple[str, str, int], list[int]] = {}
        for n, presence in enumerate(self.presences):
            name, _, phase = presence.key.rpartition(" ")
            if name in rotating and phase != "perennial":
                by_place.setdefault((name, self.plots[presence.plot].bed.id, presence.year), []).append(n)
        rows = []
        for (name, bed, year), laters in by_place.items():
            for other, _ in near.get(bed, ()):
                if other == bed:
                    continue
                if year == self.wishes.first_year:
                    hosts = self.context.grounds[other].hosts.get(name, ())
                    if any(self.context.year_of(p.end) == year - 1 for p in hosts):
                        for later in laters:
                            here = self.presences[later]
                            self.presences[later] = here._replace(cost=here.cost + BESIDE)
                for earlier in by_place.get((name, other, year - 1), ()):
                    rows += [Bonus((earlier, later), -BESIDE) for later in laters]
        if len(rows) > _MOST_BESIDE:
            return False
        self.bonuses += rows
        return True

    def _winter(self) -> None:
        """Crops stand over winter in no more than so many beds."""
        most = self.wishes.winter_beds
        if most is None:
            return
        for year in self.wishes.horizon:
            winter = growing_year_window(year + 1, self.context.latitude).start
            used = {p.bed for p in self.context.plan.plantings if p.start < winter <= p.end and p.crop.kind != "fallow"}
            by_bed: dict[str, list[int]] = {}
            slot = (year - self.wishes.first_year) * SLOTS + WINTER
            for (plot, at), choices in self.rooms.items():
                if at == slot and self.plots[plot].bed.id not in used:
                    by_bed.setdefault(self.plots[plot].bed.id, []).extend(choices)
            numbers = []
            for bed, choices in by_bed.items():
                plot = next(n for n, p in enumerate(self.plots) if p.bed.id == bed)
                numbers.append(len(self.presences))
                self.holds[len(self.presences), tuple(choices)] = sum(p.cells for p in self.plots if p.bed.id == bed)
                self.presences.append(Presence(plot, "winter crops", year))
            left = max(0, most - len(used & {p.bed.id for p in self.plots}))
            if len(numbers) > left:
                self.limits.append(Limit(tuple(numbers), left))


def _place(stand: Stand, lots: list[Lot]) -> tuple[str, int, str]:
    lot = lots[stand.lot]
    return lot.family or next(iter(lot.crops.values())).id, stand.year, stand.way[1]
