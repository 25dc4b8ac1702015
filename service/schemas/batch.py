"""What may be asked of a batch, and the lines that it answers with."""

from __future__ import annotations

from typing import Any

from marshmallow import fields, validate

from rules.report import SEVERITIES
from service.schemas.fields import OneOf, Slug
from service.schemas.garden import Country, MonthDay, TimeZone
from service.schemas.query import SEASON, Pattern, Query
from service.schemas.report import Closed, ReportSchema, RulesUsedSchema, day, text, whole, words

#: What a batch may say of all its gardens in its address.
SHARED = ("latitude", "country", "time_zone", "site", "rotation", "last_spring_frost", "first_autumn_frost")


def _frost(which: str) -> fields.String:
    return fields.String(
        validate=Pattern(MonthDay.pattern(), error=f"Write {MonthDay.what}."),
        metadata={"description": f"The median date of the {which} of all gardens, MM-DD."},
    )


class BatchQuery(Query):
    """Parameters of a batch."""

    season = fields.String(
        validate=Pattern(SEASON, error="Write a year, or a season of one: 2027 or 2027-spring."),
        metadata={
            "description": "The season to judge, `2027` or `2027-spring`; needed for a sheet, and stronger than "
            "what a plan says.",
            "example": "2027",
        },
    )
    severity = fields.String(
        load_default="benefit",
        validate=validate.OneOf(SEVERITIES),
        metadata={"description": "The least severity to list; verdicts and scores stay those of whole reports."},
    )
    format = fields.String(
        validate=validate.OneOf(["csv", "ndjson"]),
        metadata={"description": "The form of the answer; stronger than the Accept header, else as what comes in."},
    )
    latitude = fields.Float(
        validate=validate.Range(-90, 90), metadata={"description": "The latitude of all gardens, south negative."}
    )
    country = Country(metadata={"description": "The country of all gardens, ISO 3166."})
    time_zone = fields.String(
        validate=validate.Regexp(TimeZone.pattern(), error="Write a time zone, such as Europe/Paris."),
        metadata={"description": "The time zone of all gardens.", "example": "Europe/Paris"},
    )
    site = Slug(metadata={"description": "The site of all gardens."})
    rotation = OneOf(("full", "short"), metadata={"description": "`short` where gardens have two or three beds."})
    last_spring_frost = _frost("last spring frost")
    first_autumn_frost = _frost("first autumn frost")


def _only(word: str) -> Any:
    return text("what the line is", validate=validate.OneOf([word]))


def _maybe(about: str, kind: type[fields.Field[Any]] = fields.String, **options: Any) -> Any:
    return kind(allow_none=True, required=True, metadata={"description": about}, **options)


def rule_sets() -> Any:
    """By which rules the lines before were judged."""
    about = "what judged; more than one where the rules changed while a job went on"
    return fields.List(fields.Nested(RulesUsedSchema), required=True, metadata={"description": about})


class SeenDiseaseSchema(Closed):
    """A disease that was seen in a garden or took a crop of it."""

    of = text("id of the disease")
    beds = words("ids of the beds")
    where = text("the beds by their names")
    last = day("the last day on which it was seen, or the crop ended")


class BatchReportSchema(Closed):
    """The line of a garden that was checked."""

    type = _only("report")
    line = whole("the line of its first row, or of its plan, from 1")
    garden = text("its name")
    site = _maybe("its site")
    extent = fields.List(
        fields.Float(),
        allow_none=True,
        required=True,
        metadata={"description": "left, low, right and high of its beds in metres, where their place is known"},
    )
    diseases = fields.List(fields.Nested(SeenDiseaseSchema), required=True)
    report = fields.Nested(ReportSchema, required=True)


class BatchFaultSchema(Closed):
    """One fault of a garden."""

    line = whole("the line it stands in")
    column = fields.String(metadata={"description": "the column of a sheet"})
    pointer = fields.String(metadata={"description": "the place in a plan, a JSON pointer"})
    sheet = fields.String(metadata={"description": "`sightings` for a fault of the second sheet"})
    detail = text("what is wrong, with the nearest known names")


class BatchErrorSchema(Closed):
    """The line of a garden that could not be checked."""

    type = _only("error")
    line = whole("the line of its first row, or of its plan, from 1")
    garden = _maybe("its name, where it has one")
    errors = fields.List(fields.Nested(BatchFaultSchema), required=True)
    total = whole("how many faults there are, where errors was cut short")


class ToldSchema(Closed):
    """Some gardens: how many, and the names of the first thousand."""

    gardens = whole("how many")
    names = words("their names")


class ExampleSchema(Closed):
    """One case of a breach."""

    garden = text("the garden")
    line = whole("its line")
    title = text("the finding")


class BreachedSchema(ToldSchema):
    """Gardens that break one rule."""

    rule = text("id of the rule")
    findings = whole("how often it is broken")
    example = fields.Nested(ExampleSchema, required=True)


class NoFreeBedSchema(ToldSchema):
    """Gardens in which a family has no free bed by the middle of the judged season."""

    family = text("id of the family")


class DiseasedPlotSchema(Closed):
    """A plot that had a disease, and the plots beside it."""

    garden = text("its name")
    line = whole("its line")
    seen = fields.List(fields.Nested(SeenDiseaseSchema), required=True)
    neighbours = words("plots beside it")
    by = text(
        "how they were found: position (beds within 5 m, one site) or sheet (the lines before and after)",
        validate=validate.OneOf(["position", "sheet"]),
    )


class DiseasedSchema(Closed):
    """Plots that had a disease: how many, and the first thousand."""

    gardens = whole("how many")
    plots = fields.List(fields.Nested(DiseasedPlotSchema), required=True)


class FailureSchema(BatchFaultSchema):
    """A garden that could not be checked, with its first fault."""

    garden = _maybe("its name, where it has one")
    faults = whole("how many faults it has")


class VerdictCountsSchema(Closed):
    """Gardens by verdict."""

    breach = whole("gardens with a breach")
    caution = whole("gardens with a caution and no breach")
    unsure = whole("gardens of which not enough is on record, or with nothing planned", data_key="unknown")
    clear = whole("gardens with nothing against them on record")


class BatchSummarySchema(Closed):
    """The last line; an answer without it was cut short."""

    type = _only("summary")
    complete = fields.Boolean(required=True, metadata={"description": "true"})
    season = _maybe("the season that was asked for")
    as_of = day("the day of the batch, for plans that name none")
    rules = rule_sets()
    gardens = whole("how many gardens came")
    failed = whole("how many of them could not be checked")
    strays = whole("how many names stand only in the sheet of sightings")
    verdicts = fields.Nested(VerdictCountsSchema, required=True)
    breaches = fields.List(fields.Nested(BreachedSchema), required=True)
    no_free_bed = fields.List(fields.Nested(NoFreeBedSchema), required=True)
    nothing_planned = fields.Nested(ToldSchema, required=True)
    no_records = fields.Nested(ToldSchema, required=True)
    diseases = fields.Nested(DiseasedSchema, required=True)
    failures = fields.List(fields.Nested(FailureSchema), required=True)
