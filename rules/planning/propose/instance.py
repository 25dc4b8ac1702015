"""The first stage as numbers: who may stand where and when, what room there is, and what each shortcoming costs.

An instance knows neither crops nor dates: a *choice* is one lot (crops of one family and timing) in one plot and
season, counted in quarter beds; a *presence* is a family (or the hosts of a disease) standing in a plot in a year,
yes or no.  Everything asked of a solution is one of four rows: room, hold, limit, demand.  Lower cost is better; 0 =
nothing is missing and nothing pinches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple


class Choice(NamedTuple):
    """A lot in a plot and year: at most ``most`` quarters, each at a ``cost``."""

    lot: int
    plot: int
    year: int
    most: int
    cost: float = 0.0


class Presence(NamedTuple):
    """Whether a key (a family, a disease's hosts, winter crops) stands in a plot in a year; ``cost`` if it does."""

    plot: int
    key: str
    year: int
    cost: float = 0.0


class Room(NamedTuple):
    """In one plot and slot at most ``most`` quarters stand."""

    choices: tuple[int, ...]
    most: int


class Hold(NamedTuple):
    """The choices can stand only where the presence is; together at most ``most`` quarters."""

    presence: int
    choices: tuple[int, ...]
    most: int


class Limit(NamedTuple):
    """At most ``most`` of the presences; with a ``cost`` more are allowed at that cost for each.

    Limits of one ``slack`` share their excess: the greatest of them is paid for, once.
    """

    presences: tuple[int, ...]
    most: int = 1
    cost: float | None = None
    slack: int | None = None


class Demand(NamedTuple):
    """``amount`` quarters are wanted of the choices together; each missing one costs ``cost``; more are not placed.

    What is missing of those that ``must`` be met comes before all other cost.
    """

    choices: tuple[int, ...]
    amount: int
    cost: float
    must: bool = False


class Missing(NamedTuple):
    """Of some demands together at least ``least`` quarters stay unmet, as counting shows, and at most ``most``."""

    demands: tuple[int, ...]
    least: int
    most: int | None = None


@dataclass(frozen=True)
class Instance:
    """One problem of the first stage."""

    choices: tuple[Choice, ...]
    presences: tuple[Presence, ...]
    rooms: tuple[Room, ...]
    holds: tuple[Hold, ...]
    limits: tuple[Limit, ...]
    demands: tuple[Demand, ...]
    missing: tuple[Missing, ...] = ()

    @property
    def worth(self) -> float:
        """What meeting every demand is worth, in points."""
        return sum(demand.amount * demand.cost for demand in self.demands)

    @cached_property
    def holds_of(self) -> list[list[Hold]]:
        """The holds that each choice is in."""
        found: list[list[Hold]] = [[] for _ in self.choices]
        for hold in self.holds:
            for choice in hold.choices:
                found[choice].append(hold)
        return found

    def present(self, amounts: Sequence[int]) -> list[bool]:
        """The presences that some amounts need."""
        found = [False] * len(self.presences)
        for hold in self.holds:
            if not found[hold.presence] and any(amounts[choice] for choice in hold.choices):
                found[hold.presence] = True
        return found

    def short(self, amounts: Sequence[int]) -> list[int]:
        """What is missing of each demand."""
        return [max(0, demand.amount - sum(amounts[choice] for choice in demand.choices)) for demand in self.demands]

    def cost(self, amounts: Sequence[int]) -> float:
        """What amounts for the choices cost in all; they are taken to be possible."""
        present = self.present(amounts)
        total = sum(demand.cost * n for demand, n in zip(self.demands, self.short(amounts), strict=True))
        total += sum(choice.cost * n for choice, n in zip(self.choices, amounts, strict=True) if n)
        total += sum(presence.cost for presence, here in zip(self.presences, present, strict=True) if here)
        paid: dict[int, float] = {}
        for n, limit in enumerate(self.limits):
            if limit.cost is not None:
                over = max(0, sum(present[p] for p in limit.presences) - limit.most)
                key = limit.slack if limit.slack is not None else -1 - n
                paid[key] = max(paid.get(key, 0.0), over * limit.cost)
        return total + sum(paid.values())

    def possible(self, amounts: Sequence[int]) -> bool:
        """Whether amounts keep to every room, hold, hard limit and demand."""
        if any(not 0 <= n <= choice.most for choice, n in zip(self.choices, amounts, strict=True)):
            return False
        rows: list[tuple[tuple[int, ...], int]] = [(room.choices, room.most) for room in self.rooms]
        rows += [(hold.choices, hold.most) for hold in self.holds]
        rows += [(demand.choices, demand.amount) for demand in self.demands]
        if any(sum(amounts[choice] for choice in choices) > most for choices, most in rows):
            return False
        present, short = self.present(amounts), self.short(amounts)
        if any(row.most is not None and sum(short[n] for n in row.demands) > row.most for row in self.missing):
            return False
        return all(
            sum(present[p] for p in limit.presences) <= limit.most for limit in self.limits if limit.cost is None
        )

    @property
    def musts(self) -> tuple[int, ...]:
        """The demands that must be met, by number."""
        return tuple(n for n, demand in enumerate(self.demands) if demand.must)

    def rank(self, amounts: Sequence[int]) -> tuple[int, float]:
        """What is compared: what is missing of the musts, then all cost."""
        short = self.short(amounts)
        return sum(short[n] for n in self.musts), self.cost(amounts)

    def with_musts(self, most: int) -> Instance:
        """The same where at most so many quarters are missing of the musts."""
        return replace(self, missing=(*self.missing, Missing(self.musts, 0, most)))

    def bare(self) -> Instance:
        """The same where nothing costs anything, so that any solution will do."""
        return replace(
            self,
            choices=tuple(c._replace(cost=0.0) for c in self.choices),
            presences=tuple(p._replace(cost=0.0) for p in self.presences),
            limits=tuple(limit for limit in self.limits if limit.cost is None),
            demands=tuple(d._replace(cost=0.0) for d in self.demands),
        )

    def of_musts(self) -> Instance:
        """The same where nothing counts but what is missing of the musts."""
        return replace(self.bare(), demands=tuple(d if d.must else d._replace(cost=0.0) for d in self.demands))

    @property
    def floor(self) -> float:
        """What any solution costs at least: what counting alone shows to be missing."""
        total, seen = 0.0, set[int]()
        costs = [(row.least * min(self.demands[n].cost for n in row.demands), row.demands) for row in self.missing]
        for cost, demands in sorted(costs, reverse=True):
            if seen.isdisjoint(demands):
                seen.update(demands)
                total += cost
        return total

    def with_limits(self, more: Sequence[Limit]) -> Instance:
        """The same with further limits."""
        return replace(self, limits=(*self.limits, *more))
