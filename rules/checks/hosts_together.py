"""Hosts that stand side by side at the same time.

``relatives-together``: crops of one family beside each other, which is good practice.
``hosts-together``: crops of different families that share a pest.  Nothing is said of pests that
come from far away, feed on nearly everything or live in any soil, nor of animals: how the plan
is laid out changes nothing about them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rules.checks.context import Context, Hit
from rules.checks.coverage import SAFE_MM
from rules.checks.hostgroups import (
    FAR_FLIERS,
    FROM_FAR,
    RESIDENT,
    STANDING,
    Group,
    Links,
    Shared,
    beds_in_words,
    crops_in_words,
    in_order,
    pests_in_words,
)
from rules.checks.neighbours import Neighbour
from rules.knowledge.facts import Pest
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.model import Planting
from rules.report import Evidence

_OPTIONS = {
    "reach_m": Key("number", needed=True, says="They stand in one bed, or at most {} m apart from edge to edge."),
    "days": Key("whole", needed=True, says="They stand together for {} days or more."),
}
RELATIVES = Kind(
    looks_at="Different crops of one family that share a pest which a net keeps out.",
    options=_OPTIONS,
    words=frozenset({"crops", "beds", "family", "pests"}),
)
HOSTS = Kind(
    looks_at="Crops of different families that a pest feeds on, unless it comes from far away, feeds on nearly "
    "everything or lives in any soil.",
    options=_OPTIONS,
    words=frozenset({"crops", "beds", "pests", "near", "cover"}),
)


def check_relatives(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each family that stands grouped."""
    shared = context.local.once("netted", lambda: Shared(context, filter(_netted, context.local.pests)))
    start = context.plan.judge.start
    found: dict[str, tuple[dict[str, Planting], dict[str, tuple[Pest, int]]]] = {}
    for nears in _beside(context, rule):
        one, other = nears[0].one, nears[0].other
        family = one.crop.family
        if not family or family != other.crop.family or not _rotate_together(one, other):
            continue
        pests = shared.between(one, other)
        over = any(pest.overwinters in STANDING for pest in pests)
        # What stands over hands such pests on, so the two are better parted than praised.
        nears = [n for n in _within(nears, rule) if n.metres is not None and not (over and n.one.start < start)]
        if pests and nears and context.interval(family) is not None:
            plantings, counted = found.setdefault(family, ({}, {}))
            for near in nears:
                plantings |= {near.one.id: near.one, near.other.id: near.other}
            for pest in pests:
                counted[pest.id] = pest, counted.get(pest.id, (pest, 0))[1] + len(nears)
    for family, (plantings, counted) in found.items():
        members = in_order(context, plantings.values())
        best = sorted(counted.values(), key=lambda pair: (-pair[1], pair[0].id))
        beds = tuple(dict.fromkeys(p.bed for p in members))
        yield Hit(
            beds,
            members,
            {
                "crops": crops_in_words(members),
                "beds": beds_in_words(context, beds),
                "family": context.knowledge.family_name(family),
                "pests": pests_in_words([pest for pest, _ in best][:2]),
            },
            {"family": family, "pests": tuple(pest.id for pest, _ in best)},
            family=family,
        )


def _rotate_together(one: Planting, other: Planting) -> bool:
    """True for two different crops that can move on together; a word for several crops may be the other one."""
    a, b = one.crop, other.crop
    return not (a.perennial or b.perennial) and {a.id, *a.members}.isdisjoint({b.id, *b.members})


def check_hosts(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each group of plantings that the same pests link."""
    yield from (hit for hit, _ in context.once(_linked)[rule.id])


def taken_as_near(context: Context) -> list[str]:
    """The beds of findings that rest on their order in the list, since their distance is not known."""
    found = (hit for hits in context.once(_linked).values() for hit, known in hits if not known)
    return sorted({bed for hit in found for bed in hit.beds}, key=context.rank.__getitem__)


def _linked(context: Context) -> dict[str, list[tuple[Hit, bool]]]:
    """Each rule's hits, and whether all distances in them are known."""
    return {rule.id: list(_linked_by(context, rule)) for rule in context.knowledge.by_kind.get("hosts-together", ())}


def _linked_by(context: Context, rule: Rule) -> Iterator[tuple[Hit, bool]]:
    shared = context.local.once("shared", lambda: Shared(context, filter(_worth_telling, context.local.pests)))
    links, metres = Links(), dict[str, dict[str, list[float | None]]]()
    for nears in _beside(context, rule):
        one, other = nears[0].one.crop, nears[0].other.crop
        pests = shared.between(nears[0].one, nears[0].other) if set(one.families).isdisjoint(other.families) else ()
        within = _within(nears, rule) if pests else []
        pairs = [(near.one.id, near.other.id) for near in within]
        for pest in pests if within else ():
            links.add_all(pest, pairs)
            far = metres.setdefault(pest.id, {})
            for near in within:
                far.setdefault(near.one.id, []).append(near.metres)
    for group in links.groups():
        known = metres[group.pests[0].id]
        yield _hit(context, group, [far for name in group.members for far in known.get(name, ())])


def _netted(pest: Pest) -> bool:
    return pest.max_mesh_mm is not None and not pest.wide


def _worth_telling(pest: Pest) -> bool:
    return not (
        pest.wide
        or pest.group == "vertebrate"
        or pest.overwinters in FROM_FAR | RESIDENT
        or pest.mobility in FAR_FLIERS
    )


def _beside(context: Context, rule: Rule) -> Iterable[list[Neighbour]]:
    """Neighbours for as long as a rule asks, those of the same two crops together."""
    return context.neighbours.by_crops(rule.options["reach_m"], rule.options["days"])


def _within(nears: list[Neighbour], rule: Rule) -> list[Neighbour]:
    """Those within a rule's reach: parts of one bed may lie farther apart, and a hair is allowed between beds."""
    reach = rule.options["reach_m"]
    return [near for near in nears if near.metres is None or near.metres <= reach]


def _hit(context: Context, group: Group, metres: list[float | None]) -> tuple[Hit, bool]:
    members = in_order(context, (context.plantings[name] for name in group.members))
    beds = tuple(dict.fromkeys(p.bed for p in members))
    known = [far for far in metres if far is not None]
    because: dict[str, Evidence] = {"pests": tuple(pest.id for pest in group.pests)}
    if known:
        because["metres"] = round(max(known), 1)
    meshes = [pest.max_mesh_mm for pest in group.pests if pest.max_mesh_mm is not None]
    covered = len(meshes) == len(group.pests)
    sources = (key for pest in group.pests for key in pest.sources.get("hosts", ()))
    cautions = (key for pest in group.pests for key in pest.cautions)
    hit = Hit(
        beds,
        members,
        {
            "crops": crops_in_words(members),
            "beds": beds_in_words(context, beds),
            "pests": pests_in_words(group.pests),
            "near": _near(beds, known, len(known) == len(metres)),
            "cover": f"One cover over all of them works too, with openings of {min(SAFE_MM, *meshes):g} mm or less."
            if covered
            else "No cover keeps all of it out.",
        },
        because,
        sources=tuple(dict.fromkeys(sources)),
        cautions=(*dict.fromkeys(cautions), *(("netting_and_wildlife",) if covered else ())),
    )
    return hit, len(known) == len(metres)


def _near(beds: tuple[str, ...], known: list[float], all_known: bool) -> str:
    if len(beds) == 1:
        return "stand in one bed"
    if not all_known:
        return "stand in beds that were taken as neighbours"
    far = max(known)
    return f"stand at most {far:.1f} m from one to the next" if far >= 0.05 else "stand in beds that touch"
