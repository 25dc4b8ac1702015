"""What may be asked of a sheet of plantings, and what is answered when one is brought in."""

from __future__ import annotations

from marshmallow import fields, validate

from service.schemas.query import Query
from service.schemas.report import Closed, whole, words


class SheetQuery(Query):
    """Parameters of a sheet of plantings."""

    formulas = fields.String(
        load_default="defused",
        validate=validate.OneOf(["defused", "kept"]),
        metadata={
            "description": "`defused` puts an apostrophe before a cell that a spreadsheet would run as a formula; "
            "`kept` does not. Both can be brought in again."
        },
    )


class AddedSchema(Closed):
    """What was added."""

    added = whole("how many plantings")
    plantings = words("their ids, in the order of the rows")
