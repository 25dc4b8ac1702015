"""What a proposal takes beside the plan, and its answer.

The answer is for the document only: ``service.proposing.encode`` writes it.
"""

from __future__ import annotations

from typing import Any

from marshmallow import fields, validate

from service.proposing.limits import MOST_ALTERNATIVES, MOST_YEARS
from service.schemas.plan import PlanSchema, PlantingSchema
from service.schemas.planning import number
from service.schemas.query import Query, TextNumber
from service.schemas.report import Closed, ReportSchema, text, whole, words


def _number(about: str, least: int, most: int, **options: Any) -> TextNumber:
    said = f"Write a whole number from {least} to {most}."
    return TextNumber(validate=validate.Range(least, most, error=said), metadata={"description": about}, **options)


class ProposalQuery(Query):
    """Parameters of a proposal."""

    since = _number(
        "The first growing year; else as the plan's wishes say, or the first that nothing is planned for.",
        1900,
        2199,
        data_key="from",
    )
    years = _number("How many years; else as the plan's wishes say, or 4.", 1, MOST_YEARS)
    seconds = TextNumber(
        validate=validate.Range(0),
        metadata={
            "description": "How long to search at most; 0 for the quick answer alone. The service has a limit "
            "of its own, which is also what is taken if none is given."
        },
    )
    alternatives = _number("How many other plans to seek.", 0, MOST_ALTERNATIVES, load_default=0)
    keep = fields.String(
        validate=validate.Length(1, 4000),
        metadata={
            "description": "Of what the plan has for these years keep only this, and plan the rest anew: beds, or "
            "beds with a year, parted by commas.",
            "example": "kiln,quay:2028",
        },
    )
    format = fields.String(
        validate=validate.OneOf(["json", "text"]),
        metadata={"description": "The form of the answer; stronger than the Accept header."},
    )


# -- the answer


class PlannedYearsSchema(Closed):
    """The growing years that were planned, both included."""

    since = whole("first year", data_key="from")
    to = whole("last year")


class PlacedSchema(Closed):
    """How much of a wish stands in a year."""

    crop = text("id of the crop (/v1/crops)")
    year = whole("growing year")
    amount = number("in beds of middling size")
    beds = words("ids of the beds")


class RelaxationSchema(Closed):
    """A change to the question that was tried and makes room."""

    kind = text("what is changed")
    text = text("what to change")


class UnplacedSchema(Closed):
    """What of a wish found no place in a year."""

    crop = text("id of the crop (/v1/crops)")
    year = whole("growing year")
    amount = number("in beds of middling size")
    reason = text("what stops it")
    relaxation = fields.Nested(RelaxationSchema, required=True, allow_none=True)


class _Judged(Closed):
    verdict = text("verdict of the ordinary check over all the years")
    stopped = text(
        "how the search ended: with a proof, at its time limit, or with the quick answer alone",
        validate=validate.OneOf(["optimal", "time", "quick"]),
    )
    value = number("what was reached, in points: 100 for each quarter of a bed placed, three times that for a must")
    bound = number("the most that can be reached")
    gap = number("how far value may lie below the best there is, as a share of the bound; 0 is proven best")
    placed = fields.List(fields.Nested(PlacedSchema), required=True)
    unplaced = fields.List(fields.Nested(UnplacedSchema), required=True)


class AlternativeSchema(_Judged):
    """Another plan that differs in substance."""

    differs = text("what it does otherwise")
    plantings = fields.List(
        fields.Nested(PlantingSchema), required=True, metadata={"description": "what it adds to the plan"}
    )


class ProposalSchema(_Judged):
    """A plan for some years, how good it is, and what found no place and why."""

    format = whole("1", validate=validate.Equal(1))
    garden = text("name of the garden")
    years = fields.Nested(PlannedYearsSchema, required=True)
    counting = words("what cannot fit by counting alone")
    notes = words("what else to know")
    alternatives = fields.List(fields.Nested(AlternativeSchema), required=True)
    plan = fields.Nested(
        PlanSchema,
        required=True,
        metadata={"description": "the plan as it was sent, with what is proposed among its plantings"},
    )
    report = fields.Nested(ReportSchema, required=True, metadata={"description": "the ordinary check of it"})
