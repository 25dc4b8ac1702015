"""Invented gardens and wishes for the tests of proposals."""

from datetime import date

from rules import load_knowledge
from rules.model import Bed, FrostDate, Garden, Plan, Planting, Window
from rules.planning.propose import Wish, Wishes

KNOWLEDGE = load_knowledge()
CROPS = KNOWLEDGE.crops
FROSTS = {"last_spring_frost": FrostDate((5, 4)), "first_autumn_frost": FrostDate((10, 2))}


def bed(name, **rest):
    return Bed(name, name, **{"kind": "raised", "length": 300.0, "width": 120.0, **rest})


def grew(bed_id, crop, start, end, **rest):
    name = rest.pop("id", f"{bed_id}-{crop}-{start}")
    status = rest.pop("status", "done")
    return Planting(
        name, bed_id, CROPS[crop], date.fromisoformat(start), date.fromisoformat(end), status=status, **rest
    )


def garden_of(*beds, past=(), sightings=(), garden=None, as_of=date(2026, 11, 20)):
    beds = tuple(one if isinstance(one, Bed) else bed(one) for one in beds)
    past = tuple(sorted(past, key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id)))
    garden = garden or Garden(latitude=46.2, country="FR", **FROSTS)
    judge = Window(date(2027, 1, 1), date(2027, 12, 31))
    return Plan(as_of, judge, "2027", garden, beds, past, sightings=tuple(sightings))


def want(crop, amount=1.0, **rest):
    return Wish(CROPS[crop], amount, **rest)


def wishes(*wants, years=1, **rest):
    return Wishes(tuple(wants), 2027, years, **rest)


def placed(proposal):
    """Beds of each crop and year, by amount."""
    found = {}
    for one in proposal.placed:
        key = one.wish.crop.id, one.year
        found[key] = found.get(key, 0) + one.amount
    return found


def own(proposal, plan):
    """What was proposed and not there before."""
    known = {p.id for p in plan.plantings}
    return [p for p in proposal.plantings if p.id not in known]


def breaches(report):
    return {(f.rule, p) for f in report.findings if f.severity == "breach" for p in f.plantings}
