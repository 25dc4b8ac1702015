"""What the rotation says of families in a plot over the years: asked of the checks' own measure of a break.

A *position* is one presence of a key (a family, or a disease's hosts) in one plot: from the first day any of its
crops may be set to the last any may stand.  Two positions clash where no break of so many years lies between them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import combinations, pairwise
from typing import NamedTuple, TypeVar

from rules.checks.context import Context
from rules.checks.disease_break import DECADES
from rules.checks.exposures import is_hosted
from rules.graphs.stays import MERGE_DAYS, Stay, has_break
from rules.knowledge.facts import Crop, Disease
from rules.model import Planting
from rules.planning.propose.plots import Plot
from rules.planning.propose.times import LAST_DAY

T = TypeVar("T")
#: Years that no horizon reaches.
NEVER = 1000


class Position(NamedTuple):
    """One presence by its days, and its number in the instance: set by ``latest``, all there up to ``until``."""

    start: date
    end: date
    presence: int
    latest: date
    until: date


class Break(NamedTuple):
    """Host-free years: fewer than ``least`` is a breach, fewer than ``better`` a caution."""

    least: int
    better: int


def stay(crop: Crop, start: date, end: date, exact: str = "day") -> Stay:
    """Some days of hosts as the checks see them."""
    planting = Planting("", "", crop, start, end, exact)
    return Stay("", "", (planting,), planting, crop.perennial)


def of_disease(disease: Disease) -> Break:
    """The break that a sighting asks for."""
    if disease.least is None or disease.better is None or disease.least >= DECADES:
        return Break(NEVER, NEVER)
    return Break(disease.least, disease.better)


class Rests:
    """Whether breaks are kept, in one garden."""

    def __init__(self, context: Context) -> None:
        self.latitude = context.latitude
        self._any = context.knowledge.crops["fallow"]

    def kept(self, end: date, start: date, years: int) -> bool:
        """Whether a break of so many years lies between the end of one host and the start of the next."""
        if years <= 0:
            return True
        if end >= LAST_DAY or years >= NEVER:
            return False
        return has_break(stay(self._any, end, end), stay(self._any, start, start), years, self.latitude)

    def after(self, host: Planting, start: date, years: int) -> bool:
        """Whether a break lies between a host on record and a start."""
        if years <= 0:
            return True
        if host.end >= LAST_DAY or years >= NEVER:
            return False
        earlier = Stay("", "", (host,), host, host.crop.perennial)
        return has_break(earlier, stay(self._any, start, start), years, self.latitude)

    def clash(self, one: Position, other: Position, years: int) -> bool:
        """Whether two positions are too near each other; what stands together as one stay is not."""
        first, second = sorted((one, other))
        return not self.kept(first.end, second.start, years) and not _one_stay(first, second)

    def cliques(self, positions: Sequence[Position], years: int) -> list[tuple[int, ...]]:
        """The largest runs of positions of which any two clash, and the pairs beside them: at most one may be taken."""
        ordered, runs = sorted(positions), list[tuple[int, ...]]()
        joined = any(_one_stay(one, other) for one, other in pairwise(ordered))
        reached = 0
        for first in range(len(ordered)):
            last = first + 1
            while last < len(ordered) and all(self.clash(ordered[i], ordered[last], years) for i in range(first, last)):
                last += 1
            if last - first > 1 and last > reached:
                runs.append(tuple(p.presence for p in ordered[first:last]))
                reached = last
        if joined:  # what is passed over in a run
            runs += [
                (one.presence, other.presence)
                for one, other in combinations(ordered, 2)
                if self.clash(one, other, years) and not any({one.presence, other.presence} <= set(run) for run in runs)
            ]
        return runs

    def joined(self, positions: Sequence[tuple[Position, T]], years: int) -> list[tuple[T, T]]:
        """What goes with pairs of positions that only as one stay need no break between them."""
        ordered = sorted(positions, key=lambda pair: pair[0])
        return [
            (here, there)
            for (one, here), (other, there) in combinations(ordered, 2)
            if _one_stay(one, other) and not self.kept(one.end, other.start, years)
        ]

    def pairs(self, positions: Sequence[Position], wanted: Break) -> list[tuple[int, int]]:
        """Earlier and later positions that keep the least break and not the better one."""
        ordered = sorted(positions)
        return [
            (one.presence, other.presence)
            for n, one in enumerate(ordered)
            for other in ordered[n + 1 :]
            if not self.clash(one, other, wanted.least) and self.clash(one, other, wanted.better)
        ]


def _one_stay(first: Position, second: Position) -> bool:
    """Whether the check sees one stay in two positions: they stand together, set within its days of each other."""
    apart = max(first.latest, second.latest) - min(first.start, second.start)
    return apart.days <= MERGE_DAYS and second.latest <= first.until


class Past:
    """What a plot's past, and what is fixed in its future, says of a start and an end there."""

    def __init__(self, context: Context, rests: Rests) -> None:
        self.context, self.rests = context, rests
        self.diseases = context.knowledge.diseases

    def kept(self, hosts: Iterable[Planting], start: date, end: date, years: int, *, same: bool = True) -> bool:
        """Whether breaks lie between some hosts and a stand; with ``same`` relatives set together need none."""
        year = self.context.year_of
        for host in hosts:
            if same and not host.crop.perennial:
                apart = abs((host.start - start).days)
                if year(host.start) == year(start) and apart <= 120:
                    continue  # set together, as one group
                if apart <= MERGE_DAYS and host.start <= end and start <= host.end:
                    continue  # standing together, as the check sees it
            if host.start < start:
                if not self.rests.after(host, start, years):
                    return False
            elif not self.rests.kept(end, host.start, years):
                return False
        return True

    def sighted(self, plot: Plot) -> list[Disease]:
        """The diseases that were seen in a plot's ground."""
        return [self.diseases[name] for name in sorted(self.context.grounds[plot.bed.id].sightings)]

    def clear(self, plot: Plot, disease: Disease, start: date, end: date, years: int) -> bool:
        """Whether a host may stand in a plot where its disease was seen."""
        seen = self.context.grounds[plot.bed.id].sightings[disease.id]
        days = [day for day in seen if day < start]
        if not days:
            return True
        if any(not self.rests.kept(day, start, years) for day in days):
            return False
        hosts = [p for p in plot.hosts_before(date.max) if is_hosted(p.crop, disease) or p.crop.id in disease.carriers]
        return self.kept(hosts, start, end, years)
