"""What follows from a plan: what to cut for nets, what to do against pests, and the days to do it on."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import Any

from flask import Response
from flask_smorest import Blueprint

from rules.model import Plan, Window
from rules.planning.netting import cut_list
from rules.planning.protection import protect
from rules.planning.tasks import tasks
from service.asked import Fault, beds_asked, hoop_work, window_asked
from service.encode import to_bytes
from service.errors import Problem
from service.ics import calendar_ics
from service.negotiate import CALENDAR, JSON, TEXT, answer_type, body_bytes, body_kind
from service.nettext import net_dict, net_text
from service.openapi_doc import describe, problems
from service.protectdict import protect_dict, tasks_dict
from service.protecttext import protect_text
from service.resources.checks import PLAN_BODY, read
from service.schemas.planning import (
    CalendarQuery,
    CutListSchema,
    NettingQuery,
    ProtectionQuery,
    ProtectionSchema,
    TasksSchema,
)
from service.schemas.query import QueryParser
from service.state import knowledge


class PlanningBlueprint(Blueprint):
    """A blueprint that reads query parameters strictly."""

    ARGUMENTS_PARSER = QueryParser()


planning = PlanningBlueprint("planning", __name__, description="What follows from a plan: nets, protection, tasks.")

_TEXT = {"type": "string"}
_FAULTS = (400, 413, 415, 422, 429, 500, 503)


def _answers(schema: Any, other: str, about: str) -> list[Any]:
    """What documents the two forms of an answer."""
    common = {"description": about, "success": True}
    return [
        planning.alt_response(200, schema=schema, **common),
        planning.alt_response(200, schema=_TEXT, content_type=other, **common),
    ]


@planning.route("/v1/netting", methods=["POST"])
@planning.doc(operationId="planNetting", requestBody=PLAN_BODY)
@planning.arguments(NettingQuery(), location="query")
@describe(*_answers(CutListSchema, TEXT, "The cut list; as text in the garden's units."), *problems(planning, *_FAULTS))
def netting(query: dict[str, Any]) -> Response:
    """Work out nets on hoops

    What to cut to put a net on hoops over one bed or several: hoops, net, clips and pegs, with totals
    and off-cuts. Lengths may have a unit: `2 ft`, `60 cm`, `0.6 m`; plain numbers are cm.
    """
    plan = read(body_bytes(), body_kind(), None)
    beds, unknown = beds_asked(plan, [name.strip() for name in query["bed"].split(",")] if "bed" in query else ())
    work, wrong = hoop_work(query)
    refuse([*unknown, *wrong])
    cut = cut_list(beds, work)
    if answer_type((JSON, TEXT), query.get("format")) == TEXT:
        return _answer(net_text(cut, work, plan, knowledge()).encode(), TEXT)
    return _answer(to_bytes(net_dict(cut, work, knowledge())), JSON)


@planning.route("/v1/protection", methods=["POST"])
@planning.doc(operationId="planProtection", requestBody=PLAN_BODY)
@planning.arguments(ProtectionQuery(), location="query")
@describe(*_answers(ProtectionSchema, TEXT, "The protection plan."), *problems(planning, *_FAULTS))
def protection(query: dict[str, Any]) -> Response:
    """Plan protection against pests

    For each crop that stands in a span of days the pests to expect, by risk, its cover and the
    published numbers to act at; then what to do, least harm first, each measure once, with cautions.
    """
    plan = read(body_bytes(), body_kind(), None)
    found = protect(plan, span(plan, query), knowledge())
    if answer_type((JSON, TEXT), query.get("format")) == TEXT:
        return _answer(protect_text(found, plan, knowledge()).encode(), TEXT)
    return _answer(to_bytes(protect_dict(found, knowledge())), JSON)


@planning.route("/v1/calendar", methods=["POST"])
@planning.doc(operationId="planCalendar", requestBody=PLAN_BODY)
@planning.arguments(CalendarQuery(), location="query")
@describe(*_answers(TasksSchema, CALENDAR, "The tasks."), *problems(planning, *_FAULTS))
def calendar(query: dict[str, Any]) -> Response:
    """Make a calendar of tasks

    Sowing, planting, covers, looks, picking and what a label asks to wait for, as all-day entries of
    iCalendar (RFC 5545) whose identifiers stay the same, or as JSON.
    """
    plan = read(body_bytes(), body_kind(), None)
    window = span(plan, query)
    found = tasks(plan, window, knowledge())
    if answer_type((CALENDAR, JSON), query.get("format")) == JSON:
        return _answer(to_bytes(tasks_dict(found, window, plan)), JSON)
    answer = _answer(calendar_ics(found, plan), CALENDAR)
    answer.headers["Content-Disposition"] = f'attachment; filename="{file_name(plan.garden.name)}.ics"'
    return answer


def span(plan: Plan, query: dict[str, Any]) -> Window:
    """The days that a query names; ``Problem`` (422) where they are no span."""
    window, faults = window_asked(plan, query.get("since"), query.get("until"))
    refuse(faults)
    assert window is not None  # without a fault there is one
    return window


def refuse(faults: Iterable[Fault]) -> None:
    """Raise the ``Problem`` (422) that names every parameter with its fault, if there is any."""
    errors = [{"in": "query", "parameter": name, "detail": _sentence(said)} for name, said in faults]
    if errors:
        told = " ".join(f"{error['parameter']}: {error['detail']}" for error in errors[:3])
        raise Problem("question-rejected", told, errors=errors)


def file_name(name: str) -> str:
    """A garden's name as a file may have it: small letters, digits and hyphens.

    >>> file_name("Jardín de Zoë, 2"), file_name("菜園")
    ('jardin-de-zoe-2', 'garden')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().casefold()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or "garden"


def _sentence(said: str) -> str:
    return said[:1].upper() + said[1:] + ("" if said.endswith("?") else ".")


def _answer(body: bytes, media_type: str) -> Response:
    kind = media_type if media_type == JSON else f"{media_type}; charset=utf-8"
    return Response(body, headers={"Vary": "Accept", "Cache-Control": "no-store"}, content_type=kind)
