"""What cannot fit by counting alone: a family's demand against its beds and breaks, all demand against the ground.

The checks come before the solver: they are the first reason that a grower is given, and as rows they spare the solver
a long proof.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from rules.planning.propose.instance import Instance, Missing
from rules.planning.propose.plots import PARTS
from rules.planning.propose.question import Question
from rules.planning.propose.times import EARLY, LATE, SLOTS

_SEASONS = {EARLY: "the first half of", LATE: "the second half of"}


class Count(NamedTuple):
    """Demands (by number) that together miss at least ``least`` quarter beds, and why in words."""

    demands: tuple[int, ...]
    least: int
    text: str


def counted(question: Question) -> list[Count]:
    """Everything that counting shows to be too much."""
    return [*_Families(question).counts(), *_slots(question)]


def with_counts(instance: Instance, counts: Iterable[Count]) -> Instance:
    """The instance with what counting shows as rows of its own."""
    return replace(instance, missing=tuple(Missing(count.demands, count.least) for count in counts))


def beds(quarters: int) -> str:
    """Quarter beds in words: "half a bed", "2 and a half beds"."""
    whole, rest = divmod(quarters, PARTS)
    part = {0: "", 1: "a quarter", 2: "half", 3: "three quarters"}[rest]
    if not whole:
        return {"": "no bed", "half": "half a bed"}.get(part, f"{part} of a bed")
    if not part:
        return "1 bed" if whole == 1 else f"{whole} beds"
    return f"{whole} and {'a half' if part == 'half' else part} beds"


# -- families


class _Families:
    """How often families can stand in plots, and on how much of them."""

    def __init__(self, question: Question) -> None:
        self.question, self.instance = question, question.instance
        self.presences: dict[tuple[str, int], list[int]] = {}
        for n, presence in enumerate(self.instance.presences):
            self.presences.setdefault((presence.key.rpartition(" ")[0], presence.plot), []).append(n)
        self.rows: dict[int, list[frozenset[int]]] = {}
        for limit in self.instance.limits:
            if limit.cost is None and limit.most == 1:
                for n in limit.presences:
                    self.rows.setdefault(n, []).append(frozenset(limit.presences))
        self.held: dict[int, set[int]] = {}
        for hold in self.instance.holds:
            self.held.setdefault(hold.presence, set()).update(hold.choices)

    def counts(self) -> Iterable[Count]:
        """Families that are asked for more than their plots carry, over all years or else in one."""
        horizon, lots = self.question.wishes.horizon, self.question.lots
        for family in dict.fromkeys(lot.family for lot in lots if lot.family):
            members = [n for n, (lot, _) in enumerate(self.question.demands) if lots[lot].family == family]
            if not members or any(lot.perennial for lot in lots if lot.family == family):
                continue
            count = self.over(family, members, horizon)
            if count is not None:
                yield count
                continue
            for year in horizon:
                this = [n for n in members if self.question.demands[n][1] == year]
                count = self.over(family, this, range(year, year + 1))
                if count is not None:
                    yield count

    def over(self, family: str, members: Sequence[int], years: range) -> Count | None:
        """Whether a family's demand in some years passes what its plots can carry in them."""
        asked = sum(self.instance.demands[n].amount for n in members)
        mine = {c for n in members for c in self.instance.demands[n].choices}
        carries = [self.carried(family, plot, mine, years) for plot in range(len(self.question.plots))]
        if asked <= sum(carries):
            return None
        name, interval = self.question.context.knowledge.family_name(family), self.question.context.interval(family)
        cells = [plot.cells for plot in self.question.plots]
        blocked = sum(n for n, carried in zip(cells, carries, strict=True) if not carried)
        when = f"from {years[0]} to {years[-1]}" if len(years) > 1 else f"in {years[0]}"
        together = ", all years together" if len(years) > 1 else ""
        text = f"The {name} is asked for on {beds(asked)} {when}{together}. "
        if interval is not None and interval[0] and len(years) > 1:
            rest = "1 free year" if interval[0] == 1 else f"{interval[0]} free years"
            text += f"With {rest} between two of its crops in one place, "
        most = beds(sum(carries)) if sum(carries) else "none"
        text += f"{'your' if text.endswith(', ') else 'Your'} {beds(sum(cells))} can carry {most} of it"
        if blocked:
            text += f", since {beds(blocked)} cannot take it {when}, by the record, the season or what stands there"
        return Count(tuple(members), asked - sum(carries), f"{text}: {beds(asked - sum(carries))} too many.")

    def carried(self, family: str, plot: int, mine: set[int], years: range) -> int:
        """The most quarters of a family that a plot can hold in some years."""
        here = [n for n in self.presences.get((family, plot), ()) if self.instance.presences[n].year in years]
        worth = {n: self.most(n, mine) for n in here}
        best = 0

        def take(left: list[int], taken: frozenset[int], quarters: int) -> None:
            nonlocal best
            best = max(best, quarters)
            for i, n in enumerate(left):
                if all(row.isdisjoint(taken) for row in self.rows.get(n, ())):
                    take(left[i + 1 :], taken | {n}, quarters + worth[n])

        take(here, frozenset(), 0)
        return best

    def most(self, presence: int, mine: set[int]) -> int:
        """The most quarters under one presence: as often its cells as its choices can stand one after the other."""
        question = self.question
        spans = {question.slots_of(question.stands[c]) for c in self.held.get(presence, ()) if c in mine}
        last, times = -1, 0
        for slots in sorted(spans, key=lambda s: s[-1]):
            if slots[0] > last:
                last, times = slots[-1], times + 1
        return times * question.plots[self.instance.presences[presence].plot].cells


# -- all demand against the ground


def _slots(question: Question) -> list[Count]:
    """Whether what must fill a slot, in whichever way it is grown, passes the ground that there is."""
    instance, found = question.instance, []
    cells = sum(plot.cells for plot in question.plots)
    for year in question.wishes.horizon:
        for slot in (EARLY, LATE):
            at = (year - question.wishes.first_year) * SLOTS + slot
            members = [n for n in range(len(instance.demands)) if _always(question, n, year, at)]
            asked = sum(instance.demands[n].amount for n in members)
            if asked > cells:
                text = (
                    f"In {_SEASONS[slot]} {year} crops on {beds(asked)} would stand at once, and there "
                    f"{'is' if cells <= PARTS else 'are'} {beds(cells)}: {beds(asked - cells)} too many."
                )
                found.append(Count(tuple(members), asked - cells, text))
    return found


def _always(question: Question, demand: int, year: int, slot: int) -> bool:
    """Whether every choice that could meet a demand fills a slot; what stays for years is asked for once in each."""
    lot, when = question.demands[demand]
    if question.lots[lot].perennial and when != year:
        return False
    choices = question.instance.demands[demand].choices
    return bool(choices) and all(slot in question.slots_of(question.stands[c]) for c in choices)
