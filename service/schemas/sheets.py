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
            "description": "`defused`, for a spreadsheet, puts an apostrophe before a cell that it would run as a "
            "formula, and a byte order mark before the sheet, by which it knows accents; `kept`, for a program, "
            "does neither. Both can be brought in again."
        },
    )


class AddedSchema(Closed):
    """What was added."""

    added = whole("how many plantings")
    plantings = words("their ids, in the order of the rows")
