"""Query parameters: strict, documented, and refused by name when unknown or given twice."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import Any, ClassVar, NoReturn

from flask import Request
from marshmallow import RAISE, Schema, ValidationError, fields, validate
from webargs.flaskparser import FlaskParser

from rules.report import SEVERITIES
from service.errors import Problem
from service.examples import PAIR
from service.schemas.words import LONGEST_NAME

MAX_PAGE = 200
SEASON = r"^(19|20|21)[0-9]{2}(-(winter|spring|summer|autumn|fall))?$"
NAME = r"^.*\S.*$"
CURSOR = r"^[A-Za-z0-9_. -]{1,100}$"


class Pattern(validate.Regexp):
    """A pattern for the whole text; a last line break is no part of it."""

    def __call__(self, value: str) -> str:
        """The value, if all of it fits."""
        if self.regex.fullmatch(value) is None or value.endswith("\n"):
            raise ValidationError(self._format_error(value))
        return value


class TextNumber(fields.Integer):
    """A whole number written with digits only, as it stands in an address."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> int:
        if not re.fullmatch(r"[0-9]{1,9}", str(value)):
            raise self.make_error("invalid", input=value)
        return int(value)


class Query(Schema):
    """A set of query parameters; also the one that has none."""

    class Meta:
        """Unknown parameters are faults, not noise."""

        unknown = RAISE


class CheckQuery(Query):
    """Parameters of a check."""

    include = fields.String(
        validate=validate.OneOf(["history"]),
        metadata={"description": "`history` adds older faults, outside the judged window."},
    )
    season = fields.String(
        validate=Pattern(SEASON, error="Write a year, or a season of one: 2027 or 2027-spring."),
        metadata={
            "description": "The season to judge, in place of the plan's own: `2027` or `2027-spring`.",
        },
    )
    severity = fields.String(
        load_default="benefit",
        validate=validate.OneOf(SEVERITIES),
        metadata={
            "description": "The least severity to list: `caution` lists breaches and cautions. "
            "Verdict and score stay those of the whole report.",
        },
    )
    format = fields.String(
        validate=validate.OneOf(["json", "text"]),
        metadata={"description": "The form of the answer; stronger than the Accept header."},
    )


class ListQuery(Query):
    """Parameters of every list of knowledge."""

    q = fields.String(
        validate=validate.Length(min=1, max=80),
        metadata={"description": "Words to look for; every word must begin some word of the entry."},
    )
    limit = TextNumber(
        load_default=50,
        validate=validate.Range(1, MAX_PAGE),
        metadata={"description": "How many entries at most."},
    )
    cursor = fields.String(
        validate=Pattern(CURSOR, error="This is no cursor; follow next of the answer before."),
        metadata={"description": "Where to go on, as `next` of the answer before gave it."},
    )


class RuleQuery(Query):
    """Parameters of a rule's page."""

    format = fields.String(
        validate=validate.OneOf(["json", "html"]),
        metadata={"description": "The form of the answer; stronger than the Accept header."},
    )


def _crop_name(which: str, example: str) -> fields.String:
    """A parameter that names a crop; that the name is known is looked up later."""
    said = f"Name the {which} crop, as in a=onion&b=cabbage."
    return fields.String(
        required=True,
        validate=[validate.Length(max=LONGEST_NAME), Pattern(NAME, error=said)],
        error_messages={"required": said},
        metadata={
            "description": f"The {which} crop by any of its names in any case, or a word for several crops.",
            "example": example,
        },
    )


class PairQuery(Query):
    """Parameters of the question about two crops."""

    a = _crop_name("one", PAIR[0])
    b = _crop_name("other", PAIR[1])
    format = fields.String(
        validate=validate.OneOf(["json", "text"]),
        metadata={"description": "The form of the answer; stronger than the Accept header."},
    )


class QueryParser(FlaskParser):
    """Reads query parameters; whatever is wrong with them is one 400 with all faults."""

    DEFAULT_UNKNOWN_BY_LOCATION: ClassVar = {"query": None}
    DEFAULT_VALIDATION_STATUS = 400

    def load_querystring(self, req: Request, schema: Schema) -> Any:
        """The parameters as they stand, each of them once."""
        twice = {name: ["It stands twice; once is enough."] for name in req.args if _count(req, name) > 1}
        if twice:
            raise ValidationError(twice)
        return super().load_querystring(req, schema)

    def handle_error(self, error: ValidationError, req: Request, schema: Schema, **_: Any) -> NoReturn:
        """Raise the problem that names every parameter with its fault."""
        messages: Any = error.messages
        faults = [
            {"in": "query", "parameter": name, "detail": _detail(name, texts, schema)}
            for name, texts in sorted(messages.get("query", messages).items())
        ]
        said = " ".join(f"{fault['parameter'][:40]}: {fault['detail']}" for fault in faults[:3])
        raise Problem("bad-query", said, errors=faults)


def _count(req: Request, name: str) -> int:
    return len(req.args.getlist(name))


def _detail(name: str, texts: list[str], schema: Schema) -> str:
    known = [field.data_key or attribute for attribute, field in schema.fields.items()]
    if name in known:
        return " ".join(texts)
    near = get_close_matches(name[:40], known, 1)
    hint = f" Did you mean {near[0]}?" if near else f" Known: {', '.join(known)}." if known else ""
    return f"There is no such parameter here.{hint}"
