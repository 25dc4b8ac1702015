"""Problem details as a schema, for the document only: ``service.errors`` writes them."""

from __future__ import annotations

from marshmallow import fields

from service.schemas.report import Closed, text


class FaultSchema(Closed):
    """One fault of the request."""

    where = text("body or query", data_key="in")
    pointer = fields.String(metadata={"description": "JSON pointer into the plan"})
    parameter = fields.String(metadata={"description": "name of the query parameter"})
    detail = text("what is wrong, with the nearest known names")
    line = fields.Integer(metadata={"description": "line in YAML, from 1"})
    column = fields.Integer(metadata={"description": "column in YAML, from 1"})


class ProblemSchema(Closed):
    """Problem details (RFC 9457)."""

    type = text("address of the help page of this type of problem")
    title = text("the type in words")
    status = fields.Integer(required=True, metadata={"description": "the HTTP status"})
    detail = text("what is wrong here, in a sentence")
    instance = text("path of the request")
    request_id = text("also in the X-Request-ID header; quote it when asking for help")
    errors = fields.List(fields.Nested(FaultSchema), metadata={"description": "each fault with its place"})
    total = fields.Integer(metadata={"description": "how many faults there are, where errors was cut short"})
    nearest = fields.List(fields.String(), metadata={"description": "known ids most like an unknown one"})
    accepted = fields.List(fields.String(), metadata={"description": "content types that are read here"})
