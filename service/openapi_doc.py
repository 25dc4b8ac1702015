"""The OpenAPI document: made from the routes and schemas, then put right where they fall short."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

import flask_smorest
from apispec.ext.marshmallow import MarshmallowPlugin
from flask import Flask
from marshmallow import Schema, fields, validate

import rules
from service.errors import KINDS, MEDIA_TYPE
from service.examples import PAIR
from service.negotiate import JSON
from service.pairentries import pair_entry
from service.schemas.problem import ProblemSchema
from service.schemas.report import FreeSchema
from service.schemas.rows import PlainSchema
from service.state import KEY

API_VERSION = "1.0"
ABOUT = """\
Checks garden bed plans for crop rotation, soil-borne disease, shared pests and their routes, what
stands beside and follows what, and covers, and says why and what to do. From the same plan it
answers one question in one sentence, and works out protection, nets and a calendar. A garden that
is on record answers the same without its plan being sent; for that a token is needed.

Errors are problem details (RFC 9457): `type` is the address of a help page, and `errors` names
each fault by its place. Findings are results, not errors: a plan that breaks every rule is
answered with 200. Unknown query parameters are refused. An `X-Request-ID` that you send comes
back; without one you get a new one.
"""
OPTIONS: dict[str, Any] = {
    "API_TITLE": "breakcrop",
    "API_VERSION": API_VERSION,
    "OPENAPI_VERSION": "3.1.1",
    "API_SPEC_OPTIONS": {
        "info": {
            "description": ABOUT,
            "summary": "Reports, protection and answers for garden bed plans",
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
    },
}
_TOKEN = "A token that `breakcrop tokens create` made: publishable, reading, writing, or a club admin's."
HEADERS = {
    "ETag": {"schema": {"type": "string"}, "description": "for If-None-Match"},
    "Content-Location": {"schema": {"type": "string"}, "description": "the entry that another name led to"},
    "Link": {"schema": {"type": "string"}, "description": "the next page (rel=next), if there is one"},
}
NAME_PARAMETER = {
    "in": "path",
    "name": "name",
    "required": True,
    "description": "An id; where entries have names, any name or alias in any case.",
    "schema": {"type": "string", "minLength": 1},
}


def schema_name(schema: type[Schema] | Schema) -> str:
    """The component name of a schema: its class without the ending."""
    kind = schema if isinstance(schema, type) else type(schema)
    return kind.__name__.removesuffix("Schema")


class Api(flask_smorest.Api):
    """flask-smorest with our errors: problem details, documented with their media type."""

    DEFAULT_ERROR_RESPONSE_NAME = None
    ERROR_SCHEMA = ProblemSchema

    def __init__(self, app: Flask) -> None:
        plugin = MarshmallowPlugin(schema_name_resolver=schema_name)
        super().__init__(app, spec_kwargs={"marshmallow_plugin": plugin})
        plugin.converter.add_attribute_function(_open_bounds)
        self.spec.components.security_scheme("bearer", {"type": "http", "scheme": "bearer", "description": _TOKEN})
        # Named by reference only, so that nothing else would register it.
        self.spec.components.schema("Free", schema=FreeSchema)

    def _register_error_handlers(self) -> None:
        """``service.errors`` handles errors."""

    def _register_pagination_header(self) -> None:
        """Lists are paged by ``Link`` and ``next``, not by a header of flask-smorest's own."""

    def _register_responses(self) -> None:
        self.DEFAULT_RESPONSE_CONTENT_TYPE = MEDIA_TYPE
        super()._register_responses()
        del self.DEFAULT_RESPONSE_CONTENT_TYPE


def _open_bounds(self: Any, field: fields.Field, **_: Any) -> dict[str, Any]:
    """An excluded bound as OpenAPI 3.1 writes it; the plugin would give it as included."""
    found: dict[str, Any] = {}
    for check in field.validators:
        if isinstance(check, validate.Range):
            if check.min is not None and not check.min_inclusive:
                found |= {"exclusiveMinimum": check.min, "minimum": None}
            if check.max is not None and not check.max_inclusive:
                found |= {"exclusiveMaximum": check.max, "maximum": None}
    return found


def problems(blueprint: flask_smorest.Blueprint, *statuses: int) -> list[Callable[[Any], Any]]:
    """What documents that a view may answer with these errors (or 304)."""
    return [blueprint.alt_response(status, response=HTTPStatus(status).name) for status in statuses]


def describe(*decorators: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Take what decorators tell of a view into the document, and leave the view as it is.

    Each of them would wrap the view, and a call would pay for every wrapper.
    """

    def decorate(view: Any) -> Any:
        described = view
        for decorator in reversed(decorators):
            described = decorator(described)
        view._apidoc = described._apidoc
        return view

    return decorate


def document(app: Flask) -> dict[str, Any]:
    """The document of an application, as plain values in a fixed order."""
    api: flask_smorest.Api = app.extensions["flask-smorest"]["apis"][""]["ext_obj"]
    found: dict[str, Any] = _tidy(api.spec.to_dict())
    for name, response in found["components"].get("responses", {}).items():
        _describe_problem(HTTPStatus[name], response)
    for item in found["paths"].values():
        for operation in item.values():
            if isinstance(operation, dict):
                operation["responses"] = dict(sorted(operation["responses"].items()))
                for parameter in operation.get("parameters", ()):
                    # OpenAPI 3.1 knows no example within a schema.
                    if "example" in parameter["schema"]:
                        parameter["example"] = parameter["schema"].pop("example")
    for schema in PlainSchema.__subclasses__():
        described = found["components"]["schemas"].get(schema_name(schema))
        if described is not None:
            described["additionalProperties"] = False
            _as_read(described)
    _answer_example(app, found)
    order = ("openapi", "info", "servers", "tags", "paths", "components")
    found["components"] = {part: dict(sorted(entries.items())) for part, entries in sorted(found["components"].items())}
    return {key: found[key] for key in order if key in found}


def _answer_example(app: Flask, found: dict[str, Any]) -> None:
    """Show the answer about two crops, worked out with the knowledge in use."""
    facts = app.extensions[KEY].knowledge
    if facts is not None:
        one, other = (facts.find_crop(word) for word in PAIR)
        content = found["paths"]["/v1/pairs"]["get"]["responses"]["200"]["content"]
        content[JSON]["example"] = pair_entry(rules.pairs(one, other, facts), facts)


def _as_read(schema: Any) -> None:
    """Mark, in a part of the plan, what ``PlainSchema`` does: x- keys are let by, and null is absent."""
    if isinstance(schema, list):
        for part in schema:
            _as_read(part)
    elif isinstance(schema, dict):
        if schema.get("additionalProperties") is False:
            schema["patternProperties"] = {"^x-": {}}
            for key, value in schema["properties"].items():
                if key not in schema.get("required", ()) and isinstance(value.get("type"), str):
                    value["type"] = [value["type"], "null"]
        for part in schema.values():
            _as_read(part)


def _describe_problem(status: HTTPStatus, response: dict[str, Any]) -> None:
    kinds = [kind for kind in KINDS.values() if kind.status == status]
    response["headers"] = {"X-Request-ID": {"schema": {"type": "string"}, "description": "id of the request"}}
    if status == HTTPStatus.TOO_MANY_REQUESTS:
        response["headers"]["Retry-After"] = {"schema": {"type": "integer"}, "description": "seconds to wait"}
    if kinds:
        response["description"] = "; ".join(f"{kind.title} ({kind.type})" for kind in kinds) + "."


def _tidy(value: Any) -> Any:
    """Plain dicts and lists without the bounds that ``_open_bounds`` took away."""
    if isinstance(value, dict):
        bounds = ("minimum", "maximum")
        return {str(key): _tidy(item) for key, item in value.items() if not (item is None and key in bounds)}
    if isinstance(value, list | tuple):
        return [_tidy(item) for item in value]
    return value
