"""What is known: crops, groups, families, diseases, pests, controls, rules, sources, as list and entry."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple
from urllib.parse import quote, urlencode

from flask import Response, render_template, request
from flask_smorest import Blueprint
from marshmallow import Schema

from rules.knowledge.explain import explained
from rules.knowledge.known import Knowledge
from rules.knowledge.names import normal, singulars
from rules.knowledge.shapes import nearest
from service.caching import cached
from service.encode import to_bytes
from service.entries import Collection, Kept, collection
from service.errors import Problem
from service.negotiate import HTML, JSON, answer_type
from service.openapi_doc import HEADERS, NAME_PARAMETER, describe, problems
from service.schemas.knowledge import (
    ControlSchema,
    CropSchema,
    DiseaseSchema,
    FamilySchema,
    GroupSchema,
    PestSchema,
    RuleBriefSchema,
    RuleSchema,
    SourceSchema,
    page_of,
)
from service.schemas.query import ListQuery, Query, QueryParser, RuleQuery
from service.schemas.words import LONGEST_NAME
from service.state import knowledge as known

#: Nearest entries that are told.
MOST_NEAR = 5
_LIST = {name: HEADERS[name] for name in ("ETag", "Link")}
_ONE = {name: HEADERS[name] for name in ("ETag", "Content-Location")}


class KnowledgeBlueprint(Blueprint):
    """A blueprint that reads query parameters strictly."""

    ARGUMENTS_PARSER = QueryParser()


knowledge = KnowledgeBlueprint("knowledge", __name__, description="What is known, and where it is from.")


class Kind(NamedTuple):
    """A collection: its path, what one entry is called, and the schemas of list and entry."""

    path: str
    one: str
    listed: type[Schema]
    entry: Any
    example: str


KINDS = (
    Kind("crops", "crop", CropSchema, {"oneOf": [CropSchema, GroupSchema]}, "courgette"),
    Kind("groups", "group", GroupSchema, GroupSchema, "onion"),
    Kind("families", "family", FamilySchema, FamilySchema, "Brassicaceae"),
    Kind("diseases", "disease", DiseaseSchema, DiseaseSchema, "clubroot"),
    Kind("pests", "pest", PestSchema, PestSchema, "slugs"),
    Kind("controls", "control", ControlSchema, ControlSchema, "kaolin"),
    Kind("rules", "rule", RuleBriefSchema, RuleSchema, "rotation.family-too-soon"),
    Kind("sources", "source", SourceSchema, SourceSchema, "iowa_rotation"),
)


def _forms(kind: Kind) -> list[Callable[[Any], Any]]:
    """What documents the forms of an entry; a rule can also be had as a page."""
    common = {"description": f"The {kind.one}.", "headers": _ONE, "success": True}
    page = knowledge.alt_response(200, schema={"type": "string"}, content_type=HTML, **common)
    return [
        knowledge.alt_response(200, schema=kind.entry, **common),
        *([page] if kind.path == "rules" else []),
    ]


def _routes(kind: Kind) -> None:
    """Put the two routes of a kind in place."""

    @knowledge.route(f"/v1/{kind.path}", endpoint=f"list_{kind.path}")
    @knowledge.doc(operationId=f"list{kind.path.title()}", summary=f"List {kind.path}")
    @knowledge.arguments(ListQuery(), location="query")
    @describe(
        knowledge.alt_response(200, schema=page_of(kind.listed), description="One page.", headers=_LIST, success=True),
        *problems(knowledge, 304, 400, 500, 503),
    )
    def every(query: dict[str, Any]) -> Response:
        found = collection(known(), kind.path)
        items, last = found.search(query.get("q"), query.get("cursor"), query["limit"])
        next_page = last and f"{request.script_root}/v1/{kind.path}?{urlencode({**query, 'cursor': last})}"
        response = cached(to_bytes({"items": items, "next": next_page}))
        if next_page:
            response.headers["Link"] = f'<{next_page}>; rel="next"'
        return response

    @knowledge.route(
        f"/v1/{kind.path}/<name>",
        endpoint=f"read_{kind.path}",
        parameters=[{**NAME_PARAMETER, "example": kind.example}],
    )
    @knowledge.doc(operationId=f"read{kind.one.title()}", summary=f"Read a {kind.one}")
    @knowledge.arguments(RuleQuery() if kind.path == "rules" else Query(), location="query")
    @describe(*_forms(kind), *problems(knowledge, 304, 400, 404, 500, 503))
    def one(query: dict[str, Any], name: str) -> Response:
        path, key, entries = _find(known(), kind, name)
        entry = entries.entries[key]
        if kind.path == "rules":
            return _rule(entry, query.get("format"))
        response = cached(entry.body)
        if key != name or path != kind.path:
            response.headers["Content-Location"] = f"{request.script_root}/v1/{path}/{quote(key)}"
        return response


for _kind in KINDS:
    _routes(_kind)


def _find(facts: Knowledge, kind: Kind, name: str) -> tuple[str, str, Collection]:
    """The path, id and collection of what a name means; ``Problem`` (404) with the nearest ids."""
    entries = collection(facts, kind.path)
    if name in entries.entries:
        return kind.path, name, entries
    if len(name) <= LONGEST_NAME:
        if kind.path in ("crops", "groups"):
            crop = facts.find_crop(name)
            path = "groups" if crop and crop.members else "crops"
            if crop and (path == kind.path or kind.path == "crops"):
                return path, crop.id, collection(facts, path)
        key = entries.names.get(normal(name))
        if key:
            return kind.path, key, entries
    raise _unknown(facts, kind, name, entries)


def _unknown(facts: Knowledge, kind: Kind, name: str, entries: Collection) -> Problem:
    near = _nearest(facts, kind.path, name, entries) if len(name) <= LONGEST_NAME else []
    hint = f" Nearest: {', '.join(_label(facts, entries, key) for key in near)}." if near else ""
    return Problem("unknown-name", f"No {kind.one} is known as {name[:LONGEST_NAME]!r}.{hint}", nearest=near)


def _nearest(facts: Knowledge, path: str, name: str, entries: Collection) -> list[str]:
    """Ids of the same collection most like a name, best first."""
    if path == "crops":
        found = (facts.find_crop(word) for word in facts.nearest(name))
        return list(dict.fromkeys(crop.id for crop in found if crop))
    wanted = normal(name)
    parts = {wanted, *singulars(wanted)}
    holding = [word for word in entries.names if any(part in word for part in parts)]
    words = [*holding, *nearest(wanted, entries.names)]
    return list(dict.fromkeys(entries.names[word] for word in words))[:MOST_NEAR]


def _label(facts: Knowledge, entries: Collection, key: str) -> str:
    """An entry by the name people use, with its id where that is another word."""
    entry = entries.entries.get(key)  # a word for several crops stands under groups
    name = str(entry.value.get("name", key)) if entry else facts.groups[key].name
    return name if normal(name) == normal(key) else f"{name} ({key})"


def _rule(entry: Kept, wanted: str | None) -> Response:
    """A rule as JSON or, where the client would rather read it, as a page."""
    if answer_type((JSON, HTML), wanted) == HTML:
        page = explained(known().rules[entry.id], known())
        response = cached(render_template("rule.html", page=page, kind=entry.value["kind"]).encode(), HTML)
    else:
        response = cached(entry.body)
    response.headers["Vary"] = "Accept"
    return response
