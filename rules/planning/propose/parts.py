"""A part of an instance with all else held as it is: small enough to be solved at once where the whole is not."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from rules.planning.propose.instance import Demand, Hold, Instance, Limit, Missing, Room


@dataclass(frozen=True, eq=False)
class Part:
    """An instance of the choices that may change, by their numbers in the whole, and their amounts so far."""

    instance: Instance
    choices: tuple[int, ...]
    amounts: tuple[int, ...]

    def within(self, whole: Sequence[int], amounts: Sequence[int]) -> tuple[int, ...]:
        """The amounts of the whole with those of the part put in."""
        changed = list(whole)
        for choice, amount in zip(self.choices, amounts, strict=True):
            changed[choice] = amount
        return tuple(changed)


class Parts:
    """Cuts parts out of one instance; what it takes to find the rows of a choice is gathered once."""

    def __init__(self, instance: Instance) -> None:
        self.whole = instance
        self._rooms = _index(len(instance.choices), (room.choices for room in instance.rooms))
        self._holds = _index(len(instance.choices), (hold.choices for hold in instance.holds))
        self._demands = _index(len(instance.choices), (demand.choices for demand in instance.demands))
        self._limits = _index(len(instance.presences), (limit.presences for limit in instance.limits))
        self._held: list[list[Hold]] = [[] for _ in instance.presences]
        for hold in instance.holds:
            self._held[hold.presence].append(hold)
        self._slacks: dict[int, list[int]] = {}
        for n, limit in enumerate(instance.limits):
            if limit.slack is not None:
                self._slacks.setdefault(limit.slack, []).append(n)

    def part(self, amounts: Sequence[int], free: Collection[int]) -> Part:
        """The part in which some choices are free."""
        return _Cut(self, amounts, sorted(free)).part()


def _index(size: int, rows: Iterable[Iterable[int]]) -> list[list[int]]:
    """For each number the rows that it is in."""
    found: list[list[int]] = [[] for _ in range(size)]
    for n, row in enumerate(rows):
        for one in row:
            found[one].append(n)
    return found


class _Cut:
    def __init__(self, parts: Parts, amounts: Sequence[int], free: list[int]) -> None:
        self.parts, self.whole, self.amounts, self.free = parts, parts.whole, amounts, free
        self.number = {choice: n for n, choice in enumerate(free)}
        touched = dict.fromkeys(n for choice in free for n in parts._holds[choice])
        self.holds = [self.whole.holds[n] for n in touched]
        self.presence: dict[int, int] = {}
        for hold in self.holds:
            if not self._stays(hold.presence):
                self.presence.setdefault(hold.presence, len(self.presence))
        self.present: dict[int, bool] = {}

    def part(self) -> Part:
        limits = self._limits()
        rooms = dict.fromkeys(n for choice in self.free for n in self.parts._rooms[choice])
        held = [hold for hold in self.holds if hold.presence not in self.presence]
        instance = Instance(
            tuple(self.whole.choices[choice] for choice in self.free),
            tuple(self.whole.presences[n] for n in self.presence),
            (
                *(Room(*self._row(self.whole.rooms[n].choices, self.whole.rooms[n].most)) for n in rooms),
                *(Room(*self._row(hold.choices, hold.most)) for hold in held),
            ),
            tuple(
                Hold(self.presence[hold.presence], *self._row(hold.choices, hold.most))
                for hold in self.holds
                if hold.presence in self.presence
            ),
            limits,
            *self._demands(),
        )
        return Part(instance, tuple(self.free), tuple(self.amounts[choice] for choice in self.free))

    def _row(self, choices: Sequence[int], most: int) -> tuple[tuple[int, ...], int]:
        """A row's free choices, and what is left for them."""
        mine = tuple(self.number[c] for c in choices if c in self.number)
        return mine, most - sum(self.amounts[c] for c in choices if c not in self.number)

    def _stays(self, presence: int) -> bool:
        """Whether a presence is there whatever the free choices are."""
        return any(
            self.amounts[c] and c not in self.number for hold in self.parts._held[presence] for c in hold.choices
        )

    def _there(self, presence: int) -> bool:
        if presence not in self.present:
            self.present[presence] = self._stays(presence)
        return self.present[presence]

    def _limits(self) -> tuple[Limit, ...]:
        """Limits that a free presence is in, and those that share their slack and are passed already."""
        mine = dict.fromkeys(n for presence in self.presence for n in self.parts._limits[presence])
        shared = {limit.slack for n in mine if (limit := self.whole.limits[n]).slack is not None}
        mine |= dict.fromkeys(n for slack in shared for n in self.parts._slacks[slack])
        found = []
        for n in mine:
            limit = self.whole.limits[n]
            free = tuple(self.presence[p] for p in limit.presences if p in self.presence)
            most = limit.most - sum(self._there(p) for p in limit.presences if p not in self.presence)
            if (free and len(free) > most) or most < 0:
                found.append(limit._replace(presences=free, most=most))
        return tuple(found)

    def _demands(self) -> tuple[tuple[Demand, ...], tuple[Missing, ...]]:
        """What is still wanted of the free choices, and how much of the musts they may miss."""
        mine = dict.fromkeys(n for choice in self.free for n in self.parts._demands[choice])
        number = {n: place for place, n in enumerate(mine)}
        demands = []
        for n in mine:
            choices, amount = self._row(self.whole.demands[n].choices, self.whole.demands[n].amount)
            demands.append(self.whole.demands[n]._replace(choices=choices, amount=amount))
        rows = []
        for row in self.whole.missing:
            if row.most is not None and any(n in number for n in row.demands):
                others = sum(self._short(n) for n in row.demands if n not in number)
                rows.append(Missing(tuple(number[n] for n in row.demands if n in number), 0, row.most - others))
        return tuple(demands), tuple(rows)

    def _short(self, n: int) -> int:
        demand = self.whole.demands[n]
        return max(0, demand.amount - sum(self.amounts[c] for c in demand.choices))
