"""Hosts that are set where, or close to where, a pest was left behind the season before.

``hosts-next-season``: in another bed within the pest's own reach, with or without a sighting.
``hosts-after-sighting``: in the very ground where it was seen.  A season is a growing year; what
is set in autumn to stand over winter meets the pests of the spring after.  Nothing is said of
pests against which moving a crop within the garden does not help.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import NamedTuple

from rules.checks.context import Context, Hit, month_year
from rules.checks.coverage import covers_of, keeps_out
from rules.checks.hostgroups import (
    RESIDENT,
    WITH_HOST,
    Links,
    beds_in_words,
    crops_in_words,
    in_order,
    pests_in_words,
)
from rules.checks.lastseason import Target, seen_before, seen_by_bed, stood_before, targets, told
from rules.knowledge.country import hosted_by
from rules.knowledge.facts import Pest
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.model import Planting
from rules.report import Evidence
from rules.seasons import growing_year, growing_year_window

NEXT = Kind(
    looks_at="Crops set within the reach of a pest that winters with its host, in another bed than its last host.",
    options={
        "seen": Key(
            "yes/no",
            needed=True,
            says={
                "true": "The pest was seen in that bed the season before, or a crop there was lost to it.",
                "false": "A host stood in that bed the season before; no sighting is on record.",
            },
        ),
        "most_m": Key("number", needed=True, says="Only pests that get at most {} m by themselves."),
    },
    words=frozenset({"crops", "beds", "pests", "last", "from", "metres", "seen"}),
)
HERE = Kind(
    looks_at="Crops set in ground where a pest that lives on there, and feeds on them, was seen the season before.",
    options={},
    words=frozenset({"crops", "bed", "pests", "seen"}),
)
#: What stands before a bed's id among the things that a pest links: no planting's id has a space.
_BED = "bed "


class _Left(NamedTuple):
    """A pest left behind in a bed: its last hosts there, or the days on which it was seen."""

    hosts: tuple[Planting, ...]
    days: tuple[date, ...]
    metres: float | None


def check_next(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each group of beds and plantings that the same pests link."""
    found = _linked(context, rule) if rule.options["seen"] else context.once(_unseen)[rule.id]
    yield from (hit for hit, _ in found)


def unmeasured(context: Context) -> list[str]:
    """The beds of findings that rest on their order in the list, since their distance is not known."""
    found = (hit for hits in context.once(_unseen).values() for hit, known in hits if not known)
    return sorted({bed for hit in found for bed in hit.beds}, key=context.rank.__getitem__)


def check_here(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each ground and group of plantings."""
    pests = context.knowledge.pests
    for bed, ground in context.grounds.items():
        found: dict[tuple[Planting, ...], list[tuple[Pest, date]]] = {}
        for name, days in sorted(ground.others.items()):
            pest = pests.get(name)
            if pest is None or not _lives_on(pest):
                continue
            met = [t for t in context.once(targets).get(bed, ()) if hosted_by(t.planting.crop, pest)]
            met = [t for t in met if seen_before(context, t, days) and not told(context, t.planting, "breach")]
            if met:
                seen = max(day for t in met for day in seen_before(context, t, days))
                found.setdefault(tuple(t.planting for t in met), []).append((pest, seen))
        for plantings, left in found.items():
            yield _here(context, bed, plantings, left)


def _here(context: Context, bed: str, plantings: tuple[Planting, ...], left: list[tuple[Pest, date]]) -> Hit:
    seen = max(day for _, day in left)
    pests = [pest for pest, _ in left]
    over = growing_year_window(growing_year(seen, context.latitude) + 2, context.latitude).start
    return Hit(
        (bed,),
        plantings,
        {
            "crops": crops_in_words(plantings),
            "bed": context.bed_name(bed),
            "pests": pests_in_words(pests),
            "seen": month_year(seen),
        },
        {"pests": tuple(pest.id for pest in pests), "seen": seen},
        wait_until=None if any(pest.overwinters in RESIDENT for pest in pests) else over,
        family=_family(plantings),
        sources=_sources(pests, "hosts", "overwinters", "rotation_helps"),
        cautions=_cautions(pests),
    )


def sighted_near(context: Context, beds: Iterable[str]) -> set[str]:
    """Beds with a sighting that may count against a planting in one of some other beds."""
    seen = context.once(seen_by_bed)
    found: set[str] = set()
    for rule in context.knowledge.by_kind.get("hosts-next-season", ()) if seen else ():
        for pest in _walkers(context, rule) if rule.options["seen"] else ():
            near = context.neighbours.near(_reach(context, pest))
            found |= {
                other
                for bed in beds
                for other, metres in near[bed]
                if metres is not None and pest.id in seen.get(other, ())
            }
    return found


# -- in another bed


def _unseen(context: Context) -> dict[str, list[tuple[Hit, bool]]]:
    """The hits of each rule that asks for no sighting, and whether all distances in them are known."""
    rules = context.knowledge.by_kind.get("hosts-next-season", ())
    return {rule.id: list(_linked(context, rule)) for rule in rules if not rule.options["seen"]}


def _linked(context: Context, rule: Rule) -> Iterator[tuple[Hit, bool]]:
    links, left = Links(), dict[tuple[str, str], list[_Left]]()
    around = context.neighbours.near
    for bed, target, pest in _met(context, rule):
        for other, metres in around(_reach(context, pest))[bed]:
            one = _left_in(context, rule, pest, target, other, metres)
            if one is not None:
                links.add(pest, target.planting.id, _BED + other)
                left.setdefault((pest.id, other), []).append(one)
    for group in links.groups():
        beds = [name.removeprefix(_BED) for name in group.members if name.startswith(_BED)]
        found = [one for pest in group.pests for bed in beds for one in left[pest.id, bed]]
        members = in_order(context, (context.plantings[name] for name in group.members if not name.startswith(_BED)))
        yield _near(context, group.pests, beds, members, found)


def _met(context: Context, rule: Rule) -> Iterator[tuple[str, Target, Pest]]:
    """Each planting that a rule may speak of, by bed, with each of the rule's pests that can feed on it."""
    seen = rule.options["seen"]
    if seen and not context.once(seen_by_bed):
        return
    walkers, feeding = _walkers(context, rule), context.local.once(("walkers on", rule.id), dict[str, list[Pest]])
    for bed, here in context.once(targets).items():
        for target in here:
            crop = target.planting.crop
            pests = feeding.get(crop.id)
            if pests is None:
                pests = [pest for pest in walkers if hosted_by(crop, pest)]
                if crop.kind != "own":
                    feeding[crop.id] = pests
            if pests and (seen or not told(context, target.planting, "caution")):
                yield from ((bed, target, pest) for pest in pests if not _covered(context, target.planting, pest))


def _walkers(context: Context, rule: Rule) -> list[Pest]:
    """The pests that a rule is about: they stay with their host, and a garden is wider than they get."""
    most, seen, local = rule.options["most_m"], rule.options["seen"], context.local

    def walks(pest: Pest) -> bool:
        return pest.overwinters in WITH_HOST and _lives_on(pest) and 0 < _reach(context, pest) <= most

    def walkers() -> list[Pest]:
        every = context.knowledge.pests.values() if seen else (pest for pest in local.pests if not pest.wide)
        return [pest for pest in every if walks(pest)]

    return local.once(("walkers", rule.id), walkers)


def _left_in(context: Context, rule: Rule, pest: Pest, target: Target, bed: str, metres: float | None) -> _Left | None:
    """What was left of a pest in a near bed for a planting to meet; None where nothing was, or it is said elsewhere."""
    days = () if metres is None else context.once(seen_by_bed).get(bed, {}).get(pest.id, ())
    seen = seen_before(context, target, days) if days else ()
    if rule.options["seen"]:
        return _Left((), tuple(seen), metres) if seen else None
    if seen:
        return None
    before = stood_before(context, bed, target.spring)
    hosts = tuple(q for q in before if hosted_by(q.crop, pest) and q.id != target.planting.id)
    return _Left(hosts, (), metres) if hosts else None


def _near(
    context: Context, pests: tuple[Pest, ...], beds: list[str], members: tuple[Planting, ...], left: list[_Left]
) -> tuple[Hit, bool]:
    reach = max(_reach(context, pest) for pest in pests)
    hosts = tuple(sorted({q for one in left for q in one.hosts}, key=lambda q: (q.end, q.id)))
    days = [day for one in left for day in one.days]
    known = [one.metres for one in left if one.metres is not None]
    beds.sort(key=context.rank.__getitem__)
    because: dict[str, Evidence] = {"pests": tuple(pest.id for pest in pests), "from": tuple(beds), "reach": reach}
    if known:
        because["metres"] = min(known)
    if hosts:
        because["last_hosts"] = tuple(q.id for q in hosts)
    if days:
        because["seen"] = max(days)
    planted = list(dict.fromkeys(p.bed for p in members))
    hit = Hit(
        tuple(dict.fromkeys((*planted, *beds))),
        members,
        {
            "crops": crops_in_words(members),
            "beds": beds_in_words(context, planted),
            "pests": pests_in_words(pests),
            "last": crops_in_words(hosts) if hosts else "",
            "from": beds_in_words(context, beds),
            "metres": f"{reach:g}",
            "seen": month_year(max(days)) if days else "",
        },
        because,
        family=_family(members),
        sources=_sources(pests, "hosts", "overwinters", "emerges_from_bed"),
        cautions=_cautions(pests),
    )
    return hit, len(known) == len(left)


def _reach(context: Context, pest: Pest) -> float:
    return context.knowledge.reach[pest.mobility].metres


def _covered(context: Context, planting: Planting, pest: Pest) -> bool:
    return any(keeps_out(cover, planting, pest) for cover in context.once(covers_of).get(planting.id, ()))


# -- pests


def _lives_on(pest: Pest) -> bool:
    """True for a pest that stays in the ground or litter of its host, where moving the crop helps.

    Nematodes are left to the rules on diseases, which know their years.
    """
    if pest.rotation_helps == "no" or pest.group == "nematode":
        return False
    return pest.overwinters in RESIDENT or (pest.overwinters in WITH_HOST and pest.emerges_from_bed != "no")


def _family(plantings: tuple[Planting, ...]) -> str | None:
    families = {p.crop.family for p in plantings}
    return families.pop() or None if len(families) == 1 else None


def _sources(pests: Iterable[Pest], *values: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key for pest in pests for value in values for key in pest.sources.get(value, ())))


def _cautions(pests: Iterable[Pest]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key for pest in pests for key in pest.cautions))
