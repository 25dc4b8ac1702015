"""The ground under each bed: what stood in it and what was seen in it, earlier beds included."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rules.graphs.stays import is_host
from rules.knowledge.facts import Disease
from rules.model import WHOLE, Bed, Plan, Planting
from rules.seasons import year_reader


@dataclass(slots=True, eq=False)
class Ground:
    """One bed's ground, sorted by start, without what stood before its soil was changed.

    ``hosts`` are the plantings that count in a rotation, by family; ``mixed`` are group words
    of several families; ``years`` are the growing years with anything on record, up to the end
    of the judged window; ``fresh_from`` is the day of the last new soil.  ``sightings`` are the
    diseases seen, by id; ``others`` the other troubles, pests and losses among them.
    """

    bed: Bed
    plantings: list[Planting]
    sightings: dict[str, list[date]]
    fresh_from: date | None
    hosts: dict[str, list[Planting]]
    mixed: list[Planting]
    years: set[int]
    others: dict[str, list[date]]


def build_grounds(plan: Plan, diseases: Mapping[str, Disease], own: Mapping[str, list[Planting]]) -> dict[str, Ground]:
    """The ground of every bed, by bed id in the plan's order."""
    seen: dict[str, list[tuple[str, date]]] = {}
    for sighting in plan.sightings:
        seen.setdefault(sighting.bed, []).append((sighting.of, sighting.date))
    fresh: dict[str, date] = {}
    for amendment in plan.amendments:
        if amendment.kind == "new_soil":
            fresh[amendment.bed] = max(amendment.date, fresh.get(amendment.bed, amendment.date))
    builder = _Builder(plan, diseases, own, seen, fresh)
    return {bed.id: builder.ground(bed) for bed in plan.beds}


class _Builder:
    """Builds grounds from the oldest bed of a line on, each once."""

    def __init__(
        self,
        plan: Plan,
        diseases: Mapping[str, Disease],
        own: Mapping[str, list[Planting]],
        seen: Mapping[str, list[tuple[str, date]]],
        fresh: Mapping[str, date],
    ) -> None:
        self.diseases, self.own, self.seen, self.fresh = diseases, own, seen, fresh
        self.beds = {bed.id: bed for bed in plan.beds}
        self.year_of = year_reader(plan.garden.latitude)
        self.latest = self.year_of(plan.judge.end)
        self.done: dict[str, Ground] = {}

    def ground(self, bed: Bed) -> Ground:
        if bed.id in self.done:
            return self.done[bed.id]
        plantings, sighted = self.own[bed.id], list(self.seen.get(bed.id, ()))
        if bed.replaces:
            plantings = self._inherit(bed, plantings, sighted)
        for p in plantings:
            if p.status == "lost" and p.cause and p.bed == bed.id:
                sighted.append((p.cause, p.end))
        since = self.fresh.get(bed.id)
        if since is not None:
            plantings = [p for p in plantings if p.end >= since]
            sighted = [(of, day) for of, day in sighted if day >= since]
        sightings: dict[str, list[date]] = {}
        others: dict[str, list[date]] = {}
        for of, day in sorted(sighted):
            (sightings if of in self.diseases else others).setdefault(of, []).append(day)
        hosts, mixed, years = self._sorted(plantings)
        if since is None and bed.replaces:
            # Ground that was all renewed in earlier beds needs no older record here either.
            renewed = [self.ground(self.beds[replaced.bed]).fresh_from for replaced in bed.replaces]
            since = min((day for day in renewed if day is not None), default=None) if all(renewed) else None
        self.done[bed.id] = ground = Ground(bed, plantings, sightings, since, hosts, mixed, years, others)
        return ground

    def _inherit(self, bed: Bed, plantings: list[Planting], sighted: list[tuple[str, date]]) -> list[Planting]:
        """What stood and was seen in the beds whose ground this one took over."""
        for replaced in bed.replaces:
            older = self.ground(self.beds[replaced.bed])
            until = replaced.end or bed.start
            known = {p.id for p in plantings}  # ground that comes by two ways is inherited once
            plantings = plantings + [
                p._replace(part=WHOLE)
                for p in older.plantings
                if p.id not in known
                and (until is None or p.start <= until)
                and (replaced.start is None or p.end >= replaced.start)
            ]
            sighted += [
                (of, day)
                for of, days in (*older.sightings.items(), *older.others.items())
                for day in days
                if until is None or day <= until
            ]
        return sorted(plantings, key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id))

    def _sorted(self, plantings: list[Planting]) -> tuple[dict[str, list[Planting]], list[Planting], set[int]]:
        hosts: dict[str, list[Planting]] = {}
        mixed: list[Planting] = []
        years: set[int] = set()
        year_of = self.year_of
        for p in plantings:
            first, last = year_of(p.start), year_of(p.end)
            if first == last:
                years.add(first)
            else:
                years.update(range(first, min(last, self.latest) + 1))
            crop = p.crop
            if (p.status == "lost" or crop.kind == "fallow") and not is_host(p, self.diseases):
                continue
            if not crop.family:
                mixed.append(p)
            elif crop.family in hosts:
                hosts[crop.family].append(p)
            else:
                hosts[crop.family] = [p]
        return hosts, mixed, years
