"""``cover-trap``: a cover shuts in the pest that comes out of the ground beneath it.

Only pests that the cover would otherwise stop are looked at, and never residents of any soil,
which are under the cover wherever it lies.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Iterator, Sequence
from datetime import date

from rules.checks.context import Context, Hit, month_year, names_of
from rules.checks.coverage import covers_of, feeders, fine_enough, lives_below, shut_throughout
from rules.graphs.stays import is_host
from rules.knowledge.facts import Pest
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.model import Cover, Planting

AFTER = {
    "last_season": "The host stood there last season or over winter.",
    "same_season": "The host stood there earlier in the same season.",
}
KIND = Kind(
    options={
        "after": Key("text", needed=True, among=tuple(AFTER), says=AFTER),
        "emerges": Key(
            "words", needed=True, among=("yes", "partly"), says="Whether the pest comes out of the bed: {}."
        ),
    },
    words=frozenset({"crops", "bed", "last", "ended", "pests", "cover"}),
    looks_at="Covers over ground in which a host of the pest that they are to stop stood before.",
)


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for the plantings of a crop under covers of a kind, where the same pests were left by the same host."""
    alike: dict[tuple[object, ...], tuple[Cover, list[Planting], list[tuple[Pest, Planting]]]] = {}
    for name, covers in context.once(covers_of).items():
        if name not in context.judged_ids:
            continue
        planting = context.plantings[name]
        for cover in covers:
            found = list(_shut_in(context, rule, planting, cover))
            if found:
                left = tuple((pest.id, last.id) for pest, last in found)
                key = (planting.bed, planting.crop.id, cover.kind, left)
                alike.setdefault(key, (cover, [], found))[1].append(planting)
                break
    for cover, plantings, found in alike.values():
        yield _hit(context, tuple(plantings), cover, found)


def _shut_in(context: Context, rule: Rule, planting: Planting, cover: Cover) -> Iterator[tuple[Pest, Planting]]:
    """Pests that come out under a cover, each with the host that left it there last."""
    for pest in feeders(context, planting):
        if _comes_out(rule, pest) and fine_enough(cover, pest) and not lives_below(pest):
            last = _last_before(context, _left_in(context, planting.bed, pest), rule.options["after"], planting)
            if last is not None:
                yield pest, last


def _comes_out(rule: Rule, pest: Pest) -> bool:
    if rule.options["after"] == "same_season":
        return pest.emerges_same_season in rule.options["emerges"]
    return pest.emerges_from_bed in rule.options["emerges"]


#: The hosts that left a pest in one ground by the growing year of their start, each year's by their end.
_Left = dict[int, list[tuple[date, str, Planting]]]


def _known(context: Context) -> dict[tuple[str, str], _Left]:
    return {}


def _left_in(context: Context, bed: str, pest: Pest) -> _Left:
    """The hosts that left a pest in a ground: they stood open, or the pest came up beneath their cover."""
    known = context.once(_known)
    if (bed, pest.id) not in known:
        after = [
            word
            for word, value in (("last_season", pest.emerges_from_bed), ("same_season", pest.emerges_same_season))
            if value in ("yes", "partly")
        ]
        left: _Left = {}
        hosts = (
            u
            for u in context.grounds[bed].plantings
            if u.crop.id in pest.hosts and is_host(u, context.knowledge.diseases)
        )
        # By start: what a host may have taken over was told before it.
        for u in sorted(hosts, key=lambda u: (u.start, u.end, u.id)):
            if not shut_throughout(context, u, pest) or any(_last_before(context, left, word, u) for word in after):
                insort(left.setdefault(context.year_of(u.start), []), (u.end, u.id, u))
        known[bed, pest.id] = left
    return known[bed, pest.id]


def _last_before(context: Context, left: _Left, after: str, planting: Planting) -> Planting | None:
    """Of such hosts the last that stood in the same ground last season (also over winter), or earlier in this one."""
    year = context.year_of(planting.start)
    years = [year] if after == "same_season" else [began for began in left if began < year]
    found = (_last_of(context, left.get(began, ()), after, planting, year) for began in years)
    return max((u for u in found if u is not None), key=lambda u: (u.end, u.id), default=None)


def _last_of(
    context: Context, hosts: Sequence[tuple[date, str, Planting]], after: str, planting: Planting, year: int
) -> Planting | None:
    for i in range(bisect_right(hosts, planting.start, key=lambda row: row[0]) - 1, -1, -1):
        end, name, u = hosts[i]
        if after == "last_season" and year > context.year_of(end) + 1:
            return None
        if name != planting.id and u.part[1] > planting.part[0] and u.part[0] < planting.part[1]:
            return u
    return None


def _hit(context: Context, plantings: tuple[Planting, ...], cover: Cover, found: list[tuple[Pest, Planting]]) -> Hit:
    planting = plantings[0]
    last = max((u for _, u in found), key=lambda u: (u.end, u.id))
    pests = list(dict.fromkeys(pest.name for pest, _ in found))
    cautions = tuple(dict.fromkeys(caution for pest, _ in found for caution in pest.cautions))
    keys = ("emerges_from_bed", "emerges_same_season")
    sources = tuple(dict.fromkeys(s for pest, _ in found for key in keys for s in pest.sources.get(key, ())))
    return Hit(
        (planting.bed,),
        plantings,
        {
            "crops": names_of(plantings),
            "bed": context.bed_name(planting.bed),
            "last": last.crop.plural,
            "ended": month_year(last.end),
            "pests": listed(pests),
            "cover": cover.kind,
        },
        {
            "pests": tuple(dict.fromkeys(pest.id for pest, _ in found)),
            "last_host": last.id,
            "ended": last.end,
            "cover_from": cover.start,
        },
        family=planting.crop.family or None,
        sources=sources,
        cautions=cautions,
    )


def listed(names: list[str], most: int = 3) -> str:
    """Names as they stand in a sentence, the first few by name."""
    if len(names) > most:
        names = [*names[:most], f"{len(names) - most} more"]
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
