"""``cover-trap``: a cover shuts in the pest that comes out of the ground beneath it.

Only pests that the cover would otherwise stop are looked at, and never residents of any soil,
which are under the cover wherever it lies.
"""

from __future__ import annotations

from collections.abc import Iterator

from rules.checks.context import Context, Hit, month_year, names_of
from rules.checks.coverage import covers_of, feeders, fine_enough, lives_below, shut_throughout
from rules.graphs.stays import is_host
from rules.knowledge.facts import Pest
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.model import Cover, Planting
from rules.seasons import growing_year

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
    """One hit for each covered planting that stands where a host of such pests grew before it."""
    planned = {p.id: p for p in context.judged}
    for name, covers in context.once(covers_of).items():
        planting = planned.get(name)
        if planting is None:
            continue
        for cover in covers:
            found = list(_shut_in(context, rule, planting, cover))
            if found:
                yield _hit(context, planting, cover, found)
                break


def _shut_in(context: Context, rule: Rule, planting: Planting, cover: Cover) -> Iterator[tuple[Pest, Planting]]:
    """Pests that come out under a cover, each with the host that left it there last."""
    for pest in feeders(context, planting):
        if fine_enough(cover, pest) and not lives_below(pest) and _comes_out(rule, pest):
            hosts = [u for u in _before(context, rule.options["after"], planting) if u.crop.id in pest.hosts]
            left = [u for u in hosts if _releases(context, u, pest)]
            if left:
                yield pest, max(left, key=lambda u: (u.end, u.id))


def _comes_out(rule: Rule, pest: Pest) -> bool:
    if rule.options["after"] == "same_season":
        return pest.emerges_same_season in rule.options["emerges"]
    return pest.emerges_from_bed in rule.options["emerges"]


def _known(context: Context) -> dict[tuple[str, str], bool]:
    return {}


def _releases(context: Context, host: Planting, pest: Pest) -> bool:
    """Whether a host left a pest in its ground: it stood open, or the pest came up beneath its cover."""
    known, key = context.once(_known), (host.id, pest.id)
    if key not in known:
        after = [
            word
            for word, value in (("last_season", pest.emerges_from_bed), ("same_season", pest.emerges_same_season))
            if value in ("yes", "partly")
        ]
        known[key] = not shut_throughout(context, host, pest) or any(
            u.crop.id in pest.hosts and _releases(context, u, pest)
            for word in after
            for u in _before(context, word, host)
        )
    return known[key]


def _before(context: Context, after: str, planting: Planting) -> Iterator[Planting]:
    """What stood in the same ground last season (also over winter), or earlier in the same season."""
    latitude = context.latitude
    year = growing_year(planting.start, latitude)
    for u in context.grounds[planting.bed].plantings:
        apart = u.part[1] <= planting.part[0] or u.part[0] >= planting.part[1]
        if u.id == planting.id or apart or u.end > planting.start or not is_host(u, context.knowledge.diseases):
            continue
        began, ended = growing_year(u.start, latitude), growing_year(u.end, latitude)
        if after == "same_season":
            if began == year:
                yield u
        elif began < year <= ended + 1:
            yield u


def _hit(context: Context, planting: Planting, cover: Cover, found: list[tuple[Pest, Planting]]) -> Hit:
    last = max((u for _, u in found), key=lambda u: (u.end, u.id))
    pests = list(dict.fromkeys(pest.name for pest, _ in found))
    cautions = tuple(dict.fromkeys(caution for pest, _ in found for caution in pest.cautions))
    keys = ("emerges_from_bed", "emerges_same_season")
    sources = tuple(dict.fromkeys(s for pest, _ in found for key in keys for s in pest.sources.get(key, ())))
    return Hit(
        (planting.bed,),
        (planting,),
        {
            "crops": names_of((planting,)),
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
