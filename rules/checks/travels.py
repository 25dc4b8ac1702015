"""Which hosts a pest can travel between in a plan, and where its routes start.

Reach and survival come from the pest's fact words (``facts/reach.yaml``, ``facts/survival.yaml``).
Migrants, residents of any soil and pests of nearly everything make no routes: no change of the
plan would cut them.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping
from datetime import date

from rules.checks.context import Context
from rules.checks.coverage import lives_below, shut_throughout
from rules.checks.neighbours import stands_dated
from rules.graphs.bridges import Host, HostGraph
from rules.knowledge.facts import Pest
from rules.knowledge.survival import days_in_ground
from rules.model import Planting
from rules.seasons import growing_year, growing_year_window

#: A pest that reaches this far reaches every bed of a site: distances inside it no longer matter, in metres.
EVERYWHERE_M = 50.0
#: Beds without positions are taken to lie this far apart in the order they are told in: a garden path, in metres.
PATH_M = 0.6
#: From this reach on, in metres, a pest comes from beyond any garden.
_FROM_AFAR_M = 50_000.0
#: Pests that fly freely between gardens: where moving their hosts does not help either, no change here cuts their way.
_FREE_FLIERS = frozenset({"strong_flight"})
#: What it takes to change a planned planting, the cheaper first; other changes are dearer than both.
COVER, SHIFT = 1, 2


def travels(context: Context, pest: Pest) -> bool:
    """Whether changes inside a garden can cut a pest's routes."""
    return not (
        pest.wide
        or lives_below(pest)
        or pest.group == "vertebrate"
        or pest.overwinters == "elsewhere_migrant"
        or (pest.mobility in _FREE_FLIERS and pest.rotation_helps == "no")
        or context.knowledge.reach[pest.mobility].metres >= _FROM_AFAR_M
        or not pest.lives_in(context.plan.garden.country)
    )


def hosts_of(context: Context, pest: Pest) -> list[Planting]:
    """The plantings that feed a pest for certain, on known days, by start."""
    return [p for p in context.plan.plantings if p.crop.id in pest.hosts and stands_dated(p)]


def host_graph(context: Context, pest: Pest, plantings: Iterable[Planting]) -> HostGraph:
    """The graph of a pest's hosts; what a cover keeps it from is left out, unless it comes up beneath."""
    after = days_in_ground(pest, context.knowledge.facts.survival)
    exposed = [p for p in plantings if not shielded(context, p, pest)]
    judged = context.judged_ids
    hosts = [
        Host(
            p.id,
            p.bed,
            p.start.toordinal(),
            p.end.toordinal(),
            _after(context, p, after),
            _cost(context, p, pest) if p.status == "planned" and p.id in judged else None,
            p.id in judged,
        )
        for p in exposed
    ]
    return HostGraph(hosts, _within(context, pest, {p.bed for p in exposed}))


def shielded(context: Context, planting: Planting, pest: Pest) -> bool:
    """Whether a cover keeps a pest from a planting for as long as it stands, and none comes up under it."""
    return shut_throughout(context, planting, pest) and not comes_up(context, planting, pest)


def comes_up(context: Context, planting: Planting, pest: Pest) -> bool:
    """Whether a pest may come out of a planting's own ground, where a host stood last season or before it in this."""
    stays = pest.emerges_from_bed != "no" or pest.emerges_same_season in ("yes", "partly")
    return stays and hosted_before(context, planting, pest)


def hosted_before(context: Context, planting: Planting, pest: Pest) -> bool:
    """Whether a host set earlier stood in a planting's ground last season, or before it in this, since new soil."""
    since = growing_year_window(growing_year(planting.start, context.latitude) - 1, context.latitude).start
    since = max(since, context.grounds[planting.bed].fresh_from or since)
    starts, last = _hosts_by_start(context, planting.bed, pest)
    until = bisect_left(starts, planting.start)
    return any(end >= since and name != planting.id for end, name in (last[until - 1] if until else ()))


#: Starts of the hosts in one ground, and up to each of them the two that end last.
_ByStart = tuple[list[date], list[list[tuple[date, str]]]]


def _known(context: Context) -> dict[tuple[str, str], _ByStart]:
    return {}


def _hosts_by_start(context: Context, bed: str, pest: Pest) -> _ByStart:
    known = context.once(_known)
    if (bed, pest.id) not in known:
        hosts = sorted((u.start, u.end, u.id) for u in context.grounds[bed].plantings if u.crop.id in pest.hosts)
        last, two = [], list[tuple[date, str]]()
        for _, end, name in hosts:
            two = sorted([*two, (end, name)])[-2:]
            last.append(two)
        known[bed, pest.id] = [start for start, _, _ in hosts], last
    return known[bed, pest.id]


def sources_seen(context: Context, pest: Pest) -> dict[str, str]:
    """Plantings on which a pest was seen in this growing year or the last: planting id to the bed of the sighting."""
    days, lost = context.once(_lately)
    found: dict[str, str] = {}
    for bed, seen in days.get(pest.id, {}).items():
        ordered = sorted(seen)
        for p in context.own.get(bed, ()):
            if p.crop.id in pest.hosts and stands_dated(p):
                next_day = bisect_left(ordered, p.start)
                if next_day < len(ordered) and ordered[next_day] <= p.end:
                    found[p.id] = bed
    found |= {p.id: p.bed for p in lost.get(pest.id, ()) if p.crop.id in pest.hosts}
    return found


def _lately(context: Context) -> tuple[dict[str, dict[str, set[date]]], dict[str, list[Planting]]]:
    """What was seen in this growing year or the last: days by trouble and bed, and the plantings lost to each."""
    first = context.year_of(context.plan.judge.start) - 1
    days: dict[str, dict[str, set[date]]] = {}
    for sighting in context.plan.sightings:
        if context.year_of(sighting.date) >= first:
            days.setdefault(sighting.of, {}).setdefault(sighting.bed, set()).add(sighting.date)
    lost: dict[str, list[Planting]] = {}
    for p in context.plan.plantings:
        if p.status == "lost" and p.cause and context.year_of(p.end) >= first:
            lost.setdefault(p.cause, []).append(p)
    return days, lost


def standing_over(context: Context, pest: Pest) -> list[str]:
    """Hosts of last season that still stand when the judged window begins, by id: the green bridge proper."""
    return [p.id for p in context.once(_stands_over) if p.crop.id in pest.hosts]


def _stands_over(context: Context) -> list[Planting]:
    begins = context.plan.judge.start
    over = (p for p in context.plan.plantings if p.start < begins <= p.end)
    return [p for p in over if not p.crop.perennial and p.status != "lost" and stands_dated(p)]


def _after(context: Context, planting: Planting, days: int) -> int:
    """Days that a pest lives on where a planting was cleared: new soil takes it away."""
    renewed = context.once(_new_soil).get(planting.bed, ())
    return min([days, *((day - planting.end).days for day in renewed if day >= planting.end)])


def _new_soil(context: Context) -> dict[str, list[date]]:
    """The days on which each bed got new soil."""
    found: dict[str, list[date]] = {}
    for done in context.plan.amendments:
        if done.kind == "new_soil":
            found.setdefault(done.bed, []).append(done.date)
    return found


def _cost(context: Context, planting: Planting, pest: Pest) -> int:
    """The cheapest kind of change that may help; less where the same change helps against more pests."""
    kind = COVER if pest.max_mesh_mm is not None and not comes_up(context, planting, pest) else SHIFT
    return 10 * kind - min(9, context.once(_fed).get(planting.id, 0))


def _fed(context: Context) -> dict[str, int]:
    """How many of the travelling pests that were seen each planting feeds."""
    seen = {s.of for s in context.plan.sightings} | {p.cause for p in context.plan.plantings if p.cause}
    known = context.knowledge.pests
    pests = [known[name] for name in sorted(seen & known.keys()) if travels(context, known[name])]
    return {
        p.id: sum(p.crop.id in pest.hosts for pest in pests)
        for p in context.judged
        if any(p.crop.id in pest.hosts for pest in pests)
    }


def _within(context: Context, pest: Pest, beds: set[str]) -> Mapping[str, frozenset[str]] | None:
    """For each bed those within a pest's reach; None where it reaches all of them."""
    reach = context.knowledge.reach[pest.mobility].metres
    if reach >= EVERYWHERE_M:
        return None
    near = context.neighbours.near(reach)
    return {bed: frozenset({bed, *_close(near.get(bed, ()), beds, reach)}) for bed in beds}


def _close(near: Iterable[tuple[str, float | None]], beds: set[str], reach: float) -> Iterator[str]:
    for other, metres in near:
        if other in beds and (PATH_M if metres is None else metres) <= reach:
            yield other
