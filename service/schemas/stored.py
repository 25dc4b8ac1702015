"""Rows of the record as they are told: the plan's own keys, with what the record adds to each."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, validate

from service.schemas.entry import AMENDMENTS, COVERS, DID, EntrySchema
from service.schemas.garden import GardenSchema
from service.schemas.plan import BedSchema, OwnCropSchema, PlantingSchema
from service.schemas.planning import SpanQuery
from service.schemas.query import MAX_PAGE, Pattern, Query, TextNumber
from service.schemas.report import Closed, text, whole

_VERSION = "counts the changes of this row; also its ETag"


class ClubSchema(Closed):
    """A club, or a household."""

    id = text("its id")
    name = text("its name")


class GardenRowSchema(GardenSchema):
    """A garden of the record.  A publishable token is not told where it lies."""

    id = text("its id")
    version = whole(_VERSION)
    revision = whole("counts the writes to anything in the garden")


class CropRowSchema(OwnCropSchema):
    """A crop of the grower's own, outside the catalogue."""


class BedRowSchema(BedSchema):
    """A bed of the record."""

    version = whole(_VERSION)


class PlantingRowSchema(PlantingSchema):
    """A planting as it stands: planned keys, and what the journal says became of it."""

    version = whole(_VERSION)


class LineRowSchema(EntrySchema):
    """A line of the journal."""

    id = whole("its number; lines are numbered in the order of writing")
    recorded = fields.AwareDateTime(required=True, metadata={"description": "when it was written down"})


class PlantingRecordSchema(PlantingRowSchema):
    """A planting with all that was logged about it; a publishable token is not shown the journal."""

    journal = fields.List(fields.Nested(LineRowSchema), metadata={"description": "its lines, oldest first"})


def _said(about: str, *kinds: str, example: Any = None) -> fields.Raw:
    """A value of a flat line: text, or also of its own type."""
    shown = {} if example is None else {"example": example}
    return fields.Raw(metadata={"type": ["string", *kinds], "description": about, **shown})


class PhoneLineSchema(Schema):
    """A flat line as a phone sends it: everyday words, numbers also as text; an empty text is absent."""

    did = _said(f"what was done or seen: {', '.join(DID)}, or what people say for one")
    bed = _said("a bed by its id or name", example="kiln")
    crop = _said("a crop by any of its names", example="cabbage")
    planting = _said("the planting by its id or the day it began, where bed and crop are not enough")
    variety = _said("of the crop: two rows of one crop in a bed go by it")
    part = _said("of the bed, such as first half, last third or 0 to 0.5 of its length", "array")
    date = _said("the day, YYYY-MM-DD, yesterday, 3 days ago, last Monday or 20 April; today if not given")
    count = _said("how many plants", "integer")
    note = _said("anything else")
    cause = _said("of a loss: a pest, a disease, or frost, drought and the like")
    of = _said("of a sighting: a pest or disease")
    level = _said("of a sighting: low, moderate or severe")
    kind = _said(f"of a cover: {', '.join(COVERS)}; of what was dug in: {', '.join(AMENDMENTS)}")
    mesh = _said("of a net, in mm", "number")
    active = _said("of a treatment: the active ingredient on the label")
    harvest_interval = _said("of a treatment: days to wait, from your own label", "integer")
    litres = _said("of a watering", "number")
    amount = _said("of a harvest", "number")
    unit = _said("of a harvest: kg, g, lb, oz, pieces, bunches or litres")


class NotedSchema(Closed):
    """What was logged, in a sentence and as the line that stands in the journal."""

    say = text("one sentence without symbols, under 200 characters", validate=validate.Length(max=199))
    ok = fields.Boolean(required=True, metadata={"description": "true where it was written down"})
    line = fields.Nested(LineRowSchema, required=True)
    lines = fields.List(
        fields.Nested(LineRowSchema),
        required=True,
        metadata={"description": "all that was written: one line, or one a planting where a whole bed was cleared"},
    )
    planting = fields.String(
        required=True, allow_none=True, metadata={"description": "the planting that it is about, if it is about one"}
    )


class AllQuery(Query):
    """Parameters of a list of plantings or lines."""

    bed = fields.String(
        validate=validate.Length(1, 64), metadata={"description": "Only of this bed, by its id.", "example": "kiln"}
    )
    limit = TextNumber(
        load_default=100, validate=validate.Range(1, MAX_PAGE), metadata={"description": "How many at most."}
    )
    cursor = fields.String(
        validate=Pattern(r"^[0-9]{1,9}$", error="This is no cursor; follow next of the answer before."),
        metadata={"description": "Where to go on, as `next` of the answer before gave it."},
    )


class LinesQuery(AllQuery):
    """Parameters of the journal."""

    planting = fields.String(
        validate=validate.Length(1, 64), metadata={"description": "Only of this planting.", "example": "p1"}
    )


class CalendarKeyQuery(SpanQuery):
    """Parameters of a calendar that is subscribed to."""

    key = fields.String(
        validate=validate.Length(1, 200),
        metadata={"description": "The calendar's own secret, in place of the Authorization header."},
    )
    format = fields.String(
        validate=validate.OneOf(["ics"]), metadata={"description": "Always `ics`; other forms: `POST /v1/calendar`."}
    )
