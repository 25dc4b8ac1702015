"""What grows where changes places: beds exchange a year, all years from one on, or single crops, for more points.

The solver weighs families; here the crops themselves are laid anew with each exchange, so what follows what and what
stands beside what is counted as it will be.  Every exchange keeps all that is placed; none costs more.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations, product
from typing import NamedTuple

from rules.planning.propose.building import BESIDE
from rules.planning.propose.improve import Clock
from rules.planning.propose.instance import Hold, Instance, Limit, Room
from rules.planning.propose.laying import Chunk, Laid, Laying
from rules.planning.propose.question import Question

#: Points that one point of cost weighs: so much that none is paid for something better to follow.
_COST = 20.0
#: What a quarter that finds no ground weighs.
_LEFT = 100.0
#: So many exchanges are weighed at the most, so often what was reached is shaken up without gain, and by so many
#: exchanges at a time.
_MOST_WEIGHED, _MOST_SHAKEN, _SHAKES = 30_000, 12, 3
#: About the seconds that one takes to weigh, where no clock tells.
_SECONDS = 0.0002
#: Less than this is no gain.
_HAIR = 1e-6

Chunks = tuple[Chunk, ...]


def moved(question: Question, instance: Instance, kept: Iterable[Chunk], clock: Clock, until: float) -> Laid:
    """What is kept of a solution laid anew, with places exchanged as long as that brings points and time is left."""
    return _Moving(question, instance, kept, clock, until).moved()


class _Worth(NamedTuple):
    """What a plot's chunks are worth by themselves, and the presences that they make."""

    points: float
    presences: frozenset[int]


class _Rows:
    """The rows of an instance that one plot alone decides, and those that several do."""

    def __init__(self, question: Question, instance: Instance) -> None:
        self.instance = instance
        plot_of = [choice.plot for choice in instance.choices]
        self.rooms: list[list[Room]] = [[] for _ in question.plots]
        self.holds: list[list[Hold]] = [[] for _ in question.plots]
        self.limits: list[list[Limit]] = [[] for _ in question.plots]
        self.shared: list[Limit] = []
        for room in instance.rooms:
            self.rooms[plot_of[room.choices[0]]].append(room)
        for hold in instance.holds:
            self.holds[plot_of[hold.choices[0]]].append(hold)
        for limit in instance.limits:
            plots = {instance.presences[p].plot for p in limit.presences}
            if len(plots) == 1:
                self.limits[plots.pop()].append(limit)
            elif plots and limit.cost is None:
                self.shared.append(limit)
        self.beside: dict[int, list[int]] = {}
        for one, other in question.beside:
            self.beside.setdefault(one, []).append(other)
            self.beside.setdefault(other, []).append(one)

    def cost(self, plot: int, amounts: Mapping[int, int]) -> tuple[float, frozenset[int]] | None:
        """What the amounts of a plot cost, and the presences that they make; None where they break a row."""
        if any(sum(amounts.get(c, 0) for c in room.choices) > room.most for room in self.rooms[plot]):
            return None
        here = set()
        for hold in self.holds[plot]:
            if quarters := sum(amounts.get(c, 0) for c in hold.choices):
                here.add(hold.presence)
                if quarters > hold.most:
                    return None
        total, paid = sum(self.instance.presences[p].cost for p in here), dict[int, float]()
        for n, limit in enumerate(self.limits[plot]):
            over = sum(p in here for p in limit.presences) - limit.most
            if over > 0:
                if limit.cost is None:
                    return None
                key = limit.slack if limit.slack is not None else -1 - n
                paid[key] = max(paid.get(key, 0.0), over * limit.cost)
        for choice, amount in amounts.items():
            if amount > self.instance.choices[choice].most:
                return None
            total += amount * self.instance.choices[choice].cost
        return total + sum(paid.values()), frozenset(here)


class _Moving:
    def __init__(
        self, question: Question, instance: Instance, kept: Iterable[Chunk], clock: Clock, until: float
    ) -> None:
        self.question, self.clock, self.until = question, clock, until
        self.rows, self.laying = _Rows(question, instance), Laying(question, {})
        self.at = {(s.lot, s.plot, s.year, s.way): n for n, s in enumerate(question.stands)}
        here: list[list[Chunk]] = [[] for _ in question.plots]
        for chunk in kept:
            here[question.stands[chunk.stand].plot].append(chunk)
        self.chunks: list[Chunks] = [_whole(chunks) for chunks in here]
        self.known: dict[tuple[int, Chunks], _Worth | None] = {}
        self.random, self.weighed = random.Random(1), 0
        worths = [self._worth(plot, chunks) for plot, chunks in enumerate(self.chunks)]
        self.possible = all(worth is not None for worth in worths)
        self.worths = [worth for worth in worths if worth is not None]
        self.present = {p for worth in self.worths for p in worth.presences}

    def moved(self) -> Laid:
        """The best arrangement that is found."""
        gained = self._descended() if self.possible else 0.0
        best, score, shaken = list(self.chunks), gained, 0
        while self.possible and shaken < _MOST_SHAKEN and self._goes_on():
            gained += self._shaken() + self._descended()
            if gained > score + _HAIR:
                best, score, shaken = list(self.chunks), gained, 0
            else:
                gained += self._back(best) if gained < score - _HAIR else 0.0
                shaken += 1
        return Laying(self.question, {plot: list(_whole(chunks)) for plot, chunks in enumerate(best) if chunks}).laid()

    def _goes_on(self) -> bool:
        return self.weighed < _MOST_WEIGHED and self.clock.spent < self.until

    # -- the search

    def _descended(self) -> float:
        """Exchanges that bring points, until none does; what they brought."""
        gained, stale = 0.0, False
        while not stale and self._goes_on():
            stale = True
            for one, other in self._pairs():
                for mine, theirs in self._exchanges(one, other):
                    if not self._goes_on():
                        return gained
                    gain = self._gain({one: mine, other: theirs})
                    if gain is not None and gain > _HAIR:
                        gained += self._take({one: mine, other: theirs})
                        stale = False
                        break
        return gained

    def _shaken(self) -> float:
        """A few exchanges at random, whatever they bring."""
        gained, pairs = 0.0, self._pairs()
        for one, other in pairs[:_SHAKES]:
            offers = [
                pair
                for pair in self._exchanges(one, other)
                if self._gain(dict(zip((one, other), pair, strict=True))) is not None
            ]
            if offers:
                mine, theirs = self.random.choice(offers)
                gained += self._take({one: mine, other: theirs})
        return gained

    def _pairs(self) -> list[tuple[int, int]]:
        pairs = list(combinations(range(len(self.chunks)), 2))
        self.random.shuffle(pairs)
        return pairs

    def _back(self, best: Sequence[Chunks]) -> float:
        return self._take({plot: chunks for plot, chunks in enumerate(best) if chunks != self.chunks[plot]})

    def _exchanges(self, one: int, other: int) -> Iterator[tuple[Chunks, Chunks]]:
        """What two plots may hold after an exchange: a year's crops, those of all years from one on, or two crops."""
        mine, theirs = self.chunks[one], self.chunks[other]
        for year in self.question.wishes.horizon:
            yield from self._exchanged(
                one, other, [c for c in mine if self._year(c) >= year], [c for c in theirs if self._year(c) >= year]
            )
            now, then = [c for c in mine if self._year(c) == year], [c for c in theirs if self._year(c) == year]
            yield from self._exchanged(one, other, now, then)
            if len(now) > 1 or len(then) > 1:
                for here, there in product((*now, None), (*then, None)):
                    yield from self._exchanged(one, other, [here] if here else [], [there] if there else [])

    def _exchanged(
        self, one: int, other: int, mine: Sequence[Chunk], theirs: Sequence[Chunk]
    ) -> Iterator[tuple[Chunks, Chunks]]:
        if [(c.wish, c.size) for c in mine] == [(c.wish, c.size) for c in theirs]:
            return
        there, here = self._in(other, mine), self._in(one, theirs)
        if there is not None and here is not None:
            yield _changed(self.chunks[one], mine, here), _changed(self.chunks[other], theirs, there)

    def _in(self, plot: int, chunks: Iterable[Chunk]) -> list[Chunk] | None:
        """The chunks in another plot; None where one may not stand there."""
        found = []
        for chunk in chunks:
            stand = self.question.stands[chunk.stand]
            number = self.at.get((stand.lot, plot, stand.year, stand.way))
            if number is None:
                return None
            found.append(chunk._replace(stand=number))
        return found

    def _year(self, chunk: Chunk) -> int:
        return self.question.stands[chunk.stand].year

    # -- what it is worth

    def _worth(self, plot: int, chunks: Chunks) -> _Worth | None:
        key = plot, chunks
        if key not in self.known:
            self.weighed += 1
            self.clock.took(_SECONDS)
            self.known[key] = self._weigh(plot, chunks)
        return self.known[key]

    def _weigh(self, plot: int, chunks: Chunks) -> _Worth | None:
        amounts: dict[int, int] = {}
        for chunk in chunks:
            amounts[chunk.stand] = amounts.get(chunk.stand, 0) + chunk.size
        known = self.rows.cost(plot, amounts)
        if known is None:
            return None
        points, _, left = self.laying.bed(plot, chunks)
        return _Worth(points - _COST * known[0] - _LEFT * sum(chunk.size for chunk in left), known[1])

    def _gain(self, new: Mapping[int, Chunks]) -> float | None:
        """What an exchange brings; None where it is not possible."""
        worths = {plot: self._worth(plot, chunks) for plot, chunks in new.items()}
        if any(worth is None for worth in worths.values()):
            return None
        gone = frozenset().union(*(self.worths[plot].presences for plot in new))
        come = frozenset().union(*(worth.presences for worth in worths.values() if worth))
        if self.rows.shared:
            after = self.present - gone | come
            if any(sum(p in after for p in limit.presences) > limit.most for limit in self.rows.shared):
                return None
        own = sum(worth.points - self.worths[plot].points for plot, worth in worths.items() if worth)
        if not self.rows.beside or gone == come:
            return own
        others = self.present - gone
        return own - BESIDE * (self._beside(come, others) - self._beside(gone, others))

    def _beside(self, some: frozenset[int], others: set[int]) -> float:
        """How many of some presences lie beside others of their family a year before or after."""
        near = [q for p in some for q in self.rows.beside.get(p, ())]
        return sum(q in others for q in near) + sum(q in some for q in near) / 2

    def _take(self, new: Mapping[int, Chunks]) -> float:
        gain = self._gain(new)
        assert gain is not None
        for plot, chunks in new.items():
            worth = self._worth(plot, chunks)
            assert worth is not None
            self.present -= self.worths[plot].presences
            self.chunks[plot], self.worths[plot] = chunks, worth
        self.present |= {p for plot in new for p in self.worths[plot].presences}
        return gain


def _changed(chunks: Chunks, out: Iterable[Chunk], into: Iterable[Chunk]) -> Chunks:
    left = list(chunks)
    for chunk in out:
        left.remove(chunk)
    return tuple(sorted([*left, *into]))


def _whole(chunks: Iterable[Chunk]) -> Chunks:
    """Chunks with what is of one wish and stand in one."""
    sizes: dict[tuple[int, int], int] = {}
    for chunk in chunks:
        sizes[chunk.wish, chunk.stand] = sizes.get((chunk.wish, chunk.stand), 0) + chunk.size
    return tuple(sorted(Chunk(wish, stand, size) for (wish, stand), size in sizes.items()))
