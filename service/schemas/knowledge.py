"""Entries of knowledge as schemas, for the document only: ``service.resources.entries`` writes them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from marshmallow import Schema, fields, validate

from rules.knowledge.pestshapes import GROUPS, KINDS, STEPS, VOCABULARY
from rules.report import SEVERITIES
from service.schemas.report import Closed, EvidenceSchema, text, whole, words
from service.schemas.traits import TraitsSchema


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
    traits = fields.Nested(TraitsSchema, required=True)
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
    traits = fields.Nested(
        TraitsSchema, required=True, metadata={"description": "what all members share, and of ranges the envelope"}
    )
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


def told(about: str) -> fields.Dict:
    """Short texts by what they speak of."""
    return fields.Dict(keys=fields.String(), values=fields.String(), required=True, metadata={"description": about})


def one_of(about: str, known: Iterable[str | None], **options: Any) -> fields.String:
    """A word out of a fixed list."""
    return text(about, validate=validate.OneOf([*known]), **options)


class CautionSchema(Closed):
    """A usual caution, and who to defer to."""

    id = text("id")
    defer_to = text("whose word comes first")
    sources = words("keys of sources")
    text = text("what to mind")


class PestSchema(Closed):
    """A pest by species."""

    id = text("id")
    name = text("name")
    aliases = words("other names")
    scientific = maybe("scientific name")
    group = one_of("kind of animal", GROUPS)
    host_families = words("families whose crops are hosts")
    hosts = words("ids of crops and groups that it feeds on")
    possible = words("group words of which only some members are hosts")
    preferred = words("hosts that it goes for first")
    wide = fields.Boolean(required=True, metadata={"description": "it feeds on most other crops as well"})
    non_hosts = words("crops that growers may fear for and it leaves alone")
    bridge_crops = words("ids of other crops that keep it going")
    bridge_plants = words("weeds, other plants and places that keep it going")
    overwinters = one_of("where it spends the winter", VOCABULARY["overwinters"])
    emerges_from_bed = one_of("whether it comes out of last year's bed in spring", VOCABULARY["emerges_from_bed"])
    emerges_same_season = one_of(
        "whether a resowing in the same bed is attacked from below",
        [*VOCABULARY["emerges_same_season"], None],
        allow_none=True,
    )
    mobility = one_of("how it gets about", VOCABULARY["mobility"])
    season = text("when it is about; months are those of the northern hemisphere")
    susceptible_stage = text("when a crop is at risk")
    max_mesh_mm = fields.Float(
        required=True,
        allow_none=True,
        metadata={"description": "widest square opening in millimetres that keeps it out; null: no mesh does"},
    )
    rotation_helps = one_of("whether moving the crop helps", VOCABULARY["rotation_helps"])
    carries = maybe("diseases that it carries")
    regions = words("regions or countries where it lives; empty: wherever its hosts grow")
    absent_from = words("regions or countries where it does not live")
    regions_text = maybe("where it lives, in words")
    countries = words("country codes (ISO 3166-1) of its regions")
    absent_countries = words("country codes (ISO 3166-1) where it does not live")
    notes = told("remarks on bed, hosts, mesh, reach, rotation, same_season and winter")
    means = told("what the words of overwinters, mobility and the like mean")
    controls = words("ids of controls meant for it, least harm first (/v1/controls)")
    cautions = fields.List(fields.Nested(CautionSchema), required=True)
    sources = sources()


class ControlSchema(Closed):
    """What can be done against pests, by active ingredient or method."""

    id = text("id")
    name = text("active ingredient or method")
    aliases = words("other names")
    step = one_of("rung of the ladder, least harm first", STEPS)
    kind = one_of("what is done", KINDS)
    against = words("ids of pests that it is meant for (/v1/pests)")
    weak_on = words("ids of pests that it does little against")
    weak_text = maybe("what else it does little against")
    when = text("when to use it")
    how = text("how to use it")
    acts = maybe("how fast it acts")
    reapply = maybe("when to do it again")
    before_harvest = maybe("what to keep before picking")
    conditions = words("what it depends on")
    grade = one_of("strength of the evidence", ("trial", "guidance", "practice"))
    evidence = maybe("what was found")
    mind = told("what to spare or watch, by who or what may be hurt")
    means = told("what the word of step means")
    cautions = fields.List(fields.Nested(CautionSchema), required=True)
    sources = sources()


class MeasuredSchema(Closed):
    """A published figure, as it was printed."""

    of = text("what was measured")
    value = text("the figure or span")
    unit = text("its unit")


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
    looks_at = words("what it looks at, in sentences")
    why = text("why it matters")
    fix = text("what to do")
    options = fields.Dict(keys=fields.String(), required=True, metadata={"description": "the same as it is written"})
    exceptions = words("known exceptions")
    measured = fields.List(fields.Nested(MeasuredSchema), required=True)
    evidence = fields.Nested(EvidenceSchema, required=True)
    against = maybe("a finding that disagrees")
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
