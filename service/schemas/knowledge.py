"""Entries of knowledge as schemas, for the document only: ``service.resources.entries`` writes them."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, validate

from rules.report import SEVERITIES
from service.schemas.report import Closed, EvidenceSchema, text, whole, words


def sources() -> fields.Dict:
    """Which source each value comes from."""
    return fields.Dict(
        keys=fields.String(),
        values=fields.List(fields.String()),
        required=True,
        metadata={"description": "for each value the keys of its sources (/v1/sources)"},
    )


def maybe(about: str, **options: Any) -> fields.String:
    """A text or null."""
    return text(about, allow_none=True, **options)


class MaturitySchema(Closed):
    """Days to the first harvest."""

    days = fields.List(fields.Integer(), required=True, validate=validate.Length(equal=2))
    since = text("sowing, transplanting or planting", data_key="from")


class CropSchema(Closed):
    """A crop of the catalogue."""

    id = text("id")
    name = text("common name")
    plural = text("plural, as in a sentence")
    aliases = words("other names")
    scientific = maybe("scientific name")
    family = text("botanical family (/v1/families)")
    kind = text("vegetable, herb, flower, fruit or green_manure")
    lifecycle = text("annual, biennial or perennial, as grown in the garden")
    maturity = fields.Nested(MaturitySchema, required=True, allow_none=True)
    over_winter = fields.Nested(
        MaturitySchema,
        required=True,
        allow_none=True,
        metadata={"description": "days when it is set in autumn to stand over winter"},
    )
    stands_days = fields.Raw(
        required=True,
        metadata={
            "description": "how long it stands after maturity when no end is on record",
            "oneOf": [
                {"type": "integer"},
                {"type": "string", "enum": ["first_frost", "winter_end"]},
                {"type": "null"},
            ],
        },
    )
    note = maybe("what growers confuse")
    groups = words("group words that include it (/v1/groups)")
    sources = sources()


class GroupSchema(Closed):
    """A common word that stands for several crops."""

    id = text("id")
    name = text("the word")
    plural = text("plural")
    aliases = words("other words for the same")
    members = words("ids of crops")
    families = words("families of the members")
    sources = sources()


class OtherViewSchema(Closed):
    """Published guidance that disagrees with the interval."""

    crops = words("ids of crops that it speaks of")
    text = text("what it says")
    sources = words("keys of sources")


class FamilySchema(Closed):
    """A plant family and its break, in whole host-free years between two hosts in one ground."""

    id = text("botanical name")
    name = text("name in plain words")
    old_name = maybe("older botanical name")
    least = whole("below this many host-free years a return is a breach", allow_none=True)
    better = whole("below this many host-free years a return is a caution", allow_none=True)
    exempt = maybe("why it stands outside the rotation")
    confused = maybe("what growers confuse")
    other_view = fields.Nested(OtherViewSchema, required=True, allow_none=True)
    crops = words("ids of its crops")
    sources = sources()


class DiseaseSchema(Closed):
    """A disease or nematode that stays in soil or debris."""

    id = text("id")
    name = text("name")
    aliases = words("other names")
    pathogen = text("what causes it")
    kind = text("kind of organism")
    host_families = words("families with hosts")
    hosts = words("ids of crops and groups that are hosts")
    possible = words("group words of which only some members are hosts")
    carriers = words("ids of crops that carry it without harm")
    carrier_plants = words("weeds and other plants that carry it")
    reduced_by = words("ids of crops that lower it")
    least = whole("host-free years after a sighting", allow_none=True)
    better = whole("better host-free years after a sighting", allow_none=True)
    never = fields.Boolean(required=True, metadata={"description": "no number of years makes it safe"})
    in_soil = fields.Boolean(required=True, metadata={"description": "it lives in the soil itself"})
    survives_in = words("what it survives in")
    survival = maybe("how long it survives")
    advice = text("what to do")
    rotation_value = text("how much rotation helps")
    cautions = words("usual cautions that go with the advice")
    resistance_holds = fields.Boolean(required=True, metadata={"description": "resistant varieties hold"})
    notes = fields.Dict(keys=fields.String(), values=fields.String(), required=True)
    sources = sources()


class RuleBriefSchema(Closed):
    """A rule in the list."""

    id = text("id")
    title = text("title")
    kind = text("kind of check")
    severity = maybe("severity of its findings", validate=validate.OneOf([*SEVERITIES, None]))
    points = whole("points of its findings")
    since = text("version of the rule set that brought it")


class RuleSchema(RuleBriefSchema):
    """A rule with its reasons."""

    effect = text("what its points count for")
    why = text("why it matters")
    fix = text("what to do")
    options = fields.Dict(keys=fields.String(), required=True)
    exceptions = words("known exceptions")
    evidence = fields.Nested(EvidenceSchema, required=True)
    cautions = words("usual cautions")
    examples = fields.Dict(
        keys=fields.String(validate=validate.OneOf(["flag", "ok"])),
        values=fields.List(fields.Dict()),
        required=True,
        metadata={"description": "plans that it flags, and near misses that it lets pass"},
    )


class SourceSchema(Closed):
    """A publication, or one of the special keys memory, common practice, judgement, derived."""

    id = text("key")
    publisher = text("publisher")
    title = text("title")
    year = maybe("year")
    url = maybe("address")
    seen = maybe("when it was read")


def page_of(entry: type[Schema]) -> type[Schema]:
    """The schema of one page of a list of such entries."""
    name = entry.__name__.removesuffix("Schema") + "Page"
    return Closed.from_dict(
        {
            "items": fields.List(fields.Nested(entry), required=True),
            "next": maybe("address of the next page; null on the last"),
        },
        name=f"{name}Schema",
    )
