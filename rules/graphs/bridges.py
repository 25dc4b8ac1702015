"""How a pest travels through a plan: hosts in space and time as a directed graph, and where to cut it.

A node is a planting.  An edge leads from a host to one that is set later, while the first still
stands or within the days that the pest survives after it was cleared, and within the pest's
reach.  So every path moves forward in time.  What stands already cannot be cut; of what is
planned, the smallest set is sought without which no path is left (a minimum vertex cut).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

import networkx as nx
from networkx.algorithms.flow import boykov_kolmogorov

#: More than any number of plantings can cost together: the fewest plantings come first, then the cheapest.
_ONE = 10_000
_START, _FINISH = ("start",), ("finish",)
_Node = tuple[str | int, ...]
#: Planting ids from a source to the planting that is reached.
Route = tuple[str, ...]


class Host(NamedTuple):
    """A planting that feeds the pest: days as ordinals, both included.

    ``after`` is how many days the pest lives on there once it is cleared; ``cost`` what it takes
    to change it, None for what stands already; ``target`` is True for a planting to be kept safe.
    """

    id: str
    bed: str
    start: int
    end: int
    after: int
    cost: int | None
    target: bool


@dataclass(frozen=True, slots=True)
class Cut:
    """The planned hosts that a pest reaches, one route to each, and the smallest set to change.

    Routes are tuples of planting ids from a source to the planting reached.
    """

    reached: tuple[str, ...]
    routes: tuple[tuple[str, ...], ...]
    change: tuple[str, ...]


class HostGraph:
    """The hosts of one pest in one plan.

    Parameters
    ----------
    hosts
        All plantings that feed the pest.
    within
        For each bed, the beds within the pest's reach, itself included; None where the pest
        reaches every bed.
    """

    def __init__(self, hosts: Iterable[Host], within: Mapping[str, frozenset[str]] | None) -> None:
        self.hosts = {host.id: host for host in sorted(hosts, key=lambda h: (h.start, h.end, h.id))}
        self._within = within

    def reached(self, sources: Iterable[str], bare: int | None = None) -> tuple[str, ...]:
        """The planned hosts that the pest gets to from some plantings, by start; no graph is built for it.

        With ``bare`` only what a route leads to on which some step leaves the ground without a host
        for so many days at most.
        """
        begin = self._known(sources)
        ahead = self._ahead(begin)
        came = ahead if bare is None else self._alive(ahead, bare)
        targets = self._targets(begin)
        return tuple(name for name in ahead if name in targets and name in came)

    def cut(self, sources: Iterable[str], bare: int | None = None) -> Cut:
        """What the pest reaches from some plantings (see ``reached``), and the smallest set of planned ones to change.

        With ``bare`` the routes told have such a step; where there is none, nothing is told.
        """
        begin = self._known(sources)
        ahead, targets = self._ahead(begin), self._targets(begin)
        came = {} if bare is None else self._alive(ahead, bare)
        reached = tuple(name for name in ahead if name in targets and (bare is None or name in came))
        if not reached:
            return Cut((), (), ())
        kept = self._towards(ahead, targets)
        graph = self._graph(kept, begin, targets)
        paths = nx.single_source_shortest_path(graph, _START)
        routes = [tuple(_names(paths["out", name])) for name in reached]
        if bare is not None:
            routes = [route if self._lives(route, bare) else _living_route(route[-1], came, paths) for route in routes]
        change = self._smallest(graph, kept, begin, targets)
        return Cut(reached, tuple(routes), tuple(host.id for host in kept if host.id in change))

    def _smallest(self, graph: Any, hosts: list[Host], begin: set[str], targets: set[str]) -> set[str]:
        """The smallest set of hosts to change: a minimum cut of the graph, of which the forced part is known.

        A target that the pest gets to without passing anything that could be changed is in every cut.
        Where that leaves no way, looking for the flow, by far the dearest step, is spared.
        """
        planned = {host.id for host in hosts if host.cost is not None} - begin
        forced = targets.intersection(self._ahead(begin, stops=planned))
        if targets.intersection(self._ahead(begin, stops=forced)) == forced:
            return forced
        graph.remove_nodes_from([(side, name) for name in forced for side in ("in", "out")])
        _, (near, _) = nx.minimum_cut(graph, _START, _FINISH, flow_func=boykov_kolmogorov)
        return forced | {name for name in planned if ("in", name) in near and ("out", name) not in near}

    def _known(self, sources: Iterable[str]) -> set[str]:
        return {name for name in sources if name in self.hosts}

    def _targets(self, begin: set[str]) -> set[str]:
        return {h.id for h in self.hosts.values() if h.target and h.cost is not None} - begin

    def _ahead(self, begin: set[str], stops: Container[str] = ()) -> list[str]:
        """The hosts that a pest gets to, by start: one pass, for every edge leads to a later host.

        ``stops`` are hosts that it does not go on from.
        """
        lives_until: dict[str, int] = {}
        found = []
        for host in self.hosts.values():
            around = self._around(host.bed)
            if host.id in begin or any(lives_until.get(bed, host.start - 1) >= host.start for bed in around):
                found.append(host.id)
                if host.id not in stops:
                    bed = host.bed if self._within is not None else ""
                    lives_until[bed] = max(lives_until.get(bed, 0), host.end + host.after)
        return found

    def _alive(self, ahead: list[str], bare: int) -> dict[str, tuple[str, bool]]:
        """The hosts at the end of a route with a living step: the host before, and whether the step lies before it.

        Of hosts on which the pest lives equally long the first is the one before, so that a row of beds set
        on one day is no row of steps.
        """
        lives_until: dict[str, tuple[int, int, str, bool]] = {}
        came: dict[str, tuple[str, bool]] = {}
        for place, name in enumerate(ahead):
            host = self.hosts[name]
            until, _, before, earlier = max(
                (lives_until[bed] for bed in self._around(host.bed) if bed in lives_until), default=(0, 0, "", False)
            )
            alive = until >= host.start and bool(before)
            if alive:
                came[name] = before, earlier
            last = host.end + (host.after if alive else min(host.after, bare)), -place, name, alive
            bed = host.bed if self._within is not None else ""
            lives_until[bed] = max(lives_until.get(bed, last), last)
        return came

    def _lives(self, route: Route, bare: int) -> bool:
        """Whether any step of a route leads from plant to plant, or nearly so."""
        steps = ((self.hosts[u], self.hosts[v]) for u, v in pairwise(route))
        return any(v.start <= u.end + bare for u, v in steps)

    def _towards(self, ahead: list[str], targets: set[str]) -> list[Host]:
        """Of these hosts those from which a target can be got to, by start: one pass from the last back."""
        first_start: dict[str, int] = {}
        found = []
        for name in reversed(ahead):
            host = self.hosts[name]
            last = host.end + host.after
            if name in targets or any(first_start.get(bed, last + 1) <= last for bed in self._around(host.bed)):
                found.append(host)
                bed = host.bed if self._within is not None else ""
                first_start[bed] = min(first_start.get(bed, host.start), host.start)
        return found[::-1]

    def _around(self, bed: str) -> Iterable[str]:
        return ("",) if self._within is None else self._within.get(bed, ())

    def _graph(self, hosts: list[Host], begin: set[str], targets: set[str]) -> Any:
        """The flow network: a planting can be cut for what it costs to change, what stands already cannot."""
        graph: nx.DiGraph[_Node] = nx.DiGraph()
        for host in hosts:
            limit = {} if host.cost is None else {"capacity": _ONE + host.cost}
            graph.add_edge(("in", host.id), ("out", host.id), **limit)
            if host.id in begin:
                graph.add_edge(_START, ("out", host.id))
            if host.id in targets:
                graph.add_edge(("out", host.id), _FINISH)
        if self._within is None:
            _lead_everywhere(graph, hosts)
        else:
            _lead_nearby(graph, hosts, self._within)
        return graph


def _lead_nearby(graph: nx.DiGraph[_Node], hosts: Sequence[Host], within: Mapping[str, frozenset[str]]) -> None:
    """Edges between hosts in beds within reach."""
    by_bed: dict[str, list[Host]] = {}
    for host in hosts:
        by_bed.setdefault(host.bed, []).append(host)
    for bed, here in by_bed.items():
        around = [host for other in sorted(within.get(bed, ())) for host in by_bed.get(other, ())]
        for later in here:
            for earlier in around:
                if leads(earlier, later):
                    graph.add_edge(("out", earlier.id), ("in", later.id))


def _lead_everywhere(graph: nx.DiGraph[_Node], hosts: Sequence[Host]) -> None:
    """The same where every bed is within reach, by a tree over the starts: n log n edges instead of n squared."""
    starts = [host.start for host in hosts]
    size = 1
    while size < len(hosts):
        size *= 2
    for place in range(2, 2 * size):
        graph.add_edge(("span", place // 2), ("span", place))
    for rank, later in enumerate(hosts):
        graph.add_edge(("span", size + rank), ("in", later.id))
    for rank, earlier in enumerate(hosts):
        # Those set after it, up to the last day on which the pest still lives there.
        last = bisect_left(starts, earlier.end + earlier.after + 1)
        for place in _spans(rank + 1 + size, last + size):
            graph.add_edge(("out", earlier.id), ("span", place))


def leads(earlier: Host, later: Host) -> bool:
    """Whether a pest can go from one host to another within reach: forward in time, before it starves."""
    ahead = (earlier.start, earlier.end, earlier.id) < (later.start, later.end, later.id)
    return ahead and later.start <= earlier.end + earlier.after


def _spans(first: int, last: int) -> Iterator[int]:
    """The fewest nodes of a heap-ordered tree that cover the leaves ``first`` up to, not including, ``last``."""
    while first < last:
        if first & 1:
            yield first
            first += 1
        if last & 1:
            last -= 1
            yield last
        first, last = first // 2, last // 2


def _living_route(name: str, came: Mapping[str, tuple[str, bool]], paths: Mapping[_Node, Sequence[_Node]]) -> Route:
    """The way to a host over the steps by which it ``came``, the shortest way up to the first of them."""
    steps, earlier = [name], True
    while earlier:
        before, earlier = came[steps[-1]]
        steps.append(before)
    return (*_names(paths["out", steps[-1]]), *steps[-2::-1])


def _names(path: Sequence[_Node]) -> Iterator[str]:
    """The plantings of a path, each once."""
    seen: set[str] = set()
    for node in path:
        if node[0] in ("in", "out") and node[1] not in seen:
            seen.add(str(node[1]))
            yield str(node[1])
