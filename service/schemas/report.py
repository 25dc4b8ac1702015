"""The report as a schema, for the document only: ``service.encode`` writes it.

Every key is required and no other is allowed, so that the contract test finds a difference
between what is written and what is documented.
"""

from __future__ import annotations

from typing import Any

from marshmallow import RAISE, Schema, fields, validate

from rules.report import SEVERITIES

SLUG = "^[a-z0-9][a-z0-9_-]*$"


def text(about: str, **options: Any) -> fields.String:
    """A required text with its description."""
    return fields.String(required=True, metadata={"description": about}, **options)


def words(about: str) -> fields.List:
    """A required list of text."""
    return fields.List(fields.String(), required=True, metadata={"description": about})


def day(about: str, **options: Any) -> fields.Date:
    """A required date."""
    return fields.Date(required=True, metadata={"description": about}, **options)


def whole(about: str, **options: Any) -> fields.Integer:
    """A required whole number."""
    return fields.Integer(required=True, metadata={"description": about}, **options)


class Closed(Schema):
    """A schema that allows no key beside its own."""

    class Meta:
        """No other keys."""

        unknown = RAISE


class WindowSchema(Closed):
    """A span of days, both included."""

    since = day("first day", data_key="from")
    to = day("last day")


class JudgedSchema(WindowSchema):
    """The window under judgement."""

    season = text("the season word that the window was read from", allow_none=True)


class RulesUsedSchema(Closed):
    """Which knowledge and rules judged."""

    version = text("version of the rule set")
    digest = text("digest of all facts and rules in use")
    overlay = text("name of the overlay in use, if any", allow_none=True)


class ScoreSchema(Closed):
    """Sums of the findings' points, kept apart by what they act on; never a rank of gardens."""

    class Meta:
        """Further sums may be added within a format."""

        unknown = "include"

    pest = fields.Integer(metadata={"description": "pest pressure"})
    harvest = fields.Integer(data_key="yield", metadata={"description": "yield"})


class ActionSchema(Closed):
    """One change to the plan."""

    op = text("what to do", validate=validate.OneOf(["move", "shift", "drop", "cover", "swap"]))
    planting = text("id of the planting")
    bed = fields.String(metadata={"description": "where to move it"})
    start = fields.Date(metadata={"description": "the day to shift it to"})
    other = fields.String(data_key="with", metadata={"description": "the planting to swap it with"})
    mesh = fields.Float(metadata={"description": "the widest opening of the net to cover it with, in mm"})


class FixSchema(Closed):
    """What to do about a finding; applying all actions removes it and adds no breach or caution."""

    text = text("a sentence")
    actions = fields.List(fields.Nested(ActionSchema), required=True)


class EvidenceSchema(Closed):
    """How strong the evidence is, and where it stands."""

    grade = text("trial, guidance or practice", validate=validate.OneOf(["trial", "guidance", "practice"]))
    sources = words("keys of /v1/sources")
    contested_by = words("keys of sources that disagree")


class FindingSchema(Closed):
    """One thing to know about the judged window."""

    id = text("unique in the report")
    rule = text("the rule that found it; /v1/rules/{id} explains it")
    severity = text(
        "breach breaks a rule; caution works against you; advice is merely better; benefit is good",
        validate=validate.OneOf(SEVERITIES),
    )
    beds = words("ids of beds")
    plantings = words("ids of plantings")
    title = text("one line")
    why = text("the reason, in a sentence or two")
    because = fields.Dict(
        keys=fields.String(),
        required=True,
        metadata={"description": "the evidence in figures, so that the finding can be worked out again"},
    )
    fix = fields.Nested(FixSchema, required=True)
    points = whole("honest points: up to 3 either way for trials, less for weaker evidence")
    effect = text("what the points count for", validate=validate.OneOf(["pest", "yield", "none"]))
    evidence = fields.Nested(EvidenceSchema, required=True)
    cautions = words("usual cautions that go with the advice")


class NotCheckedSchema(Closed):
    """A check that could not be made; skipped is not clean."""

    rule = text("the rule")
    why = text("what was missing")
    count = whole("how often")
    beds = words("the beds that it stands for")


class FreeSchema(Closed):
    """The days after the least and after the better break."""

    least = day("after the least break")
    better = day("after the better break")


class OutlookField(fields.Raw):
    """From when a family may return: two days or one of three words."""


class ClosureSchema(Closed):
    """Crops that a disease keeps out of the bed."""

    crops = words("ids of crops")
    until = day("last day; null = never again", allow_none=True)
    because = text("the disease")


class BedOutlookSchema(Closed):
    """What is on record for a bed before the judged window, and what that leaves free."""

    bed = text("id of the bed")
    known_from = whole("the first growing year on record", allow_none=True)
    years_missing = fields.List(fields.Integer(), required=True)
    free_from = fields.Dict(
        keys=fields.String(),
        values=OutlookField(
            metadata={
                "oneOf": [
                    {"$ref": "#/components/schemas/Free"},
                    {"type": "string", "enum": ["open", "never", "unknown"]},
                ]
            }
        ),
        required=True,
        metadata={"description": "by family: two days, or open (nothing on record), never, unknown"},
    )
    closed_to = fields.List(fields.Nested(ClosureSchema), required=True)


class ReportSchema(Closed):
    """The whole answer for one plan. Equal plans give equal bytes."""

    format = whole("version of the report format", validate=validate.OneOf([1]))
    rules = fields.Nested(RulesUsedSchema, required=True)
    as_of = day("the day that the plan was judged from")
    judged = fields.Nested(JudgedSchema, required=True)
    seasons_read = fields.Dict(
        keys=fields.String(),
        values=fields.Nested(WindowSchema),
        required=True,
        metadata={"description": "how each season word of the plan was read"},
    )
    verdict = text(
        "the worst severity found; unknown = nothing found, but needed years are not on record",
        validate=validate.OneOf(["breach", "caution", "unknown", "clear"]),
    )
    score = fields.Nested(ScoreSchema, required=True)
    findings = fields.List(fields.Nested(FindingSchema), required=True)
    not_checked = fields.List(fields.Nested(NotCheckedSchema), required=True)
    beds = fields.List(fields.Nested(BedOutlookSchema), required=True)
    notes = words("what else to know about how the plan was read")
