"""Health, readiness and the catalog as schemas, for the document only."""

from __future__ import annotations

from marshmallow import fields, validate

from service.schemas.report import Closed, RulesUsedSchema, text


class HealthSchema(Closed):
    """The process is up."""

    status = text("always pass: a process that is down does not answer", validate=validate.OneOf(["pass"]))


class ReadySchema(Closed):
    """Whether plans can be judged and the record can be used."""

    status = text("pass or fail", validate=validate.OneOf(["pass", "fail"]))
    rules = fields.Nested(RulesUsedSchema)
    output = fields.String(metadata={"description": "what is missing"})


class LinkSchema(Closed):
    """A link and the media type behind it."""

    href = text("address")
    type = text("media type")


class LinksSchema(Closed):
    """The links of one interface."""

    anchor = text("what the links are about")
    desc = fields.List(fields.Nested(LinkSchema), required=True, data_key="service-desc")
    doc = fields.List(fields.Nested(LinkSchema), required=True, data_key="service-doc")
    status = fields.List(fields.Nested(LinkSchema), required=True)


class CatalogSchema(Closed):
    """A linkset (RFC 9264)."""

    linkset = fields.List(fields.Nested(LinksSchema), required=True)
