"""From wishes and ground to an instance of the first stage: which lots may stand where and when, and at what cost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from rules.checks.context import Context
from rules.model import Wishes
from rules.planning.propose.instance import Choice, Demand, Hold, Instance, Limit, Presence, Room
from rules.planning.propose.keys import Key, Keys
from rules.planning.propose.lots import Lot, lots
from rules.planning.propose.plots import glass_cost, plots
from rules.planning.propose.question import Question, Stand, filled
from rules.planning.propose.stands import Position, Rests
from rules.planning.propose.times import SLOTS, WINTER
from rules.seasons import growing_year_window

#: Points: a quarter bed that is missing, a must that is missing, a caution (a shortfall at 100 and a short rest at 30
#: as in our own trial runs of such models; the rest: judgement).
MISSING, MUST, CAUTION = 100.0, 300.0, 30.0
#: Points for a bed of a family beside its bed of last season (judgement).
BESIDE = 1.0
#: Beds no farther apart than this are beside each other, in metres.
BESIDE_M = 2.0


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
        self.alone: dict[Stand, int] = {}
        self.rooms: dict[tuple[int, int], list[int]] = {}
        self.demanded: dict[tuple[int, int], list[int]] = {}
        self.barred: dict[tuple[int, int, int], str] = {}
        self.beside: list[tuple[int, int]] = []

    def question(self) -> Question:
        for plot in range(len(self.plots)):
            self._plot(plot)
        self._beside()
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
            tuple(self.beside),
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
        cost = stand.way[2] + glass_cost(lot.glass, plot, self.plots)
        self.choices.append(Choice(stand.lot, stand.plot, stand.year, most, cost))
        for slot in filled(stand, self.wishes):
            self.rooms.setdefault((stand.plot, slot), []).append(number)
        return number

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
            latest, until = max(one[1] for one in several), min(one[2] for one in several)
            positions.append(Position(start, end, number, latest, until))
            self._hold(number, [one[0] for one in several], numbers, self.plots[plot].cells)
        if key.crossing is None:  # else it is the other group that must stay away
            for clique in self.rests.cliques(positions, key.rest.least):
                self.limits.append(Limit(clique))
            for earlier, later in self.rests.pairs(positions, key.rest):
                self.limits.append(Limit((earlier, later), 1, CAUTION, later))
            stands = [[stand for stand, *_ in several] for several in spans.values()]
            for these, those in self.rests.joined(list(zip(positions, stands, strict=True)), key.rest.least):
                self._not_again(these, those, numbers)
        return key, positions

    def _not_again(self, here: list[Stand], there: list[Stand], numbers: Mapping[Stand, int]) -> None:
        """Relatives may join a stay, but what was sown in autumn is not sown again beside it in spring."""
        for one in here:
            for other in there:
                if one.lot == other.lot:
                    self.limits.append(Limit((self._alone(one, numbers), self._alone(other, numbers))))

    def _alone(self, stand: Stand, numbers: Mapping[Stand, int]) -> int:
        """The presence of one lot by itself."""
        if stand not in self.alone:
            self.alone[stand] = len(self.presences)
            self.presences.append(Presence(stand.plot, f"lot {stand.way[1]}", stand.year))
            self.holds[self.alone[stand], (numbers[stand],)] = self.plots[stand.plot].cells
        return self.alone[stand]

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

    # -- the whole garden

    def _beside(self) -> None:
        """A family's bed beside its bed of last season costs a little."""
        near = self.context.neighbours.near(BESIDE_M)
        rotating = {
            lot.family for lot in self.lots if lot.family and not lot.perennial and self.context.interval(lot.family)
        }
        by_place: dict[tuple[str, str, int], list[int]] = {}
        for n, presence in enumerate(self.presences):
            name, _, phase = presence.key.rpartition(" ")
            if name in rotating and phase != "perennial":
                by_place.setdefault((name, self.plots[presence.plot].bed.id, presence.year), []).append(n)
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
                    self.beside += [(earlier, later) for later in laters]

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
