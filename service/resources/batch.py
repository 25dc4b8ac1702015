"""Many gardens in one request: a sheet or a stream of plans in, a line for each out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import IO, Any

from flask import Response, request

from service.access import club_for
from service.batch.answer import Answer
from service.batch.gardens import Form
from service.batch.run import Work
from service.negotiate import CSV, NDJSON, body_type
from service.openapi_doc import describe, problems
from service.resources.door import ALWAYS, SECURITY, RecordBlueprint
from service.resources.many import TYPES, opened, spooled
from service.schemas.batch import BatchErrorSchema, BatchQuery, BatchReportSchema, BatchSummarySchema
from service.state import knowledge

batches = RecordBlueprint("batches", __name__, description="Check many gardens at once.")

#: A short sheet: one garden that breaks a rule, one with a misspelt crop.
SHEET = """\
garden,bed,season,crop
Plot 1,kiln,2025,kale
Plot 1,kiln,2026,broad beans
Plot 1,kiln,2027,cabbage
Plot 2,quay,2027,cabage
"""
PLANS = """\
{"type": "site", "garden": {"latitude": 46.2, "country": "FR"}}
{"garden": {"name": "Plot 1"}, "plantings": [{"bed": "kiln", "crop": "kale", "season": "2026"}]}
"""
BODY = {
    "required": True,
    "description": "A sheet with one row a planting (columns garden, bed, crop, season or start, and others), or one "
    "plan a line; 64 MB at most unless the service says otherwise. The first line of a stream of plans may be "
    '`{"type": "site", "garden": {...}, "bed": {...}, "crops": [...]}`: what all gardens share.',
    "content": {
        CSV: {"schema": {"type": "string"}, "example": SHEET},
        NDJSON: {"schema": {"type": "string"}, "example": PLANS},
    },
}
_ABOUT = "One line a garden, in the order in which they came; the last line is the summary."
_LINE = {"oneOf": [BatchReportSchema, BatchErrorSchema, BatchSummarySchema]}
_FAULTS = sorted({400, 413, 415, 422, *ALWAYS} - {404})


@batches.route("/v1/checks/batch", methods=["POST"])
@batches.arguments(BatchQuery(), location="query")
@batches.doc(operationId="checkBatch", security=SECURITY, requestBody=BODY)
@describe(
    batches.alt_response(200, schema=_LINE, content_type=NDJSON, description=_ABOUT, success=True),
    batches.alt_response(200, schema={"type": "string"}, content_type=CSV, description=_ABOUT, success=True),
    *problems(batches, *_FAULTS),
)
def check_batch(query: dict[str, Any]) -> Response:
    """Check many gardens

    The ordinary check of every garden of a sheet or of a stream of plans, answered line by line while it
    goes on. A row that cannot be read fails its own garden and no other. An answer without a summary
    was cut short. Needs a token that reads a garden.
    """
    club_for("garden_read")
    body_type((CSV, NDJSON))
    body = spooled()
    try:
        answer = _answer(body, query)
    except BaseException:
        body.close()
        raise
    response = Response(_told(answer, body), content_type=f"{TYPES[answer.work.form]}; charset=utf-8")
    response.headers.update({"Cache-Control": "no-store", "Vary": "Accept", "X-Accel-Buffering": "no"})
    response.call_on_close(body.close)  # also where nobody read a byte of it
    return response


def _told(answer: Answer, body: IO[bytes]) -> Iterator[bytes]:
    with body:
        yield from answer


def _answer(body: IO[bytes], query: Mapping[str, Any]) -> Answer:
    gardens, shared = opened(body, query)
    return Answer(gardens, Work(shared, query.get("format") or _form(gardens.form)), knowledge())


def _form(came: Form) -> Form:
    """The form that the Accept header asks for, else the one that came in."""
    other: Form = "ndjson" if came == "csv" else "csv"
    offers = {TYPES[came]: came, TYPES[other]: other}
    return offers[request.accept_mimetypes.best_match(list(offers), default=TYPES[came]) or TYPES[came]]
