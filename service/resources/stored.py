"""What is asked of a stored garden: the check, one sentence, the calendar, and all of it in or out."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Response

import rules
from rules.planning.tasks import tasks
from service.access import garden_for, looked_up
from service.answers import Said, answer
from service.encode import report_dict, to_bytes
from service.errors import Problem
from service.exporting import export
from service.faults import unreadable
from service.ics import calendar_ics
from service.importing import read_garden, store_garden
from service.negotiate import CALENDAR, JSON, TEXT, answer_type, body_bytes, body_kind
from service.openapi_doc import describe, problems
from service.reading import Unreadable
from service.record import Record
from service.resources.answers import spoken
from service.resources.checks import PLAN_BODY, today
from service.resources.door import ALWAYS, SECURITY, RecordBlueprint, adds, reads
from service.resources.gardens import garden_row
from service.resources.planning import span
from service.resources.recorded import Seen, contents_of, derived, plan_of, seen
from service.resources.writing import answer as row_answer
from service.resources.writing import told_apart, write
from service.schemas.answers import AnswerQuery, SaidSchema
from service.schemas.plan import PlanSchema
from service.schemas.query import CheckQuery, Query
from service.schemas.report import ReportSchema
from service.schemas.stored import CalendarKeyQuery, GardenRowSchema
from service.state import knowledge, store
from service.store.once import Answer
from service.store.repository import Repository
from service.text import speak

stored = RecordBlueprint("stored", __name__, description="Checks, answers and calendars of a stored garden.")

_SENTENCE = {"type": "string"}


def _form(kind: str, about: str) -> Any:
    return stored.alt_response(200, schema=_SENTENCE, content_type=kind, description=about, success=True)


@stored.route("/v1/gardens/<garden>/check")
@stored.arguments(CheckQuery(), location="query")
@reads(stored, "checkGarden", ReportSchema, "The report.", _form(TEXT, "The short answer."), faults=(409, 429))
def check(query: dict[str, Any], garden: str) -> Response:
    """Check a stored garden

    The ordinary check of the garden as it is on record, on this day where it lies.
    """
    there = seen(garden, "publishable_read")
    form = answer_type((JSON, TEXT), query.get("format"))

    def report() -> bytes:
        plan = plan_of(there, query.get("season"))
        found = rules.check(plan, knowledge(), history="include" in query)
        if form == TEXT:
            return speak(found, plan, knowledge()).encode()
        return to_bytes(report_dict(found.at_least(query["severity"])))

    return derived(there, report, form)


@stored.route("/v1/gardens/<garden>/answers")
@stored.arguments(AnswerQuery(), location="query")
@reads(stored, "askGarden", SaidSchema, "The sentence.", _form(TEXT, "The sentence alone."), faults=(429,), again=False)
def ask(query: dict[str, Any], garden: str) -> Response:
    """Ask about a stored garden

    One sentence for a phone. What is wrong with the question is said in the same way, with `ok` false.
    """
    there = seen(garden, "garden_read")
    words = {name: query.get(name) for name in ("crop", "bed", "date")}
    try:
        said = answer(query["ask"], plan_of(there), knowledge(), **words)
    except Problem as nothing:
        if nothing.kind.slug != "conflict":
            raise
        said = Said(str(nothing.description), False)
    return spoken(said, query.get("format"))


@stored.route("/v1/gardens/<garden>/calendar.ics")
@stored.arguments(CalendarKeyQuery(), location="query")
@stored.doc(operationId="readCalendar", security=[*SECURITY, {}])
@describe(_form(CALENDAR, "The tasks as iCalendar."), *problems(stored, 304, 400, 409, 422, 429, *ALWAYS))
def calendar(query: dict[str, Any], garden: str) -> Response:
    """Subscribe to a garden's tasks

    Calendars cannot send headers, so its own secret stands in the address (`key`), and opens nothing else.
    """
    there = _by_key(garden, query["key"]) if "key" in query else seen(garden, "garden_read")
    plan = plan_of(there)
    window = span(plan, query)
    return derived(there, lambda: calendar_ics(tasks(plan, window, knowledge()), plan), CALENDAR)


@stored.route("/v1/gardens/<garden>/export")
@stored.arguments(Query(), location="query")
@reads(stored, "exportGarden", PlanSchema, "The garden as a plan, with its journal under `x-record`.")
def take_out(query: dict[str, Any], garden: str) -> Response:
    """Export a garden

    The plan's own format; importing it elsewhere gives the same garden.
    """
    there = seen(garden, "garden_read")
    return derived(there, lambda: to_bytes(export(contents_of(garden, "garden_read"))))


@stored.route("/v1/gardens/<garden>/import", methods=["POST"])
@stored.arguments(Query(), location="query")
@adds(stored, "importGarden", PlanSchema, GardenRowSchema, "The garden.", other=tuple(PLAN_BODY["content"])[1:])
def bring_in(query: dict[str, Any], garden: str) -> Response:
    """Import into an empty garden

    A plan, exported or written by hand. All of it is taken, or nothing and every fault is named.
    """
    asked = garden_for("garden_write", garden)
    kind, body, now = body_kind(), body_bytes(keep=True), datetime.now(UTC)
    try:
        with told_apart():
            contents = read_garden(body, kind, knowledge=knowledge(), today=today, now=now)
    except Unreadable as error:
        raise unreadable(error) from None

    def work(record: Record) -> Answer:
        row = store_garden(record.repository, contents, club_id=asked.club_id, into=garden, now=now)
        return row_answer(garden_row(row, asked.scope), 201, version=row.version, location=f"/v1/gardens/{garden}")

    return write(garden, work)


def _by_key(garden: str, key: str) -> Seen:
    asked = looked_up(key)
    if asked is None or asked.scope != "calendar" or asked.garden_id != garden:
        raise Problem("not-on-record", "There is no such calendar. Its link may have been revoked.")
    with store().read() as session:
        row = Repository(session).garden(garden)
        return Seen(row.id, row.name or "Garden", row.revision, today(row.time_zone), asked.scope)
