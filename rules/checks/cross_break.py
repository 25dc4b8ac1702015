"""``cross-break``: two groups of crops that share a lasting disease follow each other too closely.

This stands without any sighting: it is for pairs that published guidance keeps apart
whether or not the disease has shown.  Both directions count.
"""

from __future__ import annotations

from collections.abc import Iterator

from rules.checks.context import Context, Hit, month_year, names_of
from rules.checks.family_break import BELOW
from rules.checks.grounds import Ground
from rules.graphs.stays import Stay, free_after, free_years, has_break, is_host, segments, stays
from rules.knowledge.facts import Crop
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key

_SIDE = {"crops": Key("words"), "families": Key("words")}
KIND = Kind(
    looks_at="Two sorts of crops that share a lasting disease, the one after the other in the same ground.",
    options={
        "one": Key("map", needed=True, shape=_SIDE, says="One sort: {}."),
        "other": Key("map", needed=True, shape=_SIDE, says="The other sort: {}."),
        "least": Key("whole", needed=True, says="The least break, in years with neither: {}."),
        "better": Key("whole", needed=True, says="The better break, in years with neither: {}."),
        "below": Key("text", needed=True, among=tuple(BELOW), says=BELOW),
        "disease": Key("text", needed=True, says="The disease: {}. It speaks although nobody has seen it there."),
    },
    words=frozenset({"crops", "bed", "last", "ended", "years"}),
)


def belongs(crop: Crop, side: dict[str, list[str]]) -> bool:
    """Whether a crop is of one side."""
    return crop.id in side.get("crops", ()) or crop.family in side.get("families", ())


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """Yield hosts of one side that come within the band after the other side."""
    one, other = rule.options["one"], rule.options["other"]
    crops = context.knowledge.crops
    families = [{*s.get("families", ()), *(crops[c].family for c in s.get("crops", ()))} for s in (one, other)]
    for ground in context.grounds.values():
        if rule.options["disease"] in ground.sightings:
            continue
        if not all(any(family in ground.hosts for family in side) for side in families):
            continue
        hosts = [p for p in ground.plantings if is_host(p, context.knowledge.diseases)]
        sides = [[p for p in hosts if belongs(p.crop, side)] for side in (one, other)]
        if all(sides):
            yield from _between(context, rule, ground, sides[0] + sides[1], one, other)


def _between(context: Context, rule: Rule, ground: Ground, hosts: list, one: dict, other: dict) -> Iterator[Hit]:  # type: ignore[type-arg]
    told: set[str] = set()
    for here in segments(sorted(hosts, key=lambda p: (p.start, p.end, p.crop.id, p.id))):
        for new, old in ((one, other), (other, one)):
            before = [p for p in here if belongs(p.crop, old)]
            for later in stays(ground.bed.id, rule.id, [p for p in here if belongs(p.crop, new)]):
                earlier = [p for p in before if p.start < later.start]
                if not earlier or later.plantings[0].id in told:
                    continue
                last = max(earlier, key=lambda p: (p.end, p.id))
                gap = Stay(ground.bed.id, rule.id, (last,), last, last.crop.perennial)
                if _in_band(context, rule, gap, later):
                    told.add(later.plantings[0].id)
                    yield _hit(context, rule, gap, later)


def _in_band(context: Context, rule: Rule, earlier: Stay, later: Stay) -> bool:
    if not has_break(earlier, later, rule.options["least"], context.latitude):
        return bool(rule.options["below"] == "least")
    return rule.options["below"] == "better" and not has_break(earlier, later, rule.options["better"], context.latitude)


def _hit(context: Context, rule: Rule, earlier: Stay, later: Stay) -> Hit:
    years = rule.options[rule.options["below"]]
    words = {
        "crops": names_of(later.plantings),
        "bed": context.bed_name(later.bed),
        "last": earlier.last.crop.plural,
        "ended": month_year(earlier.end),
        "years": "1 year" if years == 1 else f"{years} years",
    }
    because = {
        "last_host": earlier.last.id,
        "ended": earlier.end,
        "least": rule.options["least"],
        "better": rule.options["better"],
        "free_years": free_years(earlier, later, context.latitude),
        "for": (rule.options["disease"],),
    }
    return Hit(
        (later.bed,),
        later.plantings,
        words,
        because,
        context.in_window(later.start, later.end),
        free_after(earlier.last, years, context.latitude),
        later.plantings[0].crop.family or None,
    )
