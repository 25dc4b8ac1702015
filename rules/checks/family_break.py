"""``family-break``: a family comes back to a ground before its break is over.

``below: least`` finds breaks shorter than the least one, ``below: better`` those between
the least and the better one.
"""

from __future__ import annotations

from collections.abc import Iterator

from rules.checks.context import Context, Hit, Return, month_year, names_of
from rules.graphs.stays import free_after, free_years, has_break
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.report import Evidence

#: The two bands of a break.
BELOW = {
    "least": "It speaks where the break between them is shorter than the least one.",
    "better": "It speaks where the least break is kept and the better one is not.",
}
KIND = Kind(
    looks_at="A crop and the last one of its family in the same ground, over all years on record.",
    options={"below": Key("text", needed=True, among=tuple(BELOW), says=BELOW)},
    words=frozenset({"crops", "bed", "last", "ended", "family", "years", "same", "troubles"}),
)
GREEN_MANURE = "green_manure"


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """Yield each return of a family within the band that the rule asks for."""
    for back in context.returns:
        least, better = context.interval(back.later.key) or (0, 0)
        enough = least if rule.options["below"] == "least" else better
        if has_break(back.earlier, back.later, enough, context.latitude):
            continue
        if rule.options["below"] == "better" and not has_break(back.earlier, back.later, least, context.latitude):
            continue
        if least == 0 and GREEN_MANURE in (back.earlier.last.crop.kind, back.later.plantings[0].crop.kind):
            continue  # a cereal turned in before sweetcorn is ordinary practice
        yield _hit(context, back, least, better, enough)


def _hit(context: Context, back: Return, least: int, better: int, enough: int) -> Hit:
    earlier, later = back
    in_window = context.in_window(later.start, later.end)
    if not context.is_told(in_window):
        return Hit((later.bed,), later.plantings, {}, {}, in_window)
    family = context.knowledge.family(later.key)
    crop, last = later.plantings[0].crop, earlier.last.crop
    shared = [
        d for d in context.knowledge.diseases_of.get(crop.id, ()) if last.id in context.knowledge.diseases[d].hosts
    ][:3]
    view = (
        family.other_view
        if family.other_view and _in_view(crop.members or (crop.id,), family.other_view.crops)
        else None
    )
    named = [context.knowledge.diseases[d].name for d in shared]
    relatives = context.knowledge.family_name(later.key)
    words = {
        "crops": names_of(later.plantings),
        "bed": context.bed_name(later.bed),
        "last": last.plural,
        "ended": month_year(earlier.end),
        "family": relatives,
        "years": _years(enough),
        "same": "the same crop again" if crop.id == last.id else f"both are of the {relatives}",
        "troubles": "troubles of soil and leavings" + (f" ({', '.join(named)})" if named else ""),
    }
    because: dict[str, Evidence] = {
        "last_host": earlier.last.id,
        "last_crop": last.id,
        "ended": earlier.end,
        "ended_assumed": earlier.last.assumed_end or earlier.last.exact == "year",
        "family": later.key,
        "least": least,
        "better": better,
        "free_years": free_years(earlier, later, context.latitude),
        "for": tuple(shared),
    }
    if view is not None:
        because["other_view"] = view.text
    return Hit(
        (later.bed,),
        later.plantings,
        words,
        because,
        in_window,
        free_after(earlier.last, enough, context.latitude),
        later.key,
        contested_by=view.sources if view else (),
        sources=family.sources.get("break", ()),
    )


def _in_view(crops: tuple[str, ...], view: frozenset[str]) -> bool:
    return all(crop in view for crop in crops)


def _years(number: int) -> str:
    return "1 year" if number == 1 else f"{number} years"
