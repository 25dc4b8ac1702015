"""What a spoken question takes and answers."""

from __future__ import annotations

from marshmallow import fields, validate

from service.answers.question import ASKS
from service.schemas.query import Query
from service.schemas.report import Closed, text
from service.schemas.words import LONGEST_NAME, SHOWN

_ABOUT = "; ".join(f"`{ask.name}`: {ask.about} ({', '.join(ask.needs) or 'needs nothing'})" for ask in ASKS.values())


class AnswerQuery(Query):
    """Parameters of a spoken question."""

    ask = fields.String(
        required=True,
        validate=validate.OneOf(list(ASKS), error="Ask one of {choices}."),
        error_messages={"required": f"Say what you ask: {', '.join(ASKS)}."},
        metadata={"description": f"The question. {_ABOUT}.", "example": "may"},
    )
    crop = fields.String(
        validate=validate.Length(max=LONGEST_NAME, error="At most {max} characters."),
        metadata={
            "description": "A crop by any of its names, or a word for several; for `free` also a family.",
            "example": "cabbage",
        },
    )
    bed = fields.String(
        validate=validate.Length(max=LONGEST_NAME, error="At most {max} characters."),
        metadata={"description": "A bed by its id or its name, as people say it.", "example": "kiln"},
    )
    date = fields.String(
        validate=validate.Length(max=SHOWN, error="At most {max} characters."),
        metadata={
            "description": "The day, as YYYY-MM-DD or as people say it: 20 April, tomorrow, Tuesday, in two weeks. "
            "Without its year it is the next such day (for `was` the last). The plan's as_of if not given.",
            "example": "2027-04-20",
        },
    )
    format = fields.String(
        validate=validate.OneOf(["text", "json"]),
        metadata={"description": "The form of the answer; stronger than the Accept header."},
    )


class SaidSchema(Closed):
    """An answer to be spoken."""

    say = text("one sentence without symbols, under 200 characters", validate=validate.Length(max=199))
    ok = fields.Boolean(
        required=True,
        metadata={
            "description": "false for a no, where the record does not tell, and where the question is at fault. "
            "For `may` and `where` it is the verdict of the check alone: it stays true where the sentence adds "
            "that the crop usually goes in at another time"
        },
    )
