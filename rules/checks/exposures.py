"""Hosts that come back to ground where their disease was seen, worked out once a plan."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import NamedTuple

from rules.checks.grounds import Ground
from rules.graphs.stays import Stay, is_host, stays
from rules.knowledge.facts import Crop, Disease
from rules.model import Planting

_SIGHTED = Crop("", "the sighting", "the sighting", "", "sighting")


class Exposure(NamedTuple):
    """A later stay of hosts and what it must keep its distance from: the last host, or a sighting."""

    ground: Ground
    disease: Disease
    earlier: Stay
    later: Stay


def is_hosted(crop: Crop, disease: Disease) -> bool:
    """True when a disease can live on a crop; a grower's own crop goes by its family."""
    return crop.id in disease.hosts or (crop.kind == "own" and crop.family in disease.host_families)


def hosts_of(ground: Ground, disease: Disease) -> list[Planting]:
    """The plantings of a ground that a disease can live on, sorted by start."""
    return [p for p in ground.plantings if is_hosted(p.crop, disease)]


def exposures(ground: Ground, diseases: Mapping[str, Disease]) -> Iterator[Exposure]:
    """Every stay of hosts that starts after the first sighting of their disease in a ground.

    A carrier keeps the disease alive, so the break counts from it as from a host.
    """
    bed = ground.bed.id
    for disease_id, days in ground.sightings.items():
        disease = diseases[disease_id]
        hosts = [p for p in hosts_of(ground, disease) if is_host(p, diseases)]
        carriers = [p for p in ground.plantings if p.crop.id in disease.carriers and is_host(p)]
        past = [p for p in hosts if p.start <= days[0]]
        for stay in stays(bed, disease_id, [p for p in hosts if p.start > days[0]]):
            seen = [_event(bed, day) for day in days if day < stay.start]
            kept = [p for p in carriers if days[0] < p.start < stay.start]
            last = max(past + seen + kept, key=lambda p: (p.end, p.id))
            yield Exposure(ground, disease, Stay(bed, disease_id, (last,), last, last.crop.perennial), stay)
            past += stay.plantings


def _event(bed: str, day: date) -> Planting:
    """A sighting as if it were a host of one day."""
    return Planting("", bed, _SIGHTED, day, day)
