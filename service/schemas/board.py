"""What a club's page shows of a garden, for the document only: ``service.board`` writes it."""

from __future__ import annotations

from marshmallow import fields, validate

from rules.report import SEVERITIES
from service.schemas.report import Closed, JudgedSchema, day, text, whole, words

VERDICTS = ("breach", "caution", "unknown", "clear")


class StandsSchema(Closed):
    """A planting as a page shows it."""

    planting = text("its id")
    crop = text("the crop, as a heading has it")
    variety = text("the variety, if it is known", allow_none=True)
    start = day("in the ground from this day")
    end = day("the last day; null for what stays until it is cleared", allow_none=True)
    assumed_end = fields.Boolean(
        required=True, metadata={"description": "true where the last day is worked out and not on record"}
    )


class BreakSchema(Closed):
    """A plant family that shall wait before it comes back to the bed."""

    family = text("the family by its common name")
    least = day("the day after the least break; null = never again", allow_none=True)
    better = day("the day after the better break; null = never again", allow_none=True)


class BoardBedSchema(Closed):
    """A bed today."""

    bed = text("its id")
    name = text("its name")
    standing = fields.List(
        fields.Nested(StandsSchema), required=True, metadata={"description": "what stands in it today"}
    )
    free_from = day("the first day from today on with room in it; null where what stands stays", allow_none=True)
    next = fields.Nested(StandsSchema, required=True, allow_none=True, metadata={"description": "what comes next"})
    breaks = fields.List(fields.Nested(BreakSchema), required=True)


class BoardFindingSchema(Closed):
    """A finding in short."""

    severity = text("how grave it is", validate=validate.OneOf(SEVERITIES))
    title = text("what was found, as a sentence")
    fix = text("what to do")
    cautions = words("cautions that go with the advice, in full")
    beds = words("names of the beds")
    plantings = words("ids of the plantings")


class BoardSchema(Closed):
    """A garden on a day: its beds and what the check found, in words for a page."""

    garden = text("the garden's name")
    as_of = day("today, where the garden lies")
    judged = fields.Nested(JudgedSchema, required=True)
    verdict = text("the worst severity found, as in the report", validate=validate.OneOf(VERDICTS))
    findings = fields.List(fields.Nested(BoardFindingSchema), required=True)
    skipped = whole("how many checks could not be made; skipped is not clean")
    beds = fields.List(fields.Nested(BoardBedSchema), required=True)
