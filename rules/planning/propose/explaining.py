"""What found no place and why, in plain words, with the smallest change that was tried and makes room."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from rules.checks.context import Context
from rules.knowledge.known import Knowledge
from rules.model import Bed, Plan, Wishes
from rules.planning.propose.building import ask
from rules.planning.propose.counting import Count, beds
from rules.planning.propose.highs import solve
from rules.planning.propose.improve import Clock
from rules.planning.propose.instance import Missing
from rules.planning.propose.judging import joined
from rules.planning.propose.laying import Chunk, Laid
from rules.planning.propose.plots import PARTS
from rules.planning.propose.proposal import Placed, Relaxation, Unplaced
from rules.planning.propose.question import Question, Stand
from rules.planning.propose.search import Outcome
from rules.planning.propose.times import WINTER

#: So many lots are asked about; the rest are told without a change that helps.
_MOST_TRIED = 6
#: The longest that one change is tried, and what it takes about to see that it is of no use, in seconds.
_LONGEST, _REFUSED = 1.0, 0.05
#: So many fixed placements are tried without.
_MOST_FIXED = 4
#: The id of a bed that is not there; no bed of a plan is named so, since ids are slugs.
_NEW_BED = "one bed more"


@dataclass(frozen=True, eq=False)
class Asked:
    """What a question came from, so that it can be asked a little differently."""

    wishes: Wishes
    plan: Plan
    knowledge: Knowledge
    #: What there is to say of the wishes themselves.
    notes: tuple[str, ...] = ()

    def question(
        self, wishes: Wishes | None = None, plan: Plan | None = None, less_rest: str | None = None
    ) -> Question:
        """The question with other wishes, another plan, or a year's rest less for a family."""
        wishes, plan = wishes or self.wishes, plan or self.plan
        context = Context(joined(plan, (*wishes.fixed, *wishes.keep)), self.knowledge, told="none")
        return ask(wishes, context, less_rest={less_rest: 1} if less_rest else None)


def placed(question: Question, laid: Laid, names: frozenset[str]) -> tuple[Placed, ...]:
    """How much of each wish stands in each year, of the plantings that were kept."""
    where: dict[tuple[int, int], dict[str, None]] = {}
    for chunk, stand, year in _standing(question, laid, names):
        where.setdefault((chunk.wish, year), {})[question.plots[stand.plot].bed.id] = None
    amounts, wants = _amounts(question, laid, names), question.wishes.wants
    return tuple(
        Placed(wants[wish], year, amounts[wish, year] / PARTS, tuple(where[wish, year]))
        for wish, year in sorted(amounts)
    )


def missing(question: Question, laid: Laid, names: frozenset[str]) -> dict[tuple[int, int], int]:
    """Quarters that found no place, by wish and year."""
    amounts = _amounts(question, laid, names)
    wanted = {key: units - amounts[key] for lot in question.lots for key, units in lot.wanted.items()}
    return {key: units for key, units in sorted(wanted.items()) if units > 0}


def _amounts(question: Question, laid: Laid, names: frozenset[str]) -> Counter[tuple[int, int]]:
    """Quarters by wish and year."""
    amounts: Counter[tuple[int, int]] = Counter()
    for chunk, _, year in _standing(question, laid, names):
        amounts[chunk.wish, year] += chunk.size
    return amounts


def _standing(question: Question, laid: Laid, names: frozenset[str]) -> Iterator[tuple[Chunk, Stand, int]]:
    """Each chunk that was kept, with every year planned in which it stands."""
    for name, chunk in laid.of.items():
        if name in names:
            stand = question.stands[chunk.stand]
            years = range(stand.year, question.wishes.horizon.stop) if stand.way[1] == "perennial" else (stand.year,)
            yield from ((chunk, stand, year) for year in years)


class Explaining:
    """Explains what is missing from an outcome; ``seconds`` from now are for trying what would help."""

    def __init__(
        self,
        asked: Asked,
        question: Question,
        counts: Sequence[Count],
        outcome: Outcome,
        clock: Clock,
        seconds: float,
    ) -> None:
        self.asked, self.question, self.counts, self.outcome = asked, question, counts, outcome
        self.clock, self.until = clock, clock.spent + seconds
        self.lot_of = {wish: n for n, lot in enumerate(question.lots) for wish in lot.crops}
        self.names = frozenset(p.id for p in outcome.plantings)
        self.missing = missing(question, outcome.laid, self.names)
        self._known: dict[Relaxation, Question] = {}
        self._granted: dict[Relaxation, set[tuple[int, int]]] = {}

    def unplaced(self) -> tuple[Unplaced, ...]:
        """Each wish and year of which something is missing, with reason and relaxation."""
        helped: dict[tuple[int, int], Relaxation] = {}
        by_lot: dict[int, list[tuple[int, int]]] = {}
        for wish, year in self.missing:
            by_lot.setdefault(self.lot_of[wish], []).append((wish, year))
        for lot in sorted(by_lot, key=lambda n: not self.question.lots[n].must)[:_MOST_TRIED]:
            for key, relaxation in self._tried(lot, by_lot[lot]):
                helped[key] = relaxation
        wants = self.question.wishes.wants
        return tuple(
            Unplaced(
                wants[wish],
                year,
                units / PARTS,
                self._reason(wish, year),
                helped.get((wish, year)) or self._fewer(wish, year, units),
            )
            for (wish, year), units in self.missing.items()
        )

    # -- reasons

    def _reason(self, wish: int, year: int) -> str:
        lot = self.lot_of[wish]
        here, crop = self.question.lots[lot], self.question.wishes.wants[wish].crop
        plots = range(len(self.question.plots))
        if not plots:
            return "No bed is open in these years."
        if not here.ways:
            slot = self.question.wishes.wants[wish].slot
            when = {"main": "in the main season alone", "overwinter": "over winter"}.get(slot)
            return (
                f"{_cap(crop.plural)} cannot be grown {when} here."
                if when
                else f"The season here is too short for {crop.plural}."
            )
        if any(self.question.stands[chunk.stand].year == year and chunk.wish == wish for chunk in self.outcome.dropped):
            return "The ordinary check found a breach wherever it was tried, so it was left out."
        if not here.plots:
            return f"No bed may be used for {crop.plural}: by your dislikes, by the beds you allow, or by their size."
        barred = Counter(
            self.question.barred.get((lot, plot, year), "bed") for plot in plots if not self._open(lot, plot, year)
        )
        if len(plots) == sum(barred.values()):
            return self._barred(wish, year, barred)
        number, limit = self.question.demands.index((lot, year)), self.question.wishes.winter_beds
        wintry = limit is not None and all(WINTER in way[0] for way in here.ways)
        for count in () if wintry and not limit else self.counts:
            if number in count.demands:
                return count.text
        if wintry:
            most = "1 bed" if limit == 1 else f"{limit} beds" if limit else "no bed"
            return f"Crops are to stand over winter in {most}{' and no more, and there is no room left' * bool(limit)}."
        if not here.family:
            return f"There is ground for {crop.plural}, but other wishes have it."
        name = self.question.context.knowledge.family_name(here.family)
        return f"There is ground for it, but other wishes have it, or the {name} would come back to it too soon."

    def _open(self, lot: int, plot: int, year: int) -> bool:
        return any(s.lot == lot and s.plot == plot and s.year == year for s in self.question.stands)

    def _barred(self, wish: int, year: int, barred: Counter[str]) -> str:
        crop, knowledge = self.question.wishes.wants[wish].crop, self.question.context.knowledge
        parts = []
        for name, n in barred.most_common():
            places = "1 place" if n == 1 else f"{n} places"
            if name == "bed":
                parts.append(f"{places} you keep from it or that are too small")
            elif name == "ground":
                parts.append(f"{places} with something standing in its time")
            elif name in knowledge.diseases:
                parts.append(f"{places} where {knowledge.diseases[name].name} was seen")
            elif name.startswith("disease."):
                parts.append(f"{places} too soon after a crop that shares a lasting disease")
            else:
                parts.append(
                    f"{places} where the rest from the {knowledge.family_name(name)} is not over, or would be cut short"
                )
        return f"In {year} no bed is open to {crop.plural}: {', '.join(parts)}."

    # -- what would help

    def _fewer(self, wish: int, year: int, units: int) -> Relaxation:
        crop = self.question.wishes.wants[wish].crop
        return Relaxation(
            "fewer", f"Ask for {beds(units)} less of {crop.plural} in {year}; all else that is told as placed fits."
        )

    def _tried(self, lot: int, keys: Sequence[tuple[int, int]]) -> Iterator[tuple[tuple[int, int], Relaxation]]:
        """For each wish and year of a lot the first change that makes room for it: for all together, else for some."""
        left = sorted(keys)
        for relaxation, question in self._changes(lot, frozenset(wish for wish, _ in keys)):
            for some in (left, *([key] for key in left if len(left) > 1)):
                if not left or self.clock.spent >= self.until:
                    return
                if relaxation not in self._known:
                    self._known[relaxation] = question()
                if set(some) <= set(left) and self._fits(relaxation, some):
                    left = [key for key in left if key not in some]
                    yield from ((key, relaxation) for key in some)

    def _changes(self, lot: int, mine: frozenset[int]) -> Iterator[tuple[Relaxation, Callable[[], Question]]]:
        """Changes of the question, the smaller first, each with what would then be asked."""
        asked, wishes = self.asked, self.asked.wishes
        names = ", ".join(sorted({wishes.wants[n].crop.plural for n in mine}))
        if any(wishes.wants[n].slot != "any" for n in mine):
            text = f"It fits if {names} may stand in any season of the year."
            yield Relaxation("slot", text), partial(asked.question, _wanting(wishes, mine, slot="any"))
        if any(wishes.wants[n].beds for n in mine):
            text = f"It fits if {names} may go into other beds as well."
            yield Relaxation("beds", text), partial(asked.question, _wanting(wishes, mine, beds=()))
        for dislike in wishes.dislikes:
            if dislike.crop.id in {wishes.wants[n].crop.id for n in mine}:
                rest = replace(wishes, dislikes=tuple(d for d in wishes.dislikes if d is not dislike))
                where = f" in {self.question.context.bed_name(dislike.bed)}" if dislike.bed else ""
                text = f"It fits if {dislike.crop.plural} may stand{where} after all."
                yield Relaxation("dislike", text), partial(asked.question, rest)
        if wishes.winter_beds is not None:
            more = wishes.winter_beds + 1
            text = f"It fits if crops may stand over winter in {more} bed{'s' if more > 1 else ''}."
            yield Relaxation("winter_beds", text), partial(asked.question, replace(wishes, winter_beds=more))
        for fixed in wishes.fixed[:_MOST_FIXED]:
            without = replace(wishes, fixed=tuple(p for p in wishes.fixed if p is not fixed))
            where = self.question.context.bed_name(fixed.bed)
            text = f"It fits without the {fixed.crop.plural} that you fixed in {where}."
            yield Relaxation("fixed", text), partial(asked.question, without)
        new = Bed(_NEW_BED, "one bed more")
        more_beds = replace(asked.plan, beds=(*asked.plan.beds, new))
        yield (
            Relaxation("bed", "It fits with one bed more."),
            partial(asked.question, _open_to(wishes, new.id), more_beds),
        )
        family = self.question.lots[lot].family
        interval = self.question.context.interval(family) if family else None
        if interval is not None and interval[0] > 0:
            name = self.question.context.knowledge.family_name(family)
            years = "1 free year" if interval[0] == 1 else f"{interval[0]} free years"
            text = (
                f"It fits with one year's rest less for the {name}; {years} are the least, so that would be a breach."
            )
            yield Relaxation("rest", text), partial(asked.question, less_rest=family)

    def _fits(self, relaxation: Relaxation, keys: Sequence[tuple[int, int]]) -> bool:
        """Whether a change makes room for some wishes and years, and all it was told for before, with no other less."""
        question, wanted = self._known[relaxation], {*self._granted.get(relaxation, ()), *keys}
        allowed = [
            sum(self.missing.get((wish, year), 0) for wish in question.lots[lot].crops if (wish, year) not in wanted)
            for lot, year in question.demands
        ]
        rows = tuple(Missing((n,), 0, most) for n, most in enumerate(allowed))
        seconds = max(0.1, min(_LONGEST, self.until - self.clock.spent))
        solved = solve(replace(question.instance.bare(), missing=rows), seconds)
        self.clock.took(solved.seconds if solved else _REFUSED)
        if solved is not None:
            self._granted[relaxation] = wanted
        return solved is not None


def _wanting(wishes: Wishes, mine: Collection[int], **changes: Any) -> Wishes:
    """The wishes with some of them changed."""
    return replace(wishes, wants=tuple(replace(w, **changes) if n in mine else w for n, w in enumerate(wishes.wants)))


def _open_to(wishes: Wishes, bed: str) -> Wishes:
    """The wishes with a further bed for those that name their beds."""
    return replace(wishes, wants=tuple(replace(w, beds=(*w.beds, bed)) if w.beds else w for w in wishes.wants))


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]
