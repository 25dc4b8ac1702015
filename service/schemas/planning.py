"""What the planning questions take and answer: query parameters, and schemas for the document only.

``service.nettext`` and ``service.protectdict`` write the answers.
"""

from __future__ import annotations

from typing import Any

from marshmallow import fields, validate

from rules.knowledge.pestshapes import KINDS, STEPS
from rules.knowledge.thresholds import GROWERS
from service.asked import LENGTHS
from service.schemas.knowledge import maybe, one_of
from service.schemas.query import Query
from service.schemas.report import Closed, WindowSchema, day, text, whole, words
from service.schemas.words import SHOWN

_FORM = "The form of the answer; stronger than the Accept header."
_MEASURES = {
    "height": "Height of the hoops; 60 cm if not given.",
    "spacing": "Most between two hoops; 75 cm if not given.",
    "leg": "How deep a leg goes into the ground; 20 cm if not given.",
    "edge": "Edge of the net to bury; 15 cm if not given.",
    "net_width": "The width that the net is sold in; with it off-cuts are worked out.",
    "pipe": "The length of a hoop pipe; with it off-cuts are worked out.",
}


def _length(name: str) -> fields.String:
    """A length as people write it; whether it is one, and a fitting one, is told with all other faults."""
    about = f"{_MEASURES[name]} A number of cm, or a length with its unit: `60 cm`, `0.6 m`, `2 ft`."
    return fields.String(validate=validate.Length(1, SHOWN), metadata={"description": about})


def _format(*forms: str) -> fields.String:
    return fields.String(validate=validate.OneOf(forms), metadata={"description": _FORM})


def _asked_day(about: str, key: str) -> fields.String:
    said = {"description": f"{about}, as YYYY-MM-DD.", "example": "2027-03-01" if key == "from" else "2027-10-31"}
    return fields.String(data_key=key, validate=validate.Length(1, SHOWN), metadata=said)


class NettingQuery(Query):
    """Parameters of a cut list."""

    bed = fields.String(
        validate=validate.Length(1, 2000),
        metadata={"description": "Ids of beds, parted by commas; all that stand in the open if not given."},
    )
    height, spacing, leg, edge, net_width, pipe = (_length(name) for name in LENGTHS)
    format = _format("json", "text")


class SpanQuery(Query):
    """Parameters of a question about some days."""

    since = _asked_day("First day; the plan's as_of if not given", "from")
    until = _asked_day("Last day, a year on at most; the end of the judged season if not given", "to")


class ProtectionQuery(SpanQuery):
    """Parameters of a protection plan."""

    format = _format("json", "text")


class CalendarQuery(SpanQuery):
    """Parameters of a calendar."""

    format = _format("ics", "json")


# -- answers


def number(about: str, **options: Any) -> fields.Float:
    """A required number."""
    return fields.Float(required=True, metadata={"description": about}, **options)


def _list(schema: type[Closed]) -> fields.List:
    return fields.List(fields.Nested(schema), required=True)


class HoopWorkSchema(Closed):
    """The measures that were worked with, in cm."""

    height = number("height of the hoops")
    spacing = number("most between two hoops")
    leg = number("depth of a leg in the ground")
    edge = number("edge of the net to bury")
    clips_per_hoop = whole("clips to a hoop")
    peg_spacing = number("between two pegs")
    net_width = number("the width the net is sold in", allow_none=True)
    pipe = number("the length of a pipe", allow_none=True)


class HoopsSchema(Closed):
    """The hoops of a bed."""

    count = whole("how many")
    length = number("length to cut, legs included")
    arc = number("the part above ground")
    apart = number("from hoop to hoop")


class NetPieceSchema(Closed):
    """A bed's piece of net, with what is buried."""

    length = number("along the bed")
    width = number("across the bed")


class BedCutSchema(Closed):
    """What one bed takes."""

    bed = text("id of the bed")
    name = text("its name")
    hoops = fields.Nested(HoopsSchema, required=True)
    net = fields.Nested(NetPieceSchema, required=True)
    clips = whole("clips")
    pegs = whole("pegs round the bed")


class OffcutSchema(Closed):
    """The strip left beside a bed's piece."""

    bed = text("id of the bed")
    width = number("width of the strip")


class CutTotalsSchema(Closed):
    """What all beds take together; null or empty where the stock is not known."""

    hoops = whole("hoops")
    pipe_length = number("pipe in all")
    net_area_m2 = number("net in all, in square metres")
    clips = whole("clips")
    pegs = whole("pegs")
    pipes = whole("pipes to buy", allow_none=True)
    pipe_offcuts = fields.List(fields.Float(), required=True, metadata={"description": "left of each pipe"})
    net_run = number("net to buy at its sold width", allow_none=True)
    net_offcuts = _list(OffcutSchema)


class LackingSchema(Closed):
    """A bed that could not be worked out, or does not fit the stock."""

    bed = text("id of the bed")
    why = text("what is missing or does not fit")


class ToMindSchema(Closed):
    """A caution, and whose word comes first."""

    id = text("id of the caution")
    defer_to = text("whose word comes first")
    text = text("what to mind")


class CutListSchema(Closed):
    """What to cut for nets on hoops; lengths in cm."""

    units = text("cm", validate=validate.Equal("cm"))
    work = fields.Nested(HoopWorkSchema, required=True)
    beds = _list(BedCutSchema)
    totals = fields.Nested(CutTotalsSchema, required=True)
    lacking = _list(LackingSchema)
    cautions = _list(ToMindSchema)


class ExpectedSchema(Closed):
    """A pest to expect on a crop."""

    pest = text("id (/v1/pests)")
    name = text("name")
    risk = one_of("how likely", ("high", "medium", "low"))
    reasons = words("why it is likely here")
    any_soil = fields.Boolean(required=True, metadata={"description": "it lives in any soil, whatever grew"})
    season = text("when it comes")
    stage = text("where to look")


class PlannedCoverSchema(Closed):
    """A cover that the plan has."""

    bed = text("id of the bed")
    kind = text("net, fleece or other")
    since = day("the day it goes on", data_key="from")


class GuardSchema(Closed):
    """Covers over a crop, planned and advised."""

    planned = _list(PlannedCoverSchema)
    kept_out = words("ids of the pests that the planned covers keep out")
    mesh_mm = number("widest opening of the net that is advised; null where none is", allow_none=True)
    pests = words("ids of the pests that it would keep out")
    on = day("the day it goes on; null where the plantings differ", allow_none=True)
    open_from = day("from then on it is open by day for insects to reach the flowers", allow_none=True)
    open_known = fields.Boolean(required=True, metadata={"description": "false where that day is worked out"})
    trap = words("ids of the pests that would come up beneath it")
    trap_beds = words("ids of the beds where they would")


class ViewSchema(Closed):
    """A number to act at, and who published it."""

    at = text("the number")
    sources = words("keys of sources")


class ThresholdSchema(Closed):
    """Published numbers to act at; more than one view where sources differ."""

    id = text("id")
    pests = words("ids of pests")
    stage = maybe("the crop's stage")
    grower = one_of("for whom", GROWERS, data_key="for")
    views = _list(ViewSchema)


class CropCareSchema(Closed):
    """A crop that stands in these days."""

    crop = text("id (/v1/crops)")
    name = text("plural")
    plantings = words("ids of plantings")
    beds = words("ids of beds")
    expected = _list(ExpectedSchema)
    animals = words("ids of birds and beasts that eat it")
    cover = fields.Nested(GuardSchema, required=True, allow_none=True)
    thresholds = _list(ThresholdSchema)


class MeasureSchema(Closed):
    """A control, told once for all that it serves."""

    control = text("id (/v1/controls)")
    name = text("active ingredient or method")
    step = one_of("rung of the ladder", STEPS)
    kind = one_of("what is done", KINDS)
    pests = words("ids of pests")
    crops = words("ids of crops")
    when = text("when")
    how = text("how")
    reapply = maybe("what asks for doing it again")
    before_harvest = maybe("about the days before picking")
    conditions = words("what else holds")
    weak = maybe("what it does not do")
    mind = fields.Dict(
        keys=fields.String(), values=fields.String(), required=True, metadata={"description": "what to spare, by whom"}
    )
    grade = one_of("grade of the evidence", ("trial", "guidance", "practice"))
    evidence = maybe("what was found")
    sources = words("keys of sources")
    cautions = words("ids of cautions")


class WaitSchema(Closed):
    """A treatment and the days before picking that its label asks for."""

    bed = text("id of the bed")
    plantings = words("ids of plantings")
    active = text("active ingredient")
    date = day("day of the treatment")
    until = day("first day to pick; null where the label's days are not on record", allow_none=True)


class ProtectionSchema(WindowSchema):
    """What to expect and what to do in a span of days."""

    crops = _list(CropCareSchema)
    ladder = _list(MeasureSchema)
    waits = _list(WaitSchema)
    cautions = _list(ToMindSchema)


class TaskSchema(Closed):
    """One thing to do."""

    key = text("the same for the same task as long as its planting keeps its id")
    kind = text("what kind of task")
    day = day("the day, or the first of them")
    every_days = whole("days from one time to the next; null for once", allow_none=True)
    until = fields.Date(required=True, allow_none=True, metadata={"description": "the last day of a repeated task"})
    title = text("what to do")
    note = text("what to know; may be empty")


class TasksSchema(WindowSchema):
    """The tasks of a span of days, by day."""

    garden = text("name of the garden")
    tasks = _list(TaskSchema)
