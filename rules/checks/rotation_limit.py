"""``rotation-limit``: a pest was seen that moving its hosts within the garden does not stop.

Told once a pest, for hosts of the judged window and sightings of the last years only, with what
helps instead: a fine net where one keeps it out, and its gentle controls.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from rules.checks.context import Context, Hit, month_year
from rules.checks.coverage import lives_below
from rules.knowledge.facts import Control, Pest
from rules.knowledge.pestshapes import MOBILITY, OVERWINTERS
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.model import Planting
from rules.seasons import add_years

KIND = Kind(
    looks_at="A pest that was seen, and the hosts of it that are in the plan.",
    options={
        "seen_years": Key("whole", needed=True, says="It was seen in the last {} years."),
        "widest_net_mm": Key("number", needed=True, says="Nets that it names have holes of {} mm at most."),
    },
    words=frozenset({"pest", "bed", "seen", "reason", "helps"}),
)
#: The rungs of the ladder that are named here; sprays have rules and labels of their own.
_GENTLE = ("cultural", "physical", "biological")
_MOST_CONTROLS = 2
_NET = "netting_and_wildlife"


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """Yield one hit for each such pest, over all beds with its hosts."""
    judge = context.plan.judge
    since = add_years(judge.start, -rule.options["seen_years"])
    seen: dict[str, tuple[date, str]] = {}
    for sighting in context.plan.sightings:
        pest = context.knowledge.pests.get(sighting.of)
        if pest is not None and pest.rotation_helps == "no" and since <= sighting.date <= judge.end:
            this = (sighting.date, sighting.bed)
            seen[pest.id] = max(this, seen.get(pest.id, this))
    for pest_id, found in sorted(seen.items()):
        pest = context.knowledge.pests[pest_id]
        hosts = sorted(
            (p for p in context.judged if _eats(pest, p)), key=lambda p: (context.rank[p.bed], p.start, p.crop.id, p.id)
        )
        if hosts:
            yield _hit(context, rule, pest, found, tuple(hosts))


def _eats(pest: Pest, planting: Planting) -> bool:
    crop = planting.crop
    if crop.id in pest.hosts:
        return True
    return pest.wide and crop.kind not in ("fallow", "green_manure") and crop.id not in pest.non_hosts


def _hit(context: Context, rule: Rule, pest: Pest, seen: tuple[date, str], hosts: tuple[Planting, ...]) -> Hit:
    day, bed = seen
    controls = _controls(context, pest)
    helps = [control.name for control in controls]
    mesh = _net_mm(pest, rule.options["widest_net_mm"])
    if mesh is not None:
        helps.insert(0, f"a cover with holes of {mesh:g} mm or less from the first day on, its edges shut")
    cautions = [*pest.cautions, *((_NET,) if mesh is not None else ()), *(c for one in controls for c in one.cautions)]
    sources = [*pest.sources.get("rotation_helps", ()), *(pest.sources["max_mesh_mm"] if mesh is not None else ())]
    return Hit(
        tuple(dict.fromkeys(p.bed for p in hosts)),
        hosts,
        {
            "pest": pest.name,
            "bed": context.bed_name(bed),
            "seen": month_year(day),
            "reason": _reason(pest),
            "helps": "; ".join(helps) or pest.notes.get("rotation", "look for it often and take it off by hand"),
        },
        {"pest": pest.id, "seen": day, "seen_in": bed, "mesh_mm": mesh},
        sources=tuple(dict.fromkeys(sources)),
        cautions=tuple(dict.fromkeys(cautions)),
    )


def _reason(pest: Pest) -> str:
    """Where it lives on, for what any soil holds; else how it gets about, and where it winters."""
    if lives_below(pest):
        return f"Where it lives on: {OVERWINTERS[pest.overwinters]}"
    moves = f"How it gets about: {MOBILITY[pest.mobility]}"
    return moves if pest.group == "vertebrate" else f"{moves}. Where it winters: {OVERWINTERS[pest.overwinters]}"


def _net_mm(pest: Pest, widest: float) -> float | None:
    """The widest hole of a net that keeps a pest out and is safe for animals; None where no such net helps."""
    mesh = pest.max_mesh_mm
    if mesh is None or lives_below(pest) or pest.emerges_from_bed == "yes":
        return None
    return None if pest.group == "vertebrate" and mesh > widest else min(mesh, widest)


def _controls(context: Context, pest: Pest) -> list[Control]:
    """A pest's gentle controls, least harm first."""
    controls = [c for c in context.knowledge.controls.values() if pest.id in c.against and c.step in _GENTLE]
    return sorted(controls, key=lambda c: (_GENTLE.index(c.step), c.id))[:_MOST_CONTROLS]
