"""What may be asked when labels are."""

from __future__ import annotations

from marshmallow import fields, validate

from service.labels.sheets import SHEETS
from service.schemas.query import Query, TextNumber


class LabelsQuery(Query):
    """Parameters of a sheet of labels."""

    bed = fields.String(
        validate=validate.Length(1, 2000),
        metadata={"description": "Ids of beds, parted by commas; all if not given.", "example": "kiln"},
    )
    planting = fields.String(
        validate=validate.Length(1, 2000),
        metadata={
            "description": "Ids of plantings, parted by commas; all that are planned or stand if not given.",
            "example": "p1",
        },
    )
    sheet = fields.String(
        load_default="a4-24",
        validate=validate.OneOf(list(SHEETS)),
        metadata={"description": "; ".join(f"`{name}`: {sheet.about}" for name, sheet in SHEETS.items()) + "."},
    )
    first = TextNumber(
        data_key="from",
        load_default=1,
        validate=validate.Range(1, 1000),
        metadata={"description": "The place of the first label, on a sheet that is used in part."},
    )
    format = fields.String(
        load_default="html",
        validate=validate.OneOf(["html", "pdf"]),
        metadata={"description": "`html`, with print CSS, or `pdf`."},
    )
