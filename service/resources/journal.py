"""The journal of a stored garden: what was done and seen, told flat so that a phone can send it."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from flask import Response, request

from service.access import garden_for
from service.exporting import plain
from service.negotiate import FORM, JSON, TEXT, answer_type, body_type
from service.phonelog import note
from service.record import Record, line_row
from service.resources.door import RecordBlueprint, adds, reads
from service.resources.gardens import told
from service.resources.recorded import seen
from service.resources.writing import answer, form_sent, sent, write
from service.schemas.knowledge import page_of
from service.schemas.query import Query
from service.schemas.stored import LineRowSchema, LinesQuery, NotedSchema, PhoneLineSchema
from service.state import store
from service.store.once import Answer
from service.store.repository import Repository

journal = RecordBlueprint("journal", __name__, description="What was done and seen in a stored garden.")

_PATH = "/v1/gardens/<garden>/journal"
_SENTENCE = {"type": "string", "maxLength": 199}


@journal.route(_PATH)
@journal.arguments(LinesQuery(), location="query")
@reads(journal, "listLines", page_of(LineRowSchema), "One page of lines, in the order of writing.")
def every(query: dict[str, Any], garden: str) -> Response:
    """List the journal"""
    seen(garden, "garden_read")
    after, most = int(query.get("cursor", 0)), query["limit"]
    with store().read() as session:
        repository = Repository(session)
        bed, planting = query.get("bed"), query.get("planting")
        if bed is not None:
            repository.bed(garden, bed)
        if planting is not None:
            repository.planting(garden, planting)
        lines = repository.lines(garden, bed=bed, planting=planting, after=after, most=most + 1)
    items, following = [plain(line_row(line)) for line in lines[:most]], None
    if len(lines) > most:
        on = urlencode({**query, "cursor": items[-1]["id"]})
        following = f"{request.script_root}/v1/gardens/{garden}/journal?{on}"
    return told({"items": items, "next": following})


@journal.route(_PATH, methods=["POST"])
@journal.arguments(Query(), location="query")
@adds(
    journal, "log", PhoneLineSchema, NotedSchema, "What was logged.",
    journal.alt_response(201, schema=_SENTENCE, content_type=TEXT, description="The sentence.", success=True),
    other=(FORM,),
)  # fmt: skip
def log(query: dict[str, Any], garden: str) -> Response:
    """Log what was done or seen

    Flat, as JSON or a form: `did`, and as it fits bed, crop, count, date, note and the rest, by the names
    that people use. Without a date it is of today. `did: undo` takes back the last line.
    """
    garden_for("garden_write", garden)
    flat = form_sent() if body_type((JSON, FORM)) == FORM else sent(JSON, FORM)
    spoken = answer_type((JSON, TEXT), None) == TEXT

    def work(record: Record) -> Answer:
        noted = note(record, flat)
        if spoken:
            return Answer(
                201, noted.say.encode(), {"Content-Type": f"{TEXT}; charset=utf-8", "Cache-Control": "no-store"}
            )
        return answer(noted.row(), 201, location=f"/v1/gardens/{garden}/journal?cursor={noted.entry.id - 1}")

    return write(garden, work)
