"""What is known of two crops as a schema, for the document only: ``service.pairentries`` writes it."""

from __future__ import annotations

from marshmallow import fields, validate

from rules.knowledge.pairrows import ABOUT
from rules.report import SEVERITIES
from service.schemas.knowledge import CautionSchema, MeasuredSchema, maybe, one_of
from service.schemas.report import Closed, EvidenceSchema, text, whole, words

VERDICTS = ("good", "poor", "mixed", "no_effect", "unknown")


class PairCropSchema(Closed):
    """One of the two crops, or a word that stands for several."""

    id = text("id (/v1/crops)")
    name = text("common name")
    plural = text("plural, as in a sentence")
    members = words("ids of the crops that a word for several stands for; empty for one crop")


class PairPointsSchema(Closed):
    """Sums of points, kept apart by what they act on, where every condition is met."""

    pest = whole("pest pressure")
    harvest = whole("yield", data_key="yield")


class StatementSchema(Closed):
    """One rule that speaks for the pair."""

    rule = text("the rule; /v1/rules/{id} explains it")
    severity = one_of("benefit, caution or advice", SEVERITIES)
    acts = text("id of the crop that acts")
    on = text("id of the crop that it acts on")
    both_ways = fields.Boolean(required=True, metadata={"description": "each acts on the other"})
    about = one_of("what the effect is about", ABOUT)
    title = text("one line")
    why = text("what is known, in a sentence or two")
    fix = text("what to do")
    effect = one_of("what the points count for", ("pest", "yield", "none"))
    points = whole("points where every condition is met")
    pests = words("names of the pests and diseases that it is about")
    conditions = words("each completes: only if ...")
    measured = fields.List(fields.Nested(MeasuredSchema), required=True)
    evidence = fields.Nested(EvidenceSchema, required=True)
    against = maybe("a finding that disagrees")
    cautions = fields.List(fields.Nested(CautionSchema), required=True)
    sure = fields.Boolean(
        required=True,
        metadata={"description": "false where it holds for only some of the crops that a word stands for"},
    )
    behind = maybe("the more specific rule that is counted instead")


class SharedSchema(Closed):
    """A pest or disease that both crops feed."""

    id = text("id (/v1/pests or /v1/diseases)")
    name = text("name")
    wide = fields.Boolean(required=True, metadata={"description": "it feeds on most crops"})


class PairSchema(Closed):
    """What is known of two crops side by side; the same whichever is named first."""

    a = fields.Nested(PairCropSchema, required=True)
    b = fields.Nested(PairCropSchema, required=True)
    verdict = text(
        "good or poor where all that counts points one way, mixed where it points both ways, "
        "no_effect where it was looked at or is only said, unknown where no rule speaks",
        validate=validate.OneOf(VERDICTS),
    )
    summary = text("the answer in a sentence or two")
    points = fields.Nested(PairPointsSchema, required=True)
    statements = fields.List(fields.Nested(StatementSchema), required=True)
    family = maybe("the family that both belong to (/v1/families)")
    shared_pests = fields.List(fields.Nested(SharedSchema), required=True)
    shared_diseases = fields.List(fields.Nested(SharedSchema), required=True)
    traits = words("what follows from height, roots, water and feeding; conclusions, not findings")
    notes = words("how the answer is to be read")
