"""``treatment-wait``: picking falls inside the label's days after a treatment, or these are not on record.

The days are the user's own, from their label; none is ever made up here.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from rules.checks.context import Context, Hit, names_of
from rules.knowledge.names import normal
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.model import Planting, Treatment
from rules.report import Evidence

INTERVAL = {
    "broken": "Picking begins before the days on the label are over.",
    "missing": "The days on the label are not on record.",
}
#: How to keep a product; the protection plan says it, and it is not about the crop.
_STORAGE = "keep_and_discard"
#: What goes with an active ingredient that is not on our list, for it may be one that hurts bees or water.
_UNKNOWN = ("bees_in_bloom", "water_life")
KIND = Kind(
    options={"interval": Key("text", needed=True, among=tuple(INTERVAL), says=INTERVAL)},
    words=frozenset({"crops", "bed", "active", "done", "until", "days", "harvest"}),
    looks_at="Treatments on record or planned, and the first harvest of what they touched.",
)


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each treatment of plantings of the judged window that are eaten."""
    judged = context.judged_ids
    for bed in context.beds:
        for treatment in sorted(context.treatments.get(bed, ()), key=lambda t: (t.date, t.active)):
            touched = [
                p
                for p in context.own[bed]
                if p.id in judged
                and treatment.planting in (None, p.id)
                and p.start <= treatment.date <= p.end
                and p.crop.kind not in ("flower", "green_manure", "fallow")
            ]
            found = [p for p in touched if _at_fault(rule, treatment, p)]
            if found:
                yield _hit(context, treatment, tuple(found))


def _at_fault(rule: Rule, treatment: Treatment, planting: Planting) -> bool:
    days = treatment.harvest_interval
    if rule.options["interval"] == "missing":
        return days is None
    harvest = planting.first_harvest
    if days is None or harvest is None:
        return False
    return treatment.date <= harvest < treatment.date + timedelta(days=days)


def _hit(context: Context, treatment: Treatment, plantings: tuple[Planting, ...]) -> Hit:
    days = treatment.harvest_interval
    until = None if days is None else treatment.date + timedelta(days=days)
    harvests = [p.first_harvest for p in plantings if p.first_harvest is not None]
    because: dict[str, Evidence] = {"active": treatment.active, "treated": treatment.date}
    if until is not None:
        because |= {"interval": days, "pick_from": until}
    return Hit(
        (treatment.bed,),
        plantings,
        {
            "crops": names_of(plantings),
            "bed": context.bed_name(treatment.bed),
            "active": treatment.active,
            "done": _day(treatment.date),
            "until": _day(until) if until else "the label's days are over",
            "days": "" if days is None else ("1 day" if days == 1 else f"{days} days"),
            "harvest": _day(min(harvests)) if harvests else "the first harvest",
        },
        because,
        cautions=_cautions(context, treatment.active),
        moving_helps=False,
    )


def _cautions(context: Context, active: str) -> tuple[str, ...]:
    """What an active ingredient may hurt: bees, butterflies, water, animals that eat bait."""
    word = normal(active)
    for control in context.knowledge.controls.values():
        if word in map(normal, (control.id, control.name, *control.aliases)):
            return tuple(key for key in control.cautions if key != _STORAGE)
    return _UNKNOWN


def _day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"
