"""Hosts in one ground through time, as a directed graph of stays.

A *stay* is a run of hosts of one family (or of one disease) that start within
``MERGE_DAYS`` of its first start in the same ground.  An edge leads from a stay to the next
one in that ground and carries how the later one stands to the earlier: ``break`` (the
earlier had ended or ended inside it) or ``beside`` (a perennial still stood there).
"""

from __future__ import annotations

import itertools
from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import networkx as nx

from rules.model import WHOLE, Planting
from rules.seasons import add_years, growing_year, growing_year_window

MERGE_DAYS = 200
GRACE_DAYS = 45
GRACE_OVERWINTERED_DAYS = 92
LOST_EARLY_DAYS = 42
_HALF_YEAR_DAYS = 183
_ONE_DAY = timedelta(days=1)
_GRACE, _GRACE_OVERWINTERED = timedelta(days=GRACE_DAYS), timedelta(days=GRACE_OVERWINTERED_DAYS)


@dataclass(slots=True, eq=False)
class Stay:
    """One run of hosts in one ground; ``last`` is the host that stood longest."""

    bed: str
    key: str
    plantings: tuple[Planting, ...]
    last: Planting
    perennial: bool

    @property
    def start(self) -> date:
        """First day of the first host."""
        return self.plantings[0].start

    @property
    def end(self) -> date:
        """Last day of the host that stood longest."""
        return self.last.end


def is_host(planting: Planting, soil_diseases: Container[str | None] = ()) -> bool:
    """False for fallow, and for a planting lost young unless a soil disease took it.

    ``soil_diseases`` are the ids of diseases that count as such.
    """
    if planting.crop.kind == "fallow":
        return False
    if planting.status != "lost" or (planting.end - planting.start).days > LOST_EARLY_DAYS:
        return True
    return planting.cause in soil_diseases


def segments(plantings: list[Planting]) -> Iterator[list[Planting]]:
    """The plantings of a bed, once for each stretch of ground that no part's edge divides."""
    edges = {edge for p in plantings if p.part is not WHOLE and p.part != WHOLE for edge in p.part}
    if not edges:
        yield plantings
        return
    cuts = sorted(edges | {0.0, 1.0})
    for low, high in itertools.pairwise(cuts):
        here = [p for p in plantings if p.part[0] < high and p.part[1] > low]
        if here:
            yield here


def stays(bed: str, key: str, hosts: list[Planting]) -> list[Stay]:
    """Merge hosts of one ground, sorted by start, into stays in order of their first start."""
    if len(hosts) == 1:
        return [Stay(bed, key, (hosts[0],), hosts[0], hosts[0].crop.perennial)]
    runs: list[list[Planting]] = []
    open_run: dict[bool, list[Planting]] = {}
    for host in hosts:
        perennial = host.crop.perennial
        run = open_run.get(perennial)
        if run is not None and (host.start - run[0].start).days <= MERGE_DAYS:
            run.append(host)
        else:
            open_run[perennial] = run = [host]
            runs.append(run)
    return [Stay(bed, key, tuple(run), max(run, key=_end), run[0].crop.perennial) for run in runs]


def _end(planting: Planting) -> tuple[date, str]:
    return planting.end, planting.id


def linked(runs: Iterable[list[Stay]]) -> nx.DiGraph[Stay]:
    """The graph of the stays that follow one another; each run holds those of one ground in order of their first start.

    A stay that nothing follows and that follows nothing is no node: most are such, and making nodes takes long.
    """
    graph: nx.DiGraph[Stay] = nx.DiGraph()
    edges: list[tuple[Stay, Stay, dict[str, str]]] = []
    for run in runs:
        for i in range(1, len(run)):
            stay, before = run[i], None
            for earlier in run[:i]:
                if earlier.perennial and earlier.end >= stay.start:
                    edges.append((earlier, stay, {"kind": "beside"}))
                elif before is None or earlier.end >= before.end:
                    before = earlier
            if before is not None:
                edges.append((before, stay, {"kind": "break"}))
    graph.add_edges_from(edges)
    return graph


def overwintered(stay: Stay, latitude: float | None) -> bool:
    """True when the last host stood over the middle of winter and went in the half year after."""
    last = stay.last
    if last.exact == "year":
        return False
    winter = growing_year_window(growing_year(last.end, latitude), latitude).start
    return last.start < winter and (last.end - winter).days < _HALF_YEAR_DAYS


def by_years(earlier: Stay, later: Stay) -> bool:
    """True when only whole growing years can be counted between two stays."""
    return earlier.last.exact == "year" or later.plantings[0].exact == "year"


def whole_years_between(end: date, start: date, latitude: float | None) -> int:
    """Whole growing years between two days that neither of them lies in."""
    return growing_year(start, latitude) - growing_year(end, latitude) - 1


def free_years(earlier: Stay, later: Stay, latitude: float | None) -> float:
    """Host-free years between two stays: whole ones where either is known by year only."""
    if by_years(earlier, later):
        return max(0, whole_years_between(earlier.end, later.start, latitude))
    return max(0.0, round((later.start - earlier.end).days / 365.25, 1))


def has_break(earlier: Stay, later: Stay, years: int, latitude: float | None) -> bool:
    """True when at least ``years`` host-free years lie between two stays (with the grace)."""
    if years <= 0:
        return True
    if by_years(earlier, later):
        return whole_years_between(earlier.end, later.start, latitude) >= years
    end, start = earlier.end, later.start
    if start.year > end.year + years:
        return True
    due = add_years(end, years)
    if start + _GRACE >= due:
        return True
    return start + _GRACE_OVERWINTERED >= due and overwintered(earlier, latitude)


def free_after(last: Planting, years: int, latitude: float | None) -> date:
    """The first day on which a break of ``years`` after a host is over (no grace)."""
    if last.exact == "year":
        return growing_year_window(growing_year(last.end, latitude) + years + 1, latitude).start
    return add_years(last.end, years) + _ONE_DAY
