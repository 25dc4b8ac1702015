"""Other plans that place as much and differ in substance: not in the names of beds that are alike."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import permutations, product
from math import factorial, prod

import networkx as nx

from rules.planning.propose.explaining import missing
from rules.planning.propose.instance import Instance, Limit
from rules.planning.propose.keys import SPREAD
from rules.planning.propose.question import Question
from rules.planning.propose.search import Outcome, Search

#: An alternative differs from each other plan in at least this share of its families' places (judgement).
_DIFFERS = 0.3
#: So often one that only puts the same into other beds that are alike is sought again; where no more than so many ways
#: there are to do that, all are ruled out at once.
_TRIES, _MOST_RENAMINGS = 3, 150


def alternatives(question: Question, best: Outcome, search: Search, many: int, seconds: float) -> list[Outcome]:
    """So many other outcomes at the most, each within some seconds; ``search`` is the one that found the best."""
    places = _Places(question)
    found, limits, known = list[Outcome](), list[Limit](), [best]
    short = _missing(question, best)
    for _ in range(many):
        taken = places.of(known[-1])
        if len(taken) < 2:
            break
        limits += [_apart(same) for same in places.renamings(taken)]
        for _ in range(_TRIES):
            other = search.again(question.instance.with_limits(limits)).run(seconds / _TRIES)
            if other.musts > best.musts or _missing(question, other) > short:
                return found
            same = [renamed for one in known if (renamed := places.renamed(one, other)) is not None]
            if not same:
                # Its bound is that of all plans, not of those alone that differ.
                known.append(replace(other, bound=best.bound))
                found.append(known[-1])
                break
            limits += [_apart(renamed) for renamed in same]
        else:
            break
    return found


def _missing(question: Question, outcome: Outcome) -> int:
    return sum(missing(question, outcome.laid, frozenset(p.id for p in outcome.plantings)).values())


def _apart(taken: Iterable[int]) -> Limit:
    taken = tuple(sorted(taken))
    return Limit(taken, int(len(taken) * (1 - _DIFFERS)))


class _Places:
    """Where families stand in a solution, and which plots are alike."""

    def __init__(self, question: Question) -> None:
        self.instance: Instance = question.instance
        self.number = {(p.plot, p.key, p.year): n for n, p in enumerate(self.instance.presences) if p.cost >= SPREAD}
        self.place = {n: place for place, n in self.number.items()}
        offered: defaultdict[int, list[tuple[object, ...]]] = defaultdict(list)
        for stand, choice in zip(question.stands, self.instance.choices, strict=True):
            offered[stand.plot].append((stand.lot, stand.year, stand.way, choice.most, choice.cost))
        alike: defaultdict[tuple[object, ...], list[int]] = defaultdict(list)
        for plot, offers in offered.items():
            alike[question.plots[plot].cells, *offers].append(plot)
        self.alike = list(alike.values())

    def of(self, outcome: Outcome) -> set[int]:
        """The presences of families that a solution has."""
        return {n for n, here in enumerate(self.instance.present(outcome.amounts)) if here and n in self.place}

    def renamings(self, taken: set[int]) -> Iterator[set[int]]:
        """The places with the names of alike plots exchanged in every way, or as they are where these are too many."""
        if prod(factorial(len(plots)) for plots in self.alike) > _MOST_RENAMINGS:
            yield taken
            return
        for orders in product(*(permutations(plots) for plots in self.alike)):
            names = {
                p: q for plots, order in zip(self.alike, orders, strict=True) for p, q in zip(plots, order, strict=True)
            }
            yield {self.number[names[plot], key, year] for plot, key, year in map(self.place.__getitem__, taken)}

    def renamed(self, one: Outcome, other: Outcome) -> set[int] | None:
        """The places of one, alike plots so renamed that most are the other's too; None if they differ even then."""
        mine, theirs = self._by_plot(one), self._by_plot(other)
        names: dict[int, int] = {}
        for plots in self.alike:
            graph: nx.Graph[object] = nx.Graph()
            for p in plots:
                for q in plots:
                    graph.add_edge(("from", p), ("to", q), weight=len(mine[p] & theirs[q]) + (p == q) / 2)
            for a, b in nx.max_weight_matching(graph, maxcardinality=True):
                (_, p), (_, q) = (a, b) if a[0] == "from" else (b, a)
                names[p] = q
        taken = {(names.get(p, p), *rest) for p, places in mine.items() for rest in places}
        shared = sum(place[1:] in theirs[place[0]] for place in taken)
        if shared <= len(taken) * (1 - _DIFFERS):
            return None
        return {self.number[place] for place in taken}

    def _by_plot(self, outcome: Outcome) -> defaultdict[int, set[tuple[str, int]]]:
        found: defaultdict[int, set[tuple[str, int]]] = defaultdict(set)
        for n in self.of(outcome):
            plot, key, year = self.place[n]
            found[plot].add((key, year))
        return found
