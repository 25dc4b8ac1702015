"""What the checks look at: the ground under each bed through time, worked out once a plan."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import networkx as nx

from rules.graphs.stays import Stay, is_host, link, segments, stays
from rules.model import Bed, Plan, Planting
from rules.seasons import growing_year

if TYPE_CHECKING:
    from rules.knowledge.library import Knowledge
    from rules.report import Evidence

#: A crop set in the half year before the judged window belongs to it when it stands into it.
_HALF_YEAR_DAYS = 184


class Hit(NamedTuple):
    """What a check found; the runner adds the rule's name, severity and words.

    ``words`` fill the rule's templates, ``because`` is the evidence, ``wait_until`` the day
    from which the same planting would be right in the same ground.
    """

    beds: tuple[str, ...]
    plantings: tuple[Planting, ...]
    words: Mapping[str, str]
    because: Mapping[str, Evidence]
    in_window: bool = True
    wait_until: date | None = None
    family: str | None = None
    disease: str | None = None
    contested_by: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(slots=True, eq=False)
class Ground:
    """One bed's ground: all that stood in it, what was seen in it, what its record leaves open.

    ``plantings`` are sorted by start, include those of beds it replaced and leave out what
    stood before its soil was changed (``fresh_from``).
    """

    bed: Bed
    plantings: list[Planting]
    sightings: dict[str, list[date]]
    fresh_from: date | None
    hosts: dict[str, list[Planting]]
    mixed: list[Planting]


class Return(NamedTuple):
    """A family (or disease host) that comes back: the earlier and the later stay."""

    earlier: Stay
    later: Stay


class Context:
    """A plan with its grounds, ready for the checks."""

    def __init__(self, plan: Plan, knowledge: Knowledge) -> None:
        self.plan, self.knowledge = plan, knowledge
        self.latitude = plan.garden.latitude
        self.beds: dict[str, Bed] = {bed.id: bed for bed in plan.beds}
        self.rank = bed_ranks(plan.beds)

    # -- words and dates

    def bed_name(self, bed: str) -> str:
        """A bed as it stands in a sentence."""
        name = self.beds[bed].name
        return name if name != bed else f"bed {bed}"

    def interval(self, family: str) -> tuple[int, int] | None:
        """Host-free years (least, better) for a family in this garden; None outside the rotation."""
        known = self.knowledge.family(family)
        if known.least is None or known.better is None:
            return None
        if self.plan.garden.rotation == "short":
            return min(known.least, 1), min(known.better, 2)
        return known.least, known.better

    def in_window(self, start: date, end: date) -> bool:
        """True for what belongs to the judged window: set in it, or in the half year before and standing into it."""
        window = self.plan.judge
        return window.touches(start, end) and (window.start - start).days <= _HALF_YEAR_DAYS

    # -- grounds

    @cached_property
    def own(self) -> dict[str, list[Planting]]:
        """Each bed's own plantings, sorted by start."""
        own: dict[str, list[Planting]] = {bed: [] for bed in self.beds}
        for planting in self.plan.plantings:
            own[planting.bed].append(planting)
        return own

    @cached_property
    def grounds(self) -> dict[str, Ground]:
        """The ground under each bed."""
        seen: dict[str, list[tuple[str, date]]] = {bed: [] for bed in self.beds}
        diseases = self.knowledge.diseases
        for sighting in self.plan.sightings:
            if sighting.of in diseases:
                seen[sighting.bed].append((sighting.of, sighting.date))
        fresh: dict[str, date] = {}
        for amendment in self.plan.amendments:
            if amendment.kind == "new_soil":
                fresh[amendment.bed] = max(amendment.date, fresh.get(amendment.bed, amendment.date))
        result: dict[str, Ground] = {}
        for bed in self.plan.beds:
            self._ground(bed, seen, fresh, result)
        return {bed.id: result[bed.id] for bed in self.plan.beds}

    def _ground(self, bed: Bed, seen: Mapping[str, list[tuple[str, date]]],
                fresh: Mapping[str, date], done: dict[str, Ground]) -> Ground:
        if bed.id in done:
            return done[bed.id]
        plantings, sighted = self.own[bed.id], list(seen[bed.id])
        for replaced in bed.replaces:
            older = self._ground(self.beds[replaced.bed], seen, fresh, done)
            until = replaced.end or bed.start
            inherited = [p._replace(part=(0.0, 1.0)) for p in older.plantings
                         if (until is None or p.start <= until) and (replaced.start is None or p.end >= replaced.start)]
            plantings = sorted(plantings + inherited, key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id))
            sighted += [(of, day) for of, days in older.sightings.items() for day in days if until is None or day <= until]
        for p in plantings:
            if p.status == "lost" and p.cause in self.knowledge.diseases and p.bed == bed.id:
                sighted.append((p.cause or "", p.end))
        since = fresh.get(bed.id)
        if since is not None:
            plantings = [p for p in plantings if p.end >= since]
            sighted = [(of, day) for of, day in sighted if day >= since]
        sightings: dict[str, list[date]] = {}
        for of, day in sorted(sighted):
            sightings.setdefault(of, []).append(day)
        hosts: dict[str, list[Planting]] = {}
        mixed: list[Planting] = []
        for p in plantings:
            if p.status == "lost" or p.crop.kind == "fallow":
                if not is_host(p, self.knowledge.diseases):
                    continue
            family = p.crop.family
            if family:
                run = hosts.get(family)
                if run is None:
                    hosts[family] = [p]
                else:
                    run.append(p)
            else:
                mixed.append(p)
        ground = Ground(bed, plantings, sightings, since, hosts, mixed)
        done[bed.id] = ground
        return ground

    def recorded_years(self, ground: Ground) -> set[int]:
        """Growing years in which anything, fallow included, is on record for a ground."""
        years: set[int] = set()
        latest = growing_year(self.plan.judge.end, self.latitude)
        for p in ground.plantings:
            first, last = growing_year(p.start, self.latitude), growing_year(p.end, self.latitude)
            years.update(range(first, min(last, latest) + 1))
        return years

    # -- returns of families

    @cached_property
    def stays(self) -> nx.DiGraph[Stay]:
        """Every family's stays in every ground, and what follows what."""
        graph: nx.DiGraph[Stay] = nx.DiGraph()
        for ground in self.grounds.values():
            for family, hosts in ground.hosts.items():
                if self.interval(family) is not None:
                    for here in segments(hosts):
                        link(graph, stays(ground.bed.id, family, here))
        return graph

    @cached_property
    def returns(self) -> list[Return]:
        """Each family's return to a ground, once, with the host that ended last before it."""
        return list(self._edges("break"))

    @cached_property
    def besides(self) -> list[Return]:
        """Each annual set where a perennial of its family still stood."""
        return list(self._edges("beside"))

    def _edges(self, kind: str) -> Iterator[Return]:
        worst: dict[tuple[str, str, str], Return] = {}
        for earlier, later, found in self.stays.edges(data="kind"):
            if found != kind:
                continue
            key = (later.bed, later.key, later.plantings[0].id)
            known = worst.get(key)
            if known is None or earlier.end > known.earlier.end:
                worst[key] = Return(earlier, later)
        return iter(worst.values())


def bed_ranks(beds: tuple[Bed, ...]) -> dict[str, int]:
    """The order beds are told in: by position where all have one, else as listed."""
    placed = [(bed.position, i) for i, bed in enumerate(beds)]
    if all(position is not None for position, _ in placed):
        order = sorted(range(len(beds)), key=lambda i: (*reversed(beds[i].position or (0, 0)), beds[i].id))
        return {beds[i].id: rank for rank, i in enumerate(order)}
    return {bed.id: i for i, bed in enumerate(beds)}


def month_year(day: date) -> str:
    """A day as "October 2025"."""
    return f"{day:%B} {day.year}"


def names_of(plantings: tuple[Planting, ...]) -> str:
    """The crops of some plantings as they stand in a sentence, each once."""
    names = list(dict.fromkeys(p.crop.plural for p in plantings))
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]


