"""``disease-break``: a host comes back to ground where its disease was seen.

A sighting raises the need to the disease's own host-free years, counted from its last host
in that ground (or from the sighting), across plant families.  The ``band`` option chooses:
``never`` for ground that no practical rotation clears, ``least`` and ``better`` for breaks
that are too short, ``resistant`` for hosts whose variety is said to resist it.
"""

from __future__ import annotations

from collections.abc import Iterator

from rules.checks.context import Context, Hit, month_year, names_of
from rules.checks.grounds import Ground
from rules.graphs.stays import Stay, free_after, free_years, has_break
from rules.knowledge.facts import Disease
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.report import Evidence

#: From this many years on a break is spoken of as decades, and the ground stays closed.
DECADES = 15
BANDS = {
    "never": "It speaks where no break that anybody keeps would make the ground safe.",
    "least": "It speaks where the break since the last host is shorter than the least one for the disease.",
    "better": "It speaks where the least break for the disease is kept and the better one is not.",
    "resistant": "It speaks where the variety is said to resist the disease.",
}
_HOLDS = {"true": "Resistance to the disease holds.", "false": "Resistance to the disease may fail."}
KIND = Kind(
    looks_at="A host that comes back to ground where its disease was seen, whatever its family.",
    options={
        "band": Key("text", needed=True, among=tuple(BANDS), says=BANDS),
        "resistance_holds": Key("yes/no", says=_HOLDS),
    },
    words=frozenset({"crops", "bed", "disease", "seen", "last", "years", "survival", "advice"}),
)


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """Yield the exposures that fall into the rule's band."""
    band = rule.options["band"]
    for ground, disease, earlier, later in context.exposures:
        if _band(context, disease, earlier, later) == band and (
            band != "resistant" or disease.resistance_holds == rule.options.get("resistance_holds", False)
        ):
            yield _hit(context, ground, disease, earlier, later)


def _band(context: Context, disease: Disease, earlier: Stay, later: Stay) -> str | None:
    least, better = disease.least, disease.better
    closed = least is None or better is None or least >= DECADES
    if not closed and has_break(earlier, later, better or 0, context.latitude):
        return None
    if all(p.variety and disease.id in p.variety.resists for p in later.plantings):
        return "resistant"
    if least is None or closed:
        return "never"
    return "better" if has_break(earlier, later, least, context.latitude) else "least"


def _hit(context: Context, ground: Ground, disease: Disease, earlier: Stay, later: Stay) -> Hit:
    bed = ground.bed.id
    years = disease.least if disease.least is not None else None
    words = {
        "crops": names_of(later.plantings),
        "bed": context.bed_name(bed),
        "disease": disease.name,
        "seen": month_year(ground.sightings[disease.id][0]),
        "last": earlier.last.crop.plural,
        "years": years_in_words(disease),
        "survival": disease.survival or "a long time",
        "advice": disease.advice,
    }
    because: dict[str, Evidence] = {
        "disease": disease.id,
        "seen": ground.sightings[disease.id][0],
        "last_host": earlier.last.id or None,
        "ended": earlier.end,
        "least": years,
        "better": disease.better,
        "free_years": free_years(earlier, later, context.latitude),
    }
    wait = (
        None
        if disease.least is None or disease.least >= DECADES or disease.better is None
        else free_after(earlier.last, disease.better, context.latitude)
    )
    return Hit(
        (bed,),
        later.plantings,
        words,
        because,
        context.in_window(later.start, later.end),
        wait,
        later.plantings[0].crop.family or None,
        disease.id,
        sources=disease.sources.get("years", ()),
        cautions=disease.cautions,
    )


def years_in_words(disease: Disease) -> str:
    """How long a disease's ground stays closed to its hosts, in words."""
    if disease.least is None:
        return "no number of years is known to be enough"
    if disease.least >= DECADES:
        return f"{disease.least} years or more"
    return f"{disease.least} years" if disease.least == disease.better else f"{disease.least} to {disease.better} years"
