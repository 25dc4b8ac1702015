"""The second stage: which crop of a lot goes into which plot, into which part of it, and on which days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import combinations
from typing import NamedTuple

from rules.model import Planting
from rules.planning.propose.plots import Plot
from rules.planning.propose.points import Points
from rules.planning.propose.question import Question, Stand

#: So many exchanges of crops are tried at the most, so that a large garden is not weighed all day.
_MOST_TRIES = 4000
_METHODS = {"sowing": "sow", "transplanting": "transplant", "planting": "set"}
_ONE_DAY = timedelta(days=1)


class Chunk(NamedTuple):
    """Some quarters of one wish's crop in one stand."""

    wish: int
    stand: int
    size: int


@dataclass(frozen=True, eq=False)
class Laid:
    """Plantings of a solution, each with the stand and wish that it came from, and what found no ground."""

    plantings: tuple[Planting, ...]
    of: Mapping[str, Chunk]
    left: tuple[Chunk, ...]


class Bed(NamedTuple):
    """A plot laid: its points, its plantings with what they came from, and what found no ground."""

    points: int
    laid: list[tuple[Chunk, Planting]]
    left: list[Chunk]


def lay(question: Question, amounts: Sequence[int]) -> Laid:
    """Crops and days for the amounts of the first stage."""
    chunks: dict[int, list[Chunk]] = {}
    for chunk in _shared(question, amounts):
        chunks.setdefault(question.stands[chunk.stand].plot, []).append(chunk)
    return Laying(question, chunks).laid()


class Laying:
    """Lays chunks, plot by plot."""

    def __init__(self, question: Question, chunks: Mapping[int, list[Chunk]]) -> None:
        self.question, self.points = question, Points(question.context)
        self.of_plot = dict(chunks)
        self.beds: dict[int, Bed] = {}
        self._slots: dict[int, tuple[int, ...]] = {}

    def laid(self) -> Laid:
        """Everything laid, crops of one lot exchanged where that brings points."""
        ids = {p.id for p in self.question.context.plan.plantings}
        for plot, chunks in self.of_plot.items():
            self.beds[plot] = self.bed(plot, chunks)
        self._exchange()
        plantings, of, left = list[Planting](), dict[str, Chunk](), list[Chunk]()
        for plot in sorted(self.beds):
            _, here, missed = self.beds[plot]
            left += missed
            for chunk, planting in here:
                name = unused(f"{planting.bed}.{planting.crop.id}.{planting.start}", ids)
                plantings.append(planting._replace(id=name))
                of[name] = chunk
        plantings.sort(key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id))
        return Laid(tuple(plantings), of, tuple(left))

    def _stand(self, chunk: Chunk) -> Stand:
        return self.question.stands[chunk.stand]

    def _slots_of(self, stand: int) -> tuple[int, ...]:
        if stand not in self._slots:
            self._slots[stand] = self.question.slots_of(self.question.stands[stand])
        return self._slots[stand]

    def _exchange(self) -> None:
        """Let crops of one lot and year change places as long as that brings points."""
        groups: dict[tuple[int, int, int, object], list[tuple[int, int]]] = {}
        for plot, chunks in self.of_plot.items():
            for n, chunk in enumerate(chunks):
                stand = self._stand(chunk)
                groups.setdefault((stand.lot, stand.year, chunk.size, stand.way), []).append((plot, n))
        tries = 0
        for places in groups.values():
            for (plot, n), (other, m) in combinations(places, 2):
                one, two = self.of_plot[plot][n], self.of_plot[other][m]
                if plot == other or one.wish == two.wish:
                    continue
                tries += 1
                if tries > _MOST_TRIES:
                    return
                mine, theirs = list(self.of_plot[plot]), list(self.of_plot[other])
                mine[n], theirs[m] = one._replace(wish=two.wish), two._replace(wish=one.wish)
                new, newer = self.bed(plot, mine), self.bed(other, theirs)
                if new.points + newer.points > self.beds[plot].points + self.beds[other].points:
                    self.of_plot[plot], self.of_plot[other] = mine, theirs
                    self.beds[plot], self.beds[other] = new, newer

    # -- one plot

    def bed(self, number: int, chunks: Sequence[Chunk]) -> Bed:
        """A plot with its chunks in the order of their time, each where it scores best."""
        plot = self.question.plots[number]
        cells: list[dict[int, Planting]] = [{} for _ in range(plot.cells)]
        laid: list[tuple[Chunk, Planting, tuple[int, int]]] = []
        left: list[Chunk] = []
        total = 0
        for chunk in sorted(
            chunks, key=lambda c: (self._slots_of(c.stand)[0], -len(self._slots_of(c.stand)), -c.size, c.wish, c.stand)
        ):
            planting = self._planting(plot, chunk)
            slots = self._slots_of(chunk.stand)
            free = [n for n, cell in enumerate(cells) if all(slot not in cell for slot in slots)]
            if planting is None or len(free) < chunk.size:
                left.append(chunk)
                continue
            spots = [(n, n + chunk.size) for n in free if set(range(n, n + chunk.size)) <= set(free)]
            if spots:
                scored = [(self._score(plot, cells, laid, planting, run), -run[0], run) for run in spots]
                score, _, run = max(scored)
                total += score
                spans = [run]
            else:
                spans = runs(free[: chunk.size])
            for span in spans:
                part = plot.cell(*span)
                piece = planting._replace(part=part)
                for cell in cells[span[0] : span[1]]:
                    cell.update(dict.fromkeys(slots, piece))
                laid.append((chunk._replace(size=span[1] - span[0]), piece, span))
        return Bed(total, [(chunk, self._cleared(piece, span, laid)) for chunk, piece, span in laid], left)

    def _planting(self, plot: Plot, chunk: Chunk) -> Planting | None:
        stand = self._stand(chunk)
        lot = self.question.lots[stand.lot]
        timing = lot.timing[chunk.wish, stand.year, stand.way]
        start = plot.free_from(timing)
        if start is None:
            return None
        crop = lot.crops[chunk.wish]
        method = _METHODS.get(crop.maturity.counted_from) if crop.maturity else None
        end = plot.free_until(start, timing.end)
        return Planting("", plot.bed.id, crop, start, end, assumed_end=crop.perennial, method=method)

    def _score(
        self,
        plot: Plot,
        cells: Sequence[Mapping[int, Planting]],
        laid: Sequence[tuple[Chunk, Planting, tuple[int, int]]],
        planting: Planting,
        run: tuple[int, int],
    ) -> int:
        """Points of a planting in some cells: beside what is laid there, and after what came before."""
        beside = sum(
            self.points.together(planting, other) for _, other, (low, high) in laid if low <= run[1] and high >= run[0]
        )
        before = {id(p): p for cell in cells[run[0] : run[1]] for p in cell.values() if p.end < planting.start}
        if before:
            last = max(before.values(), key=lambda p: p.end)
            return beside + self.points.follows(last, planting)
        past = [p for p in plot.past if p.end < planting.start]
        return beside + (self.points.follows(max(past, key=lambda p: (p.end, p.id)), planting) if past else 0)

    @staticmethod
    def _cleared(
        piece: Planting, span: tuple[int, int], laid: Sequence[tuple[Chunk, Planting, tuple[int, int]]]
    ) -> Planting:
        """A planting ends the day before the next one in its ground is set."""
        later = [p.start for _, p, (low, high) in laid if p.start > piece.start and low < span[1] and high > span[0]]
        return piece._replace(end=min([piece.end, *(start - _ONE_DAY for start in later)]))


def _shared(question: Question, amounts: Sequence[int]) -> Iterator[Chunk]:
    """Each lot's quarters shared out among its wishes, large wishes first and whole where that can be."""
    by_lot: dict[tuple[int, int], dict[int, int]] = {}
    for n, amount in enumerate(amounts):
        if amount:
            stand = question.stands[n]
            by_lot.setdefault((stand.lot, stand.year), {})[n] = amount
    given: dict[int, int] = {}
    for (lot, year), left in sorted(by_lot.items()):
        wanted = question.lots[lot].wanted
        wishes = {wish: units for (wish, when), units in wanted.items() if when == year}
        if question.lots[lot].perennial:
            wishes = {}
            for (wish, when), units in wanted.items():
                if when >= year:
                    wishes[wish] = max(wishes.get(wish, 0), units - given.get(wish, 0))
        for wish, units in sorted(wishes.items(), key=lambda pair: (-pair[1], pair[0])):
            while units > 0 and any(left.values()):
                fitting = [n for n, free in left.items() if free >= units]
                best = min(fitting, key=lambda n: (left[n], n)) if fitting else max(left, key=lambda n: (left[n], -n))
                size = min(units, left[best])
                left[best] -= size
                units -= size
                given[wish] = given.get(wish, 0) + size
                yield Chunk(wish, best, size)


def runs(cells: Sequence[int]) -> list[tuple[int, int]]:
    """Numbers of cells as runs, each from its first to before its last."""
    runs: list[tuple[int, int]] = []
    for n in cells:
        if runs and runs[-1][1] == n:
            runs[-1] = runs[-1][0], n + 1
        else:
            runs.append((n, n + 1))
    return runs


def unused(base: str, taken: set[str]) -> str:
    """A name for a planting that is not taken yet; from now on it is."""
    name, number = base, 1
    while name in taken:
        number += 1
        name = f"{base}.{number}"
    taken.add(name)
    return name
