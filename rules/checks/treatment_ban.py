"""``treatment-ban``: an active ingredient that may not be used where the garden lies."""

from __future__ import annotations

from collections.abc import Iterator

from rules.checks.context import Context, Hit, names_of
from rules.knowledge.names import normal
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key

KIND = Kind(
    options={
        "actives": Key("words", needed=True, says="Active ingredients: {}."),
        "places": Key("words", needed=True, says="Countries whose law says so: {}."),
    },
    words=frozenset({"crops", "bed", "active", "done"}),
    looks_at="Treatments on record or planned in the judged window, and the country that the garden lies in.",
)


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each bed and active ingredient, with the plantings of the window that it touches."""
    country = (context.plan.garden.country or "").partition("-")[0].upper()
    if country not in rule.options["places"]:
        return
    banned = {normal(active) for active in rule.options["actives"]}
    window = context.plan.judge
    for bed, treatments in context.treatments.items():
        told: set[str] = set()
        for done in sorted(treatments, key=lambda t: (t.date, t.active)):
            active = normal(done.active)
            touched = tuple(
                p for p in context.own.get(bed, ()) if done.planting in (None, p.id) and p.start <= done.date <= p.end
            )
            planned = window.start <= done.date <= window.end
            if planned and touched and active not in told and any(word in active.split() for word in banned):
                told.add(active)
                yield Hit(
                    (bed,),
                    touched,
                    {
                        "crops": names_of(touched),
                        "bed": context.bed_name(bed),
                        "active": done.active,
                        "done": f"{done.date.day} {done.date:%B} {done.date.year}",
                    },
                    {"active": done.active, "treated": done.date, "country": country},
                    moving_helps=False,
                )
