"""The plan document, format 1: its keys, their types and their limits.

What comes out of ``PlanSchema().load`` is what ``rules.reading.build_plan`` takes: keys as in the
document, dates as ``date``, lengths as centimetres, words in their one spelling, absent keys absent.
Names of crops, families, pests and causes stay text here; ``rules`` knows what they mean.  So do
things that need two keys or two rows (an end before its start, an id used twice).
"""

from __future__ import annotations

from functools import cache
from typing import Any

from marshmallow import ValidationError, fields, validates_schema

from service.schemas.fields import (
    DecimalNumber,
    IsoDate,
    Length,
    Name,
    OneOf,
    Refused,
    SeasonWord,
    Slug,
    Strict,
    StrictBool,
    WholeNumber,
)
from service.schemas.garden import GardenSchema, SoilSchema
from service.schemas.rows import Either, Group, PlainSchema, Rows, Several
from service.schemas.wishes import WishesSchema
from service.schemas.words import shown

MOST_BEDS, MOST_PLANTINGS, MOST_OTHERS = 5_000, 20_000, 20_000


class Share(Strict, fields.Raw):
    """A part of a bed's length as (from, to), 0 <= from < to <= 1."""

    def __init__(self, **kwargs: Any) -> None:
        item = {"type": "number", "minimum": 0, "maximum": 1}
        form = {"type": "array", "items": item, "minItems": 2, "maxItems": 2}
        super().__init__(metadata={**form, **kwargs.pop("metadata", {})}, **kwargs)

    def read(self, value: Any) -> tuple[float, float]:
        """The two ends, or ``Refused``."""
        if type(value) is list and len(value) == 2:
            low, high = value
            if type(low) in (int, float) and type(high) in (int, float) and 0 <= low < high <= 1:
                return float(low), float(high)
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        got = shown(value)
        if isinstance(value, list) and len(value) <= 4:
            got = f"[{', '.join(shown(entry) for entry in value)}]"
        return f"must be two numbers from 0 to 1, the smaller first, such as [0, 0.5]; got {got}"


def _from_key(**kwargs: Any) -> IsoDate:
    # "from" is a word of the language, so it cannot be the attribute's own name.
    return IsoDate(data_key="from", attribute="from", **kwargs)


class JudgeSchema(PlainSchema):
    """The window to judge: a season, or two dates."""

    season = SeasonWord()
    from_ = _from_key()
    to = IsoDate()

    @validates_schema
    def _one_window(self, data: dict[str, Any], **kwargs: Any) -> None:
        if data.keys() not in ({"season"}, {"from", "to"}):
            raise ValidationError("judge needs either season, or from and to")


class OwnCropSchema(PlainSchema):
    """A crop of the grower's own, outside the catalogue."""

    id = Slug(required=True)
    family = Name(required=True)
    name = Name()
    lifecycle = OneOf(("annual", "biennial", "perennial"))


class PositionSchema(PlainSchema):
    """South-west corner of a bed in metres, x east and y north."""

    x = DecimalNumber(-100_000, 100_000, required=True)
    y = DecimalNumber(-100_000, 100_000, required=True)


class IrrigationSchema(PlainSchema):
    """How a bed is watered: spacing as a length, flow in litres an hour."""

    method = OneOf(("drip", "soaker", "sprinkler", "hand", "none"), required=True)
    emitter_spacing = Length()
    emitter_flow = DecimalNumber(0, 1000, above=True)
    lines = WholeNumber(1, 1000)


class ReplacedSchema(PlainSchema):
    """Ground taken over from an earlier bed, between two dates when they are given."""

    bed = Slug(required=True)
    from_ = _from_key()
    until = IsoDate()


def _replaced() -> Either:
    slug: dict[str, Any] = {
        "type": ["string", "integer"],
        "pattern": Slug.pattern(),
        "minimum": 0,
        "maximum": 10**12,
    }
    day = {"type": ["string", "null"], "format": "date"}
    group = {
        "type": "object",
        "properties": {"bed": slug, "from": day, "until": day},
        "required": ["bed"],
        "additionalProperties": False,
    }
    return Either(
        Slug(),
        ReplacedSchema,
        of_text=lambda bed: {"bed": bed},
        of_group=lambda data: data,
        forms=[slug, group],
    )


class BedSchema(PlainSchema):
    """A bed, container or greenhouse border."""

    id = Slug(required=True)
    name = Name()
    kind = OneOf(("ground", "raised", "container", "greenhouse"))
    length = Length()
    width = Length()
    depth = Length()
    position = Group(PositionSchema, finish=lambda data: (data["x"], data["y"]))
    turn = DecimalNumber(-360, 360)
    irrigation = Group(IrrigationSchema)
    soil = Group(SoilSchema)
    replaces = Several(_replaced(), most=100)
    from_ = _from_key()
    until = IsoDate()


class VarietySchema(PlainSchema):
    """A variety and what it resists."""

    name = Name()
    resists = Several(Name(), most=50)
    parthenocarpic = StrictBool()


class PlantingSchema(PlainSchema):
    """One crop in one bed, by season or by dates."""

    id = Slug()
    bed = Slug(required=True)
    part = Share()
    crop = Name(required=True)
    variety = Group(VarietySchema)
    season = SeasonWord()
    start = IsoDate()
    end = IsoDate()
    first_harvest = IsoDate()
    status = OneOf(("planned", "growing", "done", "lost"))
    cause = Name()
    replaces = Slug()
    method = OneOf(("sow", "transplant", "set", "volunteer"))
    count = WholeNumber(1, 1_000_000)
    spacing = Length()


class CoverSchema(PlainSchema):
    """A cover over a bed or some of its plantings; mesh in millimetres."""

    bed = Slug(required=True)
    kind = OneOf(("fleece", "net", "cage", "fence", "collar"), required=True)
    mesh = DecimalNumber(0.1, 200)
    start = IsoDate(required=True)
    end = IsoDate()
    plantings = Several(Slug(), most=1_000)
    edges = OneOf(("shut", "open"))
    open_by_day_from = IsoDate()


class SightingSchema(PlainSchema):
    """A pest or disease seen in a bed on a day."""

    bed = Slug(required=True)
    date = IsoDate(required=True)
    of = Name(required=True)
    level = OneOf(("low", "moderate", "severe"))
    planting = Slug()


class TreatmentSchema(PlainSchema):
    """A treatment by active ingredient; the interval in days is from the user's own label."""

    bed = Slug(required=True)
    planting = Slug()
    date = IsoDate(required=True)
    active = Name(required=True)
    harvest_interval = WholeNumber(0, 365)


class AmendmentSchema(PlainSchema):
    """Something done to a bed's soil."""

    bed = Slug(required=True)
    date = IsoDate(required=True)
    kind = OneOf(("compost", "lime", "fertiliser", "new_soil", "broke_sod", "raw_manure"), required=True)


class PlanSchema(PlainSchema):
    """The whole document."""

    error_messages = {  # noqa: RUF012
        "type": "a plan must be a group of keys and values, such as garden, beds and plantings"
    }

    format = WholeNumber(1, 1)
    as_of = IsoDate()
    judge = Group(JudgeSchema)
    garden = Group(GardenSchema)
    crops = Rows(OwnCropSchema, most=1_000)
    beds = Rows(BedSchema, most=MOST_BEDS)
    plantings = Rows(PlantingSchema, most=MOST_PLANTINGS)
    covers = Rows(CoverSchema, most=MOST_OTHERS)
    sightings = Rows(SightingSchema, most=MOST_OTHERS)
    treatments = Rows(TreatmentSchema, most=MOST_OTHERS)
    amendments = Rows(AmendmentSchema, most=MOST_OTHERS)
    wishes = Group(WishesSchema)


@cache
def plan_schema() -> PlanSchema:
    """The one instance: making a schema costs more than reading a small plan with it."""
    return PlanSchema()
