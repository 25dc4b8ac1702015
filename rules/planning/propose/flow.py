"""The quick answer: year by year a flow of least cost from wants to open plots, and greedy choice.

Both keep to every row of an instance.  Neither looks ahead, so what a year takes may be missing in the next.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from heapq import heapify, heappop, heappush

import networkx as nx

from rules.planning.propose.instance import Instance

#: Costs become whole numbers for the flow.
_SCALE = 100
#: Where two places cost the same, the roomier one is taken.
_HAIR = 1e-3


class Filling:
    """Amounts that grow one by one and never break a row."""

    def __init__(self, instance: Instance, amounts: Sequence[int] = ()) -> None:
        self.instance = instance
        self.amounts = [0] * len(instance.choices)
        self.present = [False] * len(instance.presences)
        rows: list[tuple[int, tuple[int, ...]]] = [(room.most, room.choices) for room in instance.rooms]
        rows += [(hold.most, hold.choices) for hold in instance.holds]
        rows += [(demand.amount, demand.choices) for demand in instance.demands]
        #: The most and the amount so far of each room, hold and demand.
        self._rows = [[most, 0] for most, _ in rows]
        self._of: list[list[int]] = [[] for _ in instance.choices]
        for n, (_, choices) in enumerate(rows):
            for choice in choices:
                self._of[choice].append(n)
        self._needs = [tuple(dict.fromkeys(hold.presence for hold in holds)) for holds in instance.holds_of]
        self._limits: list[list[int]] = [[] for _ in instance.presences]
        self._taken = [0] * len(instance.limits)
        for n, limit in enumerate(instance.limits):
            for presence in limit.presences:
                self._limits[presence].append(n)
        for choice, amount in enumerate(amounts):
            self.add(choice, amount)

    def room(self, choice: int) -> int:
        """How many quarters more a choice can take."""
        new = [p for p in self._needs[choice] if not self.present[p]]
        asked: dict[int, int] = {}
        for presence in new:
            for n in self._limits[presence]:
                asked[n] = asked.get(n, 0) + 1
        limits = self.instance.limits
        if any(limits[n].cost is None and self._taken[n] + more > limits[n].most for n, more in asked.items()):
            return 0
        left = min((self._rows[n][0] - self._rows[n][1] for n in self._of[choice]), default=0)
        return max(0, min(left, self.instance.choices[choice].most - self.amounts[choice]))

    def cost(self, choice: int) -> float:
        """What a first quarter more of a choice costs: itself, new presences and soft limits that they pass."""
        total, paid = self.instance.choices[choice].cost, dict[int, float]()
        for presence in self._needs[choice]:
            if not self.present[presence]:
                total += self.instance.presences[presence].cost
                for n in self._limits[presence]:
                    limit = self.instance.limits[n]
                    if limit.cost is not None and self._taken[n] >= limit.most:
                        key = limit.slack if limit.slack is not None else -1 - n
                        paid[key] = max(paid.get(key, 0.0), limit.cost)
        return total + sum(paid.values())

    def add(self, choice: int, amount: int) -> int:
        """Put in so many quarters or as many as there is room for; the number put in."""
        amount = min(amount, self.room(choice)) if amount else 0
        if amount <= 0:
            return 0
        self.amounts[choice] += amount
        for n in self._of[choice]:
            self._rows[n][1] += amount
        for presence in self._needs[choice]:
            if not self.present[presence]:
                self.present[presence] = True
                for n in self._limits[presence]:
                    self._taken[n] += 1
        return amount

    def first_room(self, choice: int) -> int | None:
        """The first room that a choice fills; None where no room binds it."""
        rows = self._of[choice]
        return rows[0] if rows and rows[0] < len(self.instance.rooms) else None

    def left(self, room: int) -> int:
        """The quarters that are left in a room."""
        return self._rows[room][0] - self._rows[room][1]

    def short(self, demand: int) -> int:
        """What a demand still misses."""
        row = self._rows[len(self.instance.rooms) + len(self.instance.holds) + demand]
        return row[0] - row[1]

    def top_up(self, demands: Iterable[int]) -> None:
        """Give each demand in turn its cheapest choices that have room, as long as that is cheaper than missing it."""
        for n in demands:
            demand = self.instance.demands[n]
            open_ = [(self._rank(c), c) for c in demand.choices if self.room(c)] if self.short(n) > 0 else []
            heapify(open_)
            while open_ and self.short(n) > 0:
                rank, choice = heappop(open_)
                if not self.room(choice):
                    continue
                if (now := self._rank(choice)) > rank:  # dearer than when it was weighed
                    heappush(open_, (now, choice))
                elif now >= demand.cost * self.short(n):
                    break
                else:
                    self.add(choice, self.short(n))

    def _rank(self, choice: int) -> float:
        return self.cost(choice) - _HAIR * self.room(choice)


def greedy(instance: Instance) -> tuple[int, ...]:
    """One demand after the other, year by year, each in its cheapest place: what a hurried grower does."""
    filling = Filling(instance)
    filling.top_up(sorted(range(len(instance.demands)), key=lambda n: _year(instance, n)))
    return tuple(filling.amounts)


def quick(instance: Instance, *, hurried: bool = False) -> tuple[int, ...]:
    """The flow of each year, then what it left over; the best of this, of greedy choice, and of musts before all.

    ``hurried`` leaves out the flow, which takes about ten times as long as greedy choice.
    """
    if hurried:
        musts = filled_up(instance) if instance.musts else ()
        return min((greedy(instance), *([musts] if musts else [])), key=instance.rank)
    tried = [_by_flow(instance), greedy(instance)]
    if any(instance.rank(amounts)[0] for amounts in tried):
        tried.append(_by_flow(instance, musts_first=True))
    return min(tried, key=instance.rank)


def filled_up(instance: Instance, amounts: Sequence[int] = ()) -> tuple[int, ...]:
    """What of some amounts keeps to an instance, filled up again, musts first."""
    filling = Filling(instance, amounts)
    filling.top_up(sorted(range(len(instance.demands)), key=lambda n: not instance.demands[n].must))
    return tuple(filling.amounts)


def _by_flow(instance: Instance, musts_first: bool = False) -> tuple[int, ...]:
    filling = Filling(instance)
    if musts_first:
        filling.top_up(sorted(instance.musts, key=lambda n: (len(instance.demands[n].choices), n)))
    by_year: dict[int, list[int]] = {}
    for n in range(len(instance.demands)):
        by_year.setdefault(_year(instance, n), []).append(n)
    for _, demands in sorted(by_year.items()):
        for choice, amount in _flow(instance, filling, demands):
            filling.add(choice, amount)
        filling.top_up(sorted(demands, key=lambda n: (-instance.demands[n].cost, len(instance.demands[n].choices), n)))
    return tuple(filling.amounts)


def _year(instance: Instance, demand: int) -> int:
    choices = instance.demands[demand].choices
    return max((instance.choices[c].year for c in choices), default=0)


def _flow(instance: Instance, filling: Filling, demands: list[int]) -> list[tuple[int, int]]:
    """The cheapest way to share a year's ground out, as choices and amounts, the cheapest first.

    What fills several slots flows through its first one alone: the others are seen to when the amounts are put in.
    """
    graph: nx.DiGraph[object] = nx.DiGraph()
    wanted = 0
    for n in demands:
        short = filling.short(n)
        if short <= 0:
            continue
        wanted += short
        graph.add_edge("all", ("demand", n), capacity=short, weight=0)
        graph.add_edge(("demand", n), "none", capacity=short, weight=round(instance.demands[n].cost * _SCALE))
        for c in instance.demands[n].choices:
            open_ = filling.room(c)
            if not open_:
                continue
            # A new presence is paid for once, so its cost is spread over what it can hold.
            own = instance.choices[c].cost
            weight = round(_SCALE * (own + (filling.cost(c) - own) / open_))
            graph.add_edge(("demand", n), ("choice", c), capacity=open_, weight=weight)
            first = filling.first_room(c)
            graph.add_edge(("choice", c), "none" if first is None else ("room", first), capacity=open_, weight=0)
            if first is not None:
                graph.add_edge(("room", first), "none", capacity=filling.left(first), weight=0)
    if not wanted:
        return []
    graph.add_node("all", demand=-wanted)
    graph.add_node("none", demand=wanted)
    _, found = nx.network_simplex(graph)
    moved = [
        (edge["weight"], node[1], found[up][node])
        for up, node, edge in graph.edges(data=True)
        if isinstance(node, tuple) and node[0] == "choice" and found[up][node]
    ]
    return [(c, amount) for _, c, amount in sorted(moved)]
