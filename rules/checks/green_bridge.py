"""``green-bridge``: pests travel into the judged season over living hosts; where to cut their route.

With a sighting the routes start where the pest was seen.  Without one only the bridge proper is
told, as advice: hosts that stand from last season into this one beside what is planned.
A direct way through the soil of one bed is not told here; the rules on hosts that follow do that.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import pairwise

from rules.checks.context import Context, Hit
from rules.checks.cover_trap import listed
from rules.checks.travels import host_graph, hosts_of, sources_seen, standing_over, travels
from rules.graphs.bridges import Cut, HostGraph
from rules.knowledge.facts import Pest
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.knowledge.survival import BARE
from rules.model import Planting
from rules.report import Evidence

#: How sure a route is, in words.
SURE = {
    "living": "The way leads over living plants all along.",
    "ground": "Part of the way leads through ground that the pest comes out of again.",
    "partly": "Part of the way leads through bare ground, in which only some of them live on, so it is less sure.",
}
KIND = Kind(
    options={
        "seen": Key(
            "yes/no",
            needed=True,
            says={
                "true": "Routes that start where the pest was seen, this season or last.",
                "false": "Hosts that stand over from last season, without a sighting.",
            },
        ),
    },
    words=frozenset({"pests", "route", "change", "crops", "start", "bed", "also", "sure"}),
    looks_at="Hosts of one pest, one after the other within its reach, from last season into the planned one.",
)

Found = tuple[Pest, Cut]


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each set of plantings to change; pests with the same set share it."""
    merged: dict[tuple[str, ...], list[Found]] = {}
    seen = rule.options["seen"]
    for pest, cut in bridges(context, seen=seen):
        merged.setdefault(cut.change, []).append((pest, cut))
    for change, found in merged.items():
        others = [pest for key, pairs in merged.items() if key != change for pest, _ in pairs]
        also = [pest for pest in others if not is_open(context, pest, seen=seen, without=change)]
        yield _hit(context, change, found, also)


def bridges(context: Context, *, seen: bool) -> Iterator[Found]:
    """Each travelling pest with a route over living hosts, and its cut, by pest id."""
    planned = {p.crop.id for p in context.judged if p.status == "planned"}
    sighted = {s.of for s in context.plan.sightings} | {p.cause for p in context.plan.plantings if p.cause}
    for pest in context.local.once("travelling", lambda: [p for p in context.local.pests if travels(context, p)]):
        if (pest.id not in sighted) if seen else (pest.overwinters != "on_standing_host_plants"):
            continue
        if planned.isdisjoint(pest.hosts) or (not seen and sources_seen(context, pest)):
            continue
        cut = bridge_of(context, pest, seen=seen)
        if cut.reached:
            yield pest, cut


def bridge_of(context: Context, pest: Pest, *, seen: bool) -> Cut:
    """The routes of one pest that have a living link, and the smallest set of planned plantings to change."""
    sources = _sources(context, pest, seen=seen)
    return _graph(context, pest, sources, seen=seen).cut(sources, _bare(context)) if sources else Cut((), (), ())


def is_open(context: Context, pest: Pest, *, seen: bool, without: tuple[str, ...] = ()) -> bool:
    """Whether a pest has such a route; ``without`` leaves plantings out, as if they had been changed already."""
    sources = _sources(context, pest, seen=seen)
    if not sources:
        return False
    return bool(_graph(context, pest, sources, seen=seen, without=without).reached(sources, _bare(context)))


def _sources(context: Context, pest: Pest, *, seen: bool) -> list[str]:
    return list(sources_seen(context, pest)) if seen else standing_over(context, pest)


def _graph(context: Context, pest: Pest, sources: list[str], *, seen: bool, without: tuple[str, ...] = ()) -> HostGraph:
    plantings = [p for p in hosts_of(context, pest) if p.id not in without]
    if not seen:
        plantings = [p for p in plantings if p.id in sources or p.start >= context.plan.judge.start]
    return host_graph(context, pest, plantings)


def _bare(context: Context) -> int:
    return context.knowledge.facts.survival[BARE].days


def _hit(context: Context, change: tuple[str, ...], found: list[Found], also: list[Pest]) -> Hit:
    """A hit on the plantings to change; the longest route is told, and whose way the same change cuts as well."""
    plantings = tuple(context.plantings[name] for name in change)
    _, cut = found[0]
    route = max(cut.routes, key=lambda names: (len(names), names))
    first = context.plantings[route[0]]
    pests = [pest.name for pest, _ in found]
    reached = tuple(dict.fromkeys(name for _, one in found for name in one.reached))
    sources = tuple(
        dict.fromkeys(
            s for pest, _ in found for key in ("overwinters", "mobility", "hosts") for s in pest.sources.get(key, ())
        )
    )
    because: dict[str, Evidence] = {
        "pests": tuple(pest.id for pest, _ in found),
        "route": route,
        "reached": reached,
        "change": change,
        "sure": _sure(context, route, found),
    }
    if also:
        because["also"] = tuple(pest.id for pest in also)
    return Hit(
        tuple(dict.fromkeys(p.bed for p in plantings)),
        plantings,
        {
            "pests": listed(pests),
            "route": route_in_words(context, route),
            "change": listed([f"the {p.crop.plural} in {context.bed_name(p.bed)}" for p in plantings]),
            "crops": listed(list(dict.fromkeys(p.crop.plural for p in plantings))),
            "start": first.crop.plural,
            "bed": context.bed_name(first.bed),
            "sure": SURE[_sure(context, route, found)],
            "also": f" The same change cuts the way of {listed([pest.name for pest in also])} as well." if also else "",
        },
        because,
        sources=sources,
        cautions=tuple(dict.fromkeys(caution for pest, _ in found for caution in pest.cautions)),
        route=tuple(pest.id for pest, _ in found),
    )


def _sure(context: Context, route: tuple[str, ...], found: list[Found]) -> str:
    """How sure a route is: by living plants all the way, through ground, or through ground that not all come out of."""
    stops = [context.plantings[name] for name in route]
    if all(later.start <= earlier.end for earlier, later in pairwise(stops)):
        return "living"
    return "ground" if all(pest.emerges_from_bed == "yes" for pest, _ in found) else "partly"


def route_in_words(context: Context, route: tuple[str, ...]) -> str:
    """A route with its dates: "kale in Kiln bed to 12 April, then radishes in Quay bed from 3 May"."""
    stops = [context.plantings[name] for name in route]
    said = [f"{stops[0].crop.plural} in {context.bed_name(stops[0].bed)} to {_day(stops[0].end)}"]
    for earlier, later in pairwise(stops):
        if later.start > earlier.end:
            said.append(f"in soil or leavings there until {_day(later.start)}")
        said.append(f"{_stop(context, later)} from {_day(later.start)}")
    return ", then ".join(said)


def _stop(context: Context, planting: Planting) -> str:
    return f"{planting.crop.plural} in {context.bed_name(planting.bed)}"


def _day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"
