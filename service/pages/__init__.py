"""The pages of the service: what it is, its reference, and the help page of each problem type.

Plain HTML with one style sheet of our own: nothing is fetched from elsewhere.
"""

from __future__ import annotations

import json
import re
from functools import lru_cache
from typing import Any

from flask import Blueprint, Flask, Response, current_app, render_template, request
from markupsafe import Markup, escape

import rules
from service.encode import report_dict
from service.errors import KINDS, Problem
from service.examples import PLAN, PLAN_YAML
from service.openapi_doc import document
from service.state import current

pages = Blueprint("pages", __name__)
CACHE = "public, max-age=300"


@pages.route("/")
def home() -> Response:
    """What this is, and where to go."""
    root = request.script_root
    response = _page("home.html")
    for target, relation in (("/openapi.json", "service-desc"), ("/docs", "service-doc")):
        response.headers.add("Link", f'<{root}{target}>; rel="{relation}"')
    response.headers.add("Link", f'<{root}/.well-known/api-catalog>; rel="api-catalog"')
    return response


@pages.route("/docs")
def docs() -> Response:
    """The reference, made from the OpenAPI document."""
    response = Response(_docs(current_app._get_current_object()))  # type: ignore[attr-defined]
    response.headers["Cache-Control"] = CACHE
    return response


@pages.route("/problems")
def problem_list() -> Response:
    """All types of problem."""
    return _page("problems.html", kinds=KINDS.values())


@pages.route("/problems/<slug>")
def problem(slug: str) -> Response:
    """The help page of one type of problem."""
    if slug not in KINDS:
        raise Problem("not-found", "There is no such type of problem. /problems lists all.")
    return _page("problems.html", kinds=[KINDS[slug]])


def _page(template: str, **values: Any) -> Response:
    return Response(render_template(template, **values), headers={"Cache-Control": CACHE})


@lru_cache(maxsize=4)
def _docs(app: Flask) -> str:
    found = document(app)
    return render_template(
        "docs.html",
        document=found,
        operations=operations(found),
        kinds=KINDS.values(),
        plan=json.dumps(PLAN, indent=2),
        plan_yaml=PLAN_YAML,
        answers=_answers(),
    )


def operations(found: dict[str, Any]) -> list[tuple[str, list[dict[str, Any]]]]:
    """All operations by tag, each with its method and path and with references resolved."""
    by_tag: dict[str, list[dict[str, Any]]] = {tag["name"]: [] for tag in found["tags"]}
    for path, item in found["paths"].items():
        shared = item.get("parameters", [])
        for method, operation in item.items():
            if method == "parameters":
                continue
            full = {**operation, "method": method.upper(), "path": path}
            full["parameters"] = [*shared, *operation.get("parameters", [])]
            full["responses"] = {
                status: resolve(found, response) for status, response in operation["responses"].items()
            }
            by_tag[operation["tags"][0]].append(full)
    return list(by_tag.items())


def resolve(found: dict[str, Any], value: dict[str, Any]) -> dict[str, Any]:
    """What a reference refers to; anything else as it is."""
    reference = value.get("$ref")
    if not isinstance(reference, str):
        return value
    target: Any = found
    for step in reference.removeprefix("#/").split("/"):
        target = target[step]
    return dict(target)


def _answers() -> dict[str, str] | None:
    """The answers to the example, worked out with the knowledge in use."""
    from service.reading import read_plan
    from service.text import speak

    facts = current().knowledge
    if facts is None:
        return None
    plan = read_plan(json.dumps(PLAN).encode(), "json", today=_never, season=None, knowledge=facts)
    report = rules.check(plan, facts)
    shown = json.dumps(report_dict(report), indent=2, ensure_ascii=False)
    return {"report": shown, "spoken": speak(report, plan, facts)}


def _never(zone: str | None) -> Any:
    raise AssertionError("the example carries its own date")


@pages.app_template_filter("ticks")
def ticks(text: str) -> Markup:
    """Escaped text in which words between backticks are code."""
    return Markup(re.sub(r"`([^`]+)`", r"<code>\1</code>", str(escape(text))))


@pages.app_template_filter("kind_of")
def kind_of(schema: dict[str, Any]) -> Markup:
    """The type of a schema in words, with links to named schemas."""
    return Markup(_kind(schema))


def _kind(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        name = escape(schema["$ref"].rpartition("/")[2])
        return f'<a href="#schema-{name}">{name}</a>'
    for key in ("oneOf", "anyOf", "allOf"):
        if key in schema:
            return " or ".join(_kind(option) for option in schema[key])
    if "enum" in schema:
        return " | ".join(str(escape(json.dumps(word))) for word in schema["enum"])
    kinds = schema.get("type", "any")
    kinds = kinds if isinstance(kinds, list) else [kinds]
    words = [_list_or_map(schema, kind) for kind in kinds]
    limits = [f"{word} {schema[key]}" for key, word in _LIMITS if key in schema]
    return " or ".join(words) + (f" ({escape(', '.join(limits))})" if limits else "")


_LIMITS = (
    ("format", "as"),
    ("minimum", "from"),
    ("exclusiveMinimum", "above"),
    ("maximum", "to"),
    ("exclusiveMaximum", "below"),
    ("maxLength", "characters up to"),
    ("maxItems", "entries up to"),
    ("default", "default"),
)


def _list_or_map(schema: dict[str, Any], kind: str) -> str:
    if kind == "array" and "items" in schema:
        return f"list of {_kind(schema['items'])}"
    if kind == "object" and isinstance(schema.get("additionalProperties"), dict):
        return f"map of {_kind(schema['additionalProperties'])}"
    return str(escape({"object": "map", "array": "list", "string": "text"}.get(kind, kind)))
