"""Gardens, journals and plans to bring in and take out."""

from dataclasses import replace
from datetime import UTC, date, datetime

from rules import load_knowledge
from service.mapping import garden_plan

NOW = datetime(2027, 6, 1, 9, 30, tzinfo=UTC)
TODAY = date(2027, 6, 1)
KNOWLEDGE = load_knowledge()


def plain_crops(plan):
    """A plan with crops as plain values: two readings of a crop of one's own are two things."""
    crops = ((p.crop.id, p.crop.name, p.crop.family, p.crop.lifecycle) for p in plan.plantings)
    return replace(plan, plantings=tuple(p._replace(crop=crop) for p, crop in zip(plan.plantings, crops, strict=True)))


def the_plan(contents, as_of=TODAY, season=None):
    return plain_crops(garden_plan(contents, KNOWLEDGE, as_of=as_of, season=season))
